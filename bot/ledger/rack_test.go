package ledger

import (
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/chat"
	"benchbell/quote"
	"benchbell/quote/geom"
)

var square = geom.Ring{{}, {X: 300}, {X: 300, Y: 200}, {Y: 200}}

func TestRack(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	in(t, l, func(tx *Tx) error {
		byHand := Offcut{Thickness: 5, Outline: square, At: noon, By: "stage:studio"}
		a, added, err := tx.RackOffcut(byHand)
		if err != nil || !added || a.ID != "R0001" {
			t.Errorf("first is %+v, %v, %v", a, added, err)
		}
		if got, err := tx.Offcut("R0001"); err != nil || !reflect.DeepEqual(got, a) {
			t.Errorf("read back: %+v, %v", got, err)
		}
		b, _, err := tx.RackOffcut(byHand) // two of a size may lie there
		if err != nil || b.ID != "R0002" {
			t.Errorf("second is %+v, %v", b, err)
		}
		from := Offcut{Thickness: 10, Outline: square, Origin: "C0007/3", At: noon}
		c, added, err := tx.RackOffcut(from)
		if err != nil || !added {
			t.Errorf("from a sheet: %v, %v", added, err)
		}
		if again, added, err := tx.RackOffcut(from); err != nil || added || again.ID != c.ID {
			t.Errorf("the same sheet again: %+v, %v, %v", again, added, err)
		}
		if got, err := tx.RackedFrom("C0007"); err != nil || len(got) != 1 {
			t.Errorf("from C0007: %v, %v", got, err)
		}
		if got, err := tx.RackedFrom("C000"); err != nil || len(got) != 0 {
			t.Errorf("from C000: %v, %v", got, err)
		}
		if err := tx.LeaveRack("R0002", Thrown, "", noon.Add(time.Hour), "stage:studio"); err != nil {
			t.Error(err)
		}
		if err := tx.LeaveRack("R0002", Thrown, "", noon, "stage:studio"); !errors.Is(err, ErrNone) {
			t.Errorf("thrown away twice: %v", err)
		}
		rack, err := tx.Rack()
		if len(rack) != 2 || rack[0].ID != "R0003" || rack[1].ID != "R0001" {
			t.Errorf("on the rack: %+v", rack)
		}
		if _, err := tx.Offcut("R0009"); !errors.Is(err, ErrNone) {
			t.Errorf("unknown: %v", err)
		}
		return err
	})
}

func TestCuttingDay(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	files := []chat.File{{Name: "a.zip", MIME: "application/zip", Alt: "a", Data: []byte("x")}}
	plan := Cutting{Commissions: []CutCommission{{"C0001", 1}, {"C0002", 2}}, Used: []string{"R0001"},
		Rests: []quote.Offcut{{Thickness: 5, Outline: square, Sheet: 2}}, Summary: "both", SHA256: "aa", At: noon, By: "stage:studio"}
	var first, other Cutting
	in(t, l, func(tx *Tx) error {
		for range 3 {
			if _, err := tx.NewCommission(Commission{State: Working, OpenedAt: noon}); err != nil {
				return err
			}
		}
		if _, _, err := tx.RackOffcut(Offcut{Thickness: 5, Outline: square, At: noon}); err != nil {
			return err
		}
		old, err := tx.PlanCutting(Cutting{Commissions: plan.Commissions, SHA256: "zz", At: noon}, files)
		if err != nil {
			return err
		}
		if first, err = tx.PlanCutting(plan, files); err != nil {
			return err
		}
		if _, err := tx.Cutting(old.ID); !errors.Is(err, ErrNone) {
			t.Errorf("the replaced plan is still there: %v", err)
		}
		if same, err := tx.PlanCutting(plan, files); err != nil || same.ID != first.ID {
			t.Errorf("the same plan is %s and %s, %v", first.ID, same.ID, err)
		}
		if other, err = tx.PlanCutting(Cutting{Commissions: []CutCommission{{"C0002", 2}, {"C0003", 1}}, SHA256: "bb", At: noon}, files); err != nil {
			return err
		}
		if _, err := tx.CuttingOf("C0001"); !errors.Is(err, ErrNone) {
			t.Errorf("cut before it was: %v", err)
		}
		got, err := tx.Cutting(first.ID)
		if !reflect.DeepEqual(got, first) {
			t.Errorf("read back %+v, want %+v", got, first)
		}
		return err
	})
	in(t, l, func(tx *Tx) error {
		racked, err := tx.Cut(first, noon.Add(time.Hour), "stage:studio")
		if err != nil || len(racked) != 1 || racked[0].ID != "R0002" || racked[0].Origin != first.ID+"/2" {
			t.Errorf("racked %+v, %v", racked, err)
		}
		if o, err := tx.Offcut("R0001"); err != nil || o.State != Used || o.UsedIn != first.ID {
			t.Errorf("the offcut used is %+v, %v", o, err)
		}
		if c, err := tx.CuttingOf("C0002"); err != nil || c.ID != first.ID || c.State != CutDone {
			t.Errorf("C0002 was cut on %+v, %v", c, err)
		}
		if _, err := tx.Cutting(other.ID); !errors.Is(err, ErrNone) {
			t.Errorf("a plan with a commission that is cut is still there: %v", err)
		}
		if fs, err := tx.CuttingFiles(first.ID); err != nil || !reflect.DeepEqual(fs, files) {
			t.Errorf("files %v, %v", fs, err)
		}
		return nil
	})
	// A second day for one of them is refused whole, and so is one whose offcut is gone.
	for _, c := range []Cutting{{Commissions: []CutCommission{{"C0002", 2}}}, {Commissions: []CutCommission{{"C0003", 1}}, Used: []string{"R0001"}}} {
		if err := l.Tx(t.Context(), func(tx *Tx) error {
			p, err := tx.PlanCutting(c, nil)
			if err != nil {
				return err
			}
			_, err = tx.Cut(p, noon, "stage:studio")
			return err
		}); err == nil {
			t.Errorf("%+v was cut", c)
		}
	}
}

