package verify

import (
	"math"
	"math/cmplx"
	"testing"
)

// ITU-R BS.468-4, table 1: response and tolerance, dB (read in public source
// text that quotes it; 0 at 6.3 kHz, where we allow 0.2).
func TestNetwork468(t *testing.T) {
	for _, r := range [][3]float64{
		{31.5, -29.9, 2}, {63, -23.9, 1.4}, {100, -19.8, 1}, {200, -13.8, 0.85}, {400, -7.8, 0.7}, {800, -1.9, 0.55}, {1000, 0, 0.5},
		{2000, 5.6, 0.5}, {3150, 9, 0.5}, {4000, 10.5, 0.5}, {5000, 11.7, 0.5}, {6300, 12.2, 0.2}, {7100, 12, 0.2}, {8000, 11.4, 0.4},
		{9000, 10.1, 0.6}, {10000, 8.1, 0.8}, {12500, 0, 1.2}, {14000, -5.3, 1.4}, {16000, -11.7, 1.6}, {20000, -22.2, 2},
	} {
		if got := dB(cmplx.Abs(weight468(r[0]))); math.Abs(got-r[1]) > r[2]/2 { // half of what the table allows
			t.Errorf("%g Hz: %.2f dB, the table says %.1f", r[0], got, r[1])
		}
	}
	if weight468(0) != 0 {
		t.Error("it lets 0 Hz through")
	}
}

// BS.468-4, tables 2 and 3: bursts of 5 kHz, in per cent of the steady tone, and
// bursts of 5 ms that come again (from memory, unverified).
func TestQuasiPeakBursts(t *testing.T) {
	const rate = 48000
	meter := newQuasiPeak(rate)
	most := func(long float64, sound func(s float64) bool) float64 {
		q := *meter
		q.y1, q.y2 = 0, 0
		top := 0.0
		for i := range int(long * rate) {
			s := float64(i) / rate
			x := 0.0
			if sound(s) {
				x = math.Sin(2 * math.Pi * 5000 * s)
			}
			top = max(top, q.read(x))
		}
		return 100 * top * math.Sqrt2
	}
	for _, r := range [][4]float64{
		{1, 17, 13.5, 21.4}, {2, 26.6, 22.4, 31.6}, {5, 40, 34, 46}, {10, 48, 41, 55}, {20, 52, 44, 60}, {50, 59, 50, 68}, {100, 68, 58, 78}, {200, 80, 68, 92},
	} {
		if got := most(0.6, func(s float64) bool { return s < r[0]/1000 }); got < r[2] || got > r[3] {
			t.Errorf("a burst of %g ms reads %.1f %%, the table says %g", r[0], got, r[1])
		}
	}
	for _, r := range [][4]float64{{2, 48, 43, 53}, {10, 77, 72, 82}, {100, 97, 94, 100}} {
		if got := most(3, func(s float64) bool { return math.Mod(s, 1/r[0]) < 0.005 }); got < r[2] || got > r[3] {
			t.Errorf("%g bursts a second read %.1f %%, the table says %g", r[0], got, r[1])
		}
	}
	if got := most(2, func(float64) bool { return true }); math.Abs(got-100) > 0.5 {
		t.Errorf("a steady tone reads %.2f %%", got)
	}
}

// IEC 61672-1's A-weighting at nominal frequencies, to the tenth that its table
// gives (from memory, unverified; the exact frequencies differ from the nominal).
func TestAWeighting(t *testing.T) {
	for _, r := range [][2]float64{
		{20, -50.5}, {31.5, -39.4}, {63, -26.2}, {125, -16.1}, {250, -8.6}, {500, -3.2}, {1000, 0}, {2000, 1.2}, {4000, 1}, {8000, -1.1}, {16000, -6.6},
	} {
		if got := dB(cmplx.Abs(aWeight(r[0]))); math.Abs(got-r[1]) > 0.15 {
			t.Errorf("%g Hz: %.2f dB, the table says %.1f", r[0], got, r[1])
		}
	}
}

// AES6's shape in words: 0 dB at 4 Hz, about 6 dB an octave to both sides, more
// under 0.5 Hz (its publisher's summary).
func TestFlutterWeighting(t *testing.T) {
	if flutterWeight(4) != 1 {
		t.Error("not 0 dB at 4 Hz")
	}
	if got := dB(flutterWeight(80) / flutterWeight(40)); math.Abs(got+6) > 1 {
		t.Errorf("%.1f dB from 40 to 80 Hz", got)
	}
	if got := dB(flutterWeight(0.5) / flutterWeight(0.25)); got < 12 {
		t.Errorf("%.1f dB from 0.25 to 0.5 Hz", got)
	}
	for hz := 0.05; hz < 300; hz *= 1.01 {
		if w := flutterWeight(hz); w < 0 || w > 1 {
			t.Fatalf("%g at %g Hz", w, hz)
		}
	}
}

// Student's t for 95 %, by any handbook's table.
func TestStudent(t *testing.T) {
	for _, r := range [][2]float64{{2, 4.303}, {3, 3.182}, {4, 2.776}, {6, 2.447}, {10, 2.228}, {20, 2.086}, {60, 2.000}} {
		if got := student(r[0]); math.Abs(got/r[1]-1) > 0.02 {
			t.Errorf("%g degrees: %.3f, the table says %.3f", r[0], got, r[1])
		}
	}
}
