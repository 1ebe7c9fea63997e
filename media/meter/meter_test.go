package meter

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"
)

// The response of the K-weighting at other rates stays that of 48 kHz, as far
// as both can hold it.
func TestKWeightingMovesWithTheRate(t *testing.T) {
	gain := func(f float64, rate int) float64 {
		r := float64(rate)
		return 20 * math.Log10(shelf48.at(rate).gain(f, r)*highPass48.at(rate).gain(f, r))
	}
	for _, rate := range []int{8000, 22050, 32000, 44100, 88200, 96000, 192000} {
		for _, f := range []float64{20, 60, 200, 997, 2000, 3000} {
			got, want := gain(f, rate), gain(f, 48000)
			most := 0.1
			if rate < 16000 { // the shelf's upper half bends towards half the rate
				most = 0.25
			}
			if math.Abs(got-want) > most {
				t.Errorf("%d Hz, %v Hz: gain %.3f dB, at 48 kHz %.3f dB", rate, f, got, want)
			}
		}
	}
	// A 0 dBFS sine of 997 Hz in one front channel reads -3.01 LUFS (BS.1770-4 Annex 1).
	got := -0.691 + gain(997, 48000) - 10*math.Log10(2)
	if math.Abs(got+3.01) > 0.01 {
		t.Errorf("997 Hz at full scale reads %.3f LUFS, want -3.01", got)
	}
}

func TestMonoOnTape(t *testing.T) {
	mono := hear(48000, 1, sine1k(48000, 1, part{-20, 5}))
	both := hear(48000, 2, sine1k(48000, 2, part{-20, 5}))
	if d := mono.Integrated + mono.OnTape() - both.Integrated; math.Abs(d) > 0.01 {
		t.Errorf("mono on tape is %.3f LU from the same in both channels", d)
	}
	if both.OnTape() != 0 {
		t.Error("stereo needs no correction")
	}
}

func TestEdges(t *testing.T) {
	cases := []struct {
		name       string
		parts      []part
		lead, tail time.Duration
	}{
		{"none", []part{{-20, 2}}, 0, 0},
		{"both", []part{{silence, 1.5}, {-20, 2}, {silence, 0.25}}, 1500 * time.Millisecond, 250 * time.Millisecond},
		{"faint is blank", []part{{-61, 1}, {-20, 1}, {-61, 1}}, time.Second, time.Second},
		{"quiet is not", []part{{-59, 1}, {-20, 1}, {-59, 1}}, 0, 0},
		{"all silent", []part{{silence, 2}}, 2 * time.Second, 0},
		{"blank inside does not count", []part{{-20, 1}, {silence, 3}, {-20, 1}}, 0, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := hear(44100, 2, sine1k(44100, 2, c.parts...))
			// A 1 kHz sine passes -60 dB of its own level within a quarter period.
			if d := (r.Lead - c.lead).Abs(); d > time.Millisecond/2 {
				t.Errorf("lead %v, want %v", r.Lead, c.lead)
			}
			if d := (r.Tail - c.tail).Abs(); d > time.Millisecond/2 {
				t.Errorf("tail %v, want %v", r.Tail, c.tail)
			}
		})
	}
}

func TestNothing(t *testing.T) {
	m, _ := New(44100, 2)
	r := m.Result()
	for name, v := range map[string]float64{"integrated": r.Integrated, "momentary": r.MomentaryMax,
		"short": r.ShortMax, "true peak": r.TruePeak, "sample peak": r.SamplePeak, "treble": r.Treble, "treble max": r.TrebleMax} {
		if !math.IsInf(v, -1) {
			t.Errorf("%s of nothing = %v, want -Inf", name, v)
		}
	}
	if r.Range != 0 || r.Lead != 0 || r.Tail != 0 || r.Length() != 0 {
		t.Errorf("nothing has a range, blank or length: %+v", r)
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct{ rate, channels int }{{0, 2}, {-1, 2}, {3999, 1}, {1 << 30, 2}, {44100, 0}, {44100, 200}, {44100, -1}} {
		if _, err := New(c.rate, c.channels); err == nil {
			t.Errorf("New(%d, %d) should be refused", c.rate, c.channels)
		}
	}
}

// In what pieces the samples come makes no difference at all.
func TestPiecesMakeNoDifference(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	pcm := make([]float32, 2*44100*4)
	for i := range pcm {
		pcm[i] = float32(rng.NormFloat64() * 0.1 * (1.1 + math.Sin(float64(i)/9000)))
	}
	whole, _ := New(44100, 2)
	whole.Write(pcm)
	want := whole.Result()
	for range 5 {
		m, _ := New(44100, 2)
		for x := pcm; len(x) > 0; {
			k := min(2*(1+rng.IntN(9000)), len(x))
			m.Write(x[:k])
			x = x[k:]
		}
		got := m.Result()
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("in pieces: %+v\nwhole: %+v", got, want)
		}
	}
}

