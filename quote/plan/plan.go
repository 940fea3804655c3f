// Package plan holds the vocabulary of the shop plan: operations with what they need and wait for, makers and places,
// working hours, and the resulting plan.
//
// It holds values only and computes nothing: package schedule makes plans, package check checks them. Times are UTC on a grid
// of five minutes; working hours are local. Grid says how anything off the grid is rounded.
package plan

import "time"

// Minutes is a duration. Any number of them can be asked for; what is planned is a multiple of Grid.
type Minutes int64

// Grid is the step of the plan: every start and end is a multiple of it, in UTC. Nobody works to anything finer than five
// minutes.
//
// Values off the grid are rounded so that the plan is true. Durations, tails and minimum lags are rounded up: 7 minutes of
// work are planned as 10. The end of a window is rounded down, but a window that contains no moment of the grid is open for
// the first one after it opens. Windows that share a moment of the grid are one window. A shift shrinks to the moments of the
// grid within it, and shifts that then touch or overlap are one stretch of work. A start, release or pin counts as the next
// moment of the grid. Work that has begun runs from the moment before its real start to the one after its real end; its lags
// count from the real end, in whole seconds, and its tail from that moment of the grid.
const Grid Minutes = 5

// Resource is someone or something an operation occupies: a maker, the booth, a bench.
type Resource struct {
	ID       string `json:"id"`
	Title    string `json:"title"`
	Kind     string `json:"kind"`     // "maker", "bench", "booth", "rack"
	Capacity int    `json:"capacity"` // how many operations at once; a maker is 1

	Skills []string `json:"skills,omitempty"` // that a need may ask for
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
	Extra  []Extra  `json:"extra,omitempty"`  // overtime: open in addition to the shifts, on closed days too
}

// Extra is one stretch of working time on one date, minutes after local midnight.
type Extra struct {
	Date string `json:"date"`
	From int    `json:"from"`
	To   int    `json:"to"`
}

// Need is a kind of resource, possibly with a skill; an operation occupies one unit of it while it is worked on. A kind
// named twice means two units. An operation that pauses at closing time releases its resources until it continues.
type Need struct {
	Kind  string `json:"kind"`
	Skill string `json:"skill,omitempty"`
}

// Lag ties an operation to an earlier one: it starts at least Min and, if Max > 0, at most Max minutes after the earlier
// one ends. A cure is such a lag. Windows, if given, replace Min and Max: the start must fall in one of them. Rack is a
// kind of resource; one unit is occupied from the end of the earlier operation until the least time of the cure is over,
// and all cures after one operation share that unit. Water marks a water-borne cure, whose time depends on the day's
// humidity.
type Lag struct {
	After   string      `json:"after"`
	Min     Minutes     `json:"min,omitempty"`
	Max     Minutes     `json:"max,omitempty"`
	Windows []LagWindow `json:"windows,omitempty"`
	Cure    string      `json:"cure,omitempty"` // what is curing, as drawn on the plan
	Rack    string      `json:"rack,omitempty"`
	Water   bool        `json:"water,omitempty"`
}

// LagWindow is one allowed interval after the earlier operation's end; To 0 means no end.
type LagWindow struct {
	From Minutes `json:"from"`
	To   Minutes `json:"to,omitempty"`
}

// Offset ties an operation's start to that of another one, whichever is first: it starts at least Least after the other starts,
// or, where that is negative, at most so much before it. So a most between two starts is an offset of the earlier operation from
// the later one, below 0, and offsets may go round in circles. No plan breaks one. Least is rounded up to the grid.
type Offset struct {
	From  string  `json:"from"` // operation ID
	Least Minutes `json:"least"`
}

