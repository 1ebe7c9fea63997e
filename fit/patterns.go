package fit

import (
	"cmp"
	"math/bits"
	"slices"
)

// provePair settles two sides by what one alone can hold: for each number of
// pieces a side, the sets that fill it nearly to the brim. It betters the best
// where it can and tells whether nothing better is possible.
func (t *pair) provePair(e *effort, best *split) bool {
	if len(t.size) > mostSettled || t.one || t.used[0] || t.used[1] || t.more != nil {
		return false
	}
	b := t.newBounds(e)
	proved := true
	for _, c := range b.list(t.aim, len(t.size)) {
		if least, worth := t.better(c, b.time(c), best); worth && !t.listBoth(e, c, least, b, best) {
			proved = false
		}
	}
	return proved && t.both(best.share)
}

// listBoth looks at every choice of so many pieces a side that has at least so
// much playing time. When that is near the bound there are few sets for either
// side, and two that share no piece are quickly found or ruled out (bin
// completion; A. S. Fukunaga and R. E. Korf, Journal of Artificial Intelligence
// Research 28, 2007). It tells whether it saw them all.
func (t *pair) listBoth(e *effort, c counts, least int64, b *bounds, best *split) bool {
	var fixed pieceSet
	var must, barred [2]pieceSet // of each side
	for i, s := range t.pin {
		if t.fixed[i] {
			fixed.add(i)
		}
		for side := range 2 {
			if s != anySide && int(s) != side {
				barred[side].add(i)
			} else if s == int8(side) && t.fixed[i] {
				must[side].add(i)
			}
		}
	}
	if t.lists == nil {
		t.lists = newPatterns(e, t.size)
	}
	limA, okA := b.side(0, c.a)
	limB, okB := b.side(1, c.b)
	if !okA || !okB {
		return true
	}
	one, okA := t.lists.between(c.a, least-limB, limA)
	two, okB := t.lists.between(c.b, least-limA, limB)
	if !okA || !okB || !e.spend(int64(len(one)+len(two))/100+1) {
		return false
	}
	one = slices.DeleteFunc(one, func(x pattern) bool { return x.set.meets(barred[0]) || !x.set.holds(must[0]) })
	two = slices.DeleteFunc(two, func(x pattern) bool { return x.set.meets(barred[1]) || !x.set.holds(must[1]) })
	slices.SortFunc(two, func(x, y pattern) int { return cmp.Compare(y.sum, x.sum) })
	floor := b.floor(c.a+c.b, b.time(c))
	pairs := int64(0)
	for _, x := range one {
		if pairs > 1000 {
			if !e.spend(pairs / 500) {
				return false
			}
			pairs = 0
		}
		for _, y := range two {
			if pairs++; x.sum+y.sum < least {
				break
			}
			if x.set.meets(y.set) || !x.set.with(y.set).holds(fixed) {
				continue
			}
			if x.sum+y.sum == int64(best.share.Time) && c.a+c.b == best.share.Songs && t.blankOn(c, x.sum, y.sum).compare(best.blank) >= 0 {
				continue
			}
			if got, ok := t.weigh([2][]int{x.set.list(), y.set.list()}); ok && t.isBetter(got, *best) {
				*best = got
				if least = max(least, x.sum+y.sum); least == b.time(c) && best.blank.compare(floor) <= 0 {
					return true
				}
			}
		}
	}
	return true
}

// blankOn is the blank of sides with so many pieces of these sizes.
func (t *pair) blankOn(c counts, x, y int64) Blank {
	return t.spare.blank(0, 2, Millis(t.cap[0]-t.on(0, c.a, x))).plus(t.spare.blank(1, 2, Millis(t.cap[1]-t.on(1, c.b, y))))
}

// pieceSet is a set of up to mostSettled pieces.
type pieceSet [2]uint64

