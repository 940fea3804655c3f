package cutting

import (
	"cmp"
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"

	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/price"
)

const (
	// maxTogether is how many commissions can be cut on one day; with more, their pieces get mixed up on the bench (common
	// practice, no source).
	maxTogether = 8
	// maxRack is how many offcuts of one thickness are tried, the largest first: with more, the budget goes into choosing
	// among them.
	maxRack = 40
	// rackShare prices an offcut at this share of new foam of its area. The price counts when choosing, not in the cost:
	// foam on the rack is used before foam is bought, and a large offcut is not cut into for what fits on a small one.
	rackShare = 0.1
)

// Commission is a quoted commission to be cut; the quote must be the one computed from the snapshot.
type Commission struct {
	Snapshot quote.Snapshot
	Quote    quote.Quote
}

// Plan is the pieces of several commissions nested together.
type Plan struct {
	Pieces   []quote.CutPiece // labels "C0007 1L-cap"; Sheet and At refer to this plan's sheets
	Sheets   []Sheet
	Parts    []Part
	Currency string
	Cost     price.Money // of the foam bought, at the studio's prices today
	Alone    price.Money // of the same commissions each cut alone, as quoted, at today's prices
	Yield    float64     // share of the area of sheets and offcuts that becomes pieces, 0..1

	shapes map[string]foam.Piece // by label
	studio quote.Studio
}

// Sheet is a sheet or an offcut to cut. Layout.Sheet is the key of the sheet bought, or the offcut's ID.
type Sheet struct {
	quote.SheetLayout
	RackID  string      // of the offcut; empty for a sheet that is bought
	Outline geom.Ring   // of the offcut
	Price   price.Money // 0 for an offcut
	Offcut  geom.Ring   // useful offcut left over, in the sheet's coordinates; nil: none
}

// Part is one commission's part of a plan.
type Part struct {
	Commission quote.CommissionID
	Revision   int
	Pieces     int
	Alone      price.Money // foam bought if it is cut alone
	Together   price.Money // its share of the foam bought, by the area of its pieces on each sheet
}

// Offcuts are the useful offcuts the plan leaves, in the order of its sheets.
func (p Plan) Offcuts() []quote.Offcut {
	var out []quote.Offcut
	for _, s := range p.Sheets {
		if s.Offcut != nil {
			out = append(out, offcutOf(s.SheetLayout, s.Offcut))
		}
	}
	return out
}

// FromRack lists the IDs of the offcuts the plan uses up, in the order of its sheets.
func (p Plan) FromRack() []string {
	var out []string
	for _, s := range p.Sheets {
		if s.RackID != "" {
			out = append(out, s.RackID)
		}
	}
	return out
}

// Together nests the pieces of several quoted commissions, thickness by thickness, on offcuts from the rack and on sheets
// the studio buys. Pieces with a direction all lie the same way within a thickness. If that costs more than the layouts of
// the quotes, and those still fit the studio's settings, it takes the quotes' layouts: together never costs more than
// alone. The seed follows from the commissions, so the order in which they are named does not matter. progress, which may
// be nil, receives the share done.
func Together(ctx context.Context, jobs []Commission, rack []quote.Offcut, st quote.Studio, progress func(float64)) (Plan, error) {
	if progress == nil {
		progress = func(float64) {}
	}
	jobs = slices.Clone(jobs)
	slices.SortFunc(jobs, func(a, b Commission) int { return cmp.Compare(a.Quote.Commission, b.Quote.Commission) })
	if len(jobs) < 2 || len(jobs) > maxTogether {
		return Plan{}, fmt.Errorf("%d commissions cannot be cut together; name 2 to %d", len(jobs), maxTogether)
	}
	p := Plan{Currency: st.Prices.Currency, shapes: map[string]foam.Piece{}, studio: st}
	p.studio.Evaluations *= len(jobs) // as much effort for each commission as its quote took
	seed := fnv.New64a()
	var graded []foam.Graded
	for i, j := range jobs {
		q := j.Quote
		if i > 0 && jobs[i-1].Quote.Commission == q.Commission {
			return Plan{}, fmt.Errorf("%s is named twice; name each commission once", q.Commission)
		}
		fmt.Fprintf(seed, "%s r%d\n", q.Commission, q.Revision)
		shapes, err := q.ByLabel()
		if err != nil {
			return Plan{}, err
		}
		for _, c := range q.Pieces {
			g := shapes[c.Label]
			c.Label = ownLabel(q.Commission, c.Label)
			c.Sheet, c.At = 0, geom.Placement{}
			p.Pieces, p.shapes[c.Label] = append(p.Pieces, c), g
		}
		graded = append(graded, q.Graded...)
		p.Parts = append(p.Parts, Part{Commission: q.Commission, Revision: q.Revision, Pieces: len(q.Pieces)})
	}
	ts := foam.Thicknesses(graded)
	for n, t := range ts {
		err := p.lay(ctx, jobs, rackOf(rack, t, st), t, seed.Sum64(), func(share float64) { progress((float64(n) + share) / float64(len(ts))) })
		if err != nil {
			return Plan{}, err
		}
	}
	p.chargeFoam(jobs)
	progress(1)
	return p, nil
}

