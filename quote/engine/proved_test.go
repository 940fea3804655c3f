package engine

import (
	"context"
	"testing"

	"benchbell/quote/quotetest"
)

// The plan of a quote for three sets in an empty shop ends as early as any can, and that is proved: makers with their hours, cures and
// windows of 50 operations, for which ways and energy alone say less.
func TestAQuotesEndIsProved(t *testing.T) {
	q, err := Compute(context.Background(), quotetest.Snapshot(t, "forearm-cuff", "shin-guard", "breastplate"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if p := q.Plan; len(p.Operations) != 50 || !p.LowerBound.Equal(p.End) {
		t.Errorf("%d operations end at %v, at least %v", len(p.Operations), p.End, p.LowerBound)
	}
}
