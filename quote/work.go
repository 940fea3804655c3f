package quote

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"benchbell/quote/cure"
	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/pattern"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// A batch is what goes through the shop together: all the copies, left and right, of one item ordered (common
// practice, no source: an assembly is primed together).
type batch struct {
	number int // 1-based, as in piece labels
	title  string
	steps  map[string]bool // labour ops the set asks for; nil asks for whatever has a quantity
	graded []pattern.Graded
}

// Whole operations are not left half done: a coat, a glue-up. Longer than this they may be interrupted after all,
// since no shift would hold them.
const longestWhole = plan.Minutes(180)

// leastOperation is the shortest time an operation is planned with: one step of the grid.
const leastOperation = plan.Grid

// quantities of one batch, from its geometry.
type quantities struct {
	cut        map[geom.MM]float64 // metres by thickness
	bevel      float64             // m
	score      float64             // m
	formed     float64             // m²
	seam       float64             // m of joint
	seamArea   geom.MM2            // of joint, one face
	lap        geom.MM2
	holes      int
	sealed     float64  // m², both faces
	coated     geom.MM2 // outer faces and the edges around them
	pieces     int
	hardware   int
	assemblies int
}

func measureBatch(graded []pattern.Graded) quantities {
	q := quantities{cut: map[geom.MM]float64{}, assemblies: len(graded)}
	for _, g := range graded {
		for _, p := range g.Pieces {
			q.pieces++
			q.cut[p.Thickness] += p.Shape.CutLength().M()
			q.bevel += p.Bevel.M()
			for _, s := range p.Scores {
				q.score += s.Length().M()
			}
			if p.Formed {
				q.formed += p.Shape.Area().M2()
			}
			q.lap += p.Lap
			q.holes += len(p.Drills)
			if p.Sealed {
				q.sealed += 2 * p.Shape.Area().M2()
				q.coated += p.Shape.Area() + geom.MM2(float64(p.Shape.Outer.Perimeter())*float64(p.Thickness))
			}
		}
		for _, s := range g.Seams {
			n := float64(max(1, s.Count))
			q.seam += s.LengthA.M() * n
			q.seamArea += geom.MM2(float64(s.LengthA) * float64(s.Thickness) * n)
		}
		for _, h := range g.Hardware {
			q.hardware += max(1, h.Count)
		}
	}
	return q
}

func thicknesses(graded []pattern.Graded) []geom.MM {
	var out []geom.MM
	seen := map[geom.MM]bool{}
	for _, g := range graded {
		for _, p := range g.Pieces {
			if !seen[p.Thickness] {
				seen[p.Thickness] = true
				out = append(out, p.Thickness)
			}
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i] > out[j] })
	return out
}

// A job is the commission as work: operations to plan and minutes and liquids to charge.
type job struct {
	operations []plan.Operation
	labour     []price.LabourUse
	liquids    []price.LiquidUse
	times      []labour.Time
}

type jobBuilder struct {
	studio Studio
	rates  labour.Rates
	job    job
	titles map[string]int // labour op → index in job.labour
	liquid map[string]int
}

// time estimates work and books it as labour.
func (b *jobBuilder) time(op string, quantity, thickness float64) (labour.Time, string, error) {
	t, err := b.rates.Estimate(labour.Work{Op: op, Quantity: quantity, Thickness: thickness})
	if err != nil {
		return t, "", err
	}
	title := op
	for _, r := range b.rates {
		if r.Op == op {
			title = r.Title
		}
	}
	i, ok := b.titles[op]
	if !ok {
		i = len(b.job.labour)
		b.titles[op] = i
		b.job.labour = append(b.job.labour, price.LabourUse{Title: strings.TrimSuffix(title, ", per coat")}) // all coats together
	}
	b.job.labour[i].Minutes += t.Expected()
	b.job.times = append(b.job.times, t)
	return t, title, nil
}