func (s *pieceSet) add(i int)               { s[i/64] |= 1 << (i % 64) }
func (s pieceSet) meets(x pieceSet) bool    { return s[0]&x[0] != 0 || s[1]&x[1] != 0 }
func (s pieceSet) holds(x pieceSet) bool    { return x[0]&^s[0] == 0 && x[1]&^s[1] == 0 }
func (s pieceSet) with(x pieceSet) pieceSet { return pieceSet{s[0] | x[0], s[1] | x[1]} }
func (s pieceSet) empty() bool              { return s[0]|s[1] == 0 }
func (s pieceSet) list() (list []int) {
	for w, m := range s {
		for ; m != 0; m &= m - 1 {
			list = append(list, 64*w+bits.TrailingZeros64(m))
		}
	}
	return list
}

// last is the greatest piece of a set, counted from 1; 0: none.
func (s pieceSet) last() int {
	if s[1] != 0 {
		return 64 + bits.Len64(s[1])
	}
	return bits.Len64(s[0])
}

// first is the least piece of a set that is not empty, counted from 1.
func (s pieceSet) first() int {
	if s[0] != 0 {
		return bits.TrailingZeros64(s[0]) + 1
	}
	return 64 + bits.TrailingZeros64(s[1]) + 1
}

// pattern is a set of pieces for one side.
type pattern struct {
	sum int64
	set pieceSet
}

// patterns makes sets of a given number of pieces with a sum in a window. The
// sets of up to half that number are listed by their sum; a set in the window
// is one of these and another, with no piece of the second before one of the
// first.
type patterns struct {
	e    *effort
	size []int64
	by   [][]pattern // sets of k pieces, by sum
}

// mostPatterns bounds the lists: some 15 MB each.
const mostPatterns = 600_000

func newPatterns(e *effort, size []int64) *patterns {
	return &patterns{e: e, size: size, by: [][]pattern{{{}}}}
}

// list gives all sets of k pieces, by sum; ok is false where there are too many.
func (p *patterns) list(k int) (list []pattern, ok bool) {
	for len(p.by) <= k {
		before := p.by[len(p.by)-1]
		// Of n pieces there are n choose k sets.
		n := len(before) * (len(p.size) - len(p.by) + 1) / len(p.by)
		if n > mostPatterns || !p.e.spend(int64(n)/3) {
			return nil, false
		}
		next := make([]pattern, 0, n)
		for _, x := range before {
			// Only pieces after the last one, so that each set comes once.
			for i := x.set.last(); i < len(p.size); i++ {
				y := pattern{x.sum + p.size[i], x.set}
				y.set.add(i)
				next = append(next, y)
			}
		}
		slices.SortFunc(next, func(a, b pattern) int { return cmp.Compare(a.sum, b.sum) })
		p.by = append(p.by, next)
	}
	return p.by[k], true
}

// between gives the sets of k pieces with a sum from lo to hi.
func (p *patterns) between(k int, lo, hi int64) (found []pattern, ok bool) {
	if lo > hi {
		return nil, true
	}
	h := k / 2
	a, okA := p.list(h)
	b, okB := p.list(k - h)
	if !okA || !okB {
		return nil, false
	}
	// As x grows its partners move down.
	from := len(b)
	work := int64(0)
	for _, x := range a {
		for from > 0 && b[from-1].sum+x.sum > hi {
			from--
		}
		for j := from - 1; j >= 0 && b[j].sum+x.sum >= lo; j-- {
			work++
			y := b[j].set
			// All of x before all of y: each set is found by one split only.
			if x.set.empty() || !y.empty() && x.set.last() < y.first() {
				found = append(found, pattern{x.sum + b[j].sum, x.set.with(y)})
			}
		}
		if len(found) > mostPatterns/4 || work > 20_000_000 {
			p.e.spend(work / 200)
			return nil, false
		}
	}
	if !p.e.spend(work/200 + int64(len(a)+len(b))/200) {
		return nil, false
	}
	return found, true
}
