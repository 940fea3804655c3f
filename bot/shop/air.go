package shop

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote/cure"
)

// SayAir says what the air at the bench is, as typed: degrees Celsius and relative humidity in percent. Cures under way that take
// longer in it ring later; none rings sooner than planned.
type SayAir struct{ Celsius, Humidity string }

// AirSaid is the air at the bench, and what dries longer in it.
type AirSaid struct {
	Room   cure.Room
	Slower []Slowed
}

// Slowed is a cure that ends later than was said before.
type Slowed struct {
	Operation ledger.Operation
	Bell      ledger.Bell
	Was       time.Time
	Refused   string // why its material does not dry in this air at all; empty: it does
}

// Air is what is known of the air at the bench.
type Air struct {
	Planned cure.Room // by the settings
	Now     cure.Room
	At      time.Time // when that was said; zero: it was not, or too long ago
}

// airHolds is for how long the air is believed to be as it was said last; after that it is as planned again. A heated workshop
// changes with the night (assumption).
const airHolds = 12 * time.Hour

func sayAir(j *job, a SayAir) (AirSaid, error) {
	read := func(typed string) (float64, error) {
		s := strings.TrimSpace(strings.TrimRight(OneLine(typed), "%°Cc "))
		return strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	}
	celsius, err := read(a.Celsius)
	if err != nil {
		return AirSaid{}, &Refusal{Kind: BadAir, Name: OneLine(a.Celsius), Cause: errors.New("give the temperature in °C, such as 21")}
	}
	humidity, err := read(a.Humidity)
	if err != nil {
		return AirSaid{}, &Refusal{Kind: BadAir, Name: OneLine(a.Humidity), Cause: errors.New("give the relative humidity in percent, such as 55")}
	}
	return j.air(cure.Room{Celsius: celsius, Humidity: humidity}, j.by)
}

// sensor signs what a sensor says.
var sensor = chat.Person{ID: "sensor:air", Name: "Sensor"}

// Sense takes what a sensor at the bench measures. The error is a *Refusal where no workshop has such air.
func (s *Shop) Sense(ctx context.Context, r cure.Room) error {
	err := s.inTx(ctx, s.cfg.Now(), sensor, func(j *job) error {
		o, err := j.air(r, sensor)
		if err != nil {
			return err
		}
		return j.tell(o)
	})
	if err == nil {
		s.wake()
	}
	return err
}

// plausible are the least and most that a workshop's air has; package cure refuses what is beyond them for every material.
func plausible(r cure.Room) error {
	switch {
	case math.IsNaN(r.Celsius) || r.Celsius < -20 || r.Celsius > 60:
		return errors.New("a workshop has from -20 to 60 °C")
	case math.IsNaN(r.Humidity) || r.Humidity <= 0 || r.Humidity >= 100:
		return errors.New("a workshop has a humidity above 0 and below 100 %")
	}
	return nil
}

// air files the air and moves the bells of what dries longer in it.
func (j *job) air(r cure.Room, by chat.Person) (AirSaid, error) {
	o := AirSaid{Room: r}
	if err := plausible(r); err != nil {
		return o, &Refusal{Kind: BadAir, Name: fmt.Sprintf("%g °C, %g %%", r.Celsius, r.Humidity), Cause: err}
	}
	err := errors.Join(j.t.AddAir(ledger.Air{At: j.now, Celsius: r.Celsius, Humidity: r.Humidity, By: by.ID}),
		j.record(ledger.Commission{}, "air", fmt.Sprintf("%g °C, %g %%", r.Celsius, r.Humidity)))
	if err != nil {
		return o, err
	}
	bells, err := j.t.OpenBells()
	if err != nil {
		return o, err
	}
	moved := false
	for _, x := range bells {
		s, changed, err := j.slow(x)
		if err != nil {
			return o, err
		}
		if s.Bell.Due.After(s.Was) {
			o.Slower = append(o.Slower, s)
		}
		moved = moved || changed
	}
	if moved {
		return o, j.planChanged()
	}
	return o, nil
}

// slow works out anew when a cure ends, by all that was said of the air since it began.
func (j *job) slow(x ledger.Bell) (s Slowed, changed bool, err error) {
	s.Bell, s.Was = x, x.Due
	c, err := j.t.Commission(x.Commission)
	if err != nil {
		return s, false, err
	}
	_, op, err := j.belled(c, x)
	if err != nil {
		return s, false, err
	}
	s.Operation = op
	rev, err := j.atBenchAs(c.ID, c.Revision)
	if err != nil {
		return s, false, err
	}
	work := workOf(rev)[op.Op]
	if len(work.Materials) == 0 {
		return s, false, nil
	}
	m, ok := cure.Lookup(work.Materials[0].Key)
	if !ok {
		return s, false, nil
	}
	airs, err := j.t.Airs(op.DoneAt.Add(-airHolds))
	if err != nil {
		return s, false, err
	}
	s.Bell.Due = curedBy(m, rev.Snapshot.Studio.Room, op.DoneAt, op.CureFor, airs)
	if n := len(airs); n > 0 {
		if err := m.Admit(cure.Room{Celsius: airs[n-1].Celsius, Humidity: airs[n-1].Humidity}); err != nil {
			s.Refused = err.Error()
		}
	}
	if s.Bell.Due.Equal(x.Due) {
		return s, false, nil
	}
	op.Slower = s.Bell.Due.Sub(op.DoneAt.Add(op.CureFor))
	return s, true, errors.Join(j.t.MoveBell(x.ID, s.Bell.Due), j.t.MoveOperation(op))
}

// curedBy is when a cure ends that began at done and was planned to take so long in a room: in air in which its material takes longer
// by the cure table it goes on that much more slowly, and never faster than planned. Air outside the material's limits stops it, for as
// long as that is believed.
func curedBy(m cure.Material, planned cure.Room, done time.Time, takes time.Duration, airs []ledger.Air) time.Time {
	at, left := done, takes
	pass := func(until time.Time, slower float64) bool { // reports whether it ends by then
		if !until.After(at) {
			return false
		}
		need := time.Duration(float64(left) * slower)
		if slower > 0 && !at.Add(need).After(until) {
			at = at.Add(need)
			return true
		}
		if slower > 0 {
			left -= time.Duration(float64(until.Sub(at)) / slower)
		}
		at = until
		return false
	}
	for i, a := range airs {
		ends := a.At.Add(airHolds)
		if i+1 < len(airs) && airs[i+1].At.Before(ends) {
			ends = airs[i+1].At
		}
		if pass(a.At, 1) || pass(ends, slowness(m, planned, cure.Room{Celsius: a.Celsius, Humidity: a.Humidity})) {
			return at.Truncate(time.Millisecond)
		}
	}
	return at.Add(left).Truncate(time.Millisecond)
}

// slowness is how many times longer than planned a material takes in the air; at least 1, and 0 where it does not dry.
func slowness(m cure.Material, planned, now cure.Room) float64 {
	if m.Admit(now) != nil {
		return 0
	}
	was := m.Factor(planned)
	if was <= 0 {
		return 1
	}
	return math.Max(1, m.Factor(now)/was)
}

// airNow is what is known of the air at the bench.
func (j *job) airNow() (Air, error) {
	o := Air{Planned: j.s.cfg.Studio().Room}
	o.Now = o.Planned
	airs, err := j.t.Airs(j.now.Add(-airHolds))
	if n := len(airs); n > 0 {
		o.At, o.Now = airs[n-1].At, cure.Room{Celsius: airs[n-1].Celsius, Humidity: airs[n-1].Humidity}
	}
	return o, err
}
