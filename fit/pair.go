package fit

import (
	"container/heap"
	"math/bits"
	"slices"
)

// pair is two sides and pieces that may stand in any order on them.
//
// First comes the choice of pieces, best first, then for each choice the
// question whether it can be parted over the sides: the total is nearly always
// decided by the first few choices, so that the parting, a subset-sum problem,
// is asked a few times only.
//
// Each piece counts with its gap; a side that is in use is one gap longer.
type pair struct {
	aim   Aim
	spare Spare
	gap   int64
	size  []int64 // of each piece, its gap not counted
	pin   []int8  // the side it must be on; anySide
	fixed []bool  // it must be placed
	cap   [2]int64
	used  [2]bool // in use even without a piece: something else is on it
	one   bool    // the second side does not exist
	// A piece opens or closes everything and is pinned to the first side or the
	// last, which is where it belongs unless the other side alone is used.
	bound bool
}

const anySide = -1

// on is the time taken on a side by so many pieces of this size.
func (t *pair) on(s int, pieces int, size int64) int64 {
	if pieces == 0 && !t.used[s] {
		return 0
	}
	return size + t.gap*int64(pieces-1)
}

// split is a way to part a choice of pieces over the two sides.
type split struct {
	share Share
	blank Blank
	lists [2][]int
}

func (t *pair) weigh(lists [2][]int) (split, bool) {
	x := split{lists: lists}
	m := 2
	if t.one {
		m = 1
		if len(lists[1]) > 0 {
			return x, false
		}
	}
	for s := range m {
		var size int64
		for _, i := range lists[s] {
			if t.pin[i] != anySide && int(t.pin[i]) != s {
				return x, false
			}
			size += t.size[i]
		}
		b := t.cap[s] - t.on(s, len(lists[s]), size)
		if b < 0 {
			return x, false
		}
		x.share.Pieces += len(lists[s])
		x.share.Time += Millis(size)
		x.blank = x.blank.plus(t.spare.blank(s, m, Millis(b)))
	}
	return x, true
}

// both tells whether a share is better than any of one side alone, so that
// what is bound to a place can be only where it is pinned.
func (t *pair) both(s Share) bool {
	top := max(t.cap[0], t.cap[1])
	switch {
	case !t.bound:
		return true
	case t.aim == FewestLeftOut:
		return s.Pieces > fewestFit(t.size, top, t.gap)
	}
	return int64(s.Time) > top-min(0, t.gap)*int64(len(t.size))
}

// total is the share of all the pieces.
func (t *pair) total() Share {
	s := Share{Pieces: len(t.size)}
	for _, v := range t.size {
		s.Time += Millis(v)
	}
	return s
}

// part lays a choice of pieces on the sides with blank tape best placed. ok is
// false where that was not found; known says whether the word is final.
func (t *pair) part(e *effort, choice []int) (best split, ok, known bool) {
	known = true
	consider := func(a, b []int) {
		x, fits := t.weigh([2][]int{a, b})
		if fits && (!ok || x.blank.compare(best.blank) < 0) {
			best, ok = x, true
		}
	}
	consider(choice, nil)
	if t.one {
		return
	}
	consider(nil, choice)
	var must [2][]int
	var free []int
	var ws []int64
	var sum, on0, on1 int64
	for _, i := range choice {
		w := t.size[i] + t.gap
		switch t.pin[i] {
		case 0:
			must[0] = append(must[0], i)
			on0 += w
		case 1:
			must[1] = append(must[1], i)
			on1 += w
		default:
			free = append(free, i)
			ws = append(ws, w)
			sum += w
		}
	}
	if len(choice) < 2 && !t.used[0] && !t.used[1] {
		return
	}
	lo, hi := sum+on1-t.cap[1]-t.gap, t.cap[0]+t.gap-on0
	// A side left empty has no gap to give back; that was looked at above.
	if len(ws) > 0 {
		least := slices.Min(ws)
		if !t.used[0] && len(must[0]) == 0 {
			lo = max(lo, least)
		}
		if !t.used[1] && len(must[1]) == 0 {
			hi = min(hi, sum-least)
		}
	}
	lo, hi = max(lo, 0), min(hi, sum)
	if lo > hi {
		return
	}
	want2 := 2 * hi // Last: the first side as full as can be
	switch t.spare {
	case Even:
		want2 = (t.cap[0] - on0) - (t.cap[1] - on1) + sum
	case First:
		want2 = 2 * lo
	}
	pick, found, sure := nearest(e, ws, lo, hi, want2)
	known = sure
	if found {
		a, b := must[0], must[1]
		k := 0
		for x, i := range free {
			if k < len(pick) && pick[k] == x {
				a = append(a, i)
				k++
			} else {
				b = append(b, i)
			}
		}
		consider(a, b)
	}
	return
}

// most is the greatest size that so many pieces can have.
func (t *pair) most(pieces int) int64 {
	n := int64(pieces)
	if t.one {
		return t.cap[0] - t.gap*(n-1)
	}
	top := t.cap[0] + t.cap[1] - t.gap*(n-2)
	for s := range t.cap {
		if !t.used[1-s] {
			top = max(top, t.cap[s]-t.gap*(n-1))
		}
	}
	return top
}

