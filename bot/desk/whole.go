package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/price"
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
	head += openQuotes(p) + a.worths(p)
	var rep chat.Reply
	for _, x := range p.Pictures {
		rep.Files = append(rep.Files, pictured(x))
	}
	rep.Files = attach(a.limits, rep.Files)
	offer := newOffers(a.limits, planMenu, "Tell another client")
	worthIt := p.Moved > 0 && a.differs(p)
	if worthIt {
		offer.add(chat.Button{Action: fmt.Sprintf("replan/%d/%s", p.Number, p.Seen), Label: "Replan", Tone: chat.Good})
	}
	var lines []string
	for _, l := range p.Outlooks {
		lines = append(lines, a.outlookLine(l))
		if l.Danger && !l.Undecided {
			offer.add(tellButton(l.Commission, l.SureNow))
		}
	}
	if said := together(p.Together); said != "" {
		lines = append(lines, said)
	}
	offer.put(&rep)
	foot := "This is the present plan: nothing moves."
	switch {
	case p.Moved > 0 && !worthIt:
		foot = "No other plan is worth changing this one for."
	case p.Moved > 0:
		foot = fmt.Sprintf("%s compared with the present plan; press Replan to use this one.", shop.Moves(p.Moved))
	}
	rep.Text = a.limits.Fit(head, lines, foot, nil)
	return rep
}

// openQuotes says how the plan counts quotes that are not accepted yet; empty where there are none.
func openQuotes(p shop.Plan) string {
	n := 0
	for _, l := range p.Outlooks {
		if l.Undecided {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("\nThe open quote has its place in this plan as if it were accepted; in the simulated runs it is in about %d of 100, by what became of your quotes so far.", shop.Of100(p.Accepted))
	}
	return fmt.Sprintf("\nThe %d open quotes have their places in this plan as if all were accepted; in the simulated runs each is in about %d of 100, by what became of your quotes so far.", n, shop.Of100(p.Accepted))
}

func tellButton(id quote.CommissionID, date string) chat.Button {
	return chat.Button{Action: fmt.Sprintf("tell/%s/%s", id, date), Label: fmt.Sprintf("Tell the client of %s: %s", id, quote.ShortDate(date)), Tone: chat.Plain}
}

// differs says that the new plan is worth something else than the plan so far, or keeps some date otherwise.
func (w words) differs(p shop.Plan) bool {
	return slices.ContainsFunc(p.Outlooks, func(l shop.Promised) bool { return differ(l) }) ||
		!slices.EqualFunc(p.Now, p.Objectives, func(a, b plan.Objective) bool {
			return a.Name == b.Name && (a.Value == b.Value || a.Name == plan.Moves)
		})
}

// differ says that a commission's dates or odds differ enough in the new plan to be worth reading.
func differ(l shop.Promised) bool {
	return l.Moved > 0 && (math.Abs(l.Kept-l.KeptNow) >= oddsShown || l.Sure != l.SureNow || l.P50 != l.P50Now)
}

// sureBy says how often a date of the studio's confidence is kept, before it.
func (w words) sureBy() string {
	switch w.studio.Confidence {
	case 50:
		return "1 in 2 by"
	case 95:
		return "19 in 20 by"
	}
	return "8 in 10 by"
}

// oddsShown is by how much the odds of a promise must differ for both to be worth reading.
const oddsShown = 0.03

// outlookLine says what was promised of a commission and what becomes of it by the plan so far, and with the new one where that differs.
func (w words) outlookLine(l shop.Promised) string {
	promised := "nothing promised"
	if l.Promise != "" {
		promised = "promised " + quote.ShortDate(l.Promise)
	}
	if l.Undecided {
		promised = "quoted for " + quote.ShortDate(l.Promise) + ", not accepted yet"
	}
	line := fmt.Sprintf("• %s · %s: %s", l.Commission, chat.Clip(l.Client, shortName), promised)
	if l.Promise != "" {
		line += fmt.Sprintf(", kept in %d of 100 runs", shop.Of100(l.KeptNow))
	}
	line += fmt.Sprintf("; expected %s, %s %s", quote.ShortDate(l.P50Now), w.sureBy(), quote.ShortDate(l.SureNow))
	if l.Danger {
		line += ". *In danger*: " + l.WhyNow
	}
	line += "."
	if differ(l) {
		line += " *With the new plan*"
		if l.Promise != "" {
			line += fmt.Sprintf(" kept in %d", shop.Of100(l.Kept))
			if w.endangered(l) {
				line += ", *in danger*"
			}
			line += ";"
		}
		line += fmt.Sprintf(" expected %s, %s %s.", quote.ShortDate(l.P50), w.sureBy(), quote.ShortDate(l.Sure))
	}
	for _, x := range l.Closed {
		line += " " + x + "."
	}
	return line
}

// endangered says that a promise would be in danger with the new plan.
func (w words) endangered(l shop.Promised) bool {
	return l.Promise != "" && l.Kept < float64(w.studio.Danger)/100
}

func sayDateTold(_ *answer, o shop.DateTold) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s was told: %s instead of %s.", o.Commission.ClientName, quote.DateWords(o.Commission.Promise), quote.DateWords(o.Was))}
}

