package templates_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

const (
	// same is the tolerance for rounding.
	same = 1e-6
	// truedFall in mm for each hundredth of a measurement: truing makes the legs of a dart equal, so the mouth of one
	// moves past the edge as drawn by half of what they differ, less the nearer a body comes to the base.
	truedFall = 0.1
	// chordFall in mm: a section's line on a cone is measured by 24 chords, slightly shorter the more it is bent.
	chordFall = 0.02
)

// extent is what is compared about a piece from one body to the next.
type extent struct {
	width, height, area float64
	sections            []float64 // along the section lines
	trued               bool      // a dart or seam of the piece was
}

func extents(t *testing.T, s *pattern.Set, f pattern.Fit) (map[string]extent, bool) {
	t.Helper()
	g, err := s.Grade(f)
	if err != nil {
		return nil, false
	}
	out := map[string]extent{}
	for _, p := range g.Pieces {
		b := p.Shape.Outer.Bounds()
		out[p.ID] = extent{width: float64(b.Width()), height: float64(b.Height()), area: float64(p.Shape.Outer.Area())}
	}
	for _, p := range s.Report(f, g).Pieces {
		x := out[p.ID]
		for _, c := range p.Sections {
			x.sections = append(x.sections, float64(c.Line.Length()))
		}
		if p.Frame == "cone" {
			x.height = 0 // a cone with less taper lies flatter on the sheet; its length is its slant
		}
		out[p.ID] = x
	}
	for _, m := range append(g.Seams, g.Loose...) {
		if m.Trued > 0 {
			for _, id := range []string{m.PieceA, m.PieceB} {
				x := out[id]
				x.trued = true
				out[id] = x
			}
		}
	}
	return out, true
}

// If one measurement grows by hundredths, no piece gets a smaller area, a narrower box or narrower sections, nor, except
// for cones, a lower box, apart from what truing takes.
func TestGrowingBodiesGetNoSmallerPieces(t *testing.T) {
	steps, trued := 0, 0
	for _, name := range templates.Sets() {
		s := load(t, name)
		for _, k := range s.Measures {
			var before map[string]extent
			for per := 86; per <= 116; per++ {
				f := s.BaseFit(sides(s)[0])
				f.Body = maps.Clone(f.Body)
				f.Body[k] *= geom.MM(per) / 100
				now, ok := extents(t, s, f)
				if !ok { // out of this set's range, which other tests cover
					before = nil
					continue
				}
				for _, id := range slices.Sorted(maps.Keys(before)) {
					a, b, fall := before[id], now[id], same
					if a.trued || b.trued {
						fall = truedFall
						trued++
					}
					steps++
					what := fmt.Sprintf("%s, %s at %d %%, piece %s", name, k, per, id)
					if b.height < a.height-fall {
						t.Errorf("%s: the box fell from %.3f to %.3f mm", what, a.height, b.height)
					}
					if b.width < a.width-same {
						t.Errorf("%s: the box narrowed from %.3f to %.3f mm", what, a.width, b.width)
					}
					if b.area < a.area-same {
						t.Errorf("%s: the area fell from %.3f to %.3f mm²", what, a.area, b.area)
					}
					for i := range a.sections {
						if b.sections[i] < a.sections[i]-chordFall {
							t.Errorf("%s: section %d narrowed from %.3f to %.3f mm", what, i+1, a.sections[i], b.sections[i])
						}
					}
				}
				before = now
			}
		}
	}
	if steps < 5000 || trued == 0 {
		t.Errorf("%d steps, %d of them trued: too few to say anything", steps, trued)
	}
}
