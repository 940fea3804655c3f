package desk

import (
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/measure"
)

// What is said and posted while measurements come in.

// bodyKey is of the post about the measurements for a revision: what is wanted, then the check.
func bodyKey(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/body/%d", id, revision)
}

// sayBody says how far the measurements are and what to do next.
func sayBody(a *answer, b shop.Body) chat.Reply {
	c, left := b.Commission, shop.Missing(b.All)
	switch {
	case len(b.All) == 0:
		return chat.Reply{Text: "Nothing needs measuring. Please confirm the order in the thread."}
	case len(left) == 0:
		return chat.Reply{Text: "All measurements are in. Please check them in the thread."}
	}
	next := []chat.Button{button("rest", c.ID, "Give the rest", chat.Good)}
	if estimable(left) {
		next = append(next, button("estimate", c.ID, "Estimate the rest", chat.Plain))
	}
	if len(left) < len(b.All) {
		next = append(next, button("correct", c.ID, "Correct a value", chat.Plain))
	}
	if len(b.Problems) > 0 {
		var lines []string
		head := "These could not be estimated:"
		for _, x := range b.Problems {
			if x.Typed != "" {
				head = "What could be read is kept; please give the rest again:"
			}
			say := unnamed(x.What, x.Cause)
			if x.Kind != "" {
				say = a.refusal(a.in.in, &shop.Refusal{Kind: x.Kind, Name: x.Typed})
			}
			lines = append(lines, fmt.Sprintf("• %s: %s.", x.What, say))
		}
		return chat.Reply{Text: a.limits.Fit(head, lines, "", nil), Buttons: next}
	}
	if len(left) == len(b.All) {
		return a.bodyForm(c, "rest", left, "Measurements")
	}
	return chat.Reply{Text: fmt.Sprintf("%d of %d measurements are in.", len(b.All)-len(left), len(b.All)), Buttons: next}
}

// estimable reports whether any of the measurements can be estimated.
func estimable(all []shop.Wanted) bool {
	return slices.ContainsFunc(all, func(x shop.Wanted) bool { return measure.Estimable(x.Key) })
}

// unnamed is a sentence about a measurement without its name, which stands before it.
func unnamed(label, say string) string {
	name, _, _ := strings.Cut(label, ", ") // without its side
	for _, start := range []string{name + " of ", "the " + name + " "} {
		if len(say) > len(start) && strings.EqualFold(say[:len(start)], start) {
			return say[len(start):]
		}
	}
	return say
}

func sayApart(a *answer, o shop.ApartSet) chat.Reply {
	rep := sayBody(a, o.Body)
	if o.Commission.Apart && rep.Form == nil {
		rep.Text = "Left and right are asked for separately now. " + rep.Text
	}
	return rep
}

func sayRest(a *answer, b shop.Body) chat.Reply {
	return a.bodyForm(b.Commission, "rest", b.All, "Measurements")
}

// sayCorrect opens the measurements given, as many as a form holds; where that is not all of them, it asks first for which.
func sayCorrect(a *answer, b shop.Body) chat.Reply {
	c := b.Commission
	page := chat.Within(a.limits.Fields, len(b.All))
	if a.in.number(2) >= 1 || len(b.All) <= page {
		return a.bodyForm(c, "correct", b.All, "Correct measurements")
	}
	rep, offer := chat.Reply{Text: "Which ones?"}, newOffers(a.limits, correctMenu, "More measurements")
	for i := 0; i*page < len(b.All); i++ {
		last := min((i+1)*page, len(b.All))
		offer.add(chat.Button{Action: fmt.Sprintf("correct/%s/%d", c.ID, i+1), Label: b.All[i*page].Label() + " to " + b.All[last-1].Label()})
	}
	offer.put(&rep)
	return rep
}

// closeUps is how many measurements a form shows one by one; a longer form would begin below screens of pictures, which the
// thread has just above it.
const closeUps = 6

