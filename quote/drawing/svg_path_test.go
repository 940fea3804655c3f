package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
)

// traced is the lines of path data, one user unit a millimetre and y up as it stands.
func traced(data string) ([]subpath, error) {
	t := &pathTrace{m: identity, left: maxPoints}
	n := &svgNode{}
	n.attrs = attributes("d", data)
	err := tracePath(n, svgContext{}, t)
	t.done()
	return t.subpaths, err
}

func corners(s subpath) string {
	var b strings.Builder
	for _, p := range s.points {
		fmt.Fprintf(&b, "%g,%g ", math.Round(p.X*1e6)/1e6, math.Round(p.Y*1e6)/1e6)
	}
	if s.closed {
		b.WriteString("z")
	}
	return strings.TrimSpace(b.String())
}

// Straight commands and the grammar's corners (SVG 1.1, 8.3.9: "M 100-200" and the like).
func TestPathGrammar(t *testing.T) {
	for data, want := range map[string][]string{
		"M1 2L3 4":                         {"1,2 3,4"},
		"M1,2 L3,4 5,6":                    {"1,2 3,4 5,6"},
		"M1 2 3 4 5 6":                     {"1,2 3,4 5,6"},
		"m1 2 3 4 5 6z":                    {"1,2 4,6 9,12 z"},
		"M1.5.5-3-1":                       {"1.5,0.5 -3,-1"},
		"M.5.5.5-.5":                       {"0.5,0.5 0.5,-0.5"},
		"M1e1 2E-1L+3-4e+0":                {"10,0.2 3,-4"},
		"M 1. 2.h3":                        {"1,2 4,2"},
		"M0 0h1 2 3v1 2H0V-5":              {"0,0 1,0 3,0 6,0 6,1 6,3 0,3 0,-5"},
		"\n\tM0,0\r\n\fL\t1 , 1 \n":        {"0,0 1,1"},
		"M0 0H5zl1 1":                      {"0,0 5,0", "0,0 1,1"},
		"M0 0H5V5zM9 9h1":                  {"0,0 5,0 5,5 z", "9,9 10,9"},
		"M0 0H5V5zm9 9h1":                  {"0,0 5,0 5,5 z", "9,9 10,9"},
		"m2 2h5v5zm9 9h1v1z":               {"2,2 7,2 7,7 z", "11,11 12,11 12,12 z"},
		"M0 0H5V5L0 0":                     {"0,0 5,0 5,5 z"},
		"M0 0H5V5L0 0Z":                    {"0,0 5,0 5,5 z"},
		"M0 0H5V5L0 .00001Z":               {"0,0 5,0 5,5 z"},
		"M0 0h5h0l0 0v5z":                  {"0,0 5,0 5,5 z"},
		"M1 1M2 2M3 3h1M4 4":               {"3,3 4,3"},
		"M0 0A0 5 0 0 1 9 9":               {"0,0 9,9"},
		"M0 0A5 5 0 0 1 0 0L1 1":           {"0,0 1,1"},
		"M0 0C1 1 2 2 3 3":                 {"0,0 3,3"},
		"M0 0Q1 1 3 3T5 5":                 {"0,0 3,3 5,5"},
		"M0 0C1 0 2 0 3 0S5 0 6 0 8 0 9 0": {"0,0 3,0 6,0 9,0"},
	} {
		paths, err := traced(data)
		var got []string
		for _, s := range paths {
			got = append(got, corners(s))
		}
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%q: %q, %v, want %q", data, got, err, want)
		}
	}
}

// Smooth curves and relative forms say the same as their long forms (SVG 1.1, 8.3.6 and 8.3.7).
func TestPathShortForms(t *testing.T) {
	for short, long := range map[string]string{
		"M10 10C20 0 30 0 40 10S60 20 70 10":       "M10 10C20 0 30 0 40 10C50 20 60 20 70 10",
		"m10 10c10-10 20-10 30 0s20 10 30 0":       "M10 10C20 0 30 0 40 10C50 20 60 20 70 10",
		"m10 10c10-10 20-10 30 0 10 10 20 10 30 0": "M10 10C20 0 30 0 40 10C50 20 60 20 70 10",
		"M10 10S60 20 70 10":                       "M10 10C10 10 60 20 70 10",
		"M10 10Q20 0 30 10S60 20 70 10":            "M10 10Q20 0 30 10C30 10 60 20 70 10",
		"M10 10Q20 0 30 10T50 10T70 10":            "M10 10Q20 0 30 10Q40 20 50 10Q60 0 70 10",
		"m10 10q10-10 20 0t20 0 20 0":              "M10 10Q20 0 30 10Q40 20 50 10Q60 0 70 10",
		"M10 10T30 20":                             "M10 10L30 20",
		"M10 10C20 0 30 0 40 10T50 20":             "M10 10C20 0 30 0 40 10L50 20",
		"M0 0a5 5 0 0110 0 5 5 0 01.5-3":           "M0 0A5 5 0 0 1 10 0A5 5 0 0 1 10.5 -3",
		"M0 0a5,5,0,01,10,0":                       "M0 0A5 5 0 0 1 10 0",
		"M0 0a-5-5 0 1110 0":                       "M0 0A5 5 0 1 1 10 0",
		"M0 0a5 8 3e1 00.5.5":                      "M0 0A5 8 30 0 0 0.5 0.5",
	} {
		a, errA := traced(short)
		b, errB := traced(long)
		if errA != nil || errB != nil || len(a) != len(b) {
			t.Errorf("%q: %v, %v", short, errA, errB)
			continue
		}
		for i := range a {
			if corners(a[i]) != corners(b[i]) {
				t.Errorf("%q\n got %s\nwant %s", short, corners(a[i]), corners(b[i]))
			}
		}
	}
}

