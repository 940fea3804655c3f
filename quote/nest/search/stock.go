package search

import (
	"cmp"
	"math"
	"slices"
)

// Sheet is a field that can be bought.
type Sheet struct {
	*Field
	Count int // 0: as many as needed
	Price int64
	Area  float64 // that pieces may cover
}

// StockResult is a layout found on sheets.
type StockResult struct {
	Result
	Sheets []int // kind of each field used, indexed by Spot.Field
	Last   int   // field that was shortened: Length is how much of it is used
	Cost   int64
	Left   []int // pieces without a place; their spots mean nothing
}

const (
	// costShare is the share of the budget spent on cheaper sheets as long as cheaper ones have enough area; the rest goes
	// into shortening the last sheet.
	costShare = 0.85
	// maxOpeners is how many kinds of sheet are tried as the first one to open.
	maxOpeners = 6
	// openerPieces bounds the pieces placed in all first layouts together.
	openerPieces = 400
	// stockPatience is for the first try of a choice; each failure increases it.
	stockPatience = 40
	// goOnShare is how often a failed choice is resumed from a failure rather than from the best layout.
	goOnShare = 0.8
)

// stock is a search over choices of sheets.
type stock struct {
	pieces  []*Kind
	rank    []int
	sheets  []Sheet
	workers int
	seed    uint64
	spent   Budget
	found   func(StockResult)
	evals   int
	area    float64
	best    StockResult
	tries   uint64
	failed  []choice
}

// Stock packs pieces on sheets: first all of them, then at the lowest price it finds, then with the used length of one
// sheet as short as it finds. If the sheets do not hold all pieces, those of higher rank go first; rank may be nil. found
// is called with each better layout; it may be nil.
func Stock(kinds []*Kind, pieces, rank []int, sheets []Sheet, workers int, seed uint64, spent Budget, found func(StockResult)) StockResult {
	t := &stock{rank: rank, sheets: sheets, workers: workers, seed: seed, spent: spent, found: found}
	for _, p := range pieces {
		t.pieces = append(t.pieces, kinds[p])
		t.area += kinds[p].area
	}
	t.first()
	if _, ok := t.cheaper(); ok && t.spent(t.evals) < costShare {
		if r, ok := t.jigsaw(t.perArea()[0]); ok && t.beats(r, t.best) {
			t.better(r)
		}
	}
	for t.spent(t.evals) < costShare {
		c, ok := t.cheaper()
		if !ok {
			break
		}
		t.attempt(c)
	}
	if len(t.best.Left) == 0 && t.spent(t.evals) < 1 {
		t.shorten()
	}
	t.best.Evaluations = t.evals
	return t.best
}

func (t *stock) better(r StockResult) {
	t.best = r
	t.best.Evaluations = t.evals
	if t.found != nil {
		t.found(t.best)
	}
}

// searcher prepares a search on a choice of sheets.
func (t *stock) searcher(sheets []int) *Searcher {
	fields := make([]*Field, len(sheets))
	for i, k := range sheets {
		fields[i] = t.sheets[k].Field
	}
	t.tries++
	s := newSearcher(t.pieces, fields, t.workers, t.seed+t.tries<<32, t.spent)
	s.before, s.w.rank = t.evals, t.rank
	return s
}

// perArea orders kinds of sheet by price per area, among equals the small ones first.
func (t *stock) perArea() []int {
	o := make([]int, len(t.sheets))
	for i := range o {
		o[i] = i
	}
	slices.SortStableFunc(o, func(a, b int) int {
		x, y := &t.sheets[a], &t.sheets[b]
		return cmp.Or(cmp.Compare(float64(x.Price)*y.Area, float64(y.Price)*x.Area), cmp.Compare(x.Area, y.Area))
	})
	return o
}

// first fills sheets, large pieces first, once for each of some kinds as the kind to open first, and keeps the best of
// these layouts.
func (t *stock) first() {
	order := t.perArea()
	for n := range min(len(order), max(1, min(maxOpeners, openerPieces/len(t.pieces)))) {
		opened := slices.Clone(order)
		k := opened[n]
		opened = slices.Insert(slices.Delete(opened, n, n+1), 0, k)
		r := t.fill(opened)
		if n == 0 || t.beats(r, t.best) {
			t.better(r)
		}
	}
}

