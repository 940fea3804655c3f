package draw

import (
	"fmt"
	"math"
	"slices"
	"time"

	"benchbell/quote/geom"
)

// PlanPicture is what Gantt and Gantts draw.
type PlanPicture struct {
	Title    string
	Zone     *time.Location // of the day grid and the dates; nil is UTC
	From, To time.Time      // of the picture; stretched to hold every bar, cure and promise
	Now      time.Time      // drawn as a line if set
	Open     []Span         // working hours; the rest is shaded and drawn narrower
	Lanes    []Lane         // makers and places
	Cures    []CureBar
	Promise  time.Time     // of a plan for one commission; zero: none
	Promises []PromiseMark // of several commissions; their order decides the commissions' letters
	Legend   []string      // lines under the picture
	Width    geom.MM       // of the picture; zero is 257, A4 landscape with margins of 20; below 150 titles stand above their lanes
	Height   geom.MM       // that Gantts fills with one scene; zero is 140, A4 landscape below a heading and a note
	Later    geom.MM       // the same of each scene but the first, which may have more room; zero is Height
}

// PromiseMark is the date promised for a commission.
type PromiseMark struct {
	Commission string
	At         time.Time
}

// Lane is a maker or a place and what is done there.
type Lane struct {
	Title string
	Bars  []Bar
}

// Bar is an operation; it has the same number in every lane it occupies.
type Bar struct {
	Number     int // within the commission
	Title      string
	Spans      []Span // time worked; interrupted by nights
	Kind       string // stage of the trade; in a plan of one commission bars of one kind look alike, in every plan
	Commission string // whose work it is; in a plan of several each has a letter and a pattern
	Critical   bool   // a delay here delays the end
	Frozen     bool   // finished, running or fixed for today: not replanned

	before, after bool // continues in another strip
}

// CureBar is a drying or setting time: from the end of the operation until it is ready. Work that must start before Latest
// (a recoat window) is shown as a line from an opening to a closing mark.
type CureBar struct {
	Title               string
	Lane                string // the title of a lane puts it beneath that lane, any other title opens a lane for cures
	From, Ready, Latest time.Time
	Commission          string
	Critical            bool
	Windows             []Span // if there are several windows, instead of Ready to Latest; a zero To has no end
}

// Dimensions of the plan picture in millimetres. No text is smaller than leastText, so that it can be read on paper.
const (
	ganttWidth  = 257.0
	ganttHigh   = 140.0
	leastWidth  = 80.0  // of a picture
	narrow      = 150.0 // narrower pictures are for a phone
	laneTitle   = 34.0  // left column
	laneWords   = 4.6   // height of a lane's title above its rows, on a narrow picture
	headHigh    = 9.0   // dates
	hoursHigh   = 3.2   // hours beneath the dates
	flagRow     = 3.6
	rowHigh     = 7.4 // of bars
	barHigh     = 4.8
	cureRow     = 4.2
	cureHigh    = 2.6
	laneGap     = 1.4
	barText     = 2.3
	barTextFine = 2.0 // two lines in a bar, numbers outside it
	cureText    = 2.0
	leastText   = 2.0
)

// Styles that the key also shows.
var (
	closedFill  Color = 0xeceeef
	cureStyle         = Style{Fill: White, Stroke: Ink, Width: 0.18, Hatch: &Hatch{Angle: 60, Spacing: 0.75, Width: 0.14, Color: Grey}}
	windowLine        = Stroke(Ink, 0.22, 0.6, 0.5)
	windowMark        = Stroke(Ink, 0.5)
	nowLine           = Stroke(Ink, 0.35, 1.2, 0.8)
	promiseLine       = Stroke(Accent, 0.7)
)

const (
	plainEdge    = 0.2 // outline of a bar
	criticalEdge = 0.6
	frozenBand   = 1.1 // along the bottom of a bar
)

// gantt is a picture being drawn strip by strip; whole is the entire plan.
type gantt struct {
	Scene
	axis
	plan  PlanPicture
	zone  *time.Location
	who   []string // commissions, in the order of their letters
	kinds []string // of bars, in order of appearance over the whole plan
	left  float64
	right float64
	whole bool // every bar shows its title
	shown shown
}

// shown is what the strips drawn so far contain of what the key explains.
type shown struct {
	bars                                        []Bar
	flagged                                     []string // commissions with a promise
	cured                                       []string // commissions with a cure
	cures, windows, critical, frozen, continued bool
	unnumbered                                  bool // a bar without its number
}

// Gantt draws a plan in one picture: a lane for each maker and place with a numbered bar for each operation, cures hatched
// with their recoat windows, the days with their dates, closed hours shaded, now and the promised dates. With several
// commissions, each has a letter and a pattern. Titles stand in the bars if they all fit; otherwise all are listed by
// number beneath. Plans of more than about thirty operations are easier to read as drawn by Gantts.
func Gantt(g PlanPicture) Scene {
	c := newGantt(g)
	y := c.title(g.Title)
	y = c.strip(strip{extent(g), c.lanes()}, y)
	c.Height = geom.MM(c.key(y + 5.5))
	return c.Scene
}

func newGantt(g PlanPicture) *gantt {
	width := float64(g.Width)
	if !(width >= leastWidth && width <= float64(maxSide)) {
		width = ganttWidth
	}
	c := &gantt{plan: g, zone: g.Zone, left: laneTitle, right: width - 2, whole: true, who: commissions(g)}
	if width < narrow {
		c.left = 0.5
	}
	if c.zone == nil {
		c.zone = time.UTC
	}
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			if !slices.Contains(c.kinds, b.Kind) {
				c.kinds = append(c.kinds, b.Kind)
			}
		}
	}
	c.Scene = Scene{Width: geom.MM(width), Title: Printable(g.Title)}
	return c
}

