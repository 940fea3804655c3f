package desk

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
)

// Limits of one commission; common practice, no source.
const (
	maxCount    = 12 // of one set: more is a production run, to be talked about
	maxPictures = 10
	maxNotes    = 1000        // characters
	maxClothing = geom.MM(60) // thicker than any padding worn under armour
	// maxAllowance is more than is ever trimmed off a girth after a mock-up.
	maxAllowance = geom.MM(80)
)

// drafting says whether what is ordered can still be chosen.
func drafting(s ledger.State) bool {
	return s == ledger.Choosing || s == ledger.Measuring || s == ledger.Checking
}

func (w *work) mustDraft(c ledger.Commission) error {
	if drafting(c.State) {
		return nil
	}
	if c.State == ledger.Quoted || c.State == ledger.Expired {
		return refuse("%s is quoted already; press Ask for a change under revision %d", c.ID, c.Revision)
	}
	return refuse("%s is %s, so this cannot be changed any more", c.ID, stateWords[c.State])
}

func (w *work) unknownSet(name string) error {
	var names []string
	for _, s := range w.d.library() {
		names = append(names, s.Name)
	}
	return refuse("there is no pattern set %q; the library has %s", name, strings.Join(names, ", "))
}

func firstItem(s Set) quote.Item {
	it := quote.Item{Set: s.Name, Count: 1}
	if s.Sided {
		it.Sides = quote.Pair
	}
	return it
}

func (w *work) begin() (chat.Reply, error) {
	var items []quote.Item
	if name := strings.ToLower(strings.TrimSpace(w.in.Values["set"])); name != "" {
		s, ok := w.d.set(name)
		if !ok {
			return chat.Reply{}, w.unknownSet(name)
		}
		items = append(items, firstItem(s))
	}
	scheme, _, _ := strings.Cut(string(w.in.Person.ID), ":")
	name := oneLine(w.in.Person.Name)
	if name == "" {
		name = string(w.in.Person.ID)
	}
	c, err := w.t.NewCommission(ledger.Commission{
		Client: w.in.Person.ID, ClientName: name, Scheme: scheme, State: ledger.Choosing, OpenedAt: w.now})
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.record(c, "asked", ""); err != nil {
		return chat.Reply{}, err
	}
	if err := w.t.PutThread(c.ID, w.now); err != nil {
		return chat.Reply{}, err
	}
	if err := w.t.SetItems(c.ID, items); err != nil {
		return chat.Reply{}, err
	}
	if err := w.putCard(c, true); err != nil {
		return chat.Reply{}, err
	}
	for _, it := range items {
		if err := w.showItem(c, it); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.note(fmt.Sprintf("%s/note/asked", c.ID), fmt.Sprintf("%s · %s has asked for a commission.", c.ID, c.ClientName), nil, nil); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: fmt.Sprintf("Commission %s is open.", c.ID), Thread: chat.ThreadID(openMark + string(c.ID))}, nil
}

// finishesFor are the studio's finishes that every set ordered can have.
func (w *work) finishesFor(items []quote.Item) []quote.Finish {
	var out []quote.Finish
	for _, f := range w.d.cfg.Studio().Finishes {
		if !slices.ContainsFunc(items, func(it quote.Item) bool {
			s, ok := w.d.set(it.Set)
			return ok && len(s.Finishes) > 0 && !slices.Contains(s.Finishes, f.Key)
		}) {
			out = append(out, f)
		}
	}
	return out
}

func (w *work) finishTitle(key string) string {
	for _, f := range w.d.cfg.Studio().Finishes {
		if f.Key == key {
			return f.Title
		}
	}
	return key
}

// putCard shows the commission's card: what is chosen so far and the menus to choose with. Its pictures go out once.
func (w *work) putCard(c ledger.Commission, first bool) error {
	items, err := w.t.Items(c.ID)
	if err != nil {
		return err
	}
	pics, err := w.t.Pictures(c.ID)
	if err != nil {
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "*%s · %s*\n", c.ID, c.ClientName)
	if drafting(c.State) {
		b.WriteString("Pick one or more pattern sets and a finish, add details, then give your measurements. Reference pictures can be sent in this thread at any time.\n")
	}
	b.WriteString("\n" + w.brief(c, items, len(pics)))
	p := chat.Post{Key: string(c.ID) + "/card"}
	if first {
		if err := w.t.PutPost(c.ID, w.libraryPost(c), w.now); err != nil {
			return err
		}
	}
	p.Text = clip(b.String(), chat.MaxText)
	if drafting(c.State) {
		sets := chat.Menu{Action: "sets/" + string(c.ID), Label: "Pattern sets", Min: 1}
		lib := w.d.library()
		for _, s := range lib[:min(len(lib), chat.MaxOptions)] {
			sets.Options = append(sets.Options, chat.Option{Value: s.Name, Label: clip(s.Title, chat.MaxLabel), Note: clip(s.Summary, 100)})
		}
		sets.Max = len(sets.Options)
		p.Menus = append(p.Menus, sets)
		finish := chat.Menu{Action: "finish/" + string(c.ID), Label: "Finish", Min: 1, Max: 1}
		for _, f := range w.finishesFor(items) {
			if len(finish.Options) < chat.MaxOptions {
				finish.Options = append(finish.Options, chat.Option{Value: f.Key, Label: clip(f.Title, chat.MaxLabel), Note: clip(f.Note, 100)})
			}
		}
		if len(finish.Options) > 0 {
			p.Menus = append(p.Menus, finish)
		}
		p.Buttons = []chat.Button{
			{Action: "details/" + string(c.ID), Label: "Details"},
			{Action: "measure/" + string(c.ID), Label: "Go on", Tone: chat.Good},
			{Action: "cancel/" + string(c.ID), Label: "Cancel", Tone: chat.Grave},
		}
	}
	return w.t.PutPost(c.ID, p, w.now)
}

