// Package desk leads the conversation: what people do in chat goes in, ledger entries, requests to the workers and
// posts come out, from the first message to the day a commission is collected.
//
// It knows no transport and no queue program; it is given chat.Transport and jobs.Queue. Every act is one ledger
// transaction that holds the change, its event and the posts and requests it causes. These leave through the outbox
// afterwards, so a process killed at any instant loses nothing and doubles nothing. The same act delivered twice gets
// the same answer.
//
// It refuses, with a sentence for the person and no change of anything: acts out of order, acts by somebody else than
// the client or the studio, buttons of a replaced revision, and sets, finishes and dates that do not exist. What always
// holds: a commission is approved at most once, in a revision that was current and had not expired, and the hash in
// the approval is that of the PDF bytes in the ledger. A commission is cut on at most one cutting day, and an offcut used on
// at most one.
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
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// Config is what a desk works with. Ledger, Queue, Studio and Library are needed, the rest has defaults.
type Config struct {
	Ledger     *ledger.Ledger
	Queue      jobs.Queue
	Transports []chat.Transport
	Studio     func() quote.Studio // the settings as they are now
	Library    []Set
	Now        func() time.Time // default time.Now
	Log        *slog.Logger     // default: none
	// SetPicture is a picture of a set of Library; nil or a file without data: no picture.
	SetPicture func(set string) chat.File
	// LibraryPicture shows all sets of Library together; nil or a file without data: no picture.
	LibraryPicture func() chat.File
	// HowTo explains how to take the measurements with these keys.
	HowTo func(keys []string) []chat.File
	// Replan gives a quoted commission its operations in the shop plan from now on; floor.Place.
	Replan func(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error)
	// Shop plans all commissions at work together; floor.Plan. Nil: the studio is shown no plan of the shop.
	Shop func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, progress func(float64)) (floor.Shop, error)
	// WhatIf answers whether a commission can be ready by a day; floor.WhatIf. Nil: the studio cannot ask.
	WhatIf func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, id quote.CommissionID, by string) ([]floor.Choice, error)
	// After tells which operations each operation of the plan needs done and cured, by ID; quote.Needs. Nil: an operation needs all
	// that the plan put before it in its assembly, and all cutting before it.
	After func(s quote.Snapshot, q quote.Quote) (map[string][]string, error)
	// Boards are people in the studio's seat for whom a notice board is opened when the desk starts.
	Boards []chat.PersonID
	// Forgetful says that the queue forgets its requests when this process ends: what is open when Run begins is then sent
	// again at once. It counts as an attempt, so that a request which ends the process each time is given up.
	Forgetful bool
	// Patience is how long a request may go without a word before it is sent again; default 2 minutes.
	Patience time.Duration
}

// Set is a cutting-pattern set of the library, as far as the conversation needs it.
type Set struct {
	Name, Title, Kind, Summary string
	Sided                      bool
	Measures                   []string // measurement keys, in asking order
	Finishes                   []string // finishes it can have; empty: any
	Cautions                   []string
	Source                     quote.PatternSource
}

// MaxAttempts is how often a request is sent before the desk gives up and says so.
const MaxAttempts = 5

// defaultPatience is twice what a slow quote takes on a small machine, and above the time a queue needs to notice a
// killed worker (60 to 120 s with asynq), so that the queue's own retry usually comes first.
const defaultPatience = 2 * time.Minute

// Desk is the conversation's handler and its machinery. It is safe for concurrent use.
type Desk struct {
	cfg    Config
	ledger *ledger.Ledger
	log    *slog.Logger

	planning sync.Mutex // a deposit at a time: each plan must see the one before
	opening  sync.Mutex // a thread at a time: act and outbox may want the same one
	wake     chan struct{}
	shelves  sync.Mutex // guards shelf
	shelf    *shelf     // nil until it is read
	lanes    sync.Mutex
	busy     map[string]bool // outbox lanes being sent
}

// New makes a desk.
func New(cfg Config) *Desk {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Patience <= 0 {
		cfg.Patience = defaultPatience
	}
	return &Desk{cfg: cfg, ledger: cfg.Ledger, log: cfg.Log, wake: make(chan struct{}, 1), busy: map[string]bool{}}
}

