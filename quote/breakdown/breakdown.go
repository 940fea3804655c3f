// Package breakdown turns graded pieces into work: the operations in order, how long each takes, what it uses, and how long
// glue and paint must be left before the next step.
//
// Measure reads the amount of work off the pieces; Make turns it into operations with the studio's rates and cure times. It
// refuses work for which the studio has no rate, and an adhesive or coating that is not in the cure table or does not dry
// in the studio's room. What always holds: every operation after the first waits for the one before it in its assembly,
// nothing is done to a piece before its foam is cut, no cure is planned shorter than its material needs, and where anything is
// worn, there is one first fitting, before which nothing is sealed or primed, and one final fitting, before packing.
package breakdown

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/quote"
	"benchbell/quote/cure"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// Whole operations are not left half done: a coat, a glue-up. Longer ones may be interrupted after all, since no shift
// could hold them.
const longestWhole = plan.Minutes(180)

// leastOperation is the shortest time an operation is planned with: one step of the grid.
const leastOperation = plan.Grid

// Ordered is an ordered item after grading.
type Ordered struct {
	Number   int // 1-based, as in piece labels
	Title    string
	Steps    []string // labour ops the set lists; none: every op with a quantity
	Finishes []string // the set allows; none: any
	Graded   []foam.Graded
	Labels   []string // of the pieces of Graded, in their order
}

// Measure reads off the pieces of an item how much work there is.
func Measure(x Ordered) quote.Assembly {
	a := quote.Assembly{Number: x.Number, Title: x.Title, Steps: x.Steps, Finishes: x.Finishes, Pieces: x.Labels, Units: len(x.Graded)}
	for _, t := range foam.Thicknesses(x.Graded) {
		a.Cut = append(a.Cut, quote.CutLength{Thickness: t})
	}
	n := 0
	for _, g := range x.Graded {
		for _, p := range g.Pieces {
			i := slices.IndexFunc(a.Cut, func(c quote.CutLength) bool { return c.Thickness == p.Thickness })
			a.Cut[i].Metres += p.Shape.CutLength().M()
			a.Cut[i].Pieces = append(a.Cut[i].Pieces, x.Labels[n])
			n++
			a.Bevel += p.Bevel.M()
			for _, s := range p.Scores {
				a.Score += s.Length().M()
			}
			if p.Formed {
				a.Formed += p.Shape.Area().M2()
			}
			a.Lap += p.Lap
			a.Holes += len(p.Drills)
			if p.Sealed {
				a.Sealed += 2 * p.Shape.Area().M2()
				a.Coated += p.Shape.Area() + geom.MM2(float64(p.Shape.Outer.Perimeter())*float64(p.Thickness))
			}
		}
		for _, s := range g.Seams {
			n := float64(max(1, s.Count))
			a.Seam += s.LengthA.M() * n
			a.SeamArea += geom.MM2(float64(s.LengthA) * float64(s.Thickness) * n)
		}
		for _, h := range g.Hardware {
			a.Fittings += max(1, h.Count)
			i := slices.IndexFunc(a.Hardware, func(m quote.Material) bool { return m.Key == h.Kind })
			if i < 0 {
				i = len(a.Hardware)
				a.Hardware = append(a.Hardware, quote.Material{Key: h.Kind})
			}
			a.Hardware[i].Count += h.Count
			a.Hardware[i].Length += h.Length
		}
	}
	return a
}

// Charges are what the work costs besides foam and hardware: bench minutes in the order of the rates, and liquids.
type Charges struct {
	Labour  []price.LabourUse
	Liquids []price.LiquidUse
}

// Make turns measured assemblies into operations for a finish, using the studio's rates, room and cure table.
func Make(st quote.Studio, finish quote.Finish, as []quote.Assembly) (quote.Breakdown, Charges, error) {
	b := &builder{studio: st, rates: withFittings(st.Rates), titles: map[string]int{}, liquid: map[string]int{}}
	if err := b.all(finish, as); err != nil {
		return quote.Breakdown{}, Charges{}, err
	}
	// Bench time is listed in the order of the rates, which is the order of work.
	var lines []price.LabourUse
	for _, r := range b.rates {
		if i, ok := b.titles[r.Op]; ok {
			lines = append(lines, b.charges.Labour[i])
		}
	}
	b.charges.Labour = lines
	return quote.Breakdown{Version: quote.BreakdownVersion, Assemblies: as, Operations: b.operations}, b.charges, nil
}

