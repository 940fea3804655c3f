package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
)

const (
	// planCounter counts how often the shop's plan was made anew: a button under an earlier one does nothing any more.
	planCounter = "shop plan"
	// dangerCounter numbers the notices about promises, so that a promise in danger a second time is a new one.
	dangerCounter = "danger notices"
	// lateEnough is how much later than planned an operation must be done for the promises to be looked at: less is made
	// good within the day (common practice, no source).
	lateEnough = 30 * time.Minute
)

// shopPlanned is the shop's plan as it would be made now, computed before its act's transaction.
type shopPlanned struct {
	floor.Shop
	state string // of the bench when it was computed
	files []chat.File
}

// shopNow reads the commissions at work: what they are and what has become of their operations. The state is a text that
// differs once anything at the bench has.
func (w *work) shopNow() (open []floor.Open, state string, err error) {
	cs, err := w.t.Commissions(ledger.Working)
	if err != nil {
		return nil, "", err
	}
	for _, c := range cs {
		ops, err := w.t.Operations(c.ID)
		if err != nil {
			return nil, "", err
		}
		if !slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.State != ledger.Done }) {
			continue // its last cure runs; there is nothing to plan
		}
		x := floor.Open{Snapshot: quote.Snapshot{Commission: c.ID, Revision: c.Revision}, Promise: c.Promise}
		for _, o := range ops {
			x.Actual = append(x.Actual, floor.Actual{Op: o.Op, Title: o.Title, Start: o.Start, End: o.End, Spans: o.Spans, Resources: o.Resources,
				Started: o.StartedAt, Finished: o.DoneAt})
		}
		open = append(open, x)
		state += fmt.Sprintln(c.ID, c.Revision, c.Promise, x.Actual)
	}
	return open, state, nil
}

// openNow reads the commissions at work with their quotes.
func (d *Desk) openNow(ctx context.Context, now time.Time) (open []floor.Open, state string, err error) {
	err = d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		open, state, err = (&work{d: d, t: t, now: now}).shopNow()
		for i := 0; i < len(open) && err == nil; i++ {
			var rev ledger.Revision
			rev, err = t.Revision(open[i].Snapshot.Commission, open[i].Snapshot.Revision)
			open[i].Snapshot, open[i].Quote = rev.Snapshot, rev.Quote
		}
		return err
	})
	return open, state, err
}

// planShop makes the shop's plan as of now; nil where the desk has no planner.
func (d *Desk) planShop(ctx context.Context, now time.Time, drawn bool) (*shopPlanned, error) {
	if d.cfg.Shop == nil {
		return nil, nil
	}
	open, state, err := d.openNow(ctx, now)
	p := &shopPlanned{state: state}
	if err != nil || len(open) == 0 {
		return p, err
	}
	if p.Shop, err = d.cfg.Shop(ctx, open, d.cfg.Studio(), now, nil); err != nil {
		return nil, fmt.Errorf("the shop's plan: %w", err)
	}
	if !drawn {
		return p, nil
	}
	pics, err := p.Draw()
	for _, x := range pics {
		p.files = append(p.files, pictured(x))
	}
	return p, err
}

// wantsShop says whether an act of the studio needs the shop's plan, and drawn.
func wantsShop(in chat.Incoming) (wants, drawn bool) {
	verb, _, _ := strings.Cut(in.Press, "/")
	if in.Pick == "shop" && len(in.Picked) == 1 {
		verb, _, _ = strings.Cut(in.Picked[0], "/")
	}
	return in.Command == "plan" || verb == "replan" || verb == "tell", verb != "tell"
}

