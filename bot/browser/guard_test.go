package browser_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// open runs a desk until the test ends.
func open(t *testing.T, o browser.Options, h chat.Handler, cmds ...chat.Command) *browser.Desk {
	t.Helper()
	if o.Listen == "" {
		o.Listen = "127.0.0.1:0"
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	d, err := browser.New(o)
	if err != nil {
		t.Fatal(err)
	}
	if h == nil {
		h = func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{}, nil }
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx, cmds, h) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("run: %v", err)
		}
	})
	return d
}

func sit(t *testing.T, d *browser.Desk, name string) *browsertest.Peer {
	t.Helper()
	p, err := browsertest.Client(t.Context(), d.URL(), name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// plain is a client with a peer's cookies, for requests that no peer makes.
func plain(t *testing.T, d *browser.Desk, p *browsertest.Peer) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	if p != nil {
		u, err := url.Parse(d.URL() + p.Path())
		if err != nil {
			t.Fatal(err)
		}
		jar.SetCookies(u, p.Cookies())
	}
	return &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func request(t *testing.T, c *http.Client, method, url, body string, change func(*http.Request)) (*http.Response, string) {
	t.Helper()
	// A stream opened by mistake would never end; this bounds a failing test.
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if change != nil {
		change(req)
	}
	res, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(raw)
}

func TestNeedsPassphraseBeyondThisMachine(t *testing.T) {
	for _, o := range []browser.Options{
		{Listen: "0.0.0.0:0"}, {Listen: ":0"}, {Listen: "[::]:0"}, {Listen: "192.168.1.4:0"},
		{Listen: "127.0.0.1:0", Hosts: []string{"desk.example"}},
	} {
		if d, err := browser.New(o); err == nil {
			d.Close()
			t.Errorf("%s %v without a passphrase was accepted", o.Listen, o.Hosts)
		} else if !strings.Contains(err.Error(), "passphrase") {
			t.Errorf("%s: %v doesn't say what is missing", o.Listen, err)
		}
	}
	for _, listen := range []string{"127.0.0.1:0", "127.9.8.7:0", "localhost:0"} {
		d, err := browser.New(browser.Options{Listen: listen})
		if err != nil {
			t.Errorf("%s: %v", listen, err)
			continue
		}
		d.Close()
	}
	if _, err := browser.New(browser.Options{Listen: "8467"}); err == nil {
		t.Error("an address without a host was accepted")
	}
}

func TestForeignRequestsAreRefused(t *testing.T) {
	var acts int
	d := open(t, browser.Options{}, func(context.Context, chat.Incoming) (chat.Reply, error) { acts++; return chat.Reply{}, nil },
		chat.Command{Name: "ping", Summary: "x"}, chat.Command{Name: "shelf", Summary: "x", Studio: true})
	mara := sit(t, d, "Mara")
	c := plain(t, d, mara)
	_, page := request(t, c, "GET", d.URL()+mara.Path(), "", nil)
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)[1]
	act := func(token string) string {
		return url.Values{"token": {token}, "act": {"x"}, "kind": {"command"}, "name": {"ping"}}.Encode()
	}
	for _, bad := range []struct {
		what, token string
		change      func(*http.Request)
	}{
		{"no token", "", nil},
		{"a wrong token", token[1:] + "A", nil},
		{"another origin", token, func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") }},
		{"another site", token, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }},
		{"another name for this machine", token, func(r *http.Request) { r.Host = "elsewhere.example:8467" }},
		{"no cookie", token, func(r *http.Request) { r.Header.Del("Cookie"); r.URL.Path = "/as/ilo/act" }},
	} {
		if res, _ := request(t, c, "POST", d.URL()+mara.Path()+"act", act(bad.token), bad.change); res.StatusCode < 400 {
			t.Errorf("%s was accepted: %s", bad.what, res.Status)
		}
	}
	for _, host := range []string{"elsewhere.example:8467", "elsewhere.example", "192.168.1.4:8467", "localhost.elsewhere.example"} {
		if res, _ := request(t, c, "GET", d.URL()+"/", "", func(r *http.Request) { r.Host = host }); res.StatusCode != http.StatusMisdirectedRequest {
			t.Errorf("a desk of this machine answers to %s: %s", host, res.Status)
		}
	}
	for _, host := range []string{"localhost:8467", "LOCALHOST", "127.0.0.1", "[::1]:8467"} {
		if res, _ := request(t, c, "GET", d.URL()+"/", "", func(r *http.Request) { r.Host = host }); res.StatusCode != http.StatusOK {
			t.Errorf("a desk of this machine doesn't answer to %s: %s", host, res.Status)
		}
	}
	// The studio's commands aren't offered to a client, nor taken from one who asks all the same.
	body := url.Values{"token": {token}, "act": {"x"}, "kind": {"command"}, "name": {"shelf"}}.Encode()
	if res, _ := request(t, c, "POST", d.URL()+mara.Path()+"act", body, nil); res.StatusCode != http.StatusBadRequest {
		t.Errorf("a client's studio command: %s", res.Status)
	}
	if acts != 0 {
		t.Fatalf("%d refused acts reached the handler", acts)
	}
	if res, _ := request(t, c, "POST", d.URL()+mara.Path()+"act", act(token), func(r *http.Request) {
		r.Header.Set("Origin", d.URL())
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}); res.StatusCode != http.StatusSeeOther || acts != 1 {
		t.Errorf("the page's own act: %s, %d acts", res.Status, acts)
	}
}

func TestHeaders(t *testing.T) {
	d := open(t, browser.Options{}, nil)
	res, _ := request(t, plain(t, d, nil), "POST", d.URL()+"/seat", "role=client&name=Mara", nil)
	cookie := res.Header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/as/mara/"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("cookie %q lacks %s", cookie, want)
		}
	}
	mara := sit(t, d, "Mara")
	res, page := request(t, plain(t, d, mara), "GET", d.URL()+mara.Path(), "", nil)
	if got := res.Header.Get("Content-Security-Policy"); !strings.HasPrefix(got, "default-src 'self';") || strings.Contains(got, "unsafe") {
		t.Errorf("policy %q", got)
	}
	if res.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Error("no nosniff")
	}
	for _, bad := range []string{"<style", " style=", "onclick", "http://", "https://"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
}

