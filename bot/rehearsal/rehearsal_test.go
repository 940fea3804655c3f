package rehearsal

import (
	"bytes"
	"encoding/json"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/settings"
)

// hurried is the demo studio at little effort.
func hurried() quote.Studio {
	st := settings.Demo()
	st.Evaluations, st.Schedules, st.Runs = 100, 20, 60
	return st
}

func short(t *testing.T) Settings {
	return Settings{Studio: hurried(), Weeks: 2, Seed: 2, Seeds: 1, Load: 40, Scratch: t.TempDir()}
}

// A short quarter comes to its end, with promises that are decided and bells that come in time, and is the same again, byte for byte.
func TestSameSeedSameBytes(t *testing.T) {
	if raced {
		t.Skip("quarters of one goroutine each; the run without the race detector has them")
	}
	t.Parallel()
	var files [2][]File
	for k := range files {
		r, err := Run(t.Context(), short(t))
		if err != nil {
			t.Fatal(err)
		}
		if files[k], err = r.Files(); err != nil {
			t.Fatal(err)
		}
		for _, x := range r.tallies() {
			if x.Promises == 0 || x.Bells == 0 || x.Hours == 0 || x.MovedStarts == 0 {
				t.Errorf("%s: nothing happens: %+v", x.name, x)
			}
			if x.BellsEarly > 0 || x.BellsLost > 0 || x.Broken[wrongPromise] > 0 || x.Broken[wrongOdds] > 0 || x.Broken[falseDanger] > 0 || x.Broken[saidTwice] > 0 {
				t.Errorf("%s: %d bells early, %d lost, laws broken: %v\n%s", x.name, x.BellsEarly, x.BellsLost, x.Broken, strings.Join(r.Broken(), "\n"))
			}
		}
		if table := r.Table(); strings.Contains(table, "NaN") || strings.Contains(table, "%!") {
			t.Error(table)
		}
	}
	for i, f := range files[0] {
		if !bytes.Equal(f.Data, files[1][i].Data) {
			t.Errorf("%s is another the second time", f.Name)
		}
	}
	var top map[string]any
	if err := json.Unmarshal(files[0][0].Data, &top); err != nil {
		t.Fatal(err)
	}
	alone, _ := top["as_if_alone"].(map[string]any)
	for _, key := range []string{"promises", "kept", "stated_percent", "told_again", "contradictions", "bells_early", "bells_lost", "moved_starts"} {
		for where, m := range map[string]map[string]any{"at the top": top, "as if alone": alone} {
			if _, ok := m[key].(float64); !ok {
				t.Errorf("rehearsal.json has no number %s %s", key, where)
			}
		}
	}
}

// one is a quarter of one arm, played to its end.
func one(t *testing.T, s Settings, aWeek float64, bent func(*floor.Shop)) *quarter {
	t.Helper()
	if raced {
		t.Skip("quarters of one goroutine each; the run without the race detector has them")
	}
	t.Parallel()
	sets, err := shop.Library()
	if err != nil {
		t.Fatal(err)
	}
	x, err := newWares(sets, s.Studio)
	if err != nil {
		t.Fatal(err)
	}
	q := &quarter{arm: arm{name: asPromised, studio: s.Studio}, world: newWorld(s.Seed, s.Studio), weeks: s.Weeks, zone: s.zone(), sets: sets, known: &reckoned{}, bent: bent}
	q.clients = q.world.clients(x, firstMonday, firstMonday.AddDate(0, 0, 7*s.Weeks), aWeek)
	if err := q.play(t.Context(), filepath.Join(s.Scratch, "one.db")); err != nil {
		t.Fatal(err)
	}
	return q
}

// A shop that sees other odds than its ledger gives is caught.
func TestWrongOddsAreCaught(t *testing.T) {
	q := one(t, short(t), 4, func(p *floor.Shop) {
		for i := range p.Outlooks {
			p.Outlooks[i].KeptNow *= 0.99
		}
	})
	if q.broken[wrongOdds] == 0 {
		t.Errorf("odds that are a hundredth too low were not noticed: %v", q.broken)
	}
}

// What a deposit says of promises is what is said right after it, also where others lie in the way of the work that is paid for.
func TestADepositSaysWhatComesOfIt(t *testing.T) {
	if raced {
		t.Skip("it is one goroutine with much to work out; the run without the race detector has it")
	}
	s := short(t)
	s.Seed, s.Weeks = 7, 3
	q := one(t, s, 4, nil)
	if q.hurts == 0 {
		t.Error("no deposit hurts a promise; the test shows nothing")
	}
	if len(q.broken) > 0 {
		t.Errorf("laws broken: %v\n%s", q.broken, strings.Join(q.examples, "\n"))
	}
}

