package pattern

import (
	"path/filepath"
	"testing"

	"benchbell/quote/foam"
	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

func TestReport(t *testing.T) {
	var out string
	for _, c := range []struct {
		s *Set
		f func(*Fit)
	}{
		{small(t), func(f *Fit) { f.Side, f.Body["forearm-girth"] = foam.Left, 300 }},
		{hemisphere(t, 6), func(f *Fit) { f.Clothing = 3; f.Uncertain = map[string]geom.MM{"head-girth": 6} }},
		{strap(t, ""), func(f *Fit) {
			f.Body["waist-girth"] = 1000
			f.Tools = []foam.Tool{{Name: "2 mm", Diameter: 2}, {Name: "4 mm", Diameter: 4}, {Name: "5 mm", Diameter: 5}}
		}},
		{sides(t, followsLess, "trued = true"), func(f *Fit) { f.Body["front-waist-length"] = 450 }},
	} {
		f := c.s.BaseFit(foam.NoSide)
		c.f(&f)
		g, err := c.s.Grade(f)
		if err != nil {
			t.Fatal(err)
		}
		out += c.s.Report(f, g).Text() + "\n"
	}
	gaugetest.Golden(t, filepath.Join("testdata", "report.golden.txt"), []byte(out))
}