func TestForgedCookies(t *testing.T) {
	d := open(t, browser.Options{}, nil)
	mara := sit(t, d, "Mara")
	for _, path := range []string{"/as/ilo/", "/as/studio/"} {
		res, _ := request(t, plain(t, d, nil), "GET", d.URL()+path, "", func(r *http.Request) { r.AddCookie(mara.Cookies()[0]) })
		if res.StatusCode != http.StatusSeeOther {
			t.Errorf("mara's cookie opens %s: %s", path, res.Status)
		}
	}
	c := *mara.Cookies()[0]
	c.Value = "e" + c.Value[1:len(c.Value)-2] + "xx"
	res, _ := request(t, plain(t, d, nil), "GET", d.URL()+mara.Path(), "", func(r *http.Request) { r.AddCookie(&c) })
	if res.StatusCode != http.StatusSeeOther {
		t.Errorf("a changed cookie is taken: %s", res.Status)
	}
}

// A seat ends after its time, whatever the browser keeps.
func TestSeatsEnd(t *testing.T) {
	now := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	var ahead atomic.Int64
	d := open(t, browser.Options{Now: func() time.Time { return now.Add(time.Duration(ahead.Load())) }}, nil)
	mara := sit(t, d, "Mara")
	for _, c := range []struct {
		after time.Duration
		want  int
	}{{30*24*time.Hour - time.Minute, http.StatusOK}, {30*24*time.Hour + time.Minute, http.StatusSeeOther}} {
		ahead.Store(int64(c.after))
		res, _ := request(t, plain(t, d, nil), "GET", d.URL()+mara.Path(), "", func(r *http.Request) { r.AddCookie(mara.Cookies()[0]) })
		if res.StatusCode != c.want {
			t.Errorf("%s after it was given, the seat's page says %s", c.after, res.Status)
		}
	}
}

func TestStudioNameIsTaken(t *testing.T) {
	d := open(t, browser.Options{Studio: "Harbour Lane Prop Works"}, nil)
	for _, name := range []string{"Studio", "harbour lane prop works", " stu\u200bdio ", "", "\u200b", "...", strings.Repeat("x", 41)} {
		if p, err := browsertest.Client(t.Context(), d.URL(), name); err == nil {
			t.Errorf("the name %q gives the seat %s", name, p.ID())
		}
	}
}

