//go:build race

package desk

// plays is how many random plays are worth their time: the race detector slows the database twentyfold.
const plays = 15
