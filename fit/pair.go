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
	more  []int   // songs of each piece beyond the first; nil: none has more
	pin   []int8  // the side it must be on; anySide
	fixed []bool  // it must be placed
	cap   [2]int64
	used  [2]bool // in use even without a piece: something else is on it
	one   bool    // the second side does not exist
	// A piece opens or closes everything and is pinned to the first side or the
	// last, which is where it belongs unless the other side alone is used.
	bound bool
	lists *patterns // those looked at so far
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
		x.share.Songs += len(lists[s]) + t.extra(lists[s])
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
	case t.aim == MostSongs:
		return s.Songs > fewestFit(t.size, top, t.gap)+t.extra(run(0, len(t.size)))
	}
	return int64(s.Time) > top-min(0, t.gap)*int64(len(t.size))
}

// count notes how many songs the piece added last counts as.
func (t *pair) count(songs int) {
	if songs > 1 && t.more == nil {
		t.more = make([]int, len(t.size)-1, cap(t.size))
	}
	if t.more != nil {
		t.more = append(t.more, songs-1)
	}
}

// extra is how many songs more there are in a list than pieces.
func (t *pair) extra(list []int) (n int) {
	if t.more != nil {
		for _, i := range list {
			n += t.more[i]
		}
	}
	return n
}

// total is the share of all the pieces.
func (t *pair) total() Share {
	s := Share{Songs: len(t.size) + t.extra(run(0, len(t.size)))}
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

// floor is what the blank of a choice of n pieces with this playing time is at
// the least.
func (t *pair) floor(n int, size int64) Blank {
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

// class is the sets of pieces of a half that are so many, and so many songs
// more than pieces, by size.
type class struct {
	pieces, more int
	list         []option
}

// options lists all sets of pieces by their number and songs.
func (t *pair) options(items []int) []class {
	n, top := len(items), t.extra(items)
	by := make([][][]option, top+1)
	for m := range by {
		by[m] = make([][]option, n+1)
	}
	by[0][0] = []option{{}}
	for k, i := range items {
		more := 0
		if t.more != nil {
			more = t.more[i]
		}
		for m := top; m >= more; m-- {
			for c := k + 1; c > 0; c-- {
				if from := by[m-more][c-1]; len(from) > 0 {
					by[m][c] = mergeOptions(by[m][c], from, t.size[i], 1<<k)
				}
			}
		}
	}
	var all []class
	for m := range by {
		for c, list := range by[m] {
			if len(list) > 0 {
				all = append(all, class{c, m, list})
			}
		}
	}
	return all
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
// first half and a class of the second.
type front struct {
	share  Share
	pieces int
	first  option
	class  int // of the second half
	second int // index into its list
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
			base.Time += Millis(v)
		} else {
			open = append(open, i)
		}
	}
	base.Songs = len(always) + t.extra(always)
	h := len(open) / 2
	one, two := t.options(open[:h]), t.options(open[h:])
	f := &fronts{aim: t.aim}
	for _, a := range one {
		for k, b := range two {
			pieces := len(always) + a.pieces + b.pieces
			limit := t.most(pieces) - int64(base.Time)
			songs := base.Songs + a.pieces + a.more + b.pieces + b.more
			if t.aim.compare(Share{songs, base.Time + Millis(limit)}, best.share) < 0 {
				continue
			}
			// As x grows the last partner that fits moves down.
			j := len(b.list) - 1
			for _, x := range a.list {
				for j >= 0 && x.size+b.list[j].size > limit {
					j--
				}
				if j < 0 {
					break
				}
				s := Share{songs, base.Time + Millis(x.size+b.list[j].size)}
				if t.aim.compare(s, best.share) >= 0 {
					f.list = append(f.list, front{s, pieces, x, k, j})
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
		tied := c == 0 && best.blank.compare(t.floor(x.pieces, int64(x.share.Time))) <= 0
		if c < 0 || tied && t.more == nil {
			break
		}
		if tied { // another number of pieces may leave blank tape better
			f.next(two)
			continue
		}
		if tries--; tries < 0 {
			return false
		}
		choice := slices.Clone(always)
		for set := x.first.set; set != 0; set &= set - 1 {
			choice = append(choice, open[bits.TrailingZeros32(set)])
		}
		for set := two[x.class].list[x.second].set; set != 0; set &= set - 1 {
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
		f.next(two)
	}
	return final
}

// next puts the first front on to its next choice.
func (f *fronts) next(two []class) {
	x := &f.list[0]
	if x.second == 0 {
		heap.Pop(f)
		return
	}
	list := two[x.class].list
	x.share.Time += Millis(list[x.second-1].size - list[x.second].size)
	x.second--
	heap.Fix(f, 0)
}
