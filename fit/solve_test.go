package fit

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"longside/testdata/falkenauer"
)

// c90 is a tape of two sides of 2,670 s: 45 minutes less 1 % and a little.
func c90() Kind { return Kind{Sides: []Side{{Capacity: 2_670_000}, {Capacity: 2_670_000}}} }

// wide makes n tracks of 60 to 900 s with gaps of 3 s.
func wide(seed uint64, n int) []Piece {
	r := rand.New(rand.NewPCG(seed, 24))
	list := make([]Piece, n)
	for i := range list {
		list[i] = Piece{Length: Millis(60_000 + r.IntN(840_001)), Gap: 3000}
	}
	return list
}

// usual makes n tracks of normal(228, 62) s, cut to 60 to 1,500 s.
func usual(seed uint64, n int) []Piece {
	r := rand.New(rand.NewPCG(seed, 25))
	list := make([]Piece, n)
	for i := range list {
		list[i] = Piece{Length: Millis(1000 * min(1500, max(60, 228+62*r.NormFloat64()))), Gap: 3000}
	}
	return list
}

func BenchmarkChooseFrom24(b *testing.B) {
	for seed := range uint64(5) {
		p := Problem{Order: Free, Kinds: []Kind{c90()}, Pieces: wide(seed, 24)}
		b.Run(fmt.Sprint(seed), func(b *testing.B) {
			for b.Loop() {
				if a, err := Solve(b.Context(), p); err != nil || !a.Proved {
					b.Fatal(err, a.Proved)
				}
			}
		})
	}
}

func BenchmarkSides(b *testing.B) {
	for _, c := range []struct {
		order    Order
		n, tapes int
	}{
		{Free, 60, 1}, {Free, 60, 2}, {Free, 100, 3}, {Free, 300, 10}, {Free, 1000, 100}, {Free, 10_000, 1000},
		{Keep, 60, 1}, {Keep, 60, 2}, {Keep, 100, 3}, {Keep, 300, 10}, {Keep, 1000, 20}, {Keep, 1000, 100}, {Keep, 10_000, 100}, {Keep, 10_000, 1000},
		{Near, 60, 1}, {Near, 60, 2},
	} {
		for _, aim := range []Aim{MostSongs, MostTime} {
			p := Problem{Order: c.order, Aim: aim, Kinds: []Kind{c90()}, Pieces: usual(1, c.n), MaxTapes: c.tapes}
			name := fmt.Sprintf("%s/%s/%dto%d", [...]string{"songs", "time"}[aim], [...]string{"keep", "near", "free"}[c.order], c.n, c.tapes)
			b.Run(name, func(b *testing.B) {
				var last Answer
				for b.Loop() {
					a, err := Solve(b.Context(), p)
					if err != nil {
						b.Fatal(err)
					}
					last = a
				}
				b.ReportMetric(float64(len(last.Tapes)-last.AtLeast), "tapes-over")
				b.ReportMetric(float64(last.SongsWithin), "songs-within")
				b.ReportMetric(float64(last.Within), "ms-within")
			})
		}
	}
}

// A thousand tracks under twenty rules.
func BenchmarkRules(b *testing.B) {
	p := ruled()
	for b.Loop() {
		a, err := Solve(b.Context(), p)
		if err != nil {
			b.Fatal(err)
		}
		if err := p.Check(a); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(a.LeftOut)), "left-out")
		b.ReportMetric(float64(len(a.Tapes)-a.AtLeast), "tapes-over")
	}
}

func ruled() Problem {
	p := Problem{Order: Free, Kinds: []Kind{c90()}, Pieces: usual(2, 1000), MaxTapes: 100, Apart: 2}
	for k := range 4 { // twenty rules, and ten groups kept apart
		p.Pieces[10*k].Opens = OfSide
		p.Pieces[10*k+1].Closes = OfSide
		p.Pieces[10*k+2].NotThin = true
		p.Pieces[10*k+3].Side = 2*k + 1
		p.Pieces[10*k+4].Must = true
	}
	for i := range p.Pieces {
		if i%10 == 5 {
			p.Pieces[i].Group = 1 + i/10%10
		}
	}
	p.Kinds[0].Sides[0].ThinFrom = 2_400_000
	p.Kinds[0].Sides[1].ThinFrom = 2_400_000
	return p
}

