package paper

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// sheet is the pattern laid out over tiles.
type sheet struct {
	job   *Pattern
	grid  grid
	items []*item
	tiles []*tile // row by row
	at    map[cell]*tile

	covers int // pages before the first tile
}

// tile is a page of the pattern.
type tile struct {
	cell
	number      int     // counted from 0 among the tiles
	glued       int     // tiles glued together share a number
	height      float64 // of its frame; shorter than the grid's on a roll
	right, down bool    // glued to the tile on that side
	left, up    bool
}

// arrange lays a checked pattern out.
func arrange(job *Pattern) *sheet {
	s := &sheet{job: job, grid: newGrid(job), at: map[cell]*tile{}}
	pairs := make([][2]*drawing, len(job.Pieces))
	for i := range job.Pieces {
		pairs[i] = [2]*drawing{drawPiece(job, &job.Pieces[i], false, nil), drawPiece(job, &job.Pieces[i], true, nil)}
	}
	s.items = pack(&s.grid, pairs)
	for _, it := range s.items {
		s.tile(it)
	}
	slices.SortFunc(s.tiles, func(a, b *tile) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col)) })
	for i, t := range s.tiles {
		t.number, t.glued = i, i
	}
	s.glue()
	if job.Paper.roll() {
		s.trim()
	}
	for _, it := range s.items {
		if len(it.cells) > 1 {
			s.nameOnTiles(it)
		}
	}
	s.covers = s.cover(nil)
	return s
}

// tile opens the tiles a piece needs and joins them. A tile of its block that neither its foam nor its ink touches is left
// out.
func (s *sheet) tile(it *item) {
	for row := it.block.r0; row <= it.block.r1; row++ {
		for col := it.block.c0; col <= it.block.c1; col++ {
			c := cell{col, row}
			if it.block.single() || it.meets(s.grid.part(it.block, c)) {
				it.cells = append(it.cells, c)
				if s.at[c] == nil {
					s.at[c] = &tile{cell: c, height: s.grid.height}
					s.tiles = append(s.tiles, s.at[c])
				}
			}
		}
	}
	for _, c := range it.cells {
		if e := (cell{c.col + 1, c.row}); slices.Contains(it.cells, e) {
			s.at[c].right, s.at[e].left = true, true
		}
		if e := (cell{c.col, c.row + 1}); slices.Contains(it.cells, e) {
			s.at[c].down, s.at[e].up = true, true
		}
	}
}

// glue finds which tiles form one sheet and joins all neighbours in it, since they lie on each other anyway.
func (s *sheet) glue() {
	for changed := true; changed; {
		changed = false
		for _, t := range s.tiles {
			for _, e := range [2]struct {
				joined bool
				to     cell
			}{{t.right, cell{t.col + 1, t.row}}, {t.down, cell{t.col, t.row + 1}}} {
				if !e.joined {
					continue
				}
				if n := s.at[e.to]; n.glued != t.glued {
					n.glued, t.glued, changed = min(n.glued, t.glued), min(n.glued, t.glued), true
				}
			}
		}
	}
	for _, t := range s.tiles {
		if n := s.at[cell{t.col + 1, t.row}]; n != nil && n.glued == t.glued {
			t.right, n.left = true, true
		}
		if n := s.at[cell{t.col, t.row + 1}]; n != nil && n.glued == t.glued {
			t.down, n.up = true, true
		}
	}
}

// on reports whether a tile shows the item: it is one of the item's tiles or glued to them, so that its paper may lie over
// the item's.
func (s *sheet) on(t *tile, it *item) bool {
	return s.at[it.cells[0]].glued == t.glued && it.bounds().Overlaps(s.grid.frame(t.cell))
}

// meets reports whether foam, ink or text of the item lies in the box.
func (it *item) meets(b geom.Box) bool {
	p := turnedPlate(b.Centre().Sub(it.offset), float64(b.Width()), float64(b.Height()), 0).grow(1) // half the widest stroke, and a bit more
	if it.room.shape.Outer.Contains(p.c) {
		return true
	}
	for _, s := range it.room.ink {
		if p.hit(s) {
			return true
		}
	}
	for _, t := range it.room.taken {
		if p.meets(t) {
			return true
		}
	}
	for _, f := range it.figures { // leaders and arrows
		for i := 1; i < len(f.Path); i++ {
			if p.hit(seg{f.Path[i-1], f.Path[i]}) {
				return true
			}
		}
	}
	return false
}

// trim cuts the tiles of a roll off where their row of the pattern ends.
func (s *sheet) trim() {
	end := map[int]float64{}
	for _, it := range s.items {
		for _, c := range it.cells {
			bottom := it.bounds().Max.Y - float64(c.row)*s.grid.stepY
			end[c.row] = math.Max(end[c.row], math.Min(bottom, s.grid.height))
		}
	}
	for _, t := range s.tiles {
		t.height = end[t.row]
	}
}

