package fit

import (
	"cmp"
	"slices"
)

// provePair decides what two sides can keep of up to sixty-odd pieces, by what
// one side alone can hold: for each number of pieces a side, the sets that
// fill it nearly to the brim. When an answer is already near the bound there
// are few of them, and two that share no piece are quickly found or ruled out
// (bin completion; A. S. Fukunaga and R. E. Korf, Journal of Artificial
// Intelligence Research 28, 2007). It betters the best where it can and tells
// whether nothing better is possible.
func (t *pair) provePair(e *effort, best *split) bool {
	n := len(t.size)
	if n > 64 || t.one || t.used[0] || t.used[1] || t.aim != MostTime || t.more != nil {
		return false
	}
	var fixed uint64
	var must, barred [2]uint64 // of each side
	for i, s := range t.pin {
		bit := uint64(1) << i
		if t.fixed[i] {
			fixed |= bit
		}
		for side := range 2 {
			if s != anySide && int(s) != side {
				barred[side] |= bit
			} else if s == int8(side) && t.fixed[i] {
				must[side] |= bit
			}
		}
	}
	desc := slices.Clone(t.size)
	slices.SortFunc(desc, func(a, b int64) int { return cmp.Compare(b, a) })
	top := make([]int64, n+1)
	for k, v := range desc {
		top[k+1] = top[k] + v
	}
	limit := func(s, k int) int64 {
		if k == 0 {
			return 0
		}
		return min(t.cap[s]-t.gap*int64(k-1), top[k])
	}
	type counts struct{ a, b int }
	var all []counts
	bound := func(c counts) int64 {
		return min(limit(0, c.a)+limit(1, c.b), top[c.a+c.b])
	}
	for a := range n + 1 {
		for b := range n + 1 - a {
			if limit(0, a) >= 0 && limit(1, b) >= 0 {
				all = append(all, counts{a, b})
			}
		}
	}
	slices.SortStableFunc(all, func(x, y counts) int { return cmp.Compare(bound(y), bound(x)) })
	lists := newPatterns(e, t.size)
	proved := true
	for _, c := range all {
		// What is better has more time, or as much of more pieces.
		least := int64(best.share.Time) + truth64(c.a+c.b <= best.share.Songs)
		if bound(c) < int64(best.share.Time) {
			break
		}
		if bound(c) < least {
			continue
		}
		a, okA := lists.between(c.a, least-limit(1, c.b), limit(0, c.a))
		b, okB := lists.between(c.b, least-limit(0, c.a), limit(1, c.b))
		if !okA || !okB {
			proved = false
			continue
		}
		if !e.spend(int64(len(a)+len(b))/100 + 1) {
			return false
		}
		a = slices.DeleteFunc(a, func(x pattern) bool { return x.set&barred[0] != 0 || must[0]&^x.set != 0 })
		b = slices.DeleteFunc(b, func(x pattern) bool { return x.set&barred[1] != 0 || must[1]&^x.set != 0 })
		slices.SortFunc(b, func(x, y pattern) int { return cmp.Compare(y.sum, x.sum) })
		pairs := int64(0)
		for _, x := range a {
			if pairs > 1000 {
				if !e.spend(pairs / 500) {
					return false
				}
				pairs = 0
			}
			for _, y := range b {
				if pairs++; x.sum+y.sum < least {
					break
				}
				if x.set&y.set != 0 || fixed&^(x.set|y.set) != 0 {
					continue
				}
				if got, ok := t.weigh([2][]int{elements(int(x.set)), elements(int(y.set))}); ok && t.aim.compare(got.share, best.share) > 0 {
					*best = got
				}
			}
		}
	}
	return proved && t.both(best.share)
}

// pattern is a set of pieces for one side.
type pattern struct {
	sum int64
	set uint64
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

// mostPatterns bounds the lists.
const mostPatterns = 600_000

func newPatterns(e *effort, size []int64) *patterns {
	return &patterns{e: e, size: size, by: [][]pattern{{{}}}}
}

// list gives all sets of k pieces, by sum.
func (p *patterns) list(k int) ([]pattern, bool) {
	for len(p.by) <= k {
		before := p.by[len(p.by)-1]
		if len(before) == 0 {
			return nil, false
		}
		if int64(len(before))*int64(len(p.size)) > 20*mostPatterns {
			return nil, false
		}
		var next []pattern
		for _, x := range before {
			// Only pieces after the last one, so that each set comes once.
			from := 0
			for m := x.set; m != 0; m >>= 1 {
				from++
			}
			for i := from; i < len(p.size); i++ {
				next = append(next, pattern{x.sum + p.size[i], x.set | 1<<i})
			}
		}
		if len(next) > mostPatterns {
			return nil, false
		}
		slices.SortFunc(next, func(a, b pattern) int { return cmp.Compare(a.sum, b.sum) })
		p.e.spend(int64(len(next)) / 3)
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
			if x.set == 0 || x.set < y&-y {
				found = append(found, pattern{x.sum + b[j].sum, x.set | y})
			}
		}
		if len(found) > mostPatterns/4 || work > 20_000_000 {
			return nil, false
		}
	}
	if !p.e.spend(work/200 + int64(len(a)+len(b))/200) {
		return nil, false
	}
	return found, true
}
