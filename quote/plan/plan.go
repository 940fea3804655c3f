// Package plan is the words of the shop's plan: operations with what they need and wait for, makers and places, working
// hours, and the plan that comes of them.
//
// It holds values only and computes nothing: package schedule makes plans, package check looks at them. Times are UTC on a
// grid of five minutes, working hours are local. What of a problem lies off the grid is rounded by the rules at Grid.
package plan

import "time"

// Minutes is a duration. Any number of them can be asked for; what is planned is a multiple of Grid.
type Minutes int64

// Grid is the plan's step: every start and end is a multiple of it, in UTC. Five minutes is finer than anyone works to.
//
// What is asked for off the grid is rounded so that the plan holds in truth. Durations, tails and least lags are rounded up:
// work of 7 minutes is planned in 10. Where a window closes is rounded down, but a window with no moment of the grid in it
// is open for the first one after it opens. Windows that share a moment of the grid are one. Each shift shrinks to the
// moments of the grid within it, and shifts that then touch or overlap are one stretch of work. A start, release or pin
// counts as the next moment of the grid. Work that has begun is drawn from the moment before its real start to the one
// after its real end; its lags count from the real end, in whole seconds, its tail from that moment of the grid.
const Grid Minutes = 5

// Resource is somebody or something an operation occupies: a maker, the booth, a bench.
type Resource struct {
	ID       string `json:"id"`
	Title    string `json:"title"`
	Kind     string `json:"kind"`     // "maker", "bench", "booth", "rack"
	Capacity int    `json:"capacity"` // how many operations at once; a maker is 1

	Skills []string `json:"skills,omitempty"` // what a need may ask of it
}

// Shift is one stretch of working time on a weekday, minutes after local midnight. They are the wall's: on the day the
// clocks change a shift begins and ends as the wall says. A time that the wall skips or shows twice is the one time.Date
// takes it for.
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
	Extra  []Extra  `json:"extra,omitempty"`  // overtime: open besides the shifts, also on a closed day
}

// Extra is one stretch of working time on one date, minutes after local midnight.
type Extra struct {
	Date string `json:"date"`
	From int    `json:"from"`
	To   int    `json:"to"`
}

// Need is a kind of resource, perhaps with a skill, of which an operation occupies one unit while it is worked on; a kind
// named twice is two units. An operation that pauses at closing time leaves its resources until it goes on.
type Need struct {
	Kind  string `json:"kind"`
	Skill string `json:"skill,omitempty"`
}

// Lag ties an operation to an earlier one: it starts at least Min and, where Max > 0, at most Max minutes after the
// earlier one's end. A cure is such a lag. Windows, where given, replace Min and Max: the start must fall in one. Rack is
// a kind of resource of which one unit is occupied from the earlier operation's end until the cure's least time is over;
// all cures after one operation share that unit. Water marks a water-borne cure, whose time depends on the day's air.
type Lag struct {
	After   string      `json:"after"`
	Min     Minutes     `json:"min,omitempty"`
	Max     Minutes     `json:"max,omitempty"`
	Windows []LagWindow `json:"windows,omitempty"`
	Cure    string      `json:"cure,omitempty"` // what cures meanwhile, as drawn on the plan
	Rack    string      `json:"rack,omitempty"`
	Water   bool        `json:"water,omitempty"`
}

// LagWindow is one allowed interval after the earlier operation's end; To 0 means no end.
type LagWindow struct {
	From Minutes `json:"from"`
	To   Minutes `json:"to,omitempty"`
}

// Operation is one batch of work. What has begun carries its real clocks: Started alone is running and goes on in open hours
// for what is left of Duration, at least for one step of the grid where that is over; Started and Finished is done, and its
// cures run from the real end.
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

	TailRack  string    `json:"tail_rack,omitempty"`  // as Lag.Rack
	TailWater bool      `json:"tail_water,omitempty"` // as Lag.Water
	Project   string    `json:"project,omitempty"`    // whose: an ID of Problem.Projects
	Setup     string    `json:"setup,omitempty"`      // how its place is set up, a colour say; fewer changes are better
	Release   time.Time `json:"release,omitzero"`     // starts no earlier
	Pinned    time.Time `json:"pinned,omitzero"`      // starts then, or Broken says why not
	Planned   time.Time `json:"planned,omitzero"`     // start in the plan so far: of equal plans the nearer is better
	Started   time.Time `json:"started,omitzero"`
	Finished  time.Time `json:"finished,omitzero"`
	By        []string  `json:"by,omitempty"` // resources that a running operation occupies; chosen where not given
}