// nameOnTiles moves the name of a piece that lies over seams off the glue strips if it can, and repeats the label on every
// other tile, so that every sheet of paper has a name.
func (s *sheet) nameOnTiles(it *item) {
	const size = 3.6
	over := float64(s.job.Overlap)
	var strips []plate
	ib := it.bounds()
	for col := it.block.c0; col < it.block.c1; col++ {
		x := float64(col+1)*s.grid.stepX + over/2
		strips = append(strips, turnedPlate(geom.Pt(x, ib.Centre().Y).Sub(it.offset), over, float64(ib.Height()), 0))
	}
	for row := it.block.r0; row < it.block.r1; row++ {
		y := float64(row+1)*s.grid.stepY + over/2
		strips = append(strips, turnedPlate(geom.Pt(ib.Centre().X, y).Sub(it.offset), float64(ib.Width()), over, 0))
	}
	if it.named {
		again := drawPiece(s.job, it.piece, it.turned, strips)
		if again.named && again.box == it.box {
			it.drawing = again
		}
	}
	label := draw.Printable(strings.TrimSpace(it.piece.Label))
	if label == "" {
		label = draw.Printable(it.piece.Title)
	}
	for _, c := range it.cells {
		b := s.grid.frame(c)
		b.Min, b.Max = b.Min.Sub(it.offset), b.Max.Sub(it.offset)
		if len(it.cells) > 1 && b.Contains(it.name.c) {
			continue
		}
		b = b.Grow(-geom.MM(over) - 2)
		clipped := geom.Box{
			Min: geom.Pt(math.Max(b.Min.X, it.box.Min.X), math.Max(b.Min.Y, it.box.Min.Y)),
			Max: geom.Pt(math.Min(b.Max.X, it.box.Max.X), math.Min(b.Max.Y, it.box.Max.Y)),
		}
		if clipped.Empty() {
			continue
		}
		p := textPlate(clipped.Centre(), size, draw.Bold, 0, label)
		if q, ok := it.findWithin(p, clipped); ok {
			it.write(q, size, draw.Bold, 0, label)
		}
	}
}

// findWithin looks for a free place on the foam within a box, the nearest to the box's middle on a grid.
func (d *drawing) findWithin(p plate, b geom.Box) (plate, bool) {
	const cells = 16
	best, found := p, false
	for i := range cells {
		for j := range cells {
			q := p
			q.c = geom.Pt(b.Min.X+float64(b.Width())*(float64(i)+0.5)/cells, b.Min.Y+float64(b.Height())*(float64(j)+0.5)/cells)
			if found && q.c.Dist(p.c) >= best.c.Dist(p.c) {
				continue
			}
			if k := q.bounds(); b.Contains(k.Min) && b.Contains(k.Max) && d.room.free(q.grow(1), inside) {
				best, found = q, true
			}
		}
	}
	return best, found
}

// tileNames lists the tiles that show a piece: "B3" or "A1–A3, B1–B3".
func (it *item) tileNames() string {
	var out []string
	for i := 0; i < len(it.cells); {
		j := i
		for j+1 < len(it.cells) && it.cells[j+1].row == it.cells[i].row && it.cells[j+1].col == it.cells[j].col+1 {
			j++
		}
		if j > i {
			out = append(out, fmt.Sprintf("%s–%s", it.cells[i].name(), it.cells[j].name()))
		} else {
			out = append(out, it.cells[i].name())
		}
		i = j + 1
	}
	return strings.Join(out, ", ")
}

// marks are the places of the pattern's registration marks that lie in a tile's glue strips. Both tiles of a seam show each
// one at the same point of the pattern.
func (s *sheet) marks(t *tile) []geom.Point {
	var out []geom.Point
	half := float64(s.job.Overlap) / 2
	x, y := float64(t.col)*s.grid.stepX, float64(t.row)*s.grid.stepY
	high := math.Min(s.grid.stepY, t.height)
	for _, e := range []struct {
		joined bool
		at     func(share float64) geom.Point
	}{
		{t.left, func(k float64) geom.Point { return geom.Pt(x+half, y+k*high) }},
		{t.right, func(k float64) geom.Point { return geom.Pt(x+s.grid.stepX+half, y+k*high) }},
		{t.up, func(k float64) geom.Point { return geom.Pt(x+k*s.grid.stepX, y+half) }},
		{t.down, func(k float64) geom.Point { return geom.Pt(x+k*s.grid.stepX, y+s.grid.stepY+half) }},
	} {
		if e.joined {
			out = append(out, e.at(0.15), e.at(0.85))
		}
	}
	return out
}
