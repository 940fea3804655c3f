package floor

import (
	"testing"
	"time"

	"benchbell/quote/plan/check"
	"benchbell/quote/settings"
)

// A shop with more work than can be searched at once has a plan all the same.
func TestPlanOfAFullShop(t *testing.T) {
	for _, n := range []int{40, 100} {
		open := opened(t, n)
		first := planned(t, open, shopNow)
		if err := check.Plan(first.sh.problem, first.Plan); err != nil {
			t.Error(err)
		}
	}
}

// BenchmarkHundred is a hundred commissions: planned from scratch, planned again after a day and a half at the bench, and a
// what-if.
func BenchmarkHundred(b *testing.B) {
	st := settings.Demo()
	fresh := opened(b, 100)
	first, err := Plan(b.Context(), fresh, st, shopNow, nil)
	if err != nil {
		b.Fatal(err)
	}
	now := shopNow.Add(51 * time.Hour)
	open := worked(promise(take(fresh, first), first, func(i int) int { return i%4 + 2 }), now, func(string) time.Duration { return 40 * time.Minute })
	for name, ask := range map[string]func() error{
		"scratch": func() error { _, err := Plan(b.Context(), fresh, st, shopNow, nil); return err },
		"again":   func() error { _, err := Plan(b.Context(), open, st, now, nil); return err },
		"what if": func() error { _, err := WhatIf(b.Context(), open, st, now, "C0010", "2026-11-17"); return err },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := ask(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
