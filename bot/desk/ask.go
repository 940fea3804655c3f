package desk

import (
	"fmt"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
)

// questions has those refusals that are put as questions: what the act would do is shown, and a button does it all the same.
var questions = map[shop.Kind]func(*answer, *shop.Refusal) chat.Reply{
	shop.Hurts:     askHurts,
	shop.DateMoved: askDate,
	shop.DateToTell: func(_ *answer, no *shop.Refusal) chat.Reply {
		return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* The date that can be kept for %s is now *%s*.", no.Commission.ID, dateWords(no.Name)),
			Buttons: []chat.Button{tellButton(no.Commission.ID, no.Name)}}
	},
	shop.SlotGone: askSlot,
	shop.SlotHurts: func(a *answer, no *shop.Refusal) chat.Reply {
		x := no.Appointment
		return chat.Reply{Text: fmt.Sprintf("*Nothing has changed yet.* With %s then, %s is likely to be ready by %s, and not by %s as promised.",
			a.slotWords(no.Until), no.Commission.ID, dateWords(no.Name), dateWords(no.Commission.Promise)),
			Buttons: []chat.Button{onAppointment("slot", x, no.Until.UTC().Format(slotLayout)+"/anyway", "Take "+a.slotWords(no.Until), chat.Grave),
				onAppointment("slots", x, "", "Other times", chat.Plain)}}
	},
}

// askHurts shows what a deposit or a maker's absence would do to the promises, and how the one that is hurt most could be kept.
func askHurts(a *answer, no *shop.Refusal) chat.Reply {
	id := no.Commission.ID
	var lines []string
	worst := shop.Effect{After: 2}
	for _, e := range no.Effects {
		if !e.Hurt {
			continue
		}
		lines = append(lines, "• "+effectWords(e))
		if e.After < worst.After {
			worst = e
		}
	}
	if len(no.Ways) > 0 {
		lines = append(lines, fmt.Sprintf("The promise of %s could be kept like this:", worst.Commission))
		for _, x := range no.Ways {
			lines = append(lines, "• "+a.choice(x))
		}
	}
	head := fmt.Sprintf("*Nothing has changed yet.* With the work on %s begun, a promise would be in danger:", id)
	all := chat.Button{Action: fmt.Sprintf("deposit/%s/%s", id, no.Seen), Label: "Deposit received, go ahead", Tone: chat.Grave}
	if x := no.Away; x.Maker != "" {
		head = fmt.Sprintf("*Nothing has changed yet.* Without %s until %s, a promise would be in danger:", no.Name, a.lastDay(x))
		all = chat.Button{Action: fmt.Sprintf("away/%s/%s/%s/%s", x.Maker, a.date(x.From), a.date(x.To.Add(-time.Second)), no.Seen),
			Label: "Plan without " + chat.Clip(no.Name, shortName), Tone: chat.Grave}
	}
	return chat.Reply{Text: a.limits.Fit(head, lines, "Nobody is told and nothing moves before you press the button. You can then tell a client another date under “plan”.", nil),
		Buttons: []chat.Button{all}}
}

// effectWords says what becomes of a promise.
func effectWords(e shop.Effect) string {
	what := "promised for " + shortDate(e.Promise)
	if e.Undecided {
		what = "quoted for " + shortDate(e.Promise) + ", not accepted yet"
	}
	line := fmt.Sprintf("%s · %s, %s: kept in %d of 100 simulated runs", e.Commission, chat.Clip(e.Client, shortName), what, of100(e.After))
	if e.Before != ledger.UnknownOdds {
		line += fmt.Sprintf(" instead of %d", of100(e.Before))
	}
	if e.Ask > e.Promise {
		line += fmt.Sprintf("; %s could be kept", shortDate(e.Ask))
	}
	return line + "."
}

// askDate shows the date of a quote whose date is no longer held.
func askDate(a *answer, no *shop.Refusal) chat.Reply {
	c, n := no.Commission, no.Revision
	text := fmt.Sprintf("*Nothing has changed yet.* The quote said ready by %s. Other work has been taken on since, and the date is now *%s*.",
		dateWords(c.Promise), dateWords(no.Name))
	if !no.Until.IsZero() {
		text = fmt.Sprintf("*Nothing has changed yet.* The quote said ready by %s, and this date was held until %s. Worked out anew, the date is *%s*.",
			dateWords(c.Promise), a.until(no.Until), dateWords(no.Name))
	}
	return chat.Reply{Text: text, Buttons: []chat.Button{
		{Action: fmt.Sprintf("approve/%s/%d/%s", c.ID, n, no.Name), Label: "Approve for " + shortDate(no.Name), Tone: chat.Good},
		onQuote("change", c.ID, n, "Ask for a change", chat.Plain), onQuote("decline", c.ID, n, "Decline", chat.Grave)}}
}
