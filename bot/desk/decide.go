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

// What is said and posted while a quote is worked out and decided on, and how a commission stands.

func progressKey(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/progress/%d", id, revision)
}

func sayRequested(_ *answer, o shop.Requested) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("Revision %d is being worked out.", o.Commission.Revision)}
}

func postRequested(p *posting, o shop.Requested) error {
	c := o.Commission
	if o.Replaced > 0 {
		if err := p.retired(c, o.Replaced, fmt.Sprintf("Replaced by revision %d.", c.Revision)); err != nil {
			return err
		}
	}
	return p.waiting(o.Request)
}

// waiting shows that a request is on its way.
func (p *posting) waiting(r ledger.Request) error {
	if _, _, err := p.t.Post(progressKey(r.Commission, r.Revision)); err == nil { // it could not be worked out before
		err := p.put(r.Commission, chat.Post{Key: progressKey(r.Commission, r.Revision), Text: fmt.Sprintf("*%s, revision %d* is being worked out again.", r.Commission, r.Revision)})
		if err != nil {
			return err
		}
	}
	return p.progress(r, "waiting for a worker")
}

var stageSay = map[quote.Stage]string{
	quote.Scaling:  "scaling the patterns to your measurements",
	quote.Nesting:  "laying the pieces out on sheets",
	quote.Costing:  "costing material and hours",
	quote.Planning: "planning the work and its drying times",
	quote.Printing: "printing the quote",
}

// progress shows how far a quote is that is worked out.
func (p *posting) progress(r ledger.Request, say string) error {
	p.say, p.bar = say, &chat.Bar{Share: r.Share}
	for i, s := range quote.Stages {
		p.bar.Stages = append(p.bar.Stages, string(s))
		if s == r.Stage {
			p.bar.At = i
		}
	}
	if r.State == ledger.ReqDone {
		p.bar.At, p.bar.Share = len(quote.Stages), 0
	}
	return p.status(r.Commission)
}

func postProgressed(p *posting, o shop.Progressed) error {
	say := stageSay[o.Request.Stage]
	if o.Used > 0 {
		say += fmt.Sprintf(", %.0f %% of the foam used so far", 100*o.Used)
	}
	return p.progress(o.Request, say)
}

func postQuoted(p *posting, o shop.Quoted) error {
	c, n := o.Commission, o.Request.Revision
	if err := p.progress(o.Request, ""); err != nil {
		return err
	}
	rev, err := p.t.Revision(c.ID, n)
	if err != nil {
		return err
	}
	post, err := p.quote(c, rev, "")
	if err != nil {
		return err
	}
	if post.Files, err = p.quoteFiles(c, rev); err != nil {
		return err
	}
	if err := p.toClient(quoteReady, c, post); err != nil {
		return err
	}
	return p.toStudio(quoteReady, c, notice{key: askedNote(c), text: fmt.Sprintf("%s · %s: revision %d is quoted, %s, ready by %s.",
		c.ID, c.ClientName, n, o.Estimate.Total.Format(o.Estimate.Currency), quote.DateWords(o.Promise))})
}

func (p *posting) quoteFiles(c ledger.Commission, rev ledger.Revision) ([]chat.File, error) {
	pdf, _, err := p.t.PDF(rev.Commission, rev.Revision)
	if err != nil {
		return nil, err
	}
	files := []chat.File{{Name: fmt.Sprintf("quote-%s-r%d.pdf", rev.Commission, rev.Revision), MIME: "application/pdf",
		Alt: fmt.Sprintf("Quote %s, revision %d", rev.Commission, rev.Revision), Data: pdf}}
	pics, err := p.t.RevisionPictures(rev.Commission, rev.Revision)
	if err != nil {
		return nil, err
	}
	return attach(p.within(c), append(files, pics...)), nil
}

