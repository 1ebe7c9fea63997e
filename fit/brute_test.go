package fit

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// brute tries every way to lay the pieces on every row of tapes: for each
// piece every side or none, and on each side every order. Rules are left to
// Check, the value to Score; it shares nothing else with the solvers.
func brute(p Problem) (best Answer, any bool) {
	orders := map[string]*run1{}
	for tapes := range max(1, p.MaxTapes) + 1 {
		p.rows(tapes, func(kinds []int) bool {
			sides, _ := p.row(kinds)
			lists := make([][]int, len(sides))
			var place func(i int)
			place = func(i int) {
				if i < len(p.Pieces) {
					place(i + 1)
					for s := range lists {
						lists[s] = append(lists[s], i)
						place(i + 1)
						lists[s] = lists[s][:len(lists[s])-1]
					}
					return
				}
				out := make([][]int, len(lists))
				var fades []Fade
				for s, l := range lists {
					key := fmt.Sprint(l, sides[s])
					if orders[key] == nil {
						orders[key] = bruteRun(p, l, sides[s])
					}
					o := orders[key]
					if !o.ok {
						return
					}
					out[s] = o.list
					fades = append(fades, o.fades...)
				}
				a := p.answer(kinds, out, fades)
				if len(a.Tapes) == len(kinds) && p.Check(a) == nil && (!any || p.Compare(a.Score, best.Score) > 0) {
					best, any = a, true
				}
			}
			place(0)
			return true
		})
	}
	return best, any
}

type run1 struct {
	list  []int
	fades []Fade
	ok    bool
}

// bruteRun is the best order of a side among all orders; faded, where none
// fits, as little as can be over the best of all orders that fit with fading.
func bruteRun(p Problem, set []int, side Side) *run1 {
	var room Millis
	for _, i := range set {
		room += p.Pieces[i].Fade
	}
	// No order is shorter than all of it less the longest gap.
	var least, longest Millis
	for _, i := range set {
		least += p.Pieces[i].Length + p.Pieces[i].Gap
		longest = max(longest, p.Pieces[i].Gap)
	}
	if least-longest > side.Capacity+room {
		return &run1{}
	}
	for _, more := range []Millis{0, room} {
		q := p
		q.Pieces = slices.Clone(p.Pieces)
		for i := range q.Pieces {
			q.Pieces[i].Side, q.Pieces[i].Must = 0, false
		}
		long := side
		long.Capacity += more
		q.Given = nil
		q.Kinds = []Kind{{Sides: []Side{long}}}
		var best run1
		var score Score
		orders := permute
		if p.Order == Keep { // Check takes no other than the given one
			orders = func(l []int, _ int, f func([]int)) { f(l) }
		}
		orders(slices.Clone(set), 0, func(l []int) {
			a := q.answer([]int{0}, [][]int{l}, nil)
			if len(l) > 0 && q.Check(a) != nil {
				return
			}
			a.Score.Blank, a.Score.Moved = Blank{}, 0
			c := 1
			if best.ok && p.Order == Free && more > 0 && least-longest >= q.Used(l) && least-longest < q.Used(best.list) {
				c = 1 // less is faded
			} else if best.ok && p.Order == Free && more > 0 && least-longest < q.Used(l) && least-longest >= q.Used(best.list) {
				c = -1
			} else if best.ok { // of orders as good the one that takes the least tape
				if c = q.Compare(a.Score, score); c == 0 && q.Used(l) < q.Used(best.list) {
					c = 1
				}
			}
			if c > 0 {
				best, score = run1{slices.Clone(l), nil, true}, a.Score
			}
		})
		if !best.ok {
			continue
		}
		give := slices.Clone(set)
		slices.SortStableFunc(give, func(i, j int) int { return int(p.Pieces[j].Fade - p.Pieces[i].Fade) })
		for need := p.Used(best.list) - side.Capacity; need > 0; give = give[1:] {
			by := min(need, p.Pieces[give[0]].Fade)
			best.fades = append(best.fades, Fade{give[0], by})
			need -= by
		}
		return &best
	}
	return &run1{}
}

func permute(l []int, k int, f func([]int)) {
	if k >= len(l) {
		f(l)
		return
	}
	for i := k; i < len(l); i++ {
		l[k], l[i] = l[i], l[k]
		permute(l, k+1, f)
		l[k], l[i] = l[i], l[k]
	}
}

