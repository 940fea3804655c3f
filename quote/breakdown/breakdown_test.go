package breakdown_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"benchbell/quote"
	"benchbell/quote/breakdown"
	"benchbell/quote/cure"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/plan"
	"benchbell/quote/quotetest"
	"benchbell/templates"
)

// A glued joint is left alone until it can be handled and until the time is over in which its faces are left open.
func TestGlueIsLeftUntilItHolds(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff", "breastplate")
	assemblies := quotetest.Graded(t, s).Work.Assemblies
	finish, err := s.FinishOrdered()
	if err != nil {
		t.Fatal(err)
	}
	handles := 0
	for _, m := range cure.Materials() {
		st := s.Studio
		st.Adhesive = m.Key
		bond, err := m.Times(st.Room)
		if err != nil {
			continue // not in this room
		}
		w, _, err := breakdown.Make(st, finish, assemblies)
		if err != nil {
			t.Fatalf("%s: %v", m.Key, err)
		}
		if bond.Handle > bond.Place.Earliest+float64(plan.Grid) {
			handles++
		}
		followers := 0
		for _, o := range w.Operations {
			for _, l := range o.After {
				i := slices.IndexFunc(w.Operations, func(x quote.Operation) bool { return x.ID == l.After })
				if kind := w.Operations[i].Kind; kind != "glue" && kind != "layer" {
					continue
				}
				followers++
				least := math.Max(bond.Handle, bond.Place.Earliest)
				if float64(l.Min) < least || float64(l.Min) >= least+float64(plan.Grid) && l.Min > plan.Grid {
					t.Errorf("%s: %s begins %d min after gluing, the joint holds after %v and is left open for %v", m.Key, o.ID, l.Min, bond.Handle, bond.Place.Earliest)
				}
			}
		}
		if followers == 0 {
			t.Errorf("%s: nothing follows gluing", m.Key)
		}
	}
	if handles == 0 {
		t.Error("no material is held up by handling, so little is shown")
	}
}

// Every piece of every set of the library is cut once, and is in every operation of its assembly; every operation but
// cutting waits for another, and says from how much of what it was estimated.
func TestBreakdownHolds(t *testing.T) {
	s := quotetest.Snapshot(t, templates.Sets()...)
	w := quotetest.Graded(t, s).Work
	if w.Version != quote.BreakdownVersion || len(w.Assemblies) != len(s.Items) {
		t.Fatalf("version %d with %d assemblies of %d items", w.Version, len(w.Assemblies), len(s.Items))
	}
	cut, all := 0, 0
	ids := map[string]bool{}
	for _, a := range w.Assemblies {
		all += len(a.Pieces)
	}
	for _, o := range w.Operations {
		if ids[o.ID] {
			t.Errorf("operation %s is there twice", o.ID)
		}
		ids[o.ID] = true
		if o.Quantity <= 0 || o.Unit == "" || o.Time.Likely <= 0 || len(o.Pieces) == 0 || float64(o.Duration) < o.Time.Likely {
			t.Errorf("%s: %v %s, %v min planned as %d, on %d pieces", o.ID, o.Quantity, o.Unit, o.Time.Likely, o.Duration, len(o.Pieces))
		}
		switch {
		case o.Kind == "cut":
			cut += len(o.Pieces)
			if len(o.Materials) != 1 || o.Materials[0].Thickness <= 0 {
				t.Errorf("%s names no foam: %v", o.ID, o.Materials)
			}
		case len(o.After) == 0:
			t.Errorf("%s waits for nothing", o.ID)
		case o.Assembly > 0 && !slices.Equal(o.Pieces, w.Assemblies[o.Assembly-1].Pieces):
			t.Errorf("%s is not done to its assembly's pieces", o.ID)
		}
		for _, l := range o.After {
			if !ids[l.After] {
				t.Errorf("%s waits for %s, which comes later or never", o.ID, l.After)
			}
		}
	}
	if cut != all {
		t.Errorf("%d pieces are cut of %d", cut, all)
	}
}