// Whatever is planned, cut and thrown away in whatever order: no offcut is used twice or used and thrown away, no commission
// is cut twice, every rest of a day is racked once, and a day that is refused leaves everything as it was.
func TestRackLaws(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	rapid.Check(t, func(rt *rapid.T) {
		var cs []quote.CommissionID
		used, rests := map[string]string{}, 0
		cut := map[quote.CommissionID]string{}
		thrown := map[string]bool{}
		var rack []string
		must := func(err error) {
			if err != nil {
				rt.Fatal(err)
			}
		}
		must(l.Tx(t.Context(), func(tx *Tx) error {
			for range 4 {
				c, err := tx.NewCommission(Commission{State: Working, OpenedAt: noon})
				if err != nil {
					return err
				}
				cs = append(cs, c.ID)
				o, _, err := tx.RackOffcut(Offcut{Thickness: 5, Outline: square, At: noon})
				if err != nil {
					return err
				}
				rack = append(rack, o.ID)
			}
			return nil
		}))
		for n := range rapid.IntRange(1, 6).Draw(rt, "acts") {
			if rapid.IntRange(0, 3).Draw(rt, "throw") == 0 {
				id := rapid.SampledFrom(rack).Draw(rt, "offcut")
				err := l.Tx(t.Context(), func(tx *Tx) error { return tx.LeaveRack(id, Thrown, "", noon, "stage:studio") })
				if (err == nil) == (thrown[id] || used[id] != "") {
					rt.Fatalf("throwing %s away: %v", id, err)
				}
				thrown[id] = thrown[id] || err == nil
				continue
			}
			plan := Cutting{SHA256: fmt.Sprint(cs[0], n), At: noon, Rests: []quote.Offcut{{Thickness: 5, Outline: square, Sheet: 1}}}
			may := true
			for _, id := range rapid.Permutation(cs).Draw(rt, "commissions")[:2] {
				plan.Commissions = append(plan.Commissions, CutCommission{id, 1})
				may = may && cut[id] == ""
			}
			for _, id := range rapid.Permutation(rack).Draw(rt, "offcuts")[:rapid.IntRange(0, 2).Draw(rt, "used")] {
				plan.Used = append(plan.Used, id)
				may = may && used[id] == "" && !thrown[id]
			}
			var got []Offcut
			err := l.Tx(t.Context(), func(tx *Tx) (err error) {
				if plan, err = tx.PlanCutting(plan, nil); err == nil {
					got, err = tx.Cut(plan, noon, "stage:studio")
				}
				return err
			})
			if (err == nil) != may {
				rt.Fatalf("cutting %+v: %v", plan, err)
			}
			if err != nil {
				continue
			}
			rests++
			rack = append(rack, got[0].ID)
			for _, id := range plan.Used {
				used[id] = plan.ID
			}
			for _, c := range plan.Commissions {
				cut[c.ID] = plan.ID
			}
		}
		must(l.Tx(t.Context(), func(tx *Tx) error {
			for _, id := range rack {
				want := Offcut{State: Racked, UsedIn: used[id]}
				if used[id] != "" {
					want.State = Used
				} else if thrown[id] {
					want.State = Thrown
				}
				if o, err := tx.Offcut(id); err != nil || o.State != want.State || o.UsedIn != want.UsedIn {
					rt.Fatalf("%s is %s in %q, want %s in %q (%v)", id, o.State, o.UsedIn, want.State, want.UsedIn, err)
				}
			}
			for _, id := range cs {
				if c, err := tx.CuttingOf(id); c.ID != cut[id] || (err != nil) != (cut[id] == "") {
					rt.Fatalf("%s was cut on %q, want %q (%v)", id, c.ID, cut[id], err)
				}
			}
			if len(rack) != 4+rests {
				rt.Fatalf("%d offcuts for %d days", len(rack), rests)
			}
			return nil
		}))
	})
}
