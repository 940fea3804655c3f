package pattern

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// specSheet is the head of a test set followed by its pieces. base is "key = value" lines.
func specSheet(base string, rest string) []byte {
	var keys []string
	for _, l := range strings.Split(strings.TrimSpace(base), "\n") {
		k, _, _ := strings.Cut(l, " ")
		keys = append(keys, fmt.Sprintf("%q", k))
	}
	return []byte("name = \"test\"\ntitle = \"t\"\nkind = \"armour\"\nsummary = \"s\"\nassembly = \"a\"\noperations = [\"cut\"]\nfinishes = [\"primed\"]\nmeasures = [" +
		strings.Join(keys, ", ") + "]\n" + strings.Replace(rest, "BASE", "[base]\n"+base, 1))
}

func sheet(groups ...string) []byte {
	return []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="1000mm" height="1000mm" viewBox="0 0 1000 1000">` + strings.Join(groups, "\n") + `</svg>`)
}

func parse(t testing.TB, svg, toml []byte) *Set {
	t.Helper()
	s, err := Parse(svg, toml)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// sphereGore draws one of n gores of a hemisphere of radius r, rim at the bottom, as a group.
func sphereGore(id string, n int, r, x, y float64) string {
	var b strings.Builder
	const steps = 60
	point := func(side float64, i int) {
		lat := math.Pi / 2 * float64(i) / steps
		fmt.Fprintf(&b, "%.9f,%.9f ", x+side*math.Pi*r*math.Cos(lat)/float64(n), y-r*lat)
	}
	for i := 0; i < steps; i++ {
		point(1, i)
	}
	for i := steps; i >= 0; i-- {
		point(-1, i)
	}
	return fmt.Sprintf(`<g id="%s"><polygon class="outline" points="%s"/>`+
		`<circle class="point" data-name="apex" cx="%[3]f" cy="%f" r="1"/>`+
		`<circle class="point" data-name="r" cx="%f" cy="%f" r="1"/><circle class="point" data-name="l" cx="%f" cy="%[6]f" r="1"/></g>`,
		id, b.String(), x, y-r*math.Pi/2, x+math.Pi*r/float64(n), y, x-math.Pi*r/float64(n))
}

// hemisphere is a helmet of n gores whose neutral surface at the base is a hemisphere of 100 mm radius.
func hemisphere(t testing.TB, n int) *Set {
	t.Helper()
	const foam = 5.0
	girth := 2 * math.Pi * (100 - foam/2)
	var secs strings.Builder
	for _, deg := range []float64{0, 22.5, 45, 67.5, 80} {
		cos := math.Cos(deg * math.Pi / 180)
		fmt.Fprintf(&secs, "[[piece.section]]\nat = %.9f\nmeasure = \"head-girth\"\nshare = %.12f\nprofile = %.12f\n", deg/90, 1/float64(n), cos)
	}
	return parse(t, sheet(sphereGore("gore", n, 100, 300, 500)), specSheet(fmt.Sprintf("head-girth = %.9f\nhead-length = 195\nhead-breadth = 155", girth), `region = "head"
BASE
[[piece]]
id = "gore"
title = "Gore"
thickness = 5
frame = "gore"
closed = true
height = 0.8
copies = `+fmt.Sprint(n)+`
edges = { right = ["r", "apex"], left = ["apex", "l"], rim = ["l", "r"] }
length = { measures = ["head-length", "head-breadth"], share = 0.785, bend = 0.25 }
`+secs.String()+`
[[seam]]
name = "meridian"
a = "gore.right"
b = "gore.left"
[[dome]]
name = "crown"
pieces = ["gore"]
`))
}

func replaceOnce(t testing.TB, s, old, new string) string {
	t.Helper()
	if strings.Count(s, old) != 1 {
		t.Fatalf("the fixture holds %q %d times", old, strings.Count(s, old))
	}
	return strings.Replace(s, old, new, 1)
}

func contains(s string, parts ...string) bool {
	for _, p := range parts {
		if !strings.Contains(s, p) {
			return false
		}
	}
	return true
}
