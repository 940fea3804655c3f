package check

import (
	"fmt"
	"slices"

	"benchbell/quote/plan"
)

// objectives looks at what the plan says it is worth: each objective once, those that the problem names first and in its order, and
// those that follow from times and dates with their values. A plan may say nothing of it.
func (c *checker) objectives() error {
	if len(c.s.Objectives) == 0 {
		return nil
	}
	moved, missed := int64(0), int64(0)
	for i := range c.work {
		w := &c.work[i]
		if w.began || w.ask.Planned.IsZero() {
			continue
		}
		was, is, until := up(w.ask.Planned), w.got.Start, c.p.Frozen
		if !was.Equal(is) && (until.IsZero() || was.Before(until) || is.Before(until)) {
			moved++
		}
	}
	for _, d := range c.s.Dates {
		if x := c.projects[d.Project]; x.Promised && !x.Due.IsZero() && d.P80.After(x.Due) {
			missed++
		}
	}
	want := map[string]int64{plan.Setups: int64(c.s.Changes), plan.Moves: moved, plan.Promises: missed}
	var names []string
	for k, x := range c.s.Objectives {
		if k < len(c.p.Order) && x.Name != c.p.Order[k] {
			return fmt.Errorf("objective %d of the plan is %q, the problem's is %q", k+1, x.Name, c.p.Order[k])
		}
		if slices.Contains(names, x.Name) {
			return fmt.Errorf("the plan says twice what its objective %q is", x.Name)
		}
		names = append(names, x.Name)
		if v, ok := want[x.Name]; ok && v != x.Value {
			return fmt.Errorf("the plan's objective %q is said to be %d, by its times it is %d", x.Name, x.Value, v)
		}
	}
	for _, name := range plan.UsualOrder() {
		if !slices.Contains(names, name) {
			return fmt.Errorf("the plan does not say what its objective %q is", name)
		}
	}
	return nil
}
