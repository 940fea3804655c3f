// Package body says which measurement stands for what: on which sides a measurement is asked for, and which value a set is
// made to on a side. Asking, checking, grading and printing all go by it, so that what is asked is what is needed.
//
// It refuses a measurement that is not defined, and names one that is missing in the words in which it was asked. What
// always holds: once everything that Ask lists is given, On has a value for every measurement of every set ordered, on
// every side that it is ordered for.
package body

import (
	"fmt"
	"strings"

	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/measure"
)

// Ordered is what an item of an order needs to be known of the body.
type Ordered struct {
	Sides    quote.Sides
	Measures []string // keys, in asking order
}

// Asked is one measurement to be taken: of one side, or of either.
type Asked struct {
	Def  measure.Def
	Side foam.Side // NoSide: one value stands for both sides
}

// Label names it as it is asked: "Thigh girth, left".
func (a Asked) Label() string { return label(a.Def, a.Side) }

func label(d measure.Def, side foam.Side) string {
	if side == foam.NoSide {
		return d.Label
	}
	return d.Label + ", " + string(side)
}

// BothSides reports whether anything ordered is worn left and right; only then can the sides be measured apart.
func BothSides(all []Ordered) bool {
	var l, r bool
	for _, x := range all {
		for _, s := range Sides(x.Sides) {
			l, r = l || s == foam.Left, r || s == foam.Right
		}
	}
	return l && r
}

// Sides are the sides that one of an item is made for.
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

// Ask lists what is to be measured for an order, each once and in asking order. apart says that left and right differ: what
// comes in pairs is then asked for on both sides, whoever needs it.
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
				return nil, fmt.Errorf("the measurement %q is not defined; name one that is", key)
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

// On gives, by key, the value that stands for a side: the one taken on it, else the one taken for both. What is made
// without a side goes by the larger where left and right were taken apart, so that it goes round either (common practice,
// no source).
func On(taken []quote.Taken, side foam.Side) map[string]quote.Taken {
	out := map[string]quote.Taken{}
	for _, t := range taken {
		was, ok := out[t.Key]
		switch {
		case t.Side == side: // the best there is
		case t.Side == foam.NoSide && (!ok || was.Side != side):
		case side == foam.NoSide && (!ok || was.Side != foam.NoSide && t.Value > was.Value):
		default:
			continue
		}
		out[t.Key] = t
	}
	return out
}

// Missing says which of the measurements that a set is made to is not there for a side: a sentence; nil where none is.
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
		return fmt.Errorf("%s cannot be made without the %s; take that measurement and give it", title, name)
	}
	return nil
}
