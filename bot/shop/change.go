package shop

import (
	"slices"

	"benchbell/quote"
)

// order takes other sets, counts and sides.
func (x *changing) order(items []quote.Item) error {
	var next []quote.Item
	for _, set := range x.j.s.Known() { // in the library's order, each once
		i := slices.IndexFunc(items, func(it quote.Item) bool { return it.Set == set.Name })
		if i < 0 {
			continue
		}
		it, w := items[i], slices.IndexFunc(x.items, func(it quote.Item) bool { return it.Set == set.Name })
		switch {
		case set.Withdrawn && w < 0:
			return x.j.s.unknownSet(set.Name)
		case it.Count < 1 || it.Count > MaxCount:
			return &Refusal{Kind: BadCount, Commission: x.was, Most: MaxCount}
		case set.Sided && it.Sides == quote.Plain:
			it.Sides = quote.Pair
		case !set.Sided && it.Sides != quote.Plain:
			return &Refusal{Kind: NoSides, Commission: x.was, Name: set.Title}
		case set.Sided && it.Sides != quote.Pair && it.Sides != quote.OneLeft && it.Sides != quote.OneRight:
			return &Refusal{Kind: BadSides, Commission: x.was}
		}
		switch {
		case w < 0:
			x.differs = append(x.differs, "with "+x.j.s.Describe(it))
		case x.items[w] != it:
			x.differs = append(x.differs, x.j.s.Describe(it))
		}
		next = append(next, it)
	}
	for _, it := range items {
		if _, ok := x.j.s.Set(it.Set); !ok {
			return x.j.s.unknownSet(it.Set)
		}
	}
	if len(next) == 0 {
		return &Refusal{Kind: NoSets, Commission: x.was}
	}
	for _, was := range x.items {
		if !slices.ContainsFunc(next, func(it quote.Item) bool { return it.Set == was.Set }) {
			x.dropped = append(x.dropped, was)
			x.differs = append(x.differs, "without "+x.j.s.Describe(was))
		}
	}
	x.items = next
	fs := x.j.s.Finishes(next)
	if len(fs) == 0 {
		return &Refusal{Kind: NoCommonFinish, Commission: x.was}
	}
	if OneLine(x.typed[ChangeFinish]) == "" && !slices.ContainsFunc(fs, func(f quote.Finish) bool { return f.Key == x.was.Finish }) {
		return &Refusal{Kind: NoFinish, Commission: x.was}
	}
	return nil
}
