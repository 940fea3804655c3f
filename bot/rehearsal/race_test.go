//go:build race

package rehearsal

const raced = true
