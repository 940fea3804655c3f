//go:build !race

package engine_test

// sets are all of the library.
var sets []string
