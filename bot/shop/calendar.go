package shop

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/plan"
)

const (
	// calendarAhead is how far ahead a calendar has work: past it the plan has changed before anybody gets there (common
	// practice, no source). What is agreed with a client is in it however far ahead.
	calendarAhead = 28 * 24 * time.Hour
	// spellGap is the longest break within one spell at the bench: two operations that are no further apart are one event.
	spellGap = 30 * time.Minute
	// handingTakes is how long a client is there who collects a commission (common practice, no source).
	handingTakes = 30 * time.Minute
)

// MakeCalendarLink makes a link that shows a member's calendar to whoever has it, until it is ended. Without an ID it is one's own.
type MakeCalendarLink struct{ Member string }

// CalendarLinkMade is such a link. Delivered again it comes without the secret, which is nowhere else.
type CalendarLinkMade struct {
	Member ledger.Member
	Secret string `json:"-"`
}

func makeCalendarLink(j *job, a MakeCalendarLink) (o CalendarLinkMade, err error) {
	if o.Member, err = j.ownCalendar(a.Member); err != nil {
		return o, err
	}
	if o.Secret, err = j.calendarLink(o.Member.ID, ""); err != nil {
		return o, err
	}
	return o, j.record(ledger.Commission{}, "made a calendar link", o.Member.ID+" "+o.Member.Name)
}

// ownCalendar finds the member whose calendar is meant.
func (j *job) ownCalendar(id string) (ledger.Member, error) {
	if OneLine(id) != "" {
		return j.own(id)
	}
	if j.member.ID == "" {
		return j.member, &Refusal{Kind: NoOwnerYet}
	}
	return j.member, nil
}

func (j *job) calendarLink(member string, c quote.CommissionID) (string, error) {
	if err := j.endLinks(ledger.CalendarLink, member, c, mostLinks-1); err != nil {
		return "", err
	}
	secret, sum := newSecret()
	return secret, j.t.AddLink(ledger.Link{Kind: ledger.CalendarLink, SHA256: sum, Member: member, Commission: c, MadeAt: j.now, MadeBy: j.by.ID})
}

// EndCalendarLinks ends all links to a member's calendar. Without an ID it is one's own.
type EndCalendarLinks struct{ Member string }

// CalendarLinksEnded says how many links there were.
type CalendarLinksEnded struct {
	Member ledger.Member
	Links  int
}

func endCalendarLinks(j *job, a EndCalendarLinks) (o CalendarLinksEnded, err error) {
	if o.Member, err = j.ownCalendar(a.Member); err != nil {
		return o, err
	}
	if o.Links, err = j.endCalendar(o.Member.ID, ""); err != nil {
		return o, err
	}
	return o, j.record(ledger.Commission{}, "ended the calendar links", fmt.Sprint(o.Member.ID, " ", o.Links))
}

func (j *job) endCalendar(member string, c quote.CommissionID) (int, error) {
	all, err := j.t.LinksOf(ledger.CalendarLink, member, c)
	if err != nil {
		return 0, err
	}
	return len(all), j.endLinks(ledger.CalendarLink, member, c, 0)
}

// MakeClientCalendarLink makes a link that shows the calendar of one commission, as its client has it, until it is ended.
type MakeClientCalendarLink struct{ Of }

// ClientCalendarLinkMade is such a link. Delivered again it comes without the secret.
type ClientCalendarLinkMade struct {
	Commission ledger.Commission
	Secret     string `json:"-"`
}

func makeClientCalendarLink(j *job, c ledger.Commission, _ MakeClientCalendarLink) (o ClientCalendarLinkMade, err error) {
	o.Commission = c
	if o.Secret, err = j.calendarLink("", c.ID); err != nil {
		return o, err
	}
	return o, j.record(c, "made a calendar link", "")
}

// EndClientCalendarLinks ends all links to a commission's calendar.
type EndClientCalendarLinks struct{ Of }

// ClientCalendarLinksEnded says how many links there were.
type ClientCalendarLinksEnded struct {
	Commission ledger.Commission
	Links      int
}

func endClientCalendarLinks(j *job, c ledger.Commission, _ EndClientCalendarLinks) (o ClientCalendarLinksEnded, err error) {
	o.Commission = c
	if o.Links, err = j.endCalendar("", c.ID); err != nil {
		return o, err
	}
	return o, j.record(c, "ended the calendar links", fmt.Sprint(o.Links))
}

