package desk

import (
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/measure"
)

// What is said and posted while measurements come in.

// bodyKey and checkKey are of the posts about the measurements for a revision.
func bodyKey(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/body/%d", id, revision)
}
func checkKey(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/check/%d", id, revision)
}

// sayBody says how far the measurements are and what to do next.
func sayBody(a *answer, b shop.Body) chat.Reply {
	c, left := b.Commission, shop.Missing(b.All)
	switch {
	case len(b.All) == 0:
		return chat.Reply{Text: "Nothing has to be measured. Please confirm the order in the thread."}
	case len(left) == 0:
		return chat.Reply{Text: "All measurements are in. Please check them in the thread."}
	}
	next := []chat.Button{button("rest", c.ID, "Give the rest", chat.Good), button("estimate", c.ID, "Estimate the rest", chat.Plain)}
	if len(b.Problems) > 0 {
		text := "What was understood is kept, the rest is asked for again:"
		for _, x := range b.Problems {
			text += fmt.Sprintf("\n• %s: %s.", x.What, x.Cause)
		}
		return chat.Reply{Text: message(text), Buttons: next}
	}
	if len(left) == len(b.All) {
		return a.bodyForm(c, "rest", left, "Measurements")
	}
	return chat.Reply{Text: fmt.Sprintf("%d of %d measurements are in.", len(b.All)-len(left), len(b.All)), Buttons: next}
}

func sayApart(a *answer, o shop.ApartSet) chat.Reply {
	rep := sayBody(a, o.Body)
	if o.Commission.Apart && rep.Form == nil {
		rep.Text = "Left and right are asked for apart now. " + rep.Text
	}
	return rep
}

func sayRest(a *answer, b shop.Body) chat.Reply {
	return a.bodyForm(b.Commission, "rest", b.All, "Measurements")
}

// sayCorrect opens the measurements given, a form's worth at a time; without a page it asks for one.
func sayCorrect(a *answer, b shop.Body) chat.Reply {
	c := b.Commission
	if a.in.number(2) >= 1 || len(b.All) <= chat.MaxFields {
		return a.bodyForm(c, "correct", b.All, "Correct measurements")
	}
	rep := chat.Reply{Text: "Which of them?"}
	for i := 0; i*chat.MaxFields < len(b.All) && i < chat.MaxButtons; i++ {
		last := min((i+1)*chat.MaxFields, len(b.All))
		rep.Buttons = append(rep.Buttons, chat.Button{Action: fmt.Sprintf("correct/%s/%d", c.ID, i+1),
			Label: label(b.All[i*chat.MaxFields].Label() + " to " + b.All[last-1].Label())})
	}
	return rep
}

