// Package board is the studio's board: pages that answer one question each about the work at hand. Today says what to do now and
// what comes after it, for each maker, and takes the press that says so; Curing says what dries, until when, and what can go on it;
// the page of a step says what it is done to and with and how long it took, and takes what mends that.
// Days says what the coming days bring, and has what is printed: the days for the wall, travellers, labels.
//
// It refuses nothing of its own: what is pressed is an act of the shop, and a refusal stands beside what it refuses. It computes
// no plan and keeps no state but what somebody was just refused or asked. What always holds: a press sent twice is one act; times
// are the studio's; a page works without script, and with the desk's script follows what others do.
package board

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
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
)

//go:embed pages
var files embed.FS

var pages = template.Must(template.New("").Funcs(template.FuncMap{"once": rand.Text, "capital": quote.Capital}).ParseFS(files, "pages/*.html"))

// Rules are the shop's, as far as the board needs them; *shop.Shop has them.
type Rules interface {
	Do(ctx context.Context, c shop.Call) (shop.Outcome, error)
	See(ctx context.Context, who shop.Person, question shop.Act) (any, error)
}

var _ Rules = (*shop.Shop)(nil)

// Board makes the pages. It is safe for concurrent use.
type Board struct {
	rules  Rules
	studio func() quote.Studio
	notes  notes
	shapes shapes
}

// New makes a board of a shop with the settings as they are at each look.
func New(rules Rules, studio func() quote.Studio) *Board {
	return &Board{rules: rules, studio: studio, notes: notes{by: map[string]note{}}}
}

// Visit is somebody of the studio at a page, and what the page is made with: the studio's name, the address of the desk, that of the
// pages with a slash at its end, the token of every form, and the stream that says when to look again.
type Visit struct {
	Person shop.Person
	Studio string
	Desk   string
	Base   string
	Token  string
	Events string
}

// lookAgain is how often an open page is fetched again, in seconds: what is said to the minute is at most that old.
const lookAgain = 30

// frame is what every page has.
type frame struct {
	Visit
	Title string
	Every int
	Zone  *time.Location
	At    time.Time
}

func (b *Board) frame(v Visit, title string, at time.Time) frame {
	zone, err := time.LoadLocation(b.studio().Calendar.Zone)
	if err != nil {
		zone = time.UTC
	}
	return frame{Visit: v, Title: title, Every: lookAgain, Zone: zone, At: at.In(zone)}
}

// Day is the moment of the page, in words.
func (f frame) Day() string { return f.At.Format("Mon 2 Jan, 15:04") }

// see asks the shop something.
func see[O any](ctx context.Context, b *Board, v Visit, q shop.Act) (O, error) {
	x, err := b.rules.See(ctx, v.Person, q)
	o, ok := x.(O)
	if err == nil && !ok {
		err = fmt.Errorf("the shop answers %T with %T", q, x)
	}
	return o, err
}

// do does what was pressed, and says what refused it. It is carried through even if the browser goes away meanwhile.
func (b *Board) do(r *http.Request, v Visit, id string, act shop.Act) (*shop.Refusal, error) {
	_, err := b.rules.Do(context.WithoutCancel(r.Context()), shop.Call{ID: "board " + id, Person: v.Person, Act: act})
	if no := refusalIn(err); no != nil {
		return no, nil
	}
	return nil, err
}

// day asks the shop for the day at the bench.
func (b *Board) day(ctx context.Context, v Visit) (shop.BenchDay, error) {
	return see[shop.BenchDay](ctx, b, v, shop.Day{})
}

// Today answers the page of what is to be done, and does what is pressed on it.
func (b *Board) Today(w http.ResponseWriter, r *http.Request, v Visit) error {
	if r.Method == http.MethodPost {
		return b.press(w, r, v)
	}
	d, err := b.day(r.Context(), v)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	n, _ := b.notes.find(q.Get("note"), v.Person)
	return render(w, "today", b.todayView(v, d, q.Get("for"), n))
}

// Curing answers the page of what dries, and does what is pressed on it.
func (b *Board) Curing(w http.ResponseWriter, r *http.Request, v Visit) error {
	if r.Method == http.MethodPost {
		return b.press(w, r, v)
	}
	d, err := b.day(r.Context(), v)
	if err != nil {
		return err
	}
	n, _ := b.notes.find(r.URL.Query().Get("note"), v.Person)
	return render(w, "curing", b.curingView(v, d, n))
}

