package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/price"
)

// What is said and posted while the work is done.

func sayPaid(a *answer, o shop.Paid) chat.Reply {
	say := fmt.Sprintf("%s is being made: %s, promised for %s.", o.Commission.ID, price.Counted(o.Operations, "operation"), quote.DateWords(o.Commission.Promise))
	say += " " + a.danger(o.Commission.ID, o.Effects)
	if !o.Due.IsZero() {
		say += fmt.Sprintf(" It was due by %s and came later.", a.until(o.Due))
	}
	if o.Moved > 0 {
		moves := "operations of other commissions move"
		if o.Moved == 1 {
			moves = "operation of another commission moves"
		}
		say += fmt.Sprintf(" For its sake, %d %s.", o.Moved, moves)
	}
	return chat.Reply{Text: say}
}

func postPaid(p *posting, o shop.Paid) error {
	c := o.Commission
	text := fmt.Sprintf("*The deposit for %s is in.* The work has its place in the shop plan, and the date stays %s.", c.ID, quote.DateWords(c.Promise))
	if err := p.card(c); err != nil {
		return err
	}
	if err := p.toClient(inPlan, c, chat.Post{Key: inPlanKey(c.ID), Text: text}); err != nil {
		return err
	}
	say := fmt.Sprintf("%s · %s: deposit confirmed by %s.", c.ID, c.ClientName, shop.OneLine(p.by.Name))
	if o.First != nil { // the plan may move, so it is not told to the client
		say += fmt.Sprintf(" As planned now, it begins with %s on %s.", o.First.Title, p.when(o.First.Start))
	}
	if len(o.Broken) > 0 {
		say += " The plan cannot keep: " + strings.Join(o.Broken, "; ") + "."
	}
	// The note with the deposit button has done its work.
	if err := p.toStudio(inPlan, c, notice{key: approvedNote(c), text: say}); err != nil {
		return err
	}
	if o.Overdue {
		if err := p.note(overdueNote(c), fmt.Sprintf("%s · %s: the deposit came after %s.", c.ID, c.ClientName, p.until(o.Due))); err != nil {
			return err
		}
	}
	if o.First != nil {
		err := p.toNext(inPlan, c, o.First, "", notice{key: fmt.Sprintf("%s/work", c.ID),
			text: fmt.Sprintf("%s · %s is in the plan. First: %s, planned for %s.", c.ID, c.ClientName, o.First.Words(), p.when(o.First.Start))})
		if err != nil {
			return err
		}
	}
	return p.noteCutting(c)
}

// inPlanKey is of the post that says that the deposit is in.
func inPlanKey(id quote.CommissionID) string { return string(id) + "/working" }

// stepped has the client hear of work that was begun or done.
func (p *posting) stepped(o ledger.Operation) error {
	c, err := p.t.Commission(o.Commission)
	if err != nil {
		return err
	}
	key := string(c.ID) + "/begun"
	if _, _, err := p.t.Post(key); o.Kind == shop.CutKind && errors.Is(err, ledger.ErrNone) {
		text := fmt.Sprintf("*Cutting of %s has begun.* What you ordered cannot be changed any more. How far the work is stands at the top of this thread.", c.ID)
		if err := p.toClient(cuttingOn, c, chat.Post{Key: key, Text: text}); err != nil {
			return err
		}
	} else if err != nil && !errors.Is(err, ledger.ErrNone) {
		return err
	}
	return p.card(c)
}

func sayStarted(a *answer, o shop.Started) chat.Reply {
	say := fmt.Sprintf("Started: %s, %s.", o.Operation.Commission, o.Operation.Words())
	if m := o.Missed; m != nil {
		say += fmt.Sprintf(" The recoat window of %s closed on %s: key the surface first, as its data sheet says.", m.Cure, a.when(m.Closed))
	}
	return a.bench(say, o.Bench)
}

func sayEnded(a *answer, o shop.Ended) chat.Reply {
	op := o.Operation
	say := fmt.Sprintf("Done: %s, %s.", op.Commission, op.Words())
	if !o.Cures.IsZero() {
		say += fmt.Sprintf(" %s cures until %s; the bell will ring.", quote.Capital(op.Cure), a.when(o.Cures))
	}
	if !o.MayRack {
		return a.bench(say, o.Bench)
	}
	return a.bench(say, o.Bench, onOperation("keep", op, "Put the rest on the rack", chat.Plain))
}