func postQuoteFailed(p *posting, o shop.QuoteFailed) error {
	c, say := o.Commission, o.Say
	switch {
	case o.Unfit:
		say = "The quote could not be worked out; the studio has been told. You can try again."
	case o.Lost:
		say = "the quote could not be worked out because no worker answered; the studio has been told, and you can try again later"
	case say == "":
		say = "the quote could not be worked out; the studio has been told, and you can try again"
	}
	say = strings.TrimSuffix(say, ".")
	if !strings.Contains(say, "the studio has been told") {
		say += ". The studio has been told. If this names something you gave, press Change the order"
	}
	if err := p.card(c); err != nil {
		return err
	}
	post := chat.Post{Key: progressKey(c.ID, o.Request.Revision), Text: fmt.Sprintf("*%s, revision %d*: %s.", c.ID, o.Request.Revision, say),
		Buttons: []chat.Button{button("again", c.ID, "Try again", chat.Good), button("mend", c.ID, "Change the order", chat.Plain), button("cancel", c.ID, "Cancel", chat.Grave)}}
	if err := p.toClient(quoteFailed, c, post); err != nil {
		return err
	}
	return p.toStudio(quoteFailed, c, notice{key: fmt.Sprintf("%s/note/failed/%s", c.ID, o.Request.ID), text: fmt.Sprintf("%s · %s: revision %d could not be worked out. Cause: %s.",
		c.ID, c.ClientName, o.Request.Revision, strings.TrimSuffix(o.Cause, "."))})
}

// quote shows a quote with the actions that are open to it and what became of it; without files, so that an edit keeps them.
func (p *posting) quote(c ledger.Commission, rev ledger.Revision, say string) (chat.Post, error) {
	id, q := rev.Commission, rev.Quote
	var foot []string
	if rev.Revision > 1 {
		diff, err := p.againstEarlier(rev)
		if err != nil {
			return chat.Post{}, err
		}
		if diff != "" {
			foot = append(foot, diff)
		}
	}
	if q.Late {
		foot = append(foot, fmt.Sprintf("This is later than the %s you asked for.", quote.DateWords(rev.Snapshot.Wanted)))
	}
	valid := fmt.Sprintf("Valid until %s", p.until(rev.ExpiresAt))
	over := rev.State == ledger.RevExpired // the date does not hold any more
	if rev.State == ledger.RevQuoted {
		promise, err := p.t.StandingPromise(id)
		switch {
		case err != nil && !errors.Is(err, ledger.ErrNone):
			return chat.Post{}, err
		case promise.HeldUntil.IsZero():
			over = true
			valid += "; the date is no longer held, and approving shows you the date as it is now"
		default:
			valid += fmt.Sprintf("; the date is held until %s", p.until(promise.HeldUntil))
		}
	}
	foot = append(foot, valid+".")
	lines := strings.Split(strings.TrimSpace(q.Summary), "\n")
	if over {
		lines = slices.DeleteFunc(lines, func(l string) bool { return strings.HasPrefix(l, quote.ReadyBy) })
	}
	if say != "" {
		foot = append(foot, "*"+say+"*")
	}
	post := chat.Post{Key: shop.QuoteMessage(id, rev.Revision), Text: p.within(c).Fit(fmt.Sprintf("*Quote %s, revision %d*", id, rev.Revision),
		lines, strings.Join(foot, "\n"), nil)}
	if rev.State == ledger.RevQuoted {
		post.Buttons = []chat.Button{onQuote("approve", id, rev.Revision, "Approve", chat.Good),
			onQuote("change", id, rev.Revision, "Ask for a change", chat.Plain), onQuote("decline", id, rev.Revision, "Decline", chat.Grave)}
	}
	return post, nil
}

// onQuote is a button that does an action on a revision.
func onQuote(verb string, id quote.CommissionID, revision int, say string, tone chat.Tone) chat.Button {
	return chat.Button{Action: fmt.Sprintf("%s/%s/%d", verb, id, revision), Label: say, Tone: tone}
}

