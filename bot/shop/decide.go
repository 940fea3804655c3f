package shop

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

var (
	quoted     = []ledger.State{ledger.Quoted, ledger.Expired}
	quotedElse = map[ledger.State]Kind{ledger.Computing: BeingComputed, ledger.Choosing: SetAside, ledger.Measuring: SetAside, ledger.Checking: SetAside}
	closedElse = map[ledger.State]Kind{ledger.Delivered: Closed, ledger.Declined: Closed, ledger.Cancelled: Closed}
)

// decidable refuses everything but the current revision of a quote that was not decided on.
func decidable(j *job, c ledger.Commission, revision int) error {
	no := &Refusal{Commission: c, Revision: revision}
	a, err := j.t.Approval(c.ID)
	switch {
	case err == nil:
		no.Kind, no.Approval = DecidedAlready, a
	case !errors.Is(err, ledger.ErrNone):
		return err
	case revision < 1 || revision > c.Revision:
		no.Kind = NoRevision
	case c.State.Closed():
		no.Kind = Closed
	case revision < c.Revision:
		no.Kind = Superseded
	default:
		return nil
	}
	return no
}

// Approve accepts a revision of a quote. Where its date is no longer held, it is refused as DateMoved until it is done with
// the date as it is now.
type Approve struct {
	OfRevision
	Date string // the date shown; empty: that of the quote
	Sure bool   // of the studio, in a client's stead; without it, it is refused as Grave
}

// Approved is a revision that was approved.
type Approved struct {
	Commission ledger.Commission
	Approval   ledger.Approval
	Estimate   price.Estimate
	Due        time.Time // by which the deposit is awaited
	Was        string    // the date that the quote promised, if another holds now
}

// anew is a date worked out again because it was held no longer.
type anew struct {
	solution plan.Solution
	after    map[string][]string
	date     string // empty: the date of the quote is still held
	odds     float64
}

// dateAnew works the date of a quote out again once it is no longer held.
func dateAnew(ctx context.Context, s *Shop, _ Call, a Approve, read reading) (x anew, err error) {
	var rev ledger.Revision
	var is present
	var taken []plan.Busy
	held := false
	err = read(func(j *job, c ledger.Commission) error {
		if c.State == ledger.Expired {
			held = true // the act refuses
			return nil
		}
		p, err := j.t.StandingPromise(c.ID)
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return err
		}
		if held = p.HeldUntil.After(j.now); held {
			return nil
		}
		if rev, err = j.t.Revision(c.ID, a.Revision); err != nil {
			return err
		}
		if taken, err = j.t.Taken(c.ID); err != nil {
			return err
		}
		is, err = j.present()
		return err
	})
	if err != nil || held {
		return x, err
	}
	snap := rev.Snapshot
	snap.Studio = is.studio
	if x.solution, err = s.cfg.Place(ctx, snap, rev.Quote, is.studio.FirstDay(is.now.In(s.zone())), taken); err != nil {
		return x, fmt.Errorf("a date for %s: %w", a.Commission, err)
	}
	x.after = rev.Quote.Work.After()
	x.date = max(is.studio.PromiseDay(x.solution, s.zone()).Format(time.DateOnly), rev.Quote.Promise)
	o := floor.Open{Snapshot: rev.Snapshot, Quote: rev.Quote, Promise: x.date, Until: quote.EndOf(is.now.In(s.zone()), is.studio.DepositDays)}
	for _, p := range x.solution.Operations {
		o.Actual = append(o.Actual, floor.Actual{Op: p.ID, Title: p.Title, Start: p.Start, End: p.End, Spans: p.Spans, Resources: p.Resources})
	}
	is.open = append(is.open, o)
	last := len(is.open) - 1
	for range 2 { // the date that is sure among all the shop's work, then its odds
		p, err := s.look(ctx, is)
		if err != nil {
			return x, err
		}
		for _, l := range p.Outlooks {
			if l.Commission == a.Commission {
				x.date, x.odds = max(x.date, l.SureNow), l.KeptNow
			}
		}
		is.open[last].Promise = x.date
	}
	return x, nil
}