func sayToday(a *answer, b shop.Bench) chat.Reply { return a.bench("", b) }

// onOperation is a button that does an action on an operation.
func onOperation(verb string, o ledger.Operation, say string, tone chat.Tone) chat.Button {
	return chat.Button{Action: fmt.Sprintf("%s/%s/%d", verb, o.Commission, o.Seq), Label: say, Tone: tone}
}

// ranks are heads, buttons and tones of what there is to do.
var ranks = map[shop.Rank]struct {
	head, verb, say string
	tone            chat.Tone
}{
	shop.InHand:     {"In hand", "done", "Done", chat.Good},
	shop.DueToday:   {"Today", "start", "Start", chat.Plain},
	shop.CouldBegin: {"Could be brought forward", "start", "Start", chat.Plain},
}

// bench shows the studio what to do today: what runs, what can be started, what cures; last are buttons after those.
func (a *answer) bench(say string, now shop.Bench, last ...chat.Button) chat.Reply {
	head := fmt.Sprintf("*Bench, %s*", a.when(now.At))
	if say != "" {
		head = say + "\n\n" + head
	}
	var lines []string
	part := "" // the heading of a part, which stands on its first line
	add := func(format string, args ...any) {
		lines = append(lines, part+fmt.Sprintf(format, args...))
		part = ""
	}
	offer := newOffers(a.limits, benchMenu, "More operations", last...)
	for _, x := range now.Away {
		add("%s is away until %s.", a.maker(x.Maker), a.lastDay(x))
	}
	part = "*Curing*\n"
	for _, x := range now.Curing {
		add("• %s %s: %s until %s", x.For.Commission, x.For.Words(), x.For.Cure, a.when(x.Until))
	}
	var waiting []string
	for _, x := range now.Waiting {
		waiting = append(waiting, fmt.Sprintf("• %s %s%s: %s", x.Operation.Commission, x.Operation.Words(), a.forWhom(x.Operation), a.waits(x.Wait)))
	}
	part = "*Waiting*\n"
	for _, line := range few(waiting) {
		add("%s", line)
	}
	var ahead []string
	for i, l := range now.Lines {
		r, o := ranks[l.Rank], l.Operation
		if i == 0 || now.Lines[i-1].Rank != l.Rank {
			part = "*" + r.head + "*\n"
		}
		line := fmt.Sprintf("• %s %s, planned %s%s%s", o.Commission, o.Words(), a.fromTo(o.Start, o.End), a.forWhom(o), a.withClient(l.Meeting))
		if l.Rank == shop.CouldBegin {
			ahead = append(ahead, line)
		} else {
			add("%s", line)
		}
		if m := l.Meeting; m != nil && m.At.Sub(now.At) > early {
			continue // the client is not there
		}
		offer.add(onOperation(r.verb, o, fmt.Sprintf("%s: %s %s", r.say, o.Commission, o.Words()), r.tone))
		if m := l.Meeting; m != nil && m.State == ledger.ApptPicked && !m.At.After(now.At) {
			offer.add(missed(*m, fmt.Sprintf(": %s %s", o.Commission, o.Words())))
		}
	}
	for _, line := range few(ahead) {
		add("%s", line)
	}
	foot := ""
	if len(lines) == 0 {
		foot = "Nothing to do: no commission is in the shop plan."
	}
	rep := chat.Reply{Text: a.limits.Fit(head, lines, foot, nil)}
	offer.put(&rep)
	return rep
}

// early is how long before a time that was agreed a client may be there.
const early = 30 * time.Minute

// withClient says of an operation at which the client is met what was agreed.
func (a *answer) withClient(m *ledger.Appointment) string {
	switch {
	case m == nil:
		return ""
	case m.State == ledger.ApptPicked:
		return fmt.Sprintf("; agreed with the client for %s, %s", a.when(m.At), whereHeld[m.How])
	}
	return "; the client has picked no time yet"
}

