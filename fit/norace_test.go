//go:build !race

package fit

const underRace = false
