package body

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

// sides that an item can be ordered for.
func sides(sided bool) []quote.Sides {
	if sided {
		return []quote.Sides{quote.Pair, quote.OneLeft, quote.OneRight}
	}
	return []quote.Sides{quote.Plain}
}

// units are the sides an item is graded on, worked out without package engine.
func units(s quote.Sides) []foam.Side {
	switch s {
	case quote.Pair:
		return []foam.Side{foam.Left, foam.Right}
	case quote.OneLeft:
		return []foam.Side{foam.Left}
	case quote.OneRight:
		return []foam.Side{foam.Right}
	}
	return []foam.Side{foam.NoSide}
}

// What is asked for is what is needed: for every pair of sets in the library, on every side, with the sides measured
// separately or not, the answers cover every measurement of both sets, and with one answer fewer one is missing.
func TestAskedIsNeeded(t *testing.T) {
	var all []*pattern.Set
	for _, name := range templates.Sets() {
		svg, toml, err := templates.Source(name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := pattern.Parse(svg, toml)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, s)
	}
	cases := 0
	for _, a := range all {
		for _, b := range all {
			for _, sa := range sides(a.Sided) {
				for _, sb := range sides(b.Sided) {
					for _, apart := range []bool{false, true} {
						cases++
						order := []Ordered{{sa, a.Measures}, {sb, b.Measures}}
						asked, err := Ask(order, apart)
						if err != nil {
							t.Fatal(err)
						}
						for _, x := range asked {
							if x.Side != foam.NoSide && (!apart || !x.Def.Paired) {
								t.Fatalf("%s with %s, apart %v: %s is asked for one side", a.Name, b.Name, apart, x.Label())
							}
						}
						var taken []quote.Taken
						for i, x := range asked {
							taken = append(taken, quote.Taken{Key: x.Def.Key, Side: x.Side, Value: geom.MM(100 + i)})
						}
						lacks := func(taken []quote.Taken) error {
							for i, s := range []*pattern.Set{a, b} {
								for _, side := range units(order[i].Sides) {
									if err := Missing(s.Title, s.Measures, taken, side); err != nil {
										return err
									}
								}
							}
							return nil
						}
						if err := lacks(taken); err != nil {
							t.Fatalf("%s %q with %s %q, apart %v: all is given that was asked, and yet %s", a.Name, sa, b.Name, sb, apart, err)
						}
						for i, x := range asked {
							fewer := append(append([]quote.Taken(nil), taken[:i]...), taken[i+1:]...)
							err := lacks(fewer)
							// A set without sides needs only one of the two.
							if err == nil && x.Side == foam.NoSide {
								t.Fatalf("%s with %s: %s is asked for nothing", a.Name, b.Name, x.Label())
							}
							if err != nil && !strings.Contains(err.Error(), strings.ToLower(x.Def.Label)) {
								t.Fatalf("without %s the refusal is %q, which does not name it", x.Label(), err)
							}
						}
					}
				}
			}
		}
	}
	if cases < 500 {
		t.Fatalf("only %d cases: the library is not all there", cases)
	}
}

// Hip plates have no sides and use the thigh girth, as thigh guards do: if the sides differ, the larger.
func TestWithoutSideTheLarger(t *testing.T) {
	taken := []quote.Taken{{Key: "thigh-girth", Side: foam.Left, Value: 540}, {Key: "thigh-girth", Side: foam.Right, Value: 555}}
	for side, want := range map[foam.Side]geom.MM{foam.Left: 540, foam.Right: 555, foam.NoSide: 555} {
		if got := On(taken, side)["thigh-girth"].Value; got != want {
			t.Errorf("on side %q the thigh is %v, it must be %v", side, got, want)
		}
	}
}

// Whatever is given, the value for a side is one of those given for it, and the order does not matter.
func TestOnDoesNotDependOnOrder(t *testing.T) {
	var keys []string
	for _, d := range measure.All() {
		keys = append(keys, d.Key)
	}
	rapid.Check(t, func(t *rapid.T) {
		taken := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) quote.Taken {
			return quote.Taken{Key: rapid.SampledFrom(keys[:4]).Draw(t, "key"), Side: rapid.SampledFrom([]foam.Side{foam.NoSide, foam.Left, foam.Right}).Draw(t, "side"),
				Value: geom.MM(rapid.IntRange(1, 2000).Draw(t, "value"))}
		}), 0, 10, func(x quote.Taken) string { return x.Key + string(x.Side) }).Draw(t, "taken")
		other := rapid.Permutation(taken).Draw(t, "other order")
		for _, side := range []foam.Side{foam.NoSide, foam.Left, foam.Right} {
			a, b := On(taken, side), On(other, side)
			for _, k := range keys[:4] {
				x, y := a[k], b[k]
				if x.Value != y.Value {
					t.Fatalf("%s on %q is %v in one order and %v in another", k, side, x, y)
				}
				own := false
				for _, g := range taken {
					own = own || g.Key == k && g.Side == side
				}
				if own && x.Side != side {
					t.Fatalf("%s was taken on %q, and %v stands for it", k, side, x)
				}
				if x.Key != "" && x.Side != side && x.Side != foam.NoSide && side != foam.NoSide {
					t.Fatalf("%s of the other side, %v, stands for %q", k, x, side)
				}
			}
		}
	})
}
