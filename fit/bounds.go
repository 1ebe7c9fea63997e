package fit

import (
	"cmp"
	"slices"
)

// counts is how many pieces lie on each of two sides.
type counts struct{ a, b int }

// bounds are, by number of pieces, how long they can be on a side or on both.
type bounds struct {
	t     *pair
	top   []int64    // the longest k of all, or as long as k are known to be at the most
	high  []int64    // the longest k of all
	low   []int64    // the shortest k of all
	limit [2][]int64 // what a side takes of k pieces; less than 0: not so many
	unit  int64      // that divides all sizes
	sums  map[int]*excess
}

// newBounds looks at the longest and the shortest pieces and, where that is
// cheap, at the sums that so many pieces can have.
func (t *pair) newBounds(e *effort) *bounds {
	n := len(t.size)
	b := &bounds{t: t, top: make([]int64, n+1), low: make([]int64, n+1), sums: map[int]*excess{}}
	up := slices.Sorted(slices.Values(t.size))
	for k := range n {
		b.low[k+1] = b.low[k] + up[k]
		b.top[k+1] = b.top[k] + up[n-1-k]
	}
	unit := int64(0)
	for _, v := range t.size {
		unit = gcd(unit, v)
	}
	b.high = slices.Clone(b.top)
	unit = max(unit, 1)
	b.unit = unit
	for s := range b.limit {
		most := 0
		for k := range n + 1 {
			l := int64(0)
			if k > 0 {
				l = min(t.cap[s]-t.gap*int64(k-1), b.top[k])
			}
			if l < b.low[k] {
				break
			}
			b.limit[s] = append(b.limit[s], l)
			most = k
		}
		if s == 1 && t.cap[0] == t.cap[1] {
			b.limit[1] = b.limit[0]
			break
		}
		// The sums that there are: dynamic programming, a row a number of pieces.
		top := t.cap[s]/unit + 1
		if t.gap < 0 {
			top -= t.gap * int64(most) / unit
		}
		if words := (top/64 + 1) * int64(most+1); words*int64(n) < 20_000_000 {
			e.spend(words * int64(n) / 1500)
			c := newCounted(t.cap[s]/unit, 0, most)
			for k, row := range c.rows {
				c.limit[k] = top
				c.rows[k] = append(row, make(sums, max(0, int(top/64+1)-len(row)))...)
			}
			for _, v := range t.size {
				c.add(v/unit, false)
			}
			for k := range b.limit[s] {
				if v, ok := c.rows[k].atMost(b.limit[s][k] / unit); ok {
					b.limit[s][k] = v * unit
				} else {
					b.limit[s][k] = -1
				}
			}
		}
	}
	return b
}

// side is what a side takes of k pieces at the most; ok is false where it does
// not take so many.
func (b *bounds) side(s, k int) (int64, bool) {
	if k >= len(b.limit[s]) || b.limit[s][k] < 0 {
		return 0, false
	}
	return b.limit[s][k], true
}

// time bounds the playing time of so many pieces a side.
func (b *bounds) time(c counts) int64 {
	x, okX := b.side(0, c.a)
	y, okY := b.side(1, c.b)
	if !okX || !okY || c.a+c.b >= len(b.top) {
		return -1
	}
	return min(x+y, b.top[c.a+c.b])
}

// floor is what blank tape is at the least where n pieces have this playing time.
func (b *bounds) floor(n int, size int64) Blank {
	t := b.t
	least, any := Blank{}, false
	for a := range n + 1 {
		top, okA := b.side(0, a)
		other, okB := b.side(1, n-a)
		lo, hi := max(0, size-other), min(top, size)
		if !okA || !okB || lo > hi || a == 0 && hi > 0 || n == a && size > hi {
			continue
		}
		at := func(x int64) {
			x = min(max(x, lo), hi)
			y := t.blankOn(counts{a, n - a}, x, size-x)
			if !any || y.compare(least) < 0 {
				least, any = y, true
			}
		}
		at(lo)
		at(hi)
		if t.spare == Even {
			even := (size + t.cap[0] - t.cap[1] - t.gap*int64(a-1) + t.gap*int64(n-a-1)) / 2
			at(even - even%b.unit)
			at(even - even%b.unit + b.unit)
		}
	}
	if !any {
		return t.floor(n, size)
	}
	return least
}

// list gives the numbers of pieces that are possible, the most promising first:
// up to so many in all.
func (b *bounds) list(aim Aim, top int) (all []counts) {
	for x := range b.limit[0] {
		for y := range b.limit[1] {
			c := counts{x, y}
			if x+y <= top && b.time(c) >= 0 && b.low[x+y] <= b.time(c) {
				all = append(all, c)
			}
		}
	}
	slices.SortStableFunc(all, func(x, y counts) int {
		return cmp.Or(
			-aim.compare(Share{x.a + x.b, Millis(b.time(x))}, Share{y.a + y.b, Millis(b.time(y))}),
			cmp.Compare(distance(int64(x.a), int64(x.b)), distance(int64(y.a), int64(y.b))))
	})
	return all
}

// want is the playing time that the first side should have where both together
// have this: as much as can be, as little, or as even.
func (b *bounds) want(c counts, size, limA, limB int64) int64 {
	t := b.t
	least, most := max(0, size-limB), min(size, limA)
	switch t.spare {
	case First:
		return least
	case Even:
		even := (size + t.cap[0] - t.gap*int64(c.a-1) - t.cap[1] + t.gap*int64(c.b-1)) / 2
		return min(max(least, even), most)
	}
	return most
}

// tight notes that n pieces in all have no more playing time than this.
func (b *bounds) tight(n int, size int64) { b.top[n] = min(b.top[n], size) }
