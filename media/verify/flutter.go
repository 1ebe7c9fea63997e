package verify

import (
	"context"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// flutterBand is how far around 3150 Hz the tone is taken in: its side bands go
// to 200 Hz, the end of AES6's table.
const flutterBand = 350.0

// flutter measures speed, wow and flutter by the minute of 3150 Hz. It is taken
// in pieces that overlap, so that its length costs no memory.
func (t *tester) flutter(ctx context.Context, s step, from float64, x [][]float32) error {
	// The channel with the stronger tone.
	hz := s.hz * t.speed
	best, strongest := 0, 0.0
	for ch, y := range x {
		if p := power(spectrumOf(y[:min(len(y), int(2*t.rate))], t.rate), hz, 50); p > strongest {
			best, strongest = ch, p
		}
	}
	if strongest < 1e-12 {
		t.note("3150 Hz did not come back: no speed and no flutter")
		return nil
	}
	var whole vector
	for ch := range x {
		v, err := pieces(ctx, x[ch], t.rate, hz)
		if err != nil {
			return err
		}
		t.watch(s, ch, v.trimmed(0.02), t.at(s)+math.Ceil(0.02*v.rate)/v.rate, hz)
		if ch == best {
			whole = v
		}
	}
	t.speedOf(whole.trimmed(0.05), hz, t.at(s)+0.05)
	return nil
}

// pieces is a tone's vector over a long stretch, less a part of a second at its
// end. Each piece gives its middle half, where the joining of its ends is not
// felt; the first and the last give their outer quarters, too.
func pieces(ctx context.Context, x []float32, rate, hz float64) (vector, error) {
	const usual = 6 // s
	parts := max(1, int(float64(len(x))/rate/(usual/2))-1)
	n := 4 * smooth(len(x)/(parts+1)/2)
	var all vector
	for k := range parts {
		if err := ctx.Err(); err != nil {
			return all, err
		}
		at := k * n / 2
		if at+n > len(x) {
			break
		}
		v := spectrumOf(x[at:at+n], rate).around(hz, flutterBand)
		all.rate = v.rate
		// The phase of each piece counts from its own beginning.
		turn := cmplx.Rect(1, -2*math.Pi*math.Remainder(hz/rate*float64(at), 1))
		from, to := len(v.z)/4, 3*len(v.z)/4
		if k == 0 {
			from = 0
		}
		if k == parts-1 {
			to = len(v.z)
		}
		for _, z := range v.z[from:to] {
			all.z = append(all.z, z*turn)
		}
	}
	return all, nil
}

// speedOf turns the tone's phase into speed. from is where v begins in the capture.
func (t *tester) speedOf(v vector, hz, from float64) {
	n := len(v.z)
	if n < int(20*v.rate) {
		t.note("too little of the 3150 Hz tone came back: no flutter")
		return
	}
	// Deviation of the speed from the one that hz was reckoned with, between
	// neighbours; in a drop-out the phase is noise, and the values around it
	// stand in.
	var size []float64
	for _, z := range v.z {
		size = append(size, cmplx.Abs(z))
	}
	usual := median(slices.Clone(size))
	t.wobble = scatter(inBlocks(size, int(0.5*v.rate)))
	d := make([]float64, n-1)
	last := 0.0
	for i := range d {
		if size[i] > 0.3*usual && size[i+1] > 0.3*usual {
			last = cmplx.Phase(v.z[i+1]*cmplx.Conj(v.z[i])) / (2 * math.Pi) * v.rate / hz
		}
		d[i] = last
	}
	// Of the whole: how fast it played.
	m := mean(inBlocks(d, int(2*v.rate)))
	ratio := t.speed * (1 + m.Value)
	t.f.Speed = Figure{100 * (ratio - 1), and(100*m.Within, 100*cardClock)}
	half := int(0.5 * v.rate)
	course := inBlocks(d, half)
	for i, c := range course {
		t.f.Course = append(t.f.Course, Point{(float64(i) + 0.5) * float64(half) / v.rate, 100 * (t.speed*(1+c) - 1)})
	}
	for i := 0; i+60 <= len(course); i++ {
		var sum float64
		for _, c := range course[i : i+60] {
			sum += c
		}
		if s := 100 * (t.speed*(1+sum/60) - 1); i == 0 || math.Abs(s) > math.Abs(t.f.Speed30s) {
			t.f.Speed30s = s
		}
	}
	w := weigh(d, v.rate, flutterWeight)
	flat := func(hz float64) float64 {
		if hz < 0.2 || hz > 200 {
			return 0
		}
		return 1
	}
	t.f.Flutter = reading(w, v.rate, hiss(d, v.rate, flutterWeight))
	t.f.FlutterRaw = reading(weigh(d, v.rate, flat), v.rate, hiss(d, v.rate, flat))
	if t.f.FlutterRaw != nil {
		t.f.FlutterRaw.Within *= rawWider
	}
	t.f.Wobbles = wobbles(d, v.rate)
}

// rawWider is by how much what is known of the weighted reading's error must be
// widened for the unweighted one, which takes more of the hiss and of slow drift
// in: of a hundred modelled decks 77 were within the one, and those outside were
// off by up to twice that.
const rawWider = 2.5

// weigh puts a deviation through a weighting, without shifting it in time. What
// is slower than the table is taken out first, as a straight line; the ends,
// which the transform joins, are left out.
func weigh(d []float64, rate float64, weight func(hz float64) float64) []float64 {
	n := smooth(len(d))
	y := straightened(d[:n])
	c := fourier.NewFFT(n).Coefficients(nil, y)
	for i := range c {
		hz := float64(i) * rate / float64(n)
		// A difference of neighbours falls off a little towards half the rate.
		back := 1.0
		if a := math.Pi * hz / rate; a > 0 {
			back = a / math.Sin(a)
		}
		c[i] *= complex(weight(hz)*back/float64(n), 0)
	}
	y = fourier.NewFFT(n).Sequence(y, c)
	edge := int(2 * rate)
	return y[edge : n-edge]
}

// straightened is x less the straight line that fits it best.
func straightened(x []float64) []float64 {
	n := float64(len(x))
	var sum, lean, squares float64
	for i, v := range x {
		a := float64(i) - (n-1)/2
		sum += v
		lean += a * v
		squares += a * a
	}
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v - sum/n - lean/squares*(float64(i)-(n-1)/2)
	}
	return y
}

