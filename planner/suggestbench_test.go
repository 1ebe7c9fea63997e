package planner

import (
	"context"
	"math/rand/v2"
	"testing"

	"longside/fit"
)

// BenchmarkSuggest is all suggestions for 40 tracks that are a few too many for
// two C90, with ten wishes.
func BenchmarkSuggest(b *testing.B) {
	for name, order := range map[string]fit.Order{"keep": fit.Keep, "near": fit.Near, "free": fit.Free} {
		for over, factor := range map[string]float64{"little": 1.02, "much": 1.25} {
			b.Run(name+"/"+over, func(b *testing.B) {
				rng := rand.New(rand.NewPCG(1, 2))
				var lengths []float64
				var sum float64
				for range 40 {
					lengths = append(lengths, 120+400*rng.Float64())
					sum += lengths[len(lengths)-1] + 4
				}
				for i := range lengths {
					lengths[i] *= factor * 4 * 2646.5 / sum
				}
				m := mix(lengths...)
				for i, w := range []Wish{{Opens: OfMix}, {Side: "B"}, {Side: "2A"}, {Join: true}, {NotThin: true}, {Opens: OfSide}, {Closes: OfSide}, {Reserve: 1}, {Gap: gap(8).Gap}, {Must: true}} {
					m.Items[i*4].Wish = w
					m.Items[i*4].Artist = "x"
				}
				r := request(b, "C90", m)
				r.MaxTapes, r.Order, r.Apart = 2, order, 1
				p, err := Make(context.Background(), r)
				if err != nil {
					b.Fatal(err)
				}
				for b.Loop() {
					Suggest(context.Background(), r, p)
				}
				b.ReportMetric(float64(len(Suggest(context.Background(), r, p))), "suggestions")
			})
		}
	}
}
