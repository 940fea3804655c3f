package drawing

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
)

var (
	utf8Mark  = []byte("\xef\xbb\xbf")
	utf16Big  = []byte("\xfe\xff")
	utf16Litt = []byte("\xff\xfe")
)

// plainText drops a byte order mark and turns UTF-16 into UTF-8. Other encodings are given in the XML declaration.
func plainText(data []byte) ([]byte, error) {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(data, utf8Mark):
		return data[len(utf8Mark):], nil
	case bytes.HasPrefix(data, utf16Big):
		order = binary.BigEndian
	case bytes.HasPrefix(data, utf16Litt):
		order = binary.LittleEndian
	default:
		return data, nil
	}
	data = data[2:]
	if len(data)%2 != 0 {
		return nil, errors.New("the file begins as UTF-16 but has an odd number of bytes; save it as UTF-8")
	}
	units := make([]uint16, len(data)/2)
	for i := range units {
		units[i] = order.Uint16(data[2*i:])
	}
	return []byte(string(utf16.Decode(units))), nil
}

// charsetReader is called for every declared encoding except UTF-8.
func charsetReader(label string, input io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf8", "us-ascii", "ascii", "utf-16", "utf-16le", "utf-16be": // UTF-16 is UTF-8 by now, or would not have parsed this far
		return input, nil
	case "iso-8859-1", "latin1", "iso_8859-1", "windows-1252", "cp1252":
		return &westernReader{in: bufio.NewReader(input)}, nil
	}
	return nil, fmt.Errorf("the encoding %.40q is not supported; save the drawing as UTF-8", label)
}

// western is what windows-1252 has where ISO 8859-1 has control characters (WHATWG Encoding Standard, index windows-1252),
// which no drawing contains; the rest of both is the first 256 of Unicode.
var western = [32]rune{
	'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8d, 'Ž', 0x8f,
	0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9d, 'ž', 'Ÿ',
}

// westernReader reads one byte per character and returns UTF-8.
type westernReader struct {
	in   *bufio.Reader
	rest []byte
}

func (r *westernReader) Read(p []byte) (int, error) {
	for len(r.rest) == 0 {
		b, err := r.in.ReadByte()
		if err != nil {
			return 0, err
		}
		c := rune(b)
		if b >= 0x80 && b < 0xa0 {
			c = western[b-0x80]
		}
		r.rest = []byte(string(c))
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}
