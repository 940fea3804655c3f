package paper

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// grid is the lattice of tiles under the pattern. Tile (col, row) shows the frame starting at (col·stepX, row·stepY), width
// × height; neighbours share a strip as wide as the overlap.
type grid struct {
	width, height float64 // of a frame
	stepX, stepY  float64
	cols          int
}

// cell names a tile of the grid.
type cell struct{ col, row int }

func (c cell) name() string {
	letters, n := "", c.row
	for {
		letters = string(rune('A'+n%26)) + letters
		if n = n/26 - 1; n < 0 {
			break
		}
	}
	return fmt.Sprintf("%s%d", letters, c.col+1)
}

func newGrid(p *Pattern) grid {
	high := p.Paper.Height
	if p.Paper.roll() {
		high = maxLength
	}
	w, h := float64(p.Paper.Width-2*p.Margin), float64(high-2*p.Margin)-band
	return grid{width: w, height: h, stepX: w - float64(p.Overlap), stepY: h - float64(p.Overlap)}
}

// span is the tiles along one axis that a stretch needs: from the one that owns its beginning to the first whose frame
// reaches its end.
func span(lo, hi, step, frame float64) (first, last int) {
	const slack = 1e-6
	first = int(math.Floor(lo/step + slack))
	last = max(first, int(math.Ceil((hi-frame)/step-slack)))
	return first, last
}

// block is a rectangle of tiles.
type block struct{ c0, c1, r0, r1 int }

func (g grid) block(b geom.Box) block {
	c0, c1 := span(b.Min.X, b.Max.X, g.stepX, g.width)
	r0, r1 := span(b.Min.Y, b.Max.Y, g.stepY, g.height)
	return block{c0, c1, r0, r1}
}

func (b block) single() bool { return b.c0 == b.c1 && b.r0 == b.r1 }
func (b block) tiles() int   { return (b.c1 - b.c0 + 1) * (b.r1 - b.r0 + 1) }

// part is the area within a block that only this tile shows: its frame up to where the next tile starts.
func (g grid) part(b block, c cell) geom.Box {
	x, y := float64(c.col)*g.stepX, float64(c.row)*g.stepY
	out := geom.Box{Min: geom.Pt(x, y), Max: geom.Pt(x+g.stepX, y+g.stepY)}
	if c.col == b.c1 {
		out.Max.X = x + g.width
	}
	if c.row == b.r1 {
		out.Max.Y = y + g.height
	}
	return out
}

// frame is everything a tile shows.
func (g grid) frame(c cell) geom.Box {
	x, y := float64(c.col)*g.stepX, float64(c.row)*g.stepY
	return geom.Box{Min: geom.Pt(x, y), Max: geom.Pt(x+g.width, y+g.height)}
}

// item is a drawn piece in its place on the pattern.
type item struct {
	*drawing
	offset geom.Point // added to the drawing's coordinates
	block  block
	cells  []cell // the tiles that show it, row by row
}

func (it *item) bounds() geom.Box {
	return geom.Box{Min: it.box.Min.Add(it.offset), Max: it.box.Max.Add(it.offset)}
}