// Each law is broken by what breaks it.
func TestLawsCanBeBroken(t *testing.T) {
	c := ledger.Commission{ID: "C0001", Promise: "2026-12-01"}
	look := func(promise string, odds float64) floor.Outlook {
		return floor.Outlook{Commission: c.ID, Promise: promise, Kept: odds, KeptNow: odds, Danger: odds < 0.6}
	}
	for want, outcomes := range map[string][]shop.Outcome{
		disagree:    {shop.Paid{Effects: []shop.Effect{{Commission: c.ID, Promise: "2026-12-01", After: 0.9}}}, shop.Endangered{Commission: c, Outlook: look("2026-12-01", 0.5)}},
		falseDanger: {shop.TakenOver{Plan: shop.Plan{Outlooks: []shop.Promised{{Outlook: look("2026-12-01", 0.5)}}}}, shop.Endangered{Commission: c, Outlook: look("2026-12-01", 0.5)}},
		saidTwice:   {shop.Endangered{Commission: c, Outlook: look("2026-12-01", 0.5)}, shop.Endangered{Commission: c, Outlook: look("2026-12-01", 0.5)}},
		"":          {shop.Endangered{Commission: c, Outlook: look("2026-12-01", 0.5)}, shop.Safe{Commission: c, Outlook: look("2026-12-01", 0.5)}, shop.Endangered{Commission: c, Outlook: look("2026-12-01", 0.5)}},
	} {
		q := &quarter{}
		q.law.init()
		q.limit = 0.4 // what the plan taken over keeps is in no danger by this limit
		q.moment()
		for _, o := range outcomes {
			if err := q.heard(shop.Told{Outcome: o}); err != nil {
				t.Fatal(err)
			}
		}
		if want == "" && len(q.broken) > 0 || want != "" && (q.broken[want] != 1 || len(q.broken) != 1) {
			t.Errorf("%q: broken are %v", want, q.broken)
		}
	}
}

// A bell before its cure is early, and one that has not come is lost.
func TestBellsAreCounted(t *testing.T) {
	q := &quarter{now: firstMonday.Add(12 * time.Hour)}
	q.count.init()
	op := ledger.Operation{Commission: "C0001", Op: "prime", DoneAt: firstMonday.Add(9 * time.Hour), CureFor: 3 * time.Hour}
	q.bells[keyOf(op)] = q.now
	if q.lost() != 1 {
		t.Errorf("%d are lost, want the one that is due", q.lost())
	}
	q.rings(shop.Rung{Operation: op})
	if q.early != 0 || q.lost() != 0 || q.rung != 1 {
		t.Errorf("a bell in time: %d early, %d lost, %d rung", q.early, q.lost(), q.rung)
	}
	op.CureFor += time.Minute
	if q.rings(shop.Rung{Operation: op}); q.early != 1 {
		t.Error("a bell a minute early was not noticed")
	}
}

// Work takes the opening hours that it takes, whenever it begins, and nobody works while away.
func TestHours(t *testing.T) {
	st := settings.Demo()
	zone, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	to := firstMonday.AddDate(0, 6, 0)
	all := openHours(st.Calendar, zone, firstMonday, to)
	rapid.Check(t, func(t *rapid.T) {
		var away []plan.Span
		for range rapid.IntRange(0, 4).Draw(t, "absences") {
			from := firstMonday.AddDate(0, 0, rapid.IntRange(-3, 60).Draw(t, "day"))
			away = append(away, plan.Span{From: from, To: from.AddDate(0, 0, rapid.IntRange(1, 5).Draw(t, "days"))})
		}
		h := all.without(away)
		at := firstMonday.Add(time.Duration(rapid.IntRange(0, 60*24*60).Draw(t, "at")) * time.Minute)
		work := time.Duration(rapid.IntRange(1, 3000).Draw(t, "minutes")) * time.Minute
		end := h.after(at, work)
		if got := h.between(at, end); got != work {
			t.Fatalf("work of %v from %v ends at %v, which is %v of opening hours", work, at, end, got)
		}
		for _, a := range away {
			if h.between(a.From, a.To) != 0 {
				t.Fatalf("work is done from %v to %v, while away", a.From, a.To)
			}
		}
		if o := h.opens(at); o.Before(at) || h.between(at, o) != 0 {
			t.Fatalf("from %v the shop opens at %v", at, o)
		}
	})
	// By hand: Monday to Thursday 3:30 and 4:15, Friday 5:00.
	if got := all.between(firstMonday, firstMonday.AddDate(0, 0, 7)); got != 36*time.Hour {
		t.Errorf("the demo studio is open for %v in a week, want 36 h", got)
	}
}