type builder struct {
	studio     quote.Studio
	rates      labour.Rates
	operations []quote.Operation
	charges    Charges
	titles     map[string]int // labour op → index in charges.Labour
	liquid     map[string]int // key and coats → index in charges.Liquids
}

// time estimates an operation and books it as labour.
func (b *builder) time(op string, quantity, thickness float64) (labour.Time, labour.Rate, error) {
	t, err := b.rates.Estimate(labour.Work{Op: op, Quantity: quantity, Thickness: thickness})
	if err != nil {
		return t, labour.Rate{}, err
	}
	rate := labour.Rate{Title: op}
	for _, r := range b.rates {
		if r.Op == op {
			rate = r
		}
	}
	i, ok := b.titles[op]
	if !ok {
		i = len(b.charges.Labour)
		b.titles[op] = i
		b.charges.Labour = append(b.charges.Labour, price.LabourUse{Title: strings.TrimSuffix(rate.Title, perCoat)}) // all coats together
	}
	b.charges.Labour[i].Minutes += t.Expected()
	return t, rate, nil
}

// perCoat ends the title of a rate charged per coat; it says how the work is charged, not what is done.
const perCoat = ", per coat"

// use books a quantity of a liquid.
func (b *builder) use(key string, area geom.MM2, coats int) {
	if area <= 0 || coats <= 0 {
		return
	}
	k := fmt.Sprintf("%s/%d", key, coats)
	i, ok := b.liquid[k]
	if !ok {
		i = len(b.charges.Liquids)
		b.liquid[k] = i
		b.charges.Liquids = append(b.charges.Liquids, price.LiquidUse{Key: key, Coats: coats})
	}
	b.charges.Liquids[i].Area += area
}

// onGrid rounds minutes up to the plan's grid.
func onGrid(minutes float64) plan.Minutes {
	g := plan.Minutes(math.Ceil(minutes/float64(plan.Grid)-1e-9)) * plan.Grid // a rounding error above a step is that step
	return max(g, leastOperation)
}

// step is an operation to be added.
type step struct {
	id, title, group, kind string
	rate                   string // the labour op that its time is estimated by; empty: kind
	assembly               int
	quantity, thickness    float64
	pieces                 []string
	needs                  []string // kinds of resource besides a maker
}

// add estimates a step and appends its operation; an empty title means the rate's own.
func (b *builder) add(s step) (*quote.Operation, error) {
	t, rate, err := b.time(cmp.Or(s.rate, s.kind), s.quantity, s.thickness)
	if err != nil {
		return nil, err
	}
	if s.title == "" {
		s.title = rate.Title
	}
	op := quote.Operation{
		Operation: plan.Operation{ID: s.id, Title: s.title, Group: s.group, Kind: s.kind},
		Assembly:  s.assembly, Quantity: s.quantity, Unit: rate.Unit, Pieces: s.pieces,
	}
	takes(&op, t)
	for _, n := range append([]string{"maker"}, s.needs...) {
		need := plan.Need{Kind: n}
		if n == "maker" && b.studio.Specialists() {
			need.Skill = s.kind
		}
		op.Needs = append(op.Needs, need)
	}
	b.operations = append(b.operations, op)
	return &b.operations[len(b.operations)-1], nil
}

// takes gives an operation its time.
func takes(op *quote.Operation, t labour.Time) {
	op.Time = t
	op.Duration = onGrid(t.Likely)
	op.Low, op.High = min(onGrid(t.Low), op.Duration), max(onGrid(t.High), op.Duration)
}

