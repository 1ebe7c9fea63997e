package fit

import (
	"context"
	"errors"
	"testing"
	"time"

	"math/rand/v2"
)

// medium makes a seeded problem too long for bySets, with rules.
func medium(seed uint64) Problem {
	r := rand.New(rand.NewPCG(seed, 9))
	p := small(seed, 6, 25)
	p.Given, p.Begun = nil, nil
	unit := Millis(1 + r.IntN(3)*500)
	total := Millis(0)
	for range 12 + r.IntN(30) {
		q := Piece{Length: Millis(1+r.IntN(300)) * unit, Gap: 3 * unit, Group: r.IntN(6), Drive: int64(r.IntN(100))}
		switch r.IntN(12) {
		case 0:
			q.Reserve = 1 + r.IntN(2)
		case 1:
			q.NotThin = true
		case 2:
			q.Fade = q.Length / 10
		case 3:
			q.Side = 1 + r.IntN(2)
		case 4:
			q.Must = true
		}
		total += q.Length + q.Gap
		p.Pieces = append(p.Pieces, q)
	}
	p.Kinds = []Kind{{Sides: []Side{{Capacity: total / Millis(2+r.IntN(4))}, {Capacity: total / Millis(2+r.IntN(4)), Arc: Arc(r.IntN(6))}}}}
	p.Kinds[0].Sides[1].ThinFrom = p.Kinds[0].Sides[1].Capacity * 9 / 10
	p.MaxTapes = 1 + r.IntN(3)
	p.MaxSteps = 20_000
	return p
}

// Answers to longer lists keep every rule.
func TestRulesOfLongLists(t *testing.T) {
	none := 0
	for seed := range uint64(60) {
		p := medium(seed)
		at := time.Now()
		a, err := Solve(context.Background(), p)
		if d := time.Since(at); d > 300*time.Millisecond {
			t.Log("slow", seed, d, p.Order, len(p.Pieces), p.MaxTapes)
		}
		var c *Contradiction
		if errors.As(err, &c) || errors.Is(err, ErrNoneFound) {
			none++
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Check(a); err != nil {
			t.Fatalf("seed %d: %v\n%+v\n%+v", seed, err, p, a)
		}
	}
	t.Logf("%d of 60 without an answer", none)
}
