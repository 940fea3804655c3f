package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/measure"
)

// wanted is one measurement that the chosen sets need.
type wanted struct {
	def  measure.Def
	side foam.Side
	have ledger.Measurement // zero where nothing was typed yet
}

func (x wanted) label() string {
	if x.side != foam.NoSide {
		return x.def.Label + ", " + string(x.side)
	}
	return x.def.Label
}

// field is the measurement's key in a form: "wrist-girth" or "wrist-girth/left".
func (x wanted) field() string {
	if x.side != foam.NoSide {
		return x.def.Key + "/" + string(x.side)
	}
	return x.def.Key
}

// bothSides reports whether anything ordered is worn left and right.
func (w *work) bothSides(items []quote.Item) bool {
	var l, r bool
	for _, it := range items {
		l = l || it.Sides == quote.Pair || it.Sides == quote.OneLeft
		r = r || it.Sides == quote.Pair || it.Sides == quote.OneRight
	}
	return l && r
}

// wants lists the measurements needed, in asking order, with what has been given of each.
func (w *work) wants(c ledger.Commission) ([]wanted, error) {
	items, err := w.t.Items(c.ID)
	if err != nil {
		return nil, err
	}
	given, err := w.t.Measurements(c.ID)
	if err != nil {
		return nil, err
	}
	apart := c.Apart && w.bothSides(items)
	var out []wanted
	seen := map[string]bool{}
	for _, it := range items {
		s, ok := w.d.set(it.Set)
		if !ok {
			return nil, fmt.Errorf("%s orders the set %q, which the library does not have any more", c.ID, it.Set)
		}
		for _, key := range s.Measures {
			if seen[key] {
				continue
			}
			seen[key] = true
			def, ok := measure.Lookup(key)
			if !ok {
				return nil, fmt.Errorf("set %q needs the measurement %q, which is not defined", s.Name, key)
			}
			sides := []foam.Side{foam.NoSide}
			if def.Paired && apart {
				sides = []foam.Side{foam.Left, foam.Right}
			}
			for _, side := range sides {
				x := wanted{def: def, side: side}
				if i := slices.IndexFunc(given, func(m ledger.Measurement) bool { return m.Key == key && m.Side == side }); i >= 0 {
					x.have = given[i]
				}
				out = append(out, x)
			}
		}
	}
	return out, nil
}

func missing(all []wanted) []wanted {
	return slices.DeleteFunc(slices.Clone(all), func(x wanted) bool { return x.have.Known })
}