// bodyForm asks for the measurements, as many as a form holds, filled in with what was typed before.
func (a *answer) bodyForm(c ledger.Commission, verb string, ask []shop.Wanted, title string) chat.Reply {
	ask = ask[:chat.Within(a.limits.Fields, len(ask))]
	f := &chat.Form{Action: verb + "/" + string(c.ID), Title: title + " · " + string(c.ID)}
	for _, x := range ask {
		f.Fields = append(f.Fields, chat.Field{Key: x.Field(), Label: chat.Clip(x.Label()+" (cm)", a.limits.Title), Hint: "97,5 or 38 1/2 in",
			Value: x.Typed, Optional: true, Kin: kin(x)})
	}
	if a.d.cfg.HowTo != nil {
		f.Files = attach(a.limits, a.d.cfg.HowTo(keysOf(ask)))
		if len(ask) > closeUps {
			f.Files = f.Files[:min(1, len(f.Files))]
		}
	}
	return chat.Reply{Form: f}
}

// kin are the fields that asked for the same before left and right were said to differ, or to be the same.
func kin(x shop.Wanted) []string {
	if x.Side != foam.NoSide {
		return []string{x.Key}
	}
	if !x.Def().Paired {
		return nil
	}
	return []string{x.Key + "/" + string(foam.Left), x.Key + "/" + string(foam.Right)}
}

// keysOf the measurements, each once.
func keysOf(all []shop.Wanted) []string {
	var keys []string
	for _, x := range all {
		if !slices.Contains(keys, x.Key) {
			keys = append(keys, x.Key)
		}
	}
	return keys
}

// yesNo are the answers to a question that has no others.
var yesNo = []string{"yes", "no"}

func sayStature(_ *answer, o shop.Stature) chat.Reply {
	id := string(o.Commission.ID)
	return chat.Reply{Form: &chat.Form{Action: "height/" + id, Title: "Estimate the rest · " + id, Fields: []chat.Field{
		{Key: shop.HeightKey, Label: "Height without shoes (cm)", Hint: "174 or 5'8 1/2\"", Value: o.Height},
		{Key: shop.MassKey, Label: "Weight, for a better estimate", Hint: "70 kg or 154 lb", Value: o.Mass, Optional: true},
		{Key: adultKey, Label: "Is the wearer an adult?", Hint: "yes or no; nothing is estimated for children", Options: yesNo},
	}}}
}

// postBody shows how far the measurements are and, once all are in, the check.
func postBody(p *posting, b shop.Body) error {
	if b.Complete() {
		return p.check(b)
	}
	return p.body(b)
}

// body shows which measurements are wanted and which are in; with pictures where they are wanted from now on.
func (p *posting) body(b shop.Body) error {
	if len(b.All) == 0 {
		return nil
	}
	c, l := b.Commission, p.within(b.Commission)
	left := shop.Missing(b.All)
	head := fmt.Sprintf("*Measurements of %s*: %d of %d are in. "+"Write them as your tape shows them, such as 97,5 cm, 38 1/2 in or 5'11\"; a number without a unit means centimetres. "+
		"Have somebody else hold the tape, snug but not tight, and measure the body itself: room for what is worn beneath is added.", c.ID, len(b.All)-len(left), len(b.All))
	var lines []string
	keys := keysOf(b.All)
	for _, key := range keys {
		d, _ := measure.Lookup(key)
		lines = append(lines, fmt.Sprintf("• %s: %s", d.Label, d.How))
	}
	post := chat.Post{Key: bodyKey(c.ID, c.Revision+1), Text: l.Fit(head, lines, "", nil)}
	if b.Begun && p.d.cfg.HowTo != nil {
		post.Files = attach(l, p.d.cfg.HowTo(keys))
	}
	if len(left) > 0 {
		post.Buttons = append(post.Buttons, button("rest", c.ID, "Give measurements", chat.Good))
	}
	if estimable(left) {
		post.Buttons = append(post.Buttons, button("estimate", c.ID, "Estimate what is missing", chat.Plain))
	}
	if len(left) > 0 && len(left) < len(b.All) { // once all are in, the check offers it
		post.Buttons = append(post.Buttons, button("correct", c.ID, "Correct a value", chat.Plain))
	}
	if b.CanDiffer {
		post.Buttons = append(post.Buttons, apartButton(c))
	}
	return p.put(c.ID, post)
}

