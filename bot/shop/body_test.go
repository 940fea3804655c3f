package shop

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/body"
	"benchbell/quote/engine"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
)

// grader grades sets as the engine does, each to a body once.
type grader struct {
	sets map[string]*pattern.Set
	done map[string]error
}

func newGrader(t *testing.T, lib []Set) *grader {
	g := &grader{sets: map[string]*pattern.Set{}, done: map[string]error{}}
	for _, x := range lib {
		set, err := pattern.Parse([]byte(x.Source.Drawing), []byte(x.Source.TOML))
		if err != nil {
			t.Fatal(err)
		}
		g.sets[x.Name] = set
	}
	return g
}

// grade makes every item of a snapshot on each of its sides.
func (g *grader) grade(s quote.Snapshot) error {
	for _, it := range s.Items {
		set := g.sets[it.Set]
		for _, side := range body.Sides(it.Sides) {
			if err := body.Missing(set.Title, set.Measures, s.Body, side); err != nil {
				return err
			}
			fit := pattern.Fit{Body: map[string]geom.MM{}, Side: side, FoamK: s.Studio.FoamK, Tools: s.Studio.Bench.Tools}
			have := body.On(s.Body, side)
			for _, key := range set.Measures {
				fit.Body[key] = have[key].Value
			}
			key := fmt.Sprint(it.Set, side, fit.Body)
			err, ok := g.done[key]
			if !ok {
				_, err = set.Grade(fit)
				g.done[key] = err
			}
			if err != nil {
				return fmt.Errorf("%s %s: %w", it.Set, side, err)
			}
		}
	}
	return nil
}

// What is asked can be quoted: for every two sets of the library, on every side, measured apart or not, a client who gives
// all that is asked, and nothing else, comes to a snapshot that grades.
func TestWhatIsAskedCanBeQuoted(t *testing.T) {
	lib, err := Library()
	if err != nil {
		t.Fatal(err)
	}
	h := newHouse(t)
	h.s = New(Config{Ledger: h.led, Now: h.s.cfg.Now, Library: lib, Studio: testStudio})
	if err := h.s.withShelf(t.Context()); err != nil {
		t.Fatal(err)
	}
	g := newGrader(t, lib)
	var choices []quote.Item
	for _, x := range lib {
		if !x.Sided {
			choices = append(choices, quote.Item{Set: x.Name, Count: 1})
			continue
		}
		for _, s := range []quote.Sides{quote.Pair, quote.OneLeft, quote.OneRight} {
			choices = append(choices, quote.Item{Set: x.Name, Count: 1, Sides: s})
		}
	}
	var c ledger.Commission
	h.in(func(tx *ledger.Tx) (err error) {
		c, err = tx.NewCommission(ledger.Commission{Client: mara.ID, ClientName: mara.Name, Scheme: "stage", State: ledger.Choosing, OpenedAt: h.now})
		return err
	})
	cases, differ := 0, 0
	for i, a := range choices {
		for _, b := range choices[i:] {
			if a.Set == b.Set && a != b {
				continue // a set is ordered once
			}
			for _, apart := range []bool{false, true} {
				order := []quote.Item{a, b}
				if a == b {
					order = order[:1]
				}
				cases++
				s, sided, err := quotable(t, h, c, order, apart, g)
				if err != nil {
					t.Fatalf("%v, measured apart %v: %v", order, apart, err)
				}
				if sided {
					differ++
				}
				if err := g.grade(s); err != nil {
					t.Fatalf("%v, measured apart %v: all that was asked is given, and yet: %v", order, apart, err)
				}
			}
		}
	}
	if cases < 500 || differ < 100 {
		t.Fatalf("only %d cases, %d of them with sides apart: the library is not all there", cases, differ)
	}
}

