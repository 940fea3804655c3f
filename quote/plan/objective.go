package plan

// Objective is one thing that a plan is wanted to be good in: less is better.
type Objective struct {
	Name  string `json:"name"` // one of those below
	Value int64  `json:"value"`
}

// Objectives of a shop, in no order: Problem.Order has that. What no plan can keep, pins and windows, comes before all of them.
const (
	Promises = "promises" // promised projects whose P80 is later than their date
	Lateness = "lateness" // minutes that promised projects are late, the mean of the runs, times their weights
	Wishes   = "wishes"   // the same of dates that are not promised
	Windows  = "windows"  // in 100 runs: projects a recoat window of which closes before its coat is on
	Whole    = "whole"    // minutes from the start to the P80 of each project, together
	Setups   = "setups"   // changes of set-up
	Moves    = "moves"    // operations that start at another time than in the plan so far, as far as Problem.Frozen counts them
	Evenings = "evenings" // minutes that makers work in extra shifts
)

// UsualOrder is the order in which a plan is looked for where the problem gives none.
func UsualOrder() []string {
	return []string{Lateness, Promises, Wishes, Windows, Whole, Setups, Moves, Evenings}
}