// Operation is one batch of work. Work that has begun has its real times: with Started alone it is running and continues in
// open hours for what is left of Duration, at least one step of the grid if that is over; with Started and Finished it is
// done, and its cures run from the real end.
type Operation struct {
	ID       string   `json:"id"`
	Title    string   `json:"title"`
	Group    string   `json:"group"`    // assembly, for drawing
	Kind     string   `json:"kind"`     // labour op: "cut", "prime", …
	Duration Minutes  `json:"duration"` // most likely, and used for planning; 0 is a milestone
	Low      Minutes  `json:"low"`      // shortest; Low and High both 0: the duration is exact
	High     Minutes  `json:"high"`     // longest
	Needs    []Need   `json:"needs"`
	After    []Lag    `json:"after,omitempty"`
	Offsets  []Offset `json:"offsets,omitempty"`
	Whole    bool     `json:"whole"`          // must fit in one shift; otherwise it may stop at closing time and continue the next morning
	Tail     Minutes  `json:"tail,omitempty"` // cure after the last operation of a chain, before delivery
	TailCure string   `json:"tail_cure,omitempty"`

	TailRack  string    `json:"tail_rack,omitempty"`  // as Lag.Rack
	TailWater bool      `json:"tail_water,omitempty"` // as Lag.Water
	Project   string    `json:"project,omitempty"`    // the ID of one of Problem.Projects
	Setup     string    `json:"setup,omitempty"`      // how its place is set up, such as a colour; fewer changes are better
	Release   time.Time `json:"release,omitzero"`     // starts no earlier
	Pinned    time.Time `json:"pinned,omitzero"`      // starts exactly then, or Broken says why not
	Planned   time.Time `json:"planned,omitzero"`     // start in the current plan: of equal plans the one closer to it is better
	Started   time.Time `json:"started,omitzero"`
	Finished  time.Time `json:"finished,omitzero"`
	By        []string  `json:"by,omitempty"` // resources that a running operation occupies; chosen if not given
}

// Project is what is delivered together: a commission.
type Project struct {
	ID       string    `json:"id"`
	Release  time.Time `json:"release,omitzero"` // no operation of it starts earlier
	Due      time.Time `json:"due,omitzero"`
	Promised bool      `json:"promised,omitempty"` // Due is a promise, which comes before wishes and an early end
	Weight   int       `json:"weight,omitempty"`   // of its lateness compared with others'; 0 is 1

	// Open: its quote is not accepted yet. In each simulated run it comes true or not, by Problem.Chance; its dates are those
	// of the runs in which it does.
	Open bool `json:"open,omitempty"`
	// Latest is the last moment at which it may be let go ahead, such as the day by which a deposit is awaited: each simulated
	// run draws one between the start and Latest, evenly; nothing of it starts before Release all the same. Zero: it goes ahead.
	Latest time.Time `json:"latest,omitzero"`
}

// Chance is what is known of how often quotes are accepted: a beta distribution, as after so many that were accepted and
// that came to nothing, what was believed before any counted in. The share is the same for all quotes of a run.
type Chance struct {
	Accepted float64 `json:"accepted"` // above 0
	Lapsed   float64 `json:"lapsed"`   // above 0
}

// Air is how much shorter or longer than planned water-borne cures can get with the day's humidity: the factor of a day is
// drawn from beta-PERT with Low, 1 and High and applies to all cures that begin on that day (UTC).
type Air struct {
	Low  float64 `json:"low"`  // 0.1 to 1
	High float64 `json:"high"` // 1 to 10
}

// Distributions that durations are drawn from.
const (
	BetaPERT  = ""          // beta-PERT of Low, Duration (the most likely) and High
	Lognormal = "lognormal" // median Duration, High exceeded in 5 of 100; never below Low
)

// Spread is how far the real durations of one run can lie from the planned ones all together, beyond what each operation varies
// by itself. Bias, Rates and Project are of natural logarithms: 0.1 is about 10 %. None: every operation varies
// alone, and the estimates are right on the whole.
type Spread struct {
	Bias    float64 `json:"bias,omitempty"`    // mean by which all work takes longer than estimated
	Rates   float64 `json:"rates,omitempty"`   // standard deviation of what all work has in common: the studio's rates as such
	Project float64 `json:"project,omitempty"` // the same of the work on one project
	Away    float64 `json:"away,omitempty"`    // days a year that a maker is away unplanned, such as ill
}

