package browser_test

import (
	"bufio"
	"context"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/quote/gaugetest"
)

// slow is a store that takes longer over a read than the person's browser waits.
type slow struct {
	browser.Store
	asked chan string
}

func (s slow) wait(ctx context.Context, what string) error {
	s.asked <- what
	<-ctx.Done()
	return ctx.Err()
}

func (s slow) Threads(ctx context.Context, _ chat.PersonID, _ bool) ([]browser.Thread, error) {
	return nil, s.wait(ctx, "threads")
}

func (s slow) Posts(ctx context.Context, _ chat.ThreadID) ([]browser.Stored, error) {
	return nil, s.wait(ctx, "posts")
}

func (s slow) File(ctx context.Context, _ chat.ThreadID, _ string, _ int) (chat.File, error) {
	return chat.File{}, s.wait(ctx, "file")
}

// A browser that goes away while a page is made is no fault of the desk's, and not logged as one.
func TestGoneBrowserIsNoFault(t *testing.T) {
	log := &gaugetest.Log{}
	store := slow{browser.NewMemory(), make(chan string)}
	t.Run("requests", func(t *testing.T) { // the desk has answered them all when this has ended
		d := open(t, browser.Options{Store: store, Log: slog.New(slog.NewTextHandler(log, nil))}, nil)
		mara := sit(t, d, "Mara")
		th, err := d.OpenThread(t.Context(), "k", "k", mara.ID())
		if err != nil {
			t.Fatal(err)
		}
		c, at := plain(t, d, mara), d.URL()+mara.Path()
		for what, path := range map[string]string{"threads": "", "posts": "t/" + strings.TrimPrefix(string(th), "browser:"),
			"file": "file/x.png?n=0&post=p&thread=" + string(th)} {
			ctx, leave := context.WithCancel(t.Context())
			req, err := http.NewRequestWithContext(ctx, "GET", at+path, nil)
			if err != nil {
				t.Fatal(err)
			}
			go func() {
				if asked := <-store.asked; asked != what {
					t.Errorf("%s were read, not %s", asked, what)
				}
				leave()
			}()
			if res, err := c.Do(req); err == nil {
				res.Body.Close()
				t.Errorf("%s: %s", what, res.Status)
			}
		}
	})
	if strings.Contains(log.String(), "level=ERROR") {
		t.Errorf("logged:\n%s", log)
	}
}

// A browser keeps few connections for one host, so the desk gives its pages few streams: the others are told to look again
// themselves, and have one as soon as one is free.
func TestFewStreamsForOneBrowser(t *testing.T) {
	d := open(t, browser.Options{}, nil)
	mara, ilo := sit(t, d, "Mara"), sit(t, d, "Ilo")
	stream := func(c *http.Client, path string) (status int, leave func()) {
		t.Helper()
		ctx, cancel := context.WithCancel(t.Context())
		req, err := http.NewRequestWithContext(ctx, "GET", d.URL()+path+"events", nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := c.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		if res.StatusCode == http.StatusOK {
			if _, err := bufio.NewReader(res.Body).ReadString('\n'); err != nil {
				t.Error(err)
			}
		}
		return res.StatusCode, func() { cancel(); _, _ = io.Copy(io.Discard, res.Body); res.Body.Close() }
	}
	// Two seats in one browser share its streams; another browser has its own.
	one, other := plain(t, d, nil), plain(t, d, nil)
	for _, name := range []string{"Mara", "Ilo"} {
		request(t, one, "POST", d.URL()+"/seat", "role=client&name="+name, nil)
	}
	request(t, other, "POST", d.URL()+"/seat", "role=client&name=Mara", nil)
	var leave []func()
	for i, path := range []string{mara.Path(), ilo.Path(), mara.Path()} {
		status, off := stream(one, path)
		if leave = append(leave, off); status != http.StatusOK {
			t.Fatalf("stream %d: %d", i+1, status)
		}
	}
	if status, _ := stream(one, ilo.Path()); status != http.StatusNoContent {
		t.Errorf("a fourth stream: %d", status)
	}
	status, off := stream(other, mara.Path())
	if off(); status != http.StatusOK {
		t.Errorf("another browser's stream: %d", status)
	}
	leave[1]()
	free := http.StatusNoContent
	for until := time.Now().Add(5 * time.Second); free != http.StatusOK && time.Now().Before(until); time.Sleep(10 * time.Millisecond) {
		free, off = stream(one, ilo.Path())
	}
	if off(); free != http.StatusOK {
		t.Errorf("after one was closed: %d", free)
	}
	leave[0]()
	leave[2]()
}

// Times stand in the studio's zone, as the words beside them have them, wherever the program runs.
func TestTimesAreTheStudios(t *testing.T) {
	at := time.Date(2026, 11, 30, 23, 15, 0, 0, time.UTC)
	d := open(t, browser.Options{Zone: time.FixedZone("studio", 2*3600), Now: func() time.Time { return at }}, nil)
	mara := sit(t, d, "Mara")
	th, err := d.OpenThread(t.Context(), "k", "k", mara.ID())
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Put(t.Context(), chat.Post{Key: "p", Thread: th, Text: "x"}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"", "t/" + strings.TrimPrefix(string(th), "browser:")} {
		if _, page := request(t, plain(t, d, mara), "GET", d.URL()+mara.Path()+path, "", nil); !strings.Contains(page, ">1 Dec 01:15</time>") {
			t.Errorf("%q does not show 1 Dec 01:15:\n%s", path, page)
		}
	}
}
