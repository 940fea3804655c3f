package lay

import (
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/inspect"
)

// Tiles that fill a sheet, each pushed into its neighbours by some roundings, overlap exactly reckoned, and after
// mending do not, though none of them has room to move alone; one pushed in by more than a rounding is not mended.
func TestMend(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.Float64Range(10, 90).Draw(t, "w"), rapid.Float64Range(10, 90).Draw(t, "h")
		n := rapid.IntRange(2, 6).Draw(t, "tiles")
		p := nest.Problem{
			Items:  []nest.Item{{ID: "tile", Shape: rect(0, 0, w, h), Demand: n * n, Turn: geom.TurnNone}},
			Sheets: []nest.Sheet{{ID: "s", Width: geom.MM(w * float64(n)), Height: geom.MM(h * float64(n)), Price: 1}},
		}
		l := nest.Layout{Sheet: "s", Width: p.Sheets[0].Width, Height: p.Sheets[0].Height, Used: 1}
		push := 0.0
		for i := range n * n {
			push = float64(rapid.IntRange(-3, 3).Draw(t, "roundings")) * 1e-13
			l.Placed = append(l.Placed, nest.Placed{Item: "tile", Copy: i + 1, At: geom.Placement{Move: geom.Pt(float64(i%n)*w+push, float64(i/n)*h-push)}})
		}
		s := nest.Solution{Cost: 1, Density: 1, Layouts: []nest.Layout{l}}
		if !mend(p, &s) {
			t.Fatal("not mended")
		}
		if err := inspect.Layouts(p, s); err != nil {
			t.Fatal(err)
		}
		s.Layouts[0].Placed[0].At.Move.X += 0.01
		if mend(p, &s) {
			t.Fatal("a hundredth of a millimetre was taken for a rounding")
		}
	})
}
