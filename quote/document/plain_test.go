package document

import (
	"strings"
	"testing"
	"time"

	"benchbell/quote"
)

// Shares and weights are said as people say them.
func TestPlainWords(t *testing.T) {
	for percent, want := range map[int]string{50: "about 5 times in 10", 80: "about 8 times in 10", 95: "about 19 times in 20"} {
		if got := howOften(percent); got != want {
			t.Errorf("%d %% is %q, want %q", percent, got, want)
		}
	}
	for grams, want := range map[float64]string{1681: "1.7 kg", 580: "0.6 kg", 500: "0.5 kg", 499: "500 g", 63.2: "70 g"} {
		if got := quote.Weight(grams); got != want {
			t.Errorf("%g g is %q, want %q", grams, got, want)
		}
	}
	q := quote.Quote{Hours: 22.9, HoursLow: 19, HoursHigh: 32, Grams: 1681}
	var text string
	for _, f := range facts(q, quote.Snapshot{}, quote.Finish{}, time.UTC) {
		text += f.Label + ": " + f.Value + "\n"
	}
	for _, want := range []string{"about 1.7 kg in all", "about 23 hours, most likely between 19 and 32"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not said: %s", want, text)
		}
	}
}
