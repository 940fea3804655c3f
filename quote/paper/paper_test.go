package paper

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Sizes of the A series in millimetres. Source: ISO 216:2007, table of the A series (from memory), which follows from
// its rules: A0 has an area of 1 m², sides are as 1 to √2, each size is half of the one before, rounded down.
func TestSizes(t *testing.T) {
	at := map[string]Size{}
	for _, s := range sizes() {
		at[s.Key] = s
		if got, err := Lookup(s.Key); err != nil || got != s {
			t.Errorf("Lookup(%q) = %v, %v", s.Key, got, err)
		}
	}
	long, short := geom.MM(1189), geom.MM(841)
	if area := long.M() * short.M(); math.Abs(area-1) > 0.001 || math.Abs(float64(long/short)-math.Sqrt2) > 0.001 {
		t.Errorf("A0 is %v m², sides as %v", area, long/short)
	}
	for _, key := range []string{"a0", "a1", "a2", "a3", "a4"} {
		if s := at[key]; s.Width != short || s.Height != long {
			t.Errorf("%s is %v × %v, want %v × %v", key, s.Width, s.Height, short, long)
		}
		long, short = short, geom.MM(math.Floor(float64(long)/2))
	}
	// Source: ANSI/ASME Y14.1, sizes A and B: 8.5 × 11 in and 11 × 17 in (from memory).
	for key, want := range map[string][2]geom.MM{"letter": {215.9, 279.4}, "tabloid": {279.4, 431.8}} {
		if s := at[key]; math.Abs(float64(s.Width-want[0])) > 1e-9 || math.Abs(float64(s.Height-want[1])) > 1e-9 {
			t.Errorf("%s is %v × %v, want %v", key, s.Width, s.Height, want)
		}
	}
	if r := at["roll-914"]; !r.roll() || math.Abs(float64(r.Width)-914.4) > 1e-9 {
		t.Errorf("the wide roll is %v", r)
	}
	if _, err := Lookup("foolscap"); err == nil || !strings.Contains(err.Error(), "a4") {
		t.Errorf("an unknown paper gives %v", err)
	}
}

func TestRefuses(t *testing.T) {
	good := func(change func(*Pattern)) Pattern {
		p := on("a4", Piece{Label: "A1", Title: "Plate", Shape: geom.Shape{Outer: box(50, 40)}})
		change(&p)
		return p
	}
	for want, p := range map[string]Pattern{
		"no pieces":             good(func(p *Pattern) { p.Pieces = nil }),
		"the margin is 25 mm":   good(func(p *Pattern) { p.Margin = 25 }),
		"the overlap is 2 mm":   good(func(p *Pattern) { p.Overlap = 2 }),
		"wide":                  good(func(p *Pattern) { p.Paper = Size{Key: "a6", Width: 105, Height: 148} }),
		"high":                  good(func(p *Pattern) { p.Paper.Height = 200 }),
		"has no area":           good(func(p *Pattern) { p.Pieces[0].Shape.Outer = geom.Ring{{X: 0}, {X: 1}, {X: 2}} }),
		"not a number":          good(func(p *Pattern) { p.Pieces[0].Shape.Outer[1].X = math.NaN() }),
		"a hole of -1 mm":       good(func(p *Pattern) { p.Pieces[0].Drills = []Drill{{geom.Pt(5, 5), -1, ""}} }),
		"divide it with a seam": good(func(p *Pattern) { p.Pieces[0].Shape.Outer = box(5100, 40) }),
		"outside its outline":   good(func(p *Pattern) { p.Pieces[0].Lines = []Line{{Score, geom.Path{{X: 0}, {X: 900}}, ""}} }),
		"different pieces":      good(func(p *Pattern) { p.Pieces = make([]Piece, maxPieces+1) }),
		"use A3, which needs":   good(func(p *Pattern) { p.Pieces[0].Shape.Outer = box(4900, 4400) }),
		"print it in parts of at": good(func(p *Pattern) {
			p.Pieces[0].Shape.Holes = make([]geom.Ring, 1)
			p.Pieces[0].Shape.Holes[0] = make(geom.Ring, maxPoints)
		}),
	} {
		if out, err := Print(p); err == nil || !strings.Contains(err.Error(), want) || out != nil {
			t.Errorf("want an error with %q, got %v", want, err)
		}
	}
}

func TestTileNames(t *testing.T) {
	for c, want := range map[cell]string{{0, 0}: "A1", {4, 1}: "B5", {0, 25}: "Z1", {9, 26}: "AA10", {0, 52}: "BA1"} {
		if got := c.name(); got != want {
			t.Errorf("tile %v is named %q, want %q", c, got, want)
		}
	}
}

