package schedule

import (
	"fmt"
	"reflect"
	"testing"

	"benchbell/quote/plan"
)

// full is a shop of n commissions of forty operations each, on six makers, three booths and benches, taken on three working days
// apart and promised so that some are tight.
func full(n int) plan.Problem {
	p := commission()
	p.Calendar.Closed = nil
	p.Busy = nil
	p.Resources = append(maker(6), plan.Resource{ID: "booth", Kind: "booth", Capacity: 3}, plan.Resource{ID: "rack", Kind: "bench", Capacity: 8})
	one := p.Operations
	p.Operations = nil
	for c := range n {
		id := fmt.Sprintf("C%03d", c+1)
		p.Projects = append(p.Projects, plan.Project{ID: id, Promised: true, Due: p.Start.AddDate(0, 0, 10+c*2+(c*7)%9)})
		for k, o := range one {
			o.ID, o.Project, o.After = id+"/"+o.ID, id, append([]plan.Lag(nil), o.After...)
			o.Duration += plan.Minutes(5 * ((c + k) % 7))
			o.High += plan.Minutes(10 * ((c + k) % 7))
			for k := range o.After {
				o.After[k].After = id + "/" + o.After[k].After
			}
			p.Operations = append(p.Operations, o)
		}
	}
	return p
}

// A shop with more work than is searched at once has a plan, the same whatever the cores. Solve has every plan checked.
func TestLargeShops(t *testing.T) {
	for _, n := range []int{30, 100} {
		p := full(n)
		p.Schedules, p.Runs = 12, 40
		s, err := Solve(t.Context(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		again, err := Options{Workers: 4}.Solve(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(s, again) {
			t.Errorf("%d commissions planned by four workers have another plan", n)
		}
	}
}