// What the bounds pass over could not have been the peak: the same filter
// tried at every place gives the same peak to the last bit but rounding.
func TestPeakSkipsNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for n := range 30 {
		x := make([]float64, 3000+n*331)
		for i := range x {
			x[i] = rng.NormFloat64()
			if n%3 == 0 && i > 0 {
				x[i] = 0.9*x[i-1] + 0.2*x[i]
			}
			if n%3 == 1 {
				x[i] = math.Copysign(1, math.Sin(float64(i*i)/float64(40+n)))
			}
		}
		var want float64
		padded := append(append(make([]float64, taps), x...), make([]float64, taps)...)
		for i := taps - 1; i < len(padded)-taps; i++ {
			want = max(want, math.Abs(padded[i]))
			for _, r := range quarters().read {
				var y float64
				for k, h := range r {
					y += h * padded[i-half+1+k]
				}
				want = max(want, math.Abs(y))
			}
		}
		got := hear(44100, 1, mono(x)).TruePeak
		if math.Abs(got-decibels(want)) > 1e-5 {
			t.Errorf("signal %d: true peak %.6f, by trying all places %.6f", n, got, decibels(want))
		}
	}
}

func mono(x []float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v)
	}
	return out
}

// The places lie on the waveform of a sine of any frequency up to 18 kHz.
func TestPeakFilterIsFlat(t *testing.T) {
	for f := 1000.0; f <= 18000; f += 1000 {
		for i, r := range quarters().read {
			var re, im float64
			for k, h := range r {
				s, c := math.Sincos(2 * math.Pi * f / 44100 * float64(k))
				re, im = re+h*c, im+h*s
			}
			if db := decibels(math.Hypot(re, im)); math.Abs(db) > 0.1 {
				t.Errorf("%v Hz read at place %d/4: %+.3f dB", f, i+1, db)
			}
		}
	}
}

func TestPeakPlace(t *testing.T) {
	x := make([]float64, 44100)
	x[30000] = 0.5
	if r := hear(44100, 1, mono(x)); r.TruePeakAt != span(30000, 44100) || math.Abs(r.TruePeak+6.02) > 0.01 {
		t.Errorf("one sample at 30000: %v dBTP at %v", r.TruePeak, r.TruePeakAt)
	}
	// The very last sample: the waveform after it counts too.
	y := make([]float64, 1000)
	y[998], y[999] = 1, 1
	if r := hear(44100, 1, mono(y)); r.TruePeak < 1.5 || r.TruePeakAt != span(998, 44100) {
		t.Errorf("two full samples at the end: %.2f dBTP at %v", r.TruePeak, r.TruePeakAt)
	}
}

func TestTreble(t *testing.T) {
	tones := func(rate int, low, high float64) Result {
		x := make([]float64, 3*rate)
		for i := range x {
			s := 2 * math.Pi * float64(i) / float64(rate)
			x[i] = low*math.Sin(400*s) + high*math.Sin(11000*s)
		}
		return hear(rate, 1, mono(x))
	}
	for _, rate := range []int{44100, 48000, 96000} {
		// Equal tones in mid-band: 0 dB; one at a tenth: -20 dB. Both bands are within
		// 0.5 dB of flat in their middle (fourth order, more than an octave wide).
		near(t, "equal", tones(rate, 0.2, 0.2).Treble, 0, 0.6, 0.6)
		near(t, "a tenth", tones(rate, 0.5, 0.05).Treble, -20, 0.6, 0.6)
		near(t, "treble level", tones(rate, 0.2, 0.1).TrebleMax, -20, 0.6, 0.2)
	}
	if r := tones(16000, 0.5, 0); !math.IsInf(r.Treble, -1) {
		t.Errorf("16 kHz sampling holds no treble band, got %v", r.Treble)
	}
}

