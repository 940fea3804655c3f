package desk

import (
	"fmt"
	"math"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
)

// Keys of what is asked for only to estimate the rest from.
const (
	heightKey = "stature"
	massKey   = "body-mass"
	adultKey  = "adult" // not kept
)

// taken are the measurements of one side that somebody took, with the body mass if it was given: what checks and
// estimates rest on. Estimates are not among them, or they would vouch for themselves.
func (w *work) taken(c ledger.Commission, side foam.Side) (map[string]geom.MM, measure.Mass, error) {
	given, err := w.t.Measurements(c.ID)
	if err != nil {
		return nil, 0, err
	}
	body := map[string]geom.MM{}
	var mass measure.Mass
	for _, m := range given {
		if m.Key == massKey {
			if mass, err = measure.ParseMass(m.Typed); err != nil {
				mass = 0 // it was refused when it was given
			}
			continue
		}
		if !m.Known || m.Deviation > 0 || (m.Side != foam.NoSide && m.Side != side) {
			continue
		}
		if _, ok := body[m.Key]; !ok || m.Side != foam.NoSide {
			body[m.Key] = m.Value
		}
	}
	return body, mass, nil
}

// findings are what measure.Check says of the measurements shown, by field.
func (w *work) findings(c ledger.Commission, all []wanted) (map[string]measure.Finding, error) {
	out := map[string]measure.Finding{}
	for _, side := range []foam.Side{foam.NoSide, foam.Left, foam.Right} {
		body, mass, err := w.taken(c, side)
		if err != nil {
			return nil, err
		}
		for _, f := range measure.Check(body, mass) {
			for _, x := range all {
				if x.def.Key != f.Key || x.have.Deviation > 0 || x.side != side {
					continue
				}
				if was, ok := out[x.field()]; !ok || f.Level > was.Level {
					out[x.field()] = f
				}
			}
		}
	}
	return out, nil
}

// estimate asks for what estimates rest on, filled in with what is known.
func (w *work) estimate(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustMeasure(c); err != nil {
		return chat.Reply{}, err
	}
	given, err := w.t.Measurements(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	typed := map[string]string{}
	for _, m := range given {
		if m.Side == foam.NoSide {
			typed[m.Key] = m.Typed
		}
	}
	return chat.Reply{Form: &chat.Form{Action: "height/" + string(c.ID), Title: "Estimate the rest · " + string(c.ID), Fields: []chat.Field{
		{Key: heightKey, Label: "Height without shoes (cm)", Hint: "174 or 5'8 1/2\"", Value: typed[heightKey]},
		{Key: massKey, Label: "Weight, makes it more exact", Hint: "70 kg or 154 lb", Value: typed[massKey], Optional: true},
		{Key: adultKey, Label: "Is the wearer an adult? Write yes or no", Hint: "nothing is estimated for children"},
	}}}, nil
}

// height takes what estimates rest on and then fills in the rest.
func (w *work) height(c ledger.Commission) (chat.Reply, error) {
	if err := w.mustMeasure(c); err != nil {
		return chat.Reply{}, err
	}
	switch strings.ToLower(strings.Trim(oneLine(w.in.Values[adultKey]), ". ")) {
	case "yes", "y", "adult":
	case "no", "n", "child":
		return chat.Reply{}, refuse("nothing is estimated for children, who differ too much; have an adult measure the wearer, and measure again before every order")
	default:
		return chat.Reply{}, refuse("say whether the wearer is an adult: yes or no")
	}
	def, _ := measure.Lookup(heightKey)
	typed := oneLine(w.in.Values[heightKey])
	v, err := measure.Parse(typed, measure.CM)
	if err != nil {
		return chat.Reply{}, refuse("the height was not understood: %s", err)
	}
	if g, say := def.Judge(v); g == measure.Impossible {
		return chat.Reply{}, refuse("%s", strings.TrimSuffix(say, "."))
	}
	if err := w.t.SetMeasurement(c.ID, ledger.Measurement{Key: heightKey, Typed: typed, Known: true, Value: v}); err != nil {
		return chat.Reply{}, err
	}
	mass := oneLine(w.in.Values[massKey])
	if mass == "" {
		err = w.t.DropMeasurement(c.ID, massKey, foam.NoSide)
	} else if _, err = measure.ParseMass(mass); err != nil {
		return chat.Reply{}, refuse("the weight was not understood: %s", err)
	} else {
		err = w.t.SetMeasurement(c.ID, ledger.Measurement{Key: massKey, Typed: mass})
	}
	if err != nil {
		return chat.Reply{}, err
	}
	return w.fillIn(c)
}

func (w *work) fillIn(c ledger.Commission) (chat.Reply, error) {
	all, err := w.wants(c)
	if err != nil {
		return chat.Reply{}, err
	}
	var problems []string
	done := 0
	for _, x := range missing(all) {
		body, mass, err := w.taken(c, x.side)
		if err != nil {
			return chat.Reply{}, err
		}
		v, sd, _, err := measure.Estimate(x.def.Key, body, mass)
		if err != nil {
			problems = append(problems, fmt.Sprintf("\n• %s: %s.", x.label(), err))
			continue
		}
		done++
		m := ledger.Measurement{Key: x.def.Key, Side: x.side, Known: true, Value: geom.MM(math.Round(float64(v))), Deviation: geom.MM(math.Ceil(float64(sd)))}
		if err := w.t.SetMeasurement(c.ID, m); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.record(c, "measurements estimated", fmt.Sprintf("%d estimated, %d not", done, len(problems))); err != nil {
		return chat.Reply{}, err
	}
	return w.progressBody(c, problems)
}

// shown is a value as it is shown back: an estimate says so.
func shown(x wanted) string {
	s := measure.Format(x.have.Value)
	if x.have.Deviation > 0 {
		s = fmt.Sprintf("about %s, *estimated*, give or take %s; room is left for that", s, measure.Format(x.have.Deviation))
		if caveat := measure.Caveat(x.def.Key); caveat != "" {
			s += ". " + strings.TrimSuffix(caveat, ".")
		}
	}
	return s
}
