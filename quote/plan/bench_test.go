package plan

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// commission is five assemblies of eight operations each, two makers, one booth and a rack, with promises.
func commission() Problem {
	p := Problem{Start: time.Date(2026, 9, 7, 6, 0, 0, 0, time.UTC), Calendar: weekdays("Europe/Berlin", "2026-09-18"),
		Resources: append(maker(2), Resource{ID: "booth", Kind: "booth", Capacity: 1}, Resource{ID: "rack", Kind: "bench", Capacity: 4}),
		Schedules: 200, Runs: 500, Seed: 7}
	day := func(d, h int) time.Time { return time.Date(2026, 9, d, h, 0, 0, 0, time.UTC) }
	p.Busy = []Busy{{"maker1", day(8, 7), day(8, 11), "B-12"}, {"booth", day(10, 7), day(10, 16), "B-12"}, {"maker2", day(14, 7), day(15, 16), "B-13"}}
	booth := []Need{{"maker"}, {"booth"}}
	for a, name := range []string{"cuirass", "left pauldron", "right pauldron", "helm", "gauntlets"} {
		id := func(s string) string { return fmt.Sprintf("%s%d", s, a+1) }
		add := func(kind string, d Minutes, needs []Need, whole bool, after ...Lag) {
			p.Operations = append(p.Operations, Operation{ID: id(kind), Title: kind + ", " + name, Group: name, Kind: kind, Duration: d,
				Low: d * 8 / 10, High: d * 16 / 10, Needs: needs, Whole: whole, After: after})
		}
		add("cut", 90+Minutes(a)*15, byMaker, false)
		add("form", 60, byMaker, true, Lag{After: id("cut")})
		add("glue", 120+Minutes(a)*20, []Need{{"maker"}, {"bench"}}, false, Lag{After: id("form")})
		add("seal", 30, byMaker, true, Lag{After: id("glue"), Min: 60, Cure: "solvent contact cement"})
		add("prime", 40, booth, true, Lag{After: id("seal")})
		add("second prime", 40, booth, true, Lag{After: id("prime"), Min: 75, Max: 360, Cure: "flexible primer"})
		add("paint", 150, booth, true, Lag{After: id("second prime"), Min: 225, Cure: "flexible primer"})
		add("varnish", 45, booth, true, Lag{After: id("paint"), Min: 300, Cure: "acrylic paint"})
		last := &p.Operations[len(p.Operations)-1]
		last.Tail, last.TailCure = 24*60, "polyurethane varnish, water-based"
	}
	return p
}

func BenchmarkCommission(b *testing.B) {
	p := commission()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Solve(context.Background(), p, nil); err != nil {
			b.Fatal(err)
		}
	}
}
