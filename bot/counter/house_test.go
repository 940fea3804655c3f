package counter_test

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/counter"
	"benchbell/bot/desk"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/settings"
)

var boss = chat.Person{ID: browser.StudioID, Name: "Studio", Studio: true}

// house is a real shop on a ledger file, with its counter in a browser desk, on a clock of its own.
type house struct {
	t    *testing.T
	s    *shop.Shop
	led  *ledger.Ledger
	desk *browser.Desk
	acts int

	mu sync.Mutex
	at time.Time
}

func (h *house) now() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.at
}

// wait lets time pass, and what is due happens.
func (h *house) wait(d time.Duration) {
	h.t.Helper()
	h.mu.Lock()
	h.at = h.at.Add(d)
	h.mu.Unlock()
	if err := h.s.Due(h.t.Context()); err != nil {
		h.t.Fatal(err)
	}
}

// studio is the demo's at little effort.
var studio = sync.OnceValue(func() quote.Studio {
	st := settings.Demo()
	st.Evaluations, st.Schedules, st.Runs = 200, 8, 20
	return st
})

// drawing stands for a set or a measurement drawn.
var drawing = []byte("\x89PNG\r\n\x1a\ndrawn")

func newHouse(t *testing.T, options ...func(*counter.Options)) *house {
	t.Helper()
	led, err := ledger.Open(t.Context(), filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { led.Close() })
	lib, err := shop.Library()
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, led: led, at: time.Date(2026, 11, 2, 8, 30, 0, 0, time.UTC)}
	h.s = shop.New(shop.Config{Ledger: led, Studio: studio, Library: lib, Now: h.now, Fits: engine.Fits,
		Place: floor.Place, Plan: floor.Plan, Look: floor.Look, WhatIf: floor.WhatIf})
	words := desk.New(desk.Config{Ledger: led, Shop: h.s, Studio: studio, Now: h.now})
	o := counter.Options{Rules: h.s, Studio: studio, Say: words.Say, Now: h.now,
		Picture: func(string) []byte { return drawing }, HowTo: func(string) []byte { return drawing }}
	for _, change := range options {
		change(&o)
	}
	c := counter.New(o)
	own := &browser.Own{Title: "Your page", Assets: counter.Assets(), Serve: func(w http.ResponseWriter, r *http.Request, g browser.Guest) error {
		err := c.Serve(w, r, counter.Visit{Person: g.Person, Studio: g.Studio, Of: g.Of, Part: g.Part, Base: g.Base, Path: g.Path, Assets: g.Assets, Token: g.Token,
			Events: g.Events, Thread: string(g.Thread), Words: g.Words, Said: func(ctx context.Context, most int) (out []counter.Said, err error) {
				said, err := g.Said(ctx, most)
				for _, x := range said {
					out = append(out, counter.Said(x))
				}
				return out, err
			}})
		if err != nil && strings.Contains(err.Error(), counter.ErrNone.Error()) {
			return fmt.Errorf("%w: %w", browser.ErrUnknown, err)
		}
		return err
	}}
	zone, err := time.LoadLocation(studio().Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	if h.desk, err = browser.New(browser.Options{Listen: "127.0.0.1:0", Zone: zone, Log: slog.New(slog.DiscardHandler),
		Studio: "The Yew Lane Studio", Own: own, Now: h.now}); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- h.desk.Run(ctx, nil, func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{}, nil })
	}()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return h
}

// do does an act that must be allowed.
func (h *house) do(who chat.Person, a shop.Act) shop.Outcome {
	h.t.Helper()
	h.acts++
	o, err := h.s.Do(h.t.Context(), shop.Call{ID: fmt.Sprint("act ", h.acts), Person: who, Act: a})
	if err != nil {
		h.t.Fatalf("%T: %v", a, err)
	}
	return o
}

// answer gives a worker's answer to the open request of a commission.
func (h *house) answer(id quote.CommissionID) {
	h.t.Helper()
	r, rev := h.asked(id)
	q, err := engine.Compute(h.t.Context(), rev.Snapshot, nil)
	if err != nil {
		h.t.Fatal(err)
	}
	h.take(jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
}

func (h *house) take(a jobs.Answer) {
	h.t.Helper()
	if err := h.s.Take(h.t.Context(), a); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) asked(id quote.CommissionID) (r ledger.Request, rev ledger.Revision) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) error {
		open, err := t.OverdueRequests(h.now().AddDate(1, 0, 0))
		i := slices.IndexFunc(open, func(r ledger.Request) bool { return r.Commission == id })
		if err != nil || i < 0 {
			return fmt.Errorf("%s waits for no answer (%w)", id, err)
		}
		r = open[i]
		rev, err = t.Revision(id, r.Revision)
		return err
	})
	return r, rev
}