// Commands that the transports offer.
func (d *Desk) Commands() []chat.Command {
	number := chat.CommandOption{Name: "number", Summary: "the commission, such as C0007; not needed in its thread"}
	return []chat.Command{
		{Name: "commission", Summary: "Ask the studio to make something for you", Options: []chat.CommandOption{
			{Name: "set", Summary: "a pattern set to begin with, by name"}}},
		{Name: "where", Summary: "Where your commission stands", Options: []chat.CommandOption{number}},
		{Name: "reference", Summary: "Add a reference picture to your commission", Options: []chat.CommandOption{
			{Name: "picture", Summary: "PNG, JPEG, GIF or WebP, up to 8 MB", Required: true, File: true}, number}},
		{Name: "cancel", Summary: "Cancel a commission", Options: []chat.CommandOption{number}},
		{Name: "orders", Summary: "All commissions and what each waits for", Studio: true},
		{Name: "bench", Summary: "Today's operations, with buttons to start and finish them", Studio: true},
		{Name: "plan", Summary: "The shop's plan: what was promised, what is sure, and what is in danger", Studio: true},
		{Name: "whatif", Summary: "Whether a commission can be ready by a day, and what that would take", Studio: true, Options: []chat.CommandOption{
			{Name: "date", Summary: "the day, such as 12 December", Required: true}, number}},
		{Name: "deposit", Summary: "Confirm a deposit; the commission enters the shop plan", Studio: true, Options: []chat.CommandOption{
			{Name: "number", Summary: "the commission, such as C0007", Required: true}}},
		{Name: "cutting", Summary: "What to cut from: a commission's paper pattern and cut files, or several nested together", Studio: true, Options: []chat.CommandOption{
			{Name: "number", Summary: "the commission, such as C0007; several, such as C0007 C0009, are cut together"}, {Name: "paper", Summary: "of the pattern: a4, letter, a3, roll-610 …; not needed"}}},
		{Name: "rack", Summary: "The offcuts there are; adds one or takes one off", Studio: true, Options: []chat.CommandOption{
			{Name: "thickness", Summary: "of an offcut to add, such as 5 mm"},
			{Name: "size", Summary: "of it, width × height, such as 40 × 30 cm"},
			{Name: "throw", Summary: "instead: the number of an offcut that was thrown away, such as R0003"}}},
		{Name: "pattern", Summary: "Check a pattern of your own, add it to the library or take it out", Studio: true, Options: []chat.CommandOption{
			{Name: "drawing", Summary: "SVG or DXF", File: true},
			{Name: "sidecar", Summary: "pattern.toml; without one a first one is written for you", File: true},
			{Name: "withdraw", Summary: "instead: the name of a set of yours to take out of the library"}}},
		{Name: "studio", Summary: "Make this thread the studio's notice board", Studio: true},
	}
}

// refuse makes a sentence for the person.
func refuse(format string, args ...any) error {
	return &chat.Refusal{Say: fmt.Sprintf(format, args...)}
}

// openMark in a stored reply's Thread stands for "the thread of this commission", which may not be open yet.
const openMark = "commission:"

// work is one act being handled in one transaction.
type work struct {
	d   *Desk
	t   *ledger.Tx
	in  chat.Incoming
	now time.Time
	before
	shelved bool // the library changed
}

// before is what an act needs computed before its transaction, which must be short.
type before struct {
	plan     *planned     // of a deposit
	pattern  *inspected   // of a pattern sent
	cutting  *chat.Reply  // of a commission's files asked for
	together *together    // of several commissions' cutting asked for
	left     *rests       // of a commission's rest to be racked
	shopPlan *shopPlanned // where the act is about the shop's plan
	whatIf   *chat.Reply  // to whether a commission can be ready by a day
}

// Handle answers one act.
func (d *Desk) Handle(ctx context.Context, in chat.Incoming) (chat.Reply, error) {
	now := d.cfg.Now()
	if err := d.withShelf(ctx); err != nil {
		return chat.Reply{}, err
	}
	var pre before
	var err error
	if id, ok := d.depositOf(in); ok {
		d.planning.Lock()
		defer d.planning.Unlock()
		if pre.plan, err = d.replan(ctx, id, now); err != nil {
			return chat.Reply{}, err
		}
	}
	if in.Person.Studio {
		switch in.Command {
		case "pattern":
			pre.pattern = d.inspect(in.Files)
		case "cutting":
			if ids := several(in.Values["number"]); len(ids) > 1 {
				pre.together, err = d.together(ctx, in, ids, now)
			} else {
				pre.cutting, err = d.cutting(ctx, in)
			}
		case "whatif":
			pre.whatIf, err = d.whatIf(ctx, in, now)
		}
		if wants, drawn := wantsShop(in); wants {
			d.planning.Lock()
			defer d.planning.Unlock()
			pre.shopPlan, err = d.planShop(ctx, now, drawn)
		}
		if id, ok := strings.CutPrefix(in.Press, "keep/"); ok {
			id, _, _ = strings.Cut(id, "/")
			pre.left, err = d.rests(ctx, quote.CommissionID(id))
		}
		if err != nil {
			return chat.Reply{}, err
		}
	}
	d.paint(in)
	var rep chat.Reply
	shelved := false
	err = d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		act := string(in.Person.ID) + " " + in.ID // nobody is answered with what somebody else was told
		if in.ID != "" {
			was, ok, err := t.Act(act)
			if err != nil {
				return err
			}
			if ok {
				rep = was
				return nil
			}
		}
		w := &work{d: d, t: t, in: in, now: now, before: pre}
		var err error
		if rep, err = w.act(); err != nil {
			return err
		}
		shelved = w.shelved
		if in.ID == "" || !t.Changed() {
			return nil
		}
		return t.SaveAct(act, in.Person.ID, now, rep)
	})
	if err != nil {
		var no *chat.Refusal
		if !errors.As(err, &no) {
			err = fmt.Errorf("act %s by %s: %w", describe(in), in.Person.ID, err)
		}
		return chat.Reply{}, err
	}
	if shelved {
		if err := d.readShelf(ctx); err != nil {
			return chat.Reply{}, err
		}
	}
	if id, ok := strings.CutPrefix(string(rep.Thread), openMark); ok {
		rep.Thread = d.threadOf(ctx, quote.CommissionID(id))
		if rep.Thread == "" {
			rep.Text += " Its thread opens in a moment."
		}
	}
	d.Wake()
	return rep, nil
}

