package figure

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"testing"

	"benchbell/quote/draw"
	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"

	"pgregory.net/rapid"
)

var (
	pictures = flag.String("pictures", "", "folder to write the pictures to, to look at (PNG)")
)

// golden compares a scene's SVG with the file kept of it.
func golden(t *testing.T, name string, s draw.Scene) {
	t.Helper()
	gaugetest.Golden(t, filepath.Join("testdata", name+".svg"), s.SVG())
	if *pictures != "" {
		data, err := s.PNG(6)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(*pictures, name+".png"), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func box(w, h float64) geom.Shape {
	return geom.Shape{Outer: geom.Ring{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}}}
}

// regions of the body, each with a piece that fits an adult.
var regions = []Worn{
	{Region: "head", Shape: box(200, 60), Height: .6}, {Region: "neck", Shape: box(200, 50), Height: .5},
	{Region: "shoulder", Side: "left", Facing: -90, Shape: box(180, 100), Height: .6}, {Region: "upper-arm", Side: "left", Shape: box(120, 120), Height: .5},
	{Region: "forearm", Side: "left", Shape: box(120, 180), Height: .5}, {Region: "hand", Side: "left", Shape: box(80, 70), Height: .6},
	{Region: "chest", Shape: box(350, 250), Height: .5}, {Region: "waist", Shape: box(400, 60), Height: .5},
	{Region: "hip", Side: "left", Facing: -60, Shape: box(150, 130), Height: .5}, {Region: "thigh", Side: "left", Shape: box(160, 200), Height: .5},
	{Region: "shin", Side: "left", Shape: box(130, 250), Height: .5}, {Region: "foot", Side: "left", Shape: box(90, 120), Height: .5},
	{Region: "carried", Shape: box(60, 700), Height: .5},
}

// wardrobe is every region's piece on both sides of the body.
func wardrobe() []Worn {
	var out []Worn
	for _, w := range regions {
		w.Name, w.Thickness = w.Region, 6
		w.Shape.Holes = []geom.Ring{{{X: 20, Y: 20}, {X: 26, Y: 20}, {X: 26, Y: 26}, {X: 20, Y: 26}}}
		w.Scores = []geom.Path{{{X: 30, Y: 5}, {X: 30, Y: 40}}}
		out = append(out, w)
		if w.Side != "" {
			w.Side, w.Layer, w.Facing = "right", 1, -w.Facing
			out = append(out, w)
		}
	}
	return out
}

// bodies at both ends of the adult range and in the middle; the figures are the survey's P1 woman and P99 man, rounded
// (ANSUR II, 2012, US Army, public).
var bodies = map[string]map[string]geom.MM{
	"usual": nil,
	"small": {"stature": 1483, "wrist-girth": 138, "forearm-girth": 226, "upper-arm-girth": 246, "biacromial-breadth": 324, "chest-girth": 790, "waist-girth": 665, "hip-girth": 862, "neck-girth": 292, "thigh-girth": 496, "calf-girth": 313},
	"large": {"stature": 1923, "wrist-girth": 198, "forearm-girth": 361, "upper-arm-girth": 443, "biacromial-breadth": 460, "chest-girth": 1282, "waist-girth": 1237, "hip-girth": 1222, "neck-girth": 460, "thigh-girth": 782, "calf-girth": 466},
}

func TestDressed(t *testing.T) {
	for name, b := range bodies {
		golden(t, "dressed-"+name, Dressed(b, wardrobe(), "Every region"))
	}
	golden(t, "bare", Dressed(nil, nil, "Nothing worn"))
}

// piecesDrawn counts the outlines of pieces on a picture of the usual body.
func piecesDrawn(worn []Worn) (n int) {
	s := Dressed(nil, worn, "")
	for _, f := range s.Figures {
		if f.Shape != nil && f.Style.Stroke == edgeOfPiece {
			n++
		}
	}
	return n
}

// Every region is drawn, and each piece on the side where it faces the viewer.
func TestEveryRegionIsDrawn(t *testing.T) {
	for _, w := range regions {
		w.Name = w.Region
		if piecesDrawn([]Worn{w}) == 0 {
			t.Errorf("a piece on the %s is not drawn", w.Region)
		}
	}
	if n := piecesDrawn([]Worn{{Name: "tail", Region: "tail", Shape: box(50, 50)}}); n != 0 {
		t.Errorf("a piece on no region is drawn %d times", n)
	}
}

// A crest stands on a helmet: it is not carried beside the hand.
func TestWornSetIsNotCarried(t *testing.T) {
	helmet, crest := regions[0], regions[len(regions)-1]
	helmet.Name, crest.Name = "helmet", "helmet"
	if a, b := piecesDrawn([]Worn{helmet}), piecesDrawn([]Worn{helmet, crest}); a != b {
		t.Errorf("a helmet is drawn as %d pieces, with its crest as %d", a, b)
	}
}

// centres are the middles of what a piece adds to the picture, and the picture's middle lines.
func centres(t *testing.T, w Worn) (x []float64, front, back float64) {
	t.Helper()
	s := draw.Scene{}
	d := dresser{scene: &s, model: newModel(nil)}
	d.fit([]Worn{w})
	f, b := d.layOut()
	for _, v := range []*view{f, b} {
		d.paint(v)
		if a := v.anchors[w.Name]; a != nil {
			x = append(x, a.at.X)
		}
	}
	return x, f.centre, b.centre
}

// The body's right is on the picture's left from the front and on its right from the back.
func TestSidesOfThePicture(t *testing.T) {
	for _, w := range regions {
		if w.Side == "" || w.Region == "hip" { // about the middle line
			continue
		}
		for _, side := range []string{"left", "right"} {
			for _, facing := range []float64{0, 180} {
				w.Name, w.Side, w.Facing = "piece", side, facing
				x, front, back := centres(t, w)
				if len(x) == 0 {
					t.Fatalf("%s %s facing %v is not drawn", side, w.Region, facing)
				}
				onRight := x[0] > front
				if facing == 180 {
					onRight = x[len(x)-1] < back
				}
				if onRight != (side == "left") {
					t.Errorf("%s %s facing %v is drawn at %v, the figures' middles are %v and %v", side, w.Region, facing, x, front, back)
				}
			}
		}
	}
	// A positive facing turns to the body's right, whatever the side.
	for _, side := range []string{"left", "right", ""} {
		for _, facing := range []float64{40, -40} {
			x, front, _ := centres(t, Worn{Name: "piece", Region: "chest", Side: side, Facing: facing, Height: .5, Shape: box(60, 60)})
			if len(x) == 0 || (x[0] < front) != (facing > 0) {
				t.Errorf("side %q facing %v on the chest is at %v of %v", side, facing, x, front)
			}
		}
	}
}

// A piece seen face on keeps its width within what bending takes away, and its height.
func TestToScale(t *testing.T) {
	const side = 60.0
	w := Worn{Name: "piece", Region: "chest", Height: .5, Shape: box(side, side)}
	s := Dressed(nil, []Worn{w}, "")
	perMM := (dressedHeight - dressedTop - dressedFoot - 6) / usualStature
	for _, f := range s.Figures {
		if f.Shape == nil || f.Style.Stroke != edgeOfPiece {
			continue
		}
		b := f.Shape.Bounds()
		if w := float64(b.Width()) / perMM; w < side*.9 || w > side*1.1 {
			t.Errorf("%.1f mm wide, want about %v", w, side)
		}
		if h := float64(b.Height()) / perMM; math.Abs(h-side) > side*.1 {
			t.Errorf("%.1f mm high, want about %v", h, side)
		}
	}
}

// Nothing that is given makes a coordinate that is no number, and what is drawn stays on the picture.
func TestDressedIsFinite(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -700, 1e300, 5}
	keys := []string{"stature"}
	for k := range usual {
		keys = append(keys, k)
	}
	value := func(t *rapid.T, low, high float64) float64 {
		if rapid.IntRange(0, 9).Draw(t, "odd") == 0 {
			return rapid.SampledFrom(odd).Draw(t, "value")
		}
		return rapid.Float64Range(low, high).Draw(t, "value")
	}
	rapid.Check(t, func(t *rapid.T) {
		b := map[string]geom.MM{}
		for _, k := range keys {
			if rapid.Bool().Draw(t, k) {
				b[k] = geom.MM(value(t, 50, 2500))
			}
		}
		var worn []Worn
		for range rapid.IntRange(0, 4).Draw(t, "pieces") {
			w := rapid.SampledFrom(regions).Draw(t, "region")
			w.Name, w.Side = rapid.StringMatching(`[a-z ]{0,60}`).Draw(t, "name"), rapid.SampledFrom([]string{"", "left", "right"}).Draw(t, "side")
			w.Facing, w.Height = value(t, -400, 400), value(t, -1, 2)
			w.Layer, w.Thickness = rapid.IntRange(-2, 9).Draw(t, "layer"), geom.MM(value(t, 0, 60))
			w.Shape = box(value(t, 1, 1500), value(t, 1, 1500))
			worn = append(worn, w)
		}
		s := Dressed(b, worn, rapid.StringMatching(`.{0,90}`).Draw(t, "title"))
		again := Dressed(b, worn, s.Title)
		if !bytes.Equal(s.SVG(), again.SVG()) {
			t.Fatal("two pictures of one body differ")
		}
		if !(s.Width > 50 && s.Width < 20000 && s.Height == dressedHeight) {
			t.Fatalf("%v by %v", s.Width, s.Height)
		}
		for _, f := range s.Figures {
			ps := f.Path
			if f.Shape != nil {
				ps = geom.Path(f.Shape.Outer)
			} else if f.Text != nil {
				ps = geom.Path{f.Text.At}
			}
			for _, p := range ps {
				if !p.Finite() {
					t.Fatalf("a coordinate is %v", p)
				}
			}
		}
	})
}