func (h *house) in(f func(*ledger.Tx) error) {
	h.t.Helper()
	if err := h.led.Tx(h.t.Context(), f); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) commission(id quote.CommissionID) (c ledger.Commission) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) (err error) {
		c, err = t.Commission(id)
		return err
	})
	return c
}

// items are what is ordered.
func (h *house) items(id quote.CommissionID) (out []quote.Item) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) (err error) {
		out, err = t.Items(id)
		return err
	})
	return out
}

// count is how often something happened to a commission.
func (h *house) count(id quote.CommissionID, what string) (n int) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) error {
		es, err := t.Events(id)
		for _, e := range es {
			if e.What == what {
				n++
			}
		}
		return err
	})
	return n
}

// open begins a commission of a client who is at the desk.
func (h *house) open(p *person) quote.CommissionID {
	h.t.Helper()
	id := h.do(p.who, shop.Ask{}).(shop.Asked).Commission.ID
	if _, err := h.desk.OpenThread(h.t.Context(), string(id), string(id), p.who.ID); err != nil {
		h.t.Fatal(err)
	}
	return id
}

// person is a client at the desk with a browser without script.
type person struct {
	t    *testing.T
	h    *house
	c    *http.Client
	who  chat.Person
	base string
	at   string // the address of the page that was opened last
	doc  *node  // that page
}

func (h *house) sit(role, name string) *person {
	h.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		h.t.Fatal(err)
	}
	p := &person{t: h.t, h: h, c: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }},
		who: chat.Person{ID: chat.PersonID("browser:" + strings.ToLower(name)), Name: name}}
	p.base = p.post("/seat", url.Values{"role": {role}, "name": {name}}, http.StatusSeeOther)
	return p
}

// get is what an address answers.
func (p *person) get(path string, want int) string {
	p.t.Helper()
	r, err := p.c.Get(p.h.desk.URL() + path)
	if err != nil {
		p.t.Fatal(err)
	}
	defer r.Body.Close()
	raw, err := io.ReadAll(r.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	if r.StatusCode != want {
		p.t.Fatalf("%s: %s, want %d: %s", path, r.Status, want, raw)
	}
	return string(raw)
}

func (p *person) post(path string, v url.Values, want int) (to string) {
	p.t.Helper()
	r, err := p.c.PostForm(p.h.desk.URL()+path, v)
	if err != nil {
		p.t.Fatal(err)
	}
	defer r.Body.Close()
	raw, err := io.ReadAll(r.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	if r.StatusCode != want {
		p.t.Fatalf("%s: %s, want %d: %s", path, r.Status, want, raw)
	}
	return r.Header.Get("Location")
}

// open opens an address; what it says is returned.
func (p *person) open(path string) string {
	p.t.Helper()
	path, _, _ = strings.Cut(path, "#")
	page := p.get(path, http.StatusOK)
	p.at, p.doc = path, p.parse(page)
	if len(page) > 300_000 {
		p.t.Errorf("%s has %d bytes", path, len(page))
	}
	return p.says()
}

// page opens the page of a commission.
func (p *person) page(id quote.CommissionID) string {
	p.t.Helper()
	return p.open(p.base + "order/" + string(id))
}

// node is an element of a page; one without a name is a piece of text.
type node struct {
	name string
	attr map[string]string
	text string
	kids []*node
}

// parse reads a page. The pages close every element, so that a lenient reader of XML reads them as a browser does.
func (p *person) parse(page string) *node {
	p.t.Helper()
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.Entity = false, xml.HTMLEntity
	open := []*node{{name: "page"}}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			p.t.Fatalf("%v in %s", err, page)
		}
		at := open[len(open)-1]
		switch x := tok.(type) {
		case xml.StartElement:
			n := &node{name: x.Name.Local, attr: map[string]string{}}
			for _, a := range x.Attr {
				n.attr[a.Name.Local] = a.Value
			}
			at.kids = append(at.kids, n)
			open = append(open, n)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			at.kids = append(at.kids, &node{text: string(x)})
		}
	}
	return open[0]
}

