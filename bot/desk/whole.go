package desk

import (
	"fmt"
	"math"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan/schedule"
)

// What is said and posted of the whole shop's plan and its promises.

func sayPlan(a *answer, p shop.Plan) chat.Reply { return a.wholePlan("", p) }

func sayTakenOver(a *answer, o shop.TakenOver) chat.Reply {
	if o.Moved == 0 {
		return a.wholePlan("Nothing needs to change.", o.Plan)
	}
	return a.wholePlan(fmt.Sprintf("*The shop has a new plan*: %s. No client has been told.", shop.Moves(o.Moved)), o.Plan)
}

func (a *answer) wholePlan(say string, p shop.Plan) chat.Reply {
	if len(p.Outlooks) == 0 {
		return chat.Reply{Text: "Nothing is left to plan: no commission is in the shop plan."}
	}
	head := fmt.Sprintf("*The shop's plan, %s*", a.when(p.At))
	if say != "" {
		head = say + "\n\n" + head
	}
	var rep chat.Reply
	for _, x := range p.Pictures {
		rep.Files = append(rep.Files, pictured(x))
	}
	rep.Files = attach(a.limits, rep.Files)
	offer := newOffers(a.limits, planMenu, "Tell another client")
	if p.Moved > 0 {
		offer.add(chat.Button{Action: fmt.Sprintf("replan/%d", p.Number), Label: "Replan", Tone: chat.Good})
	}
	var lines []string
	for _, l := range p.Outlooks {
		lines = append(lines, outlookLine(l))
		if l.Danger && !l.Undecided {
			offer.add(tellButton(l.Commission))
		}
	}
	offer.put(&rep)
	foot := "This is the present plan: nothing moves."
	if p.Moved > 0 {
		foot = fmt.Sprintf("%s compared with the present plan; press Replan to use this one.", shop.Moves(p.Moved))
	}
	rep.Text = a.limits.Fit(head, lines, foot, nil)
	return rep
}

func tellButton(id quote.CommissionID) chat.Button {
	return button("tell", id, fmt.Sprintf("Tell the client of %s", id), chat.Plain)
}

// oddsShown is by how much the odds of a promise must differ for both to be worth reading.
const oddsShown = 0.03

// outlookLine says promised, expected and sure date of a commission, and what endangers it.
func outlookLine(l shop.Promised) string {
	promised := "nothing promised"
	if l.Promise != "" {
		promised = "promised " + shortDate(l.Promise)
	}
	if l.Undecided {
		promised = "quoted for " + shortDate(l.Promise) + ", not accepted yet"
	}
	line := fmt.Sprintf("• %s · %s: %s, expected %s, sure by %s", l.Commission, chat.Clip(l.Client, shortName), promised, shortDate(l.P50), shortDate(l.Sure))
	if l.Promise != "" {
		line += fmt.Sprintf(", kept in %.0f of 100 runs", 100*l.KeptNow)
	}
	if l.Danger {
		line += ". *In danger*: " + l.Why
	}
	if l.Moved > 0 && math.Abs(l.Kept-l.KeptNow) >= oddsShown {
		line += fmt.Sprintf("; with the new plan kept in %.0f", 100*l.Kept)
	}
	line += "."
	for _, x := range l.Closed {
		line += " " + x + "."
	}
	return line
}

func sayDateTold(_ *answer, o shop.DateTold) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s was told: %s instead of %s.", o.Commission.ClientName, dateWords(o.Commission.Promise), dateWords(o.Was))}
}

func postDateTold(p *posting, o shop.DateTold) error {
	c := o.Commission
	text := fmt.Sprintf("*%s will be ready later than promised.* We said %s; as the work stands, the date we can keep is *%s*. We are sorry. If that is too late for you, please tell us here.",
		c.ID, dateWords(o.Was), dateWords(c.Promise))
	if err := p.put(c.ID, chat.Post{Key: shop.DateMessage(c.ID, c.Promise), Text: text, Mention: []chat.PersonID{c.Client}}); err != nil {
		return err
	}
	if o.Note == "" {
		return nil
	}
	return p.note(o.Note, fmt.Sprintf("%s · %s: the client was told the new date, %s.", c.ID, c.ClientName, dateWords(c.Promise)))
}

func postEndangered(p *posting, o shop.Endangered) error {
	c, l := o.Commission, o.Outlook
	text := fmt.Sprintf("%s · %s: the promise of %s is in danger, kept in %.0f of 100 simulated runs: %s. Use “plan” to see whether a new plan keeps it; %s could be told instead.",
		c.ID, c.ClientName, shortDate(l.Promise), 100*l.KeptNow, l.Why, shortDate(l.SureNow))
	return p.note(o.Note, text, tellButton(c.ID))
}

func postSafe(p *posting, o shop.Safe) error {
	return p.note(o.Note, fmt.Sprintf("%s · %s: the promise of %s can be kept again, in %.0f of 100 simulated runs.", o.Commission.ID, o.Commission.ClientName,
		shortDate(o.Outlook.Promise), 100*o.Outlook.KeptNow))
}

func sayChoices(a *answer, o shop.Choices) chat.Reply {
	head := fmt.Sprintf("*Can %s be ready by %s?*", o.Commission.ID, dateWords(o.By))
	if o.Commission.Promise != "" {
		head += fmt.Sprintf(" It is promised for %s.", dateWords(o.Commission.Promise))
	}
	var lines []string
	for _, x := range o.Choices {
		lines = append(lines, "• "+a.choice(x))
	}
	return chat.Reply{Text: a.limits.Fit(head, lines, "Asking changes nothing.", nil)}
}

// choice says one way to have a commission by a day: what it costs, when it is ready, what it does to others.
func (w words) choice(x floor.Choice) string {
	way := "As planned"
	switch x.Way {
	case schedule.ByOvertime:
		way = "Overtime, " + strings.Replace(x.Name, "extra shift", "evening", 1)
	case schedule.ByHire:
		way = "Another maker"
	case schedule.ByParts:
		way = "In parts"
	case schedule.ByVariation:
		way = "Finish “" + x.Name + "” instead"
	}
	answer := "*no*"
	if x.Kept {
		answer = "*yes*"
	}
	line := fmt.Sprintf("%s: %s, sure by %s", way, answer, dateWords(x.P80))
	switch {
	case x.Way == schedule.ByParts && len(x.First) > 0:
		line = fmt.Sprintf("%s: %s with %s, the rest sure by %s; a second delivery to pay for", way, answer, strings.Join(x.First, ", "), dateWords(x.P80))
	case x.Cost > 0:
		line += ", costs " + x.Cost.Format(w.studio.Prices.Currency)
	case x.Cost < 0:
		line += fmt.Sprintf(", %s less bench time", (-x.Cost).Format(w.studio.Prices.Currency))
	}
	for _, e := range x.Others {
		line += fmt.Sprintf("; %s %s instead of %s", e.Commission, shortDate(e.To), shortDate(e.From))
		if e.Danger {
			line += ", *promise in danger*"
		}
	}
	return line + "."
}
