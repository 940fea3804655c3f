package gaugetest

import (
	"encoding/json"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Spoiling is one way to make something right wrong. Spoil says whether there was anything to spoil; a check then has to
// say one of Words, which stand between bars.
type Spoiling[T any] struct {
	Name, Words string
	Spoil       func(*rand.Rand, *T) bool
}

// Spoiled spoils copies of v, made through JSON, in every way, and has check refuse each for its own reason. It counts in
// times how often each way found something to spoil.
func Spoiled[T any](t testing.TB, v T, seed uint64, ways []Spoiling[T], check func(T) error, times map[string]int) {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	for n, w := range ways {
		var own T
		if err := json.Unmarshal(data, &own); err != nil {
			t.Fatal(err)
		}
		if err := check(own); err != nil {
			t.Fatalf("seed %d: after a turn through JSON it is refused: %v", seed, err)
		}
		if !w.Spoil(rand.New(rand.NewPCG(seed, uint64(n))), &own) {
			continue
		}
		times[w.Name]++
		err := check(own)
		if err == nil || !slices.ContainsFunc(strings.Split(w.Words, "|"), func(s string) bool { return strings.Contains(err.Error(), s) }) {
			t.Errorf("seed %d: %s: got %v, want words %q", seed, w.Name, err, w.Words)
		}
	}
}

// Often fails for every way that found less than least to spoil: such a test shows little.
func Often[T any](t testing.TB, ways []Spoiling[T], times map[string]int, least int) {
	t.Helper()
	for _, w := range ways {
		if times[w.Name] < least {
			t.Errorf("%s: only %d had something to spoil, which shows little", w.Name, times[w.Name])
		}
	}
	t.Log(times)
}

// Scrambled has look take sixty copies of v with ever fewer of their values changed: numbers, true and false, texts (to one
// of words), and parts of lists dropped or doubled. It returns how many of them could still be read.
func Scrambled[T any](t testing.TB, v T, seed uint64, words []string, look func(T)) (read int) {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	for n := range 60 {
		rng := rand.New(rand.NewPCG(seed, uint64(n)))
		var tree any
		var own T
		if err := json.Unmarshal(data, &tree); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(scrambled(rng, tree, 20+n*10, words))
		if err == nil && json.Unmarshal(again, &own) == nil {
			look(own)
			read++
		}
	}
	return read
}

// scrambled changes about one in so many of the values of decoded JSON.
func scrambled(rng *rand.Rand, v any, in int, words []string) any {
	hit := rng.IntN(in) == 0
	switch x := v.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(x)) {
			x[k] = scrambled(rng, x[k], in, words)
		}
	case []any:
		for i := range x {
			x[i] = scrambled(rng, x[i], in, words)
		}
		switch at := rng.IntN(len(x) + 1); {
		case hit && at < len(x) && rng.IntN(2) == 0:
			return append(x[:at], x[at+1:]...)
		case hit && at < len(x):
			return append(x, x[at])
		}
	case float64:
		if hit {
			return []float64{0, -1, 1, 7, x + 1, -x, 1e15}[rng.IntN(7)]
		}
	case string:
		if hit {
			return words[rng.IntN(len(words))]
		}
	case bool:
		return x != hit
	}
	return v
}
