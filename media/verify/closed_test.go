package verify

import (
	"math"
	"testing"
)

// A sine wobble at a row of AES6's table reads its peak by its weight, by what a
// sine does not pass in 95.45 % of the time: sin(90 degrees x 0.9545) = 0.99745.
func TestSineWobble(t *testing.T) {
	const rate, long = 1400.0, 60
	for _, row := range aes6[2:] {
		d := make([]float64, rate*long)
		for i := range d {
			// Between neighbours, as it is measured: the mean over one step.
			w := 2 * math.Pi * row[0] / rate
			d[i] = 0.001 * (math.Cos(w*float64(i)+1) - math.Cos(w*float64(i+1)+1)) / w
		}
		got := reading(weigh(d, rate, flutterWeight), rate, 0)
		want := 0.1 * math.Sin(math.Pi/2*twoSigma) * amplitude(row[1])
		if math.Abs(got.Value-want) > 0.01*want+got.Within*0.1 {
			t.Errorf("%g Hz: %.5f %%, want %.5f", row[0], got.Value, want)
		}
		peaks := wobbles(d, rate)
		if len(peaks) != 1 || math.Abs(peaks[0].X-row[0]) > 0.003 || math.Abs(peaks[0].Y-0.1) > 0.002 {
			t.Errorf("%g Hz, 0.1 %%: told as %v", row[0], peaks)
		}
	}
}

// x - c x^3 of a sine of amplitude a has a third harmonic of c a^3 / 4 and a tone
// of a (1 - 3 c a^2 / 4).
func TestThirdHarmonic(t *testing.T) {
	const rate, a, c = 44100.0, 1.3, 0.05
	tt := &tester{c: Capture{Channels: 1}, f: &Findings{}, rate: rate, speed: 1, place: func(p float64) float64 { return p },
		zero: make([]Figure, 1), back: make([][]Figure, 1), third: make([][]Figure, 1)}
	x := make([]float32, 80000)
	for i := range x {
		v := a * math.Sin(2*math.Pi*315/rate*float64(i))
		x[i] = float32(0.1 * (v - c*v*v*v))
	}
	tt.tone(step{job: level, hz: 315, long: 2}, 0, []spectrum{spectrumOf(x, rate)})
	want := dB(c * a * a / 4 / (1 - 3*c*a*a/4))
	if got := tt.third[0][0].Value; math.Abs(got-want) > 0.01 {
		t.Errorf("third harmonic %.3f dB, want %.3f", got, want)
	}
	if got, want := tt.back[0][0].Value, dB(0.1*a*(1-3*c*a*a/4)); math.Abs(got-want) > 0.005 {
		t.Errorf("tone %.4f dB, want %.4f", got, want)
	}
}

// A known delay between the channels, with unlike noise in both.
func TestDelayByPhase(t *testing.T) {
	var p []phase
	for i, hz := range []float64{100, 160, 250, 630, 1000, 1600, 2500, 4000, 6300, 8000, 10000, 12500, 16000} {
		p = append(p, phase{hz, math.Remainder(2*math.Pi*hz*123e-6+0.01*float64(i%3-1), 2*math.Pi), 0.02})
	}
	got, within, ok := fit(p, func(x phase) float64 { return x.angle })
	if !ok || math.Abs(got-123e-6) > within {
		t.Errorf("%.2f us within %.2f", 1e6*got, 1e6*within)
	}
}