// ownLabel is a piece's label among those of several commissions.
func ownLabel(id quote.CommissionID, label string) string { return string(id) + " " + label }

// rackOf lists the offcuts of one thickness that may be used: the largest, sorted by ID.
func rackOf(rack []quote.Offcut, t geom.MM, st quote.Studio) []quote.Offcut {
	var out []quote.Offcut
	for _, o := range rack {
		w, h := o.Size()
		if o.Thickness == t && w > 2*st.Margin && h > 2*st.Margin {
			out = append(out, o)
		}
	}
	slices.SortFunc(out, func(a, b quote.Offcut) int {
		return cmp.Or(cmp.Compare(b.Outline.Area(), a.Outline.Area()), cmp.Compare(a.ID, b.ID))
	})
	out = out[:min(len(out), maxRack)]
	slices.SortFunc(out, func(a, b quote.Offcut) int { return cmp.Compare(a.ID, b.ID) })
	return out
}

// lay nests one thickness.
func (p *Plan) lay(ctx context.Context, jobs []Commission, rack []quote.Offcut, t geom.MM, seed uint64, progress func(float64)) error {
	var pieces []foamPiece
	for _, j := range jobs {
		for _, c := range j.Quote.Pieces {
			if c.Thickness == t {
				label := ownLabel(j.Quote.Commission, c.Label)
				pieces = append(pieces, foamPiece{label: label, owner: string(j.Quote.Commission), piece: p.shapes[label]})
			}
		}
	}
	bought, err := bought(p.studio, t)
	if err != nil {
		return err
	}
	stock, offcuts := slices.Clone(bought), map[string]quote.Offcut{}
	for _, o := range rack {
		if _, ok := offcuts[o.ID]; ok || o.ID == "" || slices.ContainsFunc(bought, func(s nest.Sheet) bool { return s.ID == o.ID }) {
			return fmt.Errorf("offcut %q is on the rack twice or has the key of a sheet; give each its own ID", o.ID)
		}
		offcuts[o.ID] = o
		stock = append(stock, rackSheet(o, bought))
	}
	sol, err := layOut(ctx, p.studio, pieces, stock, seed, func(share, _ float64) { progress(share) })
	if err != nil {
		return err
	}
	var cost int64
	for _, l := range sol.Layouts {
		cost += priceOf(bought, l.Sheet)
	}
	if alone, price, ok := aloneLayouts(jobs, t, p.studio, bought); ok && price < cost {
		sol = nest.Solution{Layouts: alone}
	}
	at := map[string]int{}
	for i, c := range p.Pieces {
		at[c.Label] = i
	}
	for i, l := range sol.Layouts {
		number := len(p.Sheets) + 1
		s := Sheet{SheetLayout: quote.SheetLayout{Number: number, Thickness: t, Layout: l}, Price: price.Money(priceOf(bought, l.Sheet))}
		if o, ok := offcuts[l.Sheet]; ok {
			s.RackID, s.Outline = o.ID, o.Outline
		}
		var end geom.Ring
		if o := sol.Offcut; o != nil && o.Layout == i && len(o.Shape.Holes) == 0 {
			end = o.Shape.Outer
		}
		s.Offcut = largestOffcut(l, s.Outline, end, p.shapes, p.studio)
		p.Sheets = append(p.Sheets, s)
		for _, pl := range l.Placed {
			c := &p.Pieces[at[pl.Item]]
			c.Sheet, c.At = number, pl.At
		}
	}
	return nil
}

// rackSheet is an offcut as stock for nesting. bought, of the same thickness, says what its area is worth.
func rackSheet(o quote.Offcut, bought []nest.Sheet) nest.Sheet {
	w, h := o.Size()
	least := math.Inf(1)
	for _, s := range bought {
		least = math.Min(least, float64(s.Price)/(float64(s.Width)*float64(s.Height)))
	}
	return nest.Sheet{ID: o.ID, Width: w, Height: h, Outline: o.Outline, Count: 1,
		Price: int64(math.Ceil(rackShare * least * float64(o.Outline.Area())))}
}

// priceOf is the price of a sheet that is bought; 0 for an offcut.
func priceOf(bought []nest.Sheet, id string) int64 {
	for _, s := range bought {
		if s.ID == id {
			return s.Price
		}
	}
	return 0
}