func approve(j *job, c ledger.Commission, a Approve, x anew) (Approved, error) {
	rev, err := j.issued(c.ID, a.Revision)
	if err != nil {
		return Approved{}, err
	}
	if c.State == ledger.Expired || !j.now.Before(rev.ExpiresAt) {
		return Approved{}, &Refusal{Kind: RunOut, Commission: c, Revision: a.Revision, Until: rev.ExpiresAt}
	}
	if x.date != "" && x.date != c.Promise && x.date != a.Date {
		return Approved{}, &Refusal{Kind: DateMoved, Commission: c, Revision: a.Revision, Name: x.date, Until: rev.Quote.Held}
	}
	if j.by.Studio && j.door.ID != c.Client && !a.Sure {
		return Approved{}, &Refusal{Kind: Grave, Commission: c, Revision: a.Revision, Name: cmp.Or(x.date, c.Promise), Deposit: rev.Quote.Estimate.Deposit}
	}
	_, sha, err := j.t.PDF(c.ID, a.Revision)
	if err != nil {
		return Approved{}, err
	}
	o := Approved{Estimate: rev.Quote.Estimate, Due: quote.EndOf(j.local(j.now), j.s.cfg.Studio().DepositDays),
		Approval: ledger.Approval{Commission: c.ID, Revision: a.Revision, Person: j.by.ID, Name: OneLine(j.by.Name), At: j.now, SHA256: sha}}
	if j.door.ID != c.Client {
		o.Approval.OnBehalfOf = c.ClientName
	}
	if err := j.t.AddApproval(o.Approval); err != nil {
		return o, err
	}
	c.State = ledger.Approved
	detail := fmt.Sprintf("revision %d, PDF %s", a.Revision, sha)
	if x.date == "" {
		err = j.t.GivePromise(c.ID)
	} else {
		if x.date != c.Promise {
			o.Was, c.Promise = c.Promise, x.date
			detail += ", " + o.Was + " to " + x.date
		}
		err = errors.Join(j.hold(c.ID, x.solution, x.after), j.t.Promise(ledger.Promise{Commission: c.ID, Date: x.date, Odds: x.odds, Revision: a.Revision,
			ToldAt: j.now, ToldBy: j.by.ID, Message: QuoteMessage(c.ID, a.Revision), State: ledger.Given}))
	}
	if err != nil {
		return o, err
	}
	if err := j.save(&c, "approved", detail); err != nil {
		return o, err
	}
	o.Commission = c
	return o, errors.Join(j.retire(c, ledger.RevApproved), j.planChanged())
}

// Decline turns a quote down.
type Decline struct{ OfRevision }

// Declined is a quote that was turned down.
type Declined struct {
	Commission ledger.Commission
	Revision   int
}

func decline(j *job, c ledger.Commission, a Decline) (Declined, error) {
	c.State = ledger.Declined
	if err := j.save(&c, "declined", fmt.Sprintf("revision %d", a.Revision)); err != nil {
		return Declined{}, err
	}
	return Declined{c, a.Revision}, j.retire(c, ledger.RevDeclined)
}

// Cancel ends a commission: the client until the deposit is in, the studio until the work is finished. What is paid for is cancelled
// only by somebody who is sure; otherwise it is refused as PaidFor.
type Cancel struct {
	Of
	Sure bool
}

// Cancelled is a commission that was ended.
type Cancelled struct {
	Commission ledger.Commission
	From       ledger.State
	Dropped    int  // the revision that was open; 0: none
	Overdue    bool // DepositOverdue was told of it

	Appointments []ledger.Appointment // that are not held any more
}

