package breakdown_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/breakdown"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/settings"

	"pgregory.net/rapid"
)

// drawn is an assembly of any kind: worn or not, glued, coated and with straps or not.
func drawn(t *rapid.T, number int) (a quote.Assembly, worn bool) {
	a = quote.Assembly{Number: number, Title: fmt.Sprintf("Set %d", number), Units: rapid.IntRange(1, 4).Draw(t, "units")}
	a.Pieces = []string{fmt.Sprintf("%d-A", number)}
	for _, thickness := range rapid.SliceOfNDistinct(rapid.SampledFrom([]geom.MM{2, 5, 10}), 1, 3, rapid.ID[geom.MM]).Draw(t, "thicknesses") {
		a.Cut = append(a.Cut, quote.CutLength{Thickness: thickness, Metres: 1, Pieces: a.Pieces})
	}
	some := func(what string, v float64) float64 {
		if rapid.Bool().Draw(t, what) {
			return v
		}
		return 0
	}
	a.Bevel, a.Formed, a.Seam, a.Sealed = some("bevelled", 2), some("formed", 0.1), some("glued", 1), some("sealed", 0.2)
	a.Lap, a.Coated = geom.MM2(some("layered", 2000)), geom.MM2(some("coated", 90000))
	a.Holes, a.Fittings = int(some("holes", 3)), int(some("straps", 2))
	if worn = rapid.Bool().Draw(t, "worn"); !worn {
		a.Steps = []string{"cut", "bevel", "form", "glue", "layer", "punch", "seal", "prime", "paint", "clear", "hardware"}
	}
	return a, worn
}

// after are all operations that one comes after, however many stand between.
func after(w quote.Breakdown, id string) map[string]bool {
	out, todo, by := map[string]bool{}, []string{id}, w.After()
	for len(todo) > 0 {
		next := by[todo[0]]
		todo = todo[1:]
		for _, x := range next {
			if !out[x] {
				out[x] = true
				todo = append(todo, x)
			}
		}
	}
	return out
}

