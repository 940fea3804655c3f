package nest

import (
	"math"
	"math/rand/v2"
	"slices"
)

// bin is one sheet being filled.
type bin struct {
	kind  int
	spots []spot
}

func (b *bin) clone() bin { return bin{b.kind, slices.Clone(b.spots)} }

// state is a layout under way: filled sheets in the order they were opened, and copies with no place yet.
type state struct {
	bins []bin
	left []int
}

func (st *state) clone() *state {
	c := &state{bins: make([]bin, len(st.bins)), left: slices.Clone(st.left)}
	for i := range st.bins {
		c.bins[i] = st.bins[i].clone()
	}
	return c
}

// score orders layouts: what has no place, then cost, then the length used of the last sheet, so that the offcut left
// over is as large as can be, then how far the last sheet's pieces lean to its start.
type score struct {
	left   float64
	cost   int64
	length float64
	lean   float64
}

func (a score) less(b score) bool {
	switch {
	case math.Abs(a.left-b.left) > 1e-6:
		return a.left < b.left
	case a.cost != b.cost:
		return a.cost < b.cost
	case math.Abs(a.length-b.length) > 1e-6:
		return a.length < b.length
	}
	return a.lean < b.lean*(1-1e-12)
}

func (sv *solver) score(st *state) score {
	var sc score
	for _, c := range st.left {
		sc.left += sv.area[sv.copies[c].item]
	}
	for i := range st.bins {
		sc.cost += sv.p.Sheets[st.bins[i].kind].Price
	}
	if n := len(st.bins); n > 0 {
		for _, s := range st.bins[n-1].spots {
			end := s.at[0] + s.o.width()
			sc.length = math.Max(sc.length, end)
			sc.lean += sv.area[s.o.item] * end
		}
	}
	return sc
}

// room is where the lower corner of an outline's box may be on a kind of sheet.
func (sv *solver) room(o *outline, kind int) (x, y span, ok bool) {
	k, m := sv.p.Sheets[kind], float64(sv.p.Margin)
	x = span{m, float64(k.Width) - m - o.width()}
	y = span{m, float64(k.Height) - m - o.height()}
	if x.hi < x.lo-fitSlack || y.hi < y.lo-fitSlack {
		return x, y, false
	}
	x.hi, y.hi = math.Max(x.hi, x.lo), math.Max(y.hi, y.lo)
	return x, y, true
}

// Lines and turns tried for one piece on one sheet, in the first layout and while improving. The more, the tighter a
// single layout and the fewer layouts within the budget; these were chosen by trial on sets of thirty and sixty pieces.
const (
	firstLines, firstTurns = 14, 4
	laterLines, laterTurns = 10, 2
)

// place puts a copy on a sheet where its far end comes to lie nearest to the sheet's start, lowest among equals.
// With wide set every turn is tried. No piece may end beyond limit.
func (sv *solver) place(b *bin, c int, rng *rand.Rand, wide bool, limit float64) bool {
	outs := sv.outs[sv.copies[c].item]
	pick := sv.pick[:0]
	for i := range outs {
		pick = append(pick, i)
	}
	_, turns := tries(rng)
	if !wide && len(pick) > turns {
		if rng != nil {
			rng.Shuffle(len(pick), func(i, j int) { pick[i], pick[j] = pick[j], pick[i] })
		}
		pick = pick[:turns]
	}
	sv.pick = pick
	if sv.covered(b)+sv.grown(sv.copies[c].item) > sv.usable(b.kind) {
		return false
	}
	var best spot
	bestEnd, bestY, found := limit, math.Inf(1), false
	for _, i := range pick {
		o := outs[i]
		xs, ys, ok := sv.room(o, b.kind)
		if !ok {
			continue
		}
		for _, y := range sv.lines(b, o, ys, rng, wide) {
			t, ok := sv.slide.first(o, 0, y, xs.lo, math.Min(xs.hi, bestEnd-o.width()+slack), b.spots)
			if !ok {
				continue
			}
			if end := t + o.width(); end < bestEnd-1e-6 || end < bestEnd+slack && y < bestY-1e-6 {
				best = spot{o, c, [2]float64{t, y}}
				bestEnd, bestY, found = end, y, true
			}
		}
	}
	if !found {
		return false
	}
	for range 3 { // settle: down, then towards the start, until neither moves it
		xs, ys, _ := sv.room(best.o, b.kind)
		y, ok := sv.slide.first(best.o, 1, best.at[0], ys.lo, math.Min(ys.hi, best.at[1]), b.spots)
		if !ok {
			break
		}
		x, ok := sv.slide.first(best.o, 0, y, xs.lo, math.Min(xs.hi, best.at[0]), b.spots)
		if !ok {
			break
		}
		still := best.at[0]-x < 1e-6 && best.at[1]-y < 1e-6
		best.at = [2]float64{x, y}
		if still {
			break
		}
	}
	b.spots = append(b.spots, best)
	return true
}

// tries is how many lines and turns to try; the first layout is the one made without random numbers.
func tries(rng *rand.Rand) (lines, turns int) {
	if rng == nil {
		return firstLines, firstTurns
	}
	return laterLines, laterTurns
}

// covered is the area b's pieces take, each with half the gap around it.
func (sv *solver) covered(b *bin) float64 {
	var a float64
	for i := range b.spots {
		a += sv.grown(b.spots[i].o.item)
	}
	return a
}

// lines are the heights worth trying: the sheet's two borders, and for each piece there the heights at which o stands
// on it, hangs under it, or lies level with its foot or its head. Some of them where there are many.
func (sv *solver) lines(b *bin, o *outline, ys span, rng *rand.Rand, wide bool) []float64 {
	l := append(sv.heights[:0], ys.lo, ys.hi)
	add := func(y float64) {
		if y > ys.lo && y < ys.hi {
			l = append(l, y)
		}
	}
	gap, h := sv.slide.box, o.height()
	for i := range b.spots {
		s := &b.spots[i]
		y, top := s.at[1], s.at[1]+s.o.height()
		add(top + gap)
		add(y - gap - h)
		add(y)
		add(top - h)
	}
	if rng != nil {
		for range 2 {
			add(ys.lo + rng.Float64()*(ys.hi-ys.lo))
		}
	}
	slices.Sort(l[2:])
	n := 2
	for _, y := range l[2:] {
		if y-l[n-1] > 1e-6 || n == 2 {
			l[n] = y
			n++
		}
	}
	l = l[:n]
	if most, _ := tries(rng); !wide && len(l) > most {
		rest := l[2:]
		if rng != nil {
			rng.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
		} else {
			for i := range most - 2 {
				rest[i] = rest[i*len(rest)/(most-2)]
			}
		}
		l = l[:most]
	}
	sv.heights = l
	return l
}