// apartButton has left and right measured apart, or together again.
func apartButton(c ledger.Commission) chat.Button {
	say := "Left and right differ"
	if c.Apart {
		say = "Left and right are the same"
	}
	return button("apart", c.ID, say, chat.Plain)
}

// check shows all values back in both unit systems.
func (p *posting) check(b shop.Body) error {
	c := b.Commission
	head, say := fmt.Sprintf("*Please check the measurements of %s*", c.ID), "These are right"
	if len(b.All) == 0 {
		head, say = fmt.Sprintf("*Please confirm %s*\nWhat you chose comes in one size and needs no measurements.", c.ID), "Work out the quote"
	}
	var lines []string
	said := map[string]bool{} // left and right may have the same said of them
	unusual := func(say string) string {
		if said[say] {
			return " *unusual – please check*, as above"
		}
		said[say] = true
		return " *unusual – please check*: " + say
	}
	for _, x := range b.All {
		line := fmt.Sprintf("• %s: %s", x.Label(), shown(x))
		f := b.Findings[x.Field()]
		switch g, judged := x.Def().Judge(x.Value); {
		case f.Level >= measure.Warn:
			line += unusual(f.Say)
		case g != measure.Plausible:
			line += unusual(judged)
		case f.Level == measure.Note:
			line += " (a little unusual next to the others)"
		}
		if f.Level == measure.Ask {
			say = "I measured again; they are right"
		}
		lines = append(lines, line)
	}
	var sides []string
	for _, f := range b.Sides {
		sides = append(sides, f.Say)
		if f.Level == measure.Ask {
			say = "I measured again; they are right"
		}
	}
	foot := caveats(b.All)
	if len(sides) > 0 {
		foot += "\n*Left and right*\n" + strings.Join(sides, "\n")
	}
	buttons := []chat.Button{button("right", c.ID, say, chat.Good)}
	if len(b.All) > 0 {
		buttons = append(buttons, button("correct", c.ID, "Correct them", chat.Plain))
	}
	if b.CanDiffer {
		buttons = append(buttons, apartButton(c))
	}
	post := chat.Post{Key: bodyKey(c.ID, c.Revision+1), Text: p.within(c).Fit(head, lines, foot, nil), Buttons: buttons}
	if b.Begun && len(b.All) > 0 && p.d.cfg.HowTo != nil {
		post.Files = attach(p.within(c), p.d.cfg.HowTo(keysOf(b.All)))
	}
	return p.put(c.ID, post)
}

// takeBackCheck takes the buttons off a check that does not hold any more.
func (p *posting) takeBackCheck(c ledger.Commission, from ledger.State) error {
	if from != ledger.Checking {
		return nil
	}
	return p.put(c.ID, chat.Post{Key: bodyKey(c.ID, c.Revision+1), Text: "The measurements will be shown again once all are in."})
}

// shown is a value as it is shown back: an estimate says so.
func shown(x shop.Wanted) string {
	s := measure.Format(x.Value)
	if x.Estimated() {
		s = fmt.Sprintf("about %s, *estimated*, give or take %s; room is left for that", s, measure.Format(x.Deviation))
	}
	return s
}

// caveats are what is to be known of how the survey took what is estimated, each once.
func caveats(all []shop.Wanted) string {
	var out []string
	for _, x := range all {
		if say := measure.Caveat(x.Key); x.Estimated() && say != "" && !slices.Contains(out, say) {
			out = append(out, say)
		}
	}
	if len(out) == 0 {
		return ""
	}
	return quote.Capital(strings.Join(out, "; ")) + "."
}

func postConfirmed(p *posting, o shop.Confirmed) error {
	c := o.Request.Commission
	head := fmt.Sprintf("*Measurements of %s, confirmed %s*", c.ID, p.when(p.at))
	if len(o.All) == 0 {
		head = fmt.Sprintf("*%s, confirmed %s*", c.ID, p.when(p.at))
	}
	var lines []string
	for _, x := range o.All {
		lines = append(lines, fmt.Sprintf("• %s: %s", x.Label(), shown(x)))
	}
	if err := p.put(c.ID, chat.Post{Key: bodyKey(c.ID, c.Revision), Text: p.within(c).Fit(head, lines, caveats(o.All), nil)}); err != nil {
		return err
	}
	return postRequested(p, o.Request)
}