// Choosing from 24 and choosing in the given order are proved; what is asked of
// longer lists in any order is kept to: within a second of the bound.
func TestWithin(t *testing.T) {
	for _, c := range []struct {
		name   string
		pieces []Piece
		tapes  int
		within Millis
	}{
		{"24", wide(1, 24), 1, 0},
		{"60 to 4 sides", usual(1, 60), 2, 1000},
		{"100 to 6 sides", usual(1, 100), 3, 1000},
		{"300 to 20 sides", usual(1, 300), 10, 1000},
	} {
		for _, order := range []Order{Free, Keep} {
			p := Problem{Order: order, Kinds: []Kind{c90()}, Pieces: c.pieces, MaxTapes: c.tapes}
			a, err := Solve(t.Context(), p)
			if err != nil || p.Check(a) != nil {
				t.Fatal(err, p.Check(a))
			}
			if a.Within > c.within || (c.within == 0 || order == Keep) && !a.Proved {
				t.Errorf("%s: order %d, within %d ms, proved %v", c.name, order, a.Within, a.Proved)
			}
		}
	}
}

// A list far longer than there is room for is thinned out first.
func TestThinned(t *testing.T) {
	for n, within := range map[int]Millis{1000: 1000, 10_000: 5000} {
		for _, aim := range []Aim{MostSongs, MostTime} {
			p := Problem{Order: Keep, Aim: aim, Kinds: []Kind{c90()}, Pieces: usual(1, n)}
			a, err := Solve(t.Context(), p)
			if err != nil || p.Check(a) != nil || aim == MostTime && a.Within > within || aim == MostSongs && a.SongsWithin > 1 {
				t.Errorf("%d pieces, aim %d: %v, %v, within %d songs, %d ms", n, aim, err, p.Check(a), a.SongsWithin, a.Within)
			}
		}
	}
}

// The methods for long lists never say proved of what is not best, and their
// bounds hold: every subset, looked at, tells.
func TestLongAgrees(t *testing.T) {
	proved, all := 0, 0
	for seed := range uint64(seeds(1000)) {
		agrees(t, seed, small(seed, 9, []int{0, 0, 20}[seed%3]), &proved, &all)
	}
	t.Logf("%d of %d proved", proved, all)
}

// The same for one tape and a few pieces bound to a place.
func TestPlacesAgree(t *testing.T) {
	proved, all := 0, 0
	for seed := range uint64(seeds(1000)) {
		p := small(seed+1<<21, 9, 0)
		r := rand.New(rand.NewPCG(seed, 11))
		for range min(len(p.Pieces), r.IntN(3)) {
			switch q := &p.Pieces[r.IntN(len(p.Pieces))]; r.IntN(6) {
			case 0:
				q.Opens, q.Must = OfAll, true
			case 1:
				q.Closes, q.Must = OfAll, true
			case 2:
				q.Opens = Place(r.IntN(3))
			case 3:
				q.Closes = Place(r.IntN(3))
			case 4:
				q.Must = true
			case 5:
				q.Side = 1 + r.IntN(2)
			}
		}
		agrees(t, seed, p, &proved, &all)
	}
	t.Logf("%d of %d proved", proved, all)
}

// The same for the given order alone, on up to six sides, most of it over-full.
func TestKeepAgrees(t *testing.T) {
	proved, all := 0, 0
	for seed := range uint64(seeds(1500)) {
		r := rand.New(rand.NewPCG(seed, 12))
		p := small(seed+1<<22, 9, []int{0, 10, 30}[seed%3])
		p.Order, p.MaxTapes = Keep, 1+r.IntN(3)
		for k := range p.Kinds {
			for s := range p.Kinds[k].Sides {
				p.Kinds[k].Sides[s].Capacity /= Millis(1 + r.IntN(4))
			}
		}
		agrees(t, seed, p, &proved, &all)
	}
	t.Logf("%d of %d proved", proved, all)
}

// The same for any order and gaps that differ; on two sides all of what can be
// kept is found.
func TestGapsAgree(t *testing.T) {
	proved, all, short := 0, 0, 0
	for seed := range uint64(seeds(120)) {
		r := rand.New(rand.NewPCG(seed, 16))
		p := Problem{Order: Free, Aim: Aim(r.IntN(2)), MaxTapes: 1 + r.IntN(2)}
		total := Millis(0)
		for range 3 + r.IntN(6) {
			q := Piece{Length: 12 + Millis(r.IntN(60)), Gap: []Millis{3, 3, 0, -4, 10}[r.IntN(5)]}
			if r.IntN(12) == 0 {
				q.Must = true
			}
			if r.IntN(12) == 0 {
				q.Side = 1 + r.IntN(2)
			}
			total += q.Length + q.Gap
			p.Pieces = append(p.Pieces, q)
		}
		share := total * Millis(4+r.IntN(5)) / 10
		p.Kinds = []Kind{{Sides: []Side{{Capacity: share / 2}, {Capacity: share - share/2 - Millis(r.IntN(5))}}}}
		agrees(t, seed, p, &proved, &all)
		want, ok := bySets(unbounded(), &p)
		got, found := long(&effort{ctx: t.Context(), left: defaultSteps}, &p)
		p.sayWithin(&got)
		if ok && found && p.MaxTapes == 1 && p.Aim.compare(want.Score.Wanted, got.Score.Wanted) > 0 {
			short++
			if got.Within == 0 && got.SongsWithin == 0 {
				t.Fatalf("seed %d: %+v\nwant %+v\ngot  %+v", seed, p, want, got)
			}
		}
	}
	t.Logf("%d of %d proved, %d keep less than can be", proved, all, short)
	if short > all/50 {
		t.Errorf("%d of %d keep less than can be", short, all)
	}
}

