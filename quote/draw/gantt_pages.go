package draw

import (
	"fmt"
	"time"

	"benchbell/quote/geom"
)

const (
	// numbersOutside is the share of bars that may be too narrow for their numbers before time is cut into finer strips;
	// numbersAstray is the share whose numbers may not even fit above their bars.
	numbersOutside = 0.35
	numbersAstray  = 0.08
	// mostStrips bounds the strips of a plan, however long and crowded it is.
	mostStrips = 120
	// stripGap separates the strips of a scene.
	stripGap = 4.0
	// astray is how many of its widths a number may stand away from its bar.
	astray = 1.5
)

// Gantts draws a plan in as many scenes as it takes to be readable. Time is cut into strips of the same number of days,
// whole weeks if that is enough, so that numbers fit in their bars or right above them. Strips stand one below the other
// until a scene is as high as Height, and each scene explains what it shows. A strip with more lanes than fit in a scene is
// split by lanes. No text is smaller than 2 mm. Days on which nothing starts or ends may be left out.
func Gantts(g PlanPicture) []Scene {
	limit := float64(g.Height)
	if !(limit >= 100 && limit <= float64(maxSide)) {
		limit = ganttHigh
	}
	later := float64(g.Later)
	if !(later >= limit && later <= float64(maxSide)) {
		later = limit
	}
	var pages [][]strip
	for _, st := range newGantt(g).strips(limit) {
		if n := len(pages); n > 0 {
			joined := append(pages[n-1][:len(pages[n-1]):len(pages[n-1])], st)
			room := limit
			if n > 1 {
				room = later
			}
			if high(g, joined) <= room {
				pages[n-1] = joined
				continue
			}
		}
		pages = append(pages, []strip{st})
	}
	out := make([]Scene, len(pages))
	for i, p := range pages {
		out[i] = page(g, p, pageTitle(g, p, i, len(pages)))
	}
	return out
}

func pageTitle(g PlanPicture, p []strip, i, of int) string {
	if of == 1 {
		return g.Title
	}
	zone := g.Zone
	if zone == nil {
		zone = time.UTC
	}
	from, to := p[0].From.In(zone), p[len(p)-1].To.Add(-time.Minute).In(zone)
	title := from.Format("Mon 2 Jan")
	if last := to.Format("Mon 2 Jan"); last != title {
		title += " to " + last
	}
	title += fmt.Sprintf(" · %d of %d", i+1, of)
	if g.Title != "" {
		title = g.Title + " · " + title
	}
	return title
}

// high is the height of a page of strips, whatever its number.
func high(g PlanPicture, strips []strip) float64 {
	const most = 999 // pages that a title certainly has room for
	return float64(page(g, strips, pageTitle(g, strips, most-1, most)).Height)
}

// page draws strips one below the other with their key.
func page(g PlanPicture, strips []strip, title string) Scene {
	c := newGantt(g)
	c.Title = Printable(title)
	y := c.title(title)
	for i, st := range strips {
		if i > 0 {
			y += stripGap
		}
		y = c.strip(st, y)
	}
	c.Height = geom.MM(c.key(y + 5.5))
	return c.Scene
}

// strips cuts the plan: into as many days per strip as the numbers allow, then by lanes if a strip alone is too high.
func (c *gantt) strips(limit float64) []strip {
	whole := extent(c.plan)
	lanes := c.lanes()
	days := len(midnights(whole.From, whole.To, c.zone))
	least := (days + mostStrips - 1) / mostStrips
	spans := []Span{whole}
	for _, n := range []int{28, 21, 14, 7, 5, 4, 3, 2, 1} {
		if c.readable(spans, lanes) {
			break
		}
		if n < days {
			spans = c.windows(whole, max(n, least))
		}
	}
	var out []strip
	for _, s := range spans {
		st := strip{Span: s}
		for i, l := range lanes {
			// An empty lane says that a maker or place has no work; an empty drying lane says nothing.
			if i < len(c.plan.Lanes) || len(l.within(s).cures) > 0 {
				st.lanes = append(st.lanes, l)
			}
		}
		out = append(out, c.shared(st, limit)...)
	}
	return out
}

