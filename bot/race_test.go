//go:build race

package main

// With the race detector the programs of the kill test are built without it: computing a quote would take them longer
// than anybody waits, and what a kill leaves behind is no race. They still share the machine with tests that it slows.
const (
	raceDetector = true
	slowdown     = 3
)