// libraryPost shows what there is to choose from, with as much of the summaries as fits a message; a set that is chosen is
// shown with all of its own.
func (w *work) libraryPost(c ledger.Commission) chat.Post {
	p := chat.Post{Key: string(c.ID) + "/library"}
	lib := w.d.library()
	write := func(line func(Set) string) string {
		text := "*The library*"
		for _, s := range lib {
			text += "\n• " + line(s)
		}
		return text
	}
	const room = chat.MaxText - 150 // for the line about more sets than the menu holds
	for _, line := range []func(Set) string{
		func(s Set) string { return s.Title + ": " + s.Summary },
		func(s Set) string {
			first, _, _ := strings.Cut(s.Summary, ". ")
			return s.Title + ": " + strings.TrimSuffix(first, ".") + "."
		},
		func(s Set) string { return s.Title },
	} {
		if p.Text = write(line); len([]rune(p.Text)) <= room {
			break
		}
	}
	if len(lib) > chat.MaxOptions {
		p.Text += fmt.Sprintf("\nThe menu holds the first %d; name another one with the command commission.", chat.MaxOptions)
	}
	p.Text = clip(p.Text, chat.MaxText)
	if w.d.cfg.LibraryPicture != nil {
		if f := w.d.cfg.LibraryPicture(); len(f.Data) > 0 {
			p.Files = []chat.File{f}
		}
	}
	return p
}

