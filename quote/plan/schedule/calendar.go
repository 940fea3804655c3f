package schedule

import (
	"errors"
	"fmt"
	"slices"
	"time"
	_ "time/tzdata" // zones also on machines without a zone database

	"benchbell/quote/plan"
)

// slot is a moment on the grid: minutes since 1970 UTC divided by Grid.
type slot int64

const slotSeconds = int64(plan.Grid) * 60

// daySlots is 24 hours of slots: a day of UTC, and of the wall when the clocks do not change.
const daySlots = slot(24 * 60 / plan.Grid)

// horizonDays is how far a plan may reach; a shop with no room in five years has other problems than a date.
const horizonDays = 5 * 366

// growDays is how much calendar is built at a time: most commissions end within it.
const growDays = 56

var errHorizon = errors.New("no room within five years of the start")

func slotDown(t time.Time) slot {
	s := t.Unix() / slotSeconds
	if t.Unix()%slotSeconds < 0 {
		s--
	}
	return slot(s)
}

func slotUp(t time.Time) slot {
	s := slotDown(t)
	if s.time().Before(t) {
		s++
	}
	return s
}

func (s slot) time() time.Time { return time.Unix(int64(s)*slotSeconds, 0).UTC() }

// slotsUp is a duration on the grid, never shorter than given.
func slotsUp(m plan.Minutes) slot { return slot((m + plan.Grid - 1) / plan.Grid) }

// slotsDown is a duration on the grid, never longer than given.
func slotsDown(m plan.Minutes) slot { return slot(m / plan.Grid) }

// stretch is working time without a break: touching shifts are one stretch, also over midnight.
type stretch struct {
	from, to slot
	before   slot // working slots in all earlier stretches
}

// span is a half-open interval of slots.
type span struct{ from, to slot }

// calendar is the index of working time, grown on demand.
type calendar struct {
	zone      *time.Location
	shifts    [7][]plan.Shift
	closed    map[string]bool
	extra     map[string][]plan.Extra
	stretches []stretch
	day       time.Time // next local date to build, as UTC midnight of that date
	days      int       // built so far
	longest   slot      // longest stretch of an ordinary week
	weekly    slot      // working slots of an ordinary week
	hint      int       // stretch found last
}

// midnight is the first one after s, where the shop is.
func (c *calendar) midnight(s slot) slot {
	t := s.time().In(c.zone)
	return slotUp(time.Date(t.Year(), t.Month(), t.Day()+1, 0, 0, 0, 0, c.zone))
}

// newCalendar validates the calendar and begins its index on the local date of the start.
func newCalendar(c plan.Calendar, start time.Time) (*calendar, error) {
	if c.Zone == "" || c.Zone == "Local" {
		return nil, fmt.Errorf("the calendar names no time zone, give an IANA name such as Europe/Berlin")
	}
	zone, err := time.LoadLocation(c.Zone)
	if err != nil {
		return nil, fmt.Errorf("the calendar's time zone %q is unknown, give an IANA name such as Europe/Berlin: %w", c.Zone, err)
	}
	k := &calendar{zone: zone, closed: make(map[string]bool, len(c.Closed)), extra: make(map[string][]plan.Extra, len(c.Extra))}
	for _, x := range c.Extra {
		if _, err := time.Parse(time.DateOnly, x.Date); err != nil {
			return nil, fmt.Errorf("extra shift on %q has no date, write it as 2026-12-24: %w", x.Date, err)
		}
		if x.From < 0 || x.To > 24*60 || x.From >= x.To {
			return nil, fmt.Errorf("the extra shift on %s runs from minute %d to %d, give minutes after midnight with the end later than the start and not over 1440",
				x.Date, x.From, x.To)
		}
		k.extra[x.Date] = append(k.extra[x.Date], x)
	}
	for _, d := range c.Closed {
		if _, err := time.Parse(time.DateOnly, d); err != nil {
			return nil, fmt.Errorf("closed day %q is no date, write it as 2026-12-24: %w", d, err)
		}
		k.closed[d] = true
	}
	for _, s := range c.Shifts {
		if s.Weekday < time.Sunday || s.Weekday > time.Saturday {
			return nil, fmt.Errorf("a shift is on weekday %d, use 0 for Sunday to 6 for Saturday", s.Weekday)
		}
		if s.From < 0 || s.To > 24*60 || s.From >= s.To {
			return nil, fmt.Errorf("a shift on %s runs from minute %d to %d, give minutes after midnight with the end later than the start and not over 1440",
				s.Weekday, s.From, s.To)
		}
		k.shifts[s.Weekday] = append(k.shifts[s.Weekday], s)
	}
	for i := range k.shifts {
		slices.SortFunc(k.shifts[i], func(a, b plan.Shift) int { return a.From - b.From })
	}
	k.measureWeek()
	for _, x := range c.Extra {
		k.longest = max(k.longest, slotsDown(plan.Minutes(x.To-x.From)))
	}
	if k.weekly == 0 {
		return nil, fmt.Errorf("the calendar has no shifts of at least %d minutes, give the shop's working hours", plan.Grid)
	}
	y, m, d := start.In(zone).Date()
	k.day = time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	return k, nil
}

