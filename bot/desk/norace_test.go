//go:build !race

package desk

// plays sets no bound of its own: -rapid.checks says how many random plays there are.
const plays = 1 << 30
