package schedule

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"benchbell/quote/plan"
)

// commission is five assemblies of eight operations each, two makers, one booth and a rack, with promises.
func commission() plan.Problem {
	p := plan.Problem{Start: time.Date(2026, 9, 7, 6, 0, 0, 0, time.UTC), Calendar: weekdays("Europe/Berlin", "2026-09-18"),
		Resources: append(maker(2), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}, plan.Resource{ID: "rack", Kind: "bench", Capacity: 4}),
		Schedules: 200, Runs: 500, Seed: 7}
	day := func(d, h int) time.Time { return time.Date(2026, 9, d, h, 0, 0, 0, time.UTC) }
	p.Busy = []plan.Busy{{Resource: "maker1", From: day(8, 7), To: day(8, 11), Label: "B-12"}, {Resource: "booth", From: day(10, 7), To: day(10, 16), Label: "B-12"}, {Resource: "maker2", From: day(14, 7), To: day(15, 16), Label: "B-13"}}
	booth := []plan.Need{{Kind: "maker"}, {Kind: "booth"}}
	for a, name := range []string{"cuirass", "left pauldron", "right pauldron", "helm", "gauntlets"} {
		id := func(s string) string { return fmt.Sprintf("%s%d", s, a+1) }
		add := func(kind string, d plan.Minutes, needs []plan.Need, whole bool, after ...plan.Lag) {
			p.Operations = append(p.Operations, plan.Operation{ID: id(kind), Title: kind + ", " + name, Group: name, Kind: kind, Duration: d,
				Low: d * 8 / 10, High: d * 16 / 10, Needs: needs, Whole: whole, After: after})
		}
		add("cut", 90+plan.Minutes(a)*15, byMaker, false)
		add("form", 60, byMaker, true, plan.Lag{After: id("cut")})
		add("glue", 120+plan.Minutes(a)*20, []plan.Need{{Kind: "maker"}, {Kind: "bench"}}, false, plan.Lag{After: id("form")})
		add("seal", 30, byMaker, true, plan.Lag{After: id("glue"), Min: 60, Cure: "solvent contact cement"})
		add("prime", 40, booth, true, plan.Lag{After: id("seal")})
		add("second prime", 40, booth, true, plan.Lag{After: id("prime"), Min: 75, Max: 360, Cure: "flexible primer"})
		add("paint", 150, booth, true, plan.Lag{After: id("second prime"), Min: 225, Cure: "flexible primer"})
		add("varnish", 45, booth, true, plan.Lag{After: id("paint"), Min: 300, Cure: "acrylic paint"})
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

// BenchmarkRuns is 10,000 runs of 144 operations with calendars, closed days, promises, cures and windows on one core.
func BenchmarkRuns(b *testing.B) {
	p := shopOf144()
	p.Runs = 0
	m, err := compile(&p)
	if err != nil {
		b.Fatal(err)
	}
	g := newGenerator(m)
	people, err := search(m, 50, 0, newMeter(context.Background(), Options{}, 50, 0))
	if err != nil {
		b.Fatal(err)
	}
	copy(g.wanted, people[0].wanted)
	if err := g.run(people[0].list); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		policy, err := newPolicy(m, g)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := policy.simulate(10_000, newMeter(context.Background(), Options{}, 0, 10_000)); err != nil {
			b.Fatal(err)
		}
	}
}

// shopOf144 is three commissions of six assemblies of eight operations each, on four makers.
func shopOf144() plan.Problem {
	p := commission()
	p.Resources = append(maker(4), plan.Resource{ID: "booth", Kind: "booth", Capacity: 2}, plan.Resource{ID: "rack", Kind: "bench", Capacity: 8})
	one := p.Operations
	for _, o := range one[:8] { // a sixth assembly
		o.ID = o.ID[:len(o.ID)-1] + "6"
		o.Group, o.After = "greaves", append([]plan.Lag(nil), o.After...)
		for k := range o.After {
			o.After[k].After = o.After[k].After[:len(o.After[k].After)-1] + "6"
		}
		one = append(one, o)
	}
	p.Operations = nil
	for _, project := range []string{"C1", "C2", "C3"} {
		p.Projects = append(p.Projects, plan.Project{ID: project})
		for _, o := range one {
			o.ID, o.Project, o.After = project+"/"+o.ID, project, append([]plan.Lag(nil), o.After...)
			for k := range o.After {
				o.After[k].After = project + "/" + o.After[k].After
			}
			p.Operations = append(p.Operations, o)
		}
	}
	return p
}

// BenchmarkCoats is two chains of coats on one booth with two makers, each coat within two hours of its time or from the
// next day on: four coats each are solved to the end, eight each use the budget up.
func BenchmarkCoats(b *testing.B) {
	for _, n := range []int{4, 8} {
		p := commission()
		p.Operations = nil
		for _, chain := range []string{"a", "b"} {
			for i := range n {
				o := plan.Operation{ID: fmt.Sprint(chain, i), Duration: 60 + plan.Minutes(30*(i%2)), Needs: []plan.Need{{Kind: "maker"}, {Kind: "booth"}}, Whole: true}
				if i > 0 {
					o.After = []plan.Lag{{After: fmt.Sprint(chain, i-1), Windows: []plan.LagWindow{{From: 60, To: 180}, {From: 24 * 60}}}}
				}
				p.Operations = append(p.Operations, o)
			}
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Solve(context.Background(), p, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkBreeding is generation alone, bred from two populations without settling, on one core: projects of 30, 60 and 120
// operations on four resources in a shop that is open day and night.
func BenchmarkBreeding(b *testing.B) {
	for _, n := range []int{30, 60, 120} {
		p := plan.Problem{Start: midnight, Calendar: always(), Seed: 1}
		for k := range 4 {
			p.Resources = append(p.Resources, plan.Resource{ID: fmt.Sprint("R", k), Kind: fmt.Sprint("R", k), Capacity: 20})
		}
		draw := rand.New(rand.NewPCG(1, uint64(n)))
		for i := range n {
			o := plan.Operation{ID: fmt.Sprint(i), Duration: plan.Minutes(1+draw.IntN(10)) * plan.Grid}
			for range 1 + draw.IntN(9) {
				o.Needs = append(o.Needs, plan.Need{Kind: fmt.Sprint("R", draw.IntN(4))})
			}
			for j := range i {
				if draw.IntN(n) < 2 {
					o.After = append(o.After, plan.Lag{After: fmt.Sprint(j)})
				}
			}
			p.Operations = append(p.Operations, o)
		}
		m, err := compile(&p)
		if err != nil || m.plain == nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			schedules := 0
			for b.Loop() {
				s := newIsland(m, 0, 5000, beginning)
				s.run(5000, newMeter(context.Background(), Options{}, 5000, 0))
				schedules += s.done
			}
			b.ReportMetric(float64(schedules)/b.Elapsed().Seconds(), "schedules/s")
		})
	}
}
