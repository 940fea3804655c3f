package drawing

import (
	"bytes"
	"errors"
	"fmt"
)

// Read reads a drawing in either format, recognised by its first bytes.
func Read(data []byte) (*Drawing, error) {
	if len(data) > maxBytes {
		return nil, fmt.Errorf("the drawing has %d bytes; the limit is %d", len(data), maxBytes)
	}
	plain, err := plainText(data)
	if err != nil {
		return nil, err
	}
	if isXML(plain) {
		return readSVG(plain)
	}
	if isDXF(data) {
		return readDXF(data)
	}
	return nil, errors.New("the file is neither SVG nor ASCII DXF; save the drawing as plain SVG, or as DXF R12 or 2000")
}

// isXML: after white space an XML file begins with a tag.
func isXML(data []byte) bool { return bytes.HasPrefix(bytes.TrimLeft(data, " \t\r\n"), []byte("<")) }
