package schedule

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
)

func TestRealClocks(t *testing.T) {
	day := func(h, m int) time.Time { return time.Date(2026, 6, 1, h, m, 0, 0, time.UTC) }
	p := plan.Problem{Start: day(11, 0), Calendar: weekdays("UTC"), Resources: append(maker(1), plan.Resource{ID: "line", Kind: "rack", Capacity: 1}), Operations: []plan.Operation{
		{ID: "prime", Duration: 60, Needs: byMaker, Whole: true, Started: day(9, 2), Finished: day(10, 3)},
		{ID: "paint", Duration: 60, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "prime", Min: 180, Max: 480, Cure: "primer", Rack: "rack"}}},
		{ID: "cut", Duration: 120, Needs: byMaker, Started: day(10, 3)},
		{ID: "seal", Duration: 30, Needs: byMaker, Tail: 60, TailRack: "rack"},
	}}
	s := solve(t, p)
	at(t, "running until its two hours are over", operationOf(s, "cut").End, "2026-06-01T12:00:00Z")
	at(t, "three hours after the brush was put down", operationOf(s, "prime").Cure.Ready, "2026-06-01T13:05:00Z")
	// sealed at noon it would need the rack before that; with five minutes of it left for after the break, it does not
	at(t, "the rack is free for what is sealed when the primer is hard", operationOf(s, "seal").Start, "2026-06-01T12:35:00Z")
	at(t, "sealed after the break", operationOf(s, "seal").End, "2026-06-01T14:05:00Z")
	at(t, "painting after that", operationOf(s, "paint").Start, "2026-06-01T14:05:00Z")
	if operationOf(s, "prime").Rack != "line" || operationOf(s, "seal").Rack != "line" {
		t.Errorf("cures lie on %q and %q", operationOf(s, "prime").Rack, operationOf(s, "seal").Rack)
	}
	// overdue: at least another step
	p.Operations[2].Started = day(9, 0)
	p.Start = day(12, 30)
	at(t, "overdue work", operationOf(solve(t, p), "cut").End, "2026-06-01T12:35:00Z")
	for _, c := range []struct {
		change func(*plan.Operation)
		words  string
	}{
		{func(o *plan.Operation) { o.Started = time.Time{} }, "never started"},
		{func(o *plan.Operation) { o.Finished = day(8, 0) }, "before it was started"},
		{func(o *plan.Operation) { o.Finished = day(19, 0) }, "after the plan's start"},
		{func(o *plan.Operation) { o.By = []string{"nobody"} }, "nobody"},
	} {
		q := p
		q.Operations = slices.Clone(p.Operations)
		c.change(&q.Operations[0])
		if _, err := Solve(context.Background(), q, nil); err == nil || !strings.Contains(err.Error(), c.words) {
			t.Errorf("got %v, want words %q", err, c.words)
		}
	}
}