// againstEarlier says what differs from the latest earlier revision that was quoted.
func (p *posting) againstEarlier(rev ledger.Revision) (string, error) {
	for n := rev.Revision - 1; n >= 1; n-- {
		old, err := p.t.Revision(rev.Commission, n)
		if err != nil {
			return "", err
		}
		if old.IssuedAt.IsZero() {
			continue
		}
		return fmt.Sprintf("Against revision %d: %s; %s.", n, priceDiff(old.Quote.Estimate, rev.Quote.Estimate),
			dateDiff(old.Quote.Promise, rev.Quote.Promise)), nil
	}
	return "", nil
}

func priceDiff(old, now price.Estimate) string {
	to := now.Total.Format(now.Currency)
	switch d := now.Total - old.Total; {
	case old.Currency != now.Currency:
		return fmt.Sprintf("the price was %s and is %s", old.Total.Format(old.Currency), to)
	case d > 0:
		return fmt.Sprintf("the price rises by %s to %s", d.Format(now.Currency), to)
	case d < 0:
		return fmt.Sprintf("the price falls by %s to %s", (-d).Format(now.Currency), to)
	}
	return "the price stays " + to
}

func dateDiff(old, now string) string {
	a, errA := time.Parse(time.DateOnly, old)
	b, errB := time.Parse(time.DateOnly, now)
	if errA != nil || errB != nil || a.Equal(b) {
		return "the promised date stays " + quote.DateWords(now)
	}
	days := int(b.Sub(a).Hours() / 24)
	way := "later"
	if days < 0 {
		days, way = -days, "earlier"
	}
	unit := "days"
	if days == 1 {
		unit = "day"
	}
	return fmt.Sprintf("the promised date moves %d %s %s to %s", days, unit, way, quote.DateWords(now))
}

// retired takes the buttons off a revision's post, or gives it others, and says what became of it.
func (p *posting) retired(c ledger.Commission, revision int, say string, buttons ...chat.Button) error {
	rev, err := p.t.Revision(c.ID, revision)
	if err != nil {
		return err
	}
	if rev.IssuedAt.IsZero() { // never quoted: what there is to see is that it failed, if it did
		if _, _, err := p.t.Post(progressKey(c.ID, revision)); errors.Is(err, ledger.ErrNone) {
			return nil
		} else if err != nil {
			return err
		}
		return p.put(c.ID, chat.Post{Key: progressKey(c.ID, revision), Text: fmt.Sprintf("*%s, revision %d*: %s", c.ID, revision, say)})
	}
	post, err := p.quote(c, rev, say)
	if err != nil {
		return err
	}
	post.Buttons = buttons
	return p.put(c.ID, post)
}

func (w words) depositAwaited(o shop.Approved) string {
	say := fmt.Sprintf("The deposit is %s, to be paid by %s; your place in the shop is kept until then, and the work is ready by *%s*.",
		o.Estimate.Deposit.Format(o.Estimate.Currency), w.until(o.Due), quote.DateWords(o.Commission.Promise))
	if o.Was != "" {
		say += fmt.Sprintf(" This date replaces the %s of the quote.", quote.DateWords(o.Was))
	}
	return say
}

func sayApproved(a *answer, o shop.Approved) chat.Reply {
	return chat.Reply{Text: "Approved. " + a.depositAwaited(o)}
}

func postApproved(p *posting, o shop.Approved) error {
	c, a := o.Commission, o.Approval
	by := a.Name
	if a.OnBehalfOf != "" {
		by = fmt.Sprintf("%s for %s", a.Name, a.OnBehalfOf)
	}
	say := fmt.Sprintf("Approved by %s on %s.* %s *SHA-256 of the PDF: %s.", by, p.when(a.At), strings.ReplaceAll(p.depositAwaited(o), "*", ""), a.SHA256)
	if err := p.retired(c, a.Revision, say); err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	return p.toStudio(approved, c, notice{key: approvedNote(c), text: fmt.Sprintf("%s · %s: revision %d approved by %s. Waiting for the deposit, %s, until %s.",
		c.ID, c.ClientName, a.Revision, by, o.Estimate.Deposit.Format(o.Estimate.Currency), p.until(o.Due)),
		buttons: []chat.Button{button("deposit", c.ID, "Deposit received", chat.Good)}})
}