// floor is what the blank of a choice with this share is at the least.
func (t *pair) floor(s Share) Blank {
	n, size := s.Pieces, int64(s.Time)
	if t.one {
		return t.spare.blank(0, 1, Millis(t.cap[0]-t.on(0, n, size)))
	}
	both := func(a, b int64) Blank {
		return t.spare.blank(0, 2, Millis(a)).plus(t.spare.blank(1, 2, Millis(b)))
	}
	all := t.cap[0] + t.cap[1] - size - t.gap*int64(n-2)
	least := both(0, max(0, all))
	switch t.spare {
	case First:
		least = both(max(0, all), 0)
	case Even:
		least = both(all/2, all-all/2)
	}
	for s := range t.cap {
		if !t.used[s] { // it may stay empty
			blank := t.cap
			blank[1-s] -= t.on(1-s, n, size)
			if x := both(blank[0], blank[1]); blank[1-s] >= 0 && x.compare(least) < 0 {
				least = x
			}
		}
	}
	return least
}

// mostChosen is how many pieces search takes: it lists the choices from each
// half of them.
const mostChosen = 30

// option is some of the pieces of a half.
type option struct {
	size int64
	set  uint32
}

// options lists all sets of pieces by their number, each list by size.
func (t *pair) options(items []int) [][]option {
	by := make([][]option, len(items)+1)
	by[0] = []option{{}}
	for k, i := range items {
		for c := k + 1; c > 0; c-- {
			by[c] = mergeOptions(by[c], by[c-1], t.size[i], 1<<k)
		}
	}
	return by
}

func mergeOptions(a, b []option, v int64, bit uint32) []option {
	out := make([]option, 0, len(a)+len(b))
	j := 0
	for _, x := range a {
		for ; j < len(b) && b[j].size+v < x.size; j++ {
			out = append(out, option{b[j].size + v, b[j].set | bit})
		}
		out = append(out, x)
	}
	for ; j < len(b); j++ {
		out = append(out, option{b[j].size + v, b[j].set | bit})
	}
	return out
}

// front is the best choice not yet seen among those with one option of the
// first half and a number of pieces of the second.
type front struct {
	share  Share
	first  option
	count  int // pieces of the second half
	second int // index into the options of the second half
}

type fronts struct {
	list []front
	aim  Aim
}

func (f *fronts) Len() int           { return len(f.list) }
func (f *fronts) Less(i, j int) bool { return f.aim.compare(f.list[i].share, f.list[j].share) > 0 }
func (f *fronts) Swap(i, j int)      { f.list[i], f.list[j] = f.list[j], f.list[i] }
func (f *fronts) Push(x any)         { f.list = append(f.list, x.(front)) }
func (f *fronts) Pop() any {
	x := f.list[len(f.list)-1]
	f.list = f.list[:len(f.list)-1]
	return x
}

// search goes through the choices that are no worse than the best so far, best
// first, and betters it where one can be parted. Sums come in order from two
// sorted lists by way of a heap (R. Schroeppel and A. Shamir, SIAM Journal on
// Computing 10, 1981). At most tries partings are asked for. It tells whether
// the word is final.
func (t *pair) search(e *effort, best *split, tries int) bool {
	var base Share
	var always, open []int
	for i, v := range t.size {
		if t.fixed[i] {
			always = append(always, i)
			base.Pieces++
			base.Time += Millis(v)
		} else {
			open = append(open, i)
		}
	}
	h := len(open) / 2
	one, two := t.options(open[:h]), t.options(open[h:])
	f := &fronts{aim: t.aim}
	for c1, list := range one {
		for c2 := range two {
			pieces := base.Pieces + c1 + c2
			limit := t.most(pieces) - int64(base.Time)
			// As x grows the last partner that fits moves down.
			j := len(two[c2]) - 1
			for _, x := range list {
				for j >= 0 && x.size+two[c2][j].size > limit {
					j--
				}
				if j < 0 {
					break
				}
				s := Share{pieces, base.Time + Millis(x.size+two[c2][j].size)}
				if t.aim.compare(s, best.share) >= 0 {
					f.list = append(f.list, front{s, x, c2, j})
				}
			}
		}
	}
	heap.Init(f)
	if !e.spend(1 + int64(len(f.list))/50 + int64(1)<<h/20) {
		return false
	}
	final := true
	for f.Len() > 0 {
		x := f.list[0]
		c := t.aim.compare(x.share, best.share)
		if c < 0 || c == 0 && best.blank.compare(t.floor(best.share)) <= 0 {
			break
		}
		if tries--; tries < 0 {
			return false
		}
		choice := slices.Clone(always)
		for set := x.first.set; set != 0; set &= set - 1 {
			choice = append(choice, open[bits.TrailingZeros32(set)])
		}
		for set := two[x.count][x.second].set; set != 0; set &= set - 1 {
			choice = append(choice, open[h+bits.TrailingZeros32(set)])
		}
		got, ok, known := t.part(e, choice)
		final = final && known
		if ok && (c > 0 || got.blank.compare(best.blank) < 0) {
			*best = got
		}
		if !e.spend(1 + int64(len(choice))/2) {
			return false
		}
		if x.second--; x.second < 0 {
			heap.Pop(f)
			continue
		}
		x.share.Time = base.Time + Millis(x.first.size+two[x.count][x.second].size)
		f.list[0] = x
		heap.Fix(f, 0)
	}
	return final
}