// measureWeek finds the working slots and the longest stretch of an ordinary week, over two of them so that a stretch
// over the weekend's midnight counts whole.
func (k *calendar) measureWeek() {
	var run, end slot = 0, -1
	for day := range 14 {
		at := -1 // minute up to which the day is counted
		for _, s := range k.shifts[day%7] {
			from := slotsUp(plan.Minutes(max(s.From, at)))
			to := slotsDown(plan.Minutes(s.To))
			if to <= from {
				continue
			}
			if day < 7 {
				k.weekly += to - from
			}
			from += slot(day) * daySlots
			to += slot(day) * daySlots
			if from == end {
				run += to - from
			} else {
				run = to - from
			}
			end = to
			at = s.To
			k.longest = max(k.longest, run)
		}
	}
	if k.weekly == 7*daySlots { // round the clock: no stretch ends
		k.longest = horizonDays * daySlots
	}
}

// grow builds more days; false at the end of the horizon.
func (k *calendar) grow() bool {
	if k.days >= horizonDays {
		return false
	}
	for range growDays {
		k.build(k.day)
		k.day = k.day.AddDate(0, 0, 1)
		k.days++
	}
	return true
}

// build adds one local date's working time. Times are the wall's: a shift on the day the clocks change keeps its hours on
// the wall.
func (k *calendar) build(day time.Time) {
	y, m, d := day.Date()
	date := day.Format(time.DateOnly)
	shifts := k.shifts[day.Weekday()]
	if k.closed[date] {
		shifts = nil
	}
	if extra := k.extra[date]; len(extra) > 0 {
		shifts = slices.Clone(shifts)
		for _, x := range extra {
			shifts = append(shifts, plan.Shift{From: x.From, To: x.To})
		}
		slices.SortStableFunc(shifts, func(a, b plan.Shift) int { return a.From - b.From })
	}
	for _, s := range shifts {
		from := slotUp(time.Date(y, m, d, s.From/60, s.From%60, 0, 0, k.zone))
		to := slotDown(time.Date(y, m, d, s.To/60, s.To%60, 0, 0, k.zone))
		k.add(from, to)
	}
}

// add appends working time, merged with the last stretch where they touch or overlap.
func (k *calendar) add(from, to slot) {
	n := len(k.stretches)
	if n > 0 {
		last := &k.stretches[n-1]
		if from <= last.to {
			last.to = max(last.to, to)
			return
		}
		if from < to {
			k.stretches = append(k.stretches, stretch{from, to, last.before + last.to - last.from})
		}
		return
	}
	if from < to {
		k.stretches = append(k.stretches, stretch{from: from, to: to})
	}
}