func TestContrast(t *testing.T) {
	// Quiet for 4 s, loud for 4 s, quiet for 4 s: 30 LU at every delay, both ways.
	r := hear(48000, 2, sine1k(48000, 2, part{-50, 4}, part{-20, 4}, part{-50, 4}))
	if len(r.LoudAfterQuiet) != delays || len(r.QuietAfterLoud) != delays {
		t.Fatalf("%d and %d delays, want %d", len(r.LoudAfterQuiet), len(r.QuietAfterLoud), delays)
	}
	for i := range delays {
		b, a := r.LoudAfterQuiet[i], r.QuietAfterLoud[i]
		near(t, "rise before", b.Rise(), 30, 0.2, 0.2)
		near(t, "rise after", a.Rise(), 30, 0.2, 0.2)
		if want := time.Duration(firstDelay+i) * step; b.Delay != want || a.Delay != want {
			t.Errorf("delay %d: %v, %v", i, b.Delay, a.Delay)
		}
		if b.At < 4*time.Second || b.At-b.Delay >= 4*time.Second {
			t.Errorf("loud at %v, quiet %v before: not across the rise at 4 s", b.At, b.Delay)
		}
		if a.At >= 8*time.Second || a.At+a.Delay < 8*time.Second {
			t.Errorf("loud at %v, quiet %v after: not across the fall at 8 s", a.At, a.Delay)
		}
	}
	near(t, "opening", r.Opening, -50, 0.2, 0.2)
	near(t, "closing", r.Closing, -50, 0.2, 0.2)
	if r := hear(48000, 2, sine1k(48000, 2, part{-20, 10})); r.LoudAfterQuiet != nil && r.LoudAfterQuiet[0].Rise() > 0.1 {
		t.Errorf("a steady tone has no contrast, got %v", r.LoudAfterQuiet[0])
	}
}

// A sample that is no number, or infinite, spoils nothing but itself.
func TestNotANumber(t *testing.T) {
	x := sine1k(48000, 2, part{-23, 20})
	x[5000], x[5001] = float32(math.NaN()), float32(math.NaN())
	near(t, "integrated", hear(48000, 2, x).Integrated, -23, 0.1, 0.1)
	x[7000] = float32(math.Inf(1))
	if r := hear(48000, 2, x); math.IsNaN(r.Integrated) || math.IsInf(r.TruePeak, 1) {
		t.Errorf("an infinite sample: %+v", r)
	}
}

func FuzzMeter(f *testing.F) {
	f.Add([]byte{0, 1, 2, 3, 255, 128}, uint32(44100), byte(2))
	f.Add([]byte{}, uint32(4000), byte(1))
	f.Add([]byte{0x7f, 0xc0, 0, 0, 0x7f, 0x80, 0, 0}, uint32(768000), byte(8))
	f.Fuzz(func(t *testing.T, data []byte, rate uint32, channels byte) {
		m, err := New(int(rate), int(channels))
		if err != nil {
			return
		}
		pcm := make([]float32, len(data)/4)
		for i := range pcm {
			d := data[4*i:]
			pcm[i] = math.Float32frombits(uint32(d[0])<<24 | uint32(d[1])<<16 | uint32(d[2])<<8 | uint32(d[3]))
		}
		// The law: nothing is NaN, the peak is no less than the samples', blanks
		// fit in the length, and a second hearing says the same.
		m.Write(pcm)
		r := m.Result()
		for _, v := range []float64{r.Integrated, r.Range, r.MomentaryMax, r.ShortMax, r.TruePeak, r.SamplePeak, r.Treble, r.TrebleMax} {
			if math.IsNaN(v) || math.IsInf(v, 1) {
				t.Fatalf("a level that is no number: %+v", r)
			}
		}
		if r.TruePeak < r.SamplePeak || r.Lead < 0 || r.Tail < 0 || r.Lead+r.Tail > r.Length() || r.Range < 0 {
			t.Fatalf("out of bounds: %+v", r)
		}
		again, _ := New(int(rate), int(channels))
		again.Write(pcm)
		if s := again.Result(); s.Integrated != r.Integrated || s.TruePeak != r.TruePeak {
			t.Fatalf("twice the same sound: %+v, %+v", r, s)
		}
	})
}

func BenchmarkMeter(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	kinds := map[string]func(i int) float64{
		"music-like": func(i int) float64 {
			return 0.3*math.Sin(float64(i)*0.03)*(1+math.Sin(float64(i)*1e-4)) + 0.05*rng.NormFloat64()
		},
		"loud noise": func(int) float64 { return math.Max(-1, math.Min(1, rng.NormFloat64())) },
		"silence":    func(int) float64 { return 0 },
	}
	for name, f := range kinds {
		pcm := make([]float32, 2*44100*10)
		for i := range pcm {
			pcm[i] = float32(f(i))
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				m, _ := New(44100, 2)
				m.Write(pcm)
				m.Result()
			}
			b.ReportMetric(10*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}