// planShown answers the command plan.
func (w *work) planShown(say string) (chat.Reply, error) {
	p := w.shopPlan
	if p == nil {
		return chat.Reply{}, refuse("this desk plans no shop")
	}
	if len(p.Outlooks) == 0 {
		return chat.Reply{Text: "Nothing is left to plan: no commission is in the shop plan."}, nil
	}
	var b strings.Builder
	if say != "" {
		b.WriteString(say + "\n\n")
	}
	fmt.Fprintf(&b, "*The shop's plan, %s*\n", w.d.when(w.now))
	rep := chat.Reply{Files: p.files}
	anew := p.Moved > 0
	if anew {
		n, err := w.t.Count(planCounter)
		if err != nil {
			return chat.Reply{}, err
		}
		rep.Buttons = append(rep.Buttons, chat.Button{Action: fmt.Sprintf("replan/%d", n), Label: "Plan anew", Tone: chat.Good})
	}
	more := chat.Menu{Action: "shop", Label: "Tell another client", Min: 1, Max: 1}
	unsaid := 0
	for _, l := range byDanger(p.Outlooks) {
		c, err := w.t.Commission(l.Commission)
		if err != nil {
			return chat.Reply{}, err
		}
		line := w.outlookLine(c, l)
		if len([]rune(b.String()))+len([]rune(line)) > chat.MaxText-200 {
			unsaid++
		} else {
			b.WriteString(line + "\n")
		}
		if !l.Danger {
			continue
		}
		action, label := "tell/"+string(c.ID), fmt.Sprintf("Tell the client of %s", c.ID)
		switch {
		case len(rep.Buttons) < chat.MaxButtons:
			rep.Buttons = append(rep.Buttons, chat.Button{Action: action, Label: label})
		case len(more.Options) < chat.MaxOptions:
			more.Options = append(more.Options, chat.Option{Value: action, Label: label})
		}
	}
	if len(more.Options) > 0 {
		rep.Menus = append(rep.Menus, more)
	}
	if unsaid > 0 {
		fmt.Fprintf(&b, "… and %d more.\n", unsaid)
	}
	if anew {
		fmt.Fprintf(&b, "%s against the plan so far; press Plan anew to have it so.", moves(p.Moved))
	} else {
		b.WriteString("It is the plan so far: nothing moves.")
	}
	rep.Text = clip(b.String(), chat.MaxText)
	return rep, nil
}

// byDanger has what is in danger first, then what is promised first: a message may not hold all.
func byDanger(all []floor.Outlook) []floor.Outlook {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b floor.Outlook) int {
		if a.Danger != b.Danger {
			if a.Danger {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Promise, b.Promise)
	})
	return all
}

func moves(n int) string {
	if n == 1 {
		return "1 operation moves"
	}
	return fmt.Sprintf("%d operations move", n)
}

// outlookLine says promised, expected and sure date of a commission, and what endangers it.
func (w *work) outlookLine(c ledger.Commission, l floor.Outlook) string {
	promised := "nothing promised"
	if l.Promise != "" {
		promised = "promised " + shortDate(l.Promise)
	}
	line := fmt.Sprintf("• %s · %s: %s, expected %s, sure %s", c.ID, clip(c.ClientName, 40), promised, shortDate(l.P50), shortDate(l.P80))
	switch {
	case l.Danger:
		line += fmt.Sprintf(". *In danger*, kept in %.0f of 100 runs: %s", 100*l.Kept, l.Why)
	case l.Promise != "" && l.P80SoFar > l.Promise:
		line += fmt.Sprintf(". *In danger* unless planned anew: by the plan so far sure %s", shortDate(l.P80SoFar))
	}
	line += "."
	for _, x := range l.Closed {
		line += " " + x + "."
	}
	return line
}

// shortDate is "2026-12-18" as "Fri 18 Dec".
func shortDate(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("Mon 2 Jan")
}