// The same for order Near on lists that fit, or nearly, in another order.
func TestNearAgrees(t *testing.T) {
	proved, all := 0, 0
	for seed := range uint64(seeds(250)) {
		r := rand.New(rand.NewPCG(seed, 13))
		p := Problem{Order: Near, Aim: Aim(r.IntN(2)), Spare: Spare(r.IntN(3)), MoveWorth: Millis(r.IntN(20)), MaxTapes: 1 + r.IntN(2)}
		total := Millis(0)
		for range 6 + r.IntN(3) {
			q := Piece{Length: 5 + Millis(r.IntN(30)), Gap: 1}
			total += q.Length + 1
			p.Pieces = append(p.Pieces, q)
		}
		m := Millis(2 * p.MaxTapes)
		side := Side{Capacity: total/m + Millis(r.IntN(6))}
		p.Kinds = []Kind{{Sides: []Side{side, side}}}
		agrees(t, seed, p, &proved, &all)
	}
	t.Logf("%d of %d proved, in %d at least two moved", proved, all, twoMoved)
	if twoMoved == 0 {
		t.Error("none of them is known to need two moves")
	}
}

var twoMoved int // answers that say so

// agrees holds what long says of a short list against every subset.
func agrees(t *testing.T, seed uint64, p Problem, proved, all *int) {
	t.Helper()
	p.MaxSteps = 20_000
	if len(p.Pieces) == 0 {
		return
	}
	want, ok := bySets(unbounded(), &p)
	if !ok {
		return
	}
	got, ok := long(&effort{ctx: context.Background(), left: p.MaxSteps}, &p)
	if !ok {
		return // it may miss one where pieces must be placed
	}
	*all++
	p.sayWithin(&got)
	if err := p.Check(got); err != nil {
		t.Fatalf("seed %d: %v\n%+v\n%+v", seed, err, p, got)
	}
	x, y := got.Score, want.Score
	x.Arc, y.Arc, x.Stirs, y.Stirs = 0, 0, 0, 0
	if c := p.Compare(x, y); c > 0 && want.Proved || got.Proved && c != 0 {
		t.Fatalf("seed %d: compare %d\nproblem %+v\nwant %+v\ngot  %+v", seed, c, p, want, got)
	}
	if y.Wanted.Time > x.Wanted.Time+got.Within || y.Wanted.Songs > x.Wanted.Songs+got.SongsWithin {
		t.Fatalf("seed %d: within %d\nproblem %+v\nwant %+v\ngot  %+v", seed, got.Within, p, want, got)
	}
	if x.Wanted == y.Wanted && got.AtLeast > len(want.Tapes) {
		t.Fatalf("seed %d: at least %d\nproblem %+v\nwant %+v\ngot  %+v", seed, got.AtLeast, p, want, got)
	}
	if x.Wanted == y.Wanted && x.Tapes == y.Tapes && got.MovedAtLeast > y.Moved {
		t.Fatalf("seed %d: at least %d moved\nproblem %+v\nwant %+v\ngot  %+v", seed, got.MovedAtLeast, p, want, got)
	}
	if got.MovedAtLeast > 1 {
		twoMoved++
	}
	if got.Proved {
		*proved++
	}
}

