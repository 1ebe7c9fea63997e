package programme

import "math"

// The resampler is a windowed sinc, one set of taps for each place that an
// output sample can take between two input samples. With 144 taps at the lower
// rate and a Kaiser window of beta 10.06 it is flat to 0.01 dB up to 0.907 of
// the lower rate's half (20 kHz at 44.1 kHz) and 100 dB down from that half on;
// the tests measure both. (Kaiser's formulas: beta = 0.1102 (A - 8.7), taps =
// (A - 8) / (2.285 width).)
const (
	zeroCrossings = 72
	kaiserBeta    = 10.06
	// cutoff in parts of the lower rate's half, in the middle between the pass
	// band's end and the stop band's start.
	cutoff = (0.907 + 1) / 2

	// mostPhases bounds the table: a rate that wants more is read between two
	// neighbouring phases, which keeps within -120 dB.
	mostPhases = 1024
)

// resampler turns a stereo stream of one rate into another. Of a stream that is
// known to be mono it reckons one channel and gives it twice.
type resampler struct {
	mono     bool
	up, down int64 // output and input steps, in lowest terms
	half     int   // input samples on each side of an output sample
	phases   int
	table    [][]float64 // phase, then taps; one phase more than phases, for reading between
	between  bool

	width int       // values a frame in buf
	buf   []float64 // input, buf[0] being frame start
	start int64     // frame number of buf[0]
	in    int64     // frames fed
	out   int64     // frames given
}

func newResampler(from, to int, mono bool) *resampler {
	g := gcd(int64(from), int64(to))
	r := &resampler{up: int64(to) / g, down: int64(from) / g, mono: mono, width: 2}
	if mono {
		r.width = 1
	}
	// In input samples: at a lower output rate the sinc is wider.
	scale := 1.0
	if to < from {
		scale = float64(from) / float64(to)
	}
	r.half = int(math.Ceil(zeroCrossings * scale))
	r.phases = int(min(r.up, mostPhases))
	r.between = r.up > mostPhases
	fc := cutoff / scale // parts of the input rate's half
	for p := range r.phases + 1 {
		taps := make([]float64, 2*r.half)
		at := float64(p) / float64(r.phases)
		var sum float64
		for k := range taps {
			t := float64(k-r.half+1) - at
			taps[k] = fc * sinc(fc*t) * kaiser(t/float64(r.half))
			sum += taps[k]
		}
		for k := range taps {
			taps[k] /= sum
		}
		r.table = append(r.table, taps)
	}
	// Half a filter of silence stands before the first sample.
	r.buf = make([]float64, r.width*(r.half-1))
	r.start = -int64(r.half - 1)
	return r
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// kaiser is the window of that name at x from -1 to 1.
func kaiser(x float64) float64 {
	if x <= -1 || x >= 1 {
		return 0
	}
	return bessel0(kaiserBeta*math.Sqrt(1-x*x)) / bessel0(kaiserBeta)
}

// bessel0 is the modified Bessel function of order 0, by its series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-15*sum; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}

// feed adds input frames.
func (r *resampler) feed(stereo []float64) {
	if r.mono {
		for i := 0; i < len(stereo); i += 2 {
			r.buf = append(r.buf, stereo[i])
		}
	} else {
		r.buf = append(r.buf, stereo...)
	}
	r.in += int64(len(stereo) / 2)
}

// drain says that the input is over: silence follows it.
func (r *resampler) drain() {
	r.buf = append(r.buf, make([]float64, r.width*(r.half+1))...)
}

// read gives as many output frames as the input so far allows, at most out holds.
func (r *resampler) read(out []float64) int {
	n := 0
	have := r.start + int64(len(r.buf)/r.width)
	for ; n < len(out)/2; n++ {
		at := r.out * r.down
		i, rest := at/r.up, at%r.up
		if i+int64(r.half) >= have {
			break
		}
		w := int64(r.width)
		x := r.buf[w*(i-int64(r.half)+1-r.start):][:2*r.half*r.width]
		var left, right float64
		if r.between {
			p := float64(rest) / float64(r.up) * float64(r.phases)
			k := int(p)
			part := p - float64(k)
			l0, r0 := r.dot(r.table[k], x)
			l1, r1 := r.dot(r.table[k+1], x)
			left, right = l0+part*(l1-l0), r0+part*(r1-r0)
		} else {
			left, right = r.dot(r.table[rest], x)
		}
		out[2*n], out[2*n+1] = left, right
		r.out++
	}
	// Drop what no later output needs.
	if first := r.out*r.down/r.up - int64(r.half) + 1; first > r.start {
		drop := min(first-r.start, int64(len(r.buf)/r.width))
		r.buf = r.buf[:copy(r.buf, r.buf[drop*int64(r.width):])]
		r.start += drop
	}
	return n
}

func (r *resampler) dot(taps, x []float64) (left, right float64) {
	if r.mono {
		left = dotMono(taps, x)
		return left, left
	}
	return dot(taps, x)
}

// dotMono weighs single values, as dot does frames.
func dotMono(taps, x []float64) float64 {
	var s0, s1, s2, s3 float64
	x = x[:len(taps)]
	for len(taps) >= 4 && len(x) >= 4 {
		t, v := (*[4]float64)(taps), (*[4]float64)(x)
		s0 += t[0] * v[0]
		s1 += t[1] * v[1]
		s2 += t[2] * v[2]
		s3 += t[3] * v[3]
		taps, x = taps[4:], x[4:]
	}
	for i, t := range taps {
		s0 += t * x[i]
	}
	return (s0 + s1) + (s2 + s3)
}

// dot weighs stereo frames by taps, an even number of them. Four sums a channel
// keep the processor from waiting for one addition after the other.
func dot(taps, x []float64) (left, right float64) {
	var l0, l1, l2, l3, r0, r1, r2, r3 float64
	x = x[:2*len(taps)]
	for len(taps) >= 4 && len(x) >= 8 {
		t, v := (*[4]float64)(taps), (*[8]float64)(x)
		l0 += t[0] * v[0]
		r0 += t[0] * v[1]
		l1 += t[1] * v[2]
		r1 += t[1] * v[3]
		l2 += t[2] * v[4]
		r2 += t[2] * v[5]
		l3 += t[3] * v[6]
		r3 += t[3] * v[7]
		taps, x = taps[4:], x[8:]
	}
	for i, t := range taps {
		l0 += t * x[2*i]
		r0 += t * x[2*i+1]
	}
	return (l0 + l1) + (l2 + l3), (r0 + r1) + (r2 + r3)
}
