package shop

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop/day"
	"benchbell/quote"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
)

// Limits of one commission; common practice, no source.
const (
	MaxCount    = 12 // of one set: more is a production run, to be talked about
	maxPictures = 10
	maxNotes    = 1000        // characters
	maxClothing = geom.MM(60) // thicker than any padding worn under armour
	// maxAllowance is more than is ever trimmed off a girth after a mock-up.
	maxAllowance = geom.MM(80)
	// MaxFile is the size of a file that every door can carry.
	MaxFile = 8 << 20
	maxLine = 200 // characters of one line typed
)

var (
	drafts     = []ledger.State{ledger.Choosing, ledger.Measuring, ledger.Checking}
	draftsElse = with(everyElse(TooLate), map[ledger.State]Kind{ledger.Quoted: QuotedAlready, ledger.Expired: QuotedAlready})
)

// Drafting says whether what is ordered can still be chosen.
func Drafting(s ledger.State) bool { return slices.Contains(drafts, s) }

// with is m with other entries added.
func with(m, more map[ledger.State]Kind) map[ledger.State]Kind {
	out := map[ledger.State]Kind{}
	for _, x := range []map[ledger.State]Kind{m, more} {
		for k, v := range x {
			out[k] = v
		}
	}
	return out
}

// clip shortens text to n characters, with a mark that it was.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}

// OneLine takes line breaks and outer blanks off what a person typed.
func OneLine(s string) string { return clip(strings.Join(strings.Fields(s), " "), maxLine) }

// A Problem is something typed that could not be taken as it is.
type Problem struct {
	Kind  Kind   `json:"kind,omitempty"`
	What  string `json:"what"` // the field, or the measurement's label
	Typed string `json:"typed,omitempty"`
	Cause string `json:"cause,omitempty"` // the reader's sentence
	Names []string
	Count int
}

// Ask opens a commission, with a set to begin with or none.
type Ask struct{ Set string }

// Asked is a commission that was opened.
type Asked struct {
	Commission ledger.Commission
	Items      []quote.Item
}

func ask(j *job, a Ask) (Asked, error) {
	name := OneLine(j.door.Name)
	if name == "" {
		name = string(j.door.ID)
	}
	return j.open(ledger.Commission{Client: j.door.ID, ClientName: name, Scheme: doorOf(j.door.ID)}, a.Set)
}

// open begins a commission, with a set or none.
func (j *job) open(c ledger.Commission, set string) (Asked, error) {
	var items []quote.Item
	if name := strings.ToLower(strings.TrimSpace(set)); name != "" {
		x, ok := j.s.named(name)
		if !ok {
			return Asked{}, j.s.unknownSet(name)
		}
		items = append(items, firstItem(x))
	}
	c.State, c.OpenedAt = ledger.Choosing, j.now
	c, err := j.t.NewCommission(c)
	if err != nil {
		return Asked{}, err
	}
	if err := j.record(c, "asked", ""); err != nil {
		return Asked{}, err
	}
	return Asked{c, items}, j.t.SetItems(c.ID, items)
}

func firstItem(x Set) quote.Item {
	it := quote.Item{Set: x.Name, Count: 1}
	if x.Sided {
		it.Sides = quote.Pair
	}
	return it
}

// ChooseSets says which sets are ordered, in place of those chosen before. Offered are the sets that could be chosen from; what
// is ordered and was not offered stays. Nil means that all were.
type ChooseSets struct {
	Of
	Sets, Offered []string
}

// SetsChosen is the order after a choice of sets.
type SetsChosen struct {
	Commission ledger.Commission
	From       ledger.State
	Was, Items []quote.Item
	Dropped    string // the finish that does not suit them any more
}

func chooseSets(j *job, c ledger.Commission, a ChooseSets) (SetsChosen, error) {
	o := SetsChosen{From: c.State}
	var err error
	if o.Was, err = j.t.Items(c.ID); err != nil {
		return o, err
	}
	was := func(name string) int {
		return slices.IndexFunc(o.Was, func(w quote.Item) bool { return w.Set == name })
	}
	wanted := slices.Clone(a.Sets)
	for _, it := range o.Was {
		if a.Offered != nil && !slices.Contains(a.Offered, it.Set) {
			wanted = append(wanted, it.Set)
		}
	}
	for _, name := range wanted {
		if x, ok := j.s.Set(name); !ok || x.Withdrawn && was(name) < 0 {
			return o, j.s.unknownSet(name)
		}
	}
	for _, x := range j.s.Known() { // in the library's order, each once
		if !slices.Contains(wanted, x.Name) {
			continue
		}
		it := firstItem(x)
		if i := was(x.Name); i >= 0 {
			it = o.Was[i]
		}
		o.Items = append(o.Items, it)
	}
	if len(o.Items) == 0 {
		return o, &Refusal{Kind: NoSets, Commission: c}
	}
	if len(j.s.Finishes(o.Items)) == 0 {
		return o, &Refusal{Kind: NoCommonFinish, Commission: c}
	}
	if err := j.t.SetItems(c.ID, o.Items); err != nil {
		return o, err
	}
	if c.Finish != "" && !slices.ContainsFunc(j.s.Finishes(o.Items), func(f quote.Finish) bool { return f.Key == c.Finish }) {
		o.Dropped, c.Finish = c.Finish, ""
	}
	c.State = ledger.Choosing // other sets want other measurements; those given stay
	err = j.save(&c, "sets chosen", strings.Join(wanted, ", "))
	o.Commission = c
	return o, err
}

