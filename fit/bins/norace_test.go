//go:build !race

package bins

const underRace = false
