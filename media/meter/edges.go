package meter

import (
	"math"
	"slices"
)

// Edge is how a track begins or ends: what it takes to tell whether its sound
// runs on into its neighbour's. Samples are the mean of all channels.
type Edge struct {
	Level float64 // dBFS: root mean square of the outermost 20 ms, of all channels
	// Fall is how much quieter the outermost 5 ms are than the outermost 100 ms, in
	// dB: a fade that goes on to nothing falls far.
	Fall float64
	// Samples are the outermost, the very first or last of the track in front.
	Samples []float32
	// Predict weighs the samples before one for the one that is to be expected,
	// the nearest first, going outwards; Residual is how far that is off as a rule.
	Predict  []float64
	Residual float64
}

const (
	edgeParts   = 10  // a second is so many of what is looked at
	levelParts  = 50  // and so many of what Level is of
	fallParts   = 200 // and of what Fall looks at
	edgeOrder   = 24  // samples that one is foretold from
	edgeSamples = 64  // kept
	// leastResidual is the step of 16 bits: what rounding and dither leave.
	leastResidual = 1.0 / (1 << 15)
)

// edging keeps the outermost samples of a track, interleaved as they came.
type edging struct {
	channels, frames int // frames: as many as are kept
	first, last      []float32
}

func newEdging(rate, channels int) edging {
	return edging{channels: channels, frames: max(rate/edgeParts, 4*edgeSamples)}
}

func (e *edging) take(pcm []float32) {
	want := e.frames * e.channels
	if room := want - len(e.first); room > 0 {
		e.first = append(e.first, pcm[:min(room, len(pcm))]...)
	}
	if len(e.last)+len(pcm) > 2*want { // moved down now and then, not for each piece
		keep := max(0, want-len(pcm))
		e.last = append(e.last[:0], e.last[max(0, len(e.last)-keep):]...)
		pcm = pcm[max(0, len(pcm)-want):]
	}
	e.last = append(e.last, pcm...)
}

// edges are those of what was taken.
func (e *edging) edges(rate int) (opening, closing Edge) {
	n := e.frames * e.channels
	end := slices.Clone(e.last[max(0, len(e.last)-n):])
	// Turned round, so that the outermost is in front.
	for i, j := 0, len(end)/e.channels-1; i < j; i, j = i+1, j-1 {
		for c := range e.channels {
			a, b := i*e.channels+c, j*e.channels+c
			end[a], end[b] = end[b], end[a]
		}
	}
	return edgeOf(e.first, e.channels, rate), edgeOf(end, e.channels, rate)
}

// edgeOf looks at a track's outermost samples, the outermost in front.
func edgeOf(pcm []float32, channels, rate int) Edge {
	frames := len(pcm) / channels
	x := make([]float64, frames)
	outer, outermost := min(frames, rate/levelParts), min(frames, rate/fallParts)
	var all, level, fall float64 // energies
	for i := range frames {
		for c := range channels {
			v := float64(pcm[i*channels+c])
			if !(v >= -ceiling && v <= ceiling) {
				v = hold(v)
			}
			x[i] += v / float64(channels)
			all += v * v
			if i < outer {
				level += v * v
			}
			if i < outermost {
				fall += v * v
			}
		}
	}
	mean := func(energy float64, n int) float64 { return decibels(math.Sqrt(energy / float64(max(1, n*channels)))) }
	e := Edge{Level: mean(level, outer)}
	if fall > 0 {
		e.Fall = mean(all, frames) - mean(fall, outermost)
	}
	for _, v := range x[:min(frames, edgeSamples)] {
		e.Samples = append(e.Samples, float32(v))
	}
	slices.Reverse(x) // foretold outwards
	e.Predict, e.Residual = burg(x, edgeOrder)
	return e
}

// burg fits a linear prediction of an order to samples by Burg's method: what
// each sample weighs for the next, the nearest first, and the root mean square
// of what is left. ref: J. P. Burg, "Maximum entropy spectral analysis", 1967.
func burg(x []float64, order int) (weights []float64, residual float64) {
	n := len(x)
	if n < 4*order {
		return nil, 0
	}
	f, b := slices.Clone(x), slices.Clone(x)
	var a []float64
	var power float64
	for _, v := range x {
		power += v * v
	}
	power /= float64(n)
	for m := range order {
		var num, den float64
		for i := m + 1; i < n; i++ {
			num += f[i] * b[i-1]
			den += f[i]*f[i] + b[i-1]*b[i-1]
		}
		if den == 0 {
			break
		}
		k := 2 * num / den
		next := append(slices.Clone(a), k)
		for i := range a {
			next[i] = a[i] - k*a[len(a)-1-i]
		}
		a = next
		for i := n - 1; i > m; i-- {
			f[i], b[i] = f[i]-k*b[i-1], b[i-1]-k*f[i]
		}
		power *= 1 - k*k
	}
	return a, math.Sqrt(max(0, power))
}

// Seam is how far the samples that lie across the seam of two tracks are off
// what is expected from those on its other side, going forwards and backwards:
// 1 is as far as samples within the tracks are, and a recording that was cut and
// put together again comes to little more. Inf where it cannot be told.
func Seam(closing, opening Edge) float64 {
	return max(surprise(closing, opening), surprise(opening, closing))
}

// seamSamples are looked at behind the seam: enough for a mean, and near enough
// to it that a jump is not lost among what comes after.
const seamSamples = 4

// surprise is how far b's outermost samples are off what a foretells.
func surprise(a, b Edge) float64 {
	if len(a.Predict) == 0 || len(a.Samples) < edgeSamples || len(b.Samples) < edgeSamples {
		return math.Inf(1)
	}
	var sum float64
	for i := range seamSamples {
		expected := 0.0
		for k, w := range a.Predict {
			if at := i - 1 - k; at >= 0 {
				expected += w * float64(b.Samples[at])
			} else {
				expected += w * float64(a.Samples[-at-1])
			}
		}
		d := float64(b.Samples[i]) - expected
		sum += d * d
	}
	return math.Sqrt(sum/seamSamples) / max(a.Residual, b.Residual, leastResidual)
}
