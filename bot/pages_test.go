package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"benchbell/bot/browser/browsertest"
)

// The program shows the board to the studio and to nobody else, and an open page hears of what happens in the shop.
func TestBoardOfTheHouse(t *testing.T) {
	h, who := browserHouse(t, nil)
	url := strings.TrimPrefix(h.stdout.Await(t, printedURL), "the desk is at ")
	ctx, stop := context.WithTimeout(t.Context(), deadlock)
	defer stop()
	get := func(p any, path string) *http.Response {
		t.Helper()
		peer := p.(*browsertest.Peer)
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, url+peer.Path()+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range peer.Cookies() {
			req.AddCookie(c)
		}
		r, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { r.Body.Close() })
		return r
	}
	for path, says := range map[string]string{"today": "Nothing is at the bench", "curing": "Nothing dries", "board.css": "hatched is wet"} {
		r := get(who.studio, path)
		raw, err := io.ReadAll(r.Body)
		if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(strings.ToLower(string(raw)), strings.ToLower(says)) {
			t.Errorf("%s: %s, %v: %s", path, r.Status, err, raw)
		}
		if r := get(who.client, path); r.StatusCode != http.StatusNotFound {
			t.Errorf("a client is shown %s: %s", path, r.Status)
		}
	}
	lines := bufio.NewScanner(get(who.studio, "events?page=today").Body)
	if !lines.Scan() {
		t.Fatal("the stream says nothing")
	}
	began := time.Now()
	if _, err := who.client.Do(ctx, "", "commission", map[string]string{"set": "forearm-cuff"}); err != nil {
		t.Fatal(err)
	}
	for lines.Scan() {
		if lines.Text() == "event: changed" {
			t.Logf("heard after %s", time.Since(began))
			return
		}
	}
	t.Error("nothing is heard")
}
