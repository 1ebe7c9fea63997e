package verify

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// ErrNoTest says that a capture holds no test programme.
var ErrNoTest = errors.New("the test programme is not in it: record the file of \"longside tones --test\" whole, play it back and capture that")

// rough is where the minute of 3150 Hz lies in a capture, to a block or so.
type rough struct {
	middle float64 // s in the capture
	speed  float64 // of playing against recording: 1 is the same
	clips  clipping
}

// Speeds at which the programme is looked for: the worst deck in the trade
// table is 1.5 % off, two of them 3 %.
const slowest, fastest = 0.92, 1.08

// blockLong is the length of a block in the first look, in seconds.
const blockLong = 0.085

// look reads the capture once: the minute of 3150 Hz is its longest steady tone
// in that region.
func look(ctx context.Context, c Capture) (rough, error) {
	n := smooth(int(blockLong * float64(c.Rate)))
	fft := fourier.NewFFT(n)
	window := make([]float64, n)
	for i := range window {
		window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
	}
	step := float64(c.Rate) / float64(n)
	x, coef := make([]float64, n), make([]complex128, n/2+1)
	var hz []float64 // of each block; 0: no tone there
	var clips clipping
	err := c.blocks(ctx, n, func(_ int64, ch [][]float32) error {
		clips.look(ch)
		best, at := 0.0, 0.0
		for _, y := range ch {
			for i, v := range y {
				x[i] = float64(v) * window[i]
			}
			fft.Coefficients(coef, x)
			var all, most float64
			peak := 0
			for i := 1; i < len(coef); i++ {
				p := real(coef[i])*real(coef[i]) + imag(coef[i])*imag(coef[i])
				f := float64(i) * step
				all += p
				if f > flutterHz*slowest && f < flutterHz*fastest && p > most {
					most, peak = p, i
				}
			}
			if peak == 0 || most < 1e-9*float64(n) {
				continue
			}
			a, b, d := cmplx.Abs(coef[peak-1]), cmplx.Abs(coef[peak]), cmplx.Abs(coef[peak+1])
			if share := (a*a + b*b + d*d) / all; share > 0.5 && most > best {
				// Between bins by the ratio of neighbours, exact for a Hann window.
				shift := 0.0
				if d > a {
					shift = (2*d - b) / (d + b)
				} else {
					shift = -(2*a - b) / (a + b)
				}
				best, at = most, (float64(peak)+shift)*step
			}
		}
		hz = append(hz, at)
		return nil
	})
	if err != nil {
		return rough{}, err
	}
	from, to := longestTone(hz)
	long := float64(to-from) * float64(n) / float64(c.Rate)
	if long < 0.85*flutterLong/fastest || long > 1.05*flutterLong/slowest {
		return rough{}, ErrNoTest
	}
	var tones []float64
	for _, f := range hz[from:to] {
		if f > 0 {
			tones = append(tones, f)
		}
	}
	return rough{
		middle: float64(from+to) / 2 * float64(n) / float64(c.Rate),
		speed:  median(tones) / flutterHz,
		clips:  clips,
	}, nil
}

// longestTone is the longest run of blocks with one tone; up to half a second
// may lack.
func longestTone(hz []float64) (from, to int) {
	const gap, apart = 6, 0.02
	for i := 0; i < len(hz); {
		if hz[i] == 0 {
			i++
			continue
		}
		last, tone := i, hz[i]
		for k := i + 1; k < len(hz) && k-last <= gap; k++ {
			if hz[k] > 0 && math.Abs(hz[k]/tone-1) < apart {
				last = k
			}
		}
		if last+1-i > to-from {
			from, to = i, last+1
		}
		i = last + 1
	}
	return from, to
}

// clipping counts places where the capture is cut off flat.
type clipping struct {
	peak  float32
	runs  int // of three samples or more at one and the same highest value
	at    [2]float32
	count [2]int
}

// look goes through a block. A sample at full scale may be chance; three alike in
// a row at the highest value there is are not. Sound cards cut off at full
// scale; an amplifier in front of them rounds, and shows as distortion.
func (c *clipping) look(x [][]float32) {
	for ch, y := range x {
		for _, v := range y {
			v = max(v, -v)
			c.peak = max(c.peak, v)
			if v < 0.98 || math.Abs(float64(v-c.at[ch])) > 1e-4 {
				c.at[ch], c.count[ch] = v, 1
				continue
			}
			if c.count[ch]++; c.count[ch] == 3 {
				c.runs++
			}
		}
	}
}

// echo is a second, fainter marker.
type echo struct {
	delay  float64 // s after the marker; less than 0: before it
	db     float64 // against the marker
	within float64
}

// found is a marker at its place.
type found struct {
	at     float64 // s in the capture, of its first sample
	phase  float64 // of the marker against the one sent, radians
	echoes []echo
	floor  float64 // dB against the marker that an echo must pass to be seen; -Inf: there was no room to look
}

// Echoes are looked for so far from the marker: turns of a pack between the hub
// (1.45 s) and the rim of the fullest (3.3 s), with room.
const echoFrom, echoTo = 1.0, 4.0

// shadow is how far under an echo, in dB, what lies within a marker's length of it
// is the echo's own: a glide's harmonics are like the glide at another shift.
const shadow = 20

// likeness is how much of a marker's energy must be the marker's; an automatic
// level changes its shape. stands is how far over all else it must stand, as a
// power.
const likeness, stands = 0.15, 300

