//go:build !race

package main

const (
	raceDetector = false
	slowdown     = 1
)