func postDateTold(p *posting, o shop.DateTold) error {
	c := o.Commission
	text := fmt.Sprintf("*%s will be ready later than promised.* We said %s; as the work stands, the date we can keep is *%s*. We are sorry. If that is too late for you, please tell us here.",
		c.ID, quote.DateWords(o.Was), quote.DateWords(c.Promise))
	if o.Agreed {
		text = fmt.Sprintf("*%s will be ready by %s*, and not by %s as promised before: that is the date you went on with.", c.ID, quote.DateWords(c.Promise), quote.DateWords(o.Was))
	}
	if err := p.card(c); err != nil {
		return err
	}
	if err := p.toClient(dateTold, c, chat.Post{Key: shop.DateMessage(c.ID, c.Promise), Text: text}); err != nil {
		return err
	}
	if o.Note == "" {
		return nil
	}
	said := fmt.Sprintf("%s · %s: the client was told the new date, %s.", c.ID, c.ClientName, quote.DateWords(c.Promise))
	if o.Agreed {
		said = fmt.Sprintf("%s · %s: the client went on with a later date, %s.", c.ID, c.ClientName, quote.DateWords(c.Promise))
	}
	return p.toStudio(dateTold, c, notice{key: o.Note, text: said})
}

func postEndangered(p *posting, o shop.Endangered) error {
	c, l := o.Commission, o.Outlook
	text := fmt.Sprintf("%s · %s: the promise of %s is in danger, kept in %d of 100 simulated runs: %s. Use “plan” to see whether a new plan keeps it; %s could be told instead.",
		c.ID, c.ClientName, quote.ShortDate(l.Promise), shop.Of100(l.KeptNow), l.WhyNow, quote.ShortDate(l.SureNow))
	return p.toStudio(endangered, c, notice{key: o.Note, text: text, buttons: []chat.Button{tellButton(c.ID, l.SureNow)}})
}

// endDanger takes the notice back that a promise is in danger: nothing can be done about it any more.
func (p *posting) endDanger(c ledger.Commission, why string) error {
	said, err := p.t.Outlook(c.ID)
	if err != nil || !said.Danger || said.Note == "" {
		return err
	}
	return p.note(said.Note, fmt.Sprintf("%s · %s: %s; it was promised for %s.", c.ID, c.ClientName, why, quote.ShortDate(said.Promise)))
}

func postSafe(p *posting, o shop.Safe) error {
	return p.toStudio(safeAgain, o.Commission, notice{key: o.Note, text: fmt.Sprintf("%s · %s: the promise of %s can be kept again, in %d of 100 simulated runs.",
		o.Commission.ID, o.Commission.ClientName, quote.ShortDate(o.Outlook.Promise), shop.Of100(o.Outlook.KeptNow))})
}

