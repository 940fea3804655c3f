//go:build race

package engine_test

// sets are those that stand for the library: with the race detector a quote of all fourteen takes a minute, and races
// nowhere that these do not.
var sets = []string{"forearm-cuff", "breastplate", "lantern-prop"}
