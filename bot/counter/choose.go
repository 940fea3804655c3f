package counter

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchbell/bot/shop"
	"benchbell/quote"
)

// setsView are the sets to choose from.
type setsView struct {
	Sets   []setView
	Chosen int
}

type setView struct {
	Name, Title, Says string
	From              string // the price it begins at; empty: not known yet
	Size              string
	Chosen            bool
}

// itemView is a set that is ordered, with how many of it and for which side.
type itemView struct {
	Set, Title, Wrong string
	Count             string
	Counts            []string
	Sided             bool
	Sides             []option
}

type option struct {
	Value, Says string
	Chosen      bool
}

type finishView struct {
	Key, Title, Note string
	Chosen           bool
	Patch            patch
}

// detailsView is what else is wished, as typed, with what is wrong of each.
type detailsView struct {
	Wanted, Clothing, Allowance, Notes field
	Fittings                           []option
	FittingsWrong                      string
}

// field is one that is typed into.
type field struct{ Value, Wrong string }

func (p *looking) choosing() (stage, error) {
	c, at := p.o.Commission, p.at
	if len(p.o.Items) == 0 {
		at = atSets
	}
	switch {
	case slices.Contains([]string{atSets, atMany, atFinish, atDetails}, at):
	case c.Finish == "":
		at = atFinish
	default:
		at = atDetails
	}
	s := stage{Kind: at, Cancel: true}
	switch at {
	case atSets:
		s.Title, s.Lead = "What shall we make?", "Pick one or more. Prices are from: for a medium body, in the plainest finish."
		s.Sets = p.sets()
	case atMany:
		s.Title, s.Lead = "How many?", "A pair is one left and one right."
		s.Many = p.items()
	case atFinish:
		s.Title, s.Lead = "Which finish?", "Each shows its layers, from the foam up."
		s.Chosen = p.chosen(true)
		s.Finish = p.finishes(p.o.Items, p.n.value("finish", c.Finish))
	case atDetails:
		s.Title, s.Lead = "Anything else?", "Leave empty what does not matter to you."
		s.Chosen, s.Detail = p.chosen(true), p.details()
		s.Sorted = p.n.no != nil && p.n.no.Kind == shop.NeedsMending
	}
	return s, nil
}

func (p *looking) sets() *setsView {
	o := &setsView{}
	from := p.beginAt()
	chosen := func(name string) bool {
		if p.n.typed.Has("offered") { // as it was ticked when it was refused
			return slices.Contains(p.n.typed["set"], name)
		}
		return slices.ContainsFunc(p.o.Items, func(it quote.Item) bool { return it.Set == name })
	}
	for _, x := range p.Counter.o.Rules.Offered() {
		v := setView{Name: x.Name, Title: x.Title, Says: brief(x.Summary), Chosen: chosen(x.Name)}
		if b, ok := from[x.Name]; ok {
			v.From, v.Size = b.price, b.size
		}
		if v.Chosen {
			o.Chosen++
		}
		o.Sets = append(o.Sets, v)
	}
	return o
}

// leastBrief is the least that a summary is cut down to, in characters: less says nothing that the title does not.
const leastBrief = 24

// brief is the beginning of a summary, up to where its first sentence goes into details.
func brief(summary string) string {
	first, _, _ := strings.Cut(summary, ". ")
	first = strings.TrimSuffix(first, ".")
	for i, r := range first {
		if i >= leastBrief && strings.ContainsRune(",:;", r) {
			first = first[:i]
			break
		}
	}
	return first + "."
}

// items are the sets ordered, each with its number and sides, as they were typed where that was refused.
func (p *looking) items() []itemView {
	var out []itemView
	for _, it := range p.o.Items {
		out = append(out, p.item(it))
	}
	return out
}

