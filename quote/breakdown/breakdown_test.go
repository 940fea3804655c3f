package breakdown_test

import (
	"math"
	"slices"
	"testing"

	"benchbell/quote"
	"benchbell/quote/breakdown"
	"benchbell/quote/cure"
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