func sayChoices(a *answer, o shop.Choices) chat.Reply {
	head := fmt.Sprintf("*Can %s be ready by %s?*", o.Commission.ID, quote.DateWords(o.By))
	if o.Commission.Promise != "" {
		head += fmt.Sprintf(" It is promised for %s.", quote.DateWords(o.Commission.Promise))
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
	case schedule.Anew:
		way = "Planned anew"
	case schedule.ByOvertime:
		way = "Overtime, " + x.Name
	case schedule.ByHire:
		way = "Another maker"
	case schedule.ByParts:
		way = "In parts"
	case schedule.ByVariation:
		way = "Finish “" + x.Name + "” instead"
	case floor.ByEarlierFitting:
		way = "Earlier " + x.Name
	}
	answer := "*no*"
	if x.Kept {
		answer = "*yes*"
	}
	line := fmt.Sprintf("%s: %s, 8 in 10 by %s", way, answer, quote.DateWords(x.P80))
	switch {
	case x.Way == schedule.ByParts && len(x.First) > 0:
		line = fmt.Sprintf("%s: %s with %s, the rest 8 in 10 by %s; a second delivery to pay for", way, answer, strings.Join(x.First, ", "), quote.DateWords(x.P80))
	case x.Way == floor.ByEarlierFitting:
		line += ", costs nothing, but the client must agree"
	case x.Way == schedule.ByOvertime:
		line += fmt.Sprintf(", costs %s as planned and %s for each maker who stays for all of it", x.Cost.Format(w.studio.Prices.Currency), x.Full.Format(w.studio.Prices.Currency))
	case x.Cost > 0:
		line += ", costs " + x.Cost.Format(w.studio.Prices.Currency)
	case x.Cost < 0:
		line += fmt.Sprintf(", saves %s of bench time", (-x.Cost).Format(w.studio.Prices.Currency))
	}
	for _, e := range x.Others {
		line += fmt.Sprintf("; %s %s instead of %s", e.Commission, quote.ShortDate(e.To), quote.ShortDate(e.From))
		if e.Danger {
			line += ", *promise in danger*"
		}
	}
	return line + "."
}

// worths says what the plan so far is worth and what the new one is, and how many promises each has in danger.
func (w words) worths(p shop.Plan) string {
	now, then := 0, 0
	for _, l := range p.Outlooks {
		if l.Danger {
			now++
		}
		if w.endangered(l) {
			then++
		}
	}
	if p.Moved == 0 {
		return w.worth("*As planned*", now, p.Now, p)
	}
	return w.worth("*As planned now*", now, p.Now, p) + w.worth("*With the new plan*", then, p.Objectives, p)
}

// worth says what a plan is worth in each objective, first things first; empty where nothing was measured.
func (w words) worth(head string, danger int, list []plan.Objective, p shop.Plan) string {
	if len(list) == 0 {
		return ""
	}
	frozen := p.At.In(w.zone).AddDate(0, 0, w.studio.Frozen+1).Format("Mon 2 Jan")
	var said []string
	inDanger := nothingOr(danger, "no promise in danger", price.Counted(danger, "promise")+" in danger")
	if !slices.ContainsFunc(list, func(x plan.Objective) bool { return x.Name == plan.Promises }) {
		said = append(said, inDanger)
	}
	for _, x := range list {
		n := int(x.Value)
		switch x.Name {
		case plan.Promises:
			said = append(said, nothingOr(n, "each kept in at least 80 of 100 runs", fmt.Sprintf("%d kept in fewer than 80 of 100 runs", n)), inDanger)
		case plan.Lateness:
			said = append(said, nothingOr(n, "no lateness expected", hours(n)+" of lateness expected"))
		case plan.Wishes:
			said = append(said, nothingOr(n, "", hours(n)+" later than wished"))
		case plan.Windows:
			said = append(said, nothingOr(n, "no recoat window missed", price.Counted(n, "recoat window")+" missed in 100 runs"))
		case plan.Whole:
			said = append(said, "ready after "+hours(n/max(1, len(p.Outlooks)))+" on average")
		case plan.Moves:
			said = append(said, nothingOr(n, "nothing moves", shop.Moves(n))+" before "+frozen)
		case plan.Setups:
			said = append(said, nothingOr(n, "no change of set-up", price.Counted(n, "change")+" of set-up"))
		case plan.Evenings:
			said = append(said, nothingOr(n, "", hours(n)+" of evenings"))
		}
	}
	return "\n" + head + ": " + strings.Join(slices.DeleteFunc(said, func(s string) bool { return s == "" }), ", ") + "."
}

// together says which work of several commissions has one set-up, and what that saves.
func together(pairs []floor.Pair) string {
	var said []string
	saved := 0
	for _, x := range pairs {
		saved += int(x.Saved)
		said = append(said, fmt.Sprintf("%s of %s, then of %s", x.First.Title, x.First.Commission, x.Then.Commission))
	}
	if saved == 0 {
		return ""
	}
	return fmt.Sprintf("• With one set-up, which saves %s: %s.", hours(saved), strings.Join(said, "; "))
}

