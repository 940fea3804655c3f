package desk

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// questions has those refusals that are put as questions: what the act would do is shown, and a button does it all the same.
var questions = map[shop.Kind]func(*answer, *shop.Refusal) chat.Reply{
	shop.Hurts:     askHurts,
	shop.DateMoved: askDate,
	shop.DateToTell: func(a *answer, no *shop.Refusal) chat.Reply {
		rep := askTell(a, no)
		rep.Text = fmt.Sprintf("The date that can be kept for %s has changed meanwhile. ", no.Commission.ID) + rep.Text
		return rep
	},
	shop.Grave:     askGrave,
	shop.PaidFor:   askPaid,
	shop.SlotGone:  askSlot,
	shop.SlotStale: askStale,
	shop.SlotHurts: func(a *answer, no *shop.Refusal) chat.Reply {
		x := no.Appointment
		return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* With %s then, %s is likely to be ready by %s, and not by %s as promised.",
			a.slotWords(no.Until), no.Commission.ID, quote.DateWords(no.Name), quote.DateWords(no.Commission.Promise)),
			Buttons: []chat.Button{onAppointment("slot", x, no.Until.UTC().Format(slotLayout)+"/anyway/"+no.Seen, "Take "+a.slotWords(no.Until), chat.Grave),
				onAppointment("slots", x, "", "Other times", chat.Plain)}}
	},
}

// askHurts shows what an act would do to the promises, that of its own commission first, and how the one that is hurt most could be
// kept. A client is told of their own date alone.
func askHurts(a *answer, no *shop.Refusal) chat.Reply {
	if !a.in.in.Person.Studio {
		return askOwn(a, no)
	}
	id := no.Commission.ID
	hurt := slices.DeleteFunc(slices.Clone(no.Effects), func(e shop.Effect) bool { return !e.Hurt })
	slices.SortStableFunc(hurt, func(x, y shop.Effect) int {
		switch {
		case x.Commission == id && y.Commission != id:
			return -1
		case y.Commission == id && x.Commission != id:
			return 1
		}
		return 0
	})
	var lines []string
	worst := shop.Effect{After: 2}
	for _, e := range hurt {
		lines = append(lines, "• "+effectWords(e))
		if e.After < worst.After {
			worst = e
		}
	}
	for _, b := range no.Broken {
		lines = append(lines, "• "+a.brokenWords(b))
	}
	if len(no.Ways) > 0 {
		lines = append(lines, fmt.Sprintf("The promise of %s could be kept like this:", worst.Commission))
		for _, x := range no.Ways {
			lines = append(lines, "• "+a.choice(x))
		}
	}
	what, all := a.wouldHurt(no)
	all.Tone = chat.Grave
	would := "would be in danger"
	if slices.ContainsFunc(hurt, func(e shop.Effect) bool { return e.Before >= 0 && e.Before < float64(a.studio.Danger)/100 }) {
		would = "would be in danger, or in more danger than now" // some are already
	}
	head := fmt.Sprintf("*Nothing has changed yet.* %s, %s %s:", what, whose(id, hurt), would)
	tail := "Nobody is told and nothing moves before you press the button. You can then tell a client another date under “plan”."
	if len(hurt) == 0 {
		head = fmt.Sprintf("*Nothing has changed yet.* %s, this would not stay as it was agreed or planned:", what)
		tail = "Nobody is told and nothing moves before you press the button. It puts no promise in danger."
	}
	if no.Count > 0 {
		tail = quote.Capital(moves(no.Count)) + " " + tail
	}
	return chat.Reply{Text: a.limits.Fit(head, lines, tail, nil),
		Buttons: []chat.Button{all}}
}

// wouldHurt begins the sentence about what an act would do, and has the button that does it all the same.
func (a *answer) wouldHurt(no *shop.Refusal) (string, chat.Button) {
	id, x := no.Commission.ID, no.Appointment
	switch no.Act {
	case "be away":
		return fmt.Sprintf("Without %s %s", no.Name, a.days(no.Away)), chat.Button{Label: "Plan without " + chat.Clip(no.Name, shortName),
			Action: fmt.Sprintf("away/%s/%s/%s/%s", no.Away.Maker, a.date(no.Away.From), a.date(no.Away.To.Add(-time.Second)), no.Seen)}
	case "choose how":
		b := onAppointment("hold", x, heldBy(x.How)+"/"+no.Seen, quote.Capital(whereHeld[x.How])+" all the same", chat.Grave)
		return fmt.Sprintf("With the %s of %s %s", strings.ToLower(what(x)), id, whereHeld[x.How]), b
	case "call a slot off":
		b := onAppointment("calloff", x, no.Seen, "Tell the client all the same", chat.Grave)
		return fmt.Sprintf("With the %s of %s at another time", strings.ToLower(what(x)), id), b
	case "start":
		b := onOperation("start", no.Operation, "Start all the same", chat.Grave)
		b.Action += "/" + no.Seen
		return fmt.Sprintf("With “%s” of %s begun now", no.Operation.Words(), id), b
	}
	return fmt.Sprintf("With the work on %s begun", id), chat.Button{Action: fmt.Sprintf("deposit/%s/%s", id, no.Seen), Label: "Deposit received, go ahead"}
}