func (b *jobBuilder) use(key string, area geom.MM2, coats int) {
	if area <= 0 || coats <= 0 {
		return
	}
	k := fmt.Sprintf("%s/%d", key, coats)
	i, ok := b.liquid[k]
	if !ok {
		i = len(b.job.liquids)
		b.liquid[k] = i
		b.job.liquids = append(b.job.liquids, price.LiquidUse{Key: key, Coats: coats})
	}
	b.job.liquids[i].Area += area
}

func onGrid(minutes float64) plan.Minutes {
	g := plan.Minutes(math.Ceil(minutes/float64(plan.Grid)-1e-9)) * plan.Grid // a hair above a step is that step
	return max(g, leastOperation)
}

func (b *jobBuilder) operation(id, title, group, kind string, t labour.Time, needs ...string) plan.Operation {
	op := plan.Operation{
		ID: id, Title: title, Group: group, Kind: kind,
		Duration: onGrid(t.Likely), Low: onGrid(t.Low), High: onGrid(t.High),
	}
	op.Low = min(op.Low, op.Duration)
	op.High = max(op.High, op.Duration)
	for _, n := range needs {
		need := plan.Need{Kind: n}
		if n == "maker" && b.studio.specialists() {
			need.Skill = kind
		}
		op.Needs = append(op.Needs, need)
	}
	return op
}

// specialists reports whether some maker does only some of the work; then every maker's skills are asked for.
func (st Studio) specialists() bool {
	return slices.ContainsFunc(st.Resources, func(r plan.Resource) bool { return len(r.Skills) > 0 })
}

// rack is the kind of place that cures occupy, or none where the studio has no rack.
func (st Studio) rack() string {
	if slices.ContainsFunc(st.Resources, func(r plan.Resource) bool { return r.Kind == "rack" }) {
		return "rack"
	}
	return ""
}

// CutOperation is the ID of the operation that cuts foam of a thickness.
func CutOperation(t geom.MM) string { return fmt.Sprintf("cut-%g", float64(t)) }

// work turns graded batches into operations, labour and liquids.
func work(s Snapshot, batches []batch) (job, error) {
	b := &jobBuilder{studio: s.Studio, rates: s.Studio.Rates, titles: map[string]int{}, liquid: map[string]int{}}
	finish, err := s.finish()
	if err != nil {
		return job{}, err
	}
	qs := make([]quantities, len(batches))
	var all []pattern.Graded
	for i, x := range batches {
		qs[i] = measureBatch(x.graded)
		all = append(all, x.graded...)
	}
	// Everything of one thickness is cut together (common practice, no source).
	cutOf := map[geom.MM]string{}
	for _, t := range thicknesses(all) {
		var m float64
		for _, q := range qs {
			m += q.cut[t]
		}
		tm, _, err := b.time("cut", m, float64(t))
		if err != nil {
			return job{}, err
		}
		id := CutOperation(t)
		cutOf[t] = id
		b.job.operations = append(b.job.operations, b.operation(id, fmt.Sprintf("Cut %s foam", t), "Cutting", "cut", tm, "maker", "bench"))
	}
	var ends []plan.Lag
	for i, x := range batches {
		last, err := b.assembly(x, qs[i], finish, cutOf)
		if err != nil {
			return job{}, err
		}
		ends = append(ends, last)
	}
	pack := 0
	for _, q := range qs {
		pack += q.assemblies
	}
	tm, title, err := b.time("pack", float64(pack), 0)
	if err != nil {
		return job{}, err
	}
	op := b.operation("pack", title, "Handover", "pack", tm, "maker")
	op.After = ends
	b.job.operations = append(b.job.operations, op)
	// Bench time is listed in the order of the rates, which is the order of work.
	var lines []price.LabourUse
	for _, r := range b.rates {
		if i, ok := b.titles[r.Op]; ok {
			lines = append(lines, b.job.labour[i])
		}
	}
	b.job.labour = lines
	return b.job, nil
}