func cancel(j *job, c ledger.Commission, a Cancel) (Cancelled, error) {
	o := Cancelled{From: c.State}
	if c.State == ledger.Working && !j.by.Studio {
		return o, &Refusal{Kind: InWork, Commission: c}
	}
	if c.State == ledger.Working && !a.Sure {
		return o, j.paidFor(c)
	}
	if err := j.t.DropRequests(c.ID, j.now); err != nil {
		return o, err
	}
	c.State = ledger.Cancelled
	if err := j.save(&c, "cancelled", "was "+string(o.From)); err != nil {
		return o, err
	}
	o.Commission = c
	if o.From == ledger.Approved || o.From == ledger.Working {
		var err error
		if o.Overdue, err = j.t.Happened(c.ID, depositOverdue); err != nil {
			return o, err
		}
		if o.Appointments, err = j.t.Standing(c.ID); err != nil {
			return o, err
		}
		for i := range o.Appointments {
			a := &o.Appointments[i]
			a.State, a.EndedAt = ledger.ApptVoid, j.now
			if err := j.t.SaveAppointment(*a); err != nil {
				return o, err
			}
		}
		return o, j.letGo(c.ID, ledger.Void)
	}
	if Drafting(o.From) {
		return o, nil
	}
	o.Dropped = c.Revision
	return o, j.retire(c, ledger.RevDropped)
}

// paidFor says what would be given up with a commission whose deposit is in.
func (j *job) paidFor(c ledger.Commission) error {
	rev, err := j.issued(c.ID, c.Revision)
	if err != nil {
		return err
	}
	ops, err := j.t.Operations(c.ID)
	if err != nil {
		return err
	}
	no := &Refusal{Kind: PaidFor, Commission: c, Deposit: rev.Quote.Estimate.Deposit, Most: len(ops)}
	for _, o := range ops {
		if o.State == ledger.Done {
			no.Count++
		}
	}
	return no
}

// Requote has the same wishes worked out again at today's price and date.
type Requote struct{ OfRevision }

func requote(j *job, c ledger.Commission, a Requote) (Requested, error) {
	ends, err := j.t.Expiry(c.ID, a.Revision)
	if err != nil {
		return Requested{}, err
	}
	if c.State == ledger.Quoted && j.now.Before(ends) {
		return Requested{}, &Refusal{Kind: StillValid, Commission: c, Revision: a.Revision, Until: ends}
	}
	if _, err := j.wantedBy(c.WantedTyped); err != nil {
		c.Wanted, c.WantedTyped = "", "" // the day asked for has passed meanwhile
	}
	return j.compute(c, []string{"quoted again at today's price and date"})
}

// Fields of a change, by which it is kept as typed.
const (
	ChangeWhat   = "what"
	ChangeFinish = "finish"
	ChangeCount  = "count"
	ChangeWanted = "wanted"
	ChangeAgain  = "again"
)

// AskChange asks for something else, as typed by field: ChangeWhat and so on.
type AskChange struct {
	OfRevision
	Typed map[string]string
	// Items are ordered instead of what was: sets left out and added, their number and sides. Nil: the sets stay.
	Items []quote.Item
}

// ChangeAsked is what came of a change: problems, and then nothing is changed; measuring again; or a revision asked for.
type ChangeAsked struct {
	Commission ledger.Commission
	Revision   int // that is to be changed
	Problems   []Problem
	Again      *Body
	Request    *Requested
	Held       string       // the date that was held and is given up; empty: none was
	Dropped    []quote.Item // sets that are not ordered any more
}

