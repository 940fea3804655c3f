package drawing

import (
	"fmt"
	"strings"
	"testing"
)

// sixtyPieces is a set as an editor would save it: sixty curved outlines with a score line, holes by use and a name each.
func sixtyPieces() []byte {
	var b strings.Builder
	b.WriteString(`<style>.cut{fill:none;stroke:#000}.score{fill:none;stroke:#00f;stroke-dasharray:4 2}</style><defs><circle id="hole" r="2.5" class="cut"/></defs>`)
	for i := range 60 {
		fmt.Fprintf(&b, `<g inkscape:groupmode="layer" inkscape:label="Piece %d" transform="translate(%d %d) rotate(%d)">`, i+1, 200*(i%10), 200*(i/10), 7*i)
		b.WriteString(`<path class="cut" d="m12,0h96c6.6 0 12 5.4 12 12v60c0 6.6-5.4 12-12 12h-12a36 20 0 0 0-72 0h-12c-6.6 0-12-5.4-12-12v-60c0-6.6 5.4-12 12-12z"/>`)
		b.WriteString(`<path class="score" d="M10 40Q60 25 110 40T120 45"/><use href="#hole" x="14" y="14"/><use href="#hole" x="106" y="14"/>`)
		fmt.Fprintf(&b, `<text x="40" y="20">Piece %d</text></g>`, i+1)
	}
	return []byte(inMM(b.String()))
}

func BenchmarkReadSVG(b *testing.B) {
	data := sixtyPieces()
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	points := 0
	for b.Loop() {
		d, err := Read(data)
		if err != nil {
			b.Fatal(err)
		}
		for _, l := range d.Lines {
			points += len(l.Points)
		}
	}
	b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
}
