package desk

import (
	"context"
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

// planned is a commission's place in the shop plan, computed before the deposit's transaction.
type planned struct {
	id       quote.CommissionID
	revision int
	solution plan.Solution
	after    map[string][]string
}

// depositOf says whose deposit an act of the studio confirms.
func (d *Desk) depositOf(in chat.Incoming) (quote.CommissionID, bool) {
	if !in.Person.Studio {
		return "", false
	}
	if in.Command == "deposit" {
		return quote.CommissionID(strings.ToUpper(strings.TrimSpace(in.Values["number"]))), true
	}
	id, ok := strings.CutPrefix(in.Press, "deposit/")
	return quote.CommissionID(id), ok
}

// replan computes operations from now on with promised work kept; nil where there is nothing to plan, which the
// deposit itself then refuses.
func (d *Desk) replan(ctx context.Context, id quote.CommissionID, now time.Time) (*planned, error) {
	var rev ledger.Revision
	var busy []plan.Busy
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.Commission(id)
		if err != nil || c.State != ledger.Approved {
			return err
		}
		if busy, err = t.Promised(id); err != nil {
			return err
		}
		rev, err = t.Revision(id, c.Revision)
		return err
	})
	if errors.Is(err, ledger.ErrNone) || err == nil && rev.Revision == 0 {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	p := &planned{id: id, revision: rev.Revision, solution: rev.Quote.Plan}
	if d.cfg.Replan != nil {
		if p.solution, err = d.cfg.Replan(ctx, rev.Snapshot, rev.Quote, now, busy); err != nil {
			return nil, fmt.Errorf("planning %s into the shop: %w", id, err)
		}
	}
	if d.cfg.After != nil {
		if p.after, err = d.cfg.After(rev.Snapshot, rev.Quote); err != nil {
			return nil, fmt.Errorf("order of work of %s: %w", id, err)
		}
	} else {
		p.after = inferAfter(p.solution.Operations)
	}
	return p, nil
}

// inferAfter reads the order of work off the plan: within an assembly one thing after the other, and nothing before
// the cutting that the plan put before it.
func inferAfter(ops []plan.Scheduled) map[string][]string {
	out := map[string][]string{}
	for _, o := range ops {
		for _, e := range ops {
			if e.ID != o.ID && !e.End.After(o.Start) && (e.Group == o.Group || e.Kind == "cut") {
				out[o.ID] = append(out[o.ID], e.ID)
			}
		}
	}
	return out
}

func (w *work) deposit(c ledger.Commission) (chat.Reply, error) {
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	switch c.State {
	case ledger.Approved:
	case ledger.Working, ledger.Ready, ledger.Delivered:
		return chat.Reply{}, refuse("the deposit of %s was confirmed on %s", c.ID, w.d.when(c.DepositAt))
	default:
		return chat.Reply{}, refuse("%s is %s; a deposit can be confirmed once its quote is approved", c.ID, stateWords[c.State])
	}
	if w.plan == nil || w.plan.id != c.ID || w.plan.revision != c.Revision {
		return chat.Reply{}, refuse("%s has just been changed; confirm the deposit again", c.ID)
	}
	sol := w.plan.solution
	ops := slices.Clone(sol.Operations)
	slices.SortStableFunc(ops, func(a, b plan.Scheduled) int {
		if n := a.Start.Compare(b.Start); n != 0 {
			return n
		}
		return strings.Compare(a.ID, b.ID)
	})
	for i, o := range ops {
		op := ledger.Operation{Commission: c.ID, Seq: i + 1, Op: o.ID, Title: o.Title, Group: o.Group, Kind: o.Kind, Start: o.Start, End: o.End,
			Resources: o.Resources, Spans: o.Spans, After: w.plan.after[o.ID]}
		if o.Cure != nil {
			op.Cure, op.CureFor = o.Cure.Material, o.Cure.Ready.Sub(o.Cure.From)
			if !o.Cure.Latest.IsZero() {
				op.Window = o.Cure.Latest.Sub(o.Cure.From)
			}
		}
		if err := w.t.AddOperation(op); err != nil {
			return chat.Reply{}, err
		}
	}
	quoted := c.Promise
	if by := w.promisedBy(sol); !by.IsZero() {
		c.Promise = w.d.local(by).Format(time.DateOnly)
	}
	c.State = ledger.Working
	c.DepositAt, c.DepositBy = w.now, string(w.in.Person.ID)
	if err := w.save(&c, "deposit confirmed", fmt.Sprintf("%d operations", len(ops))); err != nil {
		return chat.Reply{}, err
	}
	text := fmt.Sprintf("*The deposit for %s is in.* The work has its place in the shop plan, and the promised date is %s.", c.ID, dateWords(c.Promise))
	if quoted != c.Promise && quoted != "" {
		text += fmt.Sprintf(" The quote said %s; the plan is made anew from today.", dateWords(quoted))
	}
	if len(ops) > 0 {
		text += fmt.Sprintf(" It begins with %s on %s.", ops[0].Title, w.d.when(ops[0].Start))
	}
	if err := w.t.PutPost(c.ID, chat.Post{Key: string(c.ID) + "/working", Text: text, Mention: []chat.PersonID{c.Client}}, w.now); err != nil {
		return chat.Reply{}, err
	}
	e := fmt.Sprintf("%s · %s: deposit confirmed by %s.", c.ID, c.ClientName, oneLine(w.in.Person.Name))
	if len(sol.Broken) > 0 {
		e += " The plan cannot keep: " + strings.Join(sol.Broken, "; ") + "."
	}
	// The note with the deposit button has done its work.
	if err := w.note(fmt.Sprintf("%s/note/approved", c.ID), e, nil, nil); err != nil {
		return chat.Reply{}, err
	}
	if err := w.noteCutting(c); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: fmt.Sprintf("%s is in the shop plan with %d operations, promised for %s.", c.ID, len(ops), dateWords(c.Promise))}, nil
}

