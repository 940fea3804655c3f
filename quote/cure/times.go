package cure

import "fmt"

// Times puts the material's planning times into a room. It refuses, with a *Refusal, a room outside the material's
// limits and one in which a window would close before it opens.
func (m Material) Times(r Room) (Times, error) {
	if err := m.Admit(r); err != nil {
		return Times{}, err
	}
	t := Times{Touch: m.minutes("touch", r), Handle: m.minutes("handle", r), Full: m.minutes("full", r), Notes: m.notes(r)}
	// Full cure never comes before handling, even where the two figures have different reference rooms.
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

// Factor is by how much the material's minima are longer in a room than in the table's usual one, limits aside: what a
// simulation of an uncertain humidity multiplies with. Going from room a to room b a water-borne minimum grows by
// Factor(b)/Factor(a), whatever its reference room; it grows with humidity as 1/(1 − RH) and is infinite at 100 %.
func (m Material) Factor(r Room) float64 {
	slow, _ := m.factors(r, m.usual)
	return slow
}

// factors are by how much the material takes longer in r than in its reference room: at the slower end of its
// activation energies for minima, at the faster for maxima.
func (m Material) factors(r, reference Room) (slow, fast float64) {
	switch {
	case m.Law == Water:
		f := EvaporationFactor(r, reference)
		return f, f
	case m.Law == Cooling:
		return 1, 1
	case m.Energy != nil:
		a := ArrheniusFactor(r.Celsius, reference.Celsius, m.Energy.Low)
		b := ArrheniusFactor(r.Celsius, reference.Celsius, m.Energy.High)
		return max(a, b), min(a, b)
	}
	f := ReactionFactor(r.Celsius, reference.Celsius)
	return f, f
}

// reference is the figure's planning value in minutes, in its reference room.
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

// placing is the window of an adhesive's coated faces in its reference room, from dry to the finger until the end of
// the open time; none for coatings.
func (m Material) placing() []Allowed {
	open, ok := m.Figure("open")
	if !ok {
		return nil
	}
	a := Allowed{Window: Window{Latest: open.reference()}, Celsius: open.Celsius, Humidity: open.Humidity}
	// One-face adhesives are joined wet: their touch time comes after the open time, and there is nothing to wait for.
	if touch := m.minutes("touch", Room{open.Celsius, open.Humidity}); touch <= a.Latest {
		a.Earliest = touch
	}
	return []Allowed{a}
}

// moved is a window in a room: its opening both ways, its closing only towards earlier.
func (m Material) moved(a Allowed, r Room) (w Window, open bool) {
	slow, fast := m.factors(r, Room{a.Celsius, a.Humidity})
	w = Window{Earliest: a.Earliest * slow, Latest: a.Latest * min(fast, 1)}
	return w, w.Latest == 0 || w.Earliest < w.Latest
}

// windows moves allowed intervals into a room. Of several it drops those that have shut; it refuses if none is left.
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

// notes say where the room is allowed but outside of what the sources call best.
func (m Material) notes(r Room) []string {
	var out []string
	for _, n := range []struct {
		figure, unit string
		has          float64
	}{{"best temperature", "°C", r.Celsius}, {"best humidity", "% humidity", r.Humidity}} {
		if f, ok := m.Figure(n.figure); ok && (n.has < f.Low || n.has > f.High) {
			out = append(out, fmt.Sprintf("%s: the room has %g %s, best are %g to %g", m.Key, n.has, n.unit, f.Low, f.High))
		}
	}
	return out
}
