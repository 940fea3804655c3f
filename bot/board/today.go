package board

import (
	"fmt"
	"slices"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote/plan"
)

// early is how long before a time that was agreed a client may be there.
const early = 30 * time.Minute

// aheadShown is how many operations of later days a maker is offered; more would bury today's.
const aheadShown = 4

// step is one operation as a row of the day.
type step struct {
	ID                     string
	Commission, Title      string
	Operation              int
	Verb, Say              string // of its button; empty: it has none
	Takes, From, Place, Of string // how long, from when, where, with whom
	Waits                  string // why it cannot be begun
	InHand                 bool
	Window                 string // of the coat before it, when it closes
	Closing                bool   // soon, or it has
	Refused                string // why the press did nothing
	Asked                  string // what the press would do
	Effects                []string
	Seen                   string
	Told                   bool // it is what the page leads to: what was refused or asked

	Token, Whose string `json:"-"`
}

// bench is what one maker has to do.
type bench struct {
	ID, Rev, Name string
	Away          string
	Done, All     int
	Now           *step
	Rest          []step
	Ahead         []step
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
	row := func(op shop.Operation, maker string) step {
		s := step{ID: fmt.Sprintf("%s-%s-%d", maker, op.Commission, op.Seq), Commission: string(op.Commission), Title: title(op), Operation: op.Seq,
			Takes: span(takes(op)), From: o.clock(op.Start), Token: v.Token, Whose: o.Whose}
		for _, r := range op.Resources {
			if t := places[r]; t != "" && s.Place == "" {
				s.Place = t
			}
			i := slices.IndexFunc(makers, func(m plan.Resource) bool { return m.ID == r })
			if i >= 0 && r != maker && maker != nobody {
				s.Of = makers[i].Title
			}
		}
		for _, x := range d.Drying {
			if x.Next != nil && x.Next.Commission == op.Commission && x.Next.Seq == op.Seq && !x.Closes.IsZero() {
				s.Window, s.Closing = o.window(d.At, x), x.Closing || x.Missed
			}
		}
		if n.of(s.Commission, s.Operation) {
			s.Told, noted = !noted, true
			s.Refused, s.Effects = n.say(o.frame)
			if n.No.Seen != "" {
				s.Asked, s.Refused, s.Seen = s.Refused, "", n.No.Seen
			}
		}
		return s
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
				x.Away = o.clock(a.To)
			}
		}
		for _, op := range d.Done {
			if has(op, m.ID) {
				x.Done++
			}
		}
		x.All = x.Done
		var today []dated
		for _, l := range d.Lines {
			if !has(l.Operation, m.ID) {
				continue
			}
			s := row(l.Operation, m.ID)
			s.InHand, s.Verb, s.Say = l.Rank == shop.InHand, "start", "Start"
			if s.InHand {
				s.Verb, s.Say = "done", "Done"
				s.From = "since " + o.clock(l.Operation.StartedAt)
			} else {
				s.From = "from " + s.From
			}
			if a := l.Meeting; a != nil {
				if a.At.IsZero() {
					s.Waits = "the client has picked no time yet"
				} else {
					s.Waits = "agreed with the client for " + o.clock(a.At)
				}
				if a.At.Sub(d.At) > early { // the client is not there
					s.Verb, s.Say = "", ""
				}
			}
			if l.Rank == shop.CouldBegin {
				x.Ahead = append(x.Ahead, s)
				continue
			}
			x.All++
			if x.Now == nil && s.Verb != "" {
				x.Now = &s
				continue
			}
			today = append(today, dated{l.Operation.Start, s})
		}
		for _, w := range d.Waiting {
			if has(w.Operation, m.ID) {
				s := row(w.Operation, m.ID)
				s.From = "from " + s.From
				if s.Refused == "" { // which says it
					s.Waits = o.waits(w.Wait)
				}
				x.All++
				today = append(today, dated{w.Operation.Start, s})
			}
		}
		// What is in hand stays first, all else comes as it is planned.
		slices.SortStableFunc(today, func(a, b dated) int {
			if a.InHand != b.InHand {
				if a.InHand {
					return -1
				}
				return 1
			}
			return a.at.Compare(b.at)
		})
		for _, s := range today {
			x.Rest = append(x.Rest, s.step)
		}
		if x.Now == nil && len(x.Ahead) > 0 {
			x.Now, x.Ahead = &x.Ahead[0], x.Ahead[1:]
		}
		x.Ahead = x.Ahead[:min(len(x.Ahead), aheadShown)]
		if m.ID == nobody && x.Now == nil && len(x.Rest) == 0 {
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
	o.Drying = o.dryings(d)
	o.Empty = len(d.Lines) == 0 && len(d.Waiting) == 0 && len(d.Drying) == 0
	return o
}

// dated is a step with when it is planned.
type dated struct {
	at time.Time
	step
}
