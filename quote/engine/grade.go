package engine

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"benchbell/quote"
	"benchbell/quote/body"
	"benchbell/quote/breakdown"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
	"benchbell/quote/pattern"
)

// Limits of one commission; a request above them is a mistake or an attack.
const (
	maxItems  = 20
	maxCount  = 50
	maxPieces = 2000
)

// Fits says why what is ordered cannot be made to the body, as Compute would say it; nil if it can. It is quick: nothing is
// nested, planned or printed.
func Fits(s quote.Snapshot) error {
	m := &making{snapshot: s, progress: func(quote.Step) {}}
	return m.scale(context.Background())
}

// scale grades the ordered sets and lists their pieces.
func (m *making) scale(context.Context) error {
	if err := m.parse(); err != nil {
		return err
	}
	for _, it := range m.snapshot.Items {
		if err := m.grade(it); err != nil {
			return err
		}
	}
	return nil
}

// parse reads the sets the items name.
func (m *making) parse() error {
	s := m.snapshot
	if len(s.Items) == 0 {
		return fmt.Errorf("nothing is ordered; choose at least one pattern set")
	}
	if len(s.Items) > maxItems {
		return fmt.Errorf("%d sets are ordered but a commission holds at most %d; split it in two", len(s.Items), maxItems)
	}
	m.sets = map[string]*pattern.Set{}
	for _, it := range s.Items {
		if it.Count < 1 || it.Count > maxCount {
			return fmt.Errorf("%d of %q are ordered; order from 1 to %d", it.Count, it.Set, maxCount)
		}
		if m.sets[it.Set] != nil {
			continue
		}
		src, ok := s.Patterns[it.Set]
		if !ok {
			return fmt.Errorf("there is no pattern set %q in the library; choose one from it", it.Set)
		}
		set, err := pattern.Parse([]byte(src.Drawing), []byte(src.TOML))
		if err != nil {
			return fmt.Errorf("pattern set %q: %w", it.Set, err)
		}
		m.sets[it.Set] = set
	}
	return nil
}

// units lists the sides of an item, one entry for each unit ordered.
func units(it quote.Item, set *pattern.Set) ([]foam.Side, error) {
	switch {
	case !set.Sided && it.Sides != quote.Plain:
		return nil, fmt.Errorf("%s has no left and right; order it without a side", set.Title)
	case set.Sided && it.Sides != quote.Pair && it.Sides != quote.OneLeft && it.Sides != quote.OneRight:
		return nil, fmt.Errorf("%s is made for one side; order left, right or pair", set.Title)
	}
	var all []foam.Side
	for range it.Count {
		all = append(all, body.Sides(it.Sides)...)
	}
	return all, nil
}

// grade makes an item to the body, as many times as ordered, and lists its pieces under their labels.
func (m *making) grade(it quote.Item) error {
	s, set := m.snapshot, m.sets[it.Set]
	sides, err := units(it, set)
	if err != nil {
		return err
	}
	x := breakdown.Ordered{Number: len(m.ordered) + 1, Title: it.Named(set.Title), Steps: set.Operations, Finishes: set.Finishes}
	for unit, side := range sides {
		title := strings.TrimSpace(set.Title + " " + string(side))
		if err := body.Missing(title, set.Measures, s.Body, side); err != nil {
			return err
		}
		fit := pattern.Fit{Body: map[string]geom.MM{}, Uncertain: map[string]geom.MM{}, Side: side, FoamK: s.Studio.FoamK, Clothing: s.Clothing,
			Allowance: s.Allowance, Tools: s.Studio.Bench.Tools}
		for k, t := range body.On(s.Body, side) {
			fit.Body[k] = t.Value
			if t.Estimated() {
				fit.Uncertain[k] = t.Deviation
			}
		}
		g, err := set.Grade(fit)
		if err != nil {
			return misfit{title, set.Suits(fit) == nil, err}
		}
		if len(m.quote.Pieces)+len(g.Pieces) > maxPieces {
			return fmt.Errorf("this commission has more than %d pieces; split it in two", maxPieces)
		}
		m.quote.Graded = append(m.quote.Graded, g)
		x.Graded = append(x.Graded, g)
		x.Labels = append(x.Labels, m.list(it, x.Number, unit, g)...)
	}
	m.ordered = append(m.ordered, x)
	return nil
}

// list adds the pieces of one graded set to the quote and returns their labels.
func (m *making) list(it quote.Item, number, unit int, g foam.Graded) []string {
	prefix := fmt.Sprint(number)
	if it.Count > 1 {
		n := unit + 1
		if it.Sides == quote.Pair {
			n = unit/2 + 1
		}
		prefix = fmt.Sprintf("%d.%d", number, n)
	}
	switch g.Side {
	case foam.Left:
		prefix += "L"
	case foam.Right:
		prefix += "R"
	}
	copies := map[string]int{}
	for _, p := range g.Pieces {
		copies[p.ID]++
	}
	var labels []string
	for _, p := range g.Pieces {
		label := fmt.Sprintf("%s-%s", prefix, p.ID)
		if copies[p.ID] > 1 {
			label = fmt.Sprintf("%s/%d", label, p.Copy)
		}
		box := p.Shape.Bounds()
		m.quote.Pieces = append(m.quote.Pieces, quote.CutPiece{
			Label: label, Set: g.Set, Side: g.Side, Piece: p.ID, Title: p.Title, Copy: p.Copy, Mirrored: p.Mirrored,
			Thickness: p.Thickness, Width: box.Width(), Height: box.Height(), Area: p.Shape.Area(), CutLength: p.Shape.CutLength(),
			Grams: p.Shape.Area().M2() * p.Thickness.M() * density(m.snapshot.Studio, p.Thickness) * 1000,
		})
		labels = append(labels, label)
	}
	return labels
}

// density of the foam of a thickness the studio buys, kg/m³.
func density(st quote.Studio, t geom.MM) float64 {
	for _, sh := range st.Prices.Sheets {
		if sh.Thickness == t {
			return sh.Density
		}
	}
	return 0
}

// misfit is a set that cannot be graded to a body.
type misfit struct {
	title string
	shape bool // each measurement is plausible, but the piece cannot be made to all of them together
	err   error
}

func (m misfit) Error() string { return m.title + ": " + m.err.Error() }
func (m misfit) Unwrap() error { return m.err }

// Client leaves out details of the pattern that the client can do nothing about.
func (m misfit) Client() string {
	var off *pattern.OffScaleError
	if errors.As(m.err, &off) {
		label := off.Key
		if d, ok := measure.Lookup(off.Key); ok {
			label = strings.ToLower(d.Label)
		}
		least, most := off.Range()
		return fmt.Sprintf("%s cannot be made for a %s of %s, only from %s to %s; please measure again or ask the studio",
			m.title, label, measure.Format(off.Value), measure.Format(least), measure.Format(most))
	}
	if !m.shape {
		return m.Error()
	}
	return m.title + " cannot be made to this combination of measurements; please measure again or ask the studio to look at them"
}