// quotable is the snapshot of an order whose client has given what was asked; sided says that some of it was asked for each
// side. Nothing of it is kept.
func quotable(t *testing.T, h *house, c ledger.Commission, order []quote.Item, apart bool, g *grader) (s quote.Snapshot, sided bool, err error) {
	t.Helper()
	no := h.s.inTx(t.Context(), h.now, mara, func(j *job) error {
		if err = j.t.SetItems(c.ID, order); err != nil {
			return err
		}
		c.Finish = j.s.cfg.Studio().Finishes[0].Key
		c.State = ledger.Measuring
		if apart {
			var o ApartSet
			if o, err = setApart(j, c, SetApart{On(c.ID)}); err != nil {
				return err
			}
			c = o.Commission
		}
		var b Body
		if b, err = j.bodyOf(c); err != nil {
			return err
		}
		typed := map[string]string{}
		for _, x := range b.All {
			var base geom.MM
			for _, it := range order {
				if v, ok := g.sets[it.Set].Base[x.Key]; ok {
					base = max(base, v)
				}
			}
			if x.Side == foam.Right {
				base += 2
			}
			sided = sided || x.Side != foam.NoSide
			typed[x.Field()] = fmt.Sprintf("%.0f mm", float64(base))
		}
		if b, err = giveMeasurements(j, c, GiveMeasurements{On(c.ID), typed}); err != nil {
			return err
		}
		if len(b.Problems) > 0 || !b.Complete() {
			err = fmt.Errorf("what was asked is given, and %v is not taken of %v", b.Problems, Missing(b.All))
			return err
		}
		if s, err = j.snapshot(b.Commission, nil); err != nil {
			return err
		}
		return errUndone
	})
	if err == nil && !errors.Is(no, errUndone) {
		err = no
	}
	return s, sided, err
}

// Left and right are measured apart where they differ, and as one again: no value is lost, and what stands for both is the
// larger.
func TestApartAndBack(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	of := On("C0001")
	h.do(mara, Measure{of})
	h.do(mara, SetApart{of})
	h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth/left": "18", "wrist-girth/right": "17", "forearm-girth/left": "27"}})
	o := h.do(mara, SetApart{of}).(ApartSet)
	want := map[string]geom.MM{"wrist-girth": 180, "forearm-girth": 270}
	for _, x := range o.All {
		if x.Side != foam.NoSide || x.Value != want[x.Key] || x.Known != (want[x.Key] > 0) {
			t.Errorf("%s is %v (known: %v), want %v", x.Label(), x.Value, x.Known, want[x.Key])
		}
	}
	// One value for both is only a suggestion for each.
	h.do(mara, GiveMeasurements{of, map[string]string{"elbow-wrist-length": "26"}})
	o = h.do(mara, SetApart{of}).(ApartSet)
	for _, x := range o.All {
		if x.Key == "elbow-wrist-length" && (x.Known || x.Typed != "26") {
			t.Errorf("%s is known as %v, typed %q; want it suggested", x.Label(), x.Value, x.Typed)
		}
	}
}

// A form that was opened before left and right were said to differ, or to be the same, has fields that are not asked for any
// more. What is typed there is not lost: it stands, to be looked at again, where it is asked for now.
func TestTypedIntoAnOlderForm(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	of := On("C0001")
	h.do(mara, Measure{of})
	h.do(mara, SetApart{of})
	b := h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth": "17", "forearm-girth": "wide", "elbow-wrist-length/left": "26"}}).(Body)
	for _, x := range b.All {
		want := map[string]string{"wrist-girth/left": "17", "wrist-girth/right": "17", "forearm-girth/left": "wide", "forearm-girth/right": "wide", "elbow-wrist-length/left": "26"}[x.Field()]
		if x.Typed != want || x.Known != (x.Field() == "elbow-wrist-length/left") {
			t.Errorf("%s holds %q (known: %v), want %q", x.Label(), x.Typed, x.Known, want)
		}
	}
	var said []string
	for _, p := range b.Problems {
		said = append(said, fmt.Sprint(p.Kind, " ", p.What))
	}
	if want := []string{"asked for each side Wrist girth", " Forearm girth"}; !slices.Equal(said, want) {
		t.Errorf("said is %q, want %q", said, want)
	}
	// A value that a side has of its own stays.
	h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth/left": "16"}})
	b = h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth": "17.5"}}).(Body)
	for _, x := range b.All {
		if want := map[string]string{"wrist-girth/left": "16", "wrist-girth/right": "17.5"}[x.Field()]; want != "" && x.Typed != want {
			t.Errorf("%s holds %q, want %q", x.Label(), x.Typed, want)
		}
	}
	// The other way round the larger is suggested, since it goes around either.
	h.do(mara, SetApart{of})
	b = h.do(mara, GiveMeasurements{of, map[string]string{"forearm-girth/left": "26", "forearm-girth/right": "28"}}).(Body)
	for _, x := range b.All {
		if x.Field() == "forearm-girth" && (x.Typed != "28" || x.Known) {
			t.Errorf("%s holds %q (known: %v), want the larger, 28, to be confirmed", x.Label(), x.Typed, x.Known)
		}
	}
	if len(b.Problems) != 1 || b.Problems[0].Kind != AskedOnce {
		t.Errorf("said is %+v", b.Problems)
	}
}

