package drawing

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"benchbell/quote/geom"
	"pgregory.net/rapid"
)

// star draws a simple counter-clockwise ring about a centre in the first quadrant; its edges are longer than 5 mm.
func star(t *rapid.T) geom.Ring {
	n := rapid.IntRange(3, 24).Draw(t, "points")
	c := geom.Pt(rapid.Float64Range(350, 600).Draw(t, "cx"), rapid.Float64Range(350, 600).Draw(t, "cy"))
	r := make(geom.Ring, n)
	for i := range r {
		d := rapid.Float64Range(40, 300).Draw(t, "r")
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r[i] = c.Add(geom.Pt(d*cos, d*sin))
	}
	return r
}

// loose cuts a ring into runs of one to three edges, some turned round, in any order, each end moved by up to wobble.
func loose(t *rapid.T, r geom.Ring, wobble float64) []Line {
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	off := func(p geom.Point) geom.Point {
		sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
		return p.Add(geom.Pt(cos, sin).Mul(wobble * rng.Float64()))
	}
	var out []Line
	for i := 0; i < len(r); {
		n := min(1+rng.IntN(3), len(r)-i)
		var p geom.Path
		for k := i; k <= i+n; k++ {
			p = append(p, r[k%len(r)])
		}
		p[0], p[len(p)-1] = off(p[0]), off(p[len(p)-1])
		if rng.IntN(2) == 0 {
			for a, b := 0, len(p)-1; a < b; a, b = a+1, b-1 {
				p[a], p[b] = p[b], p[a]
			}
		}
		out = append(out, Line{Points: p, Layer: "0", At: "somewhere"})
		i += n
	}
	rng.Shuffle(len(out), func(a, b int) { out[a], out[b] = out[b], out[a] })
	return out
}

// An outline cut into loose segments in any order and direction comes back as one closed line with the same area and
// perimeter; joining again changes nothing.
func TestJoinMendsAnOutline(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t)
		for _, c := range []struct{ wobble, gap, off float64 }{{0.004, 0.01, 0.01}, {0.4, 1, 1}} {
			lines := loose(t, r, c.wobble)
			first := lines[0].Points
			got, notes := Join(lines, geom.MM(c.gap))
			if len(got) != 1 || !got[0].Closed {
				t.Fatalf("%d lines, closed %v, notes %q", len(got), got[0].Closed, notes)
			}
			ring := geom.Ring(got[0].Points)
			if d := float64(ring.Perimeter() - r.Perimeter()); math.Abs(d) > c.off*float64(2*len(r)) {
				t.Fatalf("perimeter off by %v", d)
			}
			if d := float64(ring.Area() - r.Area()); math.Abs(d) > c.off*float64(r.Perimeter()) {
				t.Fatalf("area off by %v", d)
			}
			if c.wobble < 0.01 && (ring[0] != first[0] || ring[1] != first[1]) {
				t.Fatalf("starts %v, its first member started %v", ring[:2], first[:2])
			}
			if len(lines) > 1 && (len(notes) == 0 || !strings.Contains(notes[0], "joined")) {
				t.Fatalf("notes %q", notes)
			}
			again, _ := Join(got, geom.MM(c.gap))
			if !reflect.DeepEqual(again, got) {
				t.Fatal("joining twice differs from joining once")
			}
		}
	})
}

// Nothing is lost and nothing invented: joining at 0.01 mm keeps the total length, whatever the lines are.
func TestJoinKeepsLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []Line
		for range rapid.IntRange(0, 30).Draw(t, "n") {
			var p geom.Path
			for range rapid.IntRange(2, 4).Draw(t, "points") {
				p = append(p, geom.Pt(float64(rapid.IntRange(0, 4).Draw(t, "x")), float64(rapid.IntRange(0, 4).Draw(t, "y"))))
			}
			lines = append(lines, Line{Points: p, Layer: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "layer")})
		}
		length := func(lines []Line) (sum map[string]float64) {
			sum = map[string]float64{}
			for _, l := range lines {
				if l.Closed {
					sum[l.Layer] += float64(geom.Ring(l.Points).Perimeter())
				} else {
					sum[l.Layer] += float64(l.Points.Length())
				}
			}
			return sum
		}
		got, _ := Join(lines, meetGap)
		want, have := length(lines), length(got)
		for k := range want {
			if math.Abs(want[k]-have[k]) > 1e-9 {
				t.Fatalf("layer %s: %v mm became %v mm", k, want[k], have[k])
			}
		}
		if again, _ := Join(lines, meetGap); !reflect.DeepEqual(again, got) {
			t.Fatal("two runs differ")
		}
	})
}

// Join does not guess: a branching, a second copy, another layer or label, and a tick shorter than the gap are left alone.
func TestJoinRefusesToGuess(t *testing.T) {
	l := func(layer, label string, p ...geom.Point) Line {
		return Line{Points: p, Layer: layer, Label: label, At: "entity 1 (LINE)"}
	}
	a, b, c := geom.Pt(0, 0), geom.Pt(50, 0), geom.Pt(0, 50)
	for _, k := range []struct {
		name  string
		lines []Line
		gap   geom.MM
		note  string
	}{
		{"three ends", []Line{l("0", "", a, b), l("0", "", a, c), l("0", "", geom.Pt(-9, -9), a)}, 0.01, "3 line ends meet at (0.0, 0.0)"},
		{"drawn twice", []Line{l("0", "", a, b), l("0", "", b, a)}, 0.01, "runs out and back"},
		{"a curve drawn twice", []Line{l("0", "", a, b, c), l("0", "", a, b, c)}, 1, "runs out and back"},
		{"two layers", []Line{l("0", "", a, b), l("1", "", b, c)}, 1, ""},
		{"two labels", []Line{l("0", "fold 1", a, b), l("0", "fold 2", b, c)}, 1, ""},
		{"a tick", []Line{l("0", "", a, geom.Pt(0.3, 0.3), geom.Pt(0.6, 0))}, 1, ""},
		{"no gap", []Line{l("0", "", a, b), l("0", "", b, c)}, 0, ""},
		{"not a number", []Line{l("0", "", a, b), l("0", "", b, c)}, geom.MM(math.NaN()), ""},
	} {
		got, notes := Join(k.lines, k.gap)
		if !reflect.DeepEqual(got, k.lines) {
			t.Errorf("%s: %d lines became %d", k.name, len(k.lines), len(got))
		}
		if all := strings.Join(notes, "\n"); !strings.Contains(all, k.note) || (k.note == "") != (all == "") {
			t.Errorf("%s: notes %q", k.name, notes)
		}
	}
	got, notes := Join([]Line{l("0", "", a, b, c, geom.Pt(0, 0.8))}, 1)
	if !got[0].Closed || len(notes) != 1 || notes[0] != "the outline at entity 1 (LINE) was closed over a gap of 0.80 mm" {
		t.Errorf("an open outline: closed %v, notes %q", got[0].Closed, notes)
	}
}