// The body is drawn as wide as it is measured: a girth's half width follows from it alone, and grows with it.
func TestModelFollowsMeasurements(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := map[string]geom.MM{"stature": geom.MM(rapid.Float64Range(1450, 1980).Draw(t, "stature"))}
		key := rapid.SampledFrom([]string{"chest-girth", "waist-girth", "hip-girth", "neck-girth", "wrist-girth", "thigh-girth", "calf-girth"}).Draw(t, "key")
		g := usual[key] * float64(b["stature"]) * rapid.Float64Range(.75, 1.35).Draw(t, "share")
		b[key] = geom.MM(g)
		m := newModel(b)
		if math.Abs(m.girth[key]-g) > 1e-9 {
			t.Fatalf("%s of %v is drawn as %v", key, g, m.girth[key])
		}
		b[key] *= 1.05
		if n := newModel(b); !(n.half[key] > m.half[key]) {
			t.Fatalf("%s does not grow", key)
		}
	})
}

// Ramanujan's perimeter against the exact circle and a summed ellipse.
func TestHalfWidth(t *testing.T) {
	if w := halfWidth(2*math.Pi*50, 1); math.Abs(w-50) > 1e-9 {
		t.Errorf("a circle of 50 is drawn as %v", w)
	}
	const a, b, n = 180.0, 130.0, 100000
	sum, last := 0.0, geom.Pt(a, 0)
	for i := 1; i <= n; i++ {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		p := geom.Pt(a*cos, b*sin)
		sum, last = sum+p.Dist(last), p
	}
	if w := halfWidth(sum, a/b); math.Abs(w-a) > .01 {
		t.Errorf("an ellipse of %v is drawn as %v", a, w)
	}
}

func BenchmarkDressed(b *testing.B) {
	w := wardrobe()
	for b.Loop() {
		Dressed(nil, w, "Every region")
	}
}
