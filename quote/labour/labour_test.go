package labour_test

import (
	"math"
	"strings"
	"testing"

	"benchbell/quote/labour"

	"pgregory.net/rapid"
)

// near is the figure's last printed digit, halved.
const near = 5e-7

// TestPERT checks the worked figures O=2, M=4, P=9.
//
// Source: (O+4M+P)/6 and (P−O)/6, project-management.info, the US Navy's Polaris programme, late 1950s (secondary);
// worked out by hand: 27/6 = 4.5, 7/6 = 1.166667, three equal tasks 13.5 and √3·7/6 = 2.020726.
func TestPERT(t *testing.T) {
	x := labour.Time{Low: 2, Likely: 4, High: 9}
	if got := x.Expected(); math.Abs(got-4.5) > near {
		t.Errorf("expected %v, want 4.5", got)
	}
	if got := x.SD(); math.Abs(got-1.166667) > near {
		t.Errorf("sd %v, want 1.166667", got)
	}
	mean, sd := labour.Sum([]labour.Time{x, x, x})
	if math.Abs(mean-13.5) > near || math.Abs(sd-2.020726) > near {
		t.Errorf("three equal tasks: %v, %v, want 13.5, 2.020726", mean, sd)
	}
	if mean, sd := labour.Sum(nil); mean != 0 || sd != 0 {
		t.Errorf("no work takes %v, %v", mean, sd)
	}
}

func TestDefaultRates(t *testing.T) {
	r := labour.DefaultRates()
	if err := r.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, op := range strings.Fields("cut bevel score form glue layer punch seal prime paint wash clear hardware fit pack") {
		if _, ok := r.Find(op); !ok {
			t.Errorf("no rate for %q", op)
		}
	}
	// 10 minutes of set-up, then 12 m at 1 + 0.15·6 minutes.
	got, err := r.Estimate(labour.Work{Op: "cut", Quantity: 12, Thickness: 6})
	if err != nil {
		t.Fatal(err)
	}
	if want := 10 + 12*1.9; math.Abs(got.Likely-want) > 1e-9 {
		t.Errorf("cut: %v, want %v", got.Likely, want)
	}
	if got, err := r.Estimate(labour.Work{Op: "cut"}); err != nil || got != (labour.Time{}) {
		t.Errorf("nothing to cut: %v, %v", got, err)
	}
}

func TestRefusals(t *testing.T) {
	r := labour.DefaultRates()
	for _, c := range []struct {
		name string
		w    labour.Work
		says string
	}{
		{"missing", labour.Work{Op: "weld", Quantity: 1}, `"weld"`},
		{"negative", labour.Work{Op: "cut", Quantity: -1}, "quantity"},
		{"nan", labour.Work{Op: "cut", Quantity: math.NaN()}, "quantity"},
		{"infinite", labour.Work{Op: "cut", Quantity: math.Inf(1)}, "quantity"},
		{"thin", labour.Work{Op: "cut", Quantity: 1, Thickness: -2}, "thickness"},
	} {
		_, err := r.Estimate(c.w)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %v does not say %q", c.name, err, c.says)
		}
	}
}

func TestValidate(t *testing.T) {
	good := labour.Rate{Op: "cut", Title: "Cutting", Unit: labour.Metre, SetUp: 1, PerUnit: 1, Low: 0.8, High: 1.5}
	for _, c := range []struct {
		name   string
		change func(*labour.Rate)
		says   []string
	}{
		{"op", func(r *labour.Rate) { r.Op = " " }, []string{"op is empty"}},
		{"title", func(r *labour.Rate) { r.Title = "" }, []string{`"cut"`, "title"}},
		{"unit", func(r *labour.Rate) { r.Unit = "ft" }, []string{`"cut"`, `unit is "ft"`}},
		{"set-up", func(r *labour.Rate) { r.SetUp = -1 }, []string{"set_up is -1"}},
		{"unit time", func(r *labour.Rate) { r.PerUnit = math.NaN() }, []string{"per_unit is NaN"}},
		{"per mm", func(r *labour.Rate) { r.PerMM = math.Inf(1) }, []string{"per_mm"}},
		{"low", func(r *labour.Rate) { r.Low = 1.1 }, []string{"low is 1.1"}},
		{"high", func(r *labour.Rate) { r.High = 0.9 }, []string{"high is 0.9"}},
	} {
		bad := good
		c.change(&bad)
		err := labour.Rates{bad}.Validate()
		if err == nil {
			t.Errorf("%s: accepted", c.name)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%s: %q does not say %q", c.name, err, s)
			}
		}
	}
	if err := (labour.Rates{good, good}).Validate(); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("the same operation twice: %v", err)
	}
}

// TestOrderAndMonotony: low ≤ likely ≤ high, and more work never takes less time.
func TestOrderAndMonotony(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minutes := rapid.Float64Range(0, 200)
		r := labour.Rates{{Op: "x", Title: "X", Unit: labour.Metre,
			SetUp: minutes.Draw(t, "set-up"), PerUnit: minutes.Draw(t, "per unit"), PerMM: minutes.Draw(t, "per mm"),
			Low: rapid.Float64Range(0, 1).Draw(t, "low"), High: rapid.Float64Range(1, 20).Draw(t, "high")}}
		if err := r.Validate(); err != nil {
			t.Fatal(err)
		}
		q, h := rapid.Float64Range(0, 1e4), rapid.Float64Range(0, 12)
		a := labour.Work{Op: "x", Quantity: q.Draw(t, "quantity"), Thickness: h.Draw(t, "thickness")}
		b := labour.Work{Op: "x", Quantity: a.Quantity + q.Draw(t, "more"), Thickness: a.Thickness + h.Draw(t, "thicker")}
		ta, err := r.Estimate(a)
		if err != nil {
			t.Fatal(err)
		}
		tb, err := r.Estimate(b)
		if err != nil {
			t.Fatal(err)
		}
		if ta.Low > ta.Likely || ta.Likely > ta.High || ta.Low < 0 {
			t.Fatalf("out of order: %v", ta)
		}
		if tb.Low < ta.Low || tb.Likely < ta.Likely || tb.High < ta.High {
			t.Fatalf("more work takes less time: %v then %v", ta, tb)
		}
		mean, sd := labour.Sum([]labour.Time{ta, tb})
		if math.Abs(mean-ta.Expected()-tb.Expected()) > 1e-6*(1+mean) || sd > ta.SD()+tb.SD()+1e-6 {
			t.Fatalf("sum %v ± %v", mean, sd)
		}
	})
}
