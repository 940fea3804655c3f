package engine_test

import (
	"strings"
	"testing"

	"benchbell/quote/engine"
	"benchbell/quote/measure"
	"benchbell/quote/quotetest"
)

// A body that nothing can be made to is found out before anything is nested, and the client is told in words they know which
// measurement it is.
func TestFits(t *testing.T) {
	s := quotetest.Snapshot(t)
	if err := engine.Fits(s); err != nil {
		t.Fatal(err)
	}
	off := map[string]bool{}
	for i, was := range s.Body {
		s.Body[i].Value = was.Value * 3
		no := engine.Fits(s)
		_, err := engine.Compute(t.Context(), s, nil)
		if (no == nil) != (err == nil) || no != nil && no.Error() != err.Error() {
			t.Errorf("%s: Fits says %v, Compute %v", was.Key, no, err)
		}
		s.Body[i] = was
		told, ok := no.(interface{ Client() string })
		if !ok {
			t.Errorf("%s three times as large is told as %v", was.Key, no)
			continue
		}
		d, _ := measure.Lookup(was.Key)
		say := told.Client()
		if !strings.Contains(say, strings.ToLower(d.Label)) || strings.Contains(say, was.Key) || !strings.Contains(say, "measure again") {
			t.Errorf("%s: %q does not name it as a client knows it", was.Key, say)
		}
		off[was.Key] = true
	}
	if len(off) < 10 {
		t.Errorf("only %d measurements were tried", len(off))
	}
	s.Finish = "nonsense"
	if err := engine.Fits(s); err != nil {
		t.Errorf("an unknown finish is no misfit: %v", err)
	}
}