// approvedNote is the key of the notice with the button for the deposit.
func approvedNote(c ledger.Commission) string { return fmt.Sprintf("%s/note/approved", c.ID) }

// overdueNote is the key of the notice that a deposit has not come.
func overdueNote(c ledger.Commission) string { return fmt.Sprintf("%s/note/overdue", c.ID) }

func postDepositOverdue(p *posting, o shop.DepositOverdue) error {
	c, e := o.Commission, o.Estimate
	return p.toStudio(overdue, c, notice{key: overdueNote(c), text: fmt.Sprintf("%s · %s: the deposit, %s, was due by %s and has not come. Ask the client in the thread; "+
		"the place in the shop is kept until the deposit is confirmed or the commission is cancelled.",
		c.ID, c.ClientName, e.Deposit.Format(e.Currency), p.until(o.Due)), buttons: []chat.Button{button("deposit", c.ID, "Deposit received", chat.Good)}})
}

func sayDeclined(_ *answer, o shop.Declined) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s is declined. Thank you for asking; you can start a new commission at any time.", o.Commission.ID)}
}

func postDeclined(p *posting, o shop.Declined) error {
	c := o.Commission
	if err := p.retired(c, o.Revision, fmt.Sprintf("Declined on %s.", p.when(p.at))); err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	return p.toStudio(declined, c, notice{key: fmt.Sprintf("%s/note/declined", c.ID), text: fmt.Sprintf("%s · %s: revision %d was declined.", c.ID, c.ClientName, o.Revision)})
}

func sayCancelled(_ *answer, o shop.Cancelled) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s is cancelled.", o.Commission.ID)}
}

func postCancelled(p *posting, o shop.Cancelled) error {
	c := o.Commission
	if o.Dropped > 0 {
		if err := p.retired(c, o.Dropped, fmt.Sprintf("Cancelled on %s.", p.when(p.at))); err != nil {
			return err
		}
	}
	if err := p.takeBackCheck(c, o.From); err != nil {
		return err
	}
	if o.From == ledger.Approved {
		if err := p.note(approvedNote(c), fmt.Sprintf("%s · %s was approved, and is cancelled.", c.ID, c.ClientName)); err != nil {
			return err
		}
		if o.Overdue {
			if err := p.note(overdueNote(c), fmt.Sprintf("%s · %s: the deposit did not come; the commission is cancelled.", c.ID, c.ClientName)); err != nil {
				return err
			}
		}
	}
	if o.From == ledger.Measuring || o.From == ledger.Checking {
		if err := p.put(c.ID, chat.Post{Key: bodyKey(c.ID, c.Revision+1), Text: fmt.Sprintf("*Measurements of %s*: no longer needed.", c.ID)}); err != nil {
			return err
		}
	}
	if err := p.card(c); err != nil {
		return err
	}
	if err := p.endDanger(c, "cancelled"); err != nil {
		return err
	}
	for _, a := range o.Appointments {
		if a.Message == "" {
			continue // the client was not asked yet
		}
		if err := p.put(c.ID, chat.Post{Key: a.Message, Text: fmt.Sprintf("*%s of %s*: not held: the commission is cancelled.", what(a), c.ID)}); err != nil {
			return err
		}
	}
	if err := p.toClient(cancelled, c, chat.Post{Key: string(c.ID) + "/cancelled", Text: fmt.Sprintf("*%s is cancelled.*", c.ID)}); err != nil {
		return err
	}
	return p.toStudio(cancelled, c, notice{key: fmt.Sprintf("%s/note/cancelled", c.ID), text: fmt.Sprintf("%s · %s is cancelled by %s.", c.ID, c.ClientName, shop.OneLine(p.by.Name))})
}