// promisedBy is the finish that the studio's promise rests on.
func (w *work) promisedBy(s plan.Solution) time.Time {
	by := s.P80
	switch w.d.cfg.Studio().Confidence {
	case 50:
		by = s.P50
	case 95:
		by = s.P95
	}
	if by.Before(s.End) {
		by = s.End
	}
	if by.IsZero() {
		return by
	}
	// What is ready after closing time, or on a closed day, is handed over on the next open day.
	d := w.d.local(by)
	for range 366 {
		if open(w.d.cfg.Studio().Calendar, d) {
			return d
		}
		d = time.Date(d.Year(), d.Month(), d.Day()+1, 0, 0, 0, 0, d.Location())
	}
	return by
}

// open reports whether the shop still works at or after t on its day; a shop without shifts is always open.
func open(c plan.Calendar, t time.Time) bool {
	if slices.Contains(c.Closed, t.Format(time.DateOnly)) {
		return false
	}
	return len(c.Shifts) == 0 || slices.ContainsFunc(c.Shifts, func(s plan.Shift) bool {
		return s.Weekday == t.Weekday() && t.Hour()*60+t.Minute() <= s.To
	})
}

// shop is a commission at work, as the bench sees it.
type shop struct {
	c     ledger.Commission
	ops   []ledger.Operation
	bells []ledger.Bell
}

func (w *work) shop(c ledger.Commission) (shop, error) {
	ops, err := w.t.Operations(c.ID)
	if err != nil {
		return shop{}, err
	}
	bells, err := w.t.Bells(c.ID)
	return shop{c, ops, bells}, err
}

func (s shop) op(id string) (ledger.Operation, bool) {
	i := slices.IndexFunc(s.ops, func(o ledger.Operation) bool { return o.Op == id })
	if i < 0 {
		return ledger.Operation{}, false
	}
	return s.ops[i], true
}

func (s shop) bell(seq int) (ledger.Bell, bool) {
	i := slices.IndexFunc(s.bells, func(b ledger.Bell) bool { return b.Seq == seq })
	if i < 0 {
		return ledger.Bell{}, false
	}
	return s.bells[i], true
}

func opWords(o ledger.Operation) string {
	if o.Group == "" || strings.Contains(o.Title, o.Group) {
		return o.Title
	}
	return o.Title + " · " + o.Group
}

// waits says what an operation still waits for; empty where it can be started.
func (w *work) waits(s shop, o ledger.Operation) string {
	for _, id := range o.After {
		e, ok := s.op(id)
		if !ok {
			continue
		}
		if e.State != ledger.Done {
			return fmt.Sprintf("“%s” must be done first", opWords(e))
		}
		if b, ok := s.bell(e.Seq); ok && b.Due.After(w.now) {
			return fmt.Sprintf("%s after “%s” cures until %s, another %s", e.Cure, opWords(e), w.d.when(b.Due), span(b.Due.Sub(w.now)))
		}
	}
	return ""
}

// missed says which recoat window an operation begun now would miss.
func (w *work) missed(s shop, o ledger.Operation) string {
	for _, id := range o.After {
		if e, ok := s.op(id); ok {
			if b, ok := s.bell(e.Seq); ok && !b.Latest.IsZero() && w.now.After(b.Latest) {
				return fmt.Sprintf(" The recoat window of %s closed on %s: key the surface first, as its data sheet says.", e.Cure, w.d.when(b.Latest))
			}
		}
	}
	return ""
}

