package fit

import (
	"context"
	"math/rand/v2"
	"testing"
)

func BenchmarkChooseFrom24(b *testing.B) {
	for b.Loop() {
		for s := range uint64(20) {
			r := rand.New(rand.NewPCG(s, 24))
			p := Problem{Order: Free, Kinds: []Kind{{Sides: []Side{{Capacity: 2_670_000}, {Capacity: 2_670_000}}}}}
			for range 24 {
				p.Pieces = append(p.Pieces, Piece{Length: Millis(60_000 + r.IntN(840_001)), Gap: 3000})
			}
			a, err := Solve(context.Background(), p)
			if err != nil || !a.Proved {
				b.Fatal(err, a)
			}
		}
	}
}
