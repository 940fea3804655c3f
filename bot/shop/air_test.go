package shop

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/ledger"
	"benchbell/quote/cure"
)

// No air has a cure end sooner than planned, later damp or cold never sooner than earlier, and air as planned changes nothing.
func TestCuredByLaw(t *testing.T) {
	planned := cure.Room{Celsius: 20, Humidity: 50}
	done := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	rapid.Check(t, func(rt *rapid.T) {
		all := cure.Materials()
		m := all[rapid.IntRange(0, len(all)-1).Draw(rt, "material")]
		takes := time.Duration(rapid.IntRange(5, 3000).Draw(rt, "minutes")) * time.Minute
		var airs []ledger.Air
		at := done.Add(-6 * time.Hour)
		for range rapid.IntRange(0, 5).Draw(rt, "readings") {
			at = at.Add(time.Duration(rapid.IntRange(1, 900).Draw(rt, "later")) * time.Minute)
			airs = append(airs, ledger.Air{At: at, Celsius: rapid.Float64Range(-5, 40).Draw(rt, "celsius"), Humidity: rapid.Float64Range(5, 95).Draw(rt, "humidity")})
		}
		ends := curedBy(m, planned, done, takes, airs)
		if ends.Before(done.Add(takes)) {
			rt.Fatalf("%s, %s, ends %s after it was put on in %+v", m.Key, takes, ends.Sub(done), airs)
		}
		if m.Admit(planned) != nil {
			return
		}
		for i := range airs {
			airs[i].Celsius, airs[i].Humidity = planned.Celsius, planned.Humidity
		}
		if same := curedBy(m, planned, done, takes, airs); !same.Equal(done.Add(takes)) {
			rt.Fatalf("%s in the planned air ends %s after it was put on, planned %s", m.Key, same.Sub(done), takes)
		}
	})
}

// Damp air has a water-borne coat under way ring later by what is left of it, the plan and the bench know; dry air never sooner; and a reading
// that is old is not believed.
func TestDampAir(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	m, ok := cure.Lookup("flexible primer")
	if !ok || m.Law != cure.Water {
		t.Fatal("the primer is not water-borne")
	}
	room := testStudio().Room
	now := room
	now.Humidity = 80
	slower := m.Factor(now) / m.Factor(room)
	if slower <= 1.2 || m.Admit(now) != nil {
		t.Fatalf("at 80 %% it takes %.2f times as long, %v", slower, m.Admit(now))
	}
	done := h.now
	if got, want := curedBy(m, room, done, 4*time.Hour, []ledger.Air{{At: done.Add(2 * time.Hour), Celsius: now.Celsius, Humidity: now.Humidity}}),
		done.Add(2*time.Hour+time.Duration(float64(2*time.Hour)*slower)); got.Sub(want).Abs() > time.Second {
		t.Errorf("half dry when it grows damp, it ends at %s, want %s", got, want)
	}
	long := 40 * time.Hour
	if got, want := curedBy(m, room, done, long, []ledger.Air{{At: done, Celsius: now.Celsius, Humidity: now.Humidity}}),
		done.Add(long+airHolds-time.Duration(float64(airHolds)/slower)); got.Sub(want).Abs() > time.Second {
		t.Errorf("one damp reading in a long cure has it end at %s, want %s", got, want)
	}
	h.refused(SayAir{"warm", "50"}, BadAir)
	h.refused(SayAir{"20", "120"}, BadAir)
	if err := h.s.Sense(t.Context(), cure.Room{Celsius: 90, Humidity: 50}); refusal(err) != BadAir {
		t.Errorf("90 °C is answered with %v", err)
	}
}

// At the bench: the bell of a coat moves later, never back before the plan, and Curing says so.
func TestBellMovesLater(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	var first ledger.Operation
	for k := 0; first.Op == ""; k++ {
		if k > 60 {
			t.Fatal("no coat is ever put on")
		}
		d, err := h.s.See(t.Context(), boss, Day{})
		if err != nil {
			t.Fatal(err)
		}
		lines := d.(BenchDay).Lines
		if len(lines) == 0 {
			h.now = h.now.Add(6 * time.Hour)
			h.due()
			continue
		}
		op := lines[0].Operation
		h.now = h.now.Add(10 * time.Minute)
		h.do(boss, Done{OnOperation("C0001", op.Seq)})
		if op.Kind == "prime" || op.Kind == "paint" {
			first = op
		}
	}
	drying := func() Drying {
		d, err := h.s.See(t.Context(), boss, Day{})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range d.(BenchDay).Drying {
			if x.Operation.Seq == first.Seq {
				return x
			}
		}
		t.Fatal("it does not dry")
		return Drying{}
	}
	was := drying()
	o := h.do(boss, SayAir{" 18 °C", "82 %"}).(AirSaid)
	then := drying()
	if len(o.Slower) != 1 || !then.Ready.After(was.Ready) || then.Slower != then.Ready.Sub(was.Ready) {
		t.Fatalf("in damp air it is ready at %s, before at %s; told are %+v", then.Ready, was.Ready, o.Slower)
	}
	h.do(boss, SayAir{"28", "30"})
	if dry := drying(); !dry.Ready.Equal(was.Ready) {
		t.Errorf("in dry air from the same moment it is ready at %s, planned was %s", dry.Ready, was.Ready)
	}
	h.do(boss, SayAir{"18", "82"})
	if was.Next == nil {
		t.Fatal("nothing waits for it")
	}
	h.now = was.Ready.Add(time.Second)
	h.refused(Start{OfOperation: OnOperation("C0001", was.Next.Seq)}, OpWaits)
	if _, err := h.s.See(t.Context(), boss, WholePlan{}); err != nil {
		t.Errorf("no plan can be made: %v", err)
	}
}
