package pattern

import (
	"fmt"
	"strings"
	"testing"

	"benchbell/quote/foam"
)

// sixty is a set of 60 different pieces in every frame: curved outlines, drills, a slot, a seat, a notch, a score, seams.
func sixty() (svg, toml []byte) {
	var groups []string
	var rules strings.Builder
	for i := range 60 {
		x, y := 80+150*float64(i%6), 150+150*float64(i/6)
		id := fmt.Sprintf("p%d", i)
		groups = append(groups, fmt.Sprintf(`<g id="%s" transform="translate(%g %g)">
<path class="outline" d="M-50 0C-30 6 30 6 50 0C62 -30 62 -70 50 -100C30 -108 -30 -108 -50 -100C-62 -70 -62 -30 -50 0Z"/>
<circle class="point" data-name="a" cx="50" cy="0" r="1"/><circle class="point" data-name="b" cx="50" cy="-100" r="1"/>
<circle class="point" data-name="c" cx="-50" cy="-100" r="1"/><circle class="point" data-name="d" cx="-50" cy="0" r="1"/>
<circle class="drill" cx="40" cy="-50" r="2"/><circle class="drill" cx="-40" cy="-50" r="2"/><circle class="drill" cx="0" cy="-20" r="2"/>
<rect class="slot" x="-13" y="-85" width="27" height="5" rx="1"/><rect class="seat" data-label="buckle" x="-10" y="-60" width="20" height="30"/>
<line class="notch" x1="59" y1="-50" x2="54" y2="-50"/><line class="notch" x1="-59" y1="-50" x2="-54" y2="-50"/>
<path class="score" d="M-40 -30C-20 -26 20 -26 40 -30"/></g>`, id, x, y))
		fmt.Fprintf(&rules, `[[piece]]
id = "%s"
title = "Piece"
thickness = 5
edges = { right = ["a", "b"], left = ["c", "d"] }
length = { measure = "front-waist-length" }
[[piece.section]]
at = 0
measure = "waist-girth"
share = 0.12
[[piece.section]]
at = 0.5
measure = "waist-girth"
toward = "chest-girth"
part = 0.5
share = 0.12
[[piece.section]]
at = 1
measure = "chest-girth"
share = 0.12
[[seam]]
name = "s%d"
a = "%s.right"
b = "p%d.left"
`, id, i, id, max(0, i-1))
	}
	svg = []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="1000mm" height="1700mm" viewBox="0 0 1000 1700">` + strings.Join(groups, "\n") + `</svg>`)
	return svg, specSheet("waist-girth = 820\nchest-girth = 980\nfront-waist-length = 420", "BASE\n"+rules.String())
}

func BenchmarkParse(b *testing.B) {
	svg, toml := sixty()
	for b.Loop() {
		if _, err := Parse(svg, toml); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDraft(b *testing.B) {
	svg, _ := sixty()
	for b.Loop() {
		if _, _, _, err := Draft(svg, "sixty"); err != nil {
			b.Fatal(err)
		}
	}
}

// Sixty pieces to one body.
func BenchmarkGrade60(b *testing.B) {
	svg, toml := sixty()
	s := parse(b, svg, toml)
	f := s.BaseFit(foam.NoSide)
	f.Body["waist-girth"], f.Body["chest-girth"], f.Clothing = 900, 1010, 3
	f.Tools = []foam.Tool{{Name: "3 mm", Diameter: 3}, {Name: "4 mm", Diameter: 4}, {Name: "5 mm", Diameter: 5}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Grade(f); err != nil {
			b.Fatal(err)
		}
	}
}