func drawPattern(t *rapid.T) Pattern {
	p := on(rapid.SampledFrom([]string{"a4", "letter", "a3", "roll-610"}).Draw(t, "paper"))
	p.Overlap = geom.MM(rapid.Float64Range(8, 25).Draw(t, "overlap"))
	p.Margin = geom.MM(rapid.Float64Range(0, 15).Draw(t, "margin"))
	for i := range rapid.IntRange(1, 5).Draw(t, "n") {
		w, h := rapid.Float64Range(3, 700).Draw(t, "w"), rapid.Float64Range(3, 400).Draw(t, "h")
		q := Piece{Label: fmt.Sprintf("1-A%d", i+1), Title: "Piece", Count: 2, Thickness: 5, Shape: geom.Shape{Outer: oval(w, h)}}
		if rapid.Bool().Draw(t, "full") {
			q = chest(w+40, h+40)
			q.Label = fmt.Sprintf("1-A%d", i+1)
		}
		turn := geom.Placement{Turn: rapid.Float64Range(0, 360).Draw(t, "turn"), Move: geom.Pt(rapid.Float64Range(-900, 900).Draw(t, "x"), 50)}
		q.Shape = turn.Shape(q.Shape)
		for k := range q.Lines {
			q.Lines[k].Path = turn.Path(q.Lines[k].Path)
		}
		for k := range q.Drills {
			q.Drills[k].At = turn.Apply(q.Drills[k].At)
		}
		p.Pieces = append(p.Pieces, q)
	}
	return p
}

// No line is lost: every point of every figure lies in the frame of a tile that shows the piece; neighbours that share a
// piece share at least the overlap; a piece that fits on a tile lies on one; no two pieces overlap.
func TestEveryLineIsOnATile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPattern(t)
		if err := p.check(); err != nil {
			t.Fatal(err)
		}
		s := arrange(&p)
		shown := func(it *item, q geom.Point) bool {
			for _, tl := range s.tiles {
				f := s.grid.frame(tl.cell)
				f.Max.Y = f.Min.Y + tl.height
				if s.on(tl, it) && f.Grow(1e-6).Contains(q) {
					return true
				}
			}
			return false
		}
		for i, it := range s.items {
			for _, f := range it.figures {
				path := f.Path
				if f.Shape != nil {
					path = append(append(geom.Path{}, f.Shape.Outer...), f.Shape.Outer[0])
				}
				for d := geom.MM(0); len(path) > 0 && d <= path.Length(); d += 7 {
					q, _ := path.At(d)
					if q = q.Add(it.offset); !shown(it, q) {
						t.Fatalf("piece %d: the point %v of a line is on none of its tiles %v", i, q, it.tileNames())
					}
				}
			}
			for _, w := range it.room.taken {
				for _, c := range w.corners() {
					if !shown(it, c.Add(it.offset)) {
						t.Fatalf("piece %d: a word's corner %v is on none of its tiles", i, c)
					}
				}
			}
			fits := math.Min(float64(it.box.Width()), float64(it.box.Height())) <= math.Min(s.grid.width, s.grid.height)-1 &&
				math.Max(float64(it.box.Width()), float64(it.box.Height())) <= math.Max(s.grid.width, s.grid.height)-1
			if fits && len(it.cells) > 1 {
				t.Fatalf("piece %d of %v × %v lies on %d tiles of %.0f × %.0f", i, it.box.Width(), it.box.Height(), len(it.cells), s.grid.width, s.grid.height)
			}
			for _, o := range s.items[:i] {
				if overlapsAny(it.bounds(), []*item{o}) {
					t.Fatalf("piece %d lies on another", i)
				}
			}
		}
		for _, tl := range s.tiles {
			for _, e := range [2]cell{{tl.col + 1, tl.row}, {tl.col, tl.row + 1}} {
				n := s.at[e]
				if n == nil {
					continue
				}
				a, b := s.grid.frame(tl.cell), s.grid.frame(e)
				if shared := math.Max(a.Max.X-b.Min.X, 0); e.row == tl.row && shared < float64(p.Overlap)-1e-9 {
					t.Fatalf("tiles share %v mm, want %v", shared, p.Overlap)
				}
				if shared := math.Max(a.Max.Y-b.Min.Y, 0); e.col == tl.col && shared < float64(p.Overlap)-1e-9 {
					t.Fatalf("tiles share %v mm, want %v", shared, p.Overlap)
				}
				// Each registration mark of a glued seam is on both of its tiles.
				if n.glued == tl.glued {
					both := 0
					for _, m := range s.marks(tl) {
						for _, k := range s.marks(n) {
							if m.Dist(k) < 1e-9 {
								both++
							}
						}
					}
					if both < 2 {
						t.Fatalf("tiles %s and %s share %d marks", tl.name(), e.name(), both)
					}
				}
			}
		}
	})
}

