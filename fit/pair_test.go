package fit

import (
	"math/rand/v2"
	"testing"
)

// The two ways to settle two sides, best choice first and sides filled to the
// brim, come to the same.
func TestPairTwoWays(t *testing.T) {
	proved := 0
	for seed := range uint64(seeds(1000)) {
		r := rand.New(rand.NewPCG(seed, 12))
		x := &pair{aim: MostTime, gap: int64(r.IntN(4)), spare: Spare(r.IntN(3))}
		x.cap = [2]int64{int64(20 + r.IntN(60)), int64(20 + r.IntN(60))}
		for range 4 + r.IntN(8) {
			x.size = append(x.size, int64(3+r.IntN(30)))
			x.pin = append(x.pin, []int8{anySide, anySide, anySide, anySide, 0, 1}[r.IntN(6)])
			x.fixed = append(x.fixed, r.IntN(12) == 0)
		}
		start := split{share: Share{0, -1}} // worse than anything
		want := start
		if !x.search(unbounded(), &want, 1<<30) || want.share == start.share {
			continue // the pieces that must be there do not fit
		}
		got := want
		for range 3 { // from a worse answer, where there is one without its last piece
			if a := got.lists[0]; len(a) > 0 && !x.fixed[a[len(a)-1]] {
				got, _ = x.weigh([2][]int{a[:len(a)-1], got.lists[1]})
			}
		}
		if x.provePair(unbounded(), &got) {
			if proved++; x.aim.compare(got.share, want.share) != 0 {
				t.Fatalf("seed %d: %v and %v\n%+v", seed, want, got, x)
			}
		}
	}
	if proved < seeds(1000)/2 {
		t.Errorf("only %d proved", proved)
	}
}

// settle comes to the same as the best choice first, both aims, blank tape too,
// where it says that it is proved.
func TestSettleAgrees(t *testing.T) {
	proved, all := 0, 0
	for seed := range uint64(seeds(2000)) {
		r := rand.New(rand.NewPCG(seed, 14))
		x := &pair{aim: Aim(r.IntN(2)), gap: int64(r.IntN(4)), spare: Spare(r.IntN(3))}
		x.cap = [2]int64{int64(20 + r.IntN(60)), int64(20 + r.IntN(60))}
		few := 3 + r.IntN(30) // lengths
		for range 4 + r.IntN(9) {
			x.size = append(x.size, int64(3+r.IntN(few)))
			if r.IntN(6) == 0 && seed%3 == 0 {
				x.count(2 + r.IntN(2))
			} else {
				x.count(1)
			}
			x.pin = append(x.pin, []int8{anySide, anySide, anySide, anySide, anySide, anySide, 0, 1}[r.IntN(8)])
			x.fixed = append(x.fixed, r.IntN(15) == 0)
		}
		start := split{share: Share{-1, -1}}
		want, got := start, start
		if !x.search(unbounded(), &want, 1<<30) || want.share == start.share {
			continue // the pieces that must be there do not fit
		}
		all++
		sure, blank := x.settle(unbounded(), rand.New(rand.NewPCG(1, 2)), &got)
		if got.share != start.share {
			if y, ok := x.weigh(got.lists); !ok || y.share != got.share || y.blank != got.blank || !x.holdsFixed(got.lists) {
				t.Fatalf("seed %d: %v is not what lies there, %v\n%+v", seed, got, y, x)
			}
		}
		if c := x.aim.compare(got.share, want.share); c > 0 || sure && c != 0 || sure && blank && c == 0 && got.blank != want.blank {
			t.Fatalf("seed %d: %v and %v, sure %v %v\n%+v", seed, want, got, sure, blank, x)
		}
		if sure {
			proved++
		}
	}
	t.Logf("%d of %d proved", proved, all)
	if proved < all*9/10 {
		t.Errorf("only %d of %d proved", proved, all)
	}
}

// Tracks between, not pieces: those of a joined piece count, and each of its own.
func TestCrowded(t *testing.T) {
	one, two, none := Piece{Group: 1}, Piece{Groups: []int{2, 1}}, Piece{}
	for _, c := range []struct {
		apart  int
		pieces []Piece // the last is the next
		want   int
	}{
		{1, []Piece{one, one}, 0},
		{1, []Piece{one, none, one}, -1},
		{2, []Piece{one, none, one}, 0},
		{1, []Piece{two, one}, 0},                           // 2 1, 1
		{1, []Piece{one, two}, -1},                          // 1, 2 1
		{2, []Piece{one, two}, 0},                           // one between
		{2, []Piece{one, none, two}, -1},                    // two between
		{3, []Piece{one, none, two}, 0},                     // two between
		{2, []Piece{one, {Groups: []int{0, 0}}, one}, -1},   // a joined piece of two between
		{3, []Piece{one, {Groups: []int{0, 0}}, one}, 0},    // and three asked for
		{1, []Piece{{Groups: []int{1, 0}}, one}, -1},        // its second lies between
		{1, []Piece{{Groups: []int{1, 1}}, {Group: 3}}, -1}, // what is within it does not count
	} {
		p := Problem{Apart: c.apart, Pieces: c.pieces}
		n := len(c.pieces) - 1
		if got := p.crowded(run(0, n), n); got != c.want {
			t.Errorf("%d apart, %v: %d, want %d", c.apart, c.pieces, got, c.want)
		}
	}
}