// The real times are as far off as the settings say, and the same for everybody who asks.
func TestWorld(t *testing.T) {
	st := settings.Demo()
	var logs []float64
	for seed := range uint64(20) {
		logs = append(logs, math.Log(newWorld(seed+1, st).rates))
	}
	mean, variance := 0.0, 0.0
	for _, x := range logs {
		mean += x / float64(len(logs))
	}
	for _, x := range logs {
		variance += (x - mean) * (x - mean) / float64(len(logs))
	}
	if math.Abs(mean-st.Spread.Bias) > 0.02 || math.Abs(math.Sqrt(variance)-st.Spread.Rates) > 0.02 {
		t.Errorf("twenty studios are off by %.3f ± %.3f, the settings say %.3f ± %.3f", mean, math.Sqrt(variance), st.Spread.Bias, st.Spread.Rates)
	}
	w := newWorld(1, st)
	o := plan.Operation{ID: "cut-5", Low: 40, Duration: 60, High: 140}
	a, _ := w.takes("C0001", o)
	b, _ := newWorld(1, st).takes("C0001", o)
	c, _ := w.takes("C0002", o)
	if a != b || a == c {
		t.Errorf("the same work takes %d and %d minutes, another's %d", a, b, c)
	}
	// The mean of beta-PERT is (low + 4 likely + high) / 6.
	r := w.of("a test")
	sum := 0.0
	const n = 20000
	for range n {
		x := pert(r, 40, 60, 140)
		if x < 40 || x > 140 {
			t.Fatalf("%v is out of its bounds", x)
		}
		sum += x
	}
	if got, want := sum/n, (40+4*60+140)/6.0; math.Abs(got-want) > 0.6 {
		t.Errorf("work of 40 to 140, likely 60 minutes takes %.2f on average, want %.2f", got, want)
	}
	days := 0.0
	years := 200
	for k := range years {
		for _, s := range newWorld(uint64(k), st).absences("mara", firstMonday, firstMonday.AddDate(1, 0, 0), time.UTC) {
			days += s.To.Sub(s.From).Hours() / 24
		}
	}
	if got := days / float64(years); math.Abs(got-st.Spread.Away) > 1 {
		t.Errorf("a maker is away %.1f days a year, the settings say %.1f", got, st.Spread.Away)
	}
}

// What cannot be rehearsed is refused with what could be.
func TestRefuses(t *testing.T) {
	for want, change := range map[string]func(*Settings){
		"0 weeks cannot be rehearsed; give 1 to 104":          func(s *Settings) { s.Weeks = 0 },
		"201 seeds cannot be rehearsed; give 1 to 200":        func(s *Settings) { s.Seeds = 201 },
		"a load of 5 % cannot be rehearsed; give 10 to 150":   func(s *Settings) { s.Load = 5 },
		"the studio has no maker":                             func(s *Settings) { s.Studio.Resources = nil },
		"the studio is never open in these weeks; give it ho": func(s *Settings) { s.Studio.Calendar.Shifts = []plan.Shift{{Weekday: time.Monday}} },
	} {
		s := short(t)
		change(&s)
		if _, err := Run(t.Context(), s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", want, err)
		}
	}
}

// One more maker can do what any of the others can.
func TestAnotherMaker(t *testing.T) {
	st := settings.Demo()
	if got := makersOf(anotherMaker(st)); len(got) != len(makersOf(st))+1 || len(got[0].Skills) > 0 {
		t.Errorf("the makers are %v", got)
	}
	st.Resources = []plan.Resource{{ID: "a", Kind: "maker", Capacity: 1, Skills: []string{"cut"}}, {ID: "b", Kind: "maker", Capacity: 1, Skills: []string{"paint"}}}
	if got := makersOf(anotherMaker(st))[0].Skills; !slices.Equal(got, []string{"cut", "paint"}) {
		t.Errorf("one more maker among specialists does %v", got)
	}
}
