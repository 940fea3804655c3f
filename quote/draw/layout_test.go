package draw

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
)

// crowded is a sheet with pieces of all sizes in rows, a gap apart, as a nesting would lay them.
func crowded(t *rapid.T) SheetPicture {
	const gap = 5.0
	l := SheetPicture{Title: "sheet 1 of 1", Commission: "C0001", Width: geom.MM(rapid.Float64Range(300, 1500).Draw(t, "width")), Height: geom.MM(rapid.Float64Range(300, 1000).Draw(t, "height"))}
	sizes := rapid.SliceOfN(rapid.Float64Range(6, 220), 1, 45).Draw(t, "sizes")
	x, y, row := gap, gap, 0.0
	for i, size := range sizes {
		w, h := size, size*(0.3+float64(i%4)*0.25)
		if x+w+gap > float64(l.Width) {
			x, y, row = gap, y+row+gap, 0
		}
		if y+h+gap > float64(l.Height) || x+w+gap > float64(l.Width) {
			continue
		}
		p := LaidPiece{Label: fmt.Sprintf("1L-A%d", i+1), Mirrored: i%3 == 0, Shape: geom.Placement{Move: geom.Pt(x, y)}.Shape(leaf(w, h))}
		if i%5 == 4 {
			p.Owner = "C0002"
		}
		l.Pieces = append(l.Pieces, p)
		x, row = x+w+gap, math.Max(row, h)
	}
	return l
}

// covered is the area of a text, made slightly narrower.
func covered(x *Text) geom.Box {
	w, h := float64(TextWidth(x.Font, x.Size, x.Value)), float64(x.Size)*capital
	left := map[Anchor]float64{Start: 0, Middle: -w / 2, End: -w}[x.Anchor]
	b := geom.EmptyBox()
	sin, cos := geom.SinCosDeg(-x.Turn)
	for _, c := range [][2]float64{{left, 0}, {left + w, -h}} {
		b = b.Extend(x.At.Add(geom.Pt(cos*c[0]-sin*c[1], sin*c[0]+cos*c[1])))
	}
	return b.Grow(-0.05)
}

// Every piece is named once, on itself or in the list by its number, and no text overlaps another or leaves the picture.
func TestLayoutNamesEveryPiece(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := crowded(t)
		s := Layout(l)
		named, numbers, keyed := map[string]int{}, map[string]int{}, map[string]string{}
		var boxes []geom.Box
		var values []string
		for _, f := range s.Figures {
			if f.Text == nil {
				continue
			}
			v := f.Text.Value
			if n, what, ok := strings.Cut(v, " = "); ok {
				what, _, _ = strings.Cut(what, ",")
				keyed[n] = what
				named[what]++
			} else if strings.HasPrefix(v, "1L-") {
				named[v]++
			} else if strings.Trim(v, "0123456789") == "" {
				numbers[v]++
			}
			b := covered(f.Text)
			for i, o := range boxes {
				if o.Overlaps(b) {
					t.Fatalf("%q lies on %q", v, values[i])
				}
			}
			if b.Min.X < -0.1 || b.Max.X > float64(s.Width)+0.1 || b.Max.Y > float64(s.Height) {
				t.Fatalf("%q reaches to %v of %v × %v", v, b, s.Width, s.Height)
			}
			if f.Text.Size < labelLeast {
				t.Fatalf("%q is %v high", v, f.Text.Size)
			}
			boxes, values = append(boxes, b), append(values, v)
		}
		for _, p := range l.Pieces {
			if named[p.title()] != 1 {
				t.Fatalf("piece %s is named %d times", p.title(), named[p.title()])
			}
		}
		if len(numbers) != len(keyed) {
			t.Fatalf("%d numbers, %d of them in the list", len(numbers), len(keyed))
		}
		for n, c := range numbers {
			if c != 1 || keyed[n] == "" {
				t.Fatalf("number %s stands %d times and means %q", n, c, keyed[n])
			}
		}
	})
}

// Commissions are named only if the sheet is shared.
func TestLayoutOwners(t *testing.T) {
	count := func(l SheetPicture, word string) int {
		n := 0
		s := Layout(l)
		for _, f := range s.Figures {
			if f.Text != nil && strings.Contains(f.Text.Value, word) {
				n++
			}
		}
		return n
	}
	l := sampleOffcut()
	if a, b := count(l, "C0012"), count(l, "C0007"); a != 4 || b != 6 { // and the head
		t.Errorf("the owners are named %d and %d times", a, b)
	}
	for i := range l.Pieces {
		l.Pieces[i].Owner = ""
	}
	if n := count(l, "C0007"); n != 1 {
		t.Errorf("the one owner is named %d times", n)
	}
}

