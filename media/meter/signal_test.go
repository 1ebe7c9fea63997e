package meter

import (
	"math"
	"sync"
)

// A part is one stretch of a test signal: the peak level of each channel in
// dBFS and how long it lasts in seconds. Silence is math.Inf(-1).
type part struct {
	db, s float64
}

var silence = math.Inf(-1)

// kilohertz is one second of a 1 kHz sine, made once a rate.
var kilohertz sync.Map

func wave1k(rate int) []float64 {
	if w, ok := kilohertz.Load(rate); ok {
		return w.([]float64)
	}
	w := make([]float64, rate)
	for i := range w {
		w[i] = math.Sin(2 * math.Pi * 1000 * float64(i) / float64(rate))
	}
	kilohertz.Store(rate, w)
	return w
}

// sine1k is the signal of most EBU cases: a 1 kHz sine, in phase in all
// channels, phase running on over the parts.
func sine1k(rate, channels int, parts ...part) []float32 {
	var total float64
	for _, p := range parts {
		total += p.s
	}
	out := make([]float32, 0, channels*int(total*float64(rate)+float64(len(parts))))
	w := wave1k(rate)
	n := 0
	for _, p := range parts {
		a := math.Pow(10, p.db/20)
		for range int(math.Round(p.s * float64(rate))) {
			v := float32(a * w[n%rate])
			for range channels {
				out = append(out, v)
			}
			n++
		}
	}
	return out
}

// levels51 is a 1 kHz sine with a level of its own in each channel.
func levels51(rate int, s float64, db ...float64) []float32 {
	var out []float32
	for n := range int(s * float64(rate)) {
		w := math.Sin(2 * math.Pi * 1000 * float64(n) / float64(rate))
		for _, d := range db {
			out = append(out, float32(math.Pow(10, d/20)*w))
		}
	}
	return out
}

func repeat(times int, parts ...part) []part {
	var out []part
	for range times {
		out = append(out, parts...)
	}
	return out
}

// taper fades both ends over 10 ms, as the EBU's true-peak signals are.
func taper(x []float64, rate int) []float64 {
	n := rate / 100
	for i := range n {
		g := float64(i) / float64(n)
		x[i] *= g
		x[len(x)-1-i] *= g
	}
	return x
}

// toneAt is one second of a sine of rate/divisor with a starting phase in
// degrees, tapered.
func toneAt(rate int, divisor, amplitude, degrees float64) []float64 {
	x := make([]float64, rate)
	for i := range x {
		x[i] = amplitude * math.Sin(2*math.Pi*float64(i)/divisor+degrees*math.Pi/180)
	}
	return taper(x, rate)
}

// burst is the signal of cases 20 to 23: a sine of rate/6 at 0.5 that holds
// one period of rate/4 at 1.0, made at four times the rate, low-passed, and
// decimated from the given offset.
func burst(rate, offset int) []float64 {
	over := 4 * rate
	x := make([]float64, over/4) // a quarter of a second
	const slow, fast = 24, 16    // samples a period at the high rate
	at := len(x) / 2 / slow * slow
	phase := 0.0
	for i := range x {
		a, d := 0.5, float64(slow)
		if i >= at && i < at+fast {
			a, d = 1.0, fast
		}
		x[i] = a * math.Sin(phase)
		phase += 2 * math.Pi / d
	}
	taper(x, over)
	// The low-pass: a windowed sinc of 1025 taps, 0.5 of the low rate.
	const m = 512
	out := make([]float64, 0, rate/4)
	for i := offset; i < len(x); i += 4 {
		var y float64
		for k := -m; k <= m; k++ {
			if j := i + k; j >= 0 && j < len(x) {
				h := 0.25
				if k != 0 {
					h = math.Sin(math.Pi*float64(k)/4) / (math.Pi * float64(k))
				}
				y += x[j] * h * (0.5 + 0.5*math.Cos(math.Pi*float64(k)/(m+1)))
			}
		}
		out = append(out, y)
	}
	return out
}

func stereo(x []float64) []float32 {
	out := make([]float32, 0, 2*len(x))
	for _, v := range x {
		out = append(out, float32(v), float32(v))
	}
	return out
}

// hear runs a whole signal through a meter in pieces of an odd size.
func hear(rate, channels int, pcm []float32) Result {
	m, err := New(rate, channels)
	if err != nil {
		panic(err)
	}
	const piece = 1777
	for len(pcm) > 0 {
		k := min(piece*channels, len(pcm))
		m.Write(pcm[:k])
		pcm = pcm[k:]
	}
	return m.Result()
}