// bodyForm asks for as many of the measurements as a form holds, filled in with what was typed before.
func (a *answer) bodyForm(c ledger.Commission, verb string, ask []shop.Wanted, title string) chat.Reply {
	ask = ask[:min(len(ask), chat.MaxFields)]
	f := &chat.Form{Action: verb + "/" + string(c.ID), Title: title + " · " + string(c.ID)}
	for _, x := range ask {
		f.Fields = append(f.Fields, chat.Field{Key: x.Field(), Label: label(x.Label() + " (cm)"), Hint: "97,5 or 38 1/2 in",
			Value: x.Typed, Optional: true})
	}
	if a.d.cfg.HowTo != nil {
		f.Files = a.d.cfg.HowTo(keysOf(ask))
	}
	return chat.Reply{Form: f}
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

func sayStature(_ *answer, o shop.Stature) chat.Reply {
	id := string(o.Commission.ID)
	return chat.Reply{Form: &chat.Form{Action: "height/" + id, Title: "Estimate the rest · " + id, Fields: []chat.Field{
		{Key: shop.HeightKey, Label: "Height without shoes (cm)", Hint: "174 or 5'8 1/2\"", Value: o.Height},
		{Key: shop.MassKey, Label: "Weight, makes it more exact", Hint: "70 kg or 154 lb", Value: o.Mass, Optional: true},
		{Key: adultKey, Label: "Is the wearer an adult? Write yes or no", Hint: "nothing is estimated for children"},
	}}}
}

// postBody shows how far the measurements are and, once all are in, the check.
func postBody(p *posting, b shop.Body) error {
	c := b.Commission
	if b.Begun {
		if err := p.body(b); err != nil {
			return err
		}
	}
	if !b.Complete() {
		if err := p.takeBackCheck(c, b.From); err != nil {
			return err
		}
	}
	if !b.Begun {
		if err := p.body(b); err != nil {
			return err
		}
	}
	if b.Complete() {
		return p.check(b)
	}
	return nil
}

// body shows which measurements are wanted and which are in; with pictures where they are wanted from now on.
func (p *posting) body(b shop.Body) error {
	if len(b.All) == 0 {
		return nil
	}
	c := b.Commission
	var text strings.Builder
	left := shop.Missing(b.All)
	fmt.Fprintf(&text, "*Measurements of %s*: %d of %d are in. ", c.ID, len(b.All)-len(left), len(b.All))
	text.WriteString("Write them as your tape shows them, such as 97,5 cm, 38 1/2 in or 5'11\"; a bare number is taken as centimetres. " +
		"Have somebody else hold the tape, snug and not tight, and measure the body itself: what is worn beneath is added.\n")
	keys := keysOf(b.All)
	for _, key := range keys {
		d, _ := measure.Lookup(key)
		fmt.Fprintf(&text, "• %s: %s\n", d.Label, d.How)
	}
	post := chat.Post{Key: bodyKey(c.ID, c.Revision+1), Text: message(strings.TrimSpace(text.String()))}
	if b.Begun && p.d.cfg.HowTo != nil {
		post.Files = p.d.cfg.HowTo(keys)
	}
	if len(left) > 0 {
		post.Buttons = append(post.Buttons, button("rest", c.ID, "Give measurements", chat.Good), button("estimate", c.ID, "Estimate what is missing", chat.Plain))
	}
	if b.CanDiffer {
		say := "Left and right differ"
		if c.Apart {
			say = "Left and right are the same"
		}
		post.Buttons = append(post.Buttons, button("apart", c.ID, say, chat.Plain))
	}
	return p.put(c.ID, post)
}

// check shows all values back in both unit systems.
func (p *posting) check(b shop.Body) error {
	c := b.Commission
	var text strings.Builder
	say := "These are right"
	if len(b.All) > 0 {
		fmt.Fprintf(&text, "*Please check the measurements of %s*\n", c.ID)
	} else {
		fmt.Fprintf(&text, "*Please confirm %s*\nWhat you chose is made to one size and needs no measurements.\n", c.ID)
		say = "Work out the quote"
	}
	for _, x := range b.All {
		fmt.Fprintf(&text, "• %s: %s", x.Label(), shown(x))
		f := b.Findings[x.Field()]
		switch g, judged := x.Def().Judge(x.Value); {
		case f.Level >= measure.Warn:
			fmt.Fprintf(&text, " *unusual – please check*: %s", f.Say)
		case g != measure.Plausible:
			fmt.Fprintf(&text, " *unusual – please check*: %s", judged)
		case f.Level == measure.Note:
			fmt.Fprintf(&text, " (a little unusual beside the others)")
		}
		if f.Level == measure.Ask {
			say = "I measured again, they are right"
		}
		text.WriteString("\n")
	}
	for _, f := range b.Sides {
		text.WriteString("• " + f.Say + "\n")
	}
	buttons := []chat.Button{button("right", c.ID, say, chat.Good)}
	if len(b.All) > 0 {
		buttons = append(buttons, button("correct", c.ID, "Correct them", chat.Plain))
	}
	return p.put(c.ID, chat.Post{Key: checkKey(c.ID, c.Revision+1), Text: message(strings.TrimSpace(text.String())), Buttons: buttons,
		Mention: []chat.PersonID{c.Client}})
}

// takeBackCheck takes the buttons off a check that does not hold any more.
func (p *posting) takeBackCheck(c ledger.Commission, from ledger.State) error {
	if from != ledger.Checking {
		return nil
	}
	return p.put(c.ID, chat.Post{Key: checkKey(c.ID, c.Revision+1), Text: "The measurements will be shown again once all are in."})
}

// shown is a value as it is shown back: an estimate says so.
func shown(x shop.Wanted) string {
	s := measure.Format(x.Value)
	if x.Estimated() {
		s = fmt.Sprintf("about %s, *estimated*, give or take %s; room is left for that", s, measure.Format(x.Deviation))
		if caveat := measure.Caveat(x.Key); caveat != "" {
			s += ". " + strings.TrimSuffix(caveat, ".")
		}
	}
	return s
}

func postConfirmed(p *posting, o shop.Confirmed) error {
	c := o.Request.Commission
	var b strings.Builder
	if len(o.All) == 0 {
		fmt.Fprintf(&b, "*%s, confirmed %s*\n", c.ID, p.when(p.at))
	} else {
		fmt.Fprintf(&b, "*Measurements of %s, confirmed %s*\n", c.ID, p.when(p.at))
	}
	for _, x := range o.All {
		fmt.Fprintf(&b, "• %s: %s\n", x.Label(), shown(x))
	}
	if err := p.put(c.ID, chat.Post{Key: checkKey(c.ID, c.Revision), Text: message(strings.TrimSpace(b.String()))}); err != nil {
		return err
	}
	if len(o.All) > 0 {
		if err := p.put(c.ID, chat.Post{Key: bodyKey(c.ID, c.Revision), Text: fmt.Sprintf("*Measurements of %s*: all are in and confirmed.", c.ID)}); err != nil {
			return err
		}
	}
	return postRequested(p, o.Request)
}