// otherSets says how to come to other sets than those quoted, which a change cannot bring.
const otherSets = "A quote keeps its pattern sets. To add one, start another commission for it; to leave one out, decline this quote and start a new commission."

func sayChange(a *answer, o shop.ChangeSheet) chat.Reply {
	text := otherSets
	if o.Held != "" {
		text = fmt.Sprintf("A change gives up the date of this quote, *%s*, and a new date is worked out. %s", quote.DateWords(o.Held), otherSets)
	}
	return chat.Reply{Text: text, Form: &chat.Form{Action: fmt.Sprintf("change/%s/%d", o.Commission.ID, o.Revision), Title: fmt.Sprintf("Change %s, revision %d", o.Commission.ID, o.Revision),
		Fields: []chat.Field{
			{Key: shop.ChangeWhat, Label: "What should change", Hint: "darker wash, no straps", Value: o.Typed[shop.ChangeWhat], Long: true, Optional: true},
			{Key: shop.ChangeFinish, Label: "Finish", Value: o.Typed[shop.ChangeFinish], Optional: true, Options: o.Finishes},
			{Key: shop.ChangeCount, Label: chat.Clip("How many: "+strings.Join(o.Sets, ", "), a.limits.Title), Value: o.Typed[shop.ChangeCount], Optional: true},
			{Key: shop.ChangeWanted, Label: "Wanted by", Hint: "2027-03-01 or 1 March 2027", Value: o.Typed[shop.ChangeWanted], Optional: true},
			{Key: shop.ChangeAgain, Label: "Measure again?", Hint: "yes or no", Value: o.Typed[shop.ChangeAgain], Optional: true, Options: yesNo},
		}}}
}

// changeProblem says what of a change was not understood.
func changeProblem(x shop.Problem) string {
	switch x.What {
	case shop.ChangeFinish:
		return "Finish: " + noFinish(x.Typed, x.Names) + "."
	case shop.ChangeCount:
		if x.Kind == shop.BadCount {
			return fmt.Sprintf("How many: “%s” should be a number from 1 to %d. %s", x.Typed, x.Count, otherSets)
		}
		return fmt.Sprintf("How many: “%s” should be %s, in the order asked.", x.Typed, price.Counted(x.Count, "number"))
	case shop.ChangeAgain:
		return fmt.Sprintf("Measure again: “%s” should be yes or no.", x.Typed)
	}
	return "Wanted by: " + x.Cause + "."
}

func sayChangeAsked(a *answer, o shop.ChangeAsked) chat.Reply {
	switch {
	case len(o.Problems) > 0:
		text := "Nothing has changed yet."
		for _, x := range o.Problems {
			text += " " + changeProblem(x)
		}
		return chat.Reply{Text: text, Buttons: []chat.Button{onQuote("change", o.Commission.ID, o.Revision, "Correct it", chat.Good)}}
	case o.Again != nil:
		rep := sayBody(a, *o.Again)
		if rep.Form != nil { // a form cannot follow a form everywhere
			rep = chat.Reply{Text: "Please measure again; the earlier values are filled in.",
				Buttons: []chat.Button{button("rest", o.Commission.ID, "Give measurements", chat.Good)}}
		}
		rep.Text += givenUp(o)
		return rep
	}
	rep := sayRequested(a, *o.Request)
	rep.Text += givenUp(o)
	return rep
}

// givenUp says that a change gave up the date that was held.
func givenUp(o shop.ChangeAsked) string {
	if o.Held == "" {
		return ""
	}
	return fmt.Sprintf(" The date of revision %d, %s, is given up; a new one comes with the quote.", o.Revision, quote.DateWords(o.Held))
}