// title draws the picture's title and returns where the plan may begin.
func (c *gantt) title(title string) float64 {
	if title == "" {
		return 0
	}
	size := geom.MM(4)
	if c.Width < narrow {
		size = 3.2
	}
	y := 4.4
	for _, l := range Fit(Bold, size, c.Width, title, 2) {
		c.Label(geom.Pt(0, y), size, Bold, Start, Ink, l)
		y += 4.4
	}
	return y - 0.8
}

// commissions lists all that the plan names, those with a promise first: a commission keeps its letter from scene to scene.
func commissions(g PlanPicture) []string {
	var out []string
	seen := map[string]bool{"": true}
	add := func(name string) {
		if !seen[name] {
			seen[name] = true
			out = append(out, name)
		}
	}
	for _, p := range g.Promises {
		add(p.Commission)
	}
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			add(b.Commission)
		}
	}
	for _, q := range g.Cures {
		add(q.Commission)
	}
	return out
}

// letter of a commission, A to Z, then AA and on; empty if the plan has only one commission or does not know the name.
func (c *gantt) letter(commission string) string {
	i := slices.Index(c.who, commission)
	if i < 0 || len(c.who) < 2 {
		return ""
	}
	l := string(rune('A' + i%26))
	for i >= 26 {
		i = i/26 - 1
		l = string(rune('A'+i%26)) + l
	}
	return l
}

// number of a bar, preceded by its commission's letter if there are several.
func (c *gantt) number(b Bar) string { return c.letter(b.Commission) + fmt.Sprint(b.Number) }

// extent is the time the picture covers: long enough to hold everything, a day at least, longestPlan at most.
func extent(g PlanPicture) Span {
	s := Span{g.From, g.To}
	hold := func(t time.Time) {
		if t.IsZero() {
			return
		}
		if s.From.IsZero() || t.Before(s.From) {
			s.From = t
		}
		if s.To.IsZero() || t.After(s.To) {
			s.To = t
		}
	}
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			for _, sp := range b.Spans {
				hold(sp.From)
				hold(sp.To)
			}
		}
	}
	for _, q := range g.Cures {
		hold(q.From)
		hold(q.Ready)
	}
	hold(g.Promise)
	for _, p := range g.Promises {
		hold(p.At)
	}
	if s.To.Sub(s.From) < 24*time.Hour {
		s.To = s.From.Add(24 * time.Hour)
	}
	if s.To.Sub(s.From) > longestPlan {
		s.To = s.From.Add(longestPlan)
	}
	return s
}

// fullLane is a lane with the cures beneath it.
type fullLane struct {
	Lane
	cures []CureBar
}

// lanes are the plan's, each with its cures, then lanes for cures that belong to none of them.
func (c *gantt) lanes() []fullLane {
	var out []fullLane
	at := map[string]int{}
	add := func(l Lane) {
		if _, ok := at[l.Title]; !ok {
			at[l.Title] = len(out)
		}
		out = append(out, fullLane{Lane: l})
	}
	for _, l := range c.plan.Lanes {
		add(l)
	}
	for _, q := range c.plan.Cures {
		if _, ok := at[q.Lane]; !ok {
			add(Lane{Title: q.Lane})
		}
		l := &out[at[q.Lane]]
		l.cures = append(l.cures, q)
	}
	return out
}

// within is the part of the lane in a stretch of time.
func (l fullLane) within(s Span) fullLane {
	out := fullLane{Lane: Lane{Title: l.Title}}
	for _, b := range l.Bars {
		part := mergeSpans(s, b.Spans)
		if len(part) == 0 {
			continue
		}
		for _, sp := range b.Spans {
			b.before = b.before || sp.valid() && sp.From.Before(s.From)
			b.after = b.after || sp.valid() && sp.To.After(s.To)
		}
		b.Spans = part
		out.Bars = append(out.Bars, b)
	}
	for _, q := range l.cures {
		if q.Ready.After(q.From) && q.From.Before(s.To) && q.end().After(s.From) {
			out.cures = append(out.cures, q)
		}
	}
	return out
}

// allowed are the windows of the cure, empty if the next work may start at any time once it is ready.
func (q CureBar) allowed() []Span {
	if len(q.Windows) > 0 {
		return q.Windows
	}
	if q.Latest.After(q.Ready) {
		return []Span{{q.Ready, q.Latest}}
	}
	return nil
}

// end of everything drawn for the cure: the last mark of its windows.
func (q CureBar) end() time.Time {
	end := q.Ready
	for _, w := range q.allowed() {
		for _, t := range []time.Time{w.From, w.To} {
			if t.After(end) {
				end = t
			}
		}
	}
	return end
}

// rows packs intervals, given in order of their starts, into as few rows as possible; each gets a row number.
func rows(n int, interval func(i int) (from, to float64)) (row []int, count int) {
	row = make([]int, n)
	var ends []float64
	for i := range n {
		from, to := interval(i)
		r := slices.IndexFunc(ends, func(e float64) bool { return e <= from+1e-6 })
		if r < 0 {
			r = len(ends)
			ends = append(ends, math.Inf(-1))
		}
		ends[r], row[i] = to, r
	}
	return row, len(ends)
}
