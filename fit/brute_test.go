package fit

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// brute tries every way to lay the pieces on the sides of one tape: for each
// piece every side or none, and in each side the orders that the problem
// allows. It shares only the score with the solvers.
func brute(p Problem) Answer {
	var best Answer
	first := true
	for k, kind := range p.Kinds {
		lists := make([][]int, len(kind.Sides))
		var place func(i int)
		place = func(i int) {
			if i == len(p.Pieces) {
				order := make([][]int, len(lists))
				for s, l := range lists {
					o, ok := runningOrder(p, l, kind.Sides[s])
					if !ok {
						return
					}
					order[s] = o
				}
				a := p.answer([]int{k}, order)
				q := p
				q.Kinds = []Kind{{Sides: kind.Sides}}
				if first || p.Compare(a.Score, best.Score) > 0 {
					best, first = a, false
				}
				return
			}
			place(i + 1)
			for s := range lists {
				if p.Order == Keep {
					late := false // is there a piece on a later side already?
					for _, l := range lists[s+1:] {
						late = late || len(l) > 0
					}
					if late {
						continue
					}
				}
				lists[s] = append(lists[s], i)
				place(i + 1)
				lists[s] = lists[s][:len(lists[s])-1]
			}
		}
		place(0)
	}
	return best
}

// runningOrder is the order of the fewest swapped pairs that fits, found among
// all orders that differ in the last piece: only the last gap is given back.
func runningOrder(p Problem, set []int, side Side) ([]int, bool) {
	if p.Used(set) <= side.Capacity {
		return slices.Clone(set), true
	}
	if p.Order == Keep {
		return nil, false
	}
	for k := len(set) - 1; k >= 0; k-- {
		l := append(slices.Delete(slices.Clone(set), k, k+1), set[k])
		if p.Used(l) <= side.Capacity {
			return l, true
		}
	}
	return nil, false
}

// small makes a seeded problem of up to n pieces on one tape.
func small(seed uint64, n int) Problem {
	r := rand.New(rand.NewPCG(seed, 7))
	unit := []int{1, 1, 10, 1000}[r.IntN(4)]
	p := Problem{
		Order: []Order{Keep, Free}[r.IntN(2)],
		Spare: Spare(r.IntN(3)),
		Aim:   Aim(r.IntN(2)),
	}
	gap := Millis(r.IntN(4) * unit)
	total := Millis(0)
	for range r.IntN(n + 1) {
		q := Piece{Length: Millis((1 + r.IntN(30)) * unit), Gap: gap}
		total += q.Length + gap
		p.Pieces = append(p.Pieces, q)
	}
	var k Kind
	for range 1 + r.IntN(2) {
		k.Sides = append(k.Sides, Side{Capacity: Millis(r.Int64N(int64(total) + 2))})
	}
	p.Kinds = []Kind{k}
	return p
}

func TestBrute(t *testing.T) {
	for seed := range uint64(4000) {
		p := small(seed, 7)
		r := rand.New(rand.NewPCG(seed, 8))
		if seed%3 == 0 { // gaps of all sorts, overlaps among them
			for i, q := range p.Pieces {
				p.Pieces[i].Gap = max(-q.Length, Millis(r.IntN(40)-10))
			}
		}
		if seed%4 == 0 {
			for i := range p.Pieces {
				p.Pieces[i].Reserve = r.IntN(3)
			}
		}
		if seed%5 == 0 {
			p.Kinds = append(p.Kinds, Kind{Sides: []Side{{Millis(r.IntN(60))}, {Millis(r.IntN(60))}}, Cost: int64(r.IntN(3))})
		}
		same(t, fmt.Sprint("seed ", seed), p, brute(p), solve(t, p))
	}
}

// The methods for longer lists agree with the look at every subset.
func TestMethodsAgree(t *testing.T) {
	proved := 0
	for seed := range uint64(4000) {
		p := small(seed, 9)
		sides := p.Kinds[0].Sides
		want := p.answer([]int{0}, bySubsets(unbounded(), p, sides).sides)
		method := anyOrder
		if p.Order == Keep {
			method = inOrder
		}
		r := method(unbounded(), p, sides)
		got := p.answer([]int{0}, r.sides)
		got.Proved = r.proved
		same(t, fmt.Sprint("seed ", seed), p, want, got)
		if r.proved {
			proved++
		}
	}
	if proved < 4000 {
		t.Errorf("%d of 4000 proved", proved)
	}
}

func unbounded() *effort { return &effort{ctx: context.Background(), left: 1 << 40} }

func solve(t *testing.T, p Problem) Answer {
	t.Helper()
	a, err := Solve(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func same(t *testing.T, name string, p Problem, want, got Answer) {
	t.Helper()
	if got.Score.Kept == nil {
		got.Score = p.Score(got)
	}
	if err := p.Check(got); err != nil {
		t.Fatalf("%s: %v\n%+v\n%+v", name, err, p, got)
	}
	if c := p.Compare(got.Score, want.Score); c != 0 {
		t.Fatalf("%s: compare %d\nproblem %+v\nwant %+v\ngot  %+v", name, c, p, want, got)
	}
}