// EventKind says what an event of a calendar is.
type EventKind string

// Kinds of events.
const (
	Spell   EventKind = "spell"   // at the bench: what one maker does without a longer break
	Meet    EventKind = "meet"    // a client is there
	Cured   EventKind = "cured"   // a coat or a glue-up is ready for what comes next; takes no time
	DueDate EventKind = "promise" // a date that a client was told; takes the whole day
)

// SpellStep is one operation of a spell, or the part of it that is done then.
type SpellStep struct {
	Commission   quote.CommissionID
	Title, Group string
	From, To     time.Time
}

// Facts are what an event says. They have nothing of a client's body, nor who the client is: a calendar is read by programs of
// others.
type Facts struct {
	Kind       EventKind
	Commission quote.CommissionID `json:",omitempty"` // empty: a spell, whose steps have theirs
	From, To   time.Time          `json:",omitzero"`  // equal: it takes no time
	Day        string             `json:",omitempty"` // of a promise, "2026-12-18"
	Steps      []SpellStep        `json:",omitempty"`
	Which      string             `json:",omitempty"` // the appointment that it is: "first fitting"
	Cure       string             `json:",omitempty"` // the material
	Of, Next   string             `json:",omitempty"` // the operation that has cured, and the one that waits for it
	Closes     time.Time          `json:",omitzero"`  // the recoat window; zero: it has no end
}

// CalendarEntry is an event as it is told: the same UID for ever, and another number each time that it says something else.
type CalendarEntry struct {
	Facts
	UID           string
	Sequence      int
	Made, Changed time.Time
	Off           bool // it was told before and is called off; From, To and Day are as they were
}

// Calendar is what a link to a calendar shows.
type Calendar struct {
	Name       string             // of the member; empty: it is a client's
	Commission quote.CommissionID // of the client's
	Entries    []CalendarEntry    // in the order of their times
}

// Calendar says what a link to a calendar shows now, or refuses it. It remembers how each event is told. What was agreed with a client
// (an appointment, a promised date) and is called off stays as such until its time is over, as whoever has it in their calendar must
// hear of it; work that is planned otherwise just goes, since nobody was told of it.
func (s *Shop) Calendar(ctx context.Context, secret string) (out Calendar, err error) {
	err = s.inTx(ctx, s.cfg.Now(), chat.Person{}, func(j *job) error {
		l, err := j.t.LinkOf(hashOf(strings.ToLower(strings.TrimSpace(secret))))
		switch {
		case errors.Is(err, ledger.ErrNone), err == nil && l.Kind != ledger.CalendarLink:
			return &Refusal{Kind: LinkUnknown}
		case err != nil:
			return err
		case !l.EndedAt.IsZero():
			return &Refusal{Kind: LinkEnded}
		}
		events := map[string]Facts{}
		whose := l.Member
		if l.Member != "" {
			m, err := j.t.Member(l.Member)
			if err != nil {
				return err
			}
			out.Name = m.Name
			err = j.membersEvents(m, events)
			if err != nil {
				return err
			}
		} else {
			c, err := j.t.Commission(l.Commission)
			if err != nil {
				return err
			}
			whose, out.Commission = string(c.ID), c.ID
			if err := j.agreed(c, events); err != nil {
				return err
			}
		}
		out.Entries, err = j.told(whose, events)
		return err
	})
	return out, err
}

// midnight is the beginning of the day in the studio's zone.
func (j *job) midnight() time.Time {
	l := j.local(j.now)
	return time.Date(l.Year(), l.Month(), l.Day(), 0, 0, 0, 0, l.Location())
}

// agreed adds what was agreed with the client of a commission: its appointments and the date that they were told.
func (j *job) agreed(c ledger.Commission, events map[string]Facts) error {
	ops, err := j.t.Operations(c.ID)
	if err != nil {
		return err
	}
	return j.agreedOf(c, ops, events, func([]string) bool { return true }, true)
}

