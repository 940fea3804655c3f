package main

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/ledger"
	"benchbell/jobs/jobstest"
	"benchbell/quote/gaugetest"
)

// deadlock bounds a test that waits for what never comes; nothing is measured by it.
const deadlock = 3 * time.Minute

// face is a clock that goes only when it is moved.
type face struct {
	mu sync.Mutex
	at time.Time
}

func (f *face) now() time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.at
}

func (f *face) move(d time.Duration) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.at = f.at.Add(d)
}

// house is the whole bot, running in this process as main would run it, on a clock of its own.
type house struct {
	t           testing.TB
	clock       *face
	led         *ledger.Ledger // a second look at the same file
	data        string         // the folder of that file
	stdout, log *gaugetest.Log
}

// openHouse runs the bot with these settings until the test ends; it then has to end well.
func openHouse(t testing.TB, env map[string]string) *house {
	t.Helper()
	h := &house{t: t, clock: &face{at: demoStart}, stdout: &gaugetest.Log{}, log: &gaugetest.Log{}}
	data := t.TempDir()
	h.data = data
	wasClock, wasPatience := clock, patience
	// Deadlines are made on the clock of the house and kept on the machine's.
	clock, patience = h.clock.now, max(0, time.Since(demoStart))+time.Hour
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- run(ctx, nil, func(key string) string {
			if key == "BENCHBELL_DATA" {
				return data
			}
			return env[key]
		}, h.stdout, h.log)
	}()
	t.Cleanup(func() {
		stop()
		select {
		case err := <-ended:
			if err != nil {
				t.Errorf("the bot ended with %v", err)
			}
		case <-time.After(deadlock):
			t.Error("the bot does not end")
		}
		clock, patience = wasClock, wasPatience
		if strings.Contains(h.log.String(), "level=ERROR") {
			t.Error("the bot logged an error")
		}
		if t.Failed() {
			t.Logf("the bot's log:\n%s", h.log)
		}
	})
	for end := time.Now().Add(deadlock); ; time.Sleep(5 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(data, "ledger.db")); err == nil {
			break
		}
		if time.Now().After(end) {
			t.Fatal("the bot makes no ledger")
		}
	}
	led, err := ledger.Open(t.Context(), filepath.Join(data, "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { led.Close() })
	h.led = led
	return h
}

// settle waits until all is sent, all that is due has happened, and nothing is being computed.
func (h *house) settle() {
	h.t.Helper()
	for end := time.Now().Add(deadlock); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		quiet := false
		if err := h.led.Tx(h.t.Context(), func(t *ledger.Tx) error {
			pending, err := t.Pending(h.clock.now())
			if err != nil || pending > 0 {
				return err
			}
			busy, err := t.Commissions(ledger.Computing)
			if err != nil || len(busy) > 0 {
				return err
			}
			due, err := t.NextDue()
			quiet = due.IsZero() || due.After(h.clock.now())
			return err
		}); err != nil {
			h.t.Fatal(err)
		}
		if quiet {
			return
		}
	}
	h.t.Fatal("the house never comes to rest")
}

// awaitBoard waits until the studio's notice board is open: what happens before is not noted on it.
func (h *house) awaitBoard() {
	h.t.Helper()
	for end := time.Now().Add(deadlock); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		var boards []ledger.Board
		if err := h.led.Tx(h.t.Context(), func(t *ledger.Tx) (err error) {
			boards, err = t.Boards()
			return err
		}); err != nil {
			h.t.Fatal(err)
		}
		if len(boards) > 0 {
			return
		}
	}
	h.t.Fatal("the notice board never opens")
}

var printedURL = regexp.MustCompile(`the desk is at (http://\S+)`)

// browserHouse is a house with a browser desk, and its people.
func browserHouse(t testing.TB, env map[string]string) (*house, people) {
	t.Helper()
	all := map[string]string{"BENCHBELL_LISTEN": "127.0.0.1:0", "BENCHBELL_STUDIO": hurriedStudio(t)}
	for k, v := range env {
		all[k] = v
	}
	h := openHouse(t, all)
	url := h.stdout.Await(t, printedURL)
	h.awaitBoard()
	client := func(name string) chattest.Peer {
		p, err := browsertest.Client(t.Context(), url, name)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	studio, err := browsertest.Studio(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	return h, people{client: client("Ilka"), other: client("Jorin"), studio: studio}
}

// startProcess runs a program until the test ends.
func startProcess(t testing.TB, path string, env ...string) (*exec.Cmd, *gaugetest.Log) {
	t.Helper()
	out := &gaugetest.Log{}
	cmd := exec.Command(path)
	cmd.Env = append(os.Environ(), env...)
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, out
}

var printedWorker = regexp.MustCompile(`worker (\S+) serves the queue`)

// workers starts that many worker processes and gives their names.
func workers(t testing.TB, redis string, n int) []string {
	t.Helper()
	path := workerProgram(t)
	var outs []*gaugetest.Log
	for range n {
		cmd, out := startProcess(t, path, "BENCHBELL_REDIS_URL="+redis, "BENCHBELL_WORKERS=1")
		outs = append(outs, out)
		t.Cleanup(func() {
			if err := cmd.Process.Signal(os.Interrupt); err != nil && !errors.Is(err, os.ErrProcessDone) {
				t.Errorf("worker: %v", err)
			}
			if err := cmd.Wait(); err != nil {
				t.Errorf("a worker ended with %v:\n%s", err, out)
			}
		})
	}
	var names []string
	for _, out := range outs {
		names = append(names, out.Await(t, printedWorker))
	}
	return names
}

// One conversation, from the first message to the bell "ready for paint", gives the same transcript over the queue
// server in the bot's own process and over a real Redis with two worker processes.
func TestHouseInTheBrowser(t *testing.T) {
	t.Run("embedded", func(t *testing.T) {
		h, who := browserHouse(t, nil)
		golden(t, "browser", converseThrough(t, h, who))
		h.quotedBy(t, "bot")
	})
	t.Run("redis", func(t *testing.T) {
		redis := jobstest.Redis(t)
		names := workers(t, redis, 2)
		h, who := browserHouse(t, map[string]string{"BENCHBELL_REDIS_URL": redis})
		golden(t, "browser", converseThrough(t, h, who))
		h.quotedBy(t, names...)
	})
}

var quotedBy = regexp.MustCompile(`, by (\S+) in `)

// quotedBy checks that two revisions were quoted, each once, and by whom.
func (h *house) quotedBy(t *testing.T, names ...string) {
	t.Helper()
	var events []ledger.Event
	if err := h.led.Tx(t.Context(), func(tx *ledger.Tx) (err error) {
		events, err = tx.Events("C0001")
		return err
	}); err != nil {
		t.Fatal(err)
	}
	quoted, approved := 0, 0
	for _, e := range events {
		switch e.What {
		case "quoted":
			quoted++
			m := quotedBy.FindStringSubmatch(e.Detail)
			if m == nil || !strings.Contains(" "+strings.Join(names, " ")+" ", " "+m[1]+" ") {
				t.Errorf("%q: not computed by any of %q", e.Detail, names)
			}
		case "approved":
			approved++
		}
	}
	if quoted != 2 || approved != 1 {
		t.Errorf("%d revisions quoted and %d approvals, want 2 and 1", quoted, approved)
	}
}

// golden compares a transcript with the one on file.
func golden(t *testing.T, name, got string) {
	t.Helper()
	gaugetest.Golden(t, filepath.Join("testdata", "transcripts", name+".txt"), []byte(got))
}
