package chattest

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
)

// PNG is a picture of w by h pixels, for tests that send one.
func PNG(w, h int) []byte {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.Set(x, y, color.RGBA{uint8(x * 255 / w), uint8(y * 255 / h), 120, 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		panic(err) // a buffer takes everything
	}
	return b.Bytes()
}