// hours says minutes as a person would.
func hours(minutes int) string {
	switch h := (minutes + 30) / 60; {
	case minutes < 90:
		return fmt.Sprintf("%d min", minutes)
	case h < 48:
		return fmt.Sprintf("%d h", h)
	default:
		return price.Counted((h+12)/24, "day")
	}
}

// nothingOr is the one for nothing, else the other.
func nothingOr(n int, nothing, some string) string {
	if n == 0 {
		return nothing
	}
	return some
}

// sayReasons says what holds a commission's date, and what each of its operations waits for.
func sayReasons(a *answer, o shop.Reasons) chat.Reply {
	l := o.Outlook
	if len(l.Reasons) == 0 {
		return chat.Reply{Text: fmt.Sprintf("%s has no work left: its last cure runs.", o.Commission.ID)}
	}
	head := fmt.Sprintf("*Why %s is ready when it is*: expected %s, %s %s; %s.", o.Commission.ID, quote.ShortDate(l.P50), a.sureBy(), quote.ShortDate(l.Sure), l.Why)
	if len(l.Left) > 0 {
		last := slices.MaxFunc(l.Left, func(a, b plan.Scheduled) int { return a.End.Compare(b.End) })
		head += fmt.Sprintf(" As planned its last work ends %s; work that takes longer, illness, late deposits and quotes that come true add to that.", a.when(last.End))
	}
	if said := shifted(l.Shift); said != "" {
		head += " Compared with the plan as it was taken over " + said + "."
	}
	lines := []string{"*What holds the date*, from the first to the last:"}
	holds := map[string]bool{}
	for k := 0; k < len(l.Chain); k++ {
		x := l.Chain[k]
		if x.Commission == o.Commission.ID {
			holds[x.Op] = true
			lines = append(lines, "• "+a.reason(x, o.Commission.ID))
			continue
		}
		n := k
		for n < len(l.Chain) && l.Chain[n].Commission != o.Commission.ID {
			n++
		}
		lines = append(lines, "• "+a.meanwhile(l.Chain[k:n], o.Commission.ID))
		k = n - 1
	}
	others := false
	for _, x := range l.Reasons {
		if holds[x.Op] {
			continue
		}
		if !others {
			others = true
			lines = append(lines, "*The other work left*:")
		}
		lines = append(lines, "• "+a.reason(x, o.Commission.ID))
	}
	return chat.Reply{Text: a.limits.Fit(head, lines, "Asking changes nothing.", nil)}
}

// meanwhile says what is done of others' work; several operations in one line.
func (w words) meanwhile(list []floor.Reason, of quote.CommissionID) string {
	if len(list) == 1 {
		return w.reason(list[0], of)
	}
	var whose, who []string
	for _, x := range list {
		if id := string(x.Commission); !slices.Contains(whose, id) {
			whose = append(whose, id)
		}
		for _, y := range x.Who {
			if !slices.Contains(who, y) {
				who = append(who, y)
			}
		}
	}
	slices.Sort(whose)
	line := fmt.Sprintf("%s of %s, %s", price.Counted(len(list), "operation"), strings.Join(whose, ", "), w.fromTo(list[0].Start, list[len(list)-1].End))
	if len(who) > 0 {
		line += ", " + listed(who)
	}
	return line + "."
}

// reason says when and by whom an operation is done, and what it waits for.
func (w words) reason(x floor.Reason, of quote.CommissionID) string {
	line := x.Title
	if x.Commission != of {
		line += " of " + string(x.Commission)
	}
	line += ", " + w.fromTo(x.Start, x.End)
	if len(x.Who) > 0 {
		line += ", " + listed(x.Who)
	}
	if x.Waits != "" {
		line += ": " + x.Waits
	}
	return line + "."
}

// shifted says how a commission's work differs from the present plan.
func shifted(s floor.Shift) string {
	if s.Moved == 0 {
		return ""
	}
	said := shop.Moves(s.Moved)
	switch minutes := int(s.Later.Minutes()); {
	case minutes > 0:
		said += ", its work ends " + hours(minutes) + " later"
	case minutes < 0:
		said += ", its work ends " + hours(-minutes) + " earlier"
	}
	if s.First != "" {
		said += ": " + s.First
	}
	return said
}
