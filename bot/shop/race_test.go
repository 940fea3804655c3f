//go:build race

package shop

const raced = true
