package meter

import "math"

const (
	chunk   = 4096 // frames handled at once
	history = 32   // samples kept in front of a chunk, for the peak's filter
)

// ear is one channel.
type ear struct {
	buf [history + chunk]float64
	n   int // frames in buf after the history

	weight float64 // BS.1770's G
	k      kFilter
	peak   peaks
	meter  quasiPeak

	first, last int64 // first and last sample above SilenceLevel; last -1: none

	thin      thinner
	low, high band
	// Energies of the upper band: of all, of the open 100 ms, and the greatest
	// of any 100 ms.
	highSum, highOpen, highMax float64
}

func newEar(rate int, weight float64) ear {
	thin := newThinner(rate)
	return ear{weight: weight, k: newKFilter(rate), peak: newPeaks(rate), meter: newQuasiPeak(rate), last: -1, thin: thin,
		low:  newBand(lowFrom, lowTo, float64(rate)/thin.size),
		high: newBand(highFrom, highTo, float64(rate))}
}

// take copies channel c of a chunk. What is no number becomes 0, and what is
// beyond all reason is held at the ceiling.
func (e *ear) take(pcm []float32, c, channels int) {
	e.n = len(pcm) / channels
	dst := e.buf[history : history+e.n]
	for i := range dst {
		v := float64(pcm[c])
		c += channels
		if !(v <= ceiling && v >= -ceiling) {
			v = hold(v)
		}
		dst[i] = v
	}
}

func hold(v float64) float64 {
	switch {
	case v > ceiling:
		return ceiling
	case v < -ceiling:
		return -ceiling
	}
	return 0 // not a number
}

// edges notes the first and the last sample above the silence.
func (e *ear) edges(base int64) {
	const threshold = 1e-3 // SilenceLevel as an amplitude
	x := e.buf[history : history+e.n]
	if e.last < 0 {
		for i, v := range x {
			if math.Abs(v) > threshold {
				e.first, e.last = base+int64(i), base+int64(i)
				break
			}
		}
		if e.last < 0 {
			return
		}
	}
	for i := len(x) - 1; i >= 0; i-- {
		if math.Abs(x[i]) > threshold {
			e.last = base + int64(i)
			return
		}
	}
}

// filter runs samples of the chunk through the filters that are followed slot
// by slot.
func (e *ear) filter(x []float64) {
	e.meter.take(x)
	if e.weight > 0 {
		e.k.filter(x)
	}
	if !e.high.none() {
		e.high.filter(x)
	}
}

// middle runs the whole chunk through the lower band, whose time does not
// matter.
func (e *ear) middle() {
	e.low.filter(e.thin.thin(e.buf[history : history+e.n]))
	e.low.settle()
}

// endSlot closes 10 ms and gives the weighted energy.
func (e *ear) endSlot(slot int64) float64 {
	e.meter.endSlot(slot)
	h := e.high.take()
	e.highSum += h
	e.highOpen += h
	return e.weight * e.k.take()
}

// endTreble closes 100 ms of the upper band.
func (e *ear) endTreble() {
	e.highMax = max(e.highMax, e.highOpen)
	e.highOpen = 0
}

// keep moves the end of the chunk to the front, as history for the next.
func (e *ear) keep(frames int) {
	copy(e.buf[:history], e.buf[frames:frames+history])
}
