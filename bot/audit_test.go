package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// settleFile waits until a bot on that folder has sent all and rung all.
func settleFile(t *testing.T, ctx context.Context, data, offset string) {
	t.Helper()
	led, err := ledger.Open(ctx, filepath.Join(data, "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer led.Close()
	now := offsetClock(offset)
	for quiet := false; !quiet; time.Sleep(20 * time.Millisecond) {
		if err := led.Tx(ctx, func(tx *ledger.Tx) error {
			pending, err := tx.Pending(now())
			if err != nil {
				return err
			}
			due, err := tx.NextDue()
			quiet = pending == 0 && (due.IsZero() || due.After(now()))
			return err
		}); err != nil {
			t.Fatalf("the bot never comes to rest: %v", err)
		}
	}
}

// audit reads the ledger of a finished commission and checks that everything happened, and happened once.
func audit(t *testing.T, data string, posts []chat.Post) {
	t.Helper()
	led, err := ledger.Open(t.Context(), filepath.Join(data, "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer led.Close()
	err = led.Tx(t.Context(), func(tx *ledger.Tx) error {
		cs, err := tx.Commissions()
		if err != nil {
			return err
		}
		if len(cs) != 1 || cs[0].State != ledger.Delivered || cs[0].Revision != 2 {
			return fmt.Errorf("commissions %+v, want one, delivered, with two revisions", cs)
		}
		c := cs[0]
		events, err := tx.Events(c.ID)
		if err != nil {
			return err
		}
		times := map[string]int{} // of each event with what it is about
		for i, e := range events {
			about := e.What
			switch e.What {
			case "quoted", "approved":
				revision, _, _ := strings.Cut(e.Detail, ",")
				about += " " + revision
			case "started", "done", "bell rung":
				about += " " + e.Detail
			}
			times[about]++
			if i > 0 && e.At.Before(events[i-1].At) {
				t.Errorf("event %d, %s, is before the event in front of it", e.N, e.What)
			}
		}
		// A choice may be made again by somebody who does not see it yet; these happen once.
		want := map[string]int{"asked": 1, "quote asked for": 2, "quoted revision 1": 1,
			"quoted revision 2": 1, "change asked for": 1, "approved revision 2": 1, "deposit confirmed": 1, "finished": 1, "handed over": 1}

		ops, err := tx.Operations(c.ID)
		if err != nil {
			return err
		}
		bells, err := tx.Bells(c.ID)
		if err != nil {
			return err
		}
		if len(ops) == 0 || len(bells) == 0 {
			t.Errorf("%d operations and %d bells", len(ops), len(bells))
		}
		for _, o := range ops {
			want["done "+o.Op] = 1
			want["started "+o.Op] = 1
			if o.State != ledger.Done {
				t.Errorf("operation %s is %s", o.Op, o.State)
			}
			rings := slices.ContainsFunc(bells, func(b ledger.Bell) bool { return b.Seq == o.Seq })
			if rings != (o.Cure != "" && o.CureFor > 0) {
				t.Errorf("operation %s cures %q for %v, and has a bell: %v", o.Op, o.Cure, o.CureFor, rings)
			}
			if rings {
				want["bell rung "+o.Op] = 1
			}
		}
		for _, b := range bells {
			if b.RungAt.IsZero() || b.RungAt.Before(b.Due) {
				t.Errorf("bell %s, due %v, rang %v", b.ID, b.Due, b.RungAt)
			}
		}
		for about, n := range want {
			if times[about] != n {
				t.Errorf("%q happened %d times, want %d", about, times[about], n)
			}
		}
		for about, n := range times {
			once := strings.HasPrefix(about, "quoted") || strings.HasPrefix(about, "approved") || strings.HasPrefix(about, "done") ||
				strings.HasPrefix(about, "started") || strings.HasPrefix(about, "bell")
			if once && (n != 1 || want[about] != 1) {
				t.Errorf("%q happened %d times", about, n)
			}
		}

		for n := 1; n <= 2; n++ {
			pdf, sha, err := tx.PDF(c.ID, n)
			if err != nil {
				return err
			}
			sum := sha256.Sum256(pdf)
			if hex.EncodeToString(sum[:]) != sha {
				t.Errorf("revision %d: the stored PDF has not the hash on file", n)
			}
			name := fmt.Sprintf("quote-%s-r%d.pdf", c.ID, n)
			shown := 0
			for _, p := range posts {
				for _, f := range p.Files {
					if f.Name == name {
						shown++
						if string(f.Data) != string(pdf) {
							t.Errorf("%s in the thread is not the one in the ledger", name)
						}
					}
				}
			}
			if shown != 1 {
				t.Errorf("%s is in %d posts", name, shown)
			}
			if n < 2 {
				continue
			}
			a, err := tx.Approval(c.ID)
			if err != nil {
				return err
			}
			if a.Revision != 2 || a.SHA256 != sha || a.Person != c.Client {
				t.Errorf("approval %+v, want revision 2 with %s by %s", a, sha, c.Client)
			}
		}
		pending, err := tx.Pending(time.Now()) // but for what waits for the morning
		if err != nil {
			return err
		}
		if pending > 0 {
			t.Errorf("%d rows were never sent", pending)
		}

		keys, texts := map[string]int{}, map[string]string{}
		rung := map[string]int{}
		for _, p := range posts {
			if keys[p.Key]++; keys[p.Key] > 1 {
				t.Errorf("post %s is shown %d times", p.Key, keys[p.Key])
			}
			for line := range strings.SplitSeq(p.Text, "\n") {
				if line = strings.TrimPrefix(line, "• "); strings.HasPrefix(p.Key, "told/") && strings.Contains(line, " has cured.") {
					rung[line]++
				}
			}
			where := string(p.Thread) + p.Text
			if other, ok := texts[where]; ok && p.Text != "" && !strings.Contains(p.Key, "/note/failed/") {
				t.Errorf("posts %s and %s say the same: %q", other, p.Key, p.Text)
			}
			texts[where] = p.Key
		}
		if len(rung) == 0 || len(rung) > len(bells) { // on the notice board, those after which a step can begin
			t.Errorf("%d bells are told, of %d", len(rung), len(bells))
		}
		for line, n := range rung {
			if n > 1 {
				t.Errorf("told %d times: %s", n, line)
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}