func askChange(j *job, c ledger.Commission, a AskChange) (ChangeAsked, error) {
	o := ChangeAsked{Commission: c, Revision: a.Revision}
	items, err := j.t.Items(c.ID)
	if err != nil {
		return o, err
	}
	x := changing{j: j, was: c, next: c, items: items, typed: a.Typed}
	if a.Items != nil {
		if err := x.order(a.Items); err != nil {
			return o, err
		}
	}
	x.what()
	x.finish()
	x.counts()
	x.wanted()
	again := x.again()
	o.Problems = x.problems
	next, differs, v := x.next, x.differs, a.Typed
	if len(o.Problems) > 0 {
		text, err := json.Marshal(changeKept{Revision: a.Revision, Values: v})
		if err != nil {
			return o, err
		}
		c.ChangeTyped = string(text)
		return o, j.save(&c, "change not understood", "")
	}
	if len(differs) == 0 {
		return o, &Refusal{Kind: NothingDiffers, Commission: c, Revision: a.Revision}
	}
	if o.Held, err = j.heldDate(c); err != nil {
		return o, err
	}
	if err := j.t.SetItems(c.ID, x.items); err != nil {
		return o, err
	}
	o.Dropped = x.dropped
	change := strings.Join(differs, "; ")
	if _, _, err := j.heard(c, ledger.ChangeOf, change, 0); err != nil {
		return o, err
	}
	missing := false
	if a.Items != nil { // other sets may want other measurements
		all, _, err := j.wants(next)
		if err != nil {
			return o, err
		}
		missing = len(Missing(all)) > 0
	}
	if again || missing {
		return o, j.measureAgain(&o, next, change, differs, again)
	}
	if err := j.record(next, "change asked for", change); err != nil {
		return o, err
	}
	r, err := j.compute(next, differs)
	o.Commission, o.Request = r.Commission, &r
	return o, err
}

// changing is a change being read field by field.
type changing struct {
	j         *job
	was, next ledger.Commission
	items     []quote.Item // with the counts as they will be
	typed     map[string]string
	differs   []string // what will differ, as the paper says it
	problems  []Problem
	dropped   []quote.Item
}

func (x *changing) problem(p Problem) { x.problems = append(x.problems, p) }

func (x *changing) what() {
	if what := clip(strings.TrimSpace(x.typed[ChangeWhat]), maxNotes/2); what != "" {
		x.next.Notes = clip(strings.TrimSpace(x.was.Notes+"\n"+what), maxNotes)
		x.differs = append(x.differs, what)
	}
}

func (x *changing) finish() {
	name := OneLine(x.typed[ChangeFinish])
	if name == "" {
		return
	}
	f, no := x.j.s.finishNamed(name, x.items)
	switch {
	case no != nil:
		x.problem(Problem{Kind: no.Kind, What: ChangeFinish, Typed: no.Name, Names: no.Names})
	case f.Key != x.was.Finish:
		x.next.Finish = f.Key
		x.differs = append(x.differs, "finish "+f.Title)
	}
}

// counts takes one number for each set, in their order.
func (x *changing) counts() {
	text := OneLine(x.typed[ChangeCount])
	if text == "" {
		return
	}
	f := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' })
	if len(f) != len(x.items) {
		x.problem(Problem{What: ChangeCount, Typed: text, Count: len(x.items)})
		return
	}
	for i, typed := range f {
		n, err := strconv.Atoi(typed)
		switch {
		case err != nil || n < 1 || n > MaxCount:
			x.problem(Problem{Kind: BadCount, What: ChangeCount, Typed: typed, Count: MaxCount})
		case n != x.items[i].Count:
			x.items[i].Count = n
			x.differs = append(x.differs, x.j.s.Describe(x.items[i]))
		}
	}
}

func (x *changing) wanted() {
	typed := OneLine(x.typed[ChangeWanted])
	if typed == x.was.WantedTyped {
		return
	}
	x.next.WantedTyped = typed
	day, err := x.j.wantedBy(typed)
	x.next.Wanted = day
	switch {
	case err != nil:
		x.problem(Problem{What: ChangeWanted, Cause: err.Error()})
	case day == x.was.Wanted:
	case day == "":
		x.differs = append(x.differs, "no date asked for any more")
	default:
		x.differs = append(x.differs, "wanted by "+dateOnPaper(day))
	}
}

func (x *changing) again() bool {
	switch typed := strings.ToLower(OneLine(x.typed[ChangeAgain])); typed {
	case "", "no", "n":
	case "yes", "y":
		x.differs = append(x.differs, "measured again")
		return true
	default:
		x.problem(Problem{What: ChangeAgain, Typed: typed})
	}
	return false
}