// ChooseFinish says which finish is ordered, by key or title.
type ChooseFinish struct {
	Of
	Finish string
}

// FinishChosen is the order after a choice of finish.
type FinishChosen struct {
	Commission ledger.Commission
	Finish     quote.Finish
}

func chooseFinish(j *job, c ledger.Commission, a ChooseFinish) (FinishChosen, error) {
	items, err := j.t.Items(c.ID)
	if err != nil {
		return FinishChosen{}, err
	}
	f, no := j.s.finishNamed(a.Finish, items)
	if no != nil {
		return FinishChosen{}, no
	}
	c.Finish = f.Key
	err = j.save(&c, "finish chosen", f.Key)
	return FinishChosen{c, quote.Finish{Key: f.Key, Title: f.Title, Note: f.Note}}, err
}

// finishNamed finds a finish by key or title among those the sets can have.
func (s *Shop) finishNamed(name string, items []quote.Item) (quote.Finish, *Refusal) {
	var titles []string
	for _, f := range s.Finishes(items) {
		if strings.EqualFold(f.Key, name) || strings.EqualFold(f.Title, name) {
			return f, nil
		}
		titles = append(titles, f.Title)
	}
	return quote.Finish{}, &Refusal{Kind: UnknownFinish, Name: name, Names: titles}
}

// ChooseCount says how many of a set are ordered.
type ChooseCount struct {
	Of
	Set   string
	Count int
}

// ChooseSides says for which side of the body a set is ordered.
type ChooseSides struct {
	Of
	Set   string
	Sides quote.Sides
}

// ItemChosen is the order after a choice about one of its sets.
type ItemChosen struct {
	Commission ledger.Commission
	From       ledger.State
	Item       quote.Item
}

func chooseCount(j *job, c ledger.Commission, a ChooseCount) (ItemChosen, error) {
	return chooseItem(j, c, a.Set, "count chosen", strconv.Itoa(a.Count), func(it *quote.Item) error {
		if a.Count < 1 || a.Count > MaxCount {
			return &Refusal{Kind: BadCount, Commission: c, Most: MaxCount}
		}
		it.Count = a.Count
		return nil
	})
}

func chooseSides(j *job, c ledger.Commission, a ChooseSides) (ItemChosen, error) {
	from := c.State
	if c.Apart { // other sides want other measurements
		c.State = ledger.Choosing
	}
	o, err := chooseItem(j, c, a.Set, "sides chosen", string(a.Sides), func(it *quote.Item) error {
		x, _ := j.s.Set(a.Set)
		if !x.Sided {
			return &Refusal{Kind: NoSides, Commission: c, Name: x.Title}
		}
		switch a.Sides {
		case quote.Pair, quote.OneLeft, quote.OneRight:
			it.Sides = a.Sides
			return nil
		}
		return &Refusal{Kind: BadSides, Commission: c}
	})
	o.From = from
	return o, err
}

func chooseItem(j *job, c ledger.Commission, set, what, detail string, change func(*quote.Item) error) (ItemChosen, error) {
	o := ItemChosen{From: c.State}
	items, err := j.t.Items(c.ID)
	if err != nil {
		return o, err
	}
	i := slices.IndexFunc(items, func(it quote.Item) bool { return it.Set == set })
	if i < 0 {
		return o, &Refusal{Kind: NotOnList, Commission: c, Name: set}
	}
	if err := change(&items[i]); err != nil {
		return o, err
	}
	if err := j.t.SetItems(c.ID, items); err != nil {
		return o, err
	}
	err = j.save(&c, what, set+" "+detail)
	o.Commission, o.Item = c, items[i]
	return o, err
}

// Items asks what is ordered, to say more of it.
type Items struct{ Of }

// ItemList is what is ordered.
type ItemList struct {
	Commission ledger.Commission
	Items      []quote.Item
}