// Project is what is delivered together: a commission.
type Project struct {
	ID       string    `json:"id"`
	Release  time.Time `json:"release,omitzero"` // nothing of it starts earlier
	Due      time.Time `json:"due,omitzero"`
	Promised bool      `json:"promised,omitempty"` // Due is a promise, which goes before wishes and an early end
	Weight   int       `json:"weight,omitempty"`   // of its lateness against others'; 0 is 1
}

// Air is how much shorter and longer than planned water-borne cures get with the day's humidity: the factor of a day is
// drawn from beta-PERT with Low, 1 and High and is common to all cures that begin on it (UTC days).
type Air struct {
	Low  float64 `json:"low"`  // 0.1 to 1
	High float64 `json:"high"` // 1 to 10
}

// Laws of drawn durations.
const (
	BetaPERT  = ""          // beta-PERT of Low, Duration (the most likely) and High
	Lognormal = "lognormal" // median Duration, High not exceeded in 95 of 100; never below Low
)

// Busy is time already promised on a resource.
type Busy struct {
	Resource string    `json:"resource"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Label    string    `json:"label,omitempty"` // whose: a commission number
}

// Problem is what is to be placed into the shop's plan: one commission, or all that are open. Start is "now" where
// operations carry real clocks.
type Problem struct {
	Start      time.Time   `json:"start"` // nothing begins earlier
	Calendar   Calendar    `json:"calendar"`
	Resources  []Resource  `json:"resources"`
	Operations []Operation `json:"operations"`
	Busy       []Busy      `json:"busy,omitempty"`
	Schedules  int         `json:"schedules"` // budget
	Runs       int         `json:"runs"`      // Monte Carlo runs for the delivery date
	Seed       uint64      `json:"seed"`

	Projects []Project `json:"projects,omitempty"` // those with dates; others come from the operations
	Law      string    `json:"law,omitempty"`      // BetaPERT or Lognormal
	Air      *Air      `json:"air,omitempty"`      // nil: humidity is as planned
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
	Rack      string    `json:"rack,omitempty"` // resource it cures on
	Project   string    `json:"project,omitempty"`
	Critical  bool      `json:"critical,omitempty"` // its delay delays the end of a project
	Wait      *Wait     `json:"wait,omitempty"`     // what it waited for last; nil: for nothing but the start or the hours
}

// Wait is what an operation waited for: a predecessor's end or cure, or a resource that another operation or a promise
// had.
type Wait struct {
	For string `json:"for,omitempty"` // operation ID
	Why string `json:"why"`           // WaitOrder, WaitCure, the resource's ID, or WaitRelease
}

// Reasons to wait besides a resource.
const (
	WaitOrder   = "order"
	WaitCure    = "cure"
	WaitRelease = "release"
)

// Span is a stretch of time.
type Span struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Cure is the drying or curing after an operation: ready from Ready, next coat at latest at Latest (zero: no end). Of
// several allowed windows it is the one in which the plan has the next coat, the first where it has it in none; of several
// cures it is the one that is ready last.
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
	P50        time.Time   `json:"p50"` // handover of everything not later than this in half of the runs
	P80        time.Time   `json:"p80"`
	P95        time.Time   `json:"p95"`
	// Broken are the pins and windows that no schedule tried could keep, in words: one each, by operation in the problem's
	// order, its pin before its lags. Each names its operations by ID, as "a" or (a). Least lags are never broken.
	Broken    []string `json:"broken,omitempty"`
	Schedules int      `json:"schedules"` // generated in the search

	LowerBound time.Time `json:"lower_bound,omitzero"` // no plan of this problem ends earlier
	Dates      []Dates   `json:"dates,omitempty"`      // by project, in the problem's order
	Changes    int       `json:"changes,omitempty"`    // of set-up, on all resources but makers
}

// Dates are when one project is ready. P50, P80 and P95 are moments of handover: in working hours, with everything
// cured, not passed in those shares of the runs.
type Dates struct {
	Project string    `json:"project,omitempty"`
	End     time.Time `json:"end"` // planned, tail cures included
	P50     time.Time `json:"p50"`
	P80     time.Time `json:"p80"`
	P95     time.Time `json:"p95"`
	Missed  float64   `json:"missed,omitempty"` // share of the runs in which a window closed before its operation could start
	Kept    float64   `json:"kept,omitempty"`   // share of the runs with its handover by Project.Due; 0 without one
}
