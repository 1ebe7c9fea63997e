package meter

import (
	"math"
	"time"
)

const (
	// ProfileStep is the length of one value of a Profile.
	ProfileStep = 100 * time.Millisecond
	// ProfileLength is how far a Profile goes: a side of the longest tape.
	ProfileLength = 90 * time.Minute

	profileFloor = absoluteGate
	profileSteps = 2 // to the LU
)

// Profile is a loudness curve, a byte a step: 0 for silence, else half LUs over
// -70 LUFS. A side of 45 minutes takes 27 kB.
type Profile []byte

func (p *Profile) add(l float64) {
	if len(*p) >= int(ProfileLength/ProfileStep) {
		return
	}
	v := math.Round((l - profileFloor) * profileSteps)
	*p = append(*p, byte(max(0, min(255, v))))
}

// At is the loudness of step i in LUFS, to half an LU; -Inf for silence.
func (p Profile) At(i int) float64 {
	if p[i] == 0 {
		return math.Inf(-1)
	}
	return profileFloor + float64(p[i])/profileSteps
}