// assembly adds one batch's operations after cutting and returns the lag by which whatever follows must wait.
func (b *jobBuilder) assembly(x batch, q quantities, finish Finish, cutOf map[geom.MM]string) (plan.Lag, error) {
	var after []plan.Lag
	for _, t := range thicknesses(x.graded) {
		after = append(after, plan.Lag{After: cutOf[t]})
	}
	wants := func(op string) bool { return x.steps == nil || x.steps[op] }
	add := func(op, suffix string, quantity float64, needs ...string) (*plan.Operation, error) {
		if quantity <= 0 || !wants(op) {
			return nil, nil
		}
		t, title, err := b.time(op, quantity, 0)
		if err != nil {
			return nil, err
		}
		o := b.operation(fmt.Sprintf("%d-%s%s", x.number, op, suffix), title, x.title, op, t, append([]string{"maker"}, needs...)...)
		o.After = after
		b.job.operations = append(b.job.operations, o)
		after = []plan.Lag{{After: o.ID}}
		return &b.job.operations[len(b.job.operations)-1], nil
	}
	plain := func(op string, quantity float64) error {
		_, err := add(op, "", quantity, "bench")
		return err
	}
	adhesive, ok := cure.Lookup(b.studio.Adhesive)
	if !ok {
		return plan.Lag{}, fmt.Errorf("adhesive %q is not in the cure table; name one that is in studio.toml, foam.adhesive", b.studio.Adhesive)
	}
	bond, err := adhesive.Times(b.studio.Room)
	if err != nil {
		return plan.Lag{}, err
	}
	glued := func(op string, quantity float64) error {
		o, err := add(op, "", quantity, "bench")
		if o == nil || err != nil {
			return err
		}
		o.Whole = o.High <= longestWhole
		// The joint is left until the solvent is out before it is bent, cut or heated again: at least the time in
		// which the faces were left open, and never less than it takes to be handled.
		rest := onGrid(math.Max(bond.Handle, bond.Place.Earliest))
		after = []plan.Lag{{After: o.ID, Min: rest, Cure: adhesive.Title, Water: adhesive.WaterBorne}}
		return nil
	}
	for _, step := range []struct {
		op       string
		quantity float64
		glue     bool
	}{
		{"bevel", q.bevel, false}, {"score", q.score, false}, {"form", q.formed, false}, {"glue", q.seam, true},
		{"layer", q.lap.M2(), true}, {"punch", float64(q.holes), false}, {"seal", q.sealed, false},
	} {
		if step.glue {
			err = glued(step.op, step.quantity)
		} else {
			err = plain(step.op, step.quantity)
		}
		if err != nil {
			return plan.Lag{}, err
		}
	}
	b.use(b.studio.Adhesive, q.seamArea+q.lap, 1)
	if wants("fit") {
		if _, err := add("fit", "", float64(q.assemblies)); err != nil {
			return plan.Lag{}, err
		}
	}
	for n, c := range finish.Coats {
		m, ok := cure.Lookup(c.Material)
		if !ok {
			return plan.Lag{}, fmt.Errorf("coating %q of finish %q is not in the cure table", c.Material, finish.Key)
		}
		times, err := m.Times(b.studio.Room)
		if err != nil {
			return plan.Lag{}, err
		}
		if q.coated <= 0 {
			break
		}
		b.use(c.Material, q.coated, c.Coats)
		for k := 1; k <= c.Coats; k++ {
			t, title, err := b.time(c.Op, q.coated.M2(), 0)
			if err != nil {
				return plan.Lag{}, err
			}
			title = strings.TrimSuffix(title, ", per coat") // how it is charged, not what is done
			if c.Coats > 1 {
				title = fmt.Sprintf("%s, coat %d of %d", title, k, c.Coats)
			}
			o := b.operation(fmt.Sprintf("%d-%s%d.%d", x.number, c.Op, n+1, k), title, x.title, c.Op, t, "maker", "booth")
			o.Whole = o.High <= longestWhole
			o.After = after
			o.Setup = c.Material // the gun is cleaned between two materials
			b.job.operations = append(b.job.operations, o)
			lag := plan.Lag{Min: onGrid(times.Handle)}
			switch {
			case k < c.Coats:
				lag = lagIn(times.Recoat)
			case n+1 < len(finish.Coats):
				lag = lagIn(times.Topcoat)
			}
			lag.After, lag.Cure, lag.Water, lag.Rack = o.ID, m.Title, m.WaterBorne, b.studio.rack()
			after = []plan.Lag{lag}
		}
	}
	if wants("hardware") {
		if _, err := add("hardware", "", float64(q.hardware), "bench"); err != nil {
			return plan.Lag{}, err
		}
	}
	return after[0], nil
}

