package pdf

import (
	"bytes"
	"fmt"
	"time"

	"github.com/jung-kurt/gofpdf"

	"benchbell/quote/draw"
	"benchbell/quote/press"
)

// PrintScene prints one picture at its own size, on a page of that size.
func PrintScene(s draw.Scene, created time.Time) (out []byte, err error) {
	defer func() {
		if r := recover(); r != nil { // as in Print
			out, err = nil, fmt.Errorf("%q could not be printed: %v", s.Title, r)
		}
	}()
	w, h := s.Size()
	p := &printer{Press: press.New(min(w, h), max(w, h), press.Title{Title: s.Title, Created: created}), pages: 1}
	orientation := "P"
	if w > h {
		orientation = "L"
	}
	p.PDF.AddPageFormat(orientation, gofpdf.SizeType{Wd: float64(min(w, h)), Ht: float64(max(w, h))})
	p.scene(s, 0, 0, 1)
	var buf bytes.Buffer
	if err := p.PDF.Output(&buf); err != nil {
		return nil, fmt.Errorf("%q could not be printed: %w", s.Title, err)
	}
	return buf.Bytes(), nil
}
