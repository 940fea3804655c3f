package shop

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/body"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
)

var (
	measuring     = []ledger.State{ledger.Measuring, ledger.Checking}
	measuringElse = with(draftsElse, map[ledger.State]Kind{ledger.Choosing: ChooseFirst})
)

// Wanted is one measurement that the chosen sets need, with what was given of it.
type Wanted struct{ ledger.Measurement }

// Def is what there is to know of the measurement.
func (x Wanted) Def() measure.Def {
	d, _ := measure.Lookup(x.Key) // it was looked up when it was asked for
	return d
}

// Label names it: "Wrist girth, left".
func (x Wanted) Label() string { return body.Asked{Def: x.Def(), Side: x.Side}.Label() }

// Field is its key among those typed: "wrist-girth" or "wrist-girth/left".
func (x Wanted) Field() string {
	if x.Side != foam.NoSide {
		return x.Key + "/" + string(x.Side)
	}
	return x.Key
}

// Missing are those not known yet.
func Missing(all []Wanted) []Wanted {
	return slices.DeleteFunc(slices.Clone(all), func(x Wanted) bool { return x.Known })
}

// wants lists the measurements needed, in asking order, with what has been given of each; both says that left and right can
// be measured apart.
func (j *job) wants(c ledger.Commission) (all []Wanted, both bool, err error) {
	items, err := j.t.Items(c.ID)
	if err != nil {
		return nil, false, err
	}
	var order []body.Ordered
	for _, it := range items {
		s, ok := j.s.Set(it.Set)
		if !ok {
			return nil, false, noSet(c, it)
		}
		order = append(order, body.Ordered{Sides: it.Sides, Measures: s.Measures})
	}
	asked, err := body.Ask(order, c.Apart)
	if err != nil {
		return nil, false, fmt.Errorf("%s: %w", c.ID, err)
	}
	given, err := j.t.Measurements(c.ID)
	if err != nil {
		return nil, false, err
	}
	for _, a := range asked {
		x := Wanted{ledger.Measurement{Taken: quote.Taken{Key: a.Def.Key, Side: a.Side}}}
		if m, ok := find(given, a.Def.Key, a.Side); ok {
			x.Measurement = m
		}
		all = append(all, x)
	}
	return all, body.BothSides(order), nil
}

// find the measurement of that key that was given for that side itself.
func find(given []ledger.Measurement, key string, side foam.Side) (ledger.Measurement, bool) {
	i := slices.IndexFunc(given, func(m ledger.Measurement) bool { return m.Key == key && m.Side == side })
	if i < 0 {
		return ledger.Measurement{}, false
	}
	return given[i], true
}

func noSet(c ledger.Commission, it quote.Item) error {
	return fmt.Errorf("%s orders the set %q, which the library does not have any more", c.ID, it.Set)
}

// Body is how far the measurements of a commission are.
type Body struct {
	Commission ledger.Commission
	From       ledger.State // before the act
	All        []Wanted
	CanDiffer  bool // left and right can be measured apart
	Begun      bool // measuring has begun with this act
	Problems   []Problem
	// What is to be said of them once all are in, or once they are looked at.
	Findings map[string]measure.Finding `json:"-"` // by Wanted.Field
	Sides    []measure.Finding          `json:"-"` // left against right
}

// Complete reports whether every measurement is known.
func (b Body) Complete() bool { return len(Missing(b.All)) == 0 }

// bodyOf looks at the measurements and changes nothing.
func (j *job) bodyOf(c ledger.Commission) (Body, error) {
	b := Body{Commission: c, From: c.State}
	all, both, err := j.wants(c)
	if err != nil {
		return b, err
	}
	b.All, b.CanDiffer = all, both && slices.ContainsFunc(all, func(x Wanted) bool { return x.Def().Paired })
	return b, nil
}

