package programme

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// convertAll runs a whole stereo signal through a resampler in odd pieces.
func convertAll(from, to int, x []float64) []float64 {
	r := newResampler(from, to, false)
	var out []float64
	buf := make([]float64, 2*777)
	take := func() {
		for {
			n := r.read(buf)
			if n == 0 {
				return
			}
			out = append(out, buf[:2*n]...)
		}
	}
	for len(x) > 0 {
		k := min(2*1111, len(x))
		r.feed(x[:k])
		x = x[k:]
		take()
	}
	r.drain()
	take()
	return out
}

// Mono is the left channel of stereo, twice.
func TestMonoIsTheSame(t *testing.T) {
	x := make([]float64, 2*5000)
	for i := range x {
		x[i] = math.Sin(float64(i/2) * 0.1)
	}
	a, b := newResampler(32000, 44100, false), newResampler(32000, 44100, true)
	a.feed(x)
	b.feed(x)
	y, z := make([]float64, 2*6000), make([]float64, 2*6000)
	n, m := a.read(y), b.read(z)
	if n != m || n < 6000 {
		t.Fatalf("%d and %d frames", n, m)
	}
	for i := range y {
		if math.Abs(y[i]-z[i]) > 1e-15 {
			t.Fatalf("value %d: %v and %v", i, y[i], z[i])
		}
	}
}

func tone(rate int, hz, seconds float64) []float64 {
	x := make([]float64, 2*int(seconds*float64(rate)))
	for i := range len(x) / 2 {
		v := math.Sin(2 * math.Pi * hz * float64(i) / float64(rate))
		x[2*i], x[2*i+1] = v, -v
	}
	return x
}

// amplitude is that of a frequency in the left channel's middle, by projection
// onto a windowed sine and cosine, and the RMS of everything there.
func amplitude(x []float64, rate int, hz float64) (a, rms float64) {
	n := len(x) / 2
	from, to := n/4, 3*n/4
	var re, im, w2, sum float64
	for i := from; i < to; i++ {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i-from)/float64(to-from))
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / float64(rate))
		re += w * x[2*i] * c
		im += w * x[2*i] * s
		w2 += w
		sum += w * x[2*i] * x[2*i]
	}
	return 2 * math.Hypot(re, im) / w2, math.Sqrt(sum / w2)
}

func db(a float64) float64 { return 20 * math.Log10(a) }

// Stated: flat to 0.01 dB up to 0.907 of the lower rate's half.
func TestPassBand(t *testing.T) {
	for _, c := range []struct{ from, to int }{
		{48000, 44100}, {44100, 48000}, {96000, 44100}, {22050, 44100}, {192000, 48000}, {8000, 48000}, {44056, 44100},
	} {
		top := 0.907 * float64(min(c.from, c.to)) / 2
		for _, share := range []float64{0.1, 0.5, 1} {
			hz := top * share
			y := convertAll(c.from, c.to, tone(c.from, hz, 0.12))
			if a, _ := amplitude(y, c.to, hz); math.Abs(db(a)) > 0.01 {
				t.Errorf("%d to %d, %.0f Hz: %+.4f dB", c.from, c.to, hz, db(a))
			}
		}
		// At least as many samples as the time asks for, and hardly more.
		want := c.to * 12 / 100
		if n := len(convertAll(c.from, c.to, tone(c.from, 100, 0.12))) / 2; n < want || n > want+2*c.to/c.from+2 {
			t.Errorf("%d to %d: %d samples of 0.12 s", c.from, c.to, n)
		}
	}
}

// Stated: 100 dB down from the lower rate's half on, for what would fold back
// (going down) and for the images (going up).
func TestAliases(t *testing.T) {
	for _, c := range []struct {
		from, to int
		hz       float64
	}{
		{48000, 44100, 22050}, {48000, 44100, 23000}, {48000, 44100, 23900}, {96000, 44100, 23000}, {96000, 44100, 40000}, {88200, 44100, 22100}, {192000, 48000, 24500}, {192000, 48000, 90000},
	} {
		y := convertAll(c.from, c.to, tone(c.from, c.hz, 0.25))
		if _, rms := amplitude(y, c.to, 1000); db(rms*math.Sqrt2) > -100 {
			t.Errorf("%d to %d: %.0f Hz comes through at %.1f dB", c.from, c.to, c.hz, db(rms*math.Sqrt2))
		}
	}
	for _, c := range []struct {
		from, to int
		hz       float64
	}{{22050, 44100, 9000}, {32000, 44100, 13000}, {44100, 48000, 19000}, {8000, 48000, 3000}, {44056, 48000, 15000}} {
		y := convertAll(c.from, c.to, tone(c.from, c.hz, 0.25))
		a, rms := amplitude(y, c.to, c.hz)
		rest := math.Sqrt(math.Max(0, rms*rms-a*a/2))
		if rest > 0 && db(rest*math.Sqrt2) > -95 {
			t.Errorf("%d to %d, %.0f Hz: %.1f dB of something else", c.from, c.to, c.hz, db(rest*math.Sqrt2))
		}
	}
}

// The same sound through sox's resampler at its highest quality.
func TestAgainstSox(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ from, to int }{{48000, 44100}, {44100, 48000}, {32000, 44100}} {
		// Noise below 0.8 of the lower half, where both are flat.
		rng := rand.New(rand.NewPCG(1, 2))
		n := c.from / 2
		x := make([]float64, 2*n)
		top := 0.8 * float64(min(c.from, c.to)) / 2
		for range 60 {
			hz, ph := top*rng.Float64(), 2*math.Pi*rng.Float64()
			for i := range n {
				v := 0.008 * math.Sin(2*math.Pi*hz*float64(i)/float64(c.from)+ph)
				x[2*i] += v
				x[2*i+1] += v
			}
		}
		raw := make([]byte, 0, 4*len(x))
		for _, v := range x {
			raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(v)))
		}
		in, out := filepath.Join(dir, "in.f32"), filepath.Join(dir, "out.f32")
		if err := os.WriteFile(in, raw, 0o666); err != nil {
			t.Fatal(err)
		}
		run(t, "sox", "-t", "f32", "-r", fmt.Sprint(c.from), "-c", "2", in, "-t", "f32", out, "rate", "-v", fmt.Sprint(c.to))
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		y := convertAll(c.from, c.to, x)
		var sum float64
		from, to := c.to/8, 3*c.to/8
		for i := from; i < to; i++ {
			d := y[2*i] - float64(math.Float32frombits(binary.LittleEndian.Uint32(b[8*i:])))
			sum += d * d
		}
		e := 10 * math.Log10(sum/float64(to-from))
		t.Logf("%d to %d: %.1f dBFS from sox", c.from, c.to, e)
		if e > -100 {
			t.Errorf("%d to %d: differs from sox by %.1f dBFS RMS", c.from, c.to, e)
		}
		if d := len(b)/8 - len(y)/2; d < -2 || d > 2 {
			t.Errorf("%d to %d: sox gives %d samples more", c.from, c.to, d)
		}
	}
}
