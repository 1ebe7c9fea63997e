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