func postChangeAsked(p *posting, o shop.ChangeAsked) error {
	if c := o.Commission; o.Again != nil || o.Request != nil {
		text := fmt.Sprintf("%s · %s: a change of revision %d is asked for", c.ID, c.ClientName, o.Revision)
		if o.Request != nil {
			rev, err := p.t.Revision(c.ID, o.Request.Request.Revision)
			if err != nil {
				return err
			}
			if rev.Change != "" {
				text += ": " + chat.Clip(defused(rev.Change), quotedText)
			}
		}
		if err := p.toStudio(changeAsked, c, notice{key: fmt.Sprintf("%s/note/change/%d", c.ID, o.Revision), text: strings.TrimSuffix(text, ".") + "."}); err != nil {
			return err
		}
	}
	switch {
	case o.Again != nil:
		if err := p.retired(o.Commission, o.Revision, "Set aside for a change; a new revision follows."); err != nil {
			return err
		}
		return postBody(p, *o.Again)
	case o.Request != nil:
		return postRequested(p, *o.Request)
	}
	return nil
}

func sayMended(a *answer, o shop.Mended) chat.Reply {
	rep := sayBody(a, o.Body)
	if rep.Form == nil {
		rep.Text = "Correct the measurements below, or sets, finish and details at the top of the thread; then confirm once more."
	}
	return rep
}

func postMended(p *posting, o shop.Mended) error {
	c := o.Body.Commission
	if err := p.retired(c, o.Revision, "could not be worked out; set aside for a change."); err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	return postBody(p, o.Body)
}

func postHoldOver(p *posting, o shop.HoldOver) error {
	c, n := o.Commission, o.Revision
	rev, err := p.t.Revision(c.ID, n)
	if err != nil {
		return err
	}
	post, err := p.quote(c, rev, "")
	if err != nil {
		return err
	}
	if err := p.put(c.ID, post); err != nil {
		return err
	}
	text := fmt.Sprintf("*The date of quote %s, %s, was held until %s.* The price is still valid until %s. If you approve now, you are shown the date as it is then, before anything is agreed.",
		c.ID, quote.DateWords(c.Promise), p.until(o.Until), p.until(rev.ExpiresAt))
	return p.toClient(holdOver, c, chat.Post{Key: fmt.Sprintf("%s/held/%d", c.ID, n), Text: text})
}

func postExpired(p *posting, o shop.Expired) error {
	c, n := o.Commission, o.Revision
	err := p.retired(c, n, fmt.Sprintf("Expired: it was valid until %s.", p.until(o.Ended)), onQuote("requote", c.ID, n, "Quote again", chat.Good),
		onQuote("change", c.ID, n, "Ask for a change", chat.Plain), onQuote("decline", c.ID, n, "Decline", chat.Grave))
	if err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	return p.toStudio(lapsed, c, notice{key: fmt.Sprintf("%s/note/expired/%d", c.ID, n), text: fmt.Sprintf("%s · %s: revision %d has expired.", c.ID, c.ClientName, n)})
}

// stands says stage, next step and promised date of a commission.
func (w words) stands(s shop.Standing) string {
	c, next := s.Commission, ""
	promised := false
	switch c.State {
	case ledger.Choosing:
		next = "choose sets and finish, then press Go on"
	case ledger.Measuring:
		missing := "are missing"
		if s.Wanted-s.Given == 1 {
			missing = "is missing"
		}
		next = fmt.Sprintf("%d of %d measurements %s", s.Wanted-s.Given, s.Wanted, missing)
	case ledger.Checking:
		next = "confirm the measurements"
	case ledger.Computing:
		next = fmt.Sprintf("revision %d comes to the thread", c.Revision)
	case ledger.Quoted:
		next = fmt.Sprintf("decide on revision %d by %s", c.Revision, w.until(s.Ends))
	case ledger.Expired:
		next = "press Quote again under the quote"
	case ledger.Approved:
		next = "the studio confirms the deposit"
	case ledger.Failed:
		next = "press Try again, or Change the order"
	case ledger.Ready:
		next, promised = "collect it", true
	case ledger.Working:
		next, promised = w.atBench(*s.Bench), true
	}
	date := ""
	if c.Promise != "" {
		date = quote.DateWords(c.Promise)
	}
	text := fmt.Sprintf("*%s · %s* is %s.", c.ID, c.ClientName, stateWords[c.State])
	if next != "" {
		text += " Next: " + next + "."
	}
	switch {
	case date == "":
	case promised || c.State == ledger.Approved:
		text += " Promised for " + date + "."
	case c.State == ledger.Quoted:
		text += " The quote says ready by " + date + "."
	}
	return text + w.agreed(s.Appointments)
}

