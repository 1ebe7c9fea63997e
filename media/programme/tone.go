package programme

import (
	"fmt"
	"math"
)

// ramp is how long a tone rises and falls, as half a period of a cosine: short
// enough to be a switch, long enough not to click.
const ramp = 0.010 // seconds

func (t Tone) check(rate int) error {
	switch {
	case !(t.Hz >= 10 && t.Hz <= 20000):
		return fmt.Errorf("a tone of %g Hz: give 10 to 20000", t.Hz)
	case t.ToHz != 0 && !(t.ToHz >= 10 && t.ToHz <= 20000):
		return fmt.Errorf("a tone that glides to %g Hz: give 10 to 20000", t.ToHz)
	case !(t.Level <= 0 && t.Level >= -100):
		return fmt.Errorf("a tone at %g dBFS: give -100 to 0", t.Level)
	case !t.Left && !t.Right:
		return fmt.Errorf("a tone in neither channel")
	}
	return nil
}

// toneSource makes the samples of a tone.
type toneSource struct {
	Tone
	rate    int
	n       int64
	length  int64
	ramp    int64
	turn    float64 // periods a sample
	amplify float64
}

func newToneSource(t Tone, rate int, length int64) *toneSource {
	return &toneSource{Tone: t, rate: rate, length: length,
		ramp: min(int64(ramp*float64(rate)), length/2), turn: t.Hz / float64(rate), amplify: math.Pow(10, t.Level/20)}
}

// read fills stereo with frames of left and right.
func (t *toneSource) read(stereo []float64) int {
	n := int(min(int64(len(stereo)/2), t.length-t.n))
	for i := range n {
		// The phase is reckoned anew for each sample: adding it up would drift.
		periods := t.periods(t.n)
		v := t.amplify * t.envelope() * math.Sin(2*math.Pi*(periods-math.Floor(periods)))
		stereo[2*i], stereo[2*i+1] = 0, 0
		if t.Left {
			stereo[2*i] = v
		}
		if t.Right {
			stereo[2*i+1] = v
		}
		t.n++
	}
	return n
}

// periods is how many the tone has made when its frame n comes.
func (t *toneSource) periods(n int64) float64 {
	at := float64(n)
	if t.ToHz == 0 || t.ToHz == t.Hz {
		return t.turn * at
	}
	// The frequency is Hz e^(k n), and periods are its integral.
	k := math.Log(t.ToHz/t.Hz) / float64(t.length)
	return t.turn * math.Expm1(k*at) / k
}

func (t *toneSource) envelope() float64 {
	edge := min(t.n, t.length-1-t.n)
	if edge >= t.ramp {
		return 1
	}
	return 0.5 - 0.5*math.Cos(math.Pi*float64(edge)/float64(t.ramp))
}
