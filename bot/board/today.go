package board

import (
	"slices"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote/plan"
)

// early is how long before a time that was agreed a client may be there.
const early = 30 * time.Minute

// justShown is how many of the operations that a maker has done stand open with what can be taken back; the others are folded.
const justShown = 1

// aheadShown is how many operations of later days a maker is offered; more would bury today's.
const aheadShown = 4

// bench is what one maker has to do.
type bench struct {
	ID, Rev, Name string
	Away          string
	Done, All     int
	Now           *step
	Rest          []step
	Ahead         []step
	Just          []step // done today, the last of it
	Past          []step // what was done before that
	Ribbon        *ribbon
}

// crumb leads to one maker's day, or to everybody's.
type crumb struct {
	Name, Path string
	Here       bool
}

type todayView struct {
	frame
	Whose   string
	Crumbs  []crumb
	Stray   []string // what was refused of operations that are not at the bench any more
	Benches []bench
	Drying  dryings
	Empty   bool
}

// nobody has the operations that the plan gives to no maker.
const nobody = "nobody"

func (b *Board) todayView(v Visit, d shop.BenchDay, whose string, n note) todayView {
	o := todayView{frame: b.frame(v, "Today", d.At), Whose: whose}
	var makers []plan.Resource
	places := map[string]string{}
	for _, r := range b.studio().Resources {
		if r.Kind == "maker" {
			makers = append(makers, r)
		} else {
			places[r.ID] = r.Title
		}
	}
	if !slices.ContainsFunc(makers, func(r plan.Resource) bool { return r.ID == whose }) {
		o.Whose = ""
	}
	if len(makers) > 1 {
		o.Crumbs = append(o.Crumbs, crumb{"Everybody", o.Base + "today", o.Whose == ""})
		for _, r := range makers {
			o.Crumbs = append(o.Crumbs, crumb{r.Title, o.Base + "today?for=" + r.ID, o.Whose == r.ID})
		}
	}
	noted := false
	// told has a step say what was refused of it, where it stands first.
	told := func(s *step) {
		s.Whose = o.Whose
		if n.of(s.Commission, s.Operation) {
			s.Told, noted = !noted, true
			s.told(o.frame, n)
			if s.Refused != "" {
				s.Waits = "" // which it says
			}
		}
	}
	has := func(op shop.Operation, maker string) bool {
		if maker != nobody {
			return slices.Contains(op.Resources, maker)
		}
		return !slices.ContainsFunc(makers, func(m plan.Resource) bool { return slices.Contains(op.Resources, m.ID) })
	}
	for _, m := range append(makers, plan.Resource{ID: nobody, Title: "For anybody"}) {
		if o.Whose != "" && o.Whose != m.ID && m.ID != nobody {
			continue
		}
		x := bench{ID: "m-" + m.ID, Name: m.Title}
		for _, a := range d.Away {
			if a.Maker == m.ID {
				x.Away = a.To.Add(-time.Second).In(o.Zone).Format("Mon 2 Jan")
			}
		}
		for i := len(d.Done) - 1; i >= 0; i-- {
			if !has(d.Done[i], m.ID) {
				continue
			}
			s := b.past(o.frame, d, d.Done[i], m.ID)
			told(&s)
			if x.Done++; x.Done <= justShown {
				x.Just = append(x.Just, s)
			} else {
				x.Past = append(x.Past, s)
			}
		}
		x.All = x.Done
		var today []dated
		for _, l := range d.Lines {
			if !has(l.Operation, m.ID) {
				continue
			}
			s := b.line(o.frame, d, l, m.ID)
			told(&s)
			if l.Rank == shop.CouldBegin {
				x.Ahead = append(x.Ahead, s)
				continue
			}
			x.All++
			if x.Now == nil && len(s.Buttons) > 0 && l.Operation.PausedAt.IsZero() {
				x.Now = &s
				continue
			}
			today = append(today, dated{l.Operation.Start, s})
		}
		for _, w := range d.Waiting {
			if has(w.Operation, m.ID) {
				s := b.row(o.frame, d, w.Operation, m.ID)
				s.Waits = o.waits(w.Wait, w.Operation.Group)
				told(&s)
				x.All++
				today = append(today, dated{w.Operation.Start, s})
			}
		}
		// What is in hand stays first, all else comes as it is planned.
		slices.SortStableFunc(today, func(a, b dated) int {
			if a.InHand() != b.InHand() {
				if a.InHand() {
					return -1
				}
				return 1
			}
			return a.at.Compare(b.at)
		})
		for _, s := range today {
			x.Rest = append(x.Rest, s.step)
		}
		if x.Now == nil { // what was put down is taken up again before anything new is begun far ahead
			if i := slices.IndexFunc(x.Rest, func(s step) bool { return len(s.Buttons) > 0 && s.Buttons[0].Main }); i >= 0 {
				now := x.Rest[i]
				x.Now, x.Rest = &now, slices.Delete(x.Rest, i, i+1)
			}
		}
		if x.Now == nil && len(x.Ahead) > 0 {
			x.Now, x.Ahead = &x.Ahead[0], x.Ahead[1:]
		}
		x.Ahead = x.Ahead[:min(len(x.Ahead), aheadShown)]
		if m.ID == nobody && x.Now == nil && len(x.Rest)+len(x.Just) == 0 {
			continue
		}
		x.Ribbon = o.ribbon(d, m.Title, func(op shop.Operation) bool { return has(op, m.ID) })
		x.Rev = revision(x)
		o.Benches = append(o.Benches, x)
	}
	if n.No != nil && !noted {
		say, _ := n.say(o.frame)
		o.Stray = []string{say}
	}
	o.Drying = b.dryings(o.frame, d, n)
	o.Empty = len(d.Lines) == 0 && len(d.Waiting) == 0 && len(d.Drying) == 0
	return o
}

// dated is a step with when it is planned.
type dated struct {
	at time.Time
	step
}