func (w *work) opOf(c ledger.Commission, seq int) (shop, ledger.Operation, error) {
	var none ledger.Operation
	switch c.State {
	case ledger.Working:
	case ledger.Approved:
		return shop{}, none, refuse("the deposit of %s is not confirmed yet", c.ID)
	default:
		return shop{}, none, refuse("%s is %s", c.ID, stateWords[c.State])
	}
	s, err := w.shop(c)
	if err != nil {
		return s, none, err
	}
	i := slices.IndexFunc(s.ops, func(o ledger.Operation) bool { return o.Seq == seq })
	if i < 0 {
		return s, none, refuse("%s has no operation %d; ask bench for today's", c.ID, seq)
	}
	o := s.ops[i]
	if o.State == ledger.Done {
		return s, o, refuse("“%s” of %s was done on %s", opWords(o), c.ID, w.d.when(o.DoneAt))
	}
	if say := w.waits(s, o); say != "" {
		return s, o, refuse("“%s” of %s cannot be done yet: %s", opWords(o), c.ID, say)
	}
	return s, o, nil
}

func (w *work) startOp(c ledger.Commission, seq int) (chat.Reply, error) {
	s, o, err := w.opOf(c, seq)
	if err != nil {
		return chat.Reply{}, err
	}
	if o.State == ledger.Running {
		return chat.Reply{}, refuse("“%s” of %s was started on %s", opWords(o), c.ID, w.d.when(o.StartedAt))
	}
	o.State, o.StartedAt, o.StartedBy = ledger.Running, w.now, w.in.Person.ID
	if err := w.t.MoveOperation(o); err != nil {
		return chat.Reply{}, err
	}
	if err := w.record(c, "started", o.Op); err != nil {
		return chat.Reply{}, err
	}
	return w.bench(fmt.Sprintf("Started: %s, %s.%s", c.ID, opWords(o), w.missed(s, o)))
}

// doneOp marks an operation done, which a maker may do without having pressed Start, and starts its cure.
func (w *work) doneOp(c ledger.Commission, seq int) (chat.Reply, error) {
	_, o, err := w.opOf(c, seq)
	if err != nil {
		return chat.Reply{}, err
	}
	o.State, o.DoneAt, o.DoneBy = ledger.Done, w.now, w.in.Person.ID
	if o.StartedAt.IsZero() {
		o.StartedBy = o.DoneBy
	}
	if err := w.t.MoveOperation(o); err != nil {
		return chat.Reply{}, err
	}
	if err := w.record(c, "done", o.Op); err != nil {
		return chat.Reply{}, err
	}
	say := fmt.Sprintf("Done: %s, %s.", c.ID, opWords(o))
	if o.Cure != "" && o.CureFor > 0 {
		b := ledger.Bell{ID: fmt.Sprintf("%s/%d", c.ID, o.Seq), Commission: c.ID, Seq: o.Seq, Due: w.now.Add(o.CureFor)}
		if o.Window > 0 {
			b.Latest = w.now.Add(o.Window)
		}
		if err := w.t.AddBell(b); err != nil {
			return chat.Reply{}, err
		}
		say += fmt.Sprintf(" %s cures until %s; the bell will ring.", capital(o.Cure), w.d.when(b.Due))
	}
	if err := w.finish(&c); err != nil {
		return chat.Reply{}, err
	}
	offer, err := w.keepOffer(c, o)
	if err != nil {
		return chat.Reply{}, err
	}
	return w.bench(say, offer...)
}

// finish moves a commission on once every operation is done and cured.
func (w *work) finish(c *ledger.Commission) error {
	s, err := w.shop(*c)
	if err != nil {
		return err
	}
	if c.State != ledger.Working || slices.ContainsFunc(s.ops, func(o ledger.Operation) bool { return o.State != ledger.Done }) ||
		slices.ContainsFunc(s.bells, func(b ledger.Bell) bool { return b.RungAt.IsZero() }) {
		return nil
	}
	c.State = ledger.Ready
	if err := w.save(c, "finished", ""); err != nil {
		return err
	}
	if err := w.t.PutPost(c.ID, chat.Post{Key: string(c.ID) + "/ready", Text: fmt.Sprintf("*%s is finished and ready to collect.*", c.ID),
		Mention: []chat.PersonID{c.Client}}, w.now); err != nil {
		return err
	}
	return w.note(fmt.Sprintf("%s/note/ready", c.ID), fmt.Sprintf("%s · %s is finished and ready to collect.", c.ID, c.ClientName),
		[]chat.Button{{Action: "handed/" + string(c.ID), Label: "Handed over", Tone: chat.Good}}, nil)
}