// settle moves a commission between measuring and checking as its measurements are in or not; from is its state before the act.
func (j *job) settle(c ledger.Commission, from ledger.State, problems []Problem) (Body, error) {
	b, err := j.bodyOf(c)
	if err != nil {
		return b, err
	}
	b.From, b.Problems = from, problems
	switch {
	case b.Complete() && c.State != ledger.Checking:
		c.State = ledger.Checking
		err = j.save(&c, "measurements complete", "")
	case !b.Complete() && c.State == ledger.Checking:
		c.State = ledger.Measuring
		err = j.save(&c, "measurements incomplete", "")
	}
	if err != nil {
		return b, err
	}
	b.Commission = c
	if b.Complete() {
		err = j.judge(&b)
	}
	return b, err
}

// evidence is what checks and estimates rest on: the measurements that somebody took, and the body mass if it was given.
// Estimates are not among them, or they would vouch for themselves; nor are those of one side where both are asked for as one.
func (j *job) evidence(c ledger.Commission, all []Wanted) (taken []quote.Taken, mass measure.Mass, err error) {
	given, err := j.t.Measurements(c.ID)
	if err != nil {
		return nil, 0, err
	}
	for _, m := range given {
		asked := slices.ContainsFunc(all, func(x Wanted) bool { return x.Key == m.Key && x.Side == m.Side })
		switch {
		case m.Key == MassKey:
			if mass, err = measure.ParseMass(m.Typed); err != nil {
				mass = 0 // it was refused when it was given
			}
		case m.Known && !m.Estimated() && (m.Side == foam.NoSide || asked):
			taken = append(taken, m.Taken)
		}
	}
	return taken, mass, nil
}

// sizes are the values that stand for a side.
func sizes(taken []quote.Taken, side foam.Side) map[string]geom.MM {
	out := map[string]geom.MM{}
	for key, t := range body.On(taken, side) {
		out[key] = t.Value
	}
	return out
}

// judge finds what is unusual among the measurements.
func (j *job) judge(b *Body) error {
	taken, mass, err := j.evidence(b.Commission, b.All)
	if err != nil {
		return err
	}
	b.Findings = map[string]measure.Finding{}
	for _, side := range []foam.Side{foam.NoSide, foam.Left, foam.Right} {
		for _, f := range measure.Check(sizes(taken, side), mass) {
			for _, x := range b.All {
				if x.Key != f.Key || x.Estimated() || x.Side != side {
					continue
				}
				if was, ok := b.Findings[x.Field()]; !ok || f.Level > was.Level {
					b.Findings[x.Field()] = f
				}
			}
		}
	}
	b.Sides = measure.CheckSides(sizes(taken, foam.Left), sizes(taken, foam.Right))
	return nil
}

// Measure ends the choosing and begins the measuring.
type Measure struct{ Of }

func startMeasuring(j *job, c ledger.Commission, _ Measure) (Body, error) {
	return j.measure(c, c.State)
}

func (j *job) measure(c ledger.Commission, from ledger.State) (Body, error) {
	items, err := j.t.Items(c.ID)
	if err != nil {
		return Body{}, err
	}
	switch {
	case len(items) == 0:
		return Body{}, &Refusal{Kind: NoSets, Commission: c}
	case c.Finish == "":
		return Body{}, &Refusal{Kind: NoFinish, Commission: c}
	}
	mend := func(what string, err error) error {
		return &Refusal{Kind: NeedsMending, Commission: c, Name: what, Cause: err}
	}
	// Read again: a day may have passed, and what was not understood must not be lost silently.
	if c.Wanted, err = j.wantedBy(c.WantedTyped); err != nil {
		return Body{}, mend("wanted", err)
	}
	if _, err := thickness(c.ClothingTyped, maxClothing); err != nil {
		return Body{}, mend("clothing", err)
	}
	if _, err := thickness(c.AllowTyped, maxAllowance); err != nil {
		return Body{}, mend("allowance", err)
	}
	if c.State == ledger.Choosing {
		c.State = ledger.Measuring
		if err := j.save(&c, "measuring", ""); err != nil {
			return Body{}, err
		}
	}
	b, err := j.settle(c, from, nil)
	b.Begun = true
	return b, err
}

// GiveMeasurements gives measurements as typed, by Wanted.Field; a bare number is centimetres. What is understood is kept.
type GiveMeasurements struct {
	Of
	Typed map[string]string
}