func listItems(j *job, c ledger.Commission, _ Items) (ItemList, error) {
	items, err := j.t.Items(c.ID)
	return ItemList{c, items}, err
}

// GiveDetails gives the rest of what is wished, as typed; a bare number is millimetres.
type GiveDetails struct {
	Of
	Wanted, Clothing, Allowance, Notes string
	Fittings                           string // FittingsInPerson or FittingsByPictures; empty: as the studio does
}

// DetailsGiven is the order after its details were given; what was not understood is kept as typed.
type DetailsGiven struct {
	Commission ledger.Commission
	Problems   []Problem // of wanted, clothing, allowance and fittings
}

func giveDetails(j *job, c ledger.Commission, a GiveDetails) (DetailsGiven, error) {
	var o DetailsGiven
	problem := func(what string, err error) {
		if err != nil {
			o.Problems = append(o.Problems, Problem{What: what, Cause: err.Error()})
		}
	}
	var err error
	c.WantedTyped = OneLine(a.Wanted)
	c.Wanted, err = j.wantedBy(c.WantedTyped)
	problem("wanted", err)
	c.ClothingTyped = OneLine(a.Clothing)
	c.Clothing, err = thickness(c.ClothingTyped, maxClothing)
	problem("clothing", err)
	c.AllowTyped = OneLine(a.Allowance)
	c.Allowance, err = thickness(c.AllowTyped, maxAllowance)
	problem("allowance", err)
	c.Fittings, err = fittingsTyped(a.Fittings)
	problem("fittings", err)
	c.Notes = clip(strings.TrimSpace(a.Notes), maxNotes)
	err = j.save(&c, "details given", "")
	o.Commission = c
	return o, err
}

func (j *job) wantedBy(typed string) (string, error) {
	if typed == "" {
		return "", nil
	}
	return day.Parse(typed, j.local(j.now))
}

// thickness reads a length in which a bare number is millimetres; nothing, or a word for it, is none.
func thickness(typed string, most geom.MM) (geom.MM, error) {
	switch strings.ToLower(typed) {
	case "", "0", "no", "none", "nothing", "-":
		return 0, nil
	}
	l, err := measure.Parse(typed, measure.MM)
	var no *measure.NotUnderstood
	switch {
	case errors.As(err, &no):
		return 0, fmt.Errorf("“%s” is not a thickness; write it like 3 mm or 1/8 in, or none", clip(typed, 24))
	case err != nil:
		return 0, err
	}
	if l < 0 || l > most {
		return 0, fmt.Errorf("%s is too much; it can be up to %s", measure.Format(l), measure.Format(most))
	}
	return l, nil
}

// AddPictures keeps reference pictures with a commission.
type AddPictures struct {
	Of
	Files []chat.File
	Words string // that were said with them; empty: none
}

// PicturesAdded is how many pictures a commission has.
type PicturesAdded struct {
	Commission ledger.Commission
	Count      int
}

// pictureTypes are what every door shows.
var pictureTypes = []string{"image/png", "image/jpeg", "image/gif", "image/webp"}

func addPictures(j *job, c ledger.Commission, a AddPictures) (PicturesAdded, error) {
	o := PicturesAdded{Commission: c}
	if len(a.Files) == 0 {
		return o, &Refusal{Kind: NoPictures, Commission: c}
	}
	var err error
	if o.Count, err = j.t.PictureCount(c.ID); err != nil {
		return o, err
	}
	for _, f := range a.Files {
		kind, _, _ := strings.Cut(strings.ToLower(f.MIME), ";")
		switch {
		case !slices.Contains(pictureTypes, strings.TrimSpace(kind)):
			return o, &Refusal{Kind: NoPicture, Commission: c, Name: f.Name}
		case len(f.Data) == 0 || len(f.Data) > MaxFile:
			return o, &Refusal{Kind: BadPictureSize, Commission: c, Name: f.Name}
		case o.Count >= maxPictures:
			return o, &Refusal{Kind: EnoughPictures, Commission: c, Count: o.Count}
		}
		if o.Count, _, err = j.t.AddPicture(c.ID, f, j.by.ID, j.now); err != nil {
			return o, err
		}
	}
	if _, _, err := j.heard(c, ledger.Sent, clip(strings.TrimSpace(a.Words), maxSaid), len(a.Files)); err != nil {
		return o, err
	}
	return o, j.record(c, "reference pictures", strconv.Itoa(o.Count))
}

// Details looks at a commission's details, to be given anew.
type Details struct{ Of }

func details(_ *job, c ledger.Commission, _ Details) (ledger.Commission, error) { return c, nil }
