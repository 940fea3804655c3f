package desk

import (
	"fmt"
	"slices"
	"strconv"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/bot/shop/day"
	"benchbell/quote"
	"benchbell/quote/measure"
	"benchbell/quote/price"
)

// What is said and posted while sets, finish and details are chosen.

func sayAsked(_ *answer, o shop.Asked) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("Commission %s is open.", o.Commission.ID), Thread: chat.ThreadID(openMark + string(o.Commission.ID))}
}

func postAsked(p *posting, o shop.Asked) error {
	c := o.Commission
	if err := p.t.PutThread(c.ID, p.at); err != nil {
		return err
	}
	post, err := p.cardPost(c)
	if err != nil {
		return err
	}
	if p.d.cfg.LibraryPicture != nil {
		if f := p.d.cfg.LibraryPicture(); len(f.Data) > 0 {
			post.Files = []chat.File{f}
		}
	}
	if err := p.toClient(asked, c, post); err != nil {
		return err
	}
	if err := p.postLink(c); err != nil {
		return err
	}
	return p.toStudio(asked, c, notice{key: askedNote(c), text: fmt.Sprintf("%s · %s has asked for a commission.", c.ID, c.ClientName)})
}

// askedNote is the key of the notice that a commission was asked for, and then what it is quoted at.
func askedNote(c ledger.Commission) string { return fmt.Sprintf("%s/note/asked", c.ID) }

func saySetsChosen(a *answer, o shop.SetsChosen) chat.Reply {
	if o.Dropped != "" {
		return chat.Reply{Text: fmt.Sprintf("Noted. The finish %s does not suit all of these sets; please pick another.", a.finish(o.Dropped))}
	}
	return chat.Reply{Text: "Noted."}
}

func postSetsChosen(p *posting, o shop.SetsChosen) error {
	c := o.Commission
	if err := p.takeBackCheck(c, o.From); err != nil {
		return err
	}
	return p.card(c)
}

func sayItemChosen(a *answer, o shop.ItemChosen) chat.Reply {
	return chat.Reply{Text: a.d.shop.Describe(o.Item) + "."}
}

func postItemChosen(p *posting, o shop.ItemChosen) error {
	if o.Commission.State == ledger.Choosing {
		if err := p.takeBackCheck(o.Commission, o.From); err != nil {
			return err
		}
	}
	return p.card(o.Commission)
}

func sayDetails(_ *answer, c ledger.Commission) chat.Reply {
	return chat.Reply{Form: &chat.Form{Action: "details/" + string(c.ID), Title: "Details of " + string(c.ID), Fields: []chat.Field{
		{Key: "wanted", Label: "Wanted by", Hint: "2027-03-01 or 1 March 2027", Value: c.WantedTyped, Optional: true},
		{Key: "clothing", Label: "Worn beneath: how thick", Hint: "3 mm, or none", Value: c.ClothingTyped, Optional: true},
		{Key: "allowance", Label: "Extra on girths, to trim at a fitting", Hint: "10 mm, or none", Value: c.AllowTyped, Optional: true},
		{Key: "fittings", Label: "Fittings of what is worn", Hint: "in person, or by pictures that you send", Value: fittingsChosen[c.Fittings], Optional: true,
			Options: []string{shop.FittingsInPerson, shop.FittingsByPictures}},
		{Key: "notes", Label: "Notes", Hint: "colours, wear, where it will be worn", Value: c.Notes, Long: true, Optional: true},
	}}}
}

// detailWords name the details in an answer.
var detailWords = map[string]string{"wanted": "Wanted by", "clothing": "Worn beneath", "allowance": "Extra to trim", "fittings": "Fittings"}

// fittingsChosen are the ways to hold fittings as they are given with the details.
var fittingsChosen = map[quote.How]string{quote.InPerson: shop.FittingsInPerson, quote.ByPictures: shop.FittingsByPictures}

func sayDetailsGiven(_ *answer, o shop.DetailsGiven) chat.Reply {
	if len(o.Problems) == 0 {
		return chat.Reply{Text: "Noted."}
	}
	text := "The rest is noted."
	for _, x := range o.Problems {
		text += fmt.Sprintf(" %s: %s.", detailWords[x.What], x.Cause)
	}
	return chat.Reply{Text: text, Buttons: []chat.Button{button("details", o.Commission.ID, "Correct it", chat.Good)}}
}

func sayPicturesAdded(_ *answer, o shop.PicturesAdded) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("Saved with %s, which now has %s.", o.Commission.ID, price.Counted(o.Count, "reference picture"))}
}

// setMenus offer every set of the library, and those ordered that it does not have any more, so that they can be taken off.
func (w words) setMenus(l chat.Limits, c ledger.Commission, items []quote.Item) []chat.Menu {
	m := chat.Menu{Action: "sets/" + string(c.ID), Label: "Pattern sets", Min: 1}
	for _, s := range w.d.shop.Known() {
		ordered := slices.ContainsFunc(items, func(it quote.Item) bool { return it.Set == s.Name })
		if s.Withdrawn && !ordered {
			continue
		}
		m.Options = append(m.Options, chat.Option{Value: s.Name, Label: chat.Clip(s.Title, l.Line), Note: chat.Clip(s.Summary, l.Line), Chosen: ordered})
	}
	m.Max = len(m.Options)
	pages := l.Pages(m)
	if len(pages) == 1 {
		return pages
	}
	for i, p := range pages { // a page says what it has: the library may have changed when it is picked from
		from, to := p.Options[0].Value, p.Options[len(p.Options)-1].Value
		if action := fmt.Sprintf("%s/%s/%s", p.Action, from, to); l.Action == 0 || len(action) <= l.Action {
			pages[i].Action = action
		}
	}
	return pages
}