func giveMeasurements(j *job, c ledger.Commission, a GiveMeasurements) (Body, error) {
	all, _, err := j.wants(c)
	if err != nil {
		return Body{}, err
	}
	given := giving{j: j, c: c, typed: a.Typed, all: all}
	for _, x := range all {
		if err := given.asked(x); err != nil {
			return Body{}, err
		}
	}
	for _, d := range measure.All() {
		if err := given.notAsked(d); err != nil {
			return Body{}, err
		}
	}
	if err := j.record(c, "measurements given", fmt.Sprintf("%d understood, %d not", given.took, len(given.problems))); err != nil {
		return Body{}, err
	}
	return j.settle(c, c.State, given.problems)
}

// giving is a form of measurements being taken.
type giving struct {
	j        *job
	c        ledger.Commission
	typed    map[string]string
	all      []Wanted // what is asked for now
	problems []Problem
	took     int
}

// read reads what was typed for a measurement on a side; ok says that something was.
func (g *giving) read(x Wanted) (m ledger.Measurement, ok bool) {
	m.Taken = quote.Taken{Key: x.Key, Side: x.Side, Typed: OneLine(g.typed[x.Field()])}
	if m.Typed == "" {
		return m, false
	}
	v, err := measure.Parse(m.Typed, measure.CM)
	if err == nil {
		if grade, say := x.Def().Judge(v); grade == measure.Impossible {
			err = errors.New(strings.TrimSuffix(say, "."))
		}
	}
	if err != nil {
		m.Problem = err.Error()
		return m, true
	}
	m.Known, m.Value = true, v
	return m, true
}

// asked takes what was typed for a measurement that is asked for.
func (g *giving) asked(x Wanted) error {
	m, ok := g.read(x)
	if !ok {
		return nil
	}
	if m.Known {
		g.took++
	} else {
		g.problems = append(g.problems, Problem{What: x.Label(), Typed: m.Typed, Cause: m.Problem})
	}
	return g.j.t.SetMeasurement(g.c.ID, m)
}

// notAsked takes what was typed for a measurement into a form that is older than the last change of sides: it is kept as
// given, and suggested where the measurement is asked for now.
func (g *giving) notAsked(d measure.Def) error {
	var older []ledger.Measurement
	for _, side := range []foam.Side{foam.NoSide, foam.Left, foam.Right} {
		x := Wanted{ledger.Measurement{Taken: quote.Taken{Key: d.Key, Side: side}}}
		m, ok := g.read(x)
		if !ok || slices.ContainsFunc(g.all, func(w Wanted) bool { return w.Field() == x.Field() }) {
			continue
		}
		if err := g.j.t.SetMeasurement(g.c.ID, m); err != nil {
			return err
		}
		older = append(older, m)
	}
	if len(older) == 0 {
		return nil
	}
	best := slices.MaxFunc(older, func(a, b ledger.Measurement) int { return cmp.Compare(a.Value, b.Value) })
	asked := false
	for _, x := range g.all {
		if x.Key != d.Key || x.Side == foam.NoSide && OneLine(g.typed[x.Field()]) != "" {
			continue // another, or typed as it is asked for now, too
		}
		asked = true
		if x.Side != foam.NoSide && (x.Known || OneLine(g.typed[x.Field()]) != "") {
			continue // the side has a value of its own
		}
		m := best
		m.Side, m.Known = x.Side, false
		m.Problem = cmp.Or(m.Problem, "typed before left and right were asked for like this")
		if err := g.j.t.SetMeasurement(g.c.ID, m); err != nil {
			return err
		}
	}
	switch {
	case !asked:
	case best.Problem != "":
		g.problems = append(g.problems, Problem{What: d.Label, Typed: best.Typed, Cause: best.Problem})
	case best.Side == foam.NoSide:
		g.problems = append(g.problems, Problem{Kind: AskedPerSide, What: d.Label, Typed: best.Typed})
	default:
		g.problems = append(g.problems, Problem{Kind: AskedOnce, What: d.Label, Typed: best.Typed})
	}
	return nil
}