// find is the first stretch that ends after t.
func (k *calendar) find(t slot) (int, error) {
	for len(k.stretches) == 0 || k.stretches[len(k.stretches)-1].to <= t {
		if !k.grow() {
			return 0, errHorizon
		}
	}
	// operations are placed near each other: the last stretch found or its neighbour is nearly always right
	for i := k.hint; i < min(k.hint+3, len(k.stretches)); i++ {
		if k.stretches[i].to > t && (i == 0 || k.stretches[i-1].to <= t) {
			k.hint = i
			return i, nil
		}
	}
	lo, hi := 0, len(k.stretches)-1
	for lo < hi {
		mid := (lo + hi) / 2
		if k.stretches[mid].to > t {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	k.hint = lo
	return lo, nil
}

// lay appends to out the spans of d slots of work that begins at t or as soon after as the shop is open, in one
// stretch if whole. No work (d = 0) gives the opening moment as an empty span.
func (k *calendar) lay(out []span, t, d slot, whole bool) ([]span, error) {
	for {
		i, err := k.find(t)
		if err != nil {
			return out, err
		}
		s := k.stretches[i]
		from := max(t, s.from)
		if from+d <= s.to {
			return append(out, span{from, from + d}), nil
		}
		if i == len(k.stretches)-1 { // the stretch may go on past what is built
			if !k.grow() {
				return out, errHorizon
			}
			continue
		}
		if !whole {
			out = append(out, span{from, s.to})
			d -= s.to - from
		}
		t = s.to
	}
}

// worked is the number of working slots before t.
func (k *calendar) worked(t slot) (slot, error) {
	i, err := k.find(t)
	if err != nil {
		return 0, err
	}
	s := k.stretches[i]
	return s.before + max(0, t-s.from), nil
}

// after is the moment with w working slots before it and work right after it.
func (k *calendar) after(w slot) (slot, error) {
	for {
		n := len(k.stretches)
		if n > 0 && k.stretches[n-1].before+k.stretches[n-1].to-k.stretches[n-1].from > w {
			break
		}
		if !k.grow() {
			return 0, errHorizon
		}
	}
	lo, hi := 0, len(k.stretches)-1
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if k.stretches[mid].before <= w {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	s := k.stretches[lo]
	return s.from + w - s.before, nil
}

// later is the start from which work of the same length ends at or after notBefore; at and end are its start and end now.
func (k *calendar) later(at, end, notBefore slot) (slot, error) {
	a, err := k.worked(at)
	if err != nil {
		return 0, err
	}
	// the end counts as worked up to end−1, so that an end at closing time is not taken for the next morning
	e, err := k.worked(max(at, end-1))
	if err != nil {
		return 0, err
	}
	b, err := k.worked(notBefore - 1)
	if err != nil {
		return 0, err
	}
	return k.after(a + max(1, b-e))
}

// layBack is lay from the other side: the latest spans of d slots of work that end by t, later ones first. False where the
// calendar begins too late for that.
func (k *calendar) layBack(out []span, t, d slot, whole bool) ([]span, bool) {
	i, err := k.find(t - 1)
	if err != nil {
		return out, false
	}
	for ; i >= 0; i-- {
		s := k.stretches[i]
		to := min(t, s.to)
		if d == 0 {
			if s.from > t {
				continue
			}
			if t < s.to || s.from == t { // as lay puts it: a moment at which the shop is open
				return append(out, span{min(t, s.to), min(t, s.to)}), true
			}
			return append(out, span{s.to - 1, s.to - 1}), true
		}
		if s.from >= to {
			continue
		}
		if to-d >= s.from {
			return append(out, span{to - d, to}), true
		}
		if !whole {
			out = append(out, span{s.from, to})
			d -= to - s.from
		}
	}
	return out, false
}

// open is the first moment at or after t at which somebody is in the shop, closing time included.
func (k *calendar) open(t slot) (slot, error) {
	i, err := k.find(t - 1)
	if err != nil {
		return 0, err
	}
	return max(t, k.stretches[i].from), nil
}

// clone is the calendar for another goroutine: each grows its own index.
func (k *calendar) clone() *calendar {
	c := *k
	c.stretches = slices.Clone(k.stretches)
	return &c
}
