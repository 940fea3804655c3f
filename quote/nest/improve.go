package nest

import (
	"cmp"
	"math"
	"slices"
)

// Shares of the budget. A cheaper choice of sheets is worth more than a shorter last one, but most choices tried
// cannot be filled, so each gets a slice only.
const (
	targetsTried = 6 // at a time, most roomy first
	leastTries   = 16
	targetShare  = 8 // one target gets the budget left divided by this
)

// shorter is by how many millimetres a last sheet must get shorter for a try at it to count.
const shorter = 0.01

// wander is the mean worsening taken on the way to a shorter last sheet, as a share of its length.
const wander = 0.0005

// improve spends what is left of the budget: first on cheaper choices of sheets, then on the last sheet's length,
// and so on in turn, since a better layout may make another choice of sheets possible.
func (sv *solver) improve(best *state) (*state, error) {
	sv.tell(best)
	quiet := 0
	for cycle := 0; sv.budgetLeft() > 0; cycle++ {
		began := sv.slide.evals
		cheaper := sv.cheaper(best)
		if len(best.left) == 0 {
			for _, kinds := range cheaper[:min(len(cheaper), targetsTried)] {
				st, err := sv.attempt(best, kinds, sv.slide.evals+sv.budgetLeft()/targetShare)
				if err != nil {
					return nil, err
				}
				if st != nil {
					best, quiet = st, 0
					sv.tell(best)
					break
				}
			}
		}
		// As much again goes into the last sheet, and a few tries at least.
		better, until := false, 2*sv.slide.evals-began
		at := best // wanders a little off the best
		for try := 0; (try < max(leastTries, len(sv.copies)/2) || sv.slide.evals < until) && sv.budgetLeft() > 0; try++ {
			if err := sv.stopped(); err != nil {
				return nil, err
			}
			st := sv.recreate(at)
			now, was := sv.score(st), sv.score(best)
			if now.less(was) {
				// A lean alone is taken but is no progress: it could go on shrinking for ever.
				was.lean, now.lean = 0, 0
				better = better || now.less(was)
				best, at = st, st
			} else if before := sv.score(at); now.left <= was.left && now.cost <= was.cost &&
				sv.strain(now) <= sv.strain(before)-wander*before.length*math.Log(1-sv.rng.Float64()) {
				at = st
			}
		}
		sv.tell(best)
		if quiet++; better {
			quiet = 0
		}
		if quiet >= quietRounds && len(best.left) == 0 && len(cheaper) == 0 {
			break
		}
	}
	return best, nil
}

// strain weighs a last sheet's length against how its pieces lean, both in millimetres.
func (sv *solver) strain(sc score) float64 { return sc.length + sc.lean/sv.total }

func (sv *solver) budgetLeft() int { return sv.p.Evaluations - sv.slide.evals }

// recreate takes some pieces out, most from the last sheet's far end, and puts them back in another order and turn.
func (sv *solver) recreate(from *state) *state {
	st := from.clone()
	n, whole := len(st.bins), len(st.left) == 0
	limit := math.Inf(1)
	if whole {
		limit = sv.score(st).length
	}
	var out []int
	if n > 0 {
		last := &st.bins[n-1]
		if whole && sv.rng.IntN(2) == 0 {
			limit -= shorter
			// The piece that sets the length, and sometimes the one before it.
			slices.SortStableFunc(last.spots, func(a, b spot) int {
				return cmp.Compare(a.at[0]+a.o.width(), b.at[0]+b.o.width())
			})
			out = last.take(len(last.spots)-1, out)
			if len(last.spots) > 0 && sv.rng.IntN(2) == 0 {
				out = last.take(len(last.spots)-1, out)
			}
		}
		b := last
		if sv.rng.IntN(2) == 0 || len(last.spots) == 0 {
			b = &st.bins[sv.rng.IntN(n)]
		}
		out = sv.ruin(b, 1+sv.rng.IntN(5), out)
	}
	out = append(out, st.left...)
	st.left = st.left[:0]
	noise := make(map[int]float64, len(out))
	for _, c := range out {
		noise[c] = sv.area[sv.copies[c].item] * math.Exp(1.5*(sv.rng.Float64()-0.5))
	}
	slices.SortFunc(out, func(a, b int) int { return cmp.Or(cmp.Compare(noise[b], noise[a]), cmp.Compare(a, b)) })
	for _, c := range out {
		if !sv.insert(st, c, sv.rng, limit) {
			st.left = append(st.left, c)
			if whole {
				break // no use: all pieces had a place before
			}
		}
	}
	if len(st.left) == 0 {
		st.bins = slices.DeleteFunc(st.bins, func(b bin) bool { return len(b.spots) == 0 })
	}
	return st
}

// ruin takes out the n pieces nearest to a random one.
func (sv *solver) ruin(b *bin, n int, out []int) []int {
	if len(b.spots) == 0 {
		return out
	}
	s := b.spots[sv.rng.IntN(len(b.spots))]
	x, y := s.at[0]+s.o.width()/2, s.at[1]+s.o.height()/2
	far := func(q spot) float64 {
		return math.Hypot(q.at[0]+q.o.width()/2-x, q.at[1]+q.o.height()/2-y)
	}
	slices.SortStableFunc(b.spots, func(p, q spot) int { return cmp.Compare(far(q), far(p)) })
	for ; n > 0 && len(b.spots) > 0; n-- {
		out = b.take(len(b.spots)-1, out)
	}
	return out
}

