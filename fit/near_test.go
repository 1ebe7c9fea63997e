package fit

import (
	"context"
	"testing"
	"time"
)

func TestNearProbe(t *testing.T) {
	for seed := range uint64(12) {
		p := medium(seed)
		for i := range p.Pieces {
			q := &p.Pieces[i]
			*q = Piece{Length: q.Length, Gap: 3}
		}
		for len(p.Pieces) > 24 {
			p.Pieces = p.Pieces[:24]
		}
		p.Apart = 0
		var total Millis
		for _, q := range p.Pieces {
			total += q.Length + 3
		}
		p.Kinds = []Kind{{Sides: []Side{{Capacity: total/2 + 5}, {Capacity: total/2 + 5}}}}
		p.MaxTapes = 1
		p.MaxSteps = 0
		p.Order = Near
		at := time.Now()
		a, err := Solve(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		t.Log(len(p.Pieces), a.Score, a.Proved, a.Within, time.Since(at))
		if err := p.Check(a); err != nil {
			t.Fatal(err)
		}
	}
}