// pack lays the pieces out, large ones first. A piece that fits on one tile, upright or turned a quarter, is never laid
// over a seam; a larger one lies where it needs the fewest tiles, and on tiles of another large piece only if it fits
// within them. It takes the place that opens the fewest new tiles, then the topmost, then the leftmost. Pieces are packed
// by their boxes at corners of tiles and of pieces already placed (a usual corner-fitting heuristic for rectangle packing).
func pack(g *grid, pairs [][2]*drawing) []*item {
	const aspect = 1.3 // tiles across to tiles down: tables are wider than deep
	w := func(d *drawing) float64 { return float64(d.box.Width()) }
	h := func(d *drawing) float64 { return float64(d.box.Height()) }
	at0 := func(d *drawing) block { return g.block(geom.Box{Max: geom.Pt(w(d), h(d))}) }
	area := 0.0
	order := make([]int, len(pairs))
	for i, p := range pairs {
		order[i] = i
		area += w(p[0]) * h(p[0])
		a, b := at0(p[0]), at0(p[1])
		wide := a.c1 + 1
		if b.tiles() < a.tiles() || b.tiles() == a.tiles() && b.c1 < a.c1 {
			wide = b.c1 + 1
		}
		g.cols = max(g.cols, wide)
	}
	if g.height < float64(maxLength)/2 { // sheets of paper; a roll has as many strips as its widest piece needs
		g.cols = max(g.cols, int(math.Ceil(math.Sqrt(area/(g.width*g.height)*aspect))))
	}
	size := func(i int) float64 { return w(pairs[i][0]) * h(pairs[i][0]) }
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(size(b), size(a)) })

	used, glued := map[cell]bool{}, map[cell]bool{}
	var laid []*item
	lowest := -1
	for _, i := range order {
		best, found := rank{}, false
		var bestAt geom.Point
		var bestDrawing *drawing
		fits := false
		for _, d := range pairs[i] {
			fits = fits || at0(d).single()
		}
		// A piece in the lowest row may reach into the next by the overlap, but never into the one after.
		corners := g.corners(laid, lowest+2)
		for t, d := range pairs[i] {
			if fits && !at0(d).single() {
				continue
			}
			for _, c := range corners {
				b := geom.Box{Min: c, Max: c.Add(geom.Pt(w(d), h(d)))}
				bl := g.block(b)
				if bl.c1 >= g.cols || fits && !bl.single() {
					continue
				}
				r := rank{tiles: bl.tiles(), bottom: b.Max.Y, left: b.Min.X, turned: t}
				if !bl.single() {
					r.tiles *= 2 // a seam costs work as well as paper
				}
				opens, shares := 0, false
				for row := bl.r0; row <= bl.r1; row++ {
					for col := bl.c0; col <= bl.c1; col++ {
						c := cell{col, row}
						shares = shares || glued[c]
						if used[c] {
							r.tiles--
						} else {
							opens++
						}
					}
				}
				// Two pieces that share a tile are glued into one sheet; a long chain of them would not fit on any table.
				if !bl.single() && shares && opens > 0 {
					continue
				}
				if found && !r.before(best) || overlapsAny(b, laid) {
					continue
				}
				best, bestAt, bestDrawing, found = r, c, d, true
			}
		}
		it := &item{drawing: bestDrawing, offset: bestAt.Sub(bestDrawing.box.Min)}
		it.block = g.block(it.bounds())
		for row := it.block.r0; row <= it.block.r1; row++ {
			for col := it.block.c0; col <= it.block.c1; col++ {
				used[cell{col, row}] = true
				if !it.block.single() {
					glued[cell{col, row}] = true
				}
			}
		}
		lowest = max(lowest, it.block.r1)
		laid = append(laid, it)
	}
	// Back to the order of the pattern.
	out := make([]*item, len(pairs))
	for k, i := range order {
		out[i] = laid[k]
	}
	return out
}

// rank compares places; less is better.
type rank struct {
	tiles        int
	bottom, left float64
	turned       int
}

func (r rank) before(o rank) bool {
	return cmp.Or(cmp.Compare(r.tiles, o.tiles), cmp.Compare(r.bottom, o.bottom), cmp.Compare(r.left, o.left), cmp.Compare(r.turned, o.turned)) < 0
}

// corners are the places to try: every tile's corner down to the row, and the places beside and below what is already
// there.
func (g *grid) corners(laid []*item, row int) []geom.Point {
	var out []geom.Point
	for r := 0; r <= row; r++ {
		for c := range g.cols {
			out = append(out, geom.Pt(float64(c)*g.stepX, float64(r)*g.stepY))
		}
	}
	tile := func(x, step float64) float64 { return math.Floor(x/step+1e-6) * step }
	for _, it := range laid {
		b := it.bounds()
		out = append(out, geom.Pt(b.Max.X, b.Min.Y), geom.Pt(b.Min.X, b.Max.Y),
			geom.Pt(b.Max.X, tile(b.Min.Y, g.stepY)), geom.Pt(tile(b.Min.X, g.stepX), b.Max.Y))
	}
	return out
}

func overlapsAny(b geom.Box, laid []*item) bool {
	const touch = 1e-6
	for _, it := range laid {
		c := it.bounds()
		if b.Min.X < c.Max.X-touch && c.Min.X < b.Max.X-touch && b.Min.Y < c.Max.Y-touch && c.Min.Y < b.Max.Y-touch {
			return true
		}
	}
	return false
}