// SetApart switches between one value for both sides and one for each; what was given is carried over.
type SetApart struct{ Of }

// ApartSet is how left and right are measured now.
type ApartSet struct{ Body }

func setApart(j *job, c ledger.Commission, _ SetApart) (ApartSet, error) {
	c.Apart = !c.Apart
	if err := j.save(&c, "left and right", map[bool]string{true: "apart", false: "the same"}[c.Apart]); err != nil {
		return ApartSet{}, err
	}
	given, err := j.t.Measurements(c.ID)
	if err != nil {
		return ApartSet{}, err
	}
	all, _, err := j.wants(c)
	if err != nil {
		return ApartSet{}, err
	}
	var taken []quote.Taken
	for _, m := range given {
		taken = append(taken, m.Taken)
	}
	for _, x := range all {
		if _, ok := find(given, x.Key, x.Side); ok {
			continue
		}
		m, ok := find(given, x.Key, body.On(taken, x.Side)[x.Key].Side)
		if !ok {
			continue
		}
		m.Side = x.Side
		// A value taken for both sides is only a suggestion for each: it is filled in and asked for again.
		if c.Apart {
			m.Known, m.Problem = false, "left and right differ"
		}
		if err := j.t.SetMeasurement(c.ID, m); err != nil {
			return ApartSet{}, err
		}
	}
	b, err := j.settle(c, c.State, nil)
	return ApartSet{b}, err
}

// Keys of what is asked for only to estimate the rest from.
const (
	HeightKey = "stature"
	MassKey   = "body-mass"
)

// Estimate has the missing measurements estimated from height and, where it was given, weight, both as typed.
type Estimate struct {
	Of
	Adult        *bool // nil: not said
	Height, Mass string
}

func estimate(j *job, c ledger.Commission, a Estimate) (Body, error) {
	switch {
	case a.Adult == nil:
		return Body{}, &Refusal{Kind: AdultUnknown, Commission: c}
	case !*a.Adult:
		return Body{}, &Refusal{Kind: NotForChildren, Commission: c}
	}
	def, _ := measure.Lookup(HeightKey)
	typed := OneLine(a.Height)
	v, err := measure.Parse(typed, measure.CM)
	if err != nil {
		return Body{}, &Refusal{Kind: NotUnderstood, Commission: c, Name: "height", Cause: err}
	}
	if g, say := def.Judge(v); g == measure.Impossible {
		return Body{}, &Refusal{Kind: Impossible, Commission: c, Cause: errors.New(strings.TrimSuffix(say, "."))}
	}
	if err := j.t.SetMeasurement(c.ID, ledger.Measurement{Taken: quote.Taken{Key: HeightKey, Typed: typed, Value: v}, Known: true}); err != nil {
		return Body{}, err
	}
	mass := OneLine(a.Mass)
	if mass == "" {
		err = j.t.DropMeasurement(c.ID, MassKey, foam.NoSide)
	} else if _, err = measure.ParseMass(mass); err != nil {
		return Body{}, &Refusal{Kind: NotUnderstood, Commission: c, Name: "weight", Cause: err}
	} else {
		err = j.t.SetMeasurement(c.ID, ledger.Measurement{Taken: quote.Taken{Key: MassKey, Typed: mass}})
	}
	if err != nil {
		return Body{}, err
	}
	return j.fillIn(c)
}

// fillIn estimates what is missing.
func (j *job) fillIn(c ledger.Commission) (Body, error) {
	all, _, err := j.wants(c)
	if err != nil {
		return Body{}, err
	}
	taken, mass, err := j.evidence(c, all)
	if err != nil {
		return Body{}, err
	}
	var problems []Problem
	done := 0
	for _, x := range Missing(all) {
		v, sd, _, err := measure.Estimate(x.Key, sizes(taken, x.Side), mass)
		if err != nil {
			problems = append(problems, Problem{What: x.Label(), Cause: err.Error()})
			continue
		}
		done++
		x.Measurement = ledger.Measurement{Known: true, Taken: quote.Taken{Key: x.Key, Side: x.Side, Value: geom.MM(math.Round(float64(v))),
			Deviation: geom.MM(math.Ceil(float64(sd)))}}
		if err := j.t.SetMeasurement(c.ID, x.Measurement); err != nil {
			return Body{}, err
		}
	}
	if err := j.record(c, "measurements estimated", fmt.Sprintf("%d estimated, %d not", done, len(problems))); err != nil {
		return Body{}, err
	}
	return j.settle(c, c.State, problems)
}