// all adds every operation: cutting, the assemblies with the fittings between their steps, packing.
func (b *builder) all(finish quote.Finish, as []quote.Assembly) error {
	// Everything of one thickness is cut together (common practice, no source).
	for _, t := range thicknesses(as) {
		var m float64
		var pieces []string
		for _, a := range as {
			for _, c := range a.Cut {
				if c.Thickness == t {
					m += c.Metres
					pieces = append(pieces, c.Pieces...)
				}
			}
		}
		o, err := b.add(step{id: quote.CutOperation(t), title: fmt.Sprintf("Cut %s foam", t), group: "Cutting", kind: "cut",
			quantity: m, thickness: float64(t), pieces: pieces, needs: []string{"bench"}})
		if err != nil {
			return err
		}
		o.Materials = []quote.Material{{Thickness: t}}
	}
	var pieces []string
	units := 0
	waits := make([][]plan.Lag, len(as)) // of each assembly's next operation
	for i, a := range as {
		var err error
		if waits[i], err = b.raw(a); err != nil {
			return err
		}
		pieces = append(pieces, a.Pieces...)
		units += a.Units
	}
	worn := worn(as)
	if worn.units > 0 {
		var before []plan.Lag
		for _, i := range worn.at {
			before = append(before, waits[i]...)
		}
		first, err := b.fitting(quote.FirstFitting, worn, before, b.cuttings(worn, as))
		if err != nil {
			return err
		}
		for i := range as { // what is not worn waits too: it is primed with the rest
			if waits[i] = append(waits[i], plan.Lag{After: first}); slices.Contains(worn.at, i) {
				waits[i] = []plan.Lag{{After: first}}
			}
		}
	}
	var ends, wornEnds []plan.Lag
	for i, a := range as {
		last, err := b.finished(a, finish, waits[i])
		if err != nil {
			return err
		}
		ends = append(ends, last...)
		if slices.Contains(worn.at, i) {
			wornEnds = append(wornEnds, last...)
		}
	}
	if worn.units > 0 {
		final, err := b.fitting(quote.FinalFitting, worn, wornEnds, []string{quote.FirstFitting})
		if err != nil {
			return err
		}
		ends = slices.DeleteFunc(ends, func(l plan.Lag) bool {
			return slices.ContainsFunc(wornEnds, func(w plan.Lag) bool { return w.After == l.After })
		})
		ends = append(ends, plan.Lag{After: final})
	}
	o, err := b.add(step{id: "pack", group: "Handover", kind: "pack", quantity: float64(units), pieces: pieces})
	if err != nil {
		return err
	}
	o.After = ends
	return nil
}

// thicknesses lists the thicknesses of all assemblies, thickest first.
func thicknesses(as []quote.Assembly) []geom.MM {
	var out []geom.MM
	for _, a := range as {
		for _, c := range a.Cut {
			if !slices.Contains(out, c.Thickness) {
				out = append(out, c.Thickness)
			}
		}
	}
	slices.SortFunc(out, func(a, b geom.MM) int { return cmp.Compare(b, a) })
	return out
}

// adder adds steps of an assembly, each after the one before; after is what the next one waits for.
type adder struct {
	b     *builder
	a     quote.Assembly
	after []plan.Lag
}

// add adds a step; nil where there is nothing to do or the set does not list it.
func (x *adder) add(op string, quantity float64, needs ...string) (*quote.Operation, error) {
	if quantity <= 0 || len(x.a.Steps) > 0 && !slices.Contains(x.a.Steps, op) {
		return nil, nil
	}
	o, err := x.b.add(step{id: fmt.Sprintf("%d-%s", x.a.Number, op), group: x.a.Title, kind: op, assembly: x.a.Number,
		quantity: quantity, pieces: x.a.Pieces, needs: needs})
	if err != nil {
		return nil, err
	}
	o.After = x.after
	x.after = []plan.Lag{{After: o.ID}}
	return o, nil
}

// raw adds an assembly's operations between cutting and sealing and returns what the next one waits for: the mock-up that is
// tried on.
func (b *builder) raw(a quote.Assembly) ([]plan.Lag, error) {
	x := adder{b: b, a: a}
	for _, c := range a.Cut {
		x.after = append(x.after, plan.Lag{After: quote.CutOperation(c.Thickness)})
	}
	adhesive, ok := cure.Lookup(b.studio.Adhesive)
	if !ok {
		return nil, fmt.Errorf("adhesive %q is not in the cure table; set foam.adhesive in studio.toml to one that is", b.studio.Adhesive)
	}
	bond, err := adhesive.Times(b.studio.Room)
	if err != nil {
		return nil, err
	}
	for _, y := range []struct {
		op       string
		quantity float64
		glued    geom.MM2 // area of the joints, if the step glues
	}{
		{"bevel", a.Bevel, 0}, {"score", a.Score, 0}, {"form", a.Formed, 0}, {"glue", a.Seam, a.SeamArea},
		{"layer", a.Lap.M2(), a.Lap}, {"punch", float64(a.Holes), 0},
	} {
		o, err := x.add(y.op, y.quantity, "bench")
		if err != nil {
			return nil, err
		}
		if o == nil || y.op != "glue" && y.op != "layer" {
			continue
		}
		o.Whole = o.High <= longestWhole
		o.Materials = []quote.Material{{Key: b.studio.Adhesive, Area: y.glued, Coats: 1}}
		// The joint is left until the solvent is out before it is bent, cut or heated again: at least as long as the faces
		// were left open, and never less than the handling time.
		rest := onGrid(math.Max(bond.Handle, bond.Place.Earliest))
		x.after = []plan.Lag{{After: o.ID, Min: rest, Cure: b.called(b.studio.Adhesive, adhesive.Title), Water: adhesive.WaterBorne}}
	}
	b.use(b.studio.Adhesive, a.SeamArea+a.Lap, 1)
	return x.after, nil
}

