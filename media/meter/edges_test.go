package meter

import (
	"math"
	"math/rand/v2"
	"testing"
)

// wholeEdges are the edges by their definitions, of all samples at once.
func wholeEdges(pcm []float32, channels, rate int) (opens, closes [2]float64) {
	db := func(from, to int) float64 {
		var e float64
		for _, v := range pcm[from*channels : to*channels] {
			e += float64(v) * float64(v)
		}
		return 10 * math.Log10(e/float64((to-from)*channels))
	}
	n := len(pcm) / channels
	ms := rate / 1000
	opens = [2]float64{db(0, min(n, 20*ms)), db(0, min(n, 100*ms)) - db(0, min(n, 5*ms))}
	closes = [2]float64{db(max(0, n-20*ms), n), db(max(0, n-100*ms), n) - db(max(0, n-5*ms), n)}
	return opens, closes
}

// TestOutermost: levels and falls as by their definitions, whatever pieces the sound
// comes in and however short it is.
func TestOutermost(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{500, 4800, 4801, 20_000, 100_003} {
		pcm := make([]float32, 2*n)
		for i := range pcm {
			pcm[i] = float32((0.1 + 0.8*float64(i)/float64(len(pcm))) * (2*r.Float64() - 1))
		}
		opens, closes := wholeEdges(pcm, 2, 48000)
		for _, piece := range []int{1, 7, 4096, 1 << 20} {
			m, err := New(48000, 2)
			if err != nil {
				t.Fatal(err)
			}
			for at := 0; at < len(pcm); at += 2 * piece {
				m.Write(pcm[at:min(len(pcm), at+2*piece)])
			}
			res := m.Result()
			for what, c := range map[string]struct {
				got  Edge
				want [2]float64
				outermost,
				second float32
			}{
				"opens":  {res.Opens, opens, (pcm[0] + pcm[1]) / 2, (pcm[2] + pcm[3]) / 2},
				"closes": {res.Closes, closes, (pcm[2*n-2] + pcm[2*n-1]) / 2, (pcm[2*n-4] + pcm[2*n-3]) / 2},
			} {
				if math.Abs(c.got.Level-c.want[0]) > 1e-9 || math.Abs(c.got.Fall-c.want[1]) > 1e-9 ||
					c.got.Samples[0] != c.outermost || c.got.Samples[1] != c.second {
					t.Errorf("%d frames in pieces of %d: %s at %g, falls %g, from %v; want %v, %g", n, piece, what, c.got.Level, c.got.Fall, c.got.Samples[:2], c.want, c.outermost)
				}
			}
		}
	}
}

// TestSeamOfWaves: a wave that goes on is no surprise, one that jumps is; a track
// too short or silent cannot tell.
func TestSeamOfWaves(t *testing.T) {
	edges := func(f func(i int) float64, n int) (opens, closes Edge) {
		m, err := New(44100, 1)
		if err != nil {
			t.Fatal(err)
		}
		pcm := make([]float32, n)
		for i := range pcm {
			pcm[i] = float32(math.Round(f(i)*32767) / 32768)
		}
		m.Write(pcm)
		res := m.Result()
		return res.Opens, res.Closes
	}
	wave := func(at int) func(int) float64 {
		return func(i int) float64 {
			x := float64(at + i)
			return 0.4*math.Sin(x*0.031) + 0.2*math.Sin(x*0.17+1) + 0.05*math.Sin(x*0.9)
		}
	}
	_, end := edges(wave(0), 30_000)
	goesOn, _ := edges(wave(30_000), 30_000)
	jumps, _ := edges(wave(30_040), 30_000)
	if on, off := Seam(end, goesOn), Seam(end, jumps); on > 3 || off < 20 {
		t.Errorf("goes on %.2f, jumps %.2f", on, off)
	}
	// The prediction itself: within the wave it is off by what 16 bits leave.
	if end.Residual > 3.0/(1<<15) || len(end.Predict) != edgeOrder {
		t.Errorf("%d weights, off by %g", len(end.Predict), end.Residual)
	}
	_, short := edges(wave(0), 50)
	silent, _ := edges(func(int) float64 { return 0 }, 30_000)
	if a, b := Seam(short, goesOn), Seam(end, silent); !math.IsInf(a, 1) || !math.IsInf(b, 1) && b < 20 || math.IsNaN(b) {
		t.Errorf("short %g, silent %g", a, b)
	}
}
