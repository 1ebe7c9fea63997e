package fit

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// What is said of arcs holds against every order of up to eight pieces, with an
// opener, a closer and groups.
func TestArcs(t *testing.T) {
	loose := 0
	for seed := range uint64(seeds(800)) {
		r := rand.New(rand.NewPCG(seed, 14))
		p := Problem{Order: Free, Apart: r.IntN(2)}
		n := 1 + r.IntN(7)
		for range n {
			p.Pieces = append(p.Pieces, Piece{Length: 10, Drive: int64(r.IntN(12) - 3), Group: r.IntN(3)})
		}
		if r.IntN(2) == 0 {
			p.Pieces[r.IntN(n)].Opens = OfSide
		}
		if i := r.IntN(n); r.IntN(2) == 0 && p.Pieces[i].Opens == Nothing {
			p.Pieces[i].Closes = OfAll
		}
		side := Side{Capacity: 1000, Arc: 1 + Arc(r.IntN(5))}
		p.Kinds = []Kind{{Sides: []Side{side}}}
		any, free := int64(-1), int64(-1) // the nearest with all rules and with the ends alone
		permute(run(0, n), 0, func(l []int) {
			off := p.offArc(l, side.Arc)
			q := p
			if q.Apart = 0; q.broken(l, side) > 0 {
				return
			}
			if free < 0 || off < free {
				free = off
			}
			if p.broken(l, side) == 0 && (any < 0 || off < any) {
				any = off
			}
		})
		name := fmt.Sprintf("seed %d, %+v", seed, p)
		least := p.leastArc(run(0, n), side.Arc)
		if least != free {
			t.Fatalf("%s: at least %d, the nearest is %d", name, least, free)
		}
		if any < 0 {
			continue
		}
		a, err := Solve(context.Background(), p)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(a.LeftOut) > 0 {
			continue // apart from groups it is not put on the side
		}
		if a.Score.Arc != any || a.Arcs[0].Within != 0 {
			t.Fatalf("%s: off %d, within %d; the nearest is %d", name, a.Score.Arc, a.Arcs[0].Within, any)
		}
		loose += truth(any > free)
	}
	if loose == 0 {
		t.Error("groups never mattered")
	}
}

// The bound for a level side of many different drives is never above what is
// found, and the exact way for few is as good as every subset.
func TestLevelBound(t *testing.T) {
	for seed := range uint64(seeds(20)) {
		r := rand.New(rand.NewPCG(seed, 15))
		n := 10 + r.IntN(5)
		p := Problem{Order: Free}
		for range n {
			p.Pieces = append(p.Pieces, Piece{Length: 10, Drive: r.Int64N(1000)})
		}
		side := Side{Capacity: 1000, Arc: Level}
		best, _, known := p.bestRun(run(0, n), side)
		order, least, ok := p.level(run(0, n))
		if !known || !ok || p.offArc(best, Level) != least || p.offArc(order, Level) != least {
			t.Fatalf("seed %d: %v %d, %v %d", seed, best, p.offArc(best, Level), order, least)
		}
		for range 8 { // too many for the exact way
			p.Pieces = append(p.Pieces, Piece{Length: 10, Drive: r.Int64N(1000)})
		}
		all := run(0, len(p.Pieces))
		list, ok := p.goodRun(all, side)
		if !ok || !slices.Equal(slices.Sorted(slices.Values(list)), all) {
			t.Fatalf("seed %d: %v", seed, list)
		}
		if off, least := p.offArc(list, Level), p.leastArc(all, Level); off < least || testing.Verbose() && seed < 10 {
			t.Logf("seed %d: %d pieces are off by %d, at least %d", seed, len(all), off, least)
			if off < least {
				t.Fail()
			}
		}
	}
}