// agreedOf is agreed for whom has says of the resources that an appointment occupies, with the date or without.
func (j *job) agreedOf(c ledger.Commission, ops []ledger.Operation, events map[string]Facts, has func(resources []string) bool, dated bool) error {
	all, err := j.t.Appointments(c.ID)
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.At.IsZero() || a.State == ledger.ApptVoid || c.State == ledger.Cancelled {
			continue
		}
		takes, resources := handingTakes, []string(nil)
		if i := slices.IndexFunc(ops, func(o ledger.Operation) bool { return o.Op == fittingOps[a.Which] }); i >= 0 {
			takes, resources = plan.Worked(ops[i].Start, ops[i].End, ops[i].Spans), ops[i].Resources
		}
		if has(resources) {
			events[fmt.Sprintf("%s/appointment/%d", c.ID, a.N)] = Facts{Kind: Meet, Commission: c.ID, Which: string(a.Which), From: a.At, To: a.At.Add(takes)}
		}
	}
	if dated && c.Promise != "" && slices.Contains([]ledger.State{ledger.Approved, ledger.Working, ledger.Ready, ledger.Delivered}, c.State) {
		day, err := time.ParseInLocation(time.DateOnly, c.Promise, j.s.zone())
		if err != nil {
			return fmt.Errorf("the promise of %s is not a date: %w", c.ID, err)
		}
		events[string(c.ID)+"/promise"] = Facts{Kind: DueDate, Commission: c.ID, Day: c.Promise, From: day, To: day.AddDate(0, 0, 1)}
	}
	return nil
}

// membersEvents adds what a member has in their calendar: who is at the bench their work, the cures it waits for, and the fittings
// that are theirs; who talks with clients all that is agreed with them.
func (j *job) membersEvents(m ledger.Member, events map[string]Facts) error {
	cs, err := j.t.Commissions(ledger.Approved, ledger.Working, ledger.Ready)
	if err != nil {
		return err
	}
	front := m.Roles&(ledger.FrontDesk|ledger.Owner) != 0
	theirs := func(resources []string) bool { return m.Bench != "" && slices.Contains(resources, m.Bench) }
	var steps []keyedStep
	for _, c := range cs {
		b, err := j.bench(c)
		if err != nil {
			return err
		}
		if err := j.agreedOf(c, b.ops, events, func(r []string) bool { return front || theirs(r) }, front); err != nil {
			return err
		}
		if c.State != ledger.Working {
			continue
		}
		for _, o := range b.ops {
			if theirs(o.Resources) && !isMeeting(events, o) {
				steps = append(steps, j.stepsOf(o)...)
			}
		}
		for _, x := range b.bells {
			d, ok := b.drying(x, j.now)
			if !ok || !x.RungAt.IsZero() {
				continue
			}
			waits := d.Operation
			if d.Next != nil {
				waits = *d.Next
			}
			if !theirs(waits.Resources) {
				continue
			}
			f := Facts{Kind: Cured, Commission: c.ID, From: x.Due, To: x.Due, Cure: d.Operation.Cure, Of: d.Operation.Title, Closes: d.Closes}
			if d.Next != nil {
				f.Next = d.Next.Title
			}
			events[x.ID+"/cured"] = f
		}
	}
	for key, f := range spells(steps, j.s.zone()) {
		events[key] = f
	}
	return nil
}

// isMeeting reports whether an operation is an appointment that is an event of its own.
func isMeeting(events map[string]Facts, o ledger.Operation) bool {
	w := appointed(o.Op)
	if w == "" {
		return false
	}
	for _, f := range events {
		if f.Kind == Meet && f.Commission == o.Commission && f.Which == string(w) {
			return true
		}
	}
	return false
}

// keyedStep is a step with what its spell is known by where it is the first.
type keyedStep struct {
	SpellStep
	key string
}

// stepsOf are the stretches in which an operation is worked on, from the beginning of today: as it was done where it is, else as it
// is planned.
func (j *job) stepsOf(o ledger.Operation) (out []keyedStep) {
	spans := slices.Clone(o.Spans)
	if len(spans) == 0 {
		spans = []plan.Span{{From: o.Start, To: o.End}}
	}
	if !o.StartedAt.IsZero() && o.StartedAt.Before(spans[0].To) {
		spans[0].From = o.StartedAt
	}
	if o.State == ledger.Done {
		if o.StartedAt.IsZero() { // nobody pressed Start
			spans = []plan.Span{{From: o.DoneAt.Add(-plan.Worked(o.Start, o.End, o.Spans)), To: o.DoneAt}}
		} else {
			spans = []plan.Span{{From: o.StartedAt, To: o.DoneAt}}
		}
	}
	for i, x := range spans {
		if x.To.After(j.midnight()) && x.From.Before(j.now.Add(calendarAhead)) && x.From.Before(x.To) {
			out = append(out, keyedStep{SpellStep{o.Commission, o.Title, o.Group, x.From, x.To}, fmt.Sprintf("%s/%s/%d", o.Commission, o.Op, i)})
		}
	}
	return out
}