// paint has the pictures that an act will show painted before its transaction, where they hold up nobody; they are kept.
func (d *Desk) paint(in chat.Incoming) {
	names := []string{}
	switch {
	case in.Command == "commission":
		if d.cfg.LibraryPicture != nil {
			d.cfg.LibraryPicture()
		}
		names = append(names, strings.ToLower(strings.TrimSpace(in.Values["set"])))
	case strings.HasPrefix(in.Pick, "sets/"):
		names = in.Picked
	}
	for _, name := range names {
		if _, ok := d.set(name); ok {
			d.setCard(name)
		}
	}
}

// threadOf opens the commission's thread now rather than at the next sending; empty where that failed, which the
// outbox then repeats.
func (d *Desk) threadOf(ctx context.Context, id quote.CommissionID) chat.ThreadID {
	th, err := d.openThread(ctx, id)
	if err != nil {
		d.log.Warn("thread not opened yet", "commission", id, "cause", err)
	}
	return th
}

func describe(in chat.Incoming) string {
	for _, s := range []string{in.Command, in.Press, in.Pick, in.Form} {
		if s != "" {
			return s
		}
	}
	return "upload"
}

func (w *work) act() (chat.Reply, error) {
	in := w.in
	switch {
	case in.Command != "":
		return w.command(in.Command)
	case in.Press != "":
		return w.press(strings.Split(in.Press, "/"))
	case in.Pick != "":
		return w.pick(strings.Split(in.Pick, "/"))
	case in.Form != "":
		return w.form(strings.Split(in.Form, "/"))
	case len(in.Files) > 0:
		c, err := w.t.CommissionOfThread(in.Thread)
		if errors.Is(err, ledger.ErrNone) {
			return chat.Reply{}, refuse("this thread belongs to no commission; send reference pictures in your commission's thread")
		}
		if err != nil {
			return chat.Reply{}, err
		}
		return w.reference(c)
	}
	return chat.Reply{}, refuse("nothing was asked; begin with the command commission")
}

func (w *work) command(name string) (chat.Reply, error) {
	i := slices.IndexFunc(w.d.Commands(), func(c chat.Command) bool { return c.Name == name })
	if i < 0 {
		return chat.Reply{}, refuse("there is no command %q; begin with commission, or ask where", name)
	}
	if w.d.Commands()[i].Studio && !w.in.Person.Studio {
		return chat.Reply{}, refuse("%s is for the studio; ask where to see how your commission stands", name)
	}
	switch name {
	case "commission":
		return w.begin()
	case "orders":
		return w.orders()
	case "bench":
		return w.bench("")
	case "plan":
		return w.planShown("")
	case "whatif":
		return *w.whatIf, nil
	case "studio":
		return w.bindBoard()
	case "cutting":
		if w.together != nil {
			return w.planTogether()
		}
		return *w.cutting, nil
	case "rack":
		return w.rack()
	case "pattern":
		return w.patternSent()
	case "where":
		return w.where()
	}
	c, err := w.named(w.in.Values["number"])
	if err != nil {
		return chat.Reply{}, err
	}
	switch name {
	case "reference":
		return w.reference(c)
	case "cancel":
		return w.cancel(c)
	default:
		return w.deposit(c)
	}
}