// A rank is worth more than any area of the rank below; ranks beyond the last count like it, to avoid overflow.
const (
	rankWorth = 1e6
	maxRank   = 40
)

// beats compares first layouts: by area left, rank by rank, then by cost, then by the used length of the last sheet.
func (t *stock) beats(a, b StockResult) bool {
	left := func(r StockResult) (sum float64) {
		for _, i := range r.Left {
			worth := 1.0
			if t.rank != nil {
				worth = math.Pow(rankWorth, float64(min(t.rank[i], maxRank)))
			}
			sum += float64(worth * t.pieces[i].area)
		}
		return sum
	}
	if la, lb := left(a), left(b); la != lb {
		return la < lb
	}
	return cmp.Or(cmp.Compare(a.Cost, b.Cost), cmp.Compare(a.Length, b.Length)) < 0
}

// fill places pieces on as many sheets as it takes, opening kinds in an order: each until it is used up or none of the
// remaining pieces fits on it.
func (t *stock) fill(order []int) StockResult {
	var sheets []int
	guess := int(math.Ceil(1.5*t.area/t.sheets[order[0]].Area)) + 1
	for {
		sheets = sheets[:0]
		for _, k := range order {
			n := min(guess, len(t.pieces))
			if c := t.sheets[k].Count; c > 0 {
				n = min(n, c)
			}
			for range n {
				sheets = append(sheets, k)
			}
		}
		s := t.searcher(sheets)
		left := s.first()
		t.evals = s.evaluations()
		if len(left) > 0 && guess < len(t.pieces) {
			guess *= 2
			continue
		}
		return t.result(s, sheets, left)
	}
}

// result is the searcher's layout without empty sheets, the least used sheet last.
func (t *stock) result(s *Searcher, sheets []int, left []int) StockResult {
	used := make([]float64, len(sheets))
	for i := range s.w.n {
		if !slices.Contains(left, i) {
			used[s.cur.fld[i]] += t.pieces[i].area
		}
	}
	r := StockResult{Left: left}
	number := make([]int, len(sheets))
	last := -1
	for f, a := range used {
		if a > 0 && (last < 0 || t.sheets[sheets[f]].Area-a >= t.sheets[sheets[last]].Area-used[last]) {
			last = f
		}
	}
	for f, a := range used {
		if a > 0 && f != last {
			number[f] = len(r.Sheets)
			r.Sheets = append(r.Sheets, sheets[f])
		}
	}
	if last >= 0 {
		number[last] = len(r.Sheets)
		r.Sheets = append(r.Sheets, sheets[last])
	}
	r.Last = len(r.Sheets) - 1
	for _, k := range r.Sheets {
		r.Cost += t.sheets[k].Price
	}
	r.Spots = s.cur.spots()
	for i := range r.Spots {
		r.Spots[i].Field = number[r.Spots[i].Field]
	}
	for i, sp := range r.Spots {
		if sp.Field == r.Last && !slices.Contains(left, i) {
			r.Length = math.Max(r.Length, sp.X+s.cur.form[i].fit.hix)
		}
	}
	r.Evaluations = t.evals
	return r
}

// attempt tries to place all pieces on a choice of sheets: what lies on a sheet that both choices have stays, the rest goes
// where it overlaps least, and everything is separated.
func (t *stock) attempt(c choice) bool {
	sheets := c.list()
	s := t.searcher(sheets)
	if len(c.pool) > 0 && s.rng.float() < goOnShare {
		s.again(c.pool)
	} else if !t.empty(s, c) {
		t.evals = s.evaluations() + draws
		t.fail(c)
		return false
	}
	ok, loss := s.separate(2, stockPatience*(1+min(c.fails, 4)), costShare)
	t.evals = s.evaluations()
	if !ok {
		c.pool = remember(c.pool, loss, s.cur.spots())
		t.fail(c)
		return false
	}
	t.failed = nil
	t.better(t.result(s, sheets, nil))
	return true
}