// replanned takes the shop's plan over; "replan/3".
func (w *work) replanned(path []string) (chat.Reply, error) {
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	n, err := w.t.Count(planCounter)
	if err != nil {
		return chat.Reply{}, err
	}
	if int64(number(path, 1)) != n {
		return chat.Reply{}, refuse("the shop has been planned anew since; ask plan for how it stands now")
	}
	p := w.shopPlan
	if p == nil {
		return chat.Reply{}, refuse("this desk plans no shop")
	}
	_, state, err := w.shopNow()
	if err != nil {
		return chat.Reply{}, err
	}
	if state != p.state {
		return chat.Reply{}, refuse("the bench has just moved on; press Plan anew once more")
	}
	if p.Moved == 0 {
		return w.planShown("Nothing is to be changed.")
	}
	for _, l := range p.Outlooks {
		if err := w.takeOver(l); err != nil {
			return chat.Reply{}, err
		}
	}
	if _, err := w.t.Next(planCounter); err != nil {
		return chat.Reply{}, err
	}
	if err := w.t.Record(ledger.Event{At: w.now, Person: string(w.in.Person.ID), What: "shop planned anew", Detail: moves(p.Moved)}); err != nil {
		return chat.Reply{}, err
	}
	say := fmt.Sprintf("*The shop is planned anew*: %s. No client has been told.", moves(p.Moved))
	p.Moved = 0
	return w.planShown(say)
}

// takeOver gives a commission's operations their new places.
func (w *work) takeOver(l floor.Outlook) error {
	ops, err := w.t.Operations(l.Commission)
	if err != nil {
		return err
	}
	for _, x := range l.Left {
		i := slices.IndexFunc(ops, func(o ledger.Operation) bool { return o.Op == x.ID })
		if i < 0 {
			return fmt.Errorf("the plan has an operation %s of %s, which is not at the bench", x.ID, l.Commission)
		}
		o := ops[i]
		if o.State != ledger.Planned {
			continue
		}
		o.Start, o.End, o.Spans, o.Resources = x.Start, x.End, x.Spans, x.Resources
		if x.Cure != nil && o.Cure != "" {
			o.CureFor, o.Window = x.Cure.Ready.Sub(x.Cure.From), 0
			if !x.Cure.Latest.IsZero() {
				o.Window = x.Cure.Latest.Sub(x.Cure.From)
			}
		}
		if err := w.t.PlanOperation(o); err != nil {
			return err
		}
	}
	if l.Moved == 0 {
		return nil
	}
	return w.t.Record(ledger.Event{At: w.now, Commission: l.Commission, Person: string(w.in.Person.ID), What: "planned anew",
		Detail: fmt.Sprintf("%s, sure %s", moves(l.Moved), l.P80)})
}