// Measurements looks at the measurements of a commission, to be given or corrected. From is the first that is wanted of All;
// Rest leaves only what is missing.
type Measurements struct {
	Of
	Rest bool
	From int
}

func measurements(j *job, c ledger.Commission, q Measurements) (Body, error) {
	b, err := j.bodyOf(c)
	if err != nil {
		return b, err
	}
	if err := j.judge(&b); err != nil {
		return b, err
	}
	all := len(b.All)
	if q.Rest {
		if b.All = Missing(b.All); len(b.All) == 0 {
			return b, &Refusal{Kind: Complete, Commission: c}
		}
	}
	if q.From > 0 && q.From >= len(b.All) {
		return b, &Refusal{Kind: NoSuchPage, Commission: c, Count: all}
	}
	b.All = b.All[q.From:]
	return b, nil
}

// HeightAndWeight looks at what estimates rest on, as typed.
type HeightAndWeight struct{ Of }

// Stature is what estimates rest on, as typed.
type Stature struct {
	Commission   ledger.Commission
	Height, Mass string
}

func stature(j *job, c ledger.Commission, _ HeightAndWeight) (Stature, error) {
	o := Stature{Commission: c}
	given, err := j.t.Measurements(c.ID)
	for _, m := range given {
		switch {
		case m.Side != foam.NoSide:
		case m.Key == HeightKey:
			o.Height = m.Typed
		case m.Key == MassKey:
			o.Mass = m.Typed
		}
	}
	return o, err
}

// Confirm takes the measurements as right and has the quote worked out.
type Confirm struct{ Of }

// Confirmed are the measurements that the quote is worked out from.
type Confirmed struct {
	All     []Wanted
	Request Requested
}

// fits refuses a body that what is ordered cannot be made to: it would only fail once the quote is worked out.
func fits(_ context.Context, s *Shop, _ Call, _ Confirm, read reading) (none, error) {
	var snap quote.Snapshot
	var of ledger.Commission
	complete := false
	err := read(func(j *job, c ledger.Commission) error {
		of = c
		all, _, err := j.wants(c)
		if err != nil {
			return err
		}
		complete = len(Missing(all)) == 0 // else confirm refuses
		snap, err = j.snapshot(c, nil)
		return err
	})
	if err != nil || !complete || s.cfg.Fits == nil {
		return none{}, err
	}
	no := s.cfg.Fits(snap)
	var told interface{ Client() string }
	switch {
	case no == nil:
		return none{}, nil
	case errors.As(no, &told):
		return none{}, &Refusal{Kind: Misfit, Commission: of, Cause: errors.New(told.Client())}
	}
	return none{}, nil // not the body's fault: the worker says what it is
}

// bodyNow is what is ordered and what it would be made to.
func bodyNow(j *job, c ledger.Commission, _ Confirm) (string, error) {
	s, err := j.snapshot(c, nil)
	return fmt.Sprint(s.Items, s.Body, s.Clothing, s.Allowance), err
}

func confirm(j *job, c ledger.Commission, _ Confirm, _ none) (Confirmed, error) {
	all, _, err := j.wants(c)
	if err != nil {
		return Confirmed{}, err
	}
	if left := Missing(all); len(left) > 0 {
		return Confirmed{}, &Refusal{Kind: Incomplete, Commission: c, Name: left[0].Label()}
	}
	changes, err := askedOf(c)
	if err != nil {
		return Confirmed{}, err
	}
	r, err := j.compute(c, changes)
	return Confirmed{all, r}, err
}
