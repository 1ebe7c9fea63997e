//go:build !race

package verify_test

const underRace = false