// named finds the commission a command is about: by its number or, without one, by the thread it was given in.
func (w *work) named(number string) (ledger.Commission, error) {
	if number = strings.ToUpper(strings.TrimSpace(number)); number != "" {
		return w.commission(number)
	}
	c, err := w.t.CommissionOfThread(w.in.Thread)
	if errors.Is(err, ledger.ErrNone) {
		return c, refuse("say which commission, such as C0007, or ask in its thread")
	}
	return c, err
}

func (w *work) commission(id string) (ledger.Commission, error) {
	c, err := w.t.Commission(quote.CommissionID(id))
	if errors.Is(err, ledger.ErrNone) {
		return c, refuse("there is no commission %q; they are numbered like C0007", id)
	}
	return c, err
}

// mine refuses everybody but the client and the studio.
func (w *work) mine(c ledger.Commission) error {
	if w.in.Person.Studio || w.in.Person.ID == c.Client {
		return nil
	}
	return refuse("%s belongs to %s; only they, or the studio for them, can do this", c.ID, c.ClientName)
}

func (w *work) studioOnly() error {
	if w.in.Person.Studio {
		return nil
	}
	return refuse("only the studio can do this")
}

// own splits an action such as "approve/C0007/2" and finds its commission for somebody who may act on it.
func (w *work) own(path []string) (ledger.Commission, error) {
	if len(path) < 2 {
		return ledger.Commission{}, refuse("this button is not known any more; ask where to see what can be done now")
	}
	c, err := w.commission(path[1])
	if err != nil {
		return c, err
	}
	return c, w.mine(c)
}

func (w *work) press(path []string) (chat.Reply, error) {
	switch path[0] {
	case "shelve":
		return w.shelve(path)
	case "cut":
		return w.cutDay(path)
	case "replan":
		return w.replanned(path)
	}
	c, err := w.own(path)
	if err != nil {
		return chat.Reply{}, err
	}
	switch path[0] {
	case "details":
		return w.detailsForm(c)
	case "measure":
		return w.measure(c)
	case "rest":
		return w.restForm(c)
	case "apart":
		return w.apart(c)
	case "estimate":
		return w.estimate(c)
	case "right":
		return w.confirm(c)
	case "correct":
		return w.correct(c, path)
	case "again":
		return w.tryAgain(c)
	case "mend":
		return w.mend(c)
	case "cancel":
		return w.cancel(c)
	case "approve":
		return w.approve(c, number(path, 2))
	case "decline":
		return w.decline(c, number(path, 2))
	case "change":
		return w.changeForm(c, number(path, 2))
	case "requote":
		return w.requote(c, number(path, 2))
	}
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	switch path[0] {
	case "deposit":
		return w.deposit(c)
	case "start":
		return w.startOp(c, number(path, 2))
	case "done":
		return w.doneOp(c, number(path, 2))
	case "keep":
		return w.keep(c, number(path, 2))
	case "handed":
		return w.handed(c)
	case "tell":
		return w.tell(c)
	}
	return chat.Reply{}, refuse("this button is not known any more; ask where to see what can be done now")
}

func (w *work) pick(path []string) (chat.Reply, error) {
	switch path[0] {
	case "bench":
		return w.pickOp()
	case "shop":
		return w.pickShop()
	}
	c, err := w.own(path)
	if err != nil {
		return chat.Reply{}, err
	}
	switch path[0] {
	case "sets":
		return w.pickSets(c)
	case "finish":
		return w.pickFinish(c)
	case "count", "sides":
		if len(path) == 3 {
			return w.pickItem(c, path[0], path[2])
		}
	}
	return chat.Reply{}, refuse("this menu is not known any more; ask where to see what can be done now")
}

func (w *work) form(path []string) (chat.Reply, error) {
	c, err := w.own(path)
	if err != nil {
		return chat.Reply{}, err
	}
	switch path[0] {
	case "details":
		return w.details(c)
	case "rest", "correct":
		return w.body(c)
	case "height":
		return w.height(c)
	case "change":
		return w.change(c, number(path, 2))
	}
	return chat.Reply{}, refuse("this form is not known any more; ask where to see what can be done now")
}

// record appends the event of this act; the studio acting on a client's commission is recorded as such.
func (w *work) record(c ledger.Commission, what, detail string) error {
	e := ledger.Event{At: w.now, Commission: c.ID, Person: string(w.in.Person.ID), What: what, Detail: detail}
	if w.in.Person.Studio && w.in.Person.ID != c.Client {
		e.OnBehalf = string(c.Client)
	}
	return w.t.Record(e)
}

// save stores the commission with the event that changed it.
func (w *work) save(c *ledger.Commission, what, detail string) error {
	c.ChangedAt = w.now
	if err := w.t.SaveCommission(*c); err != nil {
		return err
	}
	return w.record(*c, what, detail)
}