// A commission in which something is worn has one first fitting and one final fitting, whatever it consists of: the first after
// all that is cut, formed and glued of what is worn, and nothing of any set is sealed or coated before it; the final one after
// the last of every set that is worn, and before packing. One of props has none. Every set can still be planned, and the first
// fitting is days after cutting.
func TestFittingsHaveTheirPlace(t *testing.T) {
	demo := settings.Demo()
	kinds := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		st := demo
		st.Appointments = quote.Appointments{Fittings: rapid.SampledFrom([]quote.How{quote.InPerson, quote.ByPictures}).Draw(t, "how"),
			Notice: rapid.IntRange(1, 5).Draw(t, "notice"), Pictures: rapid.IntRange(0, 5).Draw(t, "pictures")}
		finish := rapid.SampledFrom(st.Finishes).Draw(t, "finish")
		var as []quote.Assembly
		wearing := map[int]bool{}
		units := 0
		for n := range rapid.IntRange(1, 4).Draw(t, "sets") {
			a, worn := drawn(t, n+1)
			if as = append(as, a); worn {
				wearing[n+1] = true
				units += a.Units
			}
		}
		w, charges, err := breakdown.Make(st, finish, as)
		if err != nil {
			t.Fatal(err)
		}
		var fits []quote.Operation
		for _, o := range w.Operations {
			if o.Kind == labour.Fit {
				fits = append(fits, o)
			}
		}
		if len(wearing) == 0 {
			if kinds["props"]++; len(fits) > 0 {
				t.Fatalf("props are tried on: %s", fits[0].ID)
			}
			return
		}
		if kinds[string(st.Appointments.Fittings)]++; len(fits) != 2 || fits[0].ID != quote.FirstFitting || fits[1].ID != quote.FinalFitting {
			t.Fatalf("%d fittings of %d sets that are worn: %v", len(fits), len(wearing), fits)
		}
		if fits[0].Quantity != float64(units) || fits[1].Quantity != float64(units) {
			t.Fatalf("%v and %v are tried on of %d", fits[0].Quantity, fits[1].Quantity, units)
		}
		first, final := after(w, quote.FirstFitting), after(w, quote.FinalFitting)
		raw := []string{"cut", "bevel", "score", "form", "glue", "layer", "punch"}
		for _, o := range w.Operations {
			of := after(w, o.ID)
			switch {
			case o.Kind == labour.Fit || o.Kind == "pack":
			case o.Assembly == 0: // cutting
			case slices.Contains(raw, o.Kind):
				if wearing[o.Assembly] != first[o.ID] {
					t.Fatalf("%s, worn %v, is before the first fitting: %v", o.ID, wearing[o.Assembly], first[o.ID])
				}
			case !of[quote.FirstFitting] && o.Kind != "hardware", !of[quote.FirstFitting] && wearing[o.Assembly]:
				t.Fatalf("%s does not wait for the first fitting", o.ID)
			case wearing[o.Assembly] && !final[o.ID]:
				t.Fatalf("%s comes after the final fitting", o.ID)
			}
		}
		if pack := after(w, "pack"); len(pack) != len(w.Operations)-1 {
			t.Fatalf("packing waits for %d operations of %d", len(pack), len(w.Operations)-1)
		}
		charged := 0
		for _, l := range charges.Labour {
			if l.Title == "First fitting" || l.Title == "Final fitting" || l.Title == "Fitting by pictures" {
				charged++
			}
		}
		if want := map[quote.How]int{quote.InPerson: 2, quote.ByPictures: 1}[st.Appointments.Fittings]; charged != want {
			t.Fatalf("%d lines charge fittings, want %d: %v", charged, want, charges.Labour)
		}
		p := quote.Snapshot{Studio: st}.Problem(w.Plan(), monday, nil)
		p.Schedules, p.Runs = 5, 0
		s, err := schedule.Solve(t.Context(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		at := map[string]plan.Scheduled{}
		for _, x := range s.Operations {
			at[x.ID] = x
		}
		for id, x := range at {
			if quote.Cuts(id) && first[id] && at[quote.FirstFitting].Start.Sub(x.End).Hours() < float64(24*st.Appointments.Notice) {
				t.Fatalf("the first fitting is at %v, %s ends at %v, notice is %d days", at[quote.FirstFitting].Start, id, x.End, st.Appointments.Notice)
			}
		}
	})
	for _, k := range []string{"props", string(quote.InPerson), string(quote.ByPictures)} {
		if kinds[k] == 0 && !testing.Short() {
			t.Errorf("no case of %s was drawn", k)
		}
	}
}

// What a client chooses instead plans the fitting as if the studio's settings had said so, and back is back.
func TestRefitIsAsChosen(t *testing.T) {
	plate := geom.Shape{Outer: geom.Ring{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 200}, {X: 0, Y: 200}}}
	g := foam.Graded{Pieces: []foam.Piece{{ID: "A", Thickness: 5, Shape: plate, Sealed: true, Formed: true}},
		Seams: []foam.Seam{{LengthA: 300, Thickness: 5, Count: 1}}, Hardware: []foam.Hardware{{Kind: "rivet-9", Count: 3}}}
	as := []quote.Assembly{breakdown.Measure(breakdown.Ordered{Number: 1, Title: "Plate", Graded: []foam.Graded{g, g}, Labels: []string{"1-A", "1-A/2"}})}
	made := map[quote.How]quote.Breakdown{}
	studios := map[quote.How]quote.Studio{}
	for _, how := range []quote.How{quote.InPerson, quote.ByPictures} {
		st := settings.Demo()
		st.Appointments.Fittings = how
		w, _, err := breakdown.Make(st, st.Finishes[0], as)
		if err != nil {
			t.Fatal(err)
		}
		made[how], studios[how] = w, st
	}
	for from, to := range map[quote.How]quote.How{quote.InPerson: quote.ByPictures, quote.ByPictures: quote.InPerson} {
		for i, o := range made[from].Operations {
			got, err := breakdown.Refit(studios[from], o, to)
			if err != nil {
				t.Fatal(err)
			}
			if want := made[to].Operations[i]; fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("from %s to %s:\n%v\nis not\n%v", from, to, got, want)
			}
		}
	}
	if a, b := made[quote.InPerson].Operations, made[quote.ByPictures].Operations; fmt.Sprint(a) == fmt.Sprint(b) {
		t.Error("by pictures is as in person")
	}
}

var monday = time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)