func (w words) atBench(b shop.AtBench) string {
	of := fmt.Sprintf("%d of %d operations are done", b.Done, b.Of)
	switch {
	case b.Next == nil && b.Cure == nil:
		return of
	case b.Next == nil:
		return fmt.Sprintf("the last coat cures until %s (%s)", w.when(b.Cure.Until), of)
	case b.Next.State == ledger.Running:
		return fmt.Sprintf("“%s” is in hand (%s)", b.Next.Words(), of)
	case b.Cure != nil:
		return fmt.Sprintf("“%s”, once %s has cured on %s (%s)", b.Next.Words(), b.Cure.For.Cure, w.when(b.Cure.Until), of)
	}
	return fmt.Sprintf("“%s”, planned for %s (%s)", b.Next.Words(), w.when(b.Next.Start), of)
}

func sayWhere(a *answer, s shop.Standing) chat.Reply { return sayStandings(a, []shop.Standing{s}) }

// sayStandings says where each stands, as many as fit.
func sayStandings(a *answer, all []shop.Standing) chat.Reply {
	var lines []string
	for _, s := range all {
		lines = append(lines, a.stands(s))
	}
	return chat.Reply{Text: a.limits.Fit("", lines, "", moreStand)}
}

func moreStand(left int) string {
	return fmt.Sprintf("… and %d more; use “where” with a number.", left)
}

// waitsFor says for whom a commission waits, in the order in which the studio looks.
func waitsFor(s ledger.State) (rank int, head string) {
	switch s {
	case ledger.Approved, ledger.Ready, ledger.Failed:
		return 0, "Waiting for the studio"
	case ledger.Working:
		return 1, "Being made"
	case ledger.Computing:
		return 2, "Being worked out"
	case ledger.Delivered, ledger.Declined, ledger.Cancelled:
		return 4, "Closed"
	}
	return 3, "Waiting for the client"
}

func sayOrders(a *answer, all []shop.Standing) chat.Reply {
	if len(all) == 0 {
		return chat.Reply{Text: "There are no commissions yet."}
	}
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(x, y shop.Standing) int {
		i, _ := waitsFor(x.Commission.State)
		j, _ := waitsFor(y.Commission.State)
		return i - j
	})
	offer := newOffers(a.limits, ordersMenu, "More deposits and handovers")
	var lines []string
	part := ""
	for _, s := range all {
		id := s.Commission.ID
		line := "• " + a.stands(s)
		if s.Outlook.Danger && s.Outlook.Promise == s.Commission.Promise {
			line += " *In danger*"
			if s.Outlook.Odds != ledger.UnknownOdds {
				line += fmt.Sprintf(": kept in %d of 100 simulated runs", shop.Of100(s.Outlook.Odds))
			}
			line += "."
		}
		if _, head := waitsFor(s.Commission.State); head != part {
			if part = head; len(lines) > 0 {
				head = "\n*" + head + "*\n"
			} else {
				head = "*" + head + "*\n"
			}
			line = head + line
		}
		lines = append(lines, line)
		switch s.Commission.State {
		case ledger.Approved:
			offer.add(button("deposit", id, "Deposit of "+string(id)+" received", chat.Good))
		case ledger.Ready:
			offer.add(button("handed", id, string(id)+" handed over", chat.Good))
		}
	}
	rep := chat.Reply{Text: a.limits.Fit("", lines, "", moreStand)}
	offer.put(&rep)
	return rep
}
