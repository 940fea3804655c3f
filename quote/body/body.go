// Package body decides which measurement applies where: the sides on which each measurement is asked for, and the value a
// set is made to on each side. Asking, checking, grading and printing all use it, so that what is asked for is what is
// needed.
//
// It refuses a measurement that is not defined and names a missing one as it was asked for. What always holds: once
// everything Ask lists is given, On has a value for every measurement of every ordered set, on every side it is ordered
// for.
package body

import (
	"fmt"
	"strings"

	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/measure"
)

// Ordered is what an ordered item needs to know about the body.
type Ordered struct {
	Sides    quote.Sides
	Measures []string // keys, in asking order
}

// Asked is one measurement to take, on one side or for both.
type Asked struct {
	Def  measure.Def
	Side foam.Side // NoSide: one value for both sides
}

// Label is its name as asked: "Thigh girth, left".
func (a Asked) Label() string { return label(a.Def, a.Side) }

func label(d measure.Def, side foam.Side) string {
	if side == foam.NoSide {
		return d.Label
	}
	return d.Label + ", " + string(side)
}

// BothSides reports whether any ordered item is worn left and right; only then can the sides be measured separately.
func BothSides(all []Ordered) bool {
	var l, r bool
	for _, x := range all {
		for _, s := range Sides(x.Sides) {
			l, r = l || s == foam.Left, r || s == foam.Right
		}
	}
	return l && r
}

// Sides lists the sides one of the item is made for.
func Sides(of quote.Sides) []foam.Side {
	switch of {
	case quote.Pair:
		return []foam.Side{foam.Left, foam.Right}
	case quote.OneLeft:
		return []foam.Side{foam.Left}
	case quote.OneRight:
		return []foam.Side{foam.Right}
	}
	return []foam.Side{foam.NoSide}
}

// Ask lists what to measure for an order, each measurement once and in asking order. apart says that left and right differ:
// measurements that come in pairs are then asked for on both sides, whichever item needs them.
func Ask(all []Ordered, apart bool) ([]Asked, error) {
	apart = apart && BothSides(all)
	var out []Asked
	seen := map[string]bool{}
	for _, x := range all {
		for _, key := range x.Measures {
			if seen[key] {
				continue
			}
			seen[key] = true
			def, ok := measure.Lookup(key)
			if !ok {
				return nil, fmt.Errorf("there is no measurement %q; use one that is defined", key)
			}
			if def.Paired && apart {
				out = append(out, Asked{def, foam.Left}, Asked{def, foam.Right})
			} else {
				out = append(out, Asked{def, foam.NoSide})
			}
		}
	}
	return out, nil
}

// On maps keys to the values for a side: the value taken on that side, or else the one taken for both. For an item without
// a side it takes the larger where left and right were measured separately, so that it goes around either (common practice,
// no source).
func On(taken []quote.Taken, side foam.Side) map[string]quote.Taken {
	out := map[string]quote.Taken{}
	for _, t := range taken {
		was, ok := out[t.Key]
		switch {
		case t.Side == side: // the best match
		case t.Side == foam.NoSide && (!ok || was.Side != side):
		case side == foam.NoSide && (!ok || was.Side != foam.NoSide && t.Value > was.Value):
		default:
			continue
		}
		out[t.Key] = t
	}
	return out
}

// Missing says which measurement a set needs and does not have for a side; nil if it has all.
func Missing(title string, measures []string, taken []quote.Taken, side foam.Side) error {
	have := On(taken, side)
	for _, key := range measures {
		if _, ok := have[key]; ok {
			continue
		}
		name := key
		if d, ok := measure.Lookup(key); ok {
			name = strings.ToLower(label(d, side))
		}
		return fmt.Errorf("%s cannot be made without the %s; please measure and enter it", title, name)
	}
	return nil
}