// measureAgain sets a quote aside until the client was measured anew: in everything, or in what was not asked for before.
func (j *job) measureAgain(o *ChangeAsked, c ledger.Commission, change string, differs []string, anew bool) error {
	from := c.State
	if err := j.retire(c, ledger.RevReplaced); err != nil {
		return err
	}
	text, err := json.Marshal(changeKept{Revision: o.Revision, Asked: differs})
	if err != nil {
		return err
	}
	c.State, c.ChangeTyped = ledger.Measuring, string(text)
	if err := j.save(&c, "change asked for", change); err != nil {
		return err
	}
	all, _, err := j.wants(c)
	if err != nil {
		return err
	}
	for _, x := range all {
		if x.Known && anew {
			x.Known, x.Problem = false, "to be measured again"
			if err := j.t.SetMeasurement(c.ID, x.Measurement); err != nil {
				return err
			}
		}
	}
	b, err := j.settle(c, from, nil)
	b.Begun = true
	o.Commission, o.Again = b.Commission, &b
	return err
}

// dateOnPaper is "2027-03-01" as the quote prints it.
func dateOnPaper(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("Mon 2 Jan 2006")
}

// Change looks at what can be changed of a quote.
type Change struct{ OfRevision }

// ChangeSheet is what there is to change, as ordered or as typed before.
type ChangeSheet struct {
	Commission ledger.Commission
	Revision   int
	Sets       []string          // titles
	Finishes   []string          // titles of those that suit them
	Typed      map[string]string // by field
	Held       string            // the date held, which a change gives up; empty: none is
}

// heldDate is the date that is held for a quote; empty where none is.
func (j *job) heldDate(c ledger.Commission) (string, error) {
	p, err := j.t.StandingPromise(c.ID)
	if errors.Is(err, ledger.ErrNone) || err == nil && !p.HeldUntil.After(j.now) {
		return "", nil
	}
	return p.Date, err
}

func changeSheet(j *job, c ledger.Commission, a Change) (ChangeSheet, error) {
	o := ChangeSheet{Commission: c, Revision: a.Revision}
	items, err := j.t.Items(c.ID)
	if err != nil {
		return o, err
	}
	if o.Held, err = j.heldDate(c); err != nil {
		return o, err
	}
	var counts []string
	for _, it := range items {
		counts = append(counts, strconv.Itoa(it.Count))
		x, _ := j.s.Set(it.Set)
		o.Sets = append(o.Sets, x.Title)
	}
	finish := c.Finish
	for _, f := range j.s.cfg.Studio().Finishes {
		if f.Key == c.Finish {
			finish = f.Title
		}
	}
	for _, f := range j.s.Finishes(items) {
		o.Finishes = append(o.Finishes, f.Title)
	}
	o.Typed = map[string]string{ChangeFinish: finish, ChangeCount: strings.Join(counts, ", "), ChangeWanted: c.WantedTyped, ChangeAgain: "no"}
	if was := changeTyped(c); was != nil && c.Revision == a.Revision {
		o.Typed = was
	}
	return o, nil
}

// changeTyped is a change of the present revision as it was typed and not understood; nil where none was.
func changeTyped(c ledger.Commission) map[string]string {
	var was changeKept
	if c.ChangeTyped == "" || json.Unmarshal([]byte(c.ChangeTyped), &was) != nil || was.Revision != c.Revision {
		return nil
	}
	return was.Values
}

// Mend reopens an order whose quote could not be worked out: what failed may be a measurement or a choice, and trying
// again would only fail again. All that was given stays; the next confirmation makes a new revision.
type Mend struct{ Of }

// Mended is an order that was reopened.
type Mended struct {
	Revision int // that failed
	Body     Body
}

