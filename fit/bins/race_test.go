//go:build race

package bins

// The race detector makes everything about ten times slower, and nothing here
// runs at the same time as anything else: it gets a sample of the long tests,
// which run in full without it.
const underRace = true