func TestLayoutDrawsWhatRemains(t *testing.T) {
	has := func(l SheetPicture, word string) bool {
		s := Layout(l)
		for _, f := range s.Figures {
			if f.Text != nil && strings.HasPrefix(f.Text.Value, word) {
				return true
			}
		}
		return false
	}
	l := sampleOffcut()
	if !has(l, "offcut to keep, 380 × 130 mm") || !has(l, "defect") {
		t.Error("the key does not explain offcut and defect")
	}
	l.Offcut, l.Defects = nil, nil
	if has(l, "offcut to keep") || has(l, "defect") {
		t.Error("the key explains what is not there")
	}
}

// What is clipped lies in the box, and everything of a path inside the box is kept.
func TestClip(t *testing.T) {
	b := geom.Box{Min: geom.Pt(0, 0), Max: geom.Pt(10, 6)}
	coord := rapid.Float64Range(-8, 18)
	rapid.Check(t, func(t *rapid.T) {
		var p geom.Path
		for range rapid.IntRange(2, 9).Draw(t, "n") {
			p = append(p, geom.Pt(coord.Draw(t, "x"), coord.Draw(t, "y")))
		}
		parts := clip(p, b)
		var kept geom.MM
		for _, q := range parts {
			kept += q.Length()
			for _, c := range q {
				if !b.Grow(1e-9).Contains(c) {
					t.Fatalf("%v lies outside", c)
				}
			}
		}
		const step = 0.01
		inside := geom.MM(0)
		for d := geom.MM(step / 2); d < p.Length(); d += step {
			if c, _ := p.At(d); b.Contains(c) {
				inside += step
			}
		}
		if math.Abs(float64(kept-inside)) > 0.02*float64(len(p)) {
			t.Fatalf("%v of the path kept, %v lie inside", kept, inside)
		}
	})
}

// The spot of a fault is in the middle of its circles, on the drawing and enlarged.
func TestFaultMarksTheSpot(t *testing.T) {
	s := Fault("t", sampleFault(), geom.Pt(120, 100), "wrong")
	var middles []geom.Point
	for _, f := range s.Figures {
		if f.Shape != nil && len(f.Shape.Outer) == 36 {
			middles = append(middles, f.Shape.Bounds().Centre())
		}
	}
	if len(middles) != 3 || middles[0].Dist(middles[1]) > 1e-9 || middles[0].Dist(middles[2]) < 20 {
		t.Fatalf("circles at %v", middles)
	}
	// The crossing is drawn there: two of the drawing's lines run through it.
	near := 0
	for _, f := range s.Figures {
		for i := 1; i < len(f.Path); i++ {
			if geom.SegmentDistance(f.Path[i-1], f.Path[i], middles[0], middles[0]) < 1 {
				near++
			}
		}
	}
	if near < 2 {
		t.Errorf("%d lines at the spot", near)
	}
	off := Fault("t", sampleFault(), geom.Pt(math.NaN(), 0), "wrong")
	for _, f := range off.Figures {
		if f.Shape != nil {
			t.Error("a place that is none is marked")
		}
	}
}

// Both edges of a seam have its number.
func TestCheckedNumbersBothEdges(t *testing.T) {
	n := map[string]int{}
	s := Checked(sampleChecked())
	for _, f := range s.Figures {
		if f.Text != nil && f.Text.Font == Bold {
			n[f.Text.Value]++
		}
	}
	if n["1"] != 4 || n["2"] != 3 { // two edges and the list; the key shows a 1 too
		t.Errorf("numbers: %v", n)
	}
}

// Texts of a checked set do not overlap.
func TestCheckedWordsKeepApart(t *testing.T) {
	s := Checked(sampleChecked())
	var boxes []*Text
	for _, f := range s.Figures {
		if f.Text == nil {
			continue
		}
		for _, o := range boxes {
			if covered(o).Overlaps(covered(f.Text)) {
				t.Errorf("%q lies on %q", f.Text.Value, o.Value)
			}
		}
		boxes = append(boxes, f.Text)
	}
}

// A label of a line stands at it, or a letter does that the list under the picture explains.
func TestCheckedLabelsAreExplained(t *testing.T) {
	c := sampleChecked()
	var labels []string
	for i := range c.Pieces {
		for k := range c.Pieces[i].Sections {
			l := fmt.Sprintf("section %d of piece %d, named at a length for which no picture has the room", k+1, i+1)
			c.Pieces[i].Sections[k].Label = l
			labels = append(labels, l)
		}
	}
	s := Checked(c)
	found := words(s)
	letters := 0
	for _, l := range labels {
		if found[l] == 0 {
			t.Errorf("%q is nowhere", l)
		}
	}
	for v := range found {
		if len(v) == 1 && v >= "a" && v <= "z" {
			letters++
			if found[v] < 2 {
				t.Errorf("the letter %s stands once: at a line or in the list, not both", v)
			}
		}
	}
	if letters == 0 || len(labels) == 0 {
		t.Errorf("%d labels and %d letters, so nothing is shown", len(labels), letters)
	}
}