// Falkenauer's bins by way of Solve, on tapes of one side.
func TestFalkenauerTapes(t *testing.T) {
	for k, f := range falkenauer.Read(t) {
		if k%16 != 0 {
			continue
		}
		p := Problem{Order: Free, MaxTapes: len(f.Sizes), Kinds: []Kind{{Sides: []Side{{Capacity: Millis(f.Capacity)}}}}, MaxSteps: 200_000}
		for _, v := range f.Sizes {
			p.Pieces = append(p.Pieces, Piece{Length: Millis(v)})
		}
		a, err := Solve(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Check(a); err != nil {
			t.Fatal(err)
		}
		if len(a.Tapes) != f.Fewest || a.AtLeast != f.Fewest {
			t.Errorf("%s: %d tapes, at least %d; the fewest are %d", f.Name, len(a.Tapes), a.AtLeast, f.Fewest)
		}
	}
}

// The same problem has the same answer, however often it is asked.
func TestSameEveryTime(t *testing.T) {
	for _, o := range []Order{Keep, Near, Free} {
		p := Problem{Order: o, Kinds: []Kind{c90()}, Pieces: usual(3, 50), MaxTapes: 2, MaxSteps: 50_000}
		a, _ := Solve(t.Context(), p)
		b, _ := Solve(t.Context(), p)
		if fmt.Sprintf("%+v", a) != fmt.Sprintf("%+v", b) {
			t.Errorf("order %d: %+v\n%+v", o, a, b)
		}
	}
}

// An answer that the context cut short is sound and says so.
func TestCut(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, o := range []Order{Keep, Near, Free} {
		p := Problem{Order: o, Kinds: []Kind{c90()}, Pieces: usual(4, 200), MaxTapes: 3}
		a, err := Solve(ctx, p)
		if err != nil || p.Check(a) != nil || !a.Cut || a.Proved {
			t.Errorf("order %d: %v, %v, cut %v, proved %v", o, err, p.Check(a), a.Cut, a.Proved)
		}
	}
}

// More room never keeps less, where answers are proved.
func TestMoreRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Problem{Order: rapid.SampledFrom([]Order{Keep, Free}).Draw(t, "order"), Aim: rapid.SampledFrom([]Aim{MostSongs, MostTime}).Draw(t, "aim")}
		for _, l := range rapid.SliceOfN(rapid.IntRange(1, 500), 1, 14).Draw(t, "lengths") {
			p.Pieces = append(p.Pieces, Piece{Length: Millis(l), Gap: 3})
		}
		c := Millis(rapid.IntRange(0, 3000).Draw(t, "capacity"))
		more := c + Millis(rapid.IntRange(0, 300).Draw(t, "more"))
		kept := func(c Millis) Share {
			p.Kinds = []Kind{{Sides: []Side{{Capacity: c}, {Capacity: c}}}}
			a, err := Solve(context.Background(), p)
			if err != nil {
				t.Fatal(err)
			}
			if err := p.Check(a); err != nil {
				t.Fatal(err)
			}
			if !a.Proved {
				t.Skip("not proved")
			}
			return a.Score.Wanted
		}
		if x, y := kept(c), kept(more); p.Aim.compare(x, y) > 0 {
			t.Fatalf("%v kept with %d, %v with %d", x, c, y, more)
		}
	})
}

