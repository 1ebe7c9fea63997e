package meter

import "math"

// biquad is a second-order filter section, a0 being 1.
type biquad struct{ b0, b1, b2, a1, a2 float64 }

// The two sections of the K-weighting at 48 kHz: ITU-R BS.1770-4 Annex 1,
// Table 1 (a shelf for the head's effect) and Table 2 (a high-pass).
var (
	shelf48    = biquad{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585}
	highPass48 = biquad{1, -2, 1, -1.99004745483398, 0.99007225036621}
)

// at moves a section made for 48 kHz to another rate with the same response:
// back to the analogue section that it came from, then forward again, so that
// its natural frequency stays where it was. BS.1770 asks for this and leaves
// the way open.
func (q biquad) at(rate int) biquad {
	if rate == 48000 {
		return q
	}
	// In p = (1 - 1/z) / (1 + 1/z) the section is
	// (n2 p^2 + n1 p + n0) / (d2 p^2 + d1 p + d0).
	n2, n1, n0 := (q.b0-q.b1+q.b2)/4, (q.b0-q.b2)/2, (q.b0+q.b1+q.b2)/4
	d2, d1, d0 := (1-q.a1+q.a2)/4, (1-q.a2)/2, (1+q.a1+q.a2)/4
	// The natural frequency lies at p = i k48; at the new rate at p = i k.
	k48 := math.Sqrt(d0 / d2)
	k := math.Tan(math.Atan(k48) * 48000 / float64(rate))
	s := k48 / k
	n2, n1 = n2*s*s, n1*s
	d2, d1 = d2*s*s, d1*s
	a0 := d2 + d1 + d0
	return biquad{
		(n2 + n1 + n0) / a0, 2 * (n0 - n2) / a0, (n2 - n1 + n0) / a0,
		2 * (d0 - d2) / a0, (d2 - d1 + d0) / a0,
	}
}

// gain is the section's amplitude at a frequency in Hz.
func (q biquad) gain(f, rate float64) float64 {
	w := 2 * math.Pi * f / rate
	s1, c1 := math.Sincos(w)
	s2, c2 := math.Sincos(2 * w)
	num := math.Hypot(q.b0+q.b1*c1+q.b2*c2, q.b1*s1+q.b2*s2)
	den := math.Hypot(1+q.a1*c1+q.a2*c2, q.a1*s1+q.a2*s2)
	return num / den
}

// poles is the recursive part of a section: y = v - a1 y[-1] - a2 y[-2].
type poles struct{ a1, a2, y1, y2 float64 }

func (q biquad) poles() poles { return poles{a1: q.a1, a2: q.a2} }

// settle drops a state that has died away before it turns into denormal
// numbers, which are slow. At -400 dB it is nothing.
func (p *poles) settle() {
	if math.Abs(p.y1)+math.Abs(p.y2) < 1e-20 {
		p.y1, p.y2 = 0, 0
	}
}

// kFilter is the K-weighting and the sum of squares of what comes out of it.
type kFilter struct {
	b0, b1, b2  float64 // the shelf's numerator
	shelf, high poles
	scale       float64 // square of the high-pass's gain: its numerator is taken as 1, -2, 1
	x1, x2      float64
	sum         float64
}

func newKFilter(rate int) kFilter {
	s, h := shelf48.at(rate), highPass48.at(rate)
	return kFilter{b0: s.b0, b1: s.b1, b2: s.b2, shelf: s.poles(), high: h.poles(), scale: h.b0 * h.b0}
}

// filter runs x through and adds up the squares of what comes out, one by one,
// so that the sum is the same in whatever pieces x comes.
func (k *kFilter) filter(x []float64) {
	b0, b1, b2 := k.b0, k.b1, k.b2
	p, q := k.shelf, k.high
	x1, x2, sum := k.x1, k.x2, k.sum
	for _, v := range x {
		y := b0*v + b1*x1 + b2*x2 - p.a2*p.y2 - p.a1*p.y1
		z := (y - p.y1) - (p.y1 - p.y2) - q.a2*q.y2 - q.a1*q.y1
		x1, x2 = v, x1
		p.y1, p.y2 = y, p.y1
		q.y1, q.y2 = z, q.y1
		sum += z * z
	}
	k.shelf, k.high = p, q
	k.x1, k.x2, k.sum = x1, x2, sum
}