// specArc is the conversion of SVG 1.1 Second Edition, appendix F.6.5, step by step as it is printed there, with the
// correction of radii of F.6.6. It shares nothing with arcThrough but the numbers that go in.
func specArc(x1, y1, x2, y2, rx, ry, phi float64, fA, fS bool) (cx, cy, rX, rY, theta, delta float64) {
	sin, cos := math.Sin(phi), math.Cos(phi)
	x1p := cos*(x1-x2)/2 + sin*(y1-y2)/2
	y1p := -sin*(x1-x2)/2 + cos*(y1-y2)/2
	if l := x1p*x1p/(rx*rx) + y1p*y1p/(ry*ry); l > 1 {
		rx, ry = math.Sqrt(l)*rx, math.Sqrt(l)*ry
	}
	k := math.Sqrt(math.Max(0, (rx*rx*ry*ry-rx*rx*y1p*y1p-ry*ry*x1p*x1p)/(rx*rx*y1p*y1p+ry*ry*x1p*x1p)))
	if fA == fS {
		k = -k
	}
	cxp, cyp := k*rx*y1p/ry, -k*ry*x1p/rx
	angle := func(ux, uy, vx, vy float64) float64 {
		a := math.Acos(math.Max(-1, math.Min(1, (ux*vx+uy*vy)/(math.Hypot(ux, uy)*math.Hypot(vx, vy)))))
		if ux*vy-uy*vx < 0 {
			return -a
		}
		return a
	}
	theta = angle(1, 0, (x1p-cxp)/rx, (y1p-cyp)/ry)
	delta = angle((x1p-cxp)/rx, (y1p-cyp)/ry, (-x1p-cxp)/rx, (-y1p-cyp)/ry)
	if !fS && delta > 0 {
		delta -= 2 * math.Pi
	} else if fS && delta < 0 {
		delta += 2 * math.Pi
	}
	return cos*cxp - sin*cyp + (x1+x2)/2, sin*cxp + cos*cyp + (y1+y2)/2, rx, ry, theta, delta
}

func TestArcsAgreeWithTheSpecification(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		place := rapid.Float64Range(-100, 100)
		from, to := geom.Pt(place.Draw(t, "x1"), place.Draw(t, "y1")), geom.Pt(place.Draw(t, "x2"), place.Draw(t, "y2"))
		if from.Dist(to) < 0.1 {
			return
		}
		radius := rapid.Float64Range(1, 200)
		rx, ry, degrees := radius.Draw(t, "rx"), radius.Draw(t, "ry"), rapid.Float64Range(-360, 360).Draw(t, "phi")
		fA, fS := rapid.Bool().Draw(t, "fA"), rapid.Bool().Draw(t, "fS")
		e, start, sweep := arcThrough(from, to, rx, ry, degrees, fA, fS)
		if d := e.at(start).Dist(from); d > rounding {
			t.Fatalf("the arc begins %v away", d)
		}
		if d := e.at(start + sweep).Dist(to); d > rounding {
			t.Fatalf("the arc ends %v away", d)
		}
		if sweep != 0 && fS != (sweep > 0) {
			t.Fatalf("sweep %v against its flag", sweep)
		}
		cx, cy, rX, rY, theta, delta := specArc(from.X, from.Y, to.X, to.Y, rx, ry, degrees*math.Pi/180, fA, fS)
		for i := range 9 {
			s := float64(i) / 8
			// F.6.3: the point at an angle.
			a, phi := theta+s*delta, degrees*math.Pi/180
			want := geom.Pt(math.Cos(phi)*rX*math.Cos(a)-math.Sin(phi)*rY*math.Sin(a)+cx, math.Sin(phi)*rX*math.Cos(a)+math.Cos(phi)*rY*math.Sin(a)+cy)
			// Where the radii just reach, the centre is the root of a difference near zero: half the digits are left.
			if d := e.at(start + s*sweep).Dist(want); d > rounding+1e-7*max(rX, rY) {
				t.Fatalf("%v away at %v: %v, want %v", d, s, e.at(start+s*sweep), want)
			}
		}
	})
}