// askGrave says what an act does that is hard to take back, or cannot be, and how.
func askGrave(a *answer, no *shop.Refusal) chat.Reply {
	switch {
	case no.Offcut.ID != "":
		return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* %s comes off the rack for good, and nothing is cut from it any more. That cannot be taken back; an offcut that is there after all is put on the rack anew, by its size.",
			quote.Capital(offcutWords(no.Offcut))), Buttons: []chat.Button{{Action: fmt.Sprintf("throw/%s/sure", no.Offcut.ID), Label: "Throw " + no.Offcut.ID + " away", Tone: chat.Grave}}}
	case no.Revision > 0:
		c := no.Commission
		return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* You would approve revision %d of %s for %s: the deposit, %s, falls due and the date is *%s*. It is signed with your name, for theirs. %s", no.Revision, c.ID, c.ClientName,
			no.Deposit.Format(a.studio.Prices.Currency), quote.DateWords(no.Name), approvedForGood),
			Buttons: []chat.Button{{Action: fmt.Sprintf("approve/%s/%d/%s/sure", c.ID, no.Revision, no.Name), Label: "Approve for the client", Tone: chat.Grave}}}
	}
	return askTell(a, no)
}

// approvedForGood says how an approval is taken back.
const approvedForGood = "An approval cannot be taken back; until the deposit is in, the commission can be cancelled."

// askTell says what telling a client another date does.
func askTell(_ *answer, no *shop.Refusal) chat.Reply {
	c := no.Commission
	return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* %s would be told that %s is ready by *%s*, and not by %s as promised. What is told cannot be taken back; a promise is never moved to an earlier day.",
		c.ClientName, c.ID, quote.DateWords(no.Name), quote.DateWords(c.Promise)),
		Buttons: []chat.Button{{Action: fmt.Sprintf("tell/%s/%s/sure", c.ID, no.Name), Label: "Tell " + chat.Clip(c.ClientName, 20) + ": " + quote.ShortDate(no.Name), Tone: chat.Grave}}}
}

// askPaid says what is given up with work that is paid for.
func askPaid(a *answer, no *shop.Refusal) chat.Reply {
	c := no.Commission
	work := fmt.Sprintf("%d of %d operations are done", no.Count, no.Most)
	if no.Count == 0 {
		work = "no work on it is done yet"
	}
	return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* The deposit for %s, %s, came on %s; %s. Cancelled, it gives up its place in the plan and its appointments, and cannot be taken up again. The client is told that it is cancelled; what becomes of the deposit, tell them in the thread.",
		c.ID, no.Deposit.Format(a.studio.Prices.Currency), a.when(c.DepositAt), work),
		Buttons: []chat.Button{{Action: fmt.Sprintf("cancel/%s/sure", c.ID), Label: fmt.Sprintf("Cancel %s all the same", c.ID), Tone: chat.Grave}}}
}

// heldBy is how an appointment can be held as it stands in actions.
func heldBy(how quote.How) string {
	for s, h := range hows {
		if h == how {
			return s
		}
	}
	return ""
}

// whose names the promises that would be hurt: "its own date and 2 other promises".
func whose(id quote.CommissionID, hurt []shop.Effect) string {
	n := len(hurt)
	switch own := n > 0 && hurt[0].Commission == id; {
	case own && n == 1:
		return "its own date"
	case own && n == 2:
		return "its own date and another promise"
	case own:
		return fmt.Sprintf("its own date and %d other promises", n-1)
	case n == 1:
		return "a promise"
	}
	return fmt.Sprintf("%d promises", n)
}