// take gives the energy so far and starts a new sum.
func (k *kFilter) take() float64 {
	e := k.sum * k.scale
	k.sum = 0
	k.shelf.settle()
	k.high.settle()
	return e
}

// The bands whose energies are compared: where a Type I tape runs out of
// treble, and the middle of music. The corners are common practice, no source.
const (
	lowFrom, lowTo   = 250, 630
	highFrom, highTo = 8000, 16000
)

// band is a fourth-order Butterworth band-pass (a second-order high-pass and a
// second-order low-pass, each 3 dB down at its edge, brought to unity in the
// middle) and the sum of squares of what comes out of it.
type band struct {
	low, high      poles
	scale          float64 // square of the gain: the numerator is taken as (1 - z^-2)^2
	x1, x2, d1, d2 float64
	sum            float64
}

// newBand is the band between two frequencies, in Hz; a silent one where the
// rate leaves less than a quarter octave for it.
func newBand(from, to, rate float64) band {
	to = min(to, 0.45*rate)
	if to < 1.19*from {
		return band{}
	}
	section := func(f, middle float64) biquad {
		k := math.Tan(math.Pi * f / rate)
		a0 := 1 + math.Sqrt2*k + k*k
		return biquad{1, middle, 1, 2 * (k*k - 1) / a0, (1 - math.Sqrt2*k + k*k) / a0}
	}
	h, l := section(from, -2), section(to, 2)
	middle := math.Sqrt(from * to)
	g := h.gain(middle, rate) * l.gain(middle, rate)
	return band{high: h.poles(), low: l.poles(), scale: 1 / (g * g)}
}

// none says that the band holds nothing at this rate.
func (b *band) none() bool { return b.scale == 0 }

// filter runs x through, as kFilter.filter does.
func (b *band) filter(x []float64) {
	p, q := b.high, b.low
	x1, x2, d1, d2, sum := b.x1, b.x2, b.d1, b.d2, b.sum
	for _, v := range x {
		d := v - x2
		y := d - d2 - p.a2*p.y2 - p.a1*p.y1
		z := y - q.a2*q.y2 - q.a1*q.y1
		x1, x2 = v, x1
		d1, d2 = d, d1
		p.y1, p.y2 = y, p.y1
		q.y1, q.y2 = z, q.y1
		sum += z * z
	}
	b.high, b.low = p, q
	b.x1, b.x2, b.d1, b.d2, b.sum = x1, x2, d1, d2, sum
}

// take gives the energy so far and starts a new sum.
func (b *band) take() float64 {
	e := b.sum * b.scale
	b.sum = 0
	b.settle()
	return e
}

func (b *band) settle() {
	b.high.settle()
	b.low.settle()
}

// thinner lowers the rate for the low band, which needs little of it: each
// output is a triangle over two groups of samples. What folds down from around
// the new rate is 35 dB down or more.
type thinner struct {
	by          int
	k           int     // samples in the open group
	sum, ramp   float64 // of the open group
	lastRamp    float64
	out         []float64
	scale, size float64
}

// newThinner lowers a rate to between 5 and 10 kHz.
func newThinner(rate int) thinner {
	by := max(1, rate/5000)
	return thinner{by: by, size: float64(by), scale: 1 / float64(by*by)}
}

// thin gives the outputs of x; they are good until the next call.
func (t *thinner) thin(x []float64) []float64 {
	if t.by == 1 {
		return x
	}
	t.out = t.out[:0]
	sum, ramp, k := t.sum, t.ramp, t.k
	for _, v := range x {
		k++
		sum += v
		ramp += float64(k) * v
		if k == t.by {
			t.out = append(t.out, (t.lastRamp+t.size*sum-ramp)*t.scale)
			t.lastRamp = ramp
			sum, ramp, k = 0, 0, 0
		}
	}
	t.sum, t.ramp, t.k = sum, ramp, k
	return t.out
}
