package planner

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"longside/fit"
)

// Long pieces on many tapes, lengths to the millisecond: no tape too many. Each
// side is cut into four pieces, all but ten seconds of it, so that the fewest tapes
// are known.
func TestNoTapeTooMany(t *testing.T) {
	const tapes, side, gap = 20, 1_760_000, 4_000 // C60, ms
	for seed := range uint64(3) {
		r := rand.New(rand.NewPCG(seed, 43))
		var seconds []float64
		for len(seconds) < 8*tapes {
			left := side - 10_000 - 3*gap
			var cut []float64
			for range 3 {
				v := 300_000 + r.IntN(280_000)
				cut = append(cut, float64(v)/1000)
				left -= v
			}
			if left >= 300_000 && left <= 600_000 {
				seconds = append(seconds, append(cut, float64(left)/1000)...)
			}
		}
		r.Shuffle(len(seconds), func(i, j int) { seconds[i], seconds[j] = seconds[j], seconds[i] })
		q := request(t, "C60", mix(seconds...))
		q.Order, q.MaxTapes = fit.Free, 100
		at := time.Now()
		p, err := Make(context.Background(), q)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%d pieces on %d tapes, at least %d, %v", len(seconds), len(p.Tapes), p.AtLeast, time.Since(at).Round(time.Millisecond))
		if !p.Fits || len(p.Tapes) != tapes || p.AtLeast != tapes {
			t.Errorf("seed %d: fits %v, %d tapes, at least %d; they were cut from %d", seed, p.Fits, len(p.Tapes), p.AtLeast, tapes)
		}
	}
}