// walk goes through an element and all in it, but not into one of which f says no.
func walk(n *node, f func(*node) bool) {
	if f(n) {
		for _, k := range n.kids {
			walk(k, f)
		}
	}
}

func attr(n *node, key string) (string, bool) {
	v, ok := n.attr[key]
	return v, ok
}

func has(n *node, key string) bool { _, ok := attr(n, key); return ok }

// says is what the page has to read.
func (p *person) says() string { return textOf(p.doc) }

func textOf(doc *node) string {
	var b strings.Builder
	walk(doc, func(n *node) bool {
		b.WriteString(n.text + " ")
		return n.name != "head"
	})
	return strings.Join(strings.Fields(b.String()), " ")
}

// part is what an element of the page has to read, by its ID.
func (p *person) part(id string) string {
	p.t.Helper()
	said := ""
	walk(p.doc, func(n *node) bool {
		if v, _ := attr(n, "id"); v == id {
			said = textOf(n)
		}
		return true
	})
	return said
}

// form is what the form with a button sends, as a browser would.
func (p *person) form(do string) url.Values {
	p.t.Helper()
	var found url.Values
	walk(p.doc, func(n *node) bool {
		if n.name != "form" || found != nil {
			return true
		}
		v, ours := url.Values{}, false
		walk(n, func(e *node) bool {
			name, _ := attr(e, "name")
			value, _ := attr(e, "value")
			kind, _ := attr(e, "type")
			switch {
			case name == "":
			case e.name == "button":
				ours = ours || name == "do" && value == do
			case e.name == "input" && (kind == "checkbox" || kind == "radio"):
				if has(e, "checked") {
					v.Add(name, value)
				}
			case e.name == "input" && kind != "file":
				ours = ours || name == "do" && value == do
				v.Add(name, value)
			case e.name == "textarea":
				v.Add(name, strings.TrimPrefix(rawText(e), "\n"))
			case e.name == "select":
				v.Add(name, selected(e))
			}
			return true
		})
		if ours {
			v.Set("do", do)
			found = v
		}
		return true
	})
	if found == nil {
		p.t.Fatalf("%s has no form that does %q: %s", p.at, do, p.says())
	}
	return found
}

func rawText(n *node) string {
	var b strings.Builder
	walk(n, func(c *node) bool {
		b.WriteString(c.text)
		return true
	})
	return b.String()
}

func selected(e *node) string {
	first, value, any := "", "", false
	walk(e, func(o *node) bool {
		if o.name != "option" {
			return true
		}
		v, ok := attr(o, "value")
		if !ok {
			v = strings.TrimSpace(rawText(o))
		}
		if !any {
			first, any = v, true
		}
		if has(o, "selected") {
			value = v
		}
		return true
	})
	if value == "" {
		return first
	}
	return value
}

// press fills a form in and sends it, and follows where it leads; what the page says then is returned.
func (p *person) press(do string, fill url.Values) string {
	p.t.Helper()
	v := p.form(do)
	for k, x := range fill {
		v[k] = x
	}
	path, _, _ := strings.Cut(p.at, "?")
	to := p.post(path, v, http.StatusSeeOther)
	return p.open(to)
}

// Measurements of the cuff, as it is asked for.
var body = url.Values{"m.wrist-girth": {"17"}, "m.forearm-girth": {"27"}, "m.elbow-wrist-length": {"26"}}

// quoted leads a client to the quote of a cuff.
func (p *person) quoted() quote.CommissionID {
	p.t.Helper()
	id := p.h.open(p)
	p.page(id)
	p.press("sets", url.Values{"set": {"forearm-cuff"}})
	p.press("many", nil)
	p.press("finish", url.Values{"finish": {studio().Finishes[0].Key}})
	p.press("details", nil)
	p.press("body", body)
	p.press("confirm", nil)
	p.h.answer(id)
	p.page(id)
	return id
}

// fail answers the open request of a commission with a failure.
func (h *house) fail(id quote.CommissionID) {
	h.t.Helper()
	r, _ := h.asked(id)
	h.take(jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Kind: jobs.Failed, Cause: "no such sheet"})
}