// take removes the spot at i and adds its copy to out.
func (b *bin) take(i int, out []int) []int {
	c := b.spots[i].copy
	b.spots = slices.Delete(b.spots, i, i+1)
	return append(out, c)
}

// needed is a lower bound of the sheet area the pieces take.
func (sv *solver) needed() float64 {
	var a float64
	for _, u := range sv.copies {
		a += sv.grown(u.item)
	}
	return a
}

// grown is a lower bound of an item's area grown by half the gap: by the Brunn-Minkowski inequality an area A grown
// by r is at least (sqrt A + r sqrt π)². A part in a billion is taken off for rounding, lest a tiling be refused.
func (sv *solver) grown(item int) float64 {
	s := math.Sqrt(sv.area[item]) + sv.slide.box/2*math.Sqrt(math.Pi)
	return s * s * (1 - 1e-9)
}

// usable is the area of a kind of sheet that pieces grown by half the gap may cover.
func (sv *solver) usable(kind int) float64 {
	k, less := sv.p.Sheets[kind], 2*float64(sv.p.Margin)-sv.slide.box
	return max(0, float64(k.Width)-less) * max(0, float64(k.Height)-less)
}

// cheaper lists the choices of sheets that cost less than st's and have the area: those with a sheet or two of st's
// taken away and none, one or two others in their place. Most roomy first.
func (sv *solver) cheaper(st *state) [][]int {
	var have []int
	for i := range st.bins {
		have = append(have, st.bins[i].kind)
	}
	slices.Sort(have)
	cost := sv.score(st).cost
	need := sv.needed()
	seen := map[string]bool{}
	var out [][]int
	consider := func(kinds []int) {
		kinds = slices.Clone(kinds)
		slices.Sort(kinds)
		var c int64
		var room float64
		count := make([]int, len(sv.p.Sheets))
		for _, k := range kinds {
			c += sv.p.Sheets[k].Price
			room += sv.usable(k)
			if count[k]++; sv.p.Sheets[k].Count > 0 && count[k] > sv.p.Sheets[k].Count {
				return
			}
		}
		if key := string(keyOf(kinds)); c < cost && room >= need && !seen[key] && sv.eachFits(count) {
			seen[key] = true
			out = append(out, kinds)
		}
	}
	add := func(base []int) {
		consider(base)
		for k := range sv.p.Sheets {
			one := append(slices.Clone(base), k)
			consider(one)
			for j := k; j < len(sv.p.Sheets); j++ {
				consider(append(slices.Clone(one), j))
			}
		}
	}
	for i := range have {
		if i > 0 && have[i] == have[i-1] {
			continue
		}
		less := slices.Delete(slices.Clone(have), i, i+1)
		add(less)
		for j := range less {
			if j > 0 && less[j] == less[j-1] {
				continue
			}
			add(slices.Delete(slices.Clone(less), j, j+1))
		}
	}
	room := func(kinds []int) float64 {
		var r float64
		for _, k := range kinds {
			r += sv.usable(k)
		}
		return r
	}
	slices.SortStableFunc(out, func(a, b []int) int { return cmp.Or(cmp.Compare(room(b), room(a)), slices.Compare(a, b)) })
	return out
}

func keyOf(kinds []int) []byte {
	key := make([]byte, len(kinds))
	for i, k := range kinds {
		key[i] = byte(k) // MaxSheets is far below 256
	}
	return key
}

// eachFits reports whether every item fits on some kind of which there is at least one.
func (sv *solver) eachFits(count []int) bool {
	for _, outs := range sv.outs {
		if !slices.ContainsFunc(outs, func(o *outline) bool {
			for k, n := range count {
				if _, _, ok := sv.room(o, k); n > 0 && ok {
					return true
				}
			}
			return false
		}) {
			return false
		}
	}
	return true
}

// attempt tries to get every piece onto the given kinds of sheet before the evaluations reach until; nil if it cannot.
func (sv *solver) attempt(from *state, kinds []int, until int) (*state, error) {
	st := &state{}
	kept := slices.Clone(kinds)
	var moved []int
	for i := range from.bins {
		b := &from.bins[i]
		if at := slices.Index(kept, b.kind); at >= 0 {
			kept = slices.Delete(kept, at, at+1)
			st.bins = append(st.bins, b.clone())
			continue
		}
		for _, s := range b.spots {
			moved = append(moved, s.copy)
		}
	}
	for _, k := range kept {
		st.bins = append(st.bins, bin{kind: k})
	}
	slices.SortStableFunc(moved, func(a, b int) int { return cmp.Compare(sv.area[sv.copies[b].item], sv.area[sv.copies[a].item]) })
	for _, c := range moved {
		if err := sv.stopped(); err != nil {
			return nil, err
		}
		if !sv.insert(st, c, nil, math.Inf(1)) {
			st.left = append(st.left, c)
		}
	}
	for len(st.left) > 0 && sv.slide.evals < until {
		if err := sv.stopped(); err != nil {
			return nil, err
		}
		if next := sv.recreate(st); sv.score(next).left <= sv.score(st).left {
			st = next
		}
	}
	if len(st.left) > 0 {
		return nil, nil
	}
	st.bins = slices.DeleteFunc(st.bins, func(b bin) bool { return len(b.spots) == 0 })
	return st, nil
}
