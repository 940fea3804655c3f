package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
)

func open(t *testing.T, path string) *Ledger {
	t.Helper()
	l, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

func in(t *testing.T, l *Ledger, f func(*Tx) error) {
	t.Helper()
	if err := l.Tx(t.Context(), f); err != nil {
		t.Fatal(err)
	}
}

var noon = time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)

// The driver ignores settings it does not know, so each is read back from the open file.
func TestPragmas(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "a name with spaces & ?.db"))
	got, err := l.Pragmas(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range map[string]string{"journal_mode": "wal", "busy_timeout": "10000", "foreign_keys": "1", "synchronous": "2"} {
		if got[k] != want {
			t.Errorf("%s is %q, want %q", k, got[k], want)
		}
	}
}

// A scratch ledger is one that does not wait for the disk, and is otherwise the same.
func TestScratch(t *testing.T) {
	l, err := OpenScratch(t.Context(), filepath.Join(t.TempDir(), "scratch.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	got, err := l.Pragmas(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range map[string]string{"journal_mode": "wal", "foreign_keys": "1", "synchronous": "0"} {
		if got[k] != want {
			t.Errorf("%s is %q, want %q", k, got[k], want)
		}
	}
}

// _txlock=immediate is no pragma: that it took is seen by a second writer being held off from the begin on.
func TestTransactionsLockAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	l := open(t, path)
	other, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(0)")
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	in(t, l, func(*Tx) error {
		if _, err := other.Exec(`insert into counters (name, value) values ('x', 1)`); err == nil {
			t.Error("another connection wrote while a transaction was open")
		}
		return nil
	})
}

func TestNewerFileIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	l := open(t, path)
	if _, err := l.db.Exec("pragma user_version = 99"); err != nil {
		t.Fatal(err)
	}
	l.Close()
	if _, err := Open(t.Context(), path); err == nil || !strings.Contains(err.Error(), "run a newer program") {
		t.Fatalf("got %v", err)
	}
}

func TestRollBackAndEvents(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	stop := errors.New("stop")
	err := l.Tx(t.Context(), func(tx *Tx) error {
		if _, err := tx.NewCommission(Commission{State: Choosing, OpenedAt: noon}); err != nil {
			return err
		}
		return stop
	})
	if !errors.Is(err, stop) {
		t.Fatal(err)
	}
	in(t, l, func(tx *Tx) error {
		c, err := tx.NewCommission(Commission{State: Choosing, OpenedAt: noon, ClientName: "Ωμέγα 🔨"})
		if err != nil {
			return err
		}
		if c.ID != "C0001" {
			t.Errorf("the rolled back number was used up: %s", c.ID)
		}
		got, err := tx.Commission(c.ID)
		if got != c {
			t.Errorf("got %+v, want %+v", got, c)
		}
		if err != nil {
			return err
		}
		if _, err := tx.Commission("C0002"); !errors.Is(err, ErrNone) {
			t.Errorf("got %v, want ErrNone", err)
		}
		return tx.Record(Event{At: noon, Commission: c.ID, What: "asked"})
	})
	for _, q := range []string{`update events set what = 'x'`, `delete from events`} {
		if _, err := l.db.Exec(q); err == nil {
			t.Errorf("%s was allowed", q)
		}
	}
	if _, err := l.db.Exec(`update commissions set state = 'nonsense'`); err == nil {
		t.Error("an unknown state was stored")
	}
}

func TestOutboxKeepsOrderAndFiles(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	put := func(p chat.Post) { in(t, l, func(tx *Tx) error { return tx.PutPost("C0001", p, noon) }) }
	next := func(busy map[string]bool, now time.Time) (o Out, err error) {
		err = l.Tx(t.Context(), func(tx *Tx) error { o, err = tx.NextOut(now, busy); return err })
		return o, err
	}
	put(chat.Post{Key: "a", Text: "1", Files: []chat.File{{Name: "f", Data: []byte("x")}}})
	put(chat.Post{Key: "b", Text: "2"})
	put(chat.Post{Key: "a", Text: "3"})
	o, err := next(nil, noon)
	if err != nil || o.Key != "a" || o.Version != 2 || !strings.Contains(string(o.Payload), `"f"`) {
		t.Fatalf("first is %s version %d, %v: %s", o.Key, o.Version, err, o.Payload)
	}
	if _, err := next(map[string]bool{o.Lane: true}, noon); !errors.Is(err, ErrNone) {
		t.Fatalf("a busy lane gave %v", err)
	}
	put(chat.Post{Key: "a", Text: "4"}) // while version 2 is being sent
	in(t, l, func(tx *Tx) error { return tx.Sent(o, noon) })
	o, err = next(nil, noon)
	if err != nil || o.Key != "a" || o.Version != 3 {
		t.Fatalf("the edit made meanwhile is %s version %d, %v", o.Key, o.Version, err)
	}
	in(t, l, func(tx *Tx) error { return tx.Unsent(o, "down", noon.Add(time.Minute)) })
	if _, err := next(nil, noon); !errors.Is(err, ErrNone) {
		t.Fatalf("a row put off gave %v; its lane must wait", err)
	}
	for range 2 {
		o, err = next(nil, noon.Add(time.Minute))
		if err != nil {
			t.Fatal(err)
		}
		in(t, l, func(tx *Tx) error { return tx.Sent(o, noon) })
	}
	in(t, l, func(tx *Tx) error {
		n, err := tx.Pending(noon)
		if n != 0 {
			t.Errorf("%d rows pending", n)
		}
		return err
	})
}

// TestKilled writes from a child process that is killed at no chosen moment: what was committed is whole, numbers are
// neither lost nor doubled.
func TestKilled(t *testing.T) {
	if path := os.Getenv("LEDGER_CHILD"); path != "" {
		l, err := Open(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		for {
			err := l.Tx(context.Background(), func(tx *Tx) error {
				c, err := tx.NewCommission(Commission{State: Choosing, OpenedAt: noon})
				if err != nil {
					return err
				}
				if err := tx.PutThread(c.ID, noon); err != nil {
					return err
				}
				return tx.Record(Event{At: noon, Commission: c.ID, What: "asked"})
			})
			if err != nil {
				t.Fatal(err)
			}
			fmt.Println("committed")
		}
	}
	path := filepath.Join(t.TempDir(), "ledger.db")
	seen := 0
	for range 3 {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKilled$")
		cmd.Env = append(os.Environ(), "LEDGER_CHILD="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		buf := make([]byte, 64)
		for range 10 {
			n, err := out.Read(buf)
			if err != nil {
				break
			}
			seen += strings.Count(string(buf[:n]), "committed")
		}
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	}
	l := open(t, path)
	in(t, l, func(tx *Tx) error {
		cs, err := tx.Commissions()
		if err != nil {
			return err
		}
		if len(cs) < seen || seen == 0 {
			t.Errorf("%d commissions, but %d were seen committed", len(cs), seen)
		}
		for i, c := range cs {
			if want := fmt.Sprintf("C%04d", i+1); string(c.ID) != want {
				t.Fatalf("commission %d is %s", i+1, c.ID)
			}
			if ev, err := tx.Events(c.ID); err != nil || len(ev) != 1 {
				t.Fatalf("%s has %d events, %v", c.ID, len(ev), err)
			}
		}
		n, err := tx.Pending(noon)
		if n != len(cs) {
			t.Errorf("%d threads to open for %d commissions", n, len(cs))
		}
		return err
	})
}