// brief is what is ordered, a line each.
func (w *work) brief(c ledger.Commission, items []quote.Item, pictures int) string {
	var out []string
	for _, it := range items {
		out = append(out, "• "+w.itemWords(it))
	}
	if len(items) == 0 {
		out = append(out, "• no set chosen yet")
	}
	if c.Finish != "" {
		out = append(out, "Finish: "+w.finishTitle(c.Finish))
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

func (w *work) itemWords(it quote.Item) string {
	title := it.Set
	if s, ok := w.d.set(it.Set); ok {
		title = s.Title
	}
	switch it.Sides {
	case quote.Pair:
		if it.Count == 1 {
			return title + ": 1 pair"
		}
		return fmt.Sprintf("%s: %d pairs", title, it.Count)
	case quote.Plain:
		return fmt.Sprintf("%s: %d", title, it.Count)
	}
	return fmt.Sprintf("%s: %d %s", title, it.Count, it.Sides)
}

// showItem shows a set that was just chosen, with its picture; later edits keep that.
func (w *work) showItem(c ledger.Commission, it quote.Item) error {
	p := w.itemPost(c, it)
	if f, ok := w.d.setCard(it.Set); ok {
		p.Files = []chat.File{f}
	}
	return w.t.PutPost(c.ID, p, w.now)
}

// putItem shows the menus for one set ordered.
func (w *work) putItem(c ledger.Commission, it quote.Item) error {
	return w.t.PutPost(c.ID, w.itemPost(c, it), w.now)
}

func (w *work) itemPost(c ledger.Commission, it quote.Item) chat.Post {
	p := chat.Post{Key: fmt.Sprintf("%s/item/%s", c.ID, it.Set), Text: "*" + w.itemWords(it) + "*"}
	s, ok := w.d.set(it.Set)
	if ok && drafting(c.State) {
		p.Text += "\n" + s.Summary
		count := chat.Menu{Action: fmt.Sprintf("count/%s/%s", c.ID, it.Set), Label: "How many", Min: 1, Max: 1}
		for n := 1; n <= maxCount; n++ {
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
	}
	return p
}

func (w *work) pickSets(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustDraft(c); err != nil {
		return chat.Reply{}, err
	}
	if len(w.in.Picked) == 0 {
		return chat.Reply{}, refuse("pick at least one pattern set")
	}
	old, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	var items []quote.Item
	for _, s := range w.d.library() { // in the library's order, each once
		if !slices.Contains(w.in.Picked, s.Name) {
			continue
		}
		it := firstItem(s)
		if i := slices.IndexFunc(old, func(o quote.Item) bool { return o.Set == s.Name }); i >= 0 {
			it = old[i]
		}
		items = append(items, it)
	}
	for _, name := range w.in.Picked {
		if _, ok := w.d.set(name); !ok {
			return chat.Reply{}, w.unknownSet(name)
		}
	}
	if len(w.finishesFor(items)) == 0 {
		return chat.Reply{}, refuse("no finish suits all of these sets; ask for them in separate commissions")
	}
	if err := w.t.SetItems(c.ID, items); err != nil {
		return chat.Reply{}, err
	}
	text := "Noted."
	if c.Finish != "" && !slices.ContainsFunc(w.finishesFor(items), func(f quote.Finish) bool { return f.Key == c.Finish }) {
		text = fmt.Sprintf("Noted. The finish %s does not suit every set chosen; please pick another.", w.finishTitle(c.Finish))
		c.Finish = ""
	}
	if c.State != ledger.Choosing {
		// Other sets want other measurements: those given stay, the check is taken back.
		if err := w.takeBackCheck(c); err != nil {
			return chat.Reply{}, err
		}
		c.State = ledger.Choosing
	}
	if err := w.save(&c, "sets chosen", strings.Join(w.in.Picked, ", ")); err != nil {
		return chat.Reply{}, err
	}
	if err := w.putCard(c, false); err != nil {
		return chat.Reply{}, err
	}
	for _, it := range items {
		if !slices.Contains(old, it) {
			if err := w.showItem(c, it); err != nil {
				return chat.Reply{}, err
			}
		}
	}
	for _, it := range old {
		if !slices.ContainsFunc(items, func(o quote.Item) bool { return o.Set == it.Set }) {
			s, _ := w.d.set(it.Set)
			err := w.t.PutPost(c.ID, chat.Post{Key: fmt.Sprintf("%s/item/%s", c.ID, it.Set), Text: s.Title + ": taken off the list"}, w.now)
			if err != nil {
				return chat.Reply{}, err
			}
		}
	}
	return chat.Reply{Text: text}, nil
}

func (w *work) pickFinish(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustDraft(c); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	if len(w.in.Picked) != 1 {
		return chat.Reply{}, refuse("pick one finish")
	}
	f, err := w.finishNamed(w.in.Picked[0], items)
	if err != nil {
		return chat.Reply{}, err
	}
	c.Finish = f.Key
	if err := w.save(&c, "finish chosen", f.Key); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: "Finish: " + f.Title + "."}, w.putCard(c, false)
}

// finishNamed finds a finish by key or title among those the sets can have.
func (w *work) finishNamed(name string, items []quote.Item) (quote.Finish, error) {
	var titles []string
	for _, f := range w.finishesFor(items) {
		if strings.EqualFold(f.Key, name) || strings.EqualFold(f.Title, name) {
			return f, nil
		}
		titles = append(titles, f.Title)
	}
	return quote.Finish{}, refuse("there is no finish %q for these sets; there is %s", name, strings.Join(titles, ", "))
}

func (w *work) pickItem(c ledger.Commission, what, set string) (chat.Reply, error) {
	if err := w.mustDraft(c); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	i := slices.IndexFunc(items, func(it quote.Item) bool { return it.Set == set })
	if i < 0 {
		return chat.Reply{}, refuse("%s is not on the list; pick it from the menu of pattern sets first", set)
	}
	if len(w.in.Picked) != 1 {
		return chat.Reply{}, refuse("pick one")
	}
	v := w.in.Picked[0]
	if what == "count" {
		n, err := strconv.Atoi(v)
		if err != nil || n < 1 || n > maxCount {
			return chat.Reply{}, refuse("the number must be from 1 to %d", maxCount)
		}
		items[i].Count = n
	} else {
		s, _ := w.d.set(set)
		if !s.Sided {
			return chat.Reply{}, refuse("%s has no left and right", s.Title)
		}
		switch quote.Sides(v) {
		case quote.Pair, quote.OneLeft, quote.OneRight:
			items[i].Sides = quote.Sides(v)
		default:
			return chat.Reply{}, refuse("pick a pair, left or right")
		}
		if c.State != ledger.Choosing && c.Apart {
			if err := w.takeBackCheck(c); err != nil {
				return chat.Reply{}, err
			}
			c.State = ledger.Choosing
		}
	}
	if err := w.t.SetItems(c.ID, items); err != nil {
		return chat.Reply{}, err
	}
	if err := w.save(&c, what+" chosen", set+" "+v); err != nil {
		return chat.Reply{}, err
	}
	if err := w.putItem(c, items[i]); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: w.itemWords(items[i]) + "."}, w.putCard(c, false)
}

func (w *work) detailsForm(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustDraft(c); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Form: &chat.Form{Action: "details/" + string(c.ID), Title: "Details of " + string(c.ID), Fields: []chat.Field{
		{Key: "wanted", Label: "Wanted by (empty: no date)", Hint: "2027-03-01 or 1 March 2027", Value: c.WantedTyped, Optional: true},
		{Key: "clothing", Label: "Thickness of what is worn beneath", Hint: "3 mm, or none", Value: c.ClothingTyped, Optional: true},
		{Key: "allowance", Label: "Room for a mock-up fitting, on girths", Hint: "10 mm, or none", Value: c.AllowTyped, Optional: true},
		{Key: "notes", Label: "Notes", Hint: "colours, wear, where it will be worn", Value: c.Notes, Long: true, Optional: true},
	}}}, nil
}

