// Package desk leads the conversation: what people do in chat is read as acts of the shop, and what comes of them is
// worded: replies, posts, forms, buttons, from the first message to the day a commission is collected.
//
// It knows no transport, no queue program and no rule: package shop decides. The table in table.go says of each act how it
// comes (command, button, menu, form) and how it is answered; the one in tell.go what is posted of each outcome, whichever
// door it came through. Posts are written in the act's own transaction and leave through the outbox afterwards, so a
// process killed at any instant loses nothing and doubles nothing.
//
// It refuses, with a sentence for the person, what it cannot read as an act, and words what the shop refuses. What always
// holds: an action on a button is never given another meaning, so that a button posted long ago still does what it says or
// says why it does not.
package desk

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
)

// Config is what a desk works with. Shop, Ledger, Studio and Queue are needed, the rest has defaults.
type Config struct {
	Shop       *shop.Shop
	Ledger     *ledger.Ledger
	Studio     func() quote.Studio // the settings as they are now
	Queue      jobs.Queue
	Transports []chat.Transport
	Now        func() time.Time // default time.Now
	Log        *slog.Logger     // default: none
	// SetPicture is a picture of a set of the library; nil or a file without data: no picture.
	SetPicture func(set string) chat.File
	// LibraryPicture shows all sets of the library together; nil or a file without data: no picture.
	LibraryPicture func() chat.File
	// HowTo explains how to take the measurements with these keys: a picture of all first, then one of each.
	HowTo func(keys []string) []chat.File
	// Boards are people in the studio's seat for whom a notice board is opened when the desk starts.
	Boards []chat.PersonID
	// Link is the address at which a secret lets somebody in, at the desk in the browser; nil: there is none.
	Link func(secret string) string
	// SignsIn is the scheme of the transport at which the first owner is named on a page of its own; empty: at none.
	SignsIn string
	// QueueEmbedded says that the queue lives in this process and loses its requests when the process ends: what is open when
	// Run begins is then sent again at once. It counts as an attempt, so that a request which ends the process each time is
	// given up.
	QueueEmbedded bool
}

// Desk is the conversation's handler and its machinery. It is safe for concurrent use.
type Desk struct {
	cfg  Config
	shop *shop.Shop
	log  *slog.Logger
	wake chan struct{}
	out  *sender
}

// New makes a desk, which hears from then on of everything that happens in the shop.
func New(cfg Config) *Desk {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	d := &Desk{cfg: cfg, shop: cfg.Shop, log: cfg.Log, wake: make(chan struct{}, 1),
		out: &sender{ledger: cfg.Ledger, queue: cfg.Queue, transports: cfg.Transports, now: cfg.Now, log: cfg.Log, busy: map[string]bool{}}}
	d.shop.Listen(d)
	return d
}