func mend(j *job, c ledger.Commission, _ Mend) (Mended, error) {
	o := Mended{Revision: c.Revision}
	was, err := j.t.Revision(c.ID, c.Revision)
	if err != nil {
		return o, err
	}
	if err := j.retire(c, ledger.RevReplaced); err != nil {
		return o, err
	}
	if len(was.Snapshot.Changes) > 0 { // what it was to change against the revision before still holds
		text, err := json.Marshal(changeKept{Revision: c.Revision, Asked: was.Snapshot.Changes})
		if err != nil {
			return o, err
		}
		c.ChangeTyped = string(text)
	}
	c.State = ledger.Measuring
	if err := j.save(&c, "reopened after a failure", fmt.Sprintf("revision %d", c.Revision)); err != nil {
		return o, err
	}
	o.Body, err = j.measure(c, c.State)
	return o, err
}

// Expired is a quote whose validity has passed.
type Expired struct {
	Commission ledger.Commission
	Revision   int
	Ended      time.Time
}

// expire ends quotes whose validity has passed.
func (s *Shop) expire(ctx context.Context, now time.Time) error {
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		cs, err := j.t.DueQuotes(now)
		if err != nil {
			return err
		}
		for _, c := range cs {
			ended, err := j.t.Expiry(c.ID, c.Revision)
			if err != nil {
				return err
			}
			c.State = ledger.Expired
			if err := j.save(&c, "expired", fmt.Sprintf("revision %d", c.Revision)); err != nil {
				return err
			}
			if err := j.retire(c, ledger.RevExpired); err != nil {
				return err
			}
			if err := j.tell(Expired{c, c.Revision, ended}); err != nil {
				return err
			}
		}
		return nil
	})
}

// Where looks at how a commission stands; WhereAll at all of one's own, Orders at all there are.
type (
	Where    struct{ Of }
	WhereAll struct{}
	Orders   struct{}
)

// Standing is how a commission stands.
type Standing struct {
	Commission    ledger.Commission
	Wanted, Given int            // measurements, while they come in
	Ends          time.Time      // of a quote
	Bench         *AtBench       // of one in work
	Outlook       ledger.Outlook // of its promise; only where the studio looks at all
	Appointments  []ledger.Appointment
}

func (j *job) stands(c ledger.Commission) (Standing, error) {
	o := Standing{Commission: c}
	var err error
	switch c.State {
	case ledger.Measuring:
		var all []Wanted
		all, _, err = j.wants(c)
		o.Wanted = len(all)
		o.Given = len(all) - len(Missing(all))
	case ledger.Quoted:
		o.Ends, err = j.t.Expiry(c.ID, c.Revision)
	case ledger.Working:
		var b AtBench
		b, err = j.atBench(c)
		o.Bench = &b
	}
	if err == nil && (c.State == ledger.Working || c.State == ledger.Ready) {
		o.Appointments, err = j.t.Standing(c.ID)
	}
	return o, err
}

func where(j *job, c ledger.Commission, _ Where) (Standing, error) { return j.stands(c) }

func whereAll(j *job, _ WhereAll) ([]Standing, error) {
	cs, err := j.t.CommissionsOf(j.door.ID)
	if err != nil {
		return nil, err
	}
	if j.door.Only != "" {
		cs = slices.DeleteFunc(cs, func(c ledger.Commission) bool { return string(c.ID) != j.door.Only })
	}
	if len(cs) == 0 {
		return nil, &Refusal{Kind: NothingYet}
	}
	return j.standAll(cs)
}

// orders are all commissions, what is closed last.
func orders(j *job, _ Orders) ([]Standing, error) {
	cs, err := j.t.Commissions()
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(cs, func(a, b ledger.Commission) int {
		switch x, y := a.State.Closed(), b.State.Closed(); {
		case x == y:
			return 0
		case y:
			return -1
		}
		return 1
	})
	out, err := j.standAll(cs)
	for i := range out {
		if s := &out[i]; err == nil && s.Commission.Promise != "" && !s.Commission.State.Closed() {
			s.Outlook, err = j.t.Outlook(s.Commission.ID)
		}
	}
	return out, err
}

func (j *job) standAll(cs []ledger.Commission) ([]Standing, error) {
	var out []Standing
	for _, c := range cs {
		o, err := j.stands(c)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}