// hiss is what noise adds to a weighted deviation, one standard deviation. Noise
// around the tone turns its phase by as much at all rates of wobble; between 220
// and 320 Hz there is little else.
func hiss(d []float64, rate float64, weight func(hz float64) float64) float64 {
	n := smooth(len(d))
	c := fourier.NewFFT(n).Coefficients(nil, straightened(d[:n]))
	step := rate / float64(n)
	var turns []float64
	for i := int(220 / step); i <= int(320/step); i++ {
		x := cmplx.Abs(c[i]) / (float64(i) * step)
		turns = append(turns, x*x)
	}
	turn := median(turns) / math.Ln2 // the mean of an exponential distribution
	var sum float64
	for i := 1; i <= int(200/step); i++ {
		hz := float64(i) * step
		w := weight(hz)
		sum += turn * hz * hz * w * w
	}
	return math.Sqrt(2*sum) / float64(n)
}

// reading is what AES6's statistical meter shows, in per cent: the deviation
// that is not passed in 95.45 % of the time. Its uncertainty comes from the
// readings of five-second parts, the least that AES6 allows, from the table of the
// weighting, and from what noise adds (one standard deviation).
func reading(w []float64, rate, noise float64) *Figure {
	a := make([]float64, len(w))
	for i, v := range w {
		a[i] = math.Abs(v)
	}
	var parts []float64
	for k, n := 0, int(5*rate); k+n <= len(a); k += n {
		parts = append(parts, quantile(slices.Clone(a[k:k+n]), twoSigma))
	}
	scatter := mean(parts)
	value := quantile(a, twoSigma)
	added := value - math.Sqrt(max(value*value-4*noise*noise, 0))
	return &Figure{100 * value, and(100*scatter.Within, weightingWithin*100*value, leastFlutter) + 100*added}
}

const (
	// weightingWithin is how far the curve between the table's rows may be off, as
	// a part: its rows are given to 0.1 dB, and neighbours differ by up to 15 dB
	// only where it weighs little.
	weightingWithin = 0.02
	// leastFlutter is what noise can pass for, in per cent.
	leastFlutter = 0.0005
)

// wobbles are the strongest steady wobbles, peak, in per cent.
func wobbles(d []float64, rate float64) []Point {
	const most = 6
	n := smooth(len(d))
	y := straightened(d[:n])
	for i := range y {
		y[i] *= 1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)) // mean 1
	}
	c := fourier.NewFFT(n).Coefficients(nil, y)
	step := rate / float64(n)
	size := make([]float64, min(len(c), int(202/step)))
	for i := range size {
		size[i] = 2 * cmplx.Abs(c[i]) / float64(n)
	}
	var all []Point
	// Against what lies around: the median of a fifth of an octave or more.
	for from := max(3, int(0.15/step)); from+1 < len(size); {
		to := min(len(size)-1, max(from+25, int(1.15*float64(from))))
		around := median(slices.Clone(size[from:to]))
		for i := from; i < to; i++ {
			if size[i] < size[i-1] || size[i] < size[i+1] || size[i] < 5*around || 100*size[i] < 0.002 {
				continue
			}
			// Between bins by the ratio of neighbours, exact for a Hann window.
			a, b, e := size[i-1], size[i], size[i+1]
			shift := (2*e - b) / (e + b)
			if a > e {
				shift = -(2*a - b) / (a + b)
			}
			// A difference of neighbours falls off a little towards half the rate.
			lift := math.Pi * float64(i) * step / rate
			lift /= math.Sin(lift)
			if s := math.Abs(shift); s > 1e-6 && s < 1 {
				lift *= math.Pi * s * (1 - s*s) / math.Sin(math.Pi*s)
			}
			all = append(all, Point{(float64(i) + shift) * step, 100 * b * lift})
		}
		from = to
	}
	slices.SortFunc(all, func(a, b Point) int {
		if a.Y > b.Y {
			return -1
		}
		return 1
	})
	return all[:min(len(all), most)]
}
