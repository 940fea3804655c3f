package desk

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/measure"
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
	if err := p.put(c.ID, p.library(c)); err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	for _, it := range o.Items {
		if err := p.newItem(c, it); err != nil {
			return err
		}
	}
	return p.note(fmt.Sprintf("%s/note/asked", c.ID), fmt.Sprintf("%s · %s has asked for a commission.", c.ID, c.ClientName))
}

func saySetsChosen(a *answer, o shop.SetsChosen) chat.Reply {
	if o.Dropped != "" {
		return chat.Reply{Text: fmt.Sprintf("Noted. The finish %s does not suit every set chosen; please pick another.", a.finish(o.Dropped))}
	}
	return chat.Reply{Text: "Noted."}
}

func postSetsChosen(p *posting, o shop.SetsChosen) error {
	c := o.Commission
	if err := p.takeBackCheck(c, o.From); err != nil {
		return err
	}
	if err := p.card(c); err != nil {
		return err
	}
	for _, it := range o.Items {
		if !slices.Contains(o.Was, it) {
			if err := p.newItem(c, it); err != nil {
				return err
			}
		}
	}
	for _, it := range o.Was {
		if !slices.ContainsFunc(o.Items, func(x quote.Item) bool { return x.Set == it.Set }) {
			s, _ := p.d.shop.Set(it.Set)
			if err := p.put(c.ID, chat.Post{Key: itemKey(c, it), Text: s.Title + ": taken off the list"}); err != nil {
				return err
			}
		}
	}
	return nil
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
	if err := p.put(o.Commission.ID, p.item(o.Commission, o.Item)); err != nil {
		return err
	}
	return p.card(o.Commission)
}

func sayDetails(_ *answer, c ledger.Commission) chat.Reply {
	return chat.Reply{Form: &chat.Form{Action: "details/" + string(c.ID), Title: "Details of " + string(c.ID), Fields: []chat.Field{
		{Key: "wanted", Label: "Wanted by (empty: no date)", Hint: "2027-03-01 or 1 March 2027", Value: c.WantedTyped, Optional: true},
		{Key: "clothing", Label: "Thickness of what is worn beneath", Hint: "3 mm, or none", Value: c.ClothingTyped, Optional: true},
		{Key: "allowance", Label: "Room for a mock-up fitting, on girths", Hint: "10 mm, or none", Value: c.AllowTyped, Optional: true},
		{Key: "notes", Label: "Notes", Hint: "colours, wear, where it will be worn", Value: c.Notes, Long: true, Optional: true},
	}}}
}

// detailWords name the details in an answer.
var detailWords = map[string]string{"wanted": "Wanted by", "clothing": "Worn beneath", "allowance": "Room for a mock-up fitting"}

func sayDetailsGiven(_ *answer, o shop.DetailsGiven) chat.Reply {
	if len(o.Problems) == 0 {
		return chat.Reply{Text: "Noted."}
	}
	text := "The rest is noted."
	for _, x := range o.Problems {
		text += fmt.Sprintf(" %s: %s.", detailWords[x.What], x.Cause)
	}
	return chat.Reply{Text: text, Buttons: []chat.Button{button("details", o.Commission.ID, "Mend it", chat.Good)}}
}

func sayPicturesAdded(_ *answer, o shop.PicturesAdded) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("Kept with %s; it has %s now.", o.Commission.ID, many(o.Count, "reference picture"))}
}

// card shows what is chosen so far and the menus to choose with.
func (p *posting) card(c ledger.Commission) error {
	items, err := p.t.Items(c.ID)
	if err != nil {
		return err
	}
	pics, err := p.t.Pictures(c.ID)
	if err != nil {
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "*%s · %s*\n", c.ID, c.ClientName)
	if shop.Drafting(c.State) {
		b.WriteString("Pick one or more pattern sets and a finish, add details, then give your measurements. Reference pictures can be sent in this thread at any time.\n")
	}
	b.WriteString("\n" + p.brief(c, items, len(pics)))
	post := chat.Post{Key: string(c.ID) + "/card", Text: message(b.String())}
	if shop.Drafting(c.State) {
		sets := chat.Menu{Action: "sets/" + string(c.ID), Label: "Pattern sets", Min: 1}
		lib := p.d.shop.Offered()
		for _, s := range lib[:min(len(lib), chat.MaxOptions)] {
			sets.Options = append(sets.Options, chat.Option{Value: s.Name, Label: label(s.Title), Note: clip(s.Summary, 100)})
		}
		sets.Max = len(sets.Options)
		post.Menus = append(post.Menus, sets)
		finish := chat.Menu{Action: "finish/" + string(c.ID), Label: "Finish", Min: 1, Max: 1}
		for _, f := range p.d.shop.Finishes(items) {
			if len(finish.Options) < chat.MaxOptions {
				finish.Options = append(finish.Options, chat.Option{Value: f.Key, Label: label(f.Title), Note: clip(f.Note, 100)})
			}
		}
		if len(finish.Options) > 0 {
			post.Menus = append(post.Menus, finish)
		}
		post.Buttons = []chat.Button{button("details", c.ID, "Details", chat.Plain), button("measure", c.ID, "Go on", chat.Good),
			button("cancel", c.ID, "Cancel", chat.Grave)}
	}
	return p.put(c.ID, post)
}

