package verify

import (
	"math"
	"math/cmplx"
)

// aes6 is the weighting of flutter by its frequency, in dB: AES6-2008 Table 1,
// the same as IEC 60386 and DIN 45 507 (read in public source text that quotes
// the table; the standard itself was not to be had).
var aes6 = [][2]float64{
	{0.1, -48}, {0.2, -30.6}, {0.315, -19.7}, {0.4, -15}, {0.63, -8.4}, {0.8, -6}, {1, -4.2}, {1.6, -1.8}, {2, -0.9}, {4, 0},
	{6.3, -0.9}, {10, -2.1}, {20, -5.9}, {40, -10.4}, {63, -14.2}, {100, -17.3}, {200, -23},
}

// flutterWeight is the weighting at a frequency, as a factor: between the rows
// of the table straight in dB over the logarithm of the frequency, under it and
// over it nothing.
func flutterWeight(hz float64) float64 {
	if hz < aes6[0][0] || hz > aes6[len(aes6)-1][0] {
		return 0
	}
	for i := 1; i < len(aes6); i++ {
		a, b := aes6[i-1], aes6[i]
		if hz <= b[0] {
			t := math.Log(hz/a[0]) / math.Log(b[0]/a[0])
			return amplitude(a[1] + t*(b[1]-a[1]))
		}
	}
	return 0
}

// twoSigma is the part of the time in which the weighted deviation is not over
// the reading of AES6's statistical meter: two standard deviations of the
// normal distribution, either side.
const twoSigma = 0.9545

// aWeight is the A-weighting of IEC 61672-1 (its annex gives these four
// frequencies), 0 dB at 1 kHz.
func aWeight(hz float64) complex128 {
	const f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
	s := complex(0, hz)
	h := func(s complex128) complex128 {
		p := (s + f1) * (s + f1) * (s + f2) * (s + f3) * (s + f4) * (s + f4)
		return s * s * s * s / p
	}
	return h(s) / complex(cmplx.Abs(h(complex(0, 1000))), 0)
}

// weight468 is the weighting network of ITU-R BS.468-4: the ladder of its figure
// 1a between 600 ohms, by the values of its parts (read in public source text
// that quotes them), 0 dB at 1 kHz.
func weight468(hz float64) complex128 {
	return ladder468(hz) / complex(cmplx.Abs(ladder468(1000)), 0)
}

func ladder468(hz float64) complex128 {
	if hz <= 0 {
		return 0
	}
	s := complex(0, 2*math.Pi*hz)
	// From the load backwards: voltage and current at each part for 1 V at the load.
	const ohms = 600
	v, i := complex128(1), complex128(1)/ohms
	across := func(c complex128) { i += v * s * c }
	along := func(z complex128) { v += i * z }
	across(31.47e-9)
	along(s * 26.49e-3)
	across(9.21e-9)
	along(1 / (s * 33.06e-9))
	across(26.82e-9)
	along(s * 12.88e-3)
	across(13.85e-9)
	along(ohms)
	return 1 / v
}

// unweighted is the band of an unweighted measurement in ITU-R BS.468-4, 22.4 Hz
// to 22.4 kHz (from memory, unverified).
func unweighted(hz float64) complex128 {
	if hz < 22.4 || hz > 22400 {
		return 0
	}
	return 1
}

// quasiPeak is the meter of ITU-R BS.468-4: two peak rectifiers in a row, with
// time constants found by search to lie nearest to its tables of bursts. A
// steady sine of 1 reads 1 over the root of 2.
type quasiPeak struct{ rise1, fall1, rise2, fall2, y1, y2, scale float64 }

// Time constants in seconds.
const (
	rise1, fall1 = 0.0015, 0.259
	rise2, fall2 = 0.130, 0.219
)

func newQuasiPeak(rate float64) *quasiPeak {
	k := func(t float64) float64 { return -math.Expm1(-1 / (rate * t)) }
	q := &quasiPeak{rise1: k(rise1), fall1: k(fall1), rise2: k(rise2), fall2: k(fall2), scale: 1}
	// What a steady sine gives, once.
	p := *q
	var v float64
	for i := range int(1.5 * rate) {
		v = p.read(math.Sin(2 * math.Pi * 1003 / rate * float64(i)))
	}
	q.scale = math.Sqrt2 / 2 / v
	return q
}

// read takes a sample and gives what the meter then shows.
func (q *quasiPeak) read(x float64) float64 {
	if x = math.Abs(x); x > q.y1 {
		q.y1 += (x - q.y1) * q.rise1
	} else {
		q.y1 -= q.y1 * q.fall1
	}
	if q.y1 > q.y2 {
		q.y2 += (q.y1 - q.y2) * q.rise2
	} else {
		q.y2 += (q.y1 - q.y2) * q.fall2
	}
	return q.y2 * q.scale
}