// Style answers the style sheet of the pages.
func (b *Board) Style(w http.ResponseWriter, r *http.Request, _ Visit) error {
	http.ServeFileFS(w, r, files, "pages/board.css")
	return nil
}

// press does what a button says, and leads back to the page. What refuses, or asks first, is kept to be shown there.
func (b *Board) press(w http.ResponseWriter, r *http.Request, v Visit) error {
	f := r.PostForm
	of, whose := f.Get("commission"), f.Get("for")
	do := f.Get("do")
	n, err := strconv.Atoi(f.Get("operation"))
	if err != nil && do != "air" { // which is of no operation
		return fmt.Errorf("a form of the board names operation %q: %w", f.Get("operation"), err)
	}
	act, err := actOf(do, shop.OnOperation(quote.CommissionID(of), n), f)
	if err != nil {
		return err
	}
	q := url.Values{}
	if whose != "" {
		q.Set("for", whose)
	}
	to := v.Base + "today"
	switch {
	case strings.HasSuffix(r.URL.Path, "/curing"):
		to = v.Base + "curing"
	case strings.HasSuffix(r.URL.Path, "/step"):
		to = v.Base + "step"
		q.Set("commission", of)
		q.Set("operation", f.Get("operation"))
	}
	no, err := b.do(r, v, do+" "+f.Get("act"), act)
	switch {
	case no != nil:
		spell, _ := strconv.Atoi(f.Get("n")) // of what has none it is 0
		q.Set("note", b.notes.keep(note{Person: string(v.Person.ID), Commission: of, Operation: n, No: no, Do: do, N: spell, Typed: f.Get("typed"), Pieces: f["piece"],
			Celsius: f.Get("celsius"), Humidity: f.Get("humidity")}))
	case err != nil:
		return err
	}
	if len(q) > 0 {
		to += "?" + q.Encode()
	}
	if no != nil {
		to += "#told"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// actOf is the act that a button of the pages stands for.
func actOf(do string, op shop.OfOperation, f url.Values) (shop.Act, error) {
	n, _ := strconv.Atoi(f.Get("n")) // of what has none it is 0
	switch do {
	case "start":
		return shop.Start{OfOperation: op, Ask: true, Seen: f.Get("seen")}, nil
	case "done":
		return shop.Done{OfOperation: op}, nil
	case "pause":
		return shop.Pause{OfOperation: op}, nil
	case "back":
		return shop.TakeBack{OfOperation: op}, nil
	case "rack":
		return shop.RackRest{OfOperation: op}, nil
	case "missed":
		return shop.MissSlot{OfAppointment: shop.OfAppointment{Of: op.Of, N: n}}, nil
	case "correct":
		return shop.CorrectHours{OfOperation: op, Spell: n, Typed: f.Get("typed")}, nil
	case "abrade":
		return shop.Abrade{OfOperation: op, Seen: f.Get("seen")}, nil
	case "air":
		return shop.SayAir{Celsius: f.Get("celsius"), Humidity: f.Get("humidity")}, nil
	case "again":
		return shop.Rework{OfOperation: op, Pieces: f["piece"], Why: f.Get("typed"), Seen: f.Get("seen")}, nil
	}
	return nil, fmt.Errorf("a form of the board does %q, which no button does", do)
}

// refusalIn is the refusal in an error; nil where it is none.
func refusalIn(err error) *shop.Refusal {
	var no *shop.Refusal
	errors.As(err, &no)
	return no
}

// render writes a page once it is made.
func render(w http.ResponseWriter, name string, view any) error {
	var out bytes.Buffer
	if err := pages.ExecuteTemplate(&out, name, view); err != nil {
		return fmt.Errorf("the page %s: %w", name, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(out.Bytes()) // fails where the browser has gone away
	return nil
}

// revision is a short hash of what is shown, by which the desk's script knows the parts that changed.
func revision(v any) string {
	raw, err := json.Marshal(v)
	if err != nil {
		return rand.Text() // shown anew each time
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}