// shifts is how like the marker, as it comes at a speed, a stretch is at each
// shift: as a vector, whose length is greatest where the marker is. energy is
// the marker's own, each the step of the shifts in seconds.
func (s spectrum) shifts(speed float64) (z []complex128, each, energy float64) {
	t := make([]float64, s.n)
	k := math.Log(markerTo/markerFrom) / markerLength
	for i := range min(int(markerLength/speed*s.rate), s.n) {
		p := float64(i) / s.rate * speed
		t[i] = math.Sin(2 * math.Pi * markerFrom * math.Expm1(k*p) / k)
		energy += t[i] * t[i]
	}
	m := spectrumOf64(t, s.rate)
	// Both, multiplied, in the part of the spectrum where the marker is.
	step := s.step()
	lo, hi := int(0.8*markerFrom*speed/step), int(1.2*markerTo*speed/step)
	size := smoothUp(int(5 * markerTo / step))
	b := make([]complex128, size)
	for i := max(lo, 1); i <= hi && i < len(s.c); i++ {
		b[i] = s.c[i] * cmplx.Conj(m.c[i]) * complex(2/float64(s.n), 0)
	}
	return fourier.NewCmplxFFT(size).Sequence(nil, b), float64(s.n) / s.rate / float64(size), energy
}

// highest is where z is longest: the place and the part of a place by which the
// top lies after it, and the length there.
func highest(z []complex128) (place int, shift, top float64) {
	for i, v := range z {
		if a := cmplx.Abs(v); a > top {
			place, top = i, a
		}
	}
	n := len(z)
	a, c := cmplx.Abs(z[(place+n-1)%n]), cmplx.Abs(z[(place+1)%n])
	if bend := a - 2*top + c; bend < 0 {
		shift = 0.5 * (a - c) / bend
		top -= bend * shift * shift / 2
	}
	return place, shift, top
}

// turned is the phase of the marker, 0 being as it was sent, in a stretch that
// holds little else. Wow while it sounds shifts a glide in time and so turns its
// phase; the speed at which it is most like itself is looked for first.
func turned(x []float32, rate, speed float64) float64 {
	s := spectrumOf(x, rate)
	best, phase := 0.0, 0.0
	for i := -16; i <= 16; i++ {
		z, each, _ := s.shifts(speed * (1 + 0.00025*float64(i)))
		place, shift, top := highest(z)
		if top > best {
			// A shift of a fraction of a place turns the phase: brought back at the
			// marker's middle frequency.
			middle := speed * (markerTo - markerFrom) / math.Log(markerTo/markerFrom)
			best, phase = top, cmplx.Phase(z[place])+2*math.Pi*middle*shift*each
		}
	}
	return math.Remainder(phase, 2*math.Pi)
}

// findMarker looks for a marker in a stretch that begins at from (s in the
// capture); speed is that of playing. false: there is none.
func findMarker(x []float32, rate, from, speed float64) (found, bool) {
	s := spectrumOf(x, rate)
	if s.n == 0 {
		return found{}, false
	}
	long := markerLength / speed
	z, each, energy := s.shifts(speed)
	best, shift, top := highest(z)
	size := len(z)
	at := (float64(best) + shift) * each
	var here float64
	first := int(at * rate)
	for i := max(first, 0); i < min(first+int(long*rate), len(x)); i++ {
		here += float64(x[i]) * float64(x[i])
	}
	if here == 0 || energy == 0 || top*top < likeness*energy*here {
		return found{}, false
	}
	var rest []float64
	for i := 0; i < size; i += 7 {
		rest = append(rest, real(z[i])*real(z[i])+imag(z[i])*imag(z[i]))
	}
	if top*top < stands*median(rest) {
		return found{}, false
	}
	f := found{at: from + at, floor: math.Inf(-1)}
	lo, hi := max(first-int(0.05*rate), 0), min(first+int((long+0.05)*rate), len(x))
	f.phase = turned(x[lo:hi], rate, speed)

	// What rises on both sides. Noise behind such a filter has an exponential
	// power: of some 100,000 places none passes 25 times the mean but once in some
	// 100,000 captures.
	const certain = 25
	for _, side := range [][2]float64{{-echoTo, -echoFrom}, {echoFrom, echoTo}} {
		lo, hi := int(math.Round((at+side[0])/each)), int(math.Round((at+side[1])/each))
		lo, hi = max(lo, 1), min(hi, size-2, int((float64(s.n)/rate-long)/each))
		if hi-lo < int(0.3/each) {
			continue
		}
		var power []float64
		for i := lo; i <= hi; i++ {
			power = append(power, real(z[i])*real(z[i])+imag(z[i])*imag(z[i]))
		}
		noise := median(power) / math.Ln2
		noise = max(noise, top*top*1e-12)
		f.floor = max(f.floor, 10*math.Log10(certain*noise/(top*top)))
		for i := lo; i <= hi; i++ {
			v := cmplx.Abs(z[i])
			if v*v < certain*noise || v < cmplx.Abs(z[i-1]) || v < cmplx.Abs(z[i+1]) {
				continue
			}
			e := echo{delay: (float64(i) - float64(best) - shift) * each, db: dB(v / top)}
			e.within = dB(1 + 1.4*math.Sqrt(noise)/v)
			// The highest of a group is the echo; its neighbours are its sides.
			if n := len(f.echoes); n > 0 && e.delay-f.echoes[n-1].delay < 0.05 {
				if e.db > f.echoes[n-1].db {
					f.echoes[n-1] = e
				}
				continue
			}
			f.echoes = append(f.echoes, e)
		}
	}
	f.echoes = slices.DeleteFunc(slices.Clone(f.echoes), func(e echo) bool {
		return slices.ContainsFunc(f.echoes, func(o echo) bool {
			return math.Abs(e.delay-o.delay) < markerLength && e.db < o.db-shadow
		})
	})
	return f, true
}