// What is measured is what a person with a ruler finds on two plates of 100 × 200 × 5 mm, one sealed and formed, under a seam
// of 300 mm that is glued twice, with a strap of half a metre and three rivets.
func TestMeasureAgainstTheRuler(t *testing.T) {
	plate := geom.Shape{Outer: geom.Ring{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 200}, {X: 0, Y: 200}}}
	g := foam.Graded{
		Pieces: []foam.Piece{
			{ID: "A", Thickness: 5, Shape: plate, Bevel: 400, Sealed: true, Formed: true, Lap: 1500, Drills: make([]foam.Drill, 3)},
			{ID: "B", Thickness: 5, Shape: plate},
		},
		Seams:    []foam.Seam{{LengthA: 300, Thickness: 5, Count: 2}},
		Hardware: []foam.Hardware{{Kind: "webbing-25", Length: 500}, {Kind: "rivet", Count: 3}, {Kind: "webbing-25", Length: 250}},
	}
	a := breakdown.Measure(breakdown.Ordered{Number: 1, Title: "Plates", Graded: []foam.Graded{g}, Labels: []string{"1-A", "1-B"}})
	for what, v := range map[string][2]float64{
		"cut, m":                       {a.Cut[0].Metres, 2 * 0.6},
		"bevelled, m":                  {a.Bevel, 0.4},
		"heat-sealed, m², both faces":  {a.Sealed, 2 * 0.02},
		"coated, mm², face and edges":  {float64(a.Coated), 100*200 + 600*5},
		"heat-formed, m²":              {a.Formed, 0.02},
		"laid on, mm²":                 {float64(a.Lap), 1500},
		"seams, m":                     {a.Seam, 0.6},
		"glued edges, mm²":             {float64(a.SeamArea), 2 * 300 * 5},
		"holes":                        {float64(a.Holes), 3},
		"fittings, a strap counts one": {float64(a.Fittings), 1 + 3 + 1},
		"webbing, mm":                  {float64(a.Hardware[0].Length), 750},
		"rivets":                       {float64(a.Hardware[1].Count), 3},
	} {
		if math.Abs(v[0]-v[1]) > 1e-9 {
			t.Errorf("%s: %v, want %v", what, v[0], v[1])
		}
	}
}

// A coat on the same material waits for its recoat window, the first coat of the next material for the topcoat window, and
// what comes after the last coat until the paint can be handled.
func TestCoatsWaitForTheirOwnWindows(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff")
	assemblies := quotetest.Graded(t, s).Work.Assemblies
	apart := 0
	for _, m := range cure.Materials() {
		times, err := m.Times(s.Studio.Room)
		if err != nil || len(times.Recoat) == 0 || len(times.Topcoat) == 0 {
			continue
		}
		w, _, err := breakdown.Make(s.Studio, quote.Finish{Key: "two", Coats: []quote.Coat{{Op: "prime", Material: m.Key, Coats: 2}, {Op: "paint", Material: m.Key, Coats: 1}}}, assemblies)
		if err != nil {
			t.Fatalf("%s: %v", m.Key, err)
		}
		up := func(v float64) plan.Minutes { return plan.Minutes(math.Ceil(v/float64(plan.Grid)-1e-9)) * plan.Grid }
		first := func(ws []cure.Window) plan.Minutes { return up(ws[0].Earliest) }
		got := map[string]plan.Minutes{}
		for _, o := range w.Operations {
			for _, l := range o.After {
				got[l.After] = l.Min
				if len(l.Windows) > 0 {
					got[l.After] = l.Windows[0].From
				}
			}
		}
		for id, want := range map[string]plan.Minutes{"1-prime1.1": first(times.Recoat), "1-prime1.2": first(times.Topcoat), "1-paint2.1": max(up(times.Handle), plan.Grid)} {
			if got[id] != want {
				t.Errorf("%s: %s is left for %d min, want %d", m.Key, id, got[id], want)
			}
		}
		if first(times.Recoat) != first(times.Topcoat) {
			apart++
		}
	}
	if apart == 0 {
		t.Error("no material tells recoat from topcoat, so nothing was shown")
	}
}

// What cures is called what the studio calls it, as the quote's lines do; a material that it has not named keeps its own title.
func TestLiquidsHaveTheStudiosNames(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff")
	assemblies := quotetest.Graded(t, s).Work.Assemblies
	finish, err := s.FinishOrdered()
	if err != nil {
		t.Fatal(err)
	}
	cures := func(st quote.Studio) map[string]bool {
		w, _, err := breakdown.Make(st, finish, assemblies)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]bool{}
		for _, o := range w.Operations {
			for _, l := range o.After {
				if l.Cure != "" {
					out[l.Cure] = true
				}
			}
		}
		return out
	}
	st := s.Studio
	st.Prices.Liquids = slices.Clone(st.Prices.Liquids)
	for i := range st.Prices.Liquids {
		st.Prices.Liquids[i].Title = "Our " + st.Prices.Liquids[i].Key
	}
	for name := range cures(st) {
		if !strings.HasPrefix(name, "Our ") {
			t.Errorf("%q is not what the studio calls it", name)
		}
	}
	st.Prices.Liquids = nil
	m, ok := cure.Lookup(st.Adhesive)
	if !ok || !cures(st)[m.Title] {
		t.Errorf("without the studio's names, what cures is %v", cures(st))
	}
}
