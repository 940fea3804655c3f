package cure

import "fmt"

// Times converts the material's planning times to a room. It refuses, with a *Refusal, a room outside the material's limits
// and one in which a window would close before it opens.
func (m Material) Times(r Room) (Times, error) {
	if err := m.Admit(r); err != nil {
		return Times{}, err
	}
	t := Times{Touch: m.minutes("touch", r), Handle: m.minutes("handle", r), Full: m.minutes("full", r), Notes: m.notes(r)}
	// Full cure never comes before handling, even if the two figures have different reference rooms.
	t.Full = max(t.Full, t.Handle)
	var err error
	if t.Recoat, err = m.windows("recoat", m.Recoat, r); err != nil {
		return Times{}, err
	}
	if t.Topcoat, err = m.windows("topcoat", m.Topcoat, r); err != nil {
		return Times{}, err
	}
	if place := m.placing(); place != nil {
		w, err := m.windows("placing", place, r)
		if err != nil {
			return Times{}, err
		}
		t.Place = w[0]
	}
	return t, nil
}

// Factor is how many times longer the material's minima are in a room than in the table's usual one, ignoring limits: a
// simulation of uncertain humidity multiplies by it. From room a to room b a water-borne minimum grows by
// Factor(b)/Factor(a), whatever its reference room; it grows with humidity as 1/(1 − RH) and is infinite at 100 %.
func (m Material) Factor(r Room) float64 {
	slow, _ := m.factors(r, m.usual)
	return slow
}

// factors are how many times longer the material takes in r than in its reference room: slow at the slower end of its
// activation energies, for minima; fast at the faster end, for maxima.
func (m Material) factors(r, reference Room) (slow, fast float64) {
	switch {
	case m.Law == Water:
		f := evaporationFactor(r, reference)
		return f, f
	case m.Law == Cooling:
		return 1, 1
	case m.Energy != nil:
		a := arrheniusFactor(r.Celsius, reference.Celsius, m.Energy.Low)
		b := arrheniusFactor(r.Celsius, reference.Celsius, m.Energy.High)
		return max(a, b), min(a, b)
	}
	f := reactionFactor(r.Celsius, reference.Celsius)
	return f, f
}

// reference is the planning value in minutes, in the figure's reference room.
func (f Figure) reference() float64 {
	if f.Unit == "h" {
		return f.Plan * 60
	}
	return f.Plan
}

func (m Material) minutes(name string, r Room) float64 {
	f, _ := m.Figure(name)
	slow, _ := m.factors(r, Room{f.Celsius, f.Humidity})
	return f.reference() * slow
}

// placing is the window for joining an adhesive's coated faces, in its reference room: from touch-dry to the end of the
// open time. Coatings have none.
func (m Material) placing() []Allowed {
	open, ok := m.Figure("open")
	if !ok {
		return nil
	}
	a := Allowed{Window: Window{Latest: open.reference()}, Celsius: open.Celsius, Humidity: open.Humidity}
	// One-face adhesives are joined wet: they are touch-dry only after the open time, and there is nothing to wait for.
	if touch := m.minutes("touch", Room{open.Celsius, open.Humidity}); touch <= a.Latest {
		a.Earliest = touch
	}
	return []Allowed{a}
}

// moved converts a window to a room: its opening both ways, its closing only to an earlier time.
func (m Material) moved(a Allowed, r Room) (w Window, open bool) {
	slow, fast := m.factors(r, Room{a.Celsius, a.Humidity})
	w = Window{Earliest: a.Earliest * slow, Latest: a.Latest * min(fast, 1)}
	return w, w.Latest == 0 || w.Earliest < w.Latest
}

// windows converts the allowed intervals to a room and drops those that have closed; it refuses the room if none is left.
func (m Material) windows(what string, list []Allowed, r Room) ([]Window, error) {
	out := make([]Window, 0, len(list))
	var shut Window
	for _, a := range list {
		w, open := m.moved(a, r)
		if !open {
			shut = w
			continue
		}
		out = append(out, w)
	}
	if len(out) == 0 && len(list) > 0 {
		return nil, m.shut(what, list, r, shut)
	}
	return out, nil
}

// notes say where the room is allowed but outside the range the sources call best.
func (m Material) notes(r Room) []string {
	var out []string
	for _, n := range []struct {
		figure, unit string
		has          float64
	}{{"best temperature", "°C", r.Celsius}, {"best humidity", "% humidity", r.Humidity}} {
		if f, ok := m.Figure(n.figure); ok && (n.has < f.Low || n.has > f.High) {
			out = append(out, fmt.Sprintf("%s: the room has %g %s, best is %g to %g", m.Key, n.has, n.unit, f.Low, f.High))
		}
	}
	return out
}