// forWhom names the makers that an operation is planned for, after a comma.
func (w words) forWhom(o ledger.Operation) string {
	var names []string
	for _, r := range w.studio.Resources {
		if r.Kind == "maker" && slices.Contains(o.Resources, r.ID) {
			names = append(names, r.Title)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return ", " + listed(names)
}

// waitingShown is how many operations that cannot be started yet, or need not be, the bench list names; it is read on a phone.
const waitingShown = 4

func few(lines []string) []string {
	if len(lines) <= waitingShown+1 {
		return lines
	}
	return append(slices.Clone(lines[:waitingShown]), fmt.Sprintf("• and %d more", len(lines)-waitingShown))
}

func postFinishing(p *posting, o shop.Finishing) error {
	if err := p.endDanger(o.Commission, "finished on "+p.when(p.at)); err != nil {
		return err
	}
	if err := p.card(o.Commission); err != nil {
		return err
	}
	return p.readyPost(o.Commission, o.Handing.Appointment, true, false)
}

func sayHandedOver(_ *answer, o shop.HandedOver) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s is handed over.", o.Commission.ID)}
}

func postHandedOver(p *posting, o shop.HandedOver) error {
	c := o.Commission
	if err := p.put(c.ID, chat.Post{Key: string(c.ID) + "/ready", Text: fmt.Sprintf("*%s was handed over on %s.*", c.ID, p.when(p.at))}); err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	return p.toStudio(handedOver, c, notice{key: fmt.Sprintf("%s/note/ready", c.ID), text: fmt.Sprintf("%s · %s is handed over.", c.ID, c.ClientName)})
}

// postRung tells who does the next step that a cure has ended; the client's status post says so.
func postRung(p *posting, o shop.Rung) error {
	c := o.Commission
	if err := p.card(c); err != nil {
		return err
	}
	n := notice{key: "bell/" + o.Bell.ID, text: p.bell(o) + " (for " + c.ClientName + ")"}
	return p.toNext(rungEvent(o), c, o.Next, o.Operation.DoneBy, n)
}

// rungEvent is what a cure that has ended means for who does the next step. What waits for something besides is told of with that,
// unless its coat must be on by some time.
func rungEvent(o shop.Rung) event {
	switch {
	case o.Next == nil:
		return curedLast
	case o.Wait != nil && o.Bell.Latest.IsZero():
		return curedWaits
	case o.Wait == nil && o.Next.Kind == "paint":
		return readyPaint
	}
	return cured
}

// postTakenBack says where the bell has rung already, and where the client was told that the work is finished, that it is not so.
func postTakenBack(p *posting, o shop.TakenBack) error {
	if o.Bell != nil && !o.Bell.RungAt.IsZero() {
		n := notice{key: "bell/" + o.Bell.ID, text: fmt.Sprintf("%s: %s was not done yet; there is nothing to go on with.", o.Commission.ID, o.Operation.Words())}
		if err := p.notice(n); err != nil {
			return err
		}
	}
	if !o.Unfinished {
		return nil
	}
	return p.unfinished(o.Commission, fmt.Sprintf("%s was marked done too soon", o.Operation.Words()))
}

// postWentBack tells the studio what is done again and why, and the client only where they were told that the work is finished.
func postWentBack(p *posting, o shop.WentBack) error {
	n := notice{key: fmt.Sprintf("%s/note/back/%d/%d", o.Commission.ID, o.Operation.Seq, o.Operation.Round),
		text: fmt.Sprintf("%s · %s: %s goes back (%s). To be done again: %s.", o.Commission.ID, o.Commission.ClientName, o.Operation.Words(), o.Why,
			price.Counted(len(o.Again), "operation"))}
	if err := p.notice(n); err != nil || !o.Unfinished {
		return err
	}
	return p.unfinished(o.Commission, o.Why)
}

// unfinished takes back that a commission can be collected; why is the studio's affair.
func (p *posting) unfinished(c ledger.Commission, why string) error {
	text := fmt.Sprintf("*%s is not ready after all:* something on it is done once more. You hear from us here when it is.", c.ID)
	if err := p.put(c.ID, chat.Post{Key: string(c.ID) + "/ready", Text: text, Mention: []chat.PersonID{c.Client}}); err != nil {
		return err
	}
	return p.note(fmt.Sprintf("%s/note/ready", c.ID), fmt.Sprintf("%s · %s is not finished after all: %s.", c.ID, c.ClientName, why))
}

// coats are the operations that put a coat on.
var coats = []string{"prime", "paint", "wash", "clear", "seal", "coat"}

// bell says what a cured operation is ready for and until when.
func (p *posting) bell(o shop.Rung) string {
	op, latest := o.Operation, o.Bell.Latest
	what := op.Group
	if what == "" {
		what = op.Title
	}
	cured := fmt.Sprintf("%s after “%s” has cured.", quote.Capital(op.Cure), op.Title)
	if o.Next == nil {
		return fmt.Sprintf("%s, *cured: %s.* %s", o.Commission.ID, what, cured)
	}
	next := *o.Next
	if o.Wait != nil {
		text := fmt.Sprintf("%s, *cured: %s.* %s Next is “%s”, but %s.", o.Commission.ID, what, cured, next.Title, p.waits(*o.Wait))
		if !latest.IsZero() {
			text += fmt.Sprintf(" It must go on by %s.", p.when(latest))
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
	text := fmt.Sprintf("%s, *%s: %s.* %s Next: %s.", o.Commission.ID, ready, what, cured, next.Title)
	switch {
	case !coat:
	case latest.IsZero():
		text += " The next coat can go on now."
	case p.at.After(latest):
		text += fmt.Sprintf(" The window for the next coat closed on %s: key the surface first, as the data sheet says.", p.when(latest))
	default:
		text += fmt.Sprintf(" The next coat must go on by %s.", p.when(latest))
	}
	return text
}

func postClosing(p *posting, o shop.Closing) error {
	latest := p.local(o.Bell.Latest)
	by := latest.Format("15:04")
	if latest.Format(time.DateOnly) != p.local(p.at).Format(time.DateOnly) {
		by = p.when(latest)
	}
	n := notice{key: "closing/" + o.Bell.ID,
		text: fmt.Sprintf("*%s: %s must be on by %s.* The recoat window of %s closes then.", o.Commission.ID, o.Next.Words(), by, o.Operation.Cure)}
	if o.CanStart {
		n.buttons = []chat.Button{onOperation("start", o.Next, "Start", chat.Good)}
	}
	return p.toNext(closingSoon, o.Commission, &o.Next, o.Operation.DoneBy, n)
}

// noteCutting gives the maker what a commission is cut from, unless a cutting day has its layouts.
func (p *posting) noteCutting(c ledger.Commission) error {
	n := notice{key: fmt.Sprintf("%s/note/cutting", c.ID)}
	day, err := p.t.CuttingOf(c.ID)
	if err == nil {
		n.text = fmt.Sprintf("%s · %s: cut together with others; use only the layouts of %s.", c.ID, c.ClientName, day.ID)
		return p.notice(n)
	}
	if !errors.Is(err, ledger.ErrNone) {
		return err
	}
	n.text = fmt.Sprintf("%s · %s: cut list and layouts.", c.ID, c.ClientName)
	if n.files, err = p.cuttingFiles(c); err != nil {
		return err
	}
	return p.notice(n)
}

// cuttingFiles are what the maker cuts from: the cut list and a picture of each sheet.
func (p *posting) cuttingFiles(c ledger.Commission) ([]chat.File, error) {
	rev, err := p.t.Revision(c.ID, c.Revision)
	if err != nil {
		return nil, err
	}
	files := []chat.File{{Name: fmt.Sprintf("cut-list-%s-r%d.csv", c.ID, c.Revision), MIME: "text/csv",
		Alt: fmt.Sprintf("Cut list of %s, revision %d", c.ID, c.Revision), Data: []byte(rev.Quote.CutList)}}
	pics, err := p.t.RevisionPictures(c.ID, c.Revision)
	if err != nil {
		return nil, err
	}
	for _, x := range pics {
		if strings.Contains(x.Name, "-sheet-") {
			files = append(files, x)
		}
	}
	return files, nil
}
