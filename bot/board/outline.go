package board

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/geom"
)

// shape is what an operation is done to, as people know it on the bench: the outlines of its largest different pieces.
type shape struct {
	Paths []string // of up to three pieces, each in its place in the drawing
	Says  string   // what they are, for who does not see them
	Many  int      // pieces in all
}

// Of a drawing of outlines, in its units: the first piece has a box of its own, two more stand below it. It is twice as wide as the
// lines of text beside it are high, so that numbers of few digits place a point well within a stroke.
const (
	shapeWide  = 160
	shapeTall  = 110 // of the first box
	shapeSmall = 60  // of the boxes below it
	shapePad   = 4
	shapesMost = 3
	shapeFine  = 1.0 // how far a simplified line may be from the piece's
)

// wholeBox is where one outline is drawn by itself.
var wholeBox = [4]float64{0, 0, shapeWide, shapeTall}

// Tall is the height of the drawing.
func (s *shape) Tall() int {
	if len(s.Paths) > 1 {
		return shapeTall + shapeSmall
	}
	return shapeTall
}

// Counts is how many pieces there are, where not all are seen.
func (s *shape) Counts() string {
	if s.Many <= 1 {
		return ""
	}
	return fmt.Sprintf("%d pieces", s.Many)
}

// shapes keeps what was drawn of each revision, which never changes.
type shapes struct {
	mu    sync.Mutex
	drawn map[string]map[string]*shape // by commission and revision, by operation or piece
}

// mostDrawn is how many revisions are kept drawn: more than a shop has open. Past it, all are drawn again.
const mostDrawn = 256

// of is the drawing of an operation, or of a piece by ofLabel and its label; nil where the quote has none of its pieces.
func (s *shapes) of(r shop.Revision, op string) *shape {
	key := fmt.Sprintf("%s/%d", r.Commission, r.Revision)
	s.mu.Lock()
	defer s.mu.Unlock()
	all, ok := s.drawn[key]
	if !ok {
		if s.drawn == nil || len(s.drawn) >= mostDrawn {
			s.drawn = map[string]map[string]*shape{}
		}
		all = drawAll(r.Quote)
		s.drawn[key] = all
	}
	return all[op]
}

// piece is one piece of a quote, once for all its copies.
type piece struct {
	key, title string
	area       geom.MM2
	ring       geom.Ring
}

// ofLabel begins the name under which the drawing of one piece is kept; no operation's ID begins so.
const ofLabel = "piece: "

func drawAll(q quote.Quote) map[string]*shape {
	out := map[string]*shape{}
	cut, err := q.ByLabel()
	if err != nil { // an early quote has no outlines
		return out
	}
	known := map[string]piece{}
	for _, p := range q.Pieces {
		x := cut[p.Label]
		known[p.Label] = piece{fmt.Sprintf("%s/%s/%t", p.Set, p.Piece, p.Mirrored), p.Title, x.Shape.Area(), x.Shape.Outer}
	}
	kinds := map[string]*shape{}
	for label, p := range known {
		if kinds[p.key] == nil {
			kinds[p.key] = drawOne(known, []string{label})
		}
		out[ofLabel+label] = kinds[p.key]
	}
	for _, o := range q.Work.Operations {
		if s := drawOne(known, o.Pieces); s != nil {
			out[o.ID] = s
		}
	}
	return out
}

// drawOne draws the largest of some pieces, each kind once; nil where none is known.
func drawOne(known map[string]piece, labels []string) *shape {
	s := &shape{Many: len(labels)}
	var kinds []piece
	for _, label := range labels {
		p, ok := known[label]
		if ok && !slices.ContainsFunc(kinds, func(k piece) bool { return k.title == p.title }) {
			kinds = append(kinds, p)
		}
	}
	slices.SortStableFunc(kinds, func(a, b piece) int {
		return cmp.Or(cmp.Compare(b.area, a.area), strings.Compare(a.key, b.key))
	})
	if len(kinds) == 0 {
		return nil
	}
	var names []string
	for i, k := range kinds[:min(len(kinds), shapesMost)] {
		box := wholeBox
		if i > 0 {
			box = [4]float64{float64(i-1) * shapeWide / 2, shapeTall, shapeWide / 2, shapeSmall}
		}
		s.Paths = append(s.Paths, path(k.ring, box))
		names = append(names, k.title)
	}
	s.Says = strings.Join(names, ", ")
	if more := len(kinds) - shapesMost; more > 0 {
		s.Says += fmt.Sprintf(" and %d more", more)
	}
	return s
}

// path fits a ring into a box (left, top, width, height), lying where it is taller than wide.
func path(r geom.Ring, box [4]float64) string {
	b := r.Bounds()
	lies := b.Height() > b.Width()
	w, h := float64(b.Width()), float64(b.Height())
	if lies {
		w, h = h, w
	}
	scale := math.Min((box[2]-2*shapePad)/math.Max(w, 1), (box[3]-2*shapePad)/math.Max(h, 1))
	left, top := box[0]+(box[2]-w*scale)/2, box[1]+(box[3]-h*scale)/2
	var pts [][2]float64
	for _, p := range r {
		x, y := p.X-b.Min.X, b.Max.Y-p.Y
		if lies { // a quarter turn, never a mirror image: left and right stay apart
			x, y = p.Y-b.Min.Y, p.X-b.Min.X
		}
		pts = append(pts, [2]float64{left + x*scale, top + y*scale})
	}
	var out strings.Builder
	last := [2]int{}
	for i, p := range fewer(pts) {
		at := [2]int{int(math.Round(p[0])), int(math.Round(p[1]))}
		switch {
		case i == 0:
			fmt.Fprintf(&out, "M%d %dl", at[0], at[1])
		case at != last:
			fmt.Fprintf(&out, "%d %d ", at[0]-last[0], at[1]-last[1])
		}
		last = at
	}
	return strings.TrimSpace(out.String()) + "z"
}

// fewer is a closed line with fewer points, none of those left out farther from it than shapeFine (Ramer, Douglas and Peucker).
func fewer(pts [][2]float64) [][2]float64 {
	if len(pts) < 4 {
		return pts
	}
	far := 0
	for i := range pts {
		if away(pts[i], pts[0]) > away(pts[far], pts[0]) {
			far = i
		}
	}
	ring := append(slices.Clone(pts), pts[0])
	keep := make([]bool, len(ring))
	keep[0], keep[far], keep[len(ring)-1] = true, true, true
	for work := [][2]int{{0, far}, {far, len(ring) - 1}}; len(work) > 0; {
		s := work[len(work)-1]
		work = work[:len(work)-1]
		worst, at := shapeFine, -1
		for i := s[0] + 1; i < s[1]; i++ {
			if d := beside(ring[i], ring[s[0]], ring[s[1]]); d > worst {
				worst, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			work = append(work, [2]int{s[0], at}, [2]int{at, s[1]})
		}
	}
	var out [][2]float64
	for i, k := range keep[:len(ring)-1] {
		if k {
			out = append(out, ring[i])
		}
	}
	return out
}

func away(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// beside is how far a point is from a stretch.
func beside(p, a, b [2]float64) float64 {
	l := away(a, b)
	if l == 0 {
		return away(p, a)
	}
	t := math.Max(0, math.Min(1, ((p[0]-a[0])*(b[0]-a[0])+(p[1]-a[1])*(b[1]-a[1]))/(l*l)))
	return away(p, [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
}