// A piece as high as a tile finds a place even though the one above it reaches into the next row by the overlap.
func TestHighPieceBelowOverlap(t *testing.T) {
	p := on("a3")
	p.Overlap, p.Margin = 25, 1
	g := newGrid(&p)
	plate := func(w, h float64) Piece {
		return Piece{Label: "1-A1", Title: "Piece", Count: 1, Thickness: 5, Shape: geom.Shape{Outer: box(w, h)}}
	}
	p.Pieces = []Piece{plate(g.stepX+g.width-100, g.stepY+10), plate(g.width-30, g.height-10)}
	items := arrange(&p).items
	if b := items[1].block; !b.single() || b.r0 != 2 {
		t.Fatalf("the second piece lies on the tiles %v, want one in the third row", b)
	}
}

// Text on a piece keeps off its lines and does not overlap.
func TestWordsKeepOffLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPattern(t)
		s := arrange(&p)
		for _, it := range s.items {
			for i, w := range it.room.taken {
				for _, k := range it.room.ink {
					if w.hit(k) {
						t.Fatalf("piece %s: a word at %v lies on a line", it.piece.Label, w.c)
					}
				}
				for _, o := range it.room.taken[:i] {
					if w.meets(o) && !(o.grow(0.01).contains(w.c) && o.w >= w.w) { // the arrow's plate holds its word
						t.Fatalf("piece %s: two words at %v", it.piece.Label, w.c)
					}
				}
			}
			for _, f := range it.figures {
				if f.Text != nil && f.Text.Size < leastSize {
					t.Fatalf("a text of %v is not read", f.Text.Size)
				}
			}
		}
	})
}

func TestNameInsideOrdinaryPieces(t *testing.T) {
	p := ordinary("a4")
	for _, it := range arrange(&p).items {
		if b := it.piece.Shape.Bounds(); it.named != (b.Height() > 10) {
			t.Errorf("%s, %s: name inside is %v", it.piece.Label, it.piece.size(), it.named)
		}
		if !it.named { // the leader's words stand off the foam
			if it.room.shape.Outer.Contains(it.name.c) {
				t.Errorf("%s: the name stands on the foam", it.piece.Label)
			}
		}
	}
}

// Every bend says to which side it goes: at its line or, if there is no room, with the piece's name.
func TestBendsSayTheirWay(t *testing.T) {
	for _, size := range [][2]float64{{360, 300}, {120, 90}, {26, 20}} {
		p := on("a4", chest(size[0], size[1]))
		var words []string
		for _, f := range arrange(&p).items[0].figures {
			if f.Text != nil {
				words = append(words, f.Text.Value)
			}
		}
		all := strings.Join(words, " ")
		for _, want := range []string{"bend away: about the chest", "bend toward"} {
			if !strings.Contains(all, want) {
				t.Errorf("%v mm: the piece's words %q lack %q", size, words, want)
			}
		}
	}
}

// Lines can be told apart by dash or width alone.
func TestStylesDiffer(t *testing.T) {
	seen := map[string]LineKind{}
	for _, k := range []LineKind{Score, Notch, Bend, BendToward, Seat, Align, "outline", "hole"} {
		st := style(k)
		switch k {
		case "outline":
			st = outlineStyle
		case "hole":
			st = holeStyle
		}
		id := fmt.Sprint(st.Width, st.Dash)
		if o, ok := seen[id]; ok {
			t.Errorf("%s looks like %s", k, o)
		}
		seen[id] = k
		if st.Stroke != black {
			t.Errorf("%s is not black", k)
		}
	}
}

func TestSameBytes(t *testing.T) {
	for _, key := range []string{"a4", "letter", "roll-610"} {
		a, err := Print(ordinary(key))
		if err != nil {
			t.Fatal(err)
		}
		b, err := Print(ordinary(key))
		if err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s: two prints of one pattern differ (%v)", key, err)
		}
	}
	undated := ordinary("a4")
	undated.Date = undated.Date.AddDate(-3000, 0, 0)
	if _, err := Print(undated); err != nil {
		t.Error(err)
	}
}

// No text that a chat can bring breaks the print.
func TestAnyWordsPrint(t *testing.T) {
	text := rapid.String()
	for seed := range 25 {
		n := 0
		word := func() string { n++; return text.Example(seed*100 + n) }
		p := on("a4", chest(140, 110), Piece{Label: word(), Title: word(), Shape: geom.Shape{Outer: box(20, 5)}, Turn: word()})
		p.Title, p.Studio, p.Commission = word(), word(), word()
		p.Cautions = []string{word(), strings.Repeat(word()+" ", 40)}
		p.Pieces[0].Lines[0].Label, p.Pieces[0].Drills[0].Size = word(), word()
		if _, err := Print(p); err != nil {
			t.Fatalf("%d: %v", seed, err)
		}
	}
}