func TestDrawingsRunNothing(t *testing.T) {
	d := open(t, browser.Options{}, nil)
	mara := sit(t, d, "Mara")
	th, err := d.OpenThread(t.Context(), "k", "k", mara.ID())
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range []chat.File{
		{Name: "nest.svg", MIME: "image/svg+xml", Data: []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`)},
		{Name: "page.html", MIME: "text/html", Data: []byte("<script>alert(1)</script>")},
		{Name: "quote \"1\"\r\n.pdf", MIME: "application/pdf", Data: []byte("%PDF-1.7")},
	} {
		if err := d.Put(t.Context(), chat.Post{Key: fmt.Sprint("f", i), Thread: th, Files: []chat.File{f}}); err != nil {
			t.Fatal(err)
		}
		q := url.Values{"thread": {string(th)}, "post": {fmt.Sprint("f", i)}, "n": {"0"}}.Encode()
		res, _ := request(t, plain(t, d, mara), "GET", d.URL()+mara.Path()+"file/x?"+q, "", nil)
		if p := res.Header.Get("Content-Security-Policy"); !strings.HasPrefix(p, "sandbox; default-src 'none'") {
			t.Errorf("%q is served with the policy %q", f.Name, p)
		}
		kind, how := res.Header.Get("Content-Type"), res.Header.Get("Content-Disposition")
		if strings.Contains(kind, "html") || i > 0 && !strings.HasPrefix(how, "attachment") || i == 0 && !strings.HasPrefix(how, "inline") {
			t.Errorf("%q is served as %q, %q", f.Name, kind, how)
		}
		ilo := sit(t, d, "Ilo")
		if res, _ := request(t, plain(t, d, ilo), "GET", d.URL()+ilo.Path()+"file/x?"+q, "", nil); res.StatusCode != http.StatusNotFound {
			t.Errorf("another client gets the file: %s", res.Status)
		}
	}
}

func TestUploadsAreLookedAt(t *testing.T) {
	var got []chat.Incoming
	no := error(nil)
	d := open(t, browser.Options{}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		got = append(got, in)
		return chat.Reply{}, no
	}, chat.Command{Name: "show", Summary: "x", Options: []chat.CommandOption{
		{Name: "picture", Summary: "A picture", Required: true, File: true}, {Name: "words", Summary: "what it is", Required: true}}})
	ctx := t.Context()
	mara := sit(t, d, "Mara")
	th, err := d.OpenThread(ctx, "k", "k", mara.ID())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []chat.File{
		{Name: "a.png", Data: []byte("<html><script>alert(1)</script>")},
		{Name: "a.png", Data: []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>`)},
		{Name: "a.svg", Data: []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>`)},
		{Name: "big.png", Data: append(chattest.PNG(2, 2), make([]byte, d.Limits().Upload)...)},
	} {
		a, err := mara.Send(ctx, th, f)
		if err != nil || a.Refused == "" || a.Sorry {
			t.Errorf("%s of %d bytes: %+v, %v", f.Name, len(f.Data), a, err)
		}
	}
	if a, err := mara.Send(ctx, th); err != nil || a.Refused == "" {
		t.Errorf("nothing at all: %+v, %v", a, err)
	}
	if len(got) != 0 {
		t.Fatalf("refused files reached the handler: %+v", got)
	}
	// What was given with a refused command is kept, the file too.
	pic := chat.File{Name: `C:\fakepath\moth <1>.png`, Data: chattest.PNG(4, 4)}
	a, err := mara.Do(ctx, th, "show", nil, pic)
	if err != nil || !strings.Contains(a.Refused, "words is needed") {
		t.Fatalf("a command without a needed option: %+v, %v", a, err)
	}
	if a, err = mara.Do(ctx, th, "show", map[string]string{"words": "a moth"}); err != nil || a.Refused != "" {
		t.Fatalf("again with the words alone: %+v, %v", a, err)
	}
	if len(got) != 1 || len(got[0].Files) != 1 || got[0].Files[0].Name != "moth _1_.png" || got[0].Files[0].MIME != "image/png" {
		t.Errorf("arrived as %+v", got)
	}
}

func TestWordsBetweenPeople(t *testing.T) {
	var mu sync.Mutex
	var heard []chat.Incoming
	d := open(t, browser.Options{}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		mu.Lock()
		defer mu.Unlock()
		heard = append(heard, in)
		return chat.Reply{}, errors.New("the handler is at fault") // what people say to each other is kept all the same
	})
	ctx := t.Context()
	mara := sit(t, d, "Mara")
	studio, err := browsertest.Studio(ctx, d.URL())
	if err != nil {
		t.Fatal(err)
	}
	th, err := d.OpenThread(ctx, "k", "k", mara.ID())
	if err != nil {
		t.Fatal(err)
	}
	if a, err := mara.Say(ctx, th, "Is *matt* <b>black</b> possible?"); err != nil || a.Refused != "" {
		t.Fatalf("%+v, %v", a, err)
	}
	if _, err := mara.Again(ctx); err != nil {
		t.Fatal(err)
	}
	ps, by, err := studio.Posts(ctx, th)
	if err != nil || len(ps) != 1 || ps[0].Text != "Is *matt* <b>black</b> possible?" || by[0] != mara.ID() {
		t.Errorf("the studio reads %+v by %v, %v", ps, by, err)
	}
	mu.Lock()
	defer mu.Unlock()
	for _, in := range heard {
		if in.Said != "Is *matt* <b>black</b> possible?" || in.Thread != th || in.Person.ID != mara.ID() || in.ID == "" || in.ID != heard[0].ID {
			t.Errorf("the handler hears %+v", in)
		}
	}
	if len(heard) == 0 {
		t.Error("the handler hears nothing")
	}
}

// A form whose page outlives the desk is still taken, and its answers aren't lost when refused.
func TestFormOutlivesDesk(t *testing.T) {
	store := browser.NewMemory()
	form := chat.Form{Action: "m", Title: "M", Fields: []chat.Field{{Key: "head", Label: "Head"}, {Key: "notes", Label: "Notes", Long: true}}}
	d := open(t, browser.Options{Store: store}, func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{Form: &form}, nil },
		chat.Command{Name: "ping", Summary: "x"})
	mara := sit(t, d, "Mara")
	if a, err := mara.Do(t.Context(), "", "ping", nil); err != nil || a.Form == nil {
		t.Fatalf("%+v, %v", a, err)
	}
	c := plain(t, d, mara)
	_, page := request(t, c, "GET", d.URL()+mara.Path(), "", nil)
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)[1]

	next := open(t, browser.Options{Store: store}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		return chat.Reply{}, &chat.Refusal{Say: "head needs a unit"}
	})
	body := url.Values{"token": {token}, "act": {"x"}, "kind": {"form"}, "name": {"m"}, "card": {"gone"},
		"v.head": {"57"}, "v.notes": {"two\r\nlines"}}.Encode()
	res, _ := request(t, plain(t, next, nil), "POST", next.URL()+mara.Path()+"act", body, func(r *http.Request) { r.AddCookie(mara.Cookies()[0]) })
	if res.StatusCode != http.StatusSeeOther {
		t.Fatalf("the old page's form: %s", res.Status)
	}
	_, page = request(t, plain(t, next, nil), "GET", next.URL()+mara.Path(), "", func(r *http.Request) { r.AddCookie(mara.Cookies()[0]) })
	for _, want := range []string{"head needs a unit", `value="57"`, "two\nlines</textarea>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

func TestEventsReachOnlyThoseWhoSee(t *testing.T) {
	d := open(t, browser.Options{}, nil)
	ctx := t.Context()
	mara, ilo := sit(t, d, "Mara"), sit(t, d, "Ilo")
	th, err := d.OpenThread(ctx, "k", "k", mara.ID())
	if err != nil {
		t.Fatal(err)
	}
	events := "events?thread=" + url.QueryEscape(string(th))
	if res, _ := request(t, plain(t, d, ilo), "GET", d.URL()+ilo.Path()+events, "", nil); res.StatusCode != http.StatusNotFound {
		t.Errorf("another client follows the thread: %s", res.Status)
	}
	req, err := http.NewRequestWithContext(ctx, "GET", d.URL()+mara.Path()+events, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := plain(t, d, mara).Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if got := res.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Fatalf("events come as %q", got)
	}
	lines := bufio.NewScanner(res.Body)
	lines.Scan() // the stream is open once its first line is there
	if err := d.Put(ctx, chat.Post{Key: "p", Thread: th, Text: "x"}); err != nil {
		t.Fatal(err)
	}
	for lines.Scan() {
		if lines.Text() == "event: changed" {
			return
		}
	}
	t.Errorf("the stream ended without a change: %v", lines.Err())
}
