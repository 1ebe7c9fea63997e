package verify_test

import (
	"context"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"longside/media/decode"
	"longside/media/programme"
	"longside/media/verify"
)

// made is the test programme as its file holds it, written by package programme.
var made = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "longside-verify-")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "test.wav")
	cues, long, err := verify.Programme(-12)
	if err != nil {
		return "", err
	}
	o := programme.Options{Rate: 44100, Bits: 16}
	l, err := programme.Lay(context.Background(), cues, long, o)
	if err != nil {
		return "", err
	}
	f, err := os.Create(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	_, err = l.Write(context.Background(), f, programme.Text{}, o)
	return path, err
})

func TestMain(m *testing.M) {
	code := m.Run()
	if path, err := made(); err == nil {
		os.RemoveAll(filepath.Dir(path))
	}
	os.Exit(code)
}

func file(t *testing.T) string {
	t.Helper()
	if underRace {
		t.Skip("a capture of minutes takes the race detector too long")
	}
	path, err := made()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// samples are the file's.
func samples(t *testing.T, path string) [][]float32 {
	t.Helper()
	s, err := decode.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	x := make([][]float32, s.Channels)
	pcm := make([]float32, 1<<16)
	for {
		n, err := s.Read(pcm)
		for i := range n {
			for c := range x {
				x[c] = append(x[c], pcm[i*s.Channels+c])
			}
		}
		if errors.Is(err, io.EOF) {
			return x
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func measure(t *testing.T, rate int, x [][]float32) verify.Findings {
	t.Helper()
	f, err := verify.Test(context.Background(), captured(rate, x), nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The file itself is a perfect capture: nothing is off, nothing drops out,
// nothing echoes.
func TestCleanCapture(t *testing.T) {
	path := file(t)
	t.Parallel()
	c, err := verify.File(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := verify.Test(context.Background(), c, nil)
	if err != nil {
		t.Fatal(err)
	}
	small := func(what string, f verify.Figure, most float64) {
		t.Helper()
		if math.Abs(f.Value) > most {
			t.Errorf("%s: %.5f", what, f.Value)
		}
	}
	small("speed", f.Speed, 1e-4)
	small("flutter", *f.Flutter, 1e-3)
	small("balance", *f.Balance, 0.01)
	small("azimuth", *f.Azimuth, 0.1)
	for _, side := range f.Response {
		for _, r := range side {
			small("response", r.Figure, 0.02)
		}
	}
	for _, z := range f.ZeroDBFS {
		if math.Abs(z+12) > 0.01 {
			t.Errorf("0 dB is %.3f dBFS", z)
		}
	}
	if len(f.DropOuts) > 0 || len(f.Echoes) > 0 || f.Polarity != "kept" || f.Swapped || f.Clipped > 0 || f.AutoLevel || f.NoiseReduction != "none seen" || f.MOLBound[0] != "over" {
		t.Errorf("found what is not there: %+v", f)
	}
	if f.Watched < 100 {
		t.Errorf("only %.0f s were watched for drop-outs", f.Watched)
	}
	if len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "digital silence") {
		t.Errorf("notes: %q", f.Notes)
	}
}

// What is no capture, or not a whole one, is refused in one line that says so.
func TestNoCapture(t *testing.T) {
	whole := samples(t, file(t))
	t.Parallel()
	rng := rand.New(rand.NewPCG(1, 1))
	noise := make([]float32, 90*44100)
	tone := make([]float32, 90*44100)
	for i := range noise {
		noise[i] = float32(0.1 * rng.NormFloat64())
		tone[i] = float32(0.3 * math.Sin(2*math.Pi*3150/44100*float64(i)))
	}
	part := func(from, to float64) [][]float32 {
		return [][]float32{whole[0][int(from*44100):int(to*44100)], whole[1][int(from*44100):int(to*44100)]}
	}
	for _, c := range []struct {
		name string
		x    [][]float32
		says string
	}{
		{"noise", [][]float32{noise}, "the test programme is not in it"},
		{"silence", [][]float32{make([]float32, 90*44100)}, "the test programme is not in it"},
		{"another minute of 3150 Hz", [][]float32{tone[:62*44100]}, "the test programme is not in it"},
		{"too long a tone", [][]float32{tone}, "the test programme is not in it"},
		{"a beginning alone", part(0, 100), "the test programme is not in it"},
		{"no beginning", part(20, 191), "beginning is missing"},
		{"no end", part(0, 175), "end is missing"},
		{"nothing", [][]float32{{}}, "the test programme is not in it"},
	} {
		_, err := verify.Test(context.Background(), captured(44100, c.x), nil)
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	bad := captured(8000, [][]float32{noise})
	if _, err := verify.Test(context.Background(), bad, nil); err == nil {
		t.Error("8000 Hz passes")
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := verify.Test(ctx, captured(44100, whole), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// Faults of cables and levels are recognised and said.
func TestFaultyCaptures(t *testing.T) {
	whole := samples(t, file(t))
	t.Parallel()
	change := func(f func(l, r float32) (float32, float32)) [][]float32 {
		x := [][]float32{make([]float32, len(whole[0])), make([]float32, len(whole[0]))}
		for i := range x[0] {
			x[0][i], x[1][i] = f(whole[0][i], whole[1][i])
		}
		return x
	}
	mono := change(func(l, r float32) (float32, float32) { return (l + r) / 2, (l + r) / 2 })
	if f := measure(t, 44100, mono); !f.Alike || len(f.Crosstalk) > 0 || f.Azimuth != nil {
		t.Errorf("mono on both channels: %+v", f)
	}
	if f := measure(t, 44100, mono[:1]); f.Channels != 1 || f.Balance != nil || len(f.Response) != 1 || f.Flutter == nil {
		t.Errorf("one channel: %+v", f)
	}
	if f := measure(t, 44100, change(func(l, r float32) (float32, float32) { return l, r * 1e-4 })); f.OneSided != "right" || f.MOL[1] != nil {
		t.Errorf("right missing: %q", f.OneSided)
	}
	if f := measure(t, 44100, change(func(l, r float32) (float32, float32) { return r, l * 1e-4 })); f.OneSided != "left" || !f.Swapped {
		t.Errorf("left missing, right in its place: %q %v", f.OneSided, f.Swapped)
	}
	limit := func(v float32) float32 { return min(max(3*v, -1), 1) }
	if f := measure(t, 44100, change(func(l, r float32) (float32, float32) { return limit(l), limit(r) })); f.Clipped == 0 {
		t.Error("clipping is not seen")
	}
}

// An automatic level and a noise reduction in the deck are recognised.
func TestAutomaticsAndNoiseReduction(t *testing.T) {
	if underRace {
		t.Skip("a modelled deck takes the race detector too long")
	}
	t.Parallel()
	for _, c := range []struct {
		automatic bool
		reduction string
		want      string
	}{{false, "both", "on"}, {false, "record", "on one side"}, {true, "", "not judged"}} {
		d := anyDeck(3)
		d.rate, d.before, d.after = 44100, 1, 1
		d.echoes, d.dropOuts, d.wobbles = nil, nil, nil
		for i := range d.side {
			d.side[i].noise = 0.004
		}
		d.automatic, d.reduction = c.automatic, c.reduction
		cues, long, _ := verify.Programme(d.zero)
		f := measure(t, d.rate, d.play(cues, long.Seconds()))
		if f.NoiseReduction != c.want || f.AutoLevel != c.automatic {
			t.Errorf("%+v: noise reduction %q, automatic level %v; notes %q", c, f.NoiseReduction, f.AutoLevel, f.Notes)
		}
	}
}

// Second opinion: sox changes speed, level, channels, polarity and treble of the
// file in its own way.
func TestAgainstSox(t *testing.T) {
	path := file(t)
	if _, err := exec.LookPath("sox"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("sox is missing")
		}
		t.Skip("sox is not installed: no second opinion on levels and filters")
	}
	t.Parallel()
	out := filepath.Join(t.TempDir(), "out.wav")
	cmd := exec.Command("sox", "-D", path, "-b", "24", "-r", "48000", out, "gain", "-9", "speed", "1.0123", "lowpass", "-1", "8000", "remix", "2v-1", "1v-0.5", "pad", "3", "1")
	if b, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, b)
	}
	c, err := verify.File(out)
	if err != nil {
		t.Fatal(err)
	}
	f, err := verify.Test(context.Background(), c, nil)
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want, most float64) {
		t.Helper()
		if math.Abs(got-want) > most {
			t.Errorf("%s: %.4f, sox made it %.4f", what, got, want)
		}
	}
	near("speed", f.Speed.Value, 1.23, 0.002)
	near("start", f.StartS, 3, 0.001)
	near("level", f.ZeroDBFS[0], -21-6.02, 0.02) // left came to the right, at half
	near("balance", f.Balance.Value, -6.02, 0.02)
	if !f.Swapped || f.Polarity != "inverted" || f.Inverted {
		t.Errorf("swapped %v, polarity %s, one inverted %v", f.Swapped, f.Polarity, f.Inverted)
	}
	// A single pole at 8 kHz: y = (1-k) x + k y1, at the rate that speed has made.
	const rate = 44100 * 1.0123
	pole := func(hz float64) float64 {
		k := math.Exp(-2 * math.Pi * 8000 / rate)
		s, c := math.Sincos(2 * math.Pi * hz / rate)
		return -20 * math.Log10(math.Hypot(1-k*c, k*s)/(1-k))
	}
	for _, r := range f.Response[0] {
		near("response", r.Value, pole(r.Hz*1.0123)-pole(400*1.0123), 0.03)
	}
}
