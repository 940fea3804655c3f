// Package plan gives operations their times.
//
// A problem is operations with durations, precedence with minimum and maximum time lags, resources with capacities,
// working hours in the studio's time zone and what is already promised; the solution is a start for every operation.
// Work happens in working hours; a cure is an elapsed lag that needs nobody and runs on through nights and closed
// days. The budget is a number of generated schedules, never seconds, and the seed is a field, so the same problem
// gives the same plan on any machine.
//
// It refuses cycles and windows that contradict each other, naming the operations. What always holds for a solution:
// no resource is used beyond its capacity, no minimum lag is shortened, no maximum lag is exceeded silently (Broken
// names it), no work lies in closed hours, and work already promised keeps its place; Check is run on every solution.
//
// The method is serial schedule generation (Kolisch & Hartmann's name for it) over many priority lists, with the
// earlier operation moved later where a window would otherwise be missed. It is a heuristic: a longer cure never ends
// a single chain earlier, but in a shop with several chains it may let another chain go first and end earlier.
package plan

import "time"

// Minutes is a duration on the plan's grid.
type Minutes int64

// Grid is the plan's step: every start and end is a multiple of it, in UTC. Five minutes is finer than anyone works to.
const Grid Minutes = 5

// Resource is somebody or something an operation occupies: a maker, the booth, a bench.
type Resource struct {
	ID       string `json:"id"`
	Title    string `json:"title"`
	Kind     string `json:"kind"`     // "maker", "bench", "booth"
	Capacity int    `json:"capacity"` // how many operations at once; a maker is 1
}

// Shift is one stretch of working time on a weekday, minutes after local midnight.
type Shift struct {
	Weekday time.Weekday `json:"weekday"`
	From    int          `json:"from"`
	To      int          `json:"to"`
}

// Calendar is when the shop works.
type Calendar struct {
	Zone   string   `json:"zone"` // IANA name
	Shifts []Shift  `json:"shifts"`
	Closed []string `json:"closed,omitempty"` // dates "2026-12-24"
}

// Need is a kind of resource of which an operation occupies one unit while it is worked on; a kind named twice is two
// units. An operation that pauses at closing time leaves its resources until it goes on.
type Need struct {
	Kind string `json:"kind"`
}

// Lag ties an operation to an earlier one: it starts at least Min and, where Max > 0, at most Max minutes after the
// earlier one's end. A cure is such a lag. Windows, where given, replace Min and Max: the start must fall in one.
type Lag struct {
	After   string      `json:"after"`
	Min     Minutes     `json:"min,omitempty"`
	Max     Minutes     `json:"max,omitempty"`
	Windows []LagWindow `json:"windows,omitempty"`
	Cure    string      `json:"cure,omitempty"` // what cures meanwhile, as drawn on the plan
}

// LagWindow is one allowed interval after the earlier operation's end; To 0 means no end.
type LagWindow struct {
	From Minutes `json:"from"`
	To   Minutes `json:"to,omitempty"`
}

// Operation is one batch of work.
type Operation struct {
	ID       string  `json:"id"`
	Title    string  `json:"title"`
	Group    string  `json:"group"`    // assembly, for drawing
	Kind     string  `json:"kind"`     // labour op: "cut", "prime", …
	Duration Minutes `json:"duration"` // most likely, and what is planned with; 0 is a milestone
	Low      Minutes `json:"low"`      // shortest; Low and High both 0: the duration is exact
	High     Minutes `json:"high"`     // longest
	Needs    []Need  `json:"needs"`
	After    []Lag   `json:"after,omitempty"`
	Whole    bool    `json:"whole"`          // must lie in one shift; otherwise it may stop at closing time and go on next morning
	Tail     Minutes `json:"tail,omitempty"` // cure after the last operation of a chain, before delivery
	TailCure string  `json:"tail_cure,omitempty"`
}

// Busy is time already promised on a resource.
type Busy struct {
	Resource string    `json:"resource"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Label    string    `json:"label,omitempty"` // whose: a commission number
}

// Problem is one commission to place into the shop's plan.
type Problem struct {
	Start      time.Time   `json:"start"` // nothing begins earlier
	Calendar   Calendar    `json:"calendar"`
	Resources  []Resource  `json:"resources"`
	Operations []Operation `json:"operations"`
	Busy       []Busy      `json:"busy,omitempty"`
	Schedules  int         `json:"schedules"` // budget
	Runs       int         `json:"runs"`      // Monte Carlo runs for the delivery date
	Seed       uint64      `json:"seed"`
}

// Scheduled is an operation with its times.
type Scheduled struct {
	ID        string    `json:"id"`
	Title     string    `json:"title"`
	Group     string    `json:"group"`
	Kind      string    `json:"kind"`
	Start     time.Time `json:"start"`
	End       time.Time `json:"end"`
	Spans     []Span    `json:"spans"` // the stretches actually worked, in order
	Resources []string  `json:"resources"`
	Cure      *Cure     `json:"cure,omitempty"` // what follows it
}

// Span is a stretch of time.
type Span struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Cure is the drying or curing after an operation: ready from Ready, next coat at latest at Latest (zero: no end). Of
// several allowed windows it is the one in which the plan has the next coat.
type Cure struct {
	Material string    `json:"material"`
	From     time.Time `json:"from"`
	Ready    time.Time `json:"ready"`
	Latest   time.Time `json:"latest,omitzero"`
}

// Solution is the plan and what may be promised.
type Solution struct {
	Operations []Scheduled `json:"operations"`
	End        time.Time   `json:"end"` // planned finish, tail cures included
	P50        time.Time   `json:"p50"` // finish not later than this in half of the runs
	P80        time.Time   `json:"p80"`
	P95        time.Time   `json:"p95"`
	Broken     []string    `json:"broken,omitempty"` // maximum lags that no schedule tried could keep, in words
	Schedules  int         `json:"schedules"`        // generated in the search
}