func (w *work) handed(c ledger.Commission) (chat.Reply, error) {
	if c.State != ledger.Ready {
		return chat.Reply{}, refuse("%s is %s; it can be handed over once it is finished", c.ID, stateWords[c.State])
	}
	c.State = ledger.Delivered
	if err := w.save(&c, "handed over", ""); err != nil {
		return chat.Reply{}, err
	}
	if err := w.t.PutPost(c.ID, chat.Post{Key: string(c.ID) + "/ready", Text: fmt.Sprintf("*%s was handed over on %s.*", c.ID, w.d.when(w.now))}, w.now); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: fmt.Sprintf("%s is handed over.", c.ID)},
		w.note(fmt.Sprintf("%s/note/ready", c.ID), fmt.Sprintf("%s · %s is handed over.", c.ID, c.ClientName), nil, nil)
}

// pickOp starts or ends an operation chosen from the bench's menu.
func (w *work) pickOp() (chat.Reply, error) {
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	if len(w.in.Picked) == 1 {
		if path := strings.Split(w.in.Picked[0], "/"); path[0] == "start" || path[0] == "done" {
			return w.press(path)
		}
	}
	return chat.Reply{}, refuse("pick one operation")
}

// bench shows the studio what to do today: what runs, what can be started, what cures; last are buttons after those.
func (w *work) bench(say string, last ...chat.Button) (chat.Reply, error) {
	cs, err := w.t.Commissions(ledger.Working)
	if err != nil {
		return chat.Reply{}, err
	}
	type line struct {
		o    ledger.Operation
		rank int // 0 runs, 1 due today, 2 could be brought forward
	}
	var lines []line
	var curing, waiting []string
	today := w.d.local(w.now)
	tomorrow := time.Date(today.Year(), today.Month(), today.Day()+1, 0, 0, 0, 0, today.Location())
	for _, c := range cs {
		s, err := w.shop(c)
		if err != nil {
			return chat.Reply{}, err
		}
		for _, o := range s.ops {
			if o.State == ledger.Done {
				if b, ok := s.bell(o.Seq); ok && b.Due.After(w.now) {
					curing = append(curing, fmt.Sprintf("• %s %s: %s until %s", c.ID, opWords(o), o.Cure, w.d.when(b.Due)))
				}
				continue
			}
			wait := w.waits(s, o)
			switch {
			case o.State == ledger.Running:
				lines = append(lines, line{o, 0})
			case wait == "" && o.Start.Before(tomorrow):
				lines = append(lines, line{o, 1})
			case wait == "":
				lines = append(lines, line{o, 2})
			case o.Start.Before(tomorrow):
				waiting = append(waiting, fmt.Sprintf("• %s %s: %s", c.ID, opWords(o), wait))
			}
		}
	}
	slices.SortStableFunc(lines, func(a, b line) int {
		if a.rank != b.rank {
			return a.rank - b.rank
		}
		return a.o.Start.Compare(b.o.Start)
	})
	var b strings.Builder
	if say != "" {
		b.WriteString(say + "\n\n")
	}
	fmt.Fprintf(&b, "*Bench, %s*", today.Format("Mon 2 Jan 2006, 15:04"))
	rep := chat.Reply{}
	more := chat.Menu{Action: "bench", Label: "More operations", Min: 1, Max: 1} // what the buttons have no room for
	heads := []string{"In hand", "Today", "Could be brought forward"}
	rank := -1
	for _, l := range lines {
		if l.rank != rank {
			rank = l.rank
			b.WriteString("\n*" + heads[rank] + "*")
		}
		fmt.Fprintf(&b, "\n• %s %s, planned %s to %s", l.o.Commission, opWords(l.o), w.d.local(l.o.Start).Format("Mon 15:04"), w.d.local(l.o.End).Format("Mon 15:04"))
		verb, label, tone := "start", "Start", chat.Plain
		if l.rank == 0 {
			verb, label, tone = "done", "Done", chat.Good
		}
		action := fmt.Sprintf("%s/%s/%d", verb, l.o.Commission, l.o.Seq)
		label = clip(fmt.Sprintf("%s: %s %s", label, l.o.Commission, opWords(l.o)), chat.MaxLabel)
		switch {
		case len(rep.Buttons) < chat.MaxButtons-len(last):
			rep.Buttons = append(rep.Buttons, chat.Button{Action: action, Label: label, Tone: tone})
		case len(more.Options) < chat.MaxOptions:
			more.Options = append(more.Options, chat.Option{Value: action, Label: label})
		}
	}
	rep.Buttons = append(rep.Buttons, last...)
	if len(more.Options) > 0 {
		rep.Menus = append(rep.Menus, more)
	}
	for _, part := range []struct {
		head  string
		lines []string
	}{{"Waiting", few(waiting)}, {"Curing", curing}} {
		if len(part.lines) > 0 {
			b.WriteString("\n*" + part.head + "*\n" + strings.Join(part.lines, "\n"))
		}
	}
	if len(lines)+len(curing)+len(waiting) == 0 {
		b.WriteString("\nNothing to do: no commission is in the shop plan.")
	}
	rep.Text = clip(b.String(), chat.MaxText)
	return rep, nil
}