// Commands that the transports offer.
func (d *Desk) Commands() []chat.Command {
	number := chat.CommandOption{Name: "number", Summary: "the commission's number, such as C0007; not needed in its thread"}
	return []chat.Command{
		{Name: "commission", Summary: "Ask the studio to make something for you", Apart: true, Options: []chat.CommandOption{
			{Name: "set", Summary: "a pattern set to start with, by name"}}},
		{Name: "where", Summary: "Where your commission stands", Options: []chat.CommandOption{number}},
		{Name: "reference", Summary: "Add a reference picture to your commission", Options: []chat.CommandOption{
			{Name: "picture", Summary: "PNG, JPEG, GIF or WebP, up to 8 MB", Required: true, File: true}, number}},
		{Name: "cancel", Summary: "Cancel a commission", Options: []chat.CommandOption{number}},
		{Name: "orders", Summary: "All commissions and what each waits for", Studio: true},
		{Name: "bench", Summary: "Today's operations, with buttons to start and finish them", Studio: true},
		{Name: "plan", Summary: "The shop's plan: what is promised, what is sure and what is in danger", Studio: true},
		{Name: "why", Summary: "Why a commission is ready when the plan says: what each operation waits for, and what holds the date", Studio: true, Options: []chat.CommandOption{
			{Name: "number", Summary: "the commission's number, such as C0007", Required: true}}},
		{Name: "what-if", Summary: "Whether a commission can be ready by a day, and what that would take", Studio: true, Options: []chat.CommandOption{
			{Name: "date", Summary: "the day, such as 12 December", Required: true}, number}},
		{Name: "away", Summary: "A maker is not there for some days: what that does to the promises, and the plan without them", Studio: true, Options: []chat.CommandOption{
			{Name: "maker", Summary: "who", Required: true}, {Name: "until", Summary: "the last day, such as 12 December; today if left empty"},
			{Name: "from", Summary: "the first day; today if left empty"}}},
		{Name: "back", Summary: "A maker is there again", Studio: true, Options: []chat.CommandOption{{Name: "maker", Summary: "who", Required: true}}},
		{Name: "deposit", Summary: "Confirm a deposit, which begins the work on a commission", Studio: true, Options: []chat.CommandOption{
			{Name: "number", Summary: "the commission's number, such as C0007", Required: true}}},
		{Name: "cutting", Summary: "A commission's paper pattern and cut files, or several commissions nested together", Studio: true, Options: []chat.CommandOption{
			{Name: "number", Summary: "the commission's number, such as C0007; several, such as C0007 C0009, are cut together"}, {Name: "paper", Summary: "the pattern's paper: a4, letter, a3, roll-610 …; the studio's own if left empty"}}},
		{Name: "rack", Summary: "The offcuts on the rack; add one or take one off", Studio: true, Options: []chat.CommandOption{
			{Name: "thickness", Summary: "to add an offcut: how thick it is, such as 5 mm"},
			{Name: "size", Summary: "and its width × height, such as 40 × 30 cm"},
			{Name: "throw", Summary: "or the number of an offcut you threw away, such as R0003"}}},
		{Name: "pattern", Summary: "Check a pattern of your own, add it to the library or take it out", Studio: true, Options: []chat.CommandOption{
			{Name: "drawing", Summary: "SVG or DXF", File: true},
			{Name: "spec", Was: "sidecar", Summary: "the spec sheet, pattern.toml; without one, a first one is written for you", File: true},
			{Name: "withdraw", Summary: "or the name of one of your sets to take out of the library"}}},
		{Name: "people", Summary: "The people of the studio: their roles, sign-in links and devices", Studio: true},
		{Name: "for-client", Summary: "Begin a commission for a client, and get the private link that lets them in", Studio: true, Options: []chat.CommandOption{
			{Name: "name", Summary: "the client's name", Required: true}, {Name: "set", Summary: "a pattern set to start with, by name"}}},
		{Name: "private-link", Summary: "A private link that opens a commission to its client on any device", Options: []chat.CommandOption{number}},
		{Name: "member", Summary: "Say with a code that you are a member of the studio", Apart: true, Options: []chat.CommandOption{
			{Name: "code", Summary: "the code that you were shown at the other door", Required: true}}},
		{Name: "studio", Summary: "Make this thread the studio's notice board", Studio: true, InThread: true},
	}
}

// Handle answers one thing that a person did.
func (d *Desk) Handle(ctx context.Context, in chat.Incoming) (chat.Reply, error) {
	if in.Said != "" {
		err := d.hearWords(ctx, in)
		if err != nil && !errors.Is(err, ledger.ErrNone) || len(in.Files) == 0 {
			return chat.Reply{}, none(err)
		}
	}
	r := &reading{ctx: ctx, d: d, in: in}
	way, act, err := r.act()
	if err != nil {
		return chat.Reply{}, err
	}
	d.paint(act)
	var out any
	if way.reads {
		out, err = d.shop.See(ctx, in.Person, act)
	} else {
		out, err = d.shop.Do(ctx, shop.Call{ID: in.ID, Person: in.Person, Act: act})
	}
	var no *shop.Refusal
	switch {
	case errors.As(err, &no):
		if ask, ok := questions[no.Kind]; ok {
			return ask(&answer{words: d.words(), in: r, limits: r.limits()}, no), nil
		}
		return chat.Reply{}, &chat.Refusal{Say: d.words().refusal(in, no)}
	case err != nil:
		return chat.Reply{}, err
	}
	rep := way.reply(&answer{words: d.words(), in: r, limits: r.limits()}, out)
	if id, ok := strings.CutPrefix(string(rep.Thread), openMark); ok {
		rep.Thread = d.threadOf(ctx, quote.CommissionID(id))
		if rep.Thread == "" {
			rep.Text += " Its thread opens in a moment."
		}
	}
	return rep, nil
}

// none is err, unless that says that there is nothing of the kind.
func none(err error) error {
	if errors.Is(err, ledger.ErrNone) {
		return nil
	}
	return err
}

// openMark in a reply's Thread stands for "the thread of this commission", which may not be open yet.
const openMark = "commission:"

// threadOf opens the commission's thread now rather than at the next sending; empty where that failed, which the
// outbox then repeats.
func (d *Desk) threadOf(ctx context.Context, id quote.CommissionID) chat.ThreadID {
	th, err := d.out.openThread(ctx, id)
	if err != nil {
		d.log.Warn("thread not opened yet", "commission", id, "err", err)
	}
	return th
}

