// Package verify measures what a deck plays back: it finds a known programme in
// a capture of unknown start, level, speed, polarity and channel order, and
// gives figures, each with its uncertainty. It knows no tape and no plan.
//
// Programme is the test programme as cues that package programme writes; Test
// measures a capture of it. Side lays a capture of a recorded side against the
// tracks that were sent. Both read the capture's file more than once and hold
// only parts of it, so that memory does not grow with length.
//
// # Uncertainty
//
// Every Figure has a Within: the value that was on the tape lies within that
// much of Value in 95 of 100 takes (k = 2 in the usual notation). It is made of
// what scatters within the take and of what is known of the method. What no
// capture can tell (the sound card's own response, what recording and playing
// on one deck cancels) is not in it; the documentation of each figure says so.
package verify

import "math"

// Figure is a measured value.
type Figure struct {
	Value  float64 `json:"value"`
	Within float64 `json:"within"` // half of the interval that holds the true value in 95 of 100 takes
}

// dB is an amplitude ratio in decibels; nothing is -300 dB.
func dB(ratio float64) float64 { return 20 * math.Log10(max(ratio, 1e-15)) }

// amplitude is the reverse of dB.
func amplitude(db float64) float64 { return math.Pow(10, db/20) }