// empty carries the best layout over to a choice of sheets: what lies on a sheet that both have stays, the rest goes where
// it overlaps least. It reports whether each piece fits somewhere.
func (t *stock) empty(s *Searcher, c choice) bool {
	sheets := c.list()
	keepOf := make([]int, len(t.best.Sheets))
	fill := make([]float64, len(keepOf))
	gone := make([]bool, s.w.n)
	for _, i := range t.best.Left {
		gone[i] = true
	}
	for i, sp := range t.best.Spots {
		if !gone[i] {
			fill[sp.Field] += t.pieces[i].area / t.sheets[t.best.Sheets[sp.Field]].Area
		}
	}
	// The fuller sheets stay; after failures others may stay instead.
	for f := range fill {
		fill[f] += float64(0.3 * s.rng.float() * float64(min(c.fails, 3)))
	}
	order := make([]int, len(keepOf))
	for i := range order {
		order[i], keepOf[i] = i, -1
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(fill[b], fill[a]) })
	taken := make([]bool, len(sheets))
	for _, f := range order {
		for n, k := range sheets {
			if !taken[n] && k == t.best.Sheets[f] {
				taken[n], keepOf[f] = true, n
				break
			}
		}
	}
	s.absent()
	var loose []int
	for _, i := range s.w.largeFirst() {
		sp := t.best.Spots[i]
		if gone[i] || keepOf[sp.Field] < 0 {
			loose = append(loose, i)
			continue
		}
		s.restore(i, sp, keepOf[sp.Field])
	}
	if !s.insert(loose) {
		return false
	}
	s.remeasure()
	return true
}

// restore puts a piece back where it lay, on a field of the same kind.
func (s *Searcher) restore(i int, sp Spot, fld int) {
	w := s.workers[0]
	p := place{turn: sp.Turn, mirrored: sp.Mirrored}
	if k := s.w.pieces[i]; !k.free {
		at := slices.IndexFunc(k.forms, func(f *form) bool { return f.turn == sp.Turn && f.mirrored == sp.Mirrored })
		p.form = k.forms[at]
	}
	s.cur.put(i, w.shape(i, &p), int32(fld), s.w.fields[fld].ox+sp.X, sp.Y)
}

// insert places pieces one after the other where they overlap least. It reports whether each fits on a field.
func (s *Searcher) insert(pieces []int) bool {
	w := s.workers[0]
	w.state.copyFrom(s.cur)
	for _, i := range pieces {
		if !w.somewhere(i) {
			return false
		}
		w.measure()
		w.relocate(i)
	}
	s.cur.copyFrom(&w.state)
	return true
}

// draws is how often somewhere tries.
const draws = 200

// somewhere puts a piece on any field it fits on.
func (w *worker) somewhere(i int) bool {
	s := &w.state
	for range draws {
		p := w.turned(i, nil)
		f := w.shape(i, &p)
		p.fld = w.anyField()
		fd := &s.w.fields[p.fld]
		lox, loy, hix, hiy, ok := fd.room(f)
		if !ok {
			continue
		}
		s.put(i, f, p.fld, fd.ox+lox+float64(w.rng.float()*(hix-lox)), loy+float64(w.rng.float()*(hiy-loy)))
		return true
	}
	return false
}

// shorten gathers the last sheet's pieces at its start, so that the rest of it is useful.
func (t *stock) shorten() {
	s := t.searcher(t.best.Sheets)
	for i, sp := range t.best.Spots {
		s.restore(i, sp, sp.Field)
	}
	s.remeasure()
	last := t.best.Last
	var room, most float64
	for f, k := range t.best.Sheets {
		if f != last {
			room += t.sheets[k].Area
		}
	}
	most = (t.area - room) / s.w.fields[last].h
	base := t.best
	s.shorten(last, most, func() {
		t.evals = s.evaluations()
		r := base
		r.Spots, r.Length = s.cur.spots(), s.length(last)
		t.better(r)
	})
	t.evals = s.evaluations()
}
