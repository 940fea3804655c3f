package check

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
)

// needs looks at what each operation has: the kinds and skills it needs, and a place for its cures.
func (c *checker) needs() error {
	for i := range c.work {
		w := &c.work[i]
		if err := c.has(w); err != nil {
			return fmt.Errorf("%s: %w", w.name(), err)
		}
		if err := c.lies(w); err != nil {
			return fmt.Errorf("%s: %w", w.name(), err)
		}
	}
	return nil
}

func (c *checker) has(w *work) error {
	has, needs := w.got.Resources, w.ask.Needs
	for _, id := range has {
		if _, ok := c.resources[id]; !ok {
			return fmt.Errorf("resource %q is none of the studio's", id)
		}
	}
	switch {
	case len(w.ask.By) > 0:
		if !slices.Equal(sorted(has), sorted(w.ask.By)) {
			return fmt.Errorf("it has begun with %q and is planned with %q", w.ask.By, has)
		}
		return nil
	case !w.ask.Finished.IsZero():
		return nil // who did it is not known
	case w.began && !w.got.End.After(c.start):
		return nil
	}
	var want, got []string
	for _, n := range needs {
		want = append(want, n.Kind)
	}
	for _, id := range has {
		got = append(got, c.resources[id].Kind)
	}
	if want, got = sorted(want), sorted(got); !slices.Equal(want, got) {
		return fmt.Errorf("it has resources of the kinds %q and needs %q", got, want)
	}
	if k := c.unmet(needs, has); k >= 0 {
		return fmt.Errorf("among its resources %q a %s with the skill %q is missing", has, needs[k].Kind, needs[k].Skill)
	}
	return nil
}

func sorted(list []string) []string {
	out := slices.Clone(list)
	slices.Sort(out)
	return out
}

// unmet gives each need a unit of its own and returns a need that is left without one, or -1: a need without a unit takes one
// that suits it, and who had that looks for another.
func (c *checker) unmet(needs []plan.Need, units []string) int {
	has := make([]int, len(units)) // the need that has a unit, or -1
	for u := range has {
		has[u] = -1
	}
	var tried []bool
	var take func(n int) bool
	take = func(n int) bool {
		for u, id := range units {
			r := c.resources[id]
			if tried[u] || r.Kind != needs[n].Kind || needs[n].Skill != "" && !slices.Contains(r.Skills, needs[n].Skill) {
				continue
			}
			tried[u] = true
			if has[u] < 0 || take(has[u]) {
				has[u] = n
				return true
			}
		}
		return false
	}
	for n := range needs {
		tried = make([]bool, len(units))
		if !take(n) {
			return n
		}
	}
	return -1
}

// rack is the kind of place that what follows an operation cures on, and until when: the end of the longest of the cures that
// name it. The kind is empty where nothing needs a place.
func (c *checker) rack(w *work) (kind string, until time.Time) {
	until = w.got.End
	add := func(k string, t time.Time) {
		if k != "" && t.After(w.got.End) {
			kind, until = k, latest(until, t)
		}
	}
	for _, n := range w.next {
		follows := &c.work[n.work]
		add(follows.ask.After[n.lag].Rack, follows.lags[n.lag].windows[0].opens)
	}
	add(w.ask.TailRack, w.over())
	return kind, until
}

func (c *checker) lies(w *work) error {
	kind, until := c.rack(w)
	switch r, ok := c.resources[w.got.Rack]; {
	case kind == "" && w.got.Rack != "":
		return fmt.Errorf("it has a place on %q for its cures and needs none", w.got.Rack)
	case kind == "" || !until.After(c.start) && w.got.Rack == "":
		return nil // nothing lies there, or no longer
	case !ok || r.Kind != kind:
		return fmt.Errorf("its cures need a place on a %s until %s and have one on %q", kind, clock(until), w.got.Rack)
	}
	return nil
}

// claim is a unit of a resource, occupied for a time.
type claim struct {
	from, to time.Time
	work     *work  // whose; none: promised
	cures    bool   // what follows work lies there
	label    string // of a promise
}

// planned reports whether it is neither promised nor begun.
func (k claim) planned() bool { return k.work != nil && !k.work.began }

func (k claim) who() string {
	switch {
	case k.work == nil:
		return fmt.Sprintf("promised time %q", k.label)
	case k.cures:
		return "what follows " + k.work.name()
	}
	return k.work.name()
}

// capacity looks at every resource through time, wherever something planned has it.
func (c *checker) capacity() error {
	claims := make(map[string][]claim, len(c.resources))
	add := func(id string, k claim) {
		if k.from.Before(k.to) {
			claims[id] = append(claims[id], k)
		}
	}
	for _, b := range c.p.Busy {
		add(b.Resource, claim{from: b.From, to: b.To, label: b.Label})
	}
	for i := range c.work {
		w := &c.work[i]
		for _, id := range w.got.Resources {
			for _, s := range w.got.Spans {
				add(id, claim{from: s.From, to: s.To, work: w})
			}
		}
		if w.got.Rack != "" {
			_, until := c.rack(w)
			add(w.got.Rack, claim{from: w.got.End, to: until, work: w, cures: true})
		}
	}
	for _, r := range c.p.Resources {
		if err := within(r, claims[r.ID]); err != nil {
			return err
		}
	}
	return nil
}

// within goes through the claims on one resource from beginning to beginning: only there can there be more than before.
func within(r plan.Resource, claims []claim) error {
	slices.SortStableFunc(claims, func(a, b claim) int { return a.from.Compare(b.from) })
	var open []claim
	for k, x := range claims {
		open = slices.DeleteFunc(open, func(o claim) bool { return !x.from.Before(o.to) })
		open = append(open, x)
		if k+1 < len(claims) && claims[k+1].from.Equal(x.from) || len(open) <= r.Capacity {
			continue
		}
		if at := slices.IndexFunc(open, claim.planned); at >= 0 {
			other := open[(at+1)%len(open)]
			return fmt.Errorf("resource %q is used or promised %d times at %s, its capacity is %d: by %s and by %s",
				r.ID, len(open), clock(x.from), r.Capacity, open[at].who(), other.who())
		}
	}
	return nil
}

// changes is how often an operation with a set-up follows one with another on a place, in order of start and then of the
// problem. A maker needs none.
func (c *checker) changes() int {
	now := map[string]string{}
	n := 0
	for _, i := range c.sorted() {
		w := &c.work[i]
		if w.ask.Setup == "" {
			continue
		}
		for _, id := range slices.Compact(sorted(w.got.Resources)) {
			if c.resources[id].Kind == "maker" {
				continue
			}
			if now[id] != "" && now[id] != w.ask.Setup {
				n++
			}
			now[id] = w.ask.Setup
		}
	}
	return n
}