// paint has the pictures that an act will show painted before its transaction, where they hold up nobody; they are kept.
func (d *Desk) paint(act shop.Act) {
	var sets []string
	switch a := act.(type) {
	case shop.Ask:
		if d.cfg.LibraryPicture != nil {
			d.cfg.LibraryPicture()
		}
		sets = []string{strings.ToLower(strings.TrimSpace(a.Set))}
	case shop.ChooseSets:
		sets = a.Sets
	}
	for _, name := range sets {
		if _, ok := d.shop.Set(name); ok {
			d.setCard(name)
		}
	}
}

// NotFor are the studio's commands that lead to nothing which somebody with these roles may do.
func (d *Desk) NotFor(roles ledger.Role) []string {
	var out []string
	table := shop.Table()
	for _, c := range d.Commands() {
		leads := func(w way) bool {
			return slices.Contains(strings.Fields(w.command), c.Name) &&
				slices.ContainsFunc(table, func(r shop.Listed) bool { return r.Act == w.acts && r.For(roles) })
		}
		if c.Studio && !slices.ContainsFunc(acts, leads) {
			out = append(out, c.Name)
		}
	}
	return out
}

// Say words what the shop refused at another door.
func (d *Desk) Say(no *shop.Refusal) string { return d.words().refusal(chat.Incoming{}, no) }

// titleOf is the title of a set; of one that is not known its name.
func (d *Desk) titleOf(set string) string {
	if s, ok := d.shop.Set(set); ok {
		return s.Title
	}
	return set
}

// setCard is the picture of a set, where there is one.
func (d *Desk) setCard(name string) (chat.File, bool) {
	if png, ok := d.shop.Card(name); ok {
		s, _ := d.shop.Set(name)
		return chat.File{Name: name + ".png", MIME: "image/png", Alt: "The pieces of " + s.Title, Data: png}, true
	}
	if d.cfg.SetPicture == nil {
		return chat.File{}, false
	}
	f := d.cfg.SetPicture(name)
	return f, len(f.Data) > 0
}

// Wake has Run look at the ledger at once.
func (d *Desk) Wake() {
	select {
	case d.wake <- struct{}{}:
	default:
	}
}

const (
	senders = 4 // lanes served at once, so that a slow upload does not hold up the others
	// idle bounds the sleep between looks at the ledger: other programs may have moved the clock or the file.
	idle = 5 * time.Second
)

// Run does what happens without anybody acting, until ctx ends: it sends what the outbox holds, takes the workers'
// answers, and has the shop do what is due.
func (d *Desk) Run(ctx context.Context) error {
	if d.cfg.QueueEmbedded {
		if err := d.shop.SendAgain(ctx); err != nil {
			return fmt.Errorf("the open requests cannot be sent again: %w", err)
		}
	}
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			err := d.out.openBoards(ctx, d.cfg.Boards)
			if err == nil || ctx.Err() != nil {
				return
			}
			d.log.Warn("notice board not opened; trying again", "err", err)
			pause(ctx, idle)
		}
	})
	wg.Go(func() {
		for ctx.Err() == nil {
			if err := d.cfg.Queue.Answers(ctx, d.shop.Take); err != nil && ctx.Err() == nil {
				d.log.Error("answers cannot be received; trying again", "err", err)
				pause(ctx, time.Second)
			}
		}
	})
	work := make(chan struct{}, senders)
	for range senders {
		wg.Go(func() {
			for {
				select {
				case <-ctx.Done():
					return
				case <-work:
				}
				if err := d.out.pump(ctx); err != nil && ctx.Err() == nil {
					d.log.Error("outbox", "err", err)
				}
			}
		})
	}
	for ctx.Err() == nil {
		if err := d.shop.Due(ctx); err != nil && ctx.Err() == nil {
			d.log.Error("what is due", "err", err)
		}
		if err := d.sayNotices(ctx); err != nil && ctx.Err() == nil {
			d.log.Error("notices", "err", err)
		}
		for range senders {
			select {
			case work <- struct{}{}:
			default:
			}
		}
		select {
		case <-ctx.Done():
		case <-d.wake:
		case <-time.After(d.sleep(ctx)):
		}
	}
	wg.Wait()
	return nil
}

func pause(ctx context.Context, t time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(t):
	}
}

// sleep is the time until something falls due.
func (d *Desk) sleep(ctx context.Context) time.Duration {
	at, err := d.shop.NextDue(ctx)
	if err != nil || at.IsZero() {
		return idle
	}
	return min(max(at.Sub(d.cfg.Now()), 50*time.Millisecond), idle)
}

// Tick does everything that is due by now and sends what can be sent, and then returns. Run does the same by itself;
// Tick is for those who move the clock.
func (d *Desk) Tick(ctx context.Context) error {
	if err := errors.Join(d.shop.Due(ctx), d.sayNotices(ctx)); err != nil {
		return err
	}
	return d.out.pump(ctx)
}
