package ledger

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote"
)

// What is kept read is always what the file has: after changes that were undone, changes in the same transaction, and those of
// another process.
func TestOperationsAreThoseInTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	mine, other := open(t, path), open(t, path)
	rapid.Check(t, func(rt *rapid.T) {
		var ids []quote.CommissionID
		for range 2 {
			in(t, mine, func(t *Tx) error {
				c, err := t.NewCommission(Commission{State: Quoted, OpenedAt: noon})
				ids = append(ids, c.ID)
				return err
			})
		}
		titles := map[quote.CommissionID][]time.Time{}
		same := func(where string, tx *Tx, id quote.CommissionID, want []time.Time) {
			ops, err := tx.Operations(id)
			if err != nil {
				rt.Fatal(err)
			}
			if len(ops) != len(want) {
				rt.Fatalf("%s: %s has %d operations, the file has %d", where, id, len(ops), len(want))
			}
			for i, o := range ops {
				if !o.Start.Equal(want[i]) {
					rt.Fatalf("%s: operation %d of %s starts at %s, in the file at %s", where, i+1, id, o.Start, want[i])
				}
			}
			for i := range ops { // what was handed out belongs to whoever asked
				ops[i].Start = time.Time{}
			}
		}
		undone := errors.New("undone")
		for range rapid.IntRange(1, 12).Draw(rt, "transactions") {
			l := rapid.SampledFrom([]*Ledger{mine, other}).Draw(rt, "process")
			id := rapid.SampledFrom(ids).Draw(rt, "commission")
			was, next := titles[id], titles[id]
			fails := rapid.Bool().Draw(rt, "fails")
			err := l.Tx(t.Context(), func(tx *Tx) error {
				for _, id := range ids {
					same("at first", tx, id, titles[id])
				}
				at := noon.Add(time.Duration(rapid.IntRange(1, 1000).Draw(rt, "minutes")) * time.Minute)
				var err error
				switch rapid.SampledFrom([]string{"add", "move", "give up"}).Draw(rt, "change") {
				case "add":
					next = append(was[:len(was):len(was)], at)
					err = tx.AddOperation(Operation{Commission: id, Seq: len(next), Op: fmt.Sprint("op ", len(next)), Start: at, End: at})
				case "move":
					if len(was) > 0 {
						next = append([]time.Time{at}, was[1:]...)
						err = tx.PlanOperation(Operation{Commission: id, Seq: 1, Start: at, End: at})
					}
				case "give up":
					next, err = nil, tx.GiveUpPlace(id)
				}
				same("after its change", tx, id, next)
				if fails {
					return errors.Join(err, undone)
				}
				return err
			})
			if err != nil && !errors.Is(err, undone) {
				rt.Fatal(err)
			}
			if !fails {
				titles[id] = next
			}
		}
		for _, l := range []*Ledger{mine, other} {
			in(t, l, func(tx *Tx) error {
				for _, id := range ids {
					same("at last", tx, id, titles[id])
				}
				return nil
			})
		}
	})
}