// Busy is time on a resource that is already promised.
type Busy struct {
	Resource string    `json:"resource"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Label    string    `json:"label,omitempty"` // whose: a commission number

	// Open: the place of a quote that is not accepted yet. Work is planned around it; in a simulated run in which the quote
	// of that label does not come true, the time is free.
	Open bool `json:"open,omitempty"`
}

// Problem is what is to be fitted into the shop plan: one commission, or all open ones. Start is "now" if operations have
// real times.
type Problem struct {
	Start      time.Time   `json:"start"` // nothing begins earlier
	Calendar   Calendar    `json:"calendar"`
	Resources  []Resource  `json:"resources"`
	Operations []Operation `json:"operations"`
	Busy       []Busy      `json:"busy,omitempty"`
	Schedules  int         `json:"schedules"` // budget
	Runs       int         `json:"runs"`      // Monte Carlo runs for the delivery date
	Seed       uint64      `json:"seed"`

	Projects []Project `json:"projects,omitempty"` // those with dates; the others are taken from the operations
	Order    []string  `json:"order,omitempty"`    // objectives, what comes first first; those left out follow as in UsualOrder. Empty: UsualOrder
	Law      string    `json:"law,omitempty"`      // BetaPERT or Lognormal
	Air      *Air      `json:"air,omitempty"`      // nil: humidity is always as planned
	Chance   *Chance   `json:"chance,omitempty"`   // that open quotes are accepted; nil: as likely as not
	Spread   Spread    `json:"spread,omitzero"`

	// Frozen is until when people have arranged themselves with the plan so far: an operation moves only where it starts at
	// another time than planned and one of the two is before it. Zero: whenever it starts.
	Frozen time.Time `json:"frozen,omitzero"`
}

// Scheduled is an operation with its times in the plan.
type Scheduled struct {
	ID        string    `json:"id"`
	Title     string    `json:"title"`
	Group     string    `json:"group"`
	Kind      string    `json:"kind"`
	Start     time.Time `json:"start"`
	End       time.Time `json:"end"`
	Spans     []Span    `json:"spans"` // stretches of time worked, in order
	Resources []string  `json:"resources"`
	Cure      *Cure     `json:"cure,omitempty"` // what follows it
	Rack      string    `json:"rack,omitempty"` // resource it cures on
	Project   string    `json:"project,omitempty"`
	Critical  bool      `json:"critical,omitempty"` // a delay of it delays the end of a project
	Wait      *Wait     `json:"wait,omitempty"`     // what it waited for last; nil: only for the start or working hours
}

// Wait is what an operation waited for: the end or the cure of an earlier operation, the start of one that it has an offset
// from, or a resource occupied by another operation or a promise.
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

// Cure is the drying or curing after an operation: it is ready from Ready, and the next coat must go on by Latest (zero: no
// limit). Of several allowed windows it is the one in which the plan has the next coat, or the first if it is in none of
// them; of several cures it is the one that is ready last.
type Cure struct {
	Material string    `json:"material"`
	From     time.Time `json:"from"`
	Ready    time.Time `json:"ready"`
	Latest   time.Time `json:"latest,omitzero"`
}

// Solution is the plan and the dates that can be promised.
type Solution struct {
	Operations []Scheduled `json:"operations"`
	End        time.Time   `json:"end"` // planned finish, tail cures included
	P50        time.Time   `json:"p50"` // everything is handed over by then in half of the runs
	P80        time.Time   `json:"p80"`
	P95        time.Time   `json:"p95"`
	// Broken are the pins and windows that no schedule tried could keep, in words: one each, by operation in the problem's
	// order, its pin before its lags. Each names its operations by ID, as "a" or (a). Least lags are never broken.
	Broken    []string `json:"broken,omitempty"`
	Schedules int      `json:"schedules"` // generated in the search

	LowerBound time.Time `json:"lower_bound,omitzero"` // no plan of this problem ends earlier
	Dates      []Dates   `json:"dates,omitempty"`      // by project, in the problem's order
	Changes    int       `json:"changes,omitempty"`    // of set-up, on all resources but makers

	Objectives []Objective `json:"objectives,omitempty"` // in the problem's order
}

// Dates are when one project is ready. P50, P80 and P95 are times of handover, met in those shares of the runs: in working
// hours, with everything cured.
type Dates struct {
	Project  string    `json:"project,omitempty"`
	End      time.Time `json:"end"` // planned, tail cures included
	P50      time.Time `json:"p50"`
	P80      time.Time `json:"p80"`
	P95      time.Time `json:"p95"`
	Missed   float64   `json:"missed,omitempty"`    // share of the runs in which a window closed before its operation could start
	WorkLow  Minutes   `json:"work_low,omitempty"`  // makers' time left that 10 of 100 runs stay within
	WorkHigh Minutes   `json:"work_high,omitempty"` // the same of 90 of 100
	Kept     float64   `json:"kept,omitempty"`      // share of the runs handed over by Project.Due; 0 without one
	Late     Minutes   `json:"late,omitempty"`      // how long after Project.Due it is handed over, the mean of the runs; 0 without one
}
