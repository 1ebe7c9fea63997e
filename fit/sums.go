package fit

import (
	"math/bits"
	"sort"
)

// sums is a set of small whole numbers, a bit each.
type sums []uint64

func newSums(top int64) sums { return make(sums, top/64+1) }

func (s sums) has(v int64) bool {
	return v >= 0 && v/64 < int64(len(s)) && s[v/64]>>(v%64)&1 == 1
}

// orShifted adds every number of t, raised by v; what does not fit is lost.
func (s sums) orShifted(t sums, v int64) {
	w, b := int(v/64), uint(v%64)
	if w >= len(s) {
		return
	}
	n := min(len(s)-w, len(t))
	to, from := s[w:w+n], t[:n]
	if b == 0 {
		for i := n - 1; i >= 0; i-- {
			to[i] |= from[i]
		}
		return
	}
	if w+n < len(s) && n > 0 {
		s[w+n] |= from[n-1] >> (64 - b)
	}
	// Downwards, so that s and t may be the same.
	for i := n - 1; i > 0; i-- {
		to[i] |= from[i]<<b | from[i-1]>>(64-b)
	}
	if n > 0 {
		to[0] |= from[0] << b
	}
}

// atMost is the greatest number in s up to v.
func (s sums) atMost(v int64) (int64, bool) {
	if v < 0 || len(s) == 0 {
		return 0, false
	}
	w := v / 64
	word := uint64(0)
	if w >= int64(len(s)) {
		w = int64(len(s)) - 1
		word = s[w]
	} else {
		word = s[w] & (^uint64(0) >> (63 - v%64))
	}
	for {
		if word != 0 {
			return w*64 + 63 - int64(bits.LeadingZeros64(word)), true
		}
		if w--; w < 0 {
			return 0, false
		}
		word = s[w]
	}
}

// atLeast is the least number in s from v on.
func (s sums) atLeast(v int64) (int64, bool) {
	v = max(v, 0)
	w := v / 64
	if w >= int64(len(s)) {
		return 0, false
	}
	for word := s[w] &^ (1<<(v%64) - 1); ; word = s[w] {
		if word != 0 {
			return w*64 + int64(bits.TrailingZeros64(word)), true
		}
		if w++; w == int64(len(s)) {
			return 0, false
		}
	}
}

// mostWords bounds the memory of one table of sums: 256 MB.
const mostWords = 32 << 20

// nearest finds a subset of ws whose sum lies in lo to hi and is nearest to
// half of want2, the greater of two as near. ok is false when there is none;
// known is false when the numbers are too large or too many to tell.
func nearest(e *effort, ws []int64, lo, hi, want2 int64) (pick []int, ok, known bool) {
	if len(ws) <= mostHalved {
		pick, ok = nearestHalved(e, ws, lo, hi, want2)
		return pick, ok, true
	}
	return nearestCounted(e, ws, lo, hi, want2)
}

// off is twice the distance from the wish; less is better, and of two as near
// the greater sum.
func off(v, want2 int64) int64 {
	if 2*v >= want2 {
		return 2 * (2*v - want2)
	}
	return 2*(want2-2*v) + 1
}

// mostHalved is how many numbers nearestHalved takes: lists of 2 to the power
// of half of it.
const mostHalved = 32

// nearestHalved splits the numbers in two halves, lists the sums of each in
// order and walks the lists towards each other (E. Horowitz and S. Sahni,
// Journal of the ACM 21, 1974).
func nearestHalved(e *effort, ws []int64, lo, hi, want2 int64) (pick []int, ok bool) {
	h := len(ws) / 2
	a, b := sortedSums(ws[:h]), sortedSums(ws[h:])
	e.spend(int64(len(a)+len(b)) / 40)
	best, at := int64(-1), [2]uint32{}
	try := func(x, y halfSum) {
		v := x.sum + y.sum
		if v < lo || v > hi {
			return
		}
		if d := off(v, want2); best < 0 || d < best {
			best, at = d, [2]uint32{x.set, y.set}
		}
	}
	// For each x the nearest partners are the last y not over the wish and
	// the next; where these miss the window, its edges.
	target := min(max(want2, 2*lo), 2*hi)
	j := len(b) - 1
	for _, x := range a {
		for j >= 0 && 2*(x.sum+b[j].sum) > target {
			j--
		}
		if j >= 0 {
			try(x, b[j])
		}
		if j+1 < len(b) {
			try(x, b[j+1])
		}
	}
	if best < 0 {
		return nil, false
	}
	for i := range ws {
		if i < h && at[0]>>i&1 == 1 || i >= h && at[1]>>(i-h)&1 == 1 {
			pick = append(pick, i)
		}
	}
	return pick, true
}

type halfSum struct {
	sum int64
	set uint32
}

// sortedSums lists all subset sums, ascending, by merging: no sort needed.
func sortedSums(ws []int64) []halfSum {
	list := []halfSum{{}}
	for i, w := range ws {
		next := make([]halfSum, 0, 2*len(list))
		j := 0
		for _, x := range list {
			for j < len(list) && list[j].sum+w < x.sum {
				next = append(next, halfSum{list[j].sum + w, list[j].set | 1<<i})
				j++
			}
			next = append(next, x)
		}
		for ; j < len(list); j++ {
			next = append(next, halfSum{list[j].sum + w, list[j].set | 1<<i})
		}
		list = next
	}
	return list
}

// nearestCounted keeps the set of all reachable sums, a bit each, and for each
// sum the number by which it was first reached (R. Bellman, Dynamic
// Programming, 1957; the bits are a machine's convenience).
func nearestCounted(e *effort, ws []int64, lo, hi, want2 int64) (pick []int, ok, known bool) {
	unit := int64(0)
	for _, w := range ws {
		unit = gcd(unit, w)
	}
	if unit == 0 {
		unit = 1
	}
	top := hi / unit
	cost := (top/64+1)*int64(len(ws))/1000 + top/400
	if hi < 0 || top/32 > mostWords || cost > e.left {
		return nil, hi < 0, hi < 0
	}
	e.spend(cost)
	reach := newSums(top)
	reach[0] = 1
	first := make([]uint16, top+1)
	fresh := newSums(top)
	for i, w := range ws {
		w /= unit
		copy(fresh, reach)
		fresh.orShifted(reach, w)
		for k := range fresh {
			for x := fresh[k] &^ reach[k]; x != 0; x &= x - 1 {
				if v := int64(k)*64 + int64(bits.TrailingZeros64(x)); v <= top {
					first[v] = uint16(i)
				}
			}
		}
		reach, fresh = fresh, reach
	}
	best, at := int64(-1), int64(0)
	try := func(v int64, found bool) {
		if !found || v*unit < lo || v*unit > hi {
			return
		}
		if d := off(v*unit, want2); best < 0 || d < best {
			best, at = d, v
		}
	}
	mid := min(max(want2/2, lo), hi) / unit
	try(reach.atMost(mid))
	try(reach.atMost(top)) // hi itself may be the wish
	for v := mid; v <= top; v++ {
		if reach.has(v) && v*unit >= lo {
			try(v, true)
			if 2*v*unit >= want2 {
				break
			}
		}
	}
	if best < 0 {
		return nil, false, true
	}
	for at > 0 {
		i := int(first[at])
		pick = append(pick, i)
		at -= ws[i] / unit
	}
	sort.Ints(pick)
	return pick, true, true
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// run lists the numbers from one up to another.
func run(from, to int) []int {
	list := make([]int, 0, max(0, to-from))
	for i := from; i < to; i++ {
		list = append(list, i)
	}
	return list
}
