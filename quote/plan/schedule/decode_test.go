package schedule

import (
	"bytes"
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/plan/check"
)

func TestGoldenCommission(t *testing.T) {
	s := solve(t, commission())
	got, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	got = append(got, '\n')
	gaugetest.Golden(t, filepath.Join("testdata", "commission.golden.json"), got)
}

func TestDecode(t *testing.T) {
	good, err := json.Marshal(commission())
	if err != nil {
		t.Fatal(err)
	}
	p, err := Decode(good)
	if err != nil {
		t.Fatal(err)
	}
	if again, _ := json.Marshal(p); !bytes.Equal(good, again) {
		t.Error("a problem changes by encoding and decoding")
	}
	for _, c := range []struct{ data, want string }{
		{"", "not readable"}, {"{} {}", "one JSON object"}, {`{"star":1}`, "star"}, {"{}", "no operations"},
		{strings.Repeat(" ", maxProblem+1), "at most"}, {strings.Replace(string(good), `"schedules":200`, `"schedules":-1`, 1), "0 or more"},
		{strings.Replace(string(good), `"schedules":200`, `"schedules":99999999`, 1), "at most 1000000"},
	} {
		if _, err := Decode([]byte(c.data)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.30q: got %v, want %q", c.data, err, c.want)
		}
	}
}

// FuzzDecode checks that no input makes Decode or a small Solve fail in any other way than with an error, and that
// what is solved is a plan.
func FuzzDecode(f *testing.F) {
	p := commission()
	p.Schedules, p.Runs = 2, 2
	seed, _ := json.Marshal(p)
	f.Add(seed)
	p.Operations = p.Operations[:3]
	seed, _ = json.Marshal(p)
	f.Add(seed)
	f.Add([]byte(`{"start":"2026-06-01T09:00:00Z","calendar":{"zone":"UTC","shifts":[{"weekday":1,"from":0,"to":1440}]},"operations":[{"id":"a","duration":5}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Decode(data)
		if err != nil {
			if strings.ContainsAny(err.Error()[len(err.Error())-1:], ".!") {
				t.Errorf("error ends like a sentence: %v", err)
			}
			return
		}
		if len(p.Operations) > 50 {
			return
		}
		p.Schedules, p.Runs = min(p.Schedules, 2), min(p.Runs, 2)
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			if strings.Contains(err.Error(), "contradicts its problem") {
				t.Fatal(err)
			}
			return
		}
		if err := check.Plan(p, s); err != nil {
			t.Fatal(err)
		}
	})
}

// The profile must agree with a plain array.
func TestProfileAgreesWithAnArray(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const n = 60
		p := newProfile()
		var plain [n]int32
		type change struct {
			from, to slot
		}
		var done []change
		for range rapid.IntRange(0, 20).Draw(t, "changes") {
			a, b := slot(rapid.IntRange(0, n-1).Draw(t, "from")), slot(rapid.IntRange(0, n-1).Draw(t, "to"))
			delta := int32(1)
			if len(done) > 0 && rapid.Bool().Draw(t, "undo") {
				k := rapid.IntRange(0, len(done)-1).Draw(t, "which")
				a, b, delta = done[k].from, done[k].to, -1
				done = append(done[:k], done[k+1:]...)
			} else if a < b {
				done = append(done, change{from: a, to: b})
			}
			p.add(a, b, delta)
			for i := a; i < b; i++ {
				plain[i] += delta
			}
		}
		for i := 1; i < len(p.at); i++ {
			if p.at[i] <= p.at[i-1] || p.use[i] == p.use[i-1] {
				t.Fatalf("steps not in order or empty: %v %v", p.at, p.use)
			}
		}
		from := slot(rapid.IntRange(0, n-2).Draw(t, "a"))
		to := slot(rapid.IntRange(int(from)+1, n-1).Draw(t, "b"))
		top, until := p.peak([]span{{from, to}})
		var want int32
		var last slot
		for i := from; i < to; i++ {
			if plain[i] >= want && plain[i] > 0 {
				want, last = plain[i], i
			}
		}
		if want > 0 {
			for last < n && plain[last] >= want {
				last++
			}
		}
		if top != want || want > 0 && until != last {
			t.Fatalf("peak of [%d, %d) is %d until %d, want %d until %d", from, to, top, until, want, last)
		}
	})
}