// The examples of SVG 1.1, 8.3.8: a pie of three quarters and one of a quarter of a circle of 150, and a line with four
// arcs of growing height over chords of 55.9 at -30 degrees. Areas of the pies are exact; of the arcs the first two are
// half ellipses whose radii (25, and 25 by 50) are too short or just span, so that the heights are by F.6.6.
func TestSpecificationsArcExamples(t *testing.T) {
	for data, want := range map[string]float64{
		"M300,200 h-150 a150,150 0 1,0 150,-150 z": 0.75 * math.Pi * 150 * 150,
		"M275,175 v-150 a150,150 0 0,0 -150,150 z": 0.25 * math.Pi * 150 * 150,
	} {
		paths, err := traced(data)
		if err != nil || len(paths) != 1 || !paths[0].closed {
			t.Fatalf("%s: %v, %v", data, paths, err)
		}
		r := geom.Ring(paths[0].points)
		if got := float64(r.Area()); math.Abs(got-want) > float64(r.Perimeter())*float64(Flatness) {
			t.Errorf("%s: area %.2f, want %.2f", data, got, want)
		}
	}
	paths, err := traced("M600,350 l 50,-25 a25,25 -30 0,1 50,-25 l 50,-25 a25,50 -30 0,1 50,-25 l 50,-25 a25,75 -30 0,1 50,-25 l 50,-25 a25,100 -30 0,1 50,-25 l 50,-25")
	if err != nil || len(paths) != 1 {
		t.Fatal(paths, err)
	}
	line := paths[0].points
	if last := line[len(line)-1]; !near(last, 1050, 125, 1e-9) {
		t.Errorf("ends at %v, want 1050,125", last)
	}
	// Height of each arc over its chord, which goes up to the right: y runs down, positive sweep bulges up.
	along := geom.Pt(50, -25).Unit()
	var heights [4]float64
	for _, p := range line {
		from := p.Sub(geom.Pt(600, 350))
		if i := int(from.Dot(along) / (2 * math.Hypot(50, 25))); i < 4 {
			heights[i] = max(heights[i], -along.Cross(from))
		}
	}
	for i, ry := range []float64{25, 50, 75, 100} {
		cx, cy, rX, rY, _, _ := specArc(0, 0, 50, -25, 25, ry, -30*math.Pi/180, false, true)
		// The ellipse's farthest point across the chord: the centre's own offset and the support of its axes.
		across := geom.Pt(-along.Y, along.X).Mul(-1)
		sin, cos := math.Sincos(-30 * math.Pi / 180)
		want := geom.Pt(cx, cy).Dot(across) + math.Hypot(rX*geom.Pt(cos, sin).Dot(across), rY*geom.Pt(-sin, cos).Dot(across))
		if math.Abs(heights[i]-want) > float64(Flatness) {
			t.Errorf("arc %d is %.3f high, want %.3f", i+1, heights[i], want)
		}
	}
}

// The path of any circle and line commands is the same drawn absolute or relative, joined or spaced.
func TestRelativePathsAreAbsoluteOnes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.IntRange(-50, 50)
		x, y := 0, 0
		absolute, relative := "M0 0", "m0 0"
		for range rapid.IntRange(1, 12).Draw(t, "commands") {
			dx, dy := number.Draw(t, "dx"), number.Draw(t, "dy")
			cx, cy, r := number.Draw(t, "cx"), number.Draw(t, "cy"), rapid.IntRange(1, 60).Draw(t, "r")
			switch rapid.IntRange(0, 4).Draw(t, "kind") {
			case 0:
				absolute += fmt.Sprintf("L%d,%d", x+dx, y+dy)
				relative += fmt.Sprintf(" l %d %d", dx, dy)
			case 1:
				absolute += fmt.Sprintf("Q%d,%d,%d,%d", x+cx, y+cy, x+dx, y+dy)
				relative += fmt.Sprintf(" q %d %d %d %d", cx, cy, dx, dy)
			case 2:
				absolute += fmt.Sprintf("C%d,%d,%d,%d,%d,%d", x+cx, y+cy, x+r, y-r, x+dx, y+dy)
				relative += fmt.Sprintf(" c %d %d %d %d %d %d", cx, cy, r, -r, dx, dy)
			case 3:
				absolute += fmt.Sprintf("A%d,%d,30,0,1,%d,%d", r, r+5, x+dx, y+dy)
				relative += fmt.Sprintf(" a %d %d 30 01%d %d", r, r+5, dx, dy)
			case 4:
				absolute += fmt.Sprintf("H%dV%d", x+dx, y+dy)
				relative += fmt.Sprintf(" h %d v %d", dx, dy)
			}
			x, y = x+dx, y+dy
		}
		a, errA := traced(absolute)
		b, errB := traced(relative)
		if errA != nil || errB != nil || len(a) != len(b) {
			t.Fatalf("%v, %v, %d and %d lines\n%s\n%s", errA, errB, len(a), len(b), absolute, relative)
		}
		for i := range a {
			if a[i].closed != b[i].closed || corners(a[i]) != corners(b[i]) {
				t.Fatalf("%s\n%s\ndiffer: %s\n%s", absolute, relative, corners(a[i]), corners(b[i]))
			}
		}
	})
}
