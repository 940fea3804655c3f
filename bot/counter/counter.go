// Package counter is the shop's counter, where clients are served: one page for each commission, which leads its client from the first
// choice to the day it is collected. At each moment it asks for one thing, says what is next, and shows what was agreed.
//
// It refuses nothing of its own: what is pressed is an act of the shop, and a refusal stands beside what it refuses, with what was
// typed, until it is mended. It computes no quote but the prices that sets begin at. What always holds: who has no such commission, and
// who asks for somebody else's, are told the same; a press sent twice is one act; the page works without script, and with the desk's
// follows what happens.
package counter

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
)

//go:embed pages assets
var files embed.FS

var pages = template.Must(template.New("").Funcs(template.FuncMap{"once": rand.Text, "capital": quote.Capital}).ParseFS(files, "pages/*.html"))

// ErrNone is wrapped where there is no such page for who asks.
var ErrNone = errors.New("there is no such page for them")

// Rules are the shop's, as far as the counter needs them; *shop.Shop has them.
type Rules interface {
	Do(ctx context.Context, c shop.Call) (shop.Outcome, error)
	See(ctx context.Context, who shop.Person, question shop.Act) (any, error)
	Offered() []shop.Set
	Set(name string) (shop.Set, bool)
	Card(set string) ([]byte, bool)
	Finishes(items []quote.Item) []quote.Finish
	Describe(it quote.Item) string
}

var _ Rules = (*shop.Shop)(nil)

// Options of a counter. Rules, Studio and Say are needed.
type Options struct {
	Rules  Rules
	Studio func() quote.Studio // the settings as they are now
	Say    func(*shop.Refusal) string
	// Picture is a set of the library drawn, HowTo how a measurement is taken; PNG, nil where there is none.
	Picture, HowTo func(name string) []byte
	// Reckon works out what a set would cost, engine.Reckon; nil: sets are shown without what they begin at.
	Reckon func(ctx context.Context, s quote.Snapshot) (quote.Quote, error)
	Now    func() time.Time // default time.Now
	Log    *slog.Logger     // default: none
}

// Counter makes the pages. It is safe for concurrent use.
type Counter struct {
	o     Options
	notes notes
	from  prices
}

// New makes a counter.
func New(o Options) *Counter {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	c := &Counter{o: o}
	c.notes.by = map[string]note{}
	return c
}

// Assets are the style and the script of the pages.
func Assets() fs.FS {
	sub, err := fs.Sub(files, "assets")
	if err != nil {
		panic(err) // the folder is built in
	}
	return sub
}

// Visit is a client at the page of a commission, and what the page is made with.
type Visit struct {
	Person shop.Person
	Studio string // its name
	Of     string // the commission's number
	Part   string // what is asked for of the page; empty: the page itself
	Base   string // address of the seat, with a slash at its end
	Path   string // address of the page
	Assets string // address of the style and the script, with a slash at its end
	Token  string // of every form
	Events string // stream that says when to look again
	Thread string // of the conversation, and its address; empty: they write elsewhere
	Words  string
	Said   func(ctx context.Context, most int) ([]Said, error)
}

// Said is something that somebody wrote in the thread.
type Said struct {
	By    string
	Own   bool
	At    time.Time
	Text  string
	Files int
}

// Serve answers the page, a part of it, or what is pressed on it.
func (c *Counter) Serve(w http.ResponseWriter, r *http.Request, v Visit) error {
	err := c.serve(w, r, v)
	if no, isNo := refusal(err); isNo && (stranger(no) || no.Kind == shop.NoPictures || no.Kind == shop.NoRevision) {
		return fmt.Errorf("%w: %w", ErrNone, no)
	}
	return err
}

func (c *Counter) serve(w http.ResponseWriter, r *http.Request, v Visit) error {
	kind, name, _ := strings.Cut(v.Part, "/")
	switch {
	case v.Part == "" && r.Method == http.MethodPost:
		return c.press(w, r, v)
	case v.Part == "":
		return c.page(w, r, v)
	}
	// Parts are of a commission that is theirs, whatever is in them.
	o, err := c.sheet(r.Context(), v)
	if err != nil {
		return err
	}
	switch kind {
	case "check":
		return check(w, r)
	case "set":
		if set, ok := c.o.Rules.Set(strings.TrimSuffix(name, ".png")); ok {
			if png, ok := c.o.Rules.Card(set.Name); ok {
				return picture(w, png)
			}
			return picture(w, c.o.Picture(set.Name))
		}
	case "how":
		return picture(w, c.o.HowTo(strings.TrimSuffix(name, ".png")))
	case "photo":
		n, _ := strconv.Atoi(name)
		return c.photo(w, r, v, n)
	case "quote":
		n, _ := strconv.Atoi(strings.TrimSuffix(name, ".pdf"))
		return c.paper(w, r, v, o, n)
	}
	return ErrNone
}

// see asks the shop something.
func see[O any](ctx context.Context, c *Counter, v Visit, q shop.Act) (O, error) {
	x, err := c.o.Rules.See(ctx, v.Person, q)
	o, ok := x.(O)
	if err == nil && !ok {
		err = fmt.Errorf("the shop answers %T with %T", q, x)
	}
	return o, err
}

func (v Visit) of() shop.Of { return shop.On(quote.CommissionID(v.Of)) }

func (c *Counter) sheet(ctx context.Context, v Visit) (shop.OrderSheet, error) {
	return see[shop.OrderSheet](ctx, c, v, shop.Ordered{Of: v.of()})
}

// kept is how long a browser keeps a drawing: it changes with the program alone, or with a set of the studio's own.
const kept = "private, max-age=3600"

func picture(w http.ResponseWriter, png []byte) error {
	if len(png) == 0 {
		return ErrNone
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", kept)
	w.Write(png) // fails where the browser has gone away
	return nil
}

func (c *Counter) photo(w http.ResponseWriter, r *http.Request, v Visit, n int) error {
	f, err := see[shop.File](r.Context(), c, v, shop.Photograph{Of: v.of(), N: n})
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Security-Policy", "sandbox; default-src 'none'")
	h.Set("Content-Type", f.MIME) // one of those that are taken as pictures
	h.Set("Cache-Control", kept)
	w.Write(f.Data)
	return nil
}

func (c *Counter) paper(w http.ResponseWriter, r *http.Request, v Visit, o shop.OrderSheet, n int) error {
	p, err := see[shop.QuotePaper](r.Context(), c, v, shop.Paper{OfRevision: shop.OnRevision(o.Commission.ID, n)})
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", fmt.Sprintf(`inline; filename="%s"`, p.Name))
	w.Write(p.PDF)
	return nil
}

// render writes a page once it is made.
func render(w http.ResponseWriter, view any) error {
	var out bytes.Buffer
	if err := pages.ExecuteTemplate(&out, "page", view); err != nil {
		return fmt.Errorf("a client's page: %w", err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(out.Bytes())
	return nil
}

// revision is a short hash of what is shown, by which the desk's script knows what changed.
func revision(v any) string {
	raw, err := json.Marshal(v)
	if err != nil {
		return rand.Text() // shown anew each time
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}