// spells puts together what is done without a longer break on one day. A spell is known by what it begins with, and so moves with it.
func spells(steps []keyedStep, zone *time.Location) map[string]Facts {
	slices.SortStableFunc(steps, func(a, b keyedStep) int { return cmp.Or(a.From.Compare(b.From), strings.Compare(a.key, b.key)) })
	out := map[string]Facts{}
	last := ""
	for _, x := range steps {
		f := out[last]
		if last != "" && x.From.Sub(f.To) <= spellGap && sameDay(f.From, x.From, zone) {
			f.Steps = append(f.Steps, x.SpellStep)
			if x.To.After(f.To) {
				f.To = x.To
			}
			out[last] = f
			continue
		}
		last = "spell/" + x.key
		out[last] = Facts{Kind: Spell, From: x.From, To: x.To, Steps: []SpellStep{x.SpellStep}}
	}
	return out
}

func sameDay(a, b time.Time, zone *time.Location) bool {
	return a.In(zone).Format(time.DateOnly) == b.In(zone).Format(time.DateOnly)
}

// told remembers how the events of a calendar are told now, and says how.
func (j *job) told(whose string, events map[string]Facts) ([]CalendarEntry, error) {
	before, err := j.t.CalendarEvents(whose)
	if err != nil {
		return nil, err
	}
	was := map[string]ledger.CalendarEvent{}
	for _, e := range before {
		if _, ok := events[e.Key]; ok {
			if e.Off { // it takes place after all, whatever it says
				e.SHA256 = ""
			}
			was[e.Key] = e
			continue
		}
		was[e.Key] = e
		var f Facts
		if err := json.Unmarshal(e.Facts, &f); err != nil {
			return nil, fmt.Errorf("event %s of %s cannot be read: %w", e.Key, whose, err)
		}
		if !e.EndsAt.After(j.now) || f.Kind != Meet && f.Kind != DueDate {
			if err := j.t.ForgetCalendarEvent(whose, e.Key); err != nil {
				return nil, err
			}
			continue
		}
		if gone, err := j.goneWell(f); err != nil || gone {
			if err != nil {
				return nil, err
			}
			if err := j.t.ForgetCalendarEvent(whose, e.Key); err != nil {
				return nil, err
			}
			continue
		}
		if !e.Off {
			e.Off, e.Sequence, e.ChangedAt = true, e.Sequence+1, j.now
			if err := j.t.TellCalendarEvent(e); err != nil {
				return nil, err
			}
			was[e.Key] = e
		}
		events[e.Key] = f
	}
	var out []CalendarEntry
	for key, f := range events {
		text, err := json.Marshal(f)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(text)
		e, ok := was[key]
		if same := hex.EncodeToString(sum[:]); !ok || e.SHA256 != same {
			if !ok {
				e = ledger.CalendarEvent{Whose: whose, Key: key, UID: strings.ToLower(rand.Text()), Sequence: -1, MadeAt: j.now}
			}
			e.SHA256, e.Facts, e.Off, e.Sequence, e.ChangedAt, e.EndsAt = same, text, false, e.Sequence+1, j.now, f.To
			if err := j.t.TellCalendarEvent(e); err != nil {
				return nil, err
			}
		}
		out = append(out, CalendarEntry{Facts: f, UID: e.UID, Sequence: e.Sequence, Made: e.MadeAt, Changed: e.ChangedAt, Off: e.Off})
	}
	slices.SortFunc(out, func(a, b CalendarEntry) int { return cmp.Or(a.From.Compare(b.From), strings.Compare(a.UID, b.UID)) })
	return out, nil
}

// goneWell reports whether what was agreed is not in a calendar any more because its commission is finished, which calls nothing off.
func (j *job) goneWell(f Facts) (bool, error) {
	c, err := j.t.Commission(f.Commission)
	return c.State == ledger.Delivered, err
}
