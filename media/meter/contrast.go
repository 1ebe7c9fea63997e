package meter

import (
	"math"
	"time"
)

// One turn of a cassette's pack takes 1.45 s at the hub and 3.26 s when full
// (2 pi r / v for radii of 11 and 24.74 mm at 47.625 mm/s): a loud moment
// prints onto what lies one turn before and after it.
const (
	step       = 100 * time.Millisecond
	firstDelay = 14 // steps
	lastDelay  = 33
	delays     = lastDelay - firstDelay + 1

	// quietest in LUFS: nothing is quieter than the tape's own noise, so that
	// digital silence and a faint room count the same. See SilenceLevel.
	quietest = SilenceLevel
)

// Contrast is a loud and a quiet moment of 100 ms, one turn of the pack apart.
type Contrast struct {
	Delay time.Duration // between the two
	At    time.Duration // where the loud moment begins
	Loud  float64       // LUFS
	Quiet float64       // LUFS, not under -60
}

// Rise is how far the loud moment stands above the quiet one, in LU.
func (c Contrast) Rise() float64 { return c.Loud - c.Quiet }

// contrasts follows the loudness of every 100 ms.
type contrasts struct {
	levels [lastDelay + 1]float64 // a ring of the latest
	n      int64
	before [delays]Contrast // quiet, then loud
	after  [delays]Contrast // loud, then quiet

	first   int64 // step where sound began, from 1; 0: not yet
	opening float64
}

func (c *contrasts) add(l float64) {
	l = max(l, quietest)
	size := int64(len(c.levels))
	c.levels[c.n%size] = l
	if l > quietest && c.first == 0 {
		c.first, c.opening = c.n+1, l
	}
	if c.first > 0 && c.n+1-c.first < 10 {
		c.opening = max(c.opening, l)
	}
	for d := int64(firstDelay); d <= lastDelay && d <= c.n; d++ {
		then := c.levels[(c.n-d)%size]
		i := d - firstDelay
		if l-then > c.before[i].Rise() {
			c.before[i] = Contrast{time.Duration(d) * step, time.Duration(c.n) * step, l, then}
		}
		if then-l > c.after[i].Rise() {
			c.after[i] = Contrast{time.Duration(d) * step, time.Duration(c.n-d) * step, then, l}
		}
	}
	c.n++
}

// result leaves out delays without any contrast.
func (c *contrasts) result() (before, after []Contrast) {
	for i := range delays {
		if c.before[i].Delay > 0 {
			before = append(before, c.before[i])
		}
		if c.after[i].Delay > 0 {
			after = append(after, c.after[i])
		}
	}
	return before, after
}

// ends is the loudest 100 ms of the first and the last second of sound, the
// last reaching back over at most the ring from the end.
func (c *contrasts) ends() (opening, closing float64) {
	if c.first == 0 {
		return math.Inf(-1), math.Inf(-1)
	}
	closing = math.Inf(-1)
	left := 0
	size := int64(len(c.levels))
	for i := c.n - 1; i >= max(0, c.n-size) && left < 10; i-- {
		if l := c.levels[i%size]; l > quietest || left > 0 {
			closing = max(closing, l)
			left++
		}
	}
	return c.opening, closing
}
