package compute_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"benchbell/jobs"
	"benchbell/jobs/jobstest"
	"benchbell/quote"
	"benchbell/worker/compute"
)

func TestPanicBecomesAnErrorWithItsPlace(t *testing.T) {
	c := compute.With(func(context.Context, quote.Snapshot, quote.Progress) (quote.Quote, error) {
		panic("no such sheet")
	})
	q, err := c(context.Background(), jobstest.Request("panic"), nil)
	var p *jobs.PanicError
	if !errors.As(err, &p) || !strings.Contains(err.Error(), "no such sheet") || !strings.Contains(err.Error(), "compute_test.go") {
		t.Errorf("error is %v", err)
	}
	if q.Commission != "" {
		t.Errorf("a quote came with the error: %+v", q)
	}
}

func TestDeadlineReachesTheEngine(t *testing.T) {
	c := compute.With(func(ctx context.Context, _ quote.Snapshot, _ quote.Progress) (quote.Quote, error) {
		<-ctx.Done()
		return quote.Quote{}, ctx.Err()
	})
	r := jobstest.Request("late")
	r.Deadline = time.Now().Add(10 * time.Millisecond)
	if _, err := c(context.Background(), r, nil); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("error is %v", err)
	}
}

func TestEngineGetsTheSnapshot(t *testing.T) {
	r := jobstest.Request("snapshot")
	c := compute.With(func(_ context.Context, s quote.Snapshot, p quote.Progress) (quote.Quote, error) {
		p.At(quote.Nesting, 0.5)
		return quote.Quote{Commission: s.Commission, Revision: s.Revision}, nil
	})
	var stage quote.Stage
	q, err := c(context.Background(), r, func(at quote.Step) { stage = at.Stage })
	if err != nil || q.Commission != r.Snapshot.Commission || q.Revision != r.Snapshot.Revision || stage != quote.Nesting {
		t.Errorf("got %+v, stage %q, error %v", q, stage, err)
	}
}

func TestUnknownSnapshotVersionIsRefused(t *testing.T) {
	r := jobstest.Request("version")
	r.Snapshot.Version = quote.Version + 1
	if _, err := compute.New()(context.Background(), r, nil); err == nil || !strings.Contains(err.Error(), "version") {
		t.Errorf("error is %v", err)
	}
}
