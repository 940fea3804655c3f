package drawing

import (
	"bytes"
	"errors"
	"fmt"
)

// Read reads a drawing of either format, told apart by its first bytes.
func Read(data []byte) (*Drawing, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("the drawing has %d bytes, at most %d are read", len(data), MaxBytes)
	}
	if isSVG(data) {
		return readSVG(data)
	}
	if isDXF(data) {
		return readDXF(data)
	}
	return nil, errors.New("the file is neither SVG nor ASCII DXF; save the drawing as plain SVG, or as DXF R12 or 2000")
}

// isSVG: after white space and a byte order mark an SVG file begins with a tag.
func isSVG(data []byte) bool {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	return bytes.HasPrefix(bytes.TrimLeft(data, " \t\r\n"), []byte("<"))
}