// aloneLayouts are the quotes' own layouts of one thickness and their price; false if they do not keep the studio's gap,
// margin and kerf, or use sheets it no longer buys.
func aloneLayouts(jobs []Commission, t geom.MM, st quote.Studio, bought []nest.Sheet) (out []nest.Layout, cost int64, ok bool) {
	for _, j := range jobs {
		if was := j.Snapshot.Studio; was.Gap < st.Gap || was.Margin < st.Margin || was.Bench.Kerf < st.Bench.Kerf {
			return nil, 0, false
		}
		for _, s := range j.Quote.Sheets {
			if s.Thickness != t {
				continue
			}
			l := s.Layout
			if !slices.ContainsFunc(bought, func(b nest.Sheet) bool { return b.ID == l.Sheet && b.Width == l.Width && b.Height == l.Height }) {
				return nil, 0, false
			}
			cost += priceOf(bought, l.Sheet)
			l.Placed = slices.Clone(l.Placed)
			for i := range l.Placed {
				l.Placed[i].Owner = string(j.Quote.Commission)
				l.Placed[i].Item = ownLabel(j.Quote.Commission, l.Placed[i].Item)
			}
			out = append(out, l)
		}
	}
	return out, cost, true
}

// chargeFoam works out the cost of the foam, each commission's share of it, and the yield.
func (p *Plan) chargeFoam(jobs []Commission) {
	at := map[string]int{}
	for i, j := range jobs {
		at[string(j.Quote.Commission)] = i
		p.Parts[i].Alone = aloneCost(j, p.studio)
		p.Alone += p.Parts[i].Alone
	}
	var used, foam float64
	for _, s := range p.Sheets {
		p.Cost += s.Price
		sheet := float64(s.Layout.Width) * float64(s.Layout.Height)
		if s.Outline != nil {
			sheet = float64(s.Outline.Area())
		}
		foam += sheet
		share := make([]float64, len(jobs))
		var all float64
		for _, pl := range s.Layout.Placed {
			a := float64(p.shapes[pl.Item].Shape.Area())
			share[at[pl.Owner]] += a
			all += a
		}
		used += all
		// Each commission is charged what its share adds to the running sum, rounded once, so that the parts add up to the
		// sheet's price.
		var sum float64
		var charged price.Money
		for i, a := range share {
			sum += a
			upTo := price.Money(math.Round(float64(s.Price) * sum / all))
			p.Parts[i].Together += upTo - charged
			charged = upTo
		}
	}
	if foam > 0 {
		p.Yield = used / foam
	}
}

// aloneCost is what the sheets of a quote cost today; a sheet no longer sold counts at its price then.
func aloneCost(j Commission, st quote.Studio) price.Money {
	var sum price.Money
	for _, l := range j.Quote.Sheets {
		for _, book := range []price.Book{st.Prices, j.Snapshot.Studio.Prices} {
			if i := slices.IndexFunc(book.Sheets, func(s price.Sheet) bool { return s.Key == l.Layout.Sheet }); i >= 0 {
				sum += book.Sheets[i].Price
				break
			}
		}
	}
	return sum
}

// Summary says in a few lines what to buy, what is used from the rack, what it costs and what is left over.
func (p Plan) Summary() string {
	var ids, buy, keys, racked, kept []string
	count, size := map[string]int{}, map[string]string{}
	for _, c := range p.Parts {
		ids = append(ids, string(c.Commission))
	}
	for _, s := range p.Sheets {
		if s.RackID != "" {
			racked = append(racked, fmt.Sprintf("%s (%s)", s.RackID, p.size(s)))
			continue
		}
		if count[s.Layout.Sheet]++; count[s.Layout.Sheet] == 1 {
			keys = append(keys, s.Layout.Sheet)
			size[s.Layout.Sheet] = p.size(s)
		}
	}
	for _, k := range keys {
		buy = append(buy, fmt.Sprintf("%d × %s", count[k], size[k]))
	}
	for _, o := range p.Offcuts() {
		w, h := o.Size()
		kept = append(kept, fmt.Sprintf("%s, %.0f × %.0f mm", o.Thickness, float64(w), float64(h)))
	}
	orNone := func(list []string) string {
		if len(list) == 0 {
			return "nothing"
		}
		return strings.Join(list, "; ")
	}
	money := func(m price.Money) string { return m.Format(p.Currency) }
	var b strings.Builder
	fmt.Fprintf(&b, "*%s cut together*: %d pieces, %.0f %% of the foam used.\n", strings.Join(ids, ", "), len(p.Pieces), 100*p.Yield)
	fmt.Fprintf(&b, "Buy: %s.\nFrom the rack: %s.\n", orNone(buy), orNone(racked))
	fmt.Fprintf(&b, "*Foam bought: %s* together, %s if each is cut alone.\n", money(p.Cost), money(p.Alone))
	for _, c := range p.Parts {
		fmt.Fprintf(&b, "• %s: %d pieces, %s together, %s alone\n", c.Commission, c.Pieces, money(c.Together), money(c.Alone))
	}
	fmt.Fprintf(&b, "Offcuts to keep: %s.", orNone(kept))
	return b.String()
}

func (p Plan) size(s Sheet) string {
	return fmt.Sprintf("%s, %.0f × %.0f mm", s.Thickness, float64(s.Layout.Width), float64(s.Layout.Height))
}