func (p *looking) item(it quote.Item) itemView {
	v := itemView{Set: it.Set, Title: p.setTitle(it.Set), Count: p.n.value("count."+it.Set, strconv.Itoa(it.Count))}
	for n := 1; n <= shop.MaxCount; n++ {
		v.Counts = append(v.Counts, strconv.Itoa(n))
	}
	if x, ok := p.Counter.o.Rules.Set(it.Set); ok && x.Sided {
		v.Sided = true
		is := quote.Sides(p.n.value("sides."+it.Set, string(it.Sides)))
		for _, s := range []struct {
			sides quote.Sides
			says  string
		}{{quote.Pair, "a pair"}, {quote.OneLeft, "left only"}, {quote.OneRight, "right only"}} {
			v.Sides = append(v.Sides, option{string(s.sides), s.says, s.sides == is})
		}
	}
	return v
}

func (p *looking) finishes(items []quote.Item, chosen string) []finishView {
	var out []finishView
	for _, f := range p.Counter.o.Rules.Finishes(items) {
		out = append(out, finishView{Key: f.Key, Title: f.Title, Note: f.Note, Chosen: f.Key == chosen, Patch: patched(f)})
	}
	return out
}

func (p *looking) details() *detailsView {
	c := p.o.Commission
	wrong := map[string]string{}
	for _, x := range p.n.problems {
		wrong[x.What] = p.problemWords(p.frame, x)
	}
	if no := p.n.no; no != nil && no.Kind == shop.NeedsMending {
		wrong[no.Name] = no.Cause.Error()
	}
	f := func(name, is string) field { return field{p.n.value(name, is), wrong[name]} }
	d := &detailsView{Wanted: f("wanted", c.WantedTyped), Clothing: f("clothing", c.ClothingTyped), Allowance: f("allowance", c.AllowTyped),
		Notes: f("notes", c.Notes), FittingsWrong: wrong["fittings"]}
	is := p.n.value("fittings", map[quote.How]string{quote.InPerson: shop.FittingsInPerson, quote.ByPictures: shop.FittingsByPictures}[c.Fittings])
	for _, x := range []option{{Value: "", Says: "as the studio does"}, {Value: shop.FittingsInPerson, Says: "at the workshop"},
		{Value: shop.FittingsByPictures, Says: "by pictures that I send"}} {
		x.Chosen = x.Value == is
		d.Fittings = append(d.Fittings, x)
	}
	return d
}

// patch is a finish drawn as its layers, from the foam up.
type patch struct {
	Tall   int
	Layers []layer
	Says   string
}

// layer is one coat, as a band of the drawing.
type layer struct {
	Class   string // of the style: prime, paint, wash or clear; coat for what a studio calls otherwise
	Y, Text int
	Says    string
}

const (
	bandTall = 26 // of one layer drawn, in the drawing's units
	foamTall = 40
)

func patched(f quote.Finish) patch {
	var p patch
	var says []string
	for _, c := range slices.Backward(f.Coats) { // what is seen first is on top
		class := "coat"
		if slices.Contains([]string{"prime", "paint", "wash", "clear"}, c.Op) {
			class = c.Op
		}
		p.Layers = append(p.Layers, layer{Class: class, Y: p.Tall, Text: p.Tall + 19, Says: fmt.Sprintf("%d × %s", c.Coats, coatWords(c))})
		p.Tall += bandTall
	}
	for _, c := range f.Coats {
		says = append(says, fmt.Sprintf("%d × %s", c.Coats, coatWords(c)))
	}
	p.Layers = append(p.Layers, layer{Class: "foam", Y: p.Tall, Text: p.Tall + 26, Says: "foam, sealed by heat"})
	p.Tall += foamTall
	p.Says = "Layers on the foam: " + strings.Join(says, ", then ")
	return p
}

// coatWords name a coat in plain words.
func coatWords(c quote.Coat) string {
	switch c.Op {
	case "prime":
		return "primer"
	case "paint":
		return "colour"
	case "wash":
		return "dark wash"
	case "clear":
		return "clear coat"
	}
	return c.Material
}
