package verify

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// smooth is the largest number up to n that has no prime factor over 5: such
// lengths are quick to transform.
func smooth(n int) int {
	best := 0
	for a := 1; a <= n; a *= 5 {
		for b := a; b <= n; b *= 3 {
			c := b
			for 2*c <= n {
				c *= 2
			}
			best = max(best, c)
		}
	}
	return best
}

// spectrum is a stretch of one channel seen by frequency. What is made of it
// is true but near the ends of the stretch, which the transform joins.
type spectrum struct {
	rate float64
	n    int
	c    []complex128 // of 0 to rate/2
}

// spectrumOf takes the first samples of x, nearly all of them.
func spectrumOf(x []float32, rate float64) spectrum {
	n := smooth(len(x))
	v := make([]float64, n)
	for i := range v {
		v[i] = float64(x[i])
	}
	return spectrumOf64(v, rate)
}

// spectrumOf64 is spectrumOf for all of x; its length should be smooth.
func spectrumOf64(x []float64, rate float64) spectrum {
	if len(x) < 2 {
		return spectrum{rate: rate}
	}
	return spectrum{rate: rate, n: len(x), c: fourier.NewFFT(len(x)).Coefficients(nil, x)}
}

func (s spectrum) step() float64 { return s.rate / float64(s.n) }

// vector is a tone's amplitude and phase in time: the part of a signal within
// some hertz of a frequency, brought down to 0 Hz.
type vector struct {
	rate float64
	z    []complex128 // a sine of amplitude 1 gives 1
}

// around is what lies within half hertz of f; it falls off to nothing over as
// much again on each side.
func (s spectrum) around(f, half float64) vector {
	if s.n == 0 {
		return vector{rate: 1}
	}
	step := s.step()
	middle := int(math.Round(f / step))
	reach := int(2 * half / step)
	m := 4 * smoothUp(reach/2+1) // at least 2 reach + 1, and of quarters
	b := make([]complex128, m)
	for k := -reach; k <= reach; k++ {
		i := middle + k
		if i < 1 || i >= len(s.c) {
			continue
		}
		w := 1.0
		if d := math.Abs(float64(k)*step) / half; d > 1 {
			w = 0.5 + 0.5*math.Cos(math.Pi*(d-1))
		}
		b[(k+m)%m] = s.c[i] * complex(2*w/float64(s.n), 0)
	}
	v := vector{rate: float64(m) * step, z: fourier.NewCmplxFFT(m).Sequence(nil, b)}
	// What is left of the way from the nearest bin to f.
	turn := 2 * math.Pi * (float64(middle)*step - f) / v.rate
	for j := range v.z {
		v.z[j] *= cmplx.Rect(1, turn*float64(j))
	}
	return v
}

// smoothUp is the smallest smooth number from n on.
func smoothUp(n int) int {
	for smooth(n) != n {
		n++
	}
	return n
}

// trimmed leaves out so many seconds at each end.
func (v vector) trimmed(s float64) vector {
	k := min(int(math.Ceil(s*v.rate)), (len(v.z)-1)/2)
	if k > 0 {
		v.z = v.z[k : len(v.z)-k]
	}
	return v
}

// through is the stretch behind a filter, whose response is given by frequency.
func (s spectrum) through(h func(hz float64) complex128) []float64 {
	c := make([]complex128, len(s.c))
	for i, v := range s.c {
		c[i] = v * h(float64(i)*s.step()) / complex(float64(s.n), 0)
	}
	if s.n%2 == 0 {
		c[len(c)-1] = complex(real(c[len(c)-1]), 0)
	}
	return fourier.NewFFT(s.n).Sequence(nil, c)
}
