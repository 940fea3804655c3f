package press

import (
	"fmt"

	"rsc.io/qr"

	"benchbell/quote/draw"
)

// quiet is the clear space around a QR code, in its modules (ISO/IEC 18004, 5.3.8).
const quiet = 4

const black draw.Color = 0

// Code prints a text as a QR code, a square with its upper left corner at x, y, quiet space included. Too long a text for any code is
// refused.
func (p Press) Code(x, y, size float64, text string) error {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return fmt.Errorf("%q does not fit into a QR code: %w", text, err)
	}
	m := size / float64(c.Size+2*quiet)
	p.Fill(draw.White)
	p.PDF.Rect(x, y, size, size, "F")
	p.Fill(black)
	for row := range c.Size {
		for from := 0; from < c.Size; from++ {
			if !c.Black(from, row) {
				continue
			}
			to := from + 1
			for to < c.Size && c.Black(to, row) {
				to++
			}
			// A little higher than a module, so that no hairline shows between two rows.
			p.PDF.Rect(x+float64(quiet+from)*m, y+float64(quiet+row)*m, float64(to-from)*m, m*1.02, "F")
			from = to
		}
	}
	return nil
}