// lagIn makes a lag of a material's windows, rounded inward to the plan's grid so that none is overstepped.
func lagIn(ws []cure.Window) plan.Lag {
	var l plan.Lag
	for _, w := range ws {
		to := plan.Minutes(w.Latest/float64(plan.Grid)) * plan.Grid
		l.Windows = append(l.Windows, plan.LagWindow{From: plan.Minutes(math.Ceil(w.Earliest/float64(plan.Grid)-1e-9)) * plan.Grid, To: to})
	}
	if len(l.Windows) == 1 {
		l.Min, l.Max, l.Windows = l.Windows[0].From, l.Windows[0].To, nil
	}
	return l
}

func (s Snapshot) finish() (Finish, error) {
	var keys []string
	for _, f := range s.Studio.Finishes {
		if f.Key == s.Finish {
			return f, nil
		}
		keys = append(keys, f.Key)
	}
	return Finish{}, fmt.Errorf("there is no finish %q; choose one of %v", s.Finish, keys)
}

// firstWorkday is the start of the local day after n working days from t.
func firstWorkday(c plan.Calendar, t time.Time, n int) (time.Time, error) {
	zone, err := time.LoadLocation(c.Zone)
	if err != nil {
		return time.Time{}, fmt.Errorf("time zone %q is not known: %w", c.Zone, err)
	}
	d := t.In(zone)
	const horizon = 3 * 366 // days; a shop closed for longer than three years takes no commission
	for i := 0; i < horizon; i++ {
		if c.Open(d) {
			if n == 0 {
				break
			}
			n--
		}
		d = time.Date(d.Year(), d.Month(), d.Day()+1, 0, 0, 0, 0, zone)
	}
	return d.UTC(), nil
}

// problem is the plan's problem for operations that may begin at start.
func (s Snapshot) problem(ops []plan.Operation, start time.Time, busy []plan.Busy) plan.Problem {
	return plan.Problem{
		Start: start, Calendar: s.Studio.Calendar, Resources: s.Studio.Resources, Operations: ops, Busy: busy,
		Schedules: s.Studio.Schedules, Runs: s.Studio.Runs, Seed: s.Seed, Air: s.Studio.Air,
	}
}

// Replan places a quoted commission into the shop's plan as it is now: nothing begins before from, and busy keeps its
// place. The quote must be the one computed from the snapshot.
func Replan(ctx context.Context, s Snapshot, q Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
	j, err := q.work(s)
	if err != nil {
		return plan.Solution{}, err
	}
	return plan.Solve(ctx, s.problem(j.operations, from, busy), nil)
}

// Needs tells which operations each operation of a quote's plan needs done, and cured, before it: operation ID → IDs.
func Needs(s Snapshot, q Quote) (map[string][]string, error) {
	j, err := q.work(s)
	if err != nil {
		return nil, err
	}
	out := map[string][]string{}
	for _, o := range j.operations {
		for _, l := range o.After {
			out[o.ID] = append(out[o.ID], l.After)
		}
	}
	return out, nil
}

// work is the quote's work breakdown, made again from its snapshot.
func (q Quote) work(s Snapshot) (job, error) {
	sets, err := s.sets()
	if err != nil {
		return job{}, err
	}
	batches, err := s.batches(sets, q.Graded)
	if err != nil {
		return job{}, err
	}
	return work(s, batches)
}
