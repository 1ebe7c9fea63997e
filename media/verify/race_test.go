//go:build race

package verify_test

// The race detector makes everything about ten times slower: it gets the side
// alone, whose parts run at the same time.
const underRace = true