// small makes a seeded problem of up to n pieces, with about so many of the
// rules in a hundred.
func small(seed uint64, n, rules int) Problem {
	r := rand.New(rand.NewPCG(seed, 7))
	odd := func() bool { return r.IntN(100) < rules }
	rare := func() bool { return r.IntN(10_000) < rules*rules }
	unit := []int{1, 1, 10, 1000}[r.IntN(4)]
	p := Problem{Order: Order(r.IntN(3)), Spare: Spare(r.IntN(3)), Aim: Aim(r.IntN(2))}
	if seed%2 == 0 {
		p.MoveWorth = Millis(r.IntN(6) * unit)
	}
	gap := Millis(r.IntN(4) * unit)
	mixed := odd()
	if odd() {
		p.Apart = 1 + r.IntN(3)
	}
	total := Millis(0)
	for range r.IntN(n + 1) {
		q := Piece{Length: Millis((1 + r.IntN(30)) * unit), Gap: gap, Drive: int64(r.IntN(9) - 4)}
		total += q.Length + gap
		if mixed {
			q.Gap = max(-q.Length, Millis(r.IntN(40)-10))
		}
		if odd() {
			q.Reserve = r.IntN(3)
		}
		if odd() {
			q.Group = r.IntN(3)
			if r.IntN(3) == 0 {
				q.Groups = []int{r.IntN(3), r.IntN(3)}
			}
		}
		q.NotThin = odd()
		if odd() {
			q.Fade = min(q.Length-1, Millis(r.IntN(10)*unit))
		}
		if rare() {
			q.Opens = Place(r.IntN(3))
		}
		if rare() {
			q.Closes = Place(r.IntN(3))
		}
		if rare() {
			q.Side = r.IntN(3)
		}
		q.Must = rare()
		if odd() {
			q.Songs = r.IntN(4)
			q.Margin = min(q.Length, Millis(r.IntN(3)*unit))
		}
		p.Pieces = append(p.Pieces, q)
	}
	for range 1 + truth(odd()) {
		var k Kind
		for range 1 + r.IntN(2) {
			side := Side{Capacity: Millis(r.Int64N(int64(total) + 2))}
			if odd() {
				side.ThinFrom = Millis(r.Int64N(int64(side.Capacity) + 2))
			}
			if odd() {
				side.Arc = Arc(r.IntN(6))
			}
			k.Sides = append(k.Sides, side)
		}
		if odd() {
			k.Cost = int64(r.IntN(3))
		}
		if odd() {
			k.Stock = 1 + r.IntN(2)
		}
		p.Kinds = append(p.Kinds, k)
	}
	if odd() {
		p.MaxTapes = 1 + r.IntN(2)
	}
	if odd() { // a tape or two that are there already, perhaps begun
		p.MaxTapes = max(1, p.MaxTapes)
		for range 1 + r.IntN(p.MaxTapes) {
			k := Kind{Stock: 1}
			for range 1 + r.IntN(2) {
				side := Side{Capacity: Millis(r.Int64N(int64(total) + 2))}
				if r.IntN(2) == 0 {
					p.Begun = append(p.Begun, Begun{Groups: []int{r.IntN(3), r.IntN(3)}[:1+r.IntN(2)]})
					side.Begun = len(p.Begun)
				}
				k.Sides = append(k.Sides, side)
			}
			p.Given = append(p.Given, len(p.Kinds))
			p.Kinds = append(p.Kinds, k)
		}
	}
	return p
}

func TestBrute(t *testing.T) {
	none := 0
	for seed := range uint64(seeds(1000)) {
		p := small(seed, 6, []int{0, 15, 40}[seed%3])
		want, any := brute(p)
		got, err := Solve(context.Background(), p)
		if !any {
			if none++; err == nil {
				t.Fatalf("seed %d: there is no answer, Solve gives %v", seed, got)
			}
			continue
		}
		if err != nil {
			t.Fatalf("seed %d: %v\n%+v\n%+v", seed, err, p, want)
		}
		same(t, fmt.Sprint("seed ", seed), p, want, got)
	}
	t.Logf("%d have no answer, %d were not compared", none, unproved)
	if unproved > seeds(1000)/25 {
		t.Errorf("%d are not proved", unproved)
	}
}

// Up to nine pieces, where every way is few enough to look at.
func TestBruteNine(t *testing.T) {
	looked := [10]int{}
	for seed := range uint64(seeds(130)) {
		p := small(seed+1<<20, 9, []int{0, 15, 40}[seed%3])
		n := len(p.Pieces)
		if n < 7 || p.ways() > 300_000 || n > 7 && p.Order != Keep && seed%10 > 0 {
			continue
		}
		looked[n]++
		want, any := brute(p)
		got, err := Solve(context.Background(), p)
		if any != (err == nil) {
			t.Fatalf("seed %d: an answer: %v, Solve: %v\n%+v\n%+v", seed, any, err, p, want)
		}
		if any {
			same(t, fmt.Sprint("seed ", seed), p, want, got)
		}
	}
	t.Logf("cases of 7, 8 and 9 pieces: %v", looked[7:])
}

// ways is how many placings brute looks at.
func (p Problem) ways() int {
	all := 0
	for tapes := range min(max(1, p.MaxTapes), len(p.Pieces)) + 1 {
		p.rows(tapes, func(kinds []int) bool {
			sides, _ := p.row(kinds)
			n := 1
			for range p.Pieces {
				n = min(n*(len(sides)+1), 1<<40)
			}
			all += n
			return true
		})
	}
	return all
}

func unbounded() *effort { return &effort{ctx: context.Background(), left: 1 << 40} }

var unproved int // answers in order Near that were not compared

func same(t *testing.T, name string, p Problem, want, got Answer) {
	t.Helper()
	if err := p.Check(got); err != nil {
		t.Fatalf("%s: %v\n%+v\n%+v", name, err, p, got)
	}
	if p.Order == Near && !got.Proved && p.MoveWorth == 0 {
		// Of orders that swap as many pairs brute takes any.
		for _, a := range []*Answer{&got, &want} {
			a.Score.Moved, a.Score.Blank, a.Score.Stirs = 0, Blank{}, 0
		}
	} else if p.Order == Near && !got.Proved {
		unproved++
		return
	}
	if c := p.Compare(got.Score, want.Score); c != 0 {
		t.Fatalf("%s: compare %d\nproblem %+v\nwant %+v\ngot  %+v", name, c, p, want, got)
	}
}