func TestRollIsCutOff(t *testing.T) {
	p := on("roll-610", Piece{Label: "A1", Shape: geom.Shape{Outer: box(900, 300)}}, Piece{Label: "B1", Shape: geom.Shape{Outer: box(250, 290)}})
	s := arrange(&p)
	if len(s.tiles) != 1 {
		t.Fatalf("%d pages", len(s.tiles))
	}
	// The short piece lies beside the long one, which is laid along the roll.
	if h := s.pageHeight(s.tiles[0]); h < 900 || h > 930 {
		t.Errorf("the page is %.0f mm long", h)
	}
	long := on("roll-610")
	for i := range 14 {
		long.Pieces = append(long.Pieces, Piece{Label: fmt.Sprintf("A%d", i), Shape: geom.Shape{Outer: box(580, 580)}})
	}
	s = arrange(&long)
	if len(s.tiles) != 2 {
		t.Errorf("8 m of roll are %d pages, want 2 of at most 5 m", len(s.tiles))
	}
	for _, tl := range s.tiles {
		if h := s.pageHeight(tl); h > float64(maxLength) {
			t.Errorf("a page is %.0f mm long", h)
		}
	}
}

// A glued sheet does not run through the whole pattern: two plates of two tiles each remain two sheets.
func TestLargePiecesStayApart(t *testing.T) {
	p := on("a4", Piece{Label: "A1", Shape: geom.Shape{Outer: box(240, 240)}}, Piece{Label: "A2", Shape: geom.Shape{Outer: box(240, 240)}})
	s := arrange(&p)
	sheets := map[int]int{}
	for _, tl := range s.tiles {
		sheets[tl.glued]++
	}
	if len(s.tiles) != 4 || len(sheets) != 2 {
		t.Errorf("%d tiles in %d sheets, want 4 in 2", len(s.tiles), len(sheets))
	}
}

// A quarter of a ring leaves out the tile in its hollow.
func TestEmptyTilesAreLeftOut(t *testing.T) {
	var r geom.Ring
	for i := range 31 {
		sin, cos := geom.SinCosDeg(float64(i) * 3)
		r = append(r, geom.Pt(560*cos, 560*sin))
	}
	for i := 30; i >= 0; i-- {
		sin, cos := geom.SinCosDeg(float64(i) * 3)
		r = append(r, geom.Pt(520*cos, 520*sin))
	}
	p := on("a4", Piece{Label: "A1", Shape: geom.Shape{Outer: r}})
	s := arrange(&p)
	if b := s.items[0].block; len(s.tiles) >= b.tiles() {
		t.Errorf("%d tiles of a block of %d", len(s.tiles), b.tiles())
	}
}

func TestSpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frame := rapid.Float64Range(100, 300).Draw(t, "frame")
		step := frame - rapid.Float64Range(8, 40).Draw(t, "overlap")
		lo := rapid.Float64Range(0, 3000).Draw(t, "lo")
		hi := lo + rapid.Float64Range(1, 2000).Draw(t, "length")
		first, last := span(lo, hi, step, frame)
		if float64(first)*step > lo+1e-3 || float64(last)*step+frame < hi-1e-3 {
			t.Fatalf("tiles %d to %d do not hold %v to %v", first, last, lo, hi)
		}
		if last > first && float64(last-1)*step+frame >= hi+1e-3 {
			t.Fatalf("tile %d is one too many", last)
		}
	})
}

func TestPlates(t *testing.T) {
	p := turnedPlate(geom.Pt(0, 0), 10, 2, 30)
	if !p.hit(seg{geom.Pt(-20, 0), geom.Pt(20, 0)}) || p.hit(seg{geom.Pt(-20, 5), geom.Pt(20, 5)}) || !p.hit(seg{geom.Pt(0.1, 0), geom.Pt(0, 0.1)}) {
		t.Error("hit")
	}
	if !p.meets(turnedPlate(geom.Pt(0, 0), 1, 20, 0)) || p.meets(turnedPlate(geom.Pt(0, 9), 10, 2, 30)) {
		t.Error("meets")
	}
	// A text read upwards begins at the bottom.
	up := turnedPlate(geom.Pt(0, 0), 10, 2, 90)
	if b := up.point(-1, 0); math.Abs(b.Y-5) > 1e-9 || math.Abs(b.X) > 1e-9 {
		t.Errorf("a text turned by 90° begins at %v", b)
	}
	if w := textPlate(geom.Point{}, 4, draw.Bold, 0, "abc").w; math.Abs(w-float64(draw.TextWidth(draw.Bold, 4, "abc"))) > 1e-9 {
		t.Error("text width")
	}
}

func BenchmarkPrint(b *testing.B) {
	p := sixty("a4")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Print(p); err != nil {
			b.Fatal(err)
		}
	}
}