// A body that nothing can be made to is refused when it is confirmed; it can be corrected then, and confirmed.
func TestMisfitIsRefusedAtTheCheck(t *testing.T) {
	h := newHouse(t)
	h.s.cfg.Fits = engine.Fits
	h.begin(mara, "C0001")
	of := On("C0001")
	h.do(mara, Measure{of})
	h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth": "6.2", "forearm-girth": "27", "elbow-wrist-length": "26"}})
	_, err := h.s.Do(t.Context(), Call{ID: "right", Person: mara, Act: Confirm{of}})
	if refusal(err) != Misfit || !strings.Contains(errors.Unwrap(err).Error(), "wrist girth of 6.2 cm") {
		t.Fatalf("a wrist of 62 mm is answered %v (%v)", err, errors.Unwrap(err))
	}
	if c := h.commission(); c.State != ledger.Checking {
		t.Fatalf("C0001 is %s", c.State)
	}
	h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth": "16.2"}})
	h.do(mara, Confirm{of})
}

// A date that is taken off a quote is said to be, not left as half a sentence.
func TestChangeTakesTheDateOff(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	of := On("C0001")
	h.do(mara, GiveDetails{Of: of, Wanted: "1 March 2027"})
	h.do(mara, Measure{of})
	h.do(mara, GiveMeasurements{of, arm})
	h.do(mara, Confirm{of})
	h.answer("C0001", nil)
	h.do(mara, AskChange{OfRevision: OnRevision("C0001", 1), Typed: map[string]string{ChangeWanted: ""}})
	h.in(func(tx *ledger.Tx) error {
		rev, err := tx.Revision("C0001", 2)
		if want := []string{"no date asked for any more"}; err == nil && !slices.Equal(rev.Snapshot.Changes, want) {
			t.Errorf("the change is %q, want %q", rev.Snapshot.Changes, want)
		}
		return err
	})
}

// What is done while something is computed for an act stands before it in the trail, at an earlier time.
func TestTrailIsInTheOrderOfItsTimes(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Checking)
	of := On("C0001")
	h.s.cfg.Fits = func(quote.Snapshot) error {
		h.now = h.now.Add(time.Minute)
		h.do(mara, GiveDetails{Of: of, Notes: "bronze"})
		return nil
	}
	h.do(mara, Confirm{of})
	h.in(func(tx *ledger.Tx) error {
		events, err := tx.Events("C0001")
		for i := 1; i < len(events); i++ {
			if events[i].At.Before(events[i-1].At) {
				t.Errorf("“%s” is before “%s”, which stands in front of it", events[i].What, events[i-1].What)
			}
		}
		return err
	})
}

// What is typed as it is asked for now holds, whatever an older field of the same form says beside it.
func TestTypedBothWays(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	of := On("C0001")
	h.do(mara, Measure{of})
	b := h.do(mara, GiveMeasurements{of, map[string]string{"wrist-girth": "17", "wrist-girth/left": "18"}}).(Body)
	for _, x := range b.All {
		if x.Key == "wrist-girth" && (!x.Known || x.Value != 170) {
			t.Errorf("%s is %v (known: %v), want the 17 cm that were typed for it", x.Label(), x.Value, x.Known)
		}
	}
	if len(b.Problems) != 0 {
		t.Errorf("it is asked about again: %v", b.Problems)
	}
}