// tell tells a client the date that can be kept instead of the one promised, which it then replaces.
func (w *work) tell(c ledger.Commission) (chat.Reply, error) {
	if w.shopPlan == nil {
		return chat.Reply{}, refuse("this desk plans no shop")
	}
	if c.State != ledger.Working {
		return chat.Reply{}, refuse("%s is %s", c.ID, stateWords[c.State])
	}
	i := slices.IndexFunc(w.shopPlan.Outlooks, func(l floor.Outlook) bool { return l.Commission == c.ID })
	if i < 0 || !w.shopPlan.Outlooks[i].Danger || w.shopPlan.Outlooks[i].Promise != c.Promise {
		return chat.Reply{}, refuse("the date promised for %s, %s, is not in danger; there is nothing to tell", c.ID, dateWords(c.Promise))
	}
	l := w.shopPlan.Outlooks[i]
	was := c.Promise
	c.Promise = w.sureDate(l)
	if err := w.save(&c, "date moved", was+" to "+c.Promise); err != nil {
		return chat.Reply{}, err
	}
	text := fmt.Sprintf("*%s will be ready later than promised.* We said %s; as the work stands, the date we can keep is *%s*. We are sorry, and work on as planned. If this comes too late for you, please answer here.",
		c.ID, dateWords(was), dateWords(c.Promise))
	if err := w.t.PutPost(c.ID, chat.Post{Key: fmt.Sprintf("%s/date/%s", c.ID, c.Promise), Text: text, Mention: []chat.PersonID{c.Client}}, w.now); err != nil {
		return chat.Reply{}, err
	}
	o, err := w.t.Outlook(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	if o.Danger {
		if err := w.note(o.Note, fmt.Sprintf("%s · %s: the client was told the new date, %s.", c.ID, c.ClientName, dateWords(c.Promise)), nil, nil); err != nil {
			return chat.Reply{}, err
		}
	}
	o.Promise, o.Sure, o.Danger = c.Promise, l.P80, false
	return chat.Reply{Text: fmt.Sprintf("%s was told: %s instead of %s.", c.ClientName, dateWords(c.Promise), dateWords(was))}, w.t.SetOutlook(o, w.now)
}

// sureDate is the date that the studio's promise rests on, never before what 80 of 100 runs need.
func (w *work) sureDate(l floor.Outlook) string {
	if w.d.cfg.Studio().Confidence == 95 {
		return l.P95
	}
	return l.P80
}

// pickShop is a choice from the menu under the shop's plan.
func (w *work) pickShop() (chat.Reply, error) {
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	if len(w.in.Picked) == 1 {
		if path := strings.Split(w.in.Picked[0], "/"); path[0] == "tell" {
			return w.press(path)
		}
	}
	return chat.Reply{}, refuse("pick one commission")
}

// lookAhead looks at what the bench has done since it last looked: where work was done late or a cure has begun, it plans
// the shop and says on the notice board which promises have come into danger, once for each time they do.
func (d *Desk) lookAhead(ctx context.Context, now time.Time) error {
	if d.cfg.Shop == nil {
		return nil
	}
	var done []ledger.Operation
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		done, err = t.NewlyDone()
		return err
	})
	if err != nil || len(done) == 0 {
		return err
	}
	var p *shopPlanned
	if slices.ContainsFunc(done, func(o ledger.Operation) bool { return o.CureFor > 0 || o.DoneAt.Sub(o.End) > lateEnough }) {
		if p, err = d.planShop(ctx, now, false); err != nil && ctx.Err() == nil {
			// It would fail again until something else happens at the bench; the work itself goes on.
			d.log.Error("the promises are not looked at", "cause", err)
			p, err = nil, nil
		}
	}
	if err != nil {
		return err
	}
	return d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		for _, o := range done {
			if err := t.LookedAt(o); err != nil {
				return err
			}
		}
		if p == nil {
			return nil
		}
		w := &work{d: d, t: t, now: now}
		for _, l := range p.Outlooks {
			if err := w.sayOutlook(l); err != nil {
				return err
			}
		}
		return nil
	})
}

// sayOutlook writes a notice where a promise has come into danger, and takes it back where it is out of it.
func (w *work) sayOutlook(l floor.Outlook) error {
	c, err := w.t.Commission(l.Commission)
	if err != nil {
		return err
	}
	if c.State != ledger.Working || c.Promise != l.Promise || c.Promise == "" {
		return nil
	}
	was, err := w.t.Outlook(c.ID)
	if err != nil {
		return err
	}
	next := ledger.Outlook{Commission: c.ID, Promise: l.Promise, Sure: l.P80, Danger: l.Danger || l.P80SoFar > l.Promise, Note: was.Note}
	switch {
	case next.Danger && !(was.Danger && was.Promise == l.Promise):
		n, err := w.t.Next(dangerCounter)
		if err != nil {
			return err
		}
		next.Note = fmt.Sprintf("%s/note/danger/%d", c.ID, n)
		text := fmt.Sprintf("%s · %s: the promise of %s is in danger", c.ID, c.ClientName, shortDate(l.Promise))
		var buttons []chat.Button
		if l.Danger {
			text += fmt.Sprintf(", sure is %s: %s.", shortDate(l.P80), l.Why)
			buttons = append(buttons, chat.Button{Action: "tell/" + string(c.ID), Label: fmt.Sprintf("Tell the client of %s", c.ID)})
		} else {
			text += fmt.Sprintf(": by the plan so far sure is %s. Planned anew it can be kept; ask plan.", shortDate(l.P80SoFar))
		}
		if err := w.note(next.Note, text, buttons, nil); err != nil {
			return err
		}
	case !next.Danger && was.Danger && was.Promise == l.Promise:
		if err := w.note(was.Note, fmt.Sprintf("%s · %s: the promise of %s holds again; sure is %s.", c.ID, c.ClientName, shortDate(l.Promise), shortDate(l.P80)), nil, nil); err != nil {
			return err
		}
	case next == was:
		return nil
	}
	return w.t.SetOutlook(next, w.now)
}