func (w *work) details(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustDraft(c); err != nil {
		return chat.Reply{}, err
	}
	var problems []string
	c.WantedTyped = oneLine(w.in.Values["wanted"])
	var err error
	if c.Wanted, err = w.wantedBy(c.WantedTyped); err != nil {
		problems = append(problems, "Wanted by: "+err.Error()+".")
	}
	c.ClothingTyped = oneLine(w.in.Values["clothing"])
	if c.Clothing, err = thickness(c.ClothingTyped, maxClothing); err != nil {
		problems = append(problems, "Worn beneath: "+err.Error()+".")
	}
	c.AllowTyped = oneLine(w.in.Values["allowance"])
	if c.Allowance, err = thickness(c.AllowTyped, maxAllowance); err != nil {
		problems = append(problems, "Room for a mock-up fitting: "+err.Error()+".")
	}
	c.Notes = clip(strings.TrimSpace(w.in.Values["notes"]), maxNotes)
	if err := w.save(&c, "details given", ""); err != nil {
		return chat.Reply{}, err
	}
	if err := w.putCard(c, false); err != nil {
		return chat.Reply{}, err
	}
	if len(problems) > 0 {
		return chat.Reply{Text: "The rest is noted. " + strings.Join(problems, " "),
			Buttons: []chat.Button{{Action: "details/" + string(c.ID), Label: "Mend it", Tone: chat.Good}}}, nil
	}
	return chat.Reply{Text: "Noted."}, nil
}

func (w *work) wantedBy(typed string) (string, error) {
	if typed == "" {
		return "", nil
	}
	return parseDate(typed, w.d.local(w.now))
}

// thickness reads a length in which a bare number is millimetres; nothing, or a word for it, is none.
func thickness(typed string, most geom.MM) (geom.MM, error) {
	switch strings.ToLower(typed) {
	case "", "0", "no", "none", "nothing", "-":
		return 0, nil
	}
	l, err := measure.Parse(typed, measure.MM)
	if err != nil {
		return 0, err
	}
	if l < 0 || l > most {
		return 0, fmt.Errorf("%s is too much; it can be up to %s", measure.Format(l), measure.Format(most))
	}
	return l, nil
}

// pictureTypes are what every transport shows.
var pictureTypes = []string{"image/png", "image/jpeg", "image/gif", "image/webp"}

func (w *work) reference(c ledger.Commission) (chat.Reply, error) {
	if err := w.mine(c); err != nil {
		return chat.Reply{}, err
	}
	if c.State.Closed() {
		return chat.Reply{}, refuse("%s is %s; pictures cannot be added any more", c.ID, stateWords[c.State])
	}
	if len(w.in.Files) == 0 {
		return chat.Reply{}, refuse("attach a picture: PNG, JPEG, GIF or WebP")
	}
	have, err := w.t.Pictures(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	n := len(have)
	for _, f := range w.in.Files {
		kind, _, _ := strings.Cut(strings.ToLower(f.MIME), ";")
		if !slices.Contains(pictureTypes, strings.TrimSpace(kind)) {
			return chat.Reply{}, refuse("%q is not a picture; send PNG, JPEG, GIF or WebP", f.Name)
		}
		if len(f.Data) == 0 || len(f.Data) > chat.MaxFile {
			return chat.Reply{}, refuse("%q must be larger than nothing and at most 8 MB", f.Name)
		}
		if n >= maxPictures {
			return chat.Reply{}, refuse("%s has %d reference pictures, which is as many as it takes", c.ID, n)
		}
		if n, _, err = w.t.AddPicture(c.ID, f, w.in.Person.ID, w.now); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.record(c, "reference pictures", strconv.Itoa(n)); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: fmt.Sprintf("Kept with %s; it has %s now.", c.ID, many(n, "reference picture"))}, w.putCard(c, false)
}