// library shows what there is to choose from, with as much of the summaries as fits a message; a set that is chosen is
// shown with all of its own.
func (p *posting) library(c ledger.Commission) chat.Post {
	post := chat.Post{Key: string(c.ID) + "/library"}
	lib := p.d.shop.Offered()
	write := func(line func(shop.Set) string) string {
		text := "*The library*"
		for _, s := range lib {
			text += "\n• " + line(s)
		}
		return text
	}
	const room = chat.MaxText - 150 // for the line about more sets than the menu holds
	for _, line := range []func(shop.Set) string{
		func(s shop.Set) string { return s.Title + ": " + s.Summary },
		func(s shop.Set) string {
			first, _, _ := strings.Cut(s.Summary, ". ")
			return s.Title + ": " + strings.TrimSuffix(first, ".") + "."
		},
		func(s shop.Set) string { return s.Title },
	} {
		if post.Text = write(line); len([]rune(post.Text)) <= room {
			break
		}
	}
	if len(lib) > chat.MaxOptions {
		post.Text += fmt.Sprintf("\nThe menu holds the first %d; name another one with the command commission.", chat.MaxOptions)
	}
	post.Text = message(post.Text)
	if p.d.cfg.LibraryPicture != nil {
		if f := p.d.cfg.LibraryPicture(); len(f.Data) > 0 {
			post.Files = []chat.File{f}
		}
	}
	return post
}

// brief is what is ordered, a line each.
func (w words) brief(c ledger.Commission, items []quote.Item, pictures int) string {
	var out []string
	for _, it := range items {
		out = append(out, "• "+w.d.shop.Describe(it))
	}
	if len(items) == 0 {
		out = append(out, "• no set chosen yet")
	}
	if c.Finish != "" {
		out = append(out, "Finish: "+w.finish(c.Finish))
	} else {
		out = append(out, "Finish: not chosen yet")
	}
	switch {
	case c.Wanted != "":
		out = append(out, "Wanted by: "+dateWords(c.Wanted))
	case c.WantedTyped != "":
		out = append(out, fmt.Sprintf("Wanted by: “%s” was not understood; press Details", c.WantedTyped))
	}
	if c.Clothing > 0 {
		out = append(out, "Worn beneath: "+measure.Format(c.Clothing)+" thick")
	}
	if c.Allowance > 0 {
		out = append(out, "Room for a mock-up fitting: "+measure.Format(c.Allowance)+" on every girth")
	}
	if c.Notes != "" {
		out = append(out, "Notes: "+clip(c.Notes, 400))
	}
	if pictures > 0 {
		out = append(out, fmt.Sprintf("Reference pictures: %d", pictures))
	}
	return strings.Join(out, "\n")
}

func itemKey(c ledger.Commission, it quote.Item) string {
	return fmt.Sprintf("%s/item/%s", c.ID, it.Set)
}

// newItem shows a set that was just chosen, with its picture; later edits keep that.
func (p *posting) newItem(c ledger.Commission, it quote.Item) error {
	post := p.item(c, it)
	if f, ok := p.d.setCard(it.Set); ok {
		post.Files = []chat.File{f}
	}
	return p.put(c.ID, post)
}

// items shows the menus of all sets ordered, or takes them away.
func (p *posting) items(c ledger.Commission) error {
	items, err := p.t.Items(c.ID)
	if err != nil {
		return err
	}
	for _, it := range items {
		if err := p.put(c.ID, p.item(c, it)); err != nil {
			return err
		}
	}
	return nil
}

// item is a set ordered, with its menus.
func (w words) item(c ledger.Commission, it quote.Item) chat.Post {
	p := chat.Post{Key: itemKey(c, it), Text: "*" + w.d.shop.Describe(it) + "*"}
	s, ok := w.d.shop.Set(it.Set)
	if !ok || !shop.Drafting(c.State) {
		return p
	}
	p.Text += "\n" + s.Summary
	count := chat.Menu{Action: fmt.Sprintf("count/%s/%s", c.ID, it.Set), Label: "How many", Min: 1, Max: 1}
	for n := 1; n <= shop.MaxCount; n++ {
		count.Options = append(count.Options, chat.Option{Value: strconv.Itoa(n), Label: strconv.Itoa(n)})
	}
	p.Menus = append(p.Menus, count)
	if s.Sided {
		p.Menus = append(p.Menus, chat.Menu{Action: fmt.Sprintf("sides/%s/%s", c.ID, it.Set), Label: "Which side", Min: 1, Max: 1,
			Options: []chat.Option{
				{Value: string(quote.Pair), Label: "A pair", Note: "one left and one right, counted as one"},
				{Value: string(quote.OneLeft), Label: "Left only"},
				{Value: string(quote.OneRight), Label: "Right only"},
			}})
	}
	return p
}