// finished adds an assembly's operations from sealing on and returns what whatever follows must wait for.
func (b *builder) finished(a quote.Assembly, finish quote.Finish, after []plan.Lag) ([]plan.Lag, error) {
	x := adder{b: b, a: a, after: after}
	_, err := x.add("seal", a.Sealed, "bench")
	if err != nil {
		return nil, err
	}
	if x.after, err = b.coats(a, finish, x.after); err != nil {
		return nil, err
	}
	o, err := x.add("hardware", float64(a.Fittings), "bench")
	if err != nil {
		return nil, err
	}
	if o != nil {
		o.Materials = a.Hardware
	}
	return x.after, nil
}

// coats adds the operations of a finish and returns what the next operation waits for.
func (b *builder) coats(a quote.Assembly, finish quote.Finish, after []plan.Lag) ([]plan.Lag, error) {
	for n, c := range finish.Coats {
		m, ok := cure.Lookup(c.Material)
		if !ok {
			return nil, fmt.Errorf("coating %q of finish %q is not in the cure table; use one that is", c.Material, finish.Key)
		}
		times, err := m.Times(b.studio.Room)
		if err != nil {
			return nil, err
		}
		if a.Coated <= 0 {
			break
		}
		b.use(c.Material, a.Coated, c.Coats)
		for k := 1; k <= c.Coats; k++ {
			o, err := b.add(step{id: fmt.Sprintf("%d-%s%d.%d", a.Number, c.Op, n+1, k), group: a.Title, kind: c.Op, assembly: a.Number,
				quantity: a.Coated.M2(), pieces: a.Pieces, needs: []string{"booth"}})
			if err != nil {
				return nil, err
			}
			o.Title = strings.TrimSuffix(o.Title, perCoat)
			if c.Coats > 1 {
				o.Title = fmt.Sprintf("%s, coat %d of %d", o.Title, k, c.Coats)
			}
			o.Whole = o.High <= longestWhole
			o.After = after
			o.Setup = c.Material // the gun is cleaned between two materials
			o.Materials = []quote.Material{{Key: c.Material, Area: a.Coated, Coats: 1}}
			lag := plan.Lag{Min: onGrid(times.Handle)}
			switch {
			case k < c.Coats:
				lag = lagIn(times.Recoat)
			case n+1 < len(finish.Coats):
				lag = lagIn(times.Topcoat)
			}
			lag.After, lag.Cure, lag.Water, lag.Rack = o.ID, b.called(c.Material, m.Title), m.WaterBorne, b.studio.RackKind()
			after = []plan.Lag{lag}
		}
	}
	return after, nil
}

// called is what the studio calls a material, which is what the quote's lines call it; else its title in the cure table.
func (b *builder) called(key, title string) string {
	for _, l := range b.studio.Prices.Liquids {
		if l.Key == key && l.Title != "" {
			return l.Title
		}
	}
	return title
}

// lagIn makes a lag from a material's windows, rounded inward to the plan's grid so that none is exceeded.
func lagIn(ws []cure.Window) plan.Lag {
	var l plan.Lag
	for _, w := range ws {
		to := plan.Minutes(w.Latest/float64(plan.Grid)) * plan.Grid
		l.Windows = append(l.Windows, plan.LagWindow{From: plan.Minutes(math.Ceil(w.Earliest/float64(plan.Grid)-1e-9)) * plan.Grid, To: to})
	}
	if len(l.Windows) == 1 {
		l.Min, l.Max, l.Windows = l.Windows[0].From, l.Windows[0].To, nil
	}
	return l
}