// readable reports whether, cut this way, almost all bars have their numbers inside or at least above them.
func (c *gantt) readable(spans []Span, lanes []fullLane) bool {
	all, outside, far := 0, 0, 0
	for _, s := range spans {
		c.axis = newAxis(s, c.plan.Open, c.left, c.right)
		for _, l := range lanes {
			bars := l.within(s).Bars
			row, n := c.packed(bars)
			busy := make([]float64, n)
			for i, b := range bars {
				all++
				if c.numberFits(b) {
					continue
				}
				outside++
				x, w, shift := c.outside(b, busy[row[i]])
				if shift <= astray*w {
					busy[row[i]] = x + w
				}
				if shift > w/2 {
					far++
				}
			}
		}
	}
	return float64(outside) <= numbersOutside*float64(all) && float64(far) <= numbersAstray*float64(all)
}

// windows cuts the whole into stretches of n days: calendar weeks without the closed days at their ends, or days on which
// something starts, is worked on or ends. Empty stretches are left out.
func (c *gantt) windows(whole Span, n int) []Span {
	y, m, d := whole.From.In(c.zone).Date()
	if n%7 == 0 {
		d -= (int(whole.From.In(c.zone).Weekday()) + 6) % 7
	}
	day := func(i int) time.Time { return time.Date(y, m, d+i, 0, 0, 0, 0, c.zone) }
	busy := c.eventful()
	open := func(i int) bool {
		s := Span{day(i), day(i + 1)}
		return busy(s) || n%7 == 0 && len(mergeSpans(s, c.plan.Open)) > 0
	}
	var out []Span
	for i := 0; day(i).Before(whole.To); {
		if n%7 == 0 {
			from, to := i, i+n
			if busy(Span{day(from), day(to)}) {
				for from < to-1 && (!day(from+1).After(whole.From) || !open(from)) { // a picture begins with the first day of the plan
					from++
				}
				for to-1 > from && !open(to-1) {
					to--
				}
				out = append(out, Span{day(from), day(to)})
			}
			i += n
			continue
		}
		if !open(i) {
			i++
			continue
		}
		const bridge = 3 // days of a weekend, which do not break a stretch
		last := i
		for j, count := i+1, 1; count < n && j-last <= bridge && day(j).Before(whole.To); j++ {
			if open(j) {
				last, count = j, count+1
			}
		}
		out = append(out, Span{day(i), day(last + 1)})
		i = last + 1
	}
	if len(out) == 0 {
		out = append(out, whole)
	}
	return out
}

// eventful reports whether anything starts, is worked on or ends within a stretch of time.
func (c *gantt) eventful() func(Span) bool {
	var work []Span
	var moments []time.Time
	for _, l := range c.lanes() {
		for _, b := range l.Bars {
			work = append(work, b.Spans...)
		}
		for _, q := range l.cures {
			moments = append(moments, q.From, q.Ready, q.Latest)
			for _, w := range q.Windows {
				moments = append(moments, w.From, w.To)
			}
		}
	}
	moments = append(moments, c.plan.Now) // a page for nothing but the date promised would be an empty one
	for _, p := range c.plan.Promises {
		moments = append(moments, p.At)
	}
	return func(s Span) bool {
		for _, w := range work {
			if w.valid() && w.From.Before(s.To) && w.To.After(s.From) {
				return true
			}
		}
		for _, t := range moments {
			if !t.Before(s.From) && t.Before(s.To) {
				return true
			}
		}
		return false
	}
}

// shared splits the strip's lanes, in order, into as few strips as it takes for each to fit in a scene with its key.
func (c *gantt) shared(st strip, limit float64) []strip {
	var out []strip
	for len(st.lanes) > 0 {
		n := len(st.lanes)
		for n > 1 && high(c.plan, []strip{{st.Span, st.lanes[:n]}}) > limit {
			n--
		}
		out = append(out, strip{st.Span, st.lanes[:n]})
		st.lanes = st.lanes[n:]
	}
	if out == nil {
		return []strip{st}
	}
	return out
}
