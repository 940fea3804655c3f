package main

import (
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	ical "github.com/emersion/go-ical"

	"benchbell/bot/browser/browsertest"
)

var printedCalendar = regexp.MustCompile(`http\S+/calendar/[a-z2-7]{26}\.ics`)

// A link to a calendar is fetched by a program that is signed in nowhere, until it is ended.
func TestCalendarOfTheHouse(t *testing.T) {
	h, who := browserHouse(t, nil)
	h.stdout.Await(t, printedURL)
	ctx, stop := context.WithTimeout(t.Context(), deadlock)
	defer stop()
	client := who.client.(*browsertest.Peer)
	thread := answered2(t)(client.Do(ctx, "", "commission", map[string]string{"set": "forearm-cuff"})).Thread
	h.settle()
	a := answered2(t)(client.Do(ctx, thread, "calendar", nil))
	at := printedCalendar.FindString(a.Text)
	if at == "" || len(a.Files) != 1 {
		t.Fatalf("no calendar in %q", a.Text)
	}
	get := func(at, has string) *http.Response {
		t.Helper()
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, at, nil)
		if err != nil {
			t.Fatal(err)
		}
		if has != "" {
			req.Header.Set("If-None-Match", has)
		}
		r, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { r.Body.Close() })
		return r
	}
	r := get(at, "")
	if r.StatusCode != http.StatusOK || r.Header.Get("Content-Type") != "text/calendar; charset=utf-8" {
		t.Fatalf("%s, %s", r.Status, r.Header.Get("Content-Type"))
	}
	if _, err := ical.NewDecoder(r.Body).Decode(); err != nil {
		t.Errorf("another program cannot read it: %v", err)
	}
	if again := get(at, r.Header.Get("ETag")); again.StatusCode != http.StatusNotModified {
		t.Errorf("a calendar that has not changed is sent again: %s", again.Status)
	}
	for what, wrong := range map[string]string{"another secret": strings.Replace(at, "/calendar/", "/calendar/x", 1), "no ending": strings.TrimSuffix(at, ".ics"),
		"the secret as a sign-in link": strings.TrimSuffix(strings.Replace(at, "/calendar/", "/enter/", 1), ".ics")} {
		r := get(wrong, "")
		if text, err := io.ReadAll(r.Body); r.StatusCode == http.StatusOK && !strings.Contains(string(text), "opens nothing") || err != nil {
			t.Errorf("%s: %s: %s", what, r.Status, text)
		}
	}
	answered2(t)(client.Press(ctx, thread, "end-calendar/C0001"))
	if r := get(at, ""); r.StatusCode != http.StatusNotFound {
		t.Errorf("an ended link: %s", r.Status)
	}
}
