//go:build race

package main

// slowdown is what the race detector costs the bot, which then computes its quotes slowly too.
const slowdown = 10