// finishMenus offer the finishes that suit all that is ordered.
func (w words) finishMenus(l chat.Limits, c ledger.Commission, items []quote.Item) []chat.Menu {
	m := chat.Menu{Action: "finish/" + string(c.ID), Label: "Finish", Min: 1, Max: 1, Answer: true}
	for _, f := range w.d.shop.Finishes(items) {
		m.Options = append(m.Options, chat.Option{Value: f.Key, Label: chat.Clip(f.Title, l.Line), Note: chat.Clip(f.Note, l.Line), Chosen: f.Key == c.Finish})
	}
	if len(m.Options) == 0 {
		return nil
	}
	return l.Pages(m)
}

// brief is what is ordered, a line each.
func (p *posting) brief(l chat.Limits, c ledger.Commission, items []quote.Item, pictures int) []string {
	var out []string
	for _, it := range items {
		out = append(out, "• "+p.d.shop.Describe(it))
	}
	if len(items) == 0 {
		out = append(out, "• no set chosen yet")
	}
	if c.Finish != "" {
		out = append(out, "Finish: "+p.finish(c.Finish))
	} else {
		out = append(out, "Finish: not chosen yet")
	}
	switch {
	case c.Wanted != "":
		out = append(out, "Wanted by: "+quote.DateWords(c.Wanted))
	case c.WantedTyped != "":
		_, err := day.Parse(c.WantedTyped, p.local(p.at))
		out = append(out, fmt.Sprintf("Wanted by: %v; press Details", err))
	}
	if c.Clothing > 0 {
		out = append(out, "Worn beneath: "+measure.Format(c.Clothing)+" thick")
	}
	if c.Allowance > 0 {
		out = append(out, "Extra to trim at a fitting: "+measure.Format(c.Allowance)+" on every girth")
	}
	if c.Fittings != "" {
		out = append(out, "Fittings: "+fittingsChosen[c.Fittings])
	}
	if c.Notes != "" {
		out = append(out, "Notes: "+chat.Clip(c.Notes, l.Text/notesShare))
	}
	if pictures > 0 {
		out = append(out, fmt.Sprintf("Reference pictures: %d", pictures))
	}
	return out
}

// notesShare of a message, a fourth where it has an end, is for the notes.
const notesShare = 4

// itemMenu chooses the set of which to say how many, and for which side.
func (w words) itemMenu(l chat.Limits, c ledger.Commission, items []quote.Item) []chat.Menu {
	m := chat.Menu{Action: "item/" + string(c.ID), Label: "How many, which side", Min: 1, Max: 1}
	for _, it := range items {
		if s, ok := w.d.shop.Set(it.Set); ok {
			m.Options = append(m.Options, chat.Option{Value: it.Set, Label: chat.Clip(w.d.shop.Describe(it), l.Line), Note: chat.Clip(s.Summary, l.Line)})
		}
	}
	if len(m.Options) == 0 {
		return nil
	}
	return l.Pages(m)[:1]
}

// sayItem shows a set ordered, with menus for how many and which side.
func sayItem(a *answer, c ledger.Commission, items []quote.Item, set string) chat.Reply {
	i := slices.IndexFunc(items, func(it quote.Item) bool { return it.Set == set })
	s, ok := a.d.shop.Set(set)
	if i < 0 || !ok {
		return chat.Reply{Text: "This set is not on the list any more."}
	}
	it, l := items[i], a.limits
	rep := chat.Reply{Text: "*" + a.d.shop.Describe(it) + "*\n" + s.Summary}
	if f, ok := a.d.setCard(set); ok {
		rep.Files = []chat.File{f}
	}
	count := chat.Menu{Action: fmt.Sprintf("count/%s/%s", c.ID, set), Label: "How many", Min: 1, Max: 1, Answer: true}
	for n := 1; n <= shop.MaxCount; n++ {
		count.Options = append(count.Options, chat.Option{Value: strconv.Itoa(n), Label: strconv.Itoa(n), Chosen: n == it.Count})
	}
	var sides []chat.Menu
	if s.Sided {
		sides = l.Pages(chat.Menu{Action: fmt.Sprintf("sides/%s/%s", c.ID, set), Label: "Which side", Min: 1, Max: 1, Answer: true,
			Options: []chat.Option{
				{Value: string(quote.Pair), Label: "A pair", Note: "one left and one right, counted as one", Chosen: it.Sides == quote.Pair},
				{Value: string(quote.OneLeft), Label: "Left only", Chosen: it.Sides == quote.OneLeft},
				{Value: string(quote.OneRight), Label: "Right only", Chosen: it.Sides == quote.OneRight},
			}})
	}
	rep.Menus = withRoom(l, 0, l.Pages(count), sides)
	return rep
}