// waitingShown is how many operations that cannot be started yet the bench list names; it is read on a phone.
const waitingShown = 4

func few(lines []string) []string {
	if len(lines) <= waitingShown+1 {
		return lines
	}
	return append(slices.Clone(lines[:waitingShown]), fmt.Sprintf("• and %d more behind these", len(lines)-waitingShown))
}

// ring tells thread and maker that a cure has ended. A bell rings once: its row and the posts are one transaction.
func (d *Desk) ring(ctx context.Context, now time.Time) error {
	return d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		due, err := t.DueBells(now)
		if err != nil {
			return err
		}
		w := &work{d: d, t: t, now: now}
		for _, b := range due {
			if err := w.ringOne(b); err != nil {
				return err
			}
		}
		return nil
	})
}

func (w *work) ringOne(b ledger.Bell) error {
	c, err := w.t.Commission(b.Commission)
	if err != nil {
		return err
	}
	if err := w.t.Rung(b.ID, w.now); err != nil {
		return err
	}
	if c.State != ledger.Working {
		return nil
	}
	s, err := w.shop(c)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(s.ops, func(o ledger.Operation) bool { return o.Seq == b.Seq })
	if i < 0 {
		return fmt.Errorf("bell %s belongs to no operation", b.ID)
	}
	o := s.ops[i]
	text := w.bellWords(s, o, b)
	if err := w.t.Record(ledger.Event{At: w.now, Commission: c.ID, What: "bell rung", Detail: o.Op}); err != nil {
		return err
	}
	tell := []chat.PersonID{c.Client}
	if o.DoneBy != c.Client {
		tell = append(tell, o.DoneBy)
	}
	if err := w.t.PutPost(c.ID, chat.Post{Key: "bell/" + b.ID, Text: text, Mention: tell}, w.now); err != nil {
		return err
	}
	if err := w.noteTo("bell/"+b.ID, text+" (for "+c.ClientName+")", nil, nil, []chat.PersonID{o.DoneBy}); err != nil {
		return err
	}
	return w.finish(&c)
}

// coats are the operations that put a coat on.
var coats = []string{"prime", "paint", "wash", "clear", "seal", "coat"}

// bellWords says what a cured operation is ready for and until when.
func (w *work) bellWords(s shop, o ledger.Operation, b ledger.Bell) string {
	what := o.Group
	if what == "" {
		what = o.Title
	}
	cured := fmt.Sprintf("%s after “%s” has cured.", capital(o.Cure), o.Title)
	i := slices.IndexFunc(s.ops, func(x ledger.Operation) bool { return x.State != ledger.Done && slices.Contains(x.After, o.Op) })
	if i < 0 {
		return fmt.Sprintf("%s, *cured: %s.* %s", s.c.ID, what, cured)
	}
	next := s.ops[i]
	if wait := w.waits(s, next); wait != "" {
		text := fmt.Sprintf("%s, *cured: %s.* %s Next is “%s”, but %s.", s.c.ID, what, cured, next.Title, wait)
		if !b.Latest.IsZero() {
			text += fmt.Sprintf(" It must go on by %s.", w.d.when(b.Latest))
		}
		return text
	}
	ready, coat := "ready for the next step", false
	if slices.Contains(coats, next.Kind) {
		ready, coat = "ready for the next coat", true
	}
	if next.Kind == "paint" {
		ready = "ready for paint"
	}
	text := fmt.Sprintf("%s, *%s: %s.* %s Next: %s.", s.c.ID, ready, what, cured, next.Title)
	switch {
	case !coat:
	case b.Latest.IsZero():
		text += " The next coat can go on from now on."
	case w.now.After(b.Latest):
		text += fmt.Sprintf(" The window for the next coat closed on %s: key the surface first, as the data sheet says.", w.d.when(b.Latest))
	default:
		text += fmt.Sprintf(" The next coat must go on by %s.", w.d.when(b.Latest))
	}
	return text
}