func TestContradictions(t *testing.T) {
	piece := func(f func(*Piece)) Piece {
		q := Piece{Length: 10, Must: true}
		f(&q)
		return q
	}
	open := piece(func(q *Piece) { q.Opens, q.Side = OfSide, 1 })
	all := piece(func(q *Piece) { q.Opens = OfAll })
	for _, c := range []struct {
		name  string
		order Order
		list  []Piece
		want  []RuleKind
	}{
		{"two open one side", Free, []Piece{open, open}, []RuleKind{OpensSide, PinnedSide}},
		{"two open everything", Free, []Piece{all, all}, []RuleKind{OpensAll}},
		{"longer than a side", Free, []Piece{{Length: 101, Must: true}}, []RuleKind{Room}},
		{"a side that is not there", Free, []Piece{piece(func(q *Piece) { q.Side = 3 })}, []RuleKind{PinnedSide, TapeCount}},
		{"against the order", Keep, []Piece{piece(func(q *Piece) { q.Side = 2 }), piece(func(q *Piece) { q.Side = 1 })}, []RuleKind{PinnedSide, GivenOrder}},
		{"opener not first", Keep, []Piece{piece(func(q *Piece) { q.Side = 1 }), open}, []RuleKind{OpensSide, PinnedSide}},
		{"fits", Free, []Piece{open, piece(func(q *Piece) { q.Closes = OfAll })}, nil},
	} {
		p := Problem{Order: c.order, Pieces: c.list, Kinds: []Kind{{Sides: []Side{{Capacity: 100}, {Capacity: 100}}}}}
		_, err := Solve(t.Context(), p)
		var x *Contradiction
		if !errors.As(err, &x) {
			if c.want != nil || err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		for _, k := range []RuleKind{x.Rule.What, x.Against.What} {
			if !slices.Contains(append(c.want, MustPlace), k) {
				t.Errorf("%s: %v", c.name, err)
			}
		}
	}
}

func TestHostile(t *testing.T) {
	ok := []Side{{Capacity: 100}}
	for name, p := range map[string]Problem{
		"no kind":           {},
		"no side":           {Kinds: []Kind{{}}},
		"negative length":   {Kinds: []Kind{{Sides: ok}}, Pieces: []Piece{{Length: -1}}},
		"no length":         {Kinds: []Kind{{Sides: ok}}, Pieces: []Piece{{}}},
		"huge length":       {Kinds: []Kind{{Sides: ok}}, Pieces: []Piece{{Length: 1 << 62}}},
		"overlap too long":  {Kinds: []Kind{{Sides: ok}}, Pieces: []Piece{{Length: 5, Gap: -6}}},
		"huge gap":          {Kinds: []Kind{{Sides: ok}}, Pieces: []Piece{{Length: 5, Gap: 1 << 60}}},
		"negative capacity": {Kinds: []Kind{{Sides: []Side{{Capacity: -1}}}}},
		"huge capacity":     {Kinds: []Kind{{Sides: []Side{{Capacity: 1 << 62}}}}},
		"negative stock":    {Kinds: []Kind{{Sides: ok, Stock: -1}}},
		"negative tapes":    {Kinds: []Kind{{Sides: ok}}, MaxTapes: -1},
		"unknown order":     {Kinds: []Kind{{Sides: ok}}, Order: 9},
		"fades away":        {Kinds: []Kind{{Sides: ok}}, Pieces: []Piece{{Length: 5, Fade: 5}}},
		"too many":          {Kinds: []Kind{{Sides: ok}}, Pieces: make([]Piece, MaxPieces+1)},
	} {
		if a, err := Solve(t.Context(), p); err == nil {
			t.Errorf("%s: %+v", name, a)
		}
	}
	for name, p := range map[string]Problem{
		"nothing":          {Kinds: []Kind{{Sides: ok}}},
		"no room":          {Kinds: []Kind{{Sides: []Side{{}}}}, Pieces: usual(1, 30)},
		"all of a day":     {Kinds: []Kind{{Sides: []Side{{Capacity: Longest}, {Capacity: Longest}}}}, Pieces: usual(1, 100), Order: Free},
		"one millisecond":  {Kinds: []Kind{c90()}, Pieces: slices.Repeat([]Piece{{Length: 1}}, 5000), Order: Free},
		"all the same":     {Kinds: []Kind{c90()}, Pieces: slices.Repeat([]Piece{{Length: 200_000, Gap: 3000}}, 40), Order: Free},
		"all longest":      {Kinds: []Kind{c90()}, Pieces: slices.Repeat([]Piece{{Length: Longest, Gap: Longest}}, 40), Order: Free, MaxTapes: 9},
		"all overlap":      {Kinds: []Kind{c90()}, Pieces: slices.Repeat([]Piece{{Length: 200_000, Gap: -200_000}}, 40), Order: Free},
		"kinds and stocks": {Kinds: slices.Repeat([]Kind{{Sides: c90().Sides, Stock: 1, Cost: 5}}, 30), Pieces: usual(1, 300), Order: Free, MaxTapes: 30},
	} {
		for _, o := range []Order{Keep, Near, Free} {
			p.Order = o
			p.MaxSteps = 30_000
			a, err := Solve(t.Context(), p)
			if err != nil {
				t.Errorf("%s: %v", name, err)
			} else if err := p.Check(a); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// Whatever the numbers, an answer keeps every rule.
func FuzzSolve(f *testing.F) {
	for seed := range uint64(8) {
		f.Add(seed, uint8(20), []byte{10, 20, 30, 40})
	}
	f.Fuzz(func(t *testing.T, seed uint64, rules uint8, lengths []byte) {
		p := small(seed, 4, int(rules%101))
		r := rand.New(rand.NewPCG(seed, 3))
		for _, l := range lengths[:min(len(lengths), 40)] {
			p.Pieces = append(p.Pieces, Piece{Length: 1 + Millis(l), Gap: Millis(r.IntN(3)), Group: r.IntN(4), Fade: Millis(int(l) * int(rules) / 1000)})
		}
		p.MaxSteps = 3000
		a, err := Solve(context.Background(), p)
		var c *Contradiction
		if errors.As(err, &c) || errors.Is(err, ErrNoneFound) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Check(a); err != nil {
			t.Fatalf("%v\n%+v\n%+v", err, p, a)
		}
	})
}

// seeds is how many seeded cases a test runs: more with -many.
var manyCases = flag.Bool("many", false, "run ten times as many seeded cases")

func seeds(n int) int {
	if *manyCases {
		return 10 * n
	}
	if underRace {
		return n / 4
	}
	return n
}
