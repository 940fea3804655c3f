package board

import (
	"strings"
	"testing"
	"time"

	"benchbell/bot/shop"
)

// A question says what would be broken where no promise is hurt: an agreed time, a recoat window.
func TestQuestionSaysWhatElseWouldBreak(t *testing.T) {
	at := time.Date(2026, 11, 30, 10, 0, 0, 0, time.UTC)
	no := &shop.Refusal{Kind: shop.Hurts, Seen: "x", Broken: []shop.Broken{
		{Commission: "C0002", Client: "Ilka", Which: "first fitting", Picked: at.Add(24 * time.Hour), Now: at.Add(48 * time.Hour)},
		{Commission: "C0003", Client: "Nils", Missed: 0.6}}}
	no.Operation.Title = "Priming"
	say, lines := note{No: no, Do: "again"}.say(frame{Zone: time.UTC, At: at})
	if !strings.Contains(say, "“Priming” to be done again") || strings.Contains(say, "promise") {
		t.Errorf("it asks %q", say)
	}
	want := []string{"C0002 · Ilka: first fitting agreed for Tue 1 Dec, 10:00; it could be Wed 2 Dec, 10:00 at the earliest",
		"C0003 · Nils: a recoat window would close before its coat is on, in 60 of 100 simulated runs"}
	if strings.Join(lines, "\n") != strings.Join(want, "\n") {
		t.Errorf("it lists\n%s", strings.Join(lines, "\n"))
	}
	no.Effects = []shop.Effect{{Commission: "C0004", Client: "Ola", Promise: "2026-12-18", After: 0.2, Before: 0.9, Hurt: true}}
	if say, lines = (note{No: no, Do: "again"}).say(frame{Zone: time.UTC, At: at}); !strings.Contains(say, "a promise would be in danger") || len(lines) != 3 {
		t.Errorf("with a promise hurt it asks %q and lists %d", say, len(lines))
	}
}