// askOwn tells a client what an act would do to their own date; what it does to others' is for the studio to decide.
func askOwn(a *answer, no *shop.Refusal) chat.Reply {
	c, x := no.Commission, no.Appointment
	with := fmt.Sprintf("*Nothing has changed yet.* With the %s %s", strings.ToLower(what(x)), whereHeld[x.How])
	if no.Others(c.ID) {
		return chat.Reply{Text: with + ", what others were promised could not be kept. Ask the studio in this thread whether it can be done all the same."}
	}
	by, lines := c.Promise, []string(nil)
	for _, e := range no.Effects {
		if e.Commission == c.ID && e.Hurt {
			by = e.Ask
		}
	}
	if by != c.Promise {
		lines = append(lines, fmt.Sprintf("%s is likely to be ready by %s, and not by %s as promised.", c.ID, quote.DateWords(by), quote.DateWords(c.Promise)))
	}
	for _, b := range no.Broken {
		if b.Which != "" {
			lines = append(lines, fmt.Sprintf("the %s agreed for %s cannot be then; it could be %s.", strings.ToLower(whats[b.Which]), a.slotWords(b.Picked), a.slotWords(b.Now)))
		}
	}
	if len(lines) == 0 {
		lines = []string{"a coat is likely to have to be put on again. It costs you nothing; ask the studio in this thread if you want to know more."}
	}
	return chat.Reply{Text: with + ", " + strings.Join(lines, "\nAlso: "),
		Buttons: []chat.Button{onAppointment("hold", x, heldBy(x.How)+"/"+no.Seen, quote.Capital(whereHeld[x.How])+" all the same", chat.Grave)}}
}

// moves says how many operations an act would move.
func moves(n int) string {
	if n == 1 {
		return "one operation would move."
	}
	return fmt.Sprintf("%d operations would move.", n)
}

// brokenWords says what else an act would break.
func (w words) brokenWords(b shop.Broken) string {
	of := fmt.Sprintf("%s · %s", b.Commission, chat.Clip(b.Client, shortName))
	if b.Which == "" {
		return fmt.Sprintf("%s: a recoat window would close before its coat is on, in %d of 100 simulated runs; the part is then abraded and coated again.", of, shop.Of100(b.Missed))
	}
	return fmt.Sprintf("%s, %s agreed for %s: it could be %s at the earliest.", of, strings.ToLower(whats[b.Which]), w.slotWords(b.Picked), w.slotWords(b.Now))
}

// effectWords says what becomes of a promise.
func effectWords(e shop.Effect) string {
	what := "promised for " + quote.ShortDate(e.Promise)
	if e.Undecided {
		what = "quoted for " + quote.ShortDate(e.Promise) + ", not accepted yet"
	}
	line := fmt.Sprintf("%s · %s, %s: kept in %d of 100 simulated runs", e.Commission, chat.Clip(e.Client, shortName), what, shop.Of100(e.After))
	if e.Before != ledger.UnknownOdds {
		line += fmt.Sprintf(" instead of %d", shop.Of100(e.Before))
	}
	if e.Ask > e.Promise {
		line += fmt.Sprintf("; %s could be kept", quote.ShortDate(e.Ask))
	}
	return line + "."
}

// askDate shows the date of a quote whose date is no longer held.
func askDate(a *answer, no *shop.Refusal) chat.Reply {
	c, n := no.Commission, no.Revision
	text := fmt.Sprintf("*Nothing has changed yet.* The quote said ready by %s. Other work has been taken on since, and the date is now *%s*.",
		quote.DateWords(c.Promise), quote.DateWords(no.Name))
	if !no.Until.IsZero() {
		text = fmt.Sprintf("*Nothing has changed yet.* The quote said ready by %s, and this date was held until %s. Worked out anew, the date is *%s*.",
			quote.DateWords(c.Promise), a.until(no.Until), quote.DateWords(no.Name))
	}
	approve := chat.Button{Action: fmt.Sprintf("approve/%s/%d/%s", c.ID, n, no.Name), Label: "Approve for " + quote.ShortDate(no.Name), Tone: chat.Good}
	if who := a.in.in.Person; who.Studio && who.ID != c.Client {
		text += fmt.Sprintf(" You would approve it for %s. %s", c.ClientName, approvedForGood)
		approve.Action, approve.Tone = approve.Action+"/sure", chat.Grave
	}
	return chat.Reply{Text: text, Buttons: []chat.Button{approve,
		onQuote("change", c.ID, n, "Ask for a change", chat.Plain), onQuote("decline", c.ID, n, "Decline", chat.Grave)}}
}