// measure ends the choosing and begins the measuring.
func (w *work) measure(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustDraft(c); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	switch {
	case len(items) == 0:
		return chat.Reply{}, refuse("pick at least one pattern set from the menu first")
	case c.Finish == "":
		return chat.Reply{}, refuse("pick a finish from the menu first")
	}
	// Read again: a day may have passed, and what was not understood must not be lost silently.
	if c.Wanted, err = w.wantedBy(c.WantedTyped); err != nil {
		return chat.Reply{}, refuse("the wanted-by date needs mending under Details: %s", err)
	}
	if _, err := thickness(c.ClothingTyped, maxClothing); err != nil {
		return chat.Reply{}, refuse("what is worn beneath needs mending under Details: %s", err)
	}
	if _, err := thickness(c.AllowTyped, maxAllowance); err != nil {
		return chat.Reply{}, refuse("the room for a mock-up fitting needs mending under Details: %s", err)
	}
	if c.State == ledger.Choosing {
		c.State = ledger.Measuring
		if err := w.save(&c, "measuring", ""); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.putHowTo(c); err != nil {
		return chat.Reply{}, err
	}
	return w.progressBody(c, nil)
}

// putHowTo puts the measurements' message with its pictures; later edits keep them.
func (w *work) putHowTo(c ledger.Commission) error {
	all, err := w.wants(c)
	if err != nil {
		return err
	}
	return w.putBody(c, all, true)
}

func bodyKey(c ledger.Commission) string  { return fmt.Sprintf("%s/body/%d", c.ID, c.Revision+1) }
func checkKey(c ledger.Commission) string { return fmt.Sprintf("%s/check/%d", c.ID, c.Revision+1) }

// progressBody shows how far the measurements are and, once all are in, the check; it returns what to do next.
func (w *work) progressBody(c ledger.Commission, problems []string) (chat.Reply, error) {
	all, err := w.wants(c)
	if err != nil {
		return chat.Reply{}, err
	}
	left := missing(all)
	if len(left) == 0 {
		if c.State != ledger.Checking {
			c.State = ledger.Checking
			if err := w.save(&c, "measurements complete", ""); err != nil {
				return chat.Reply{}, err
			}
		}
		if err := w.putBody(c, all, false); err != nil {
			return chat.Reply{}, err
		}
		if err := w.putCheck(c, all); err != nil {
			return chat.Reply{}, err
		}
		if len(all) == 0 {
			return chat.Reply{Text: "Nothing has to be measured. Please confirm the order in the thread."}, nil
		}
		return chat.Reply{Text: "All measurements are in. Please check them in the thread."}, nil
	}
	if c.State == ledger.Checking {
		if err := w.takeBackCheck(c); err != nil {
			return chat.Reply{}, err
		}
		c.State = ledger.Measuring
		if err := w.save(&c, "measurements incomplete", ""); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.putBody(c, all, false); err != nil {
		return chat.Reply{}, err
	}
	next := []chat.Button{{Action: "rest/" + string(c.ID), Label: "Give the rest", Tone: chat.Good},
		{Action: "estimate/" + string(c.ID), Label: "Estimate the rest"}}
	if len(problems) > 0 {
		return chat.Reply{Text: clip("What was understood is kept, the rest is asked for again:"+strings.Join(problems, ""), chat.MaxText), Buttons: next}, nil
	}
	if len(left) == len(all) {
		return w.formOf(c, "rest", left, "Measurements"), nil
	}
	return chat.Reply{Text: fmt.Sprintf("%d of %d measurements are in.", len(all)-len(left), len(all)), Buttons: next}, nil
}

// putBody shows which measurements are wanted and which are in.
func (w *work) putBody(c ledger.Commission, all []wanted, pictures bool) error {
	if len(all) == 0 {
		return nil
	}
	var b strings.Builder
	left := missing(all)
	fmt.Fprintf(&b, "*Measurements of %s*: %d of %d are in. ", c.ID, len(all)-len(left), len(all))
	b.WriteString("Write them as your tape shows them, such as 97,5 cm, 38 1/2 in or 5'11\"; a bare number is taken as centimetres. " +
		"Have somebody else hold the tape, snug and not tight, and measure the body itself: what is worn beneath is added.\n")
	var keys []string
	for _, x := range all {
		if !slices.Contains(keys, x.def.Key) {
			keys = append(keys, x.def.Key)
			fmt.Fprintf(&b, "• %s: %s\n", x.def.Label, x.def.How)
		}
	}
	p := chat.Post{Key: bodyKey(c), Text: clip(strings.TrimSpace(b.String()), chat.MaxText)}
	if pictures && w.d.cfg.HowTo != nil {
		p.Files = w.d.cfg.HowTo(keys)
	}
	if len(left) > 0 {
		p.Buttons = append(p.Buttons, chat.Button{Action: "rest/" + string(c.ID), Label: "Give measurements", Tone: chat.Good},
			chat.Button{Action: "estimate/" + string(c.ID), Label: "Estimate what is missing"})
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return err
	}
	if w.bothSides(items) && slices.ContainsFunc(all, func(x wanted) bool { return x.def.Paired }) {
		label := "Left and right differ"
		if c.Apart {
			label = "Left and right are the same"
		}
		p.Buttons = append(p.Buttons, chat.Button{Action: "apart/" + string(c.ID), Label: label})
	}
	return w.t.PutPost(c.ID, p, w.now)
}

// formOf asks for up to MaxFields of the measurements, filled in with what was typed before.
func (w *work) formOf(c ledger.Commission, verb string, ask []wanted, title string) chat.Reply {
	ask = ask[:min(len(ask), chat.MaxFields)]
	f := &chat.Form{Action: verb + "/" + string(c.ID), Title: title + " · " + string(c.ID)}
	var keys []string
	for _, x := range ask {
		f.Fields = append(f.Fields, chat.Field{Key: x.field(), Label: clip(x.label()+" (cm)", chat.MaxLabel), Hint: "97,5 or 38 1/2 in",
			Value: x.have.Typed, Optional: true})
		if !slices.Contains(keys, x.def.Key) {
			keys = append(keys, x.def.Key)
		}
	}
	if w.d.cfg.HowTo != nil {
		f.Files = w.d.cfg.HowTo(keys)
	}
	return chat.Reply{Form: f}
}

func (w *work) mustMeasure(c ledger.Commission) error {
	switch c.State {
	case ledger.Measuring, ledger.Checking:
		return nil
	case ledger.Choosing:
		return refuse("choose sets and finish first, then press Go on")
	}
	return w.mustDraft(c)
}

func (w *work) restForm(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustMeasure(c); err != nil {
		return chat.Reply{}, err
	}
	all, err := w.wants(c)
	if err != nil {
		return chat.Reply{}, err
	}
	left := missing(all)
	if len(left) == 0 {
		return chat.Reply{}, refuse("all measurements are in; check them in the thread, or press Correct them there")
	}
	return w.formOf(c, "rest", left, "Measurements"), nil
}

// apart switches between one value for both sides and one for each; what was given is carried over.
func (w *work) apart(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustMeasure(c); err != nil {
		return chat.Reply{}, err
	}
	c.Apart = !c.Apart
	if err := w.save(&c, "left and right", map[bool]string{true: "apart", false: "the same"}[c.Apart]); err != nil {
		return chat.Reply{}, err
	}
	given, err := w.t.Measurements(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	has := func(key string, side foam.Side) bool {
		return slices.ContainsFunc(given, func(m ledger.Measurement) bool { return m.Key == key && m.Side == side })
	}
	for _, m := range given {
		def, ok := measure.Lookup(m.Key)
		if !ok || !def.Paired {
			continue
		}
		var to []foam.Side
		if c.Apart && m.Side == foam.NoSide {
			to = []foam.Side{foam.Left, foam.Right}
		}
		if !c.Apart && m.Side == foam.Right && !has(m.Key, foam.NoSide) {
			to = []foam.Side{foam.NoSide}
		}
		for _, side := range to {
			if has(m.Key, side) {
				continue
			}
			n := m
			n.Side = side
			// A value taken for both sides is only a suggestion for each: it is filled in and asked for again.
			if c.Apart {
				n.Known, n.Problem = false, "left and right differ"
			}
			if err := w.t.SetMeasurement(c.ID, n); err != nil {
				return chat.Reply{}, err
			}
		}
	}
	rep, err := w.progressBody(c, nil)
	if err == nil && c.Apart && rep.Form == nil {
		rep.Text = "Left and right are asked for apart now. " + rep.Text
	}
	return rep, err
}

// body takes a form of measurements: what is understood is kept, what is not is asked for again by name.
func (w *work) body(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustMeasure(c); err != nil {
		return chat.Reply{}, err
	}
	all, err := w.wants(c)
	if err != nil {
		return chat.Reply{}, err
	}
	var problems []string
	took := 0
	for _, x := range all {
		typed, ok := w.in.Values[x.field()]
		typed = oneLine(typed)
		if !ok || typed == "" {
			continue
		}
		m := ledger.Measurement{Key: x.def.Key, Side: x.side, Typed: typed}
		v, err := measure.Parse(typed, measure.CM)
		if err == nil {
			if g, say := x.def.Judge(v); g == measure.Impossible {
				err = errors.New(strings.TrimSuffix(say, "."))
			}
		}
		if err != nil {
			m.Problem = err.Error()
			problems = append(problems, fmt.Sprintf("\n• %s: %s.", x.label(), err))
		} else {
			m.Known, m.Value = true, v
			took++
		}
		if err := w.t.SetMeasurement(c.ID, m); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.record(c, "measurements given", fmt.Sprintf("%d understood, %d not", took, len(problems))); err != nil {
		return chat.Reply{}, err
	}
	return w.progressBody(c, problems)
}

// putCheck shows all values back in both unit systems.
func (w *work) putCheck(c ledger.Commission, all []wanted) error {
	var b strings.Builder
	say := "These are right"
	if len(all) > 0 {
		fmt.Fprintf(&b, "*Please check the measurements of %s*\n", c.ID)
	} else {
		fmt.Fprintf(&b, "*Please confirm %s*\nWhat you chose is made to one size and needs no measurements.\n", c.ID)
		say = "Work out the quote"
	}
	found, err := w.findings(c, all)
	if err != nil {
		return err
	}
	for _, x := range all {
		fmt.Fprintf(&b, "• %s: %s", x.label(), shown(x))
		f := found[x.field()]
		switch g, judged := x.def.Judge(x.have.Value); {
		case f.Level >= measure.Warn:
			fmt.Fprintf(&b, " *unusual – please check*: %s", f.Say)
		case g != measure.Plausible:
			fmt.Fprintf(&b, " *unusual – please check*: %s", judged)
		case f.Level == measure.Note:
			fmt.Fprintf(&b, " (a little unusual beside the others)")
		}
		if f.Level == measure.Ask {
			say = "I measured again, they are right"
		}
		b.WriteString("\n")
	}
	left, _, err := w.taken(c, foam.Left)
	if err != nil {
		return err
	}
	right, _, err := w.taken(c, foam.Right)
	if err != nil {
		return err
	}
	for _, f := range measure.CheckSides(left, right) {
		b.WriteString("• " + f.Say + "\n")
	}
	buttons := []chat.Button{{Action: "right/" + string(c.ID), Label: say, Tone: chat.Good}}
	if len(all) > 0 {
		buttons = append(buttons, chat.Button{Action: "correct/" + string(c.ID), Label: "Correct them"})
	}
	return w.t.PutPost(c.ID, chat.Post{Key: checkKey(c), Text: clip(strings.TrimSpace(b.String()), chat.MaxText), Buttons: buttons,
		Mention: []chat.PersonID{c.Client}}, w.now)
}

// takeBackCheck takes the buttons off a check that does not hold any more.
func (w *work) takeBackCheck(c ledger.Commission) error {
	if c.State != ledger.Checking {
		return nil
	}
	return w.t.PutPost(c.ID, chat.Post{Key: checkKey(c), Text: "The measurements will be shown again once all are in."}, w.now)
}

// correct opens the measurements given, five at a time; "correct/C0007/2" is the second five.
func (w *work) correct(c ledger.Commission, path []string) (chat.Reply, error) {
	if err := w.mustMeasure(c); err != nil {
		return chat.Reply{}, err
	}
	all, err := w.wants(c)
	if err != nil {
		return chat.Reply{}, err
	}
	page := number(path, 2)
	if page < 1 && len(all) > chat.MaxFields {
		rep := chat.Reply{Text: "Which of them?"}
		for i := 0; i*chat.MaxFields < len(all) && i < chat.MaxButtons; i++ {
			last := min((i+1)*chat.MaxFields, len(all))
			rep.Buttons = append(rep.Buttons, chat.Button{Action: fmt.Sprintf("correct/%s/%d", c.ID, i+1),
				Label: clip(all[i*chat.MaxFields].label()+" to "+all[last-1].label(), chat.MaxLabel)})
		}
		return rep, nil
	}
	from := (max(page, 1) - 1) * chat.MaxFields
	if from >= len(all) {
		return chat.Reply{}, refuse("there are only %d measurements", len(all))
	}
	return w.formOf(c, "correct", all[from:], "Correct measurements"), nil
}
