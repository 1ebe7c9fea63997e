package fit

import (
	"container/heap"
	"math/bits"
	"math/rand/v2"
	"slices"
)

// anyOrder fits pieces that may stand in any order onto one side or two.
//
// First the choice of pieces, best first, then for each choice the question
// whether it can be parted over the sides: the total is nearly always decided
// by the first few choices, so that the parting, a subset-sum problem, is
// asked a few times only.
func anyOrder(e *effort, p Problem, sides []Side) result {
	t, ok := newPair(p, sides)
	if !ok {
		return result{sides: make([][]int, len(sides))}
	}
	if lists, ok, known := t.part(e, t.all()); ok {
		return t.result(p, sides, lists, known && t.exact)
	}
	best, proved := t.choose(e)
	r := t.result(p, sides, best.lists, proved && t.exact)
	if !r.proved {
		r.within = max(0, t.bound.Time-best.share.Time)
	}
	return r
}

// pair is one or two sides and pieces with the same gap after each.
type pair struct {
	p      Problem
	spare  Spare
	aim    Aim
	gap    int64
	length []int64
	number []int // of each piece in the problem
	cap    [2]int64
	one    bool // the second side does not exist
	// exact is false where the gaps differ: the least is then taken for all,
	// and what each piece has beyond it for a part of the piece.
	exact bool
	bound Share // no choice can be better, once it is known
}

func newPair(p Problem, sides []Side) (*pair, bool) {
	if len(sides) > 2 {
		return nil, false
	}
	t := &pair{p: p, spare: p.Spare, aim: p.Aim, one: len(sides) == 1}
	for s, side := range sides {
		t.cap[s] = int64(side.Capacity)
	}
	top := max(t.cap[0], t.cap[1])
	t.gap, t.exact = leastGap(p.Pieces, top)
	for i, q := range p.Pieces {
		if int64(q.Length) <= top {
			t.number = append(t.number, i)
			t.length = append(t.length, int64(q.Length)+int64(q.Gap)-t.gap)
		}
	}
	return t, true
}

// leastGap is the least gap after any piece of up to so much, and whether it
// is that of all.
func leastGap(pieces []Piece, top int64) (gap int64, all bool) {
	all = true
	first := true
	for _, q := range pieces {
		if int64(q.Length) > top {
			continue
		}
		if g := int64(q.Gap); first {
			gap, first = g, false
		} else if g != gap {
			gap, all = min(gap, g), false
		}
	}
	return gap, all
}

func (t *pair) result(p Problem, sides []Side, lists [2][]int, proved bool) result {
	out := make([][]int, len(sides))
	for s := range out {
		for _, i := range lists[s] {
			out[s] = append(out[s], t.number[i])
		}
		slices.Sort(out[s])
	}
	return result{sides: out, proved: proved}
}

func (t *pair) all() []int { return run(0, len(t.length)) }

// used is the time that a part of a choice takes on a side.
func (t *pair) used(list []int) int64 {
	var v int64
	for _, i := range list {
		v += t.length[i]
	}
	return v + t.gap*int64(max(0, len(list)-1))
}

func (t *pair) fits(lists [2][]int) bool {
	return t.used(lists[0]) <= t.cap[0] && t.used(lists[1]) <= t.cap[1] && !(t.one && len(lists[1]) > 0)
}

func (t *pair) blank(lists [2][]int) Blank {
	m := 2
	if t.one {
		m = 1
	}
	var b Blank
	for s := range m {
		b = b.plus(t.spare.blank(s, m, Millis(t.cap[s]-t.used(lists[s]))))
	}
	return b
}

// part lays a choice of pieces on the sides with blank tape best placed. ok is
// false where that was not found; known says whether the word is final.
func (t *pair) part(e *effort, choice []int) (lists [2][]int, ok, known bool) {
	known = true
	consider := func(a, b []int) {
		l := [2][]int{a, b}
		if t.fits(l) && (!ok || t.blank(l).compare(t.blank(lists)) < 0) {
			lists, ok = l, true
		}
	}
	consider(choice, nil)
	if t.one {
		return
	}
	consider(nil, choice)
	if len(choice) < 2 {
		return
	}
	// With both sides in use each piece counts with its gap, and each side
	// is one gap longer.
	ws := make([]int64, len(choice))
	var sum int64
	for k, i := range choice {
		ws[k] = t.length[i] + t.gap
		sum += ws[k]
	}
	least := slices.Min(ws)
	lo, hi := max(sum-t.cap[1]-t.gap, least), min(t.cap[0]+t.gap, sum-least)
	if lo > hi {
		return
	}
	want2 := 2 * hi // Last: side A as full as can be
	switch t.spare {
	case Even:
		want2 = t.cap[0] - t.cap[1] + sum
	case First:
		want2 = 2 * lo
	}
	pick, found, sure := nearest(e, ws, lo, hi, want2)
	known = sure
	if found {
		in := make([]bool, len(choice))
		var a, b []int
		for _, k := range pick {
			in[k] = true
		}
		for k, i := range choice {
			if in[k] {
				a = append(a, i)
			} else {
				b = append(b, i)
			}
		}
		consider(a, b)
	}
	return
}

// found is a choice that is known to fit.
type found struct {
	ok    bool
	share Share
	blank Blank
	lists [2][]int
}

func (t *pair) share(choice []int) Share {
	var s Share
	for _, i := range choice {
		s.Pieces++
		s.Time += Millis(t.length[i])
	}
	return s
}

// most is the longest playing time that so many pieces can have.
func (t *pair) most(pieces int) int64 {
	switch {
	case pieces == 0:
		return 0
	case t.one:
		return t.cap[0] - t.gap*int64(pieces-1)
	case pieces == 1:
		return max(t.cap[0], t.cap[1])
	}
	// All on one side, or both in use.
	return max(t.cap[0]+t.cap[1]-t.gap*int64(pieces-2), max(t.cap[0], t.cap[1])-t.gap*int64(pieces-1))
}

// mostChosen is how many pieces the exact choice takes: it lists the choices
// from each half of them.
const mostChosen = 30

// choose finds the best choice of pieces that can be parted.
func (t *pair) choose(e *effort) (found, bool) {
	best := t.greedy()
	t.bound = Share{len(t.length), Millis(max(t.most(1), t.most(len(t.length))))}
	if len(t.length) <= mostChosen {
		proved := t.search(e, &best, nil, t.all())
		return best, proved
	}
	t.relax(e)
	proved := t.improve(e, &best)
	return best, proved
}

// relax bounds the choice by taking the two sides for one as long as both (the
// surrogate relaxation; S. Martello and P. Toth, Discrete Applied Mathematics
// 3, 1981).
func (t *pair) relax(e *effort) {
	capacity := max(t.cap[0], t.cap[1])
	if !t.one {
		capacity = max(capacity, t.cap[0]+t.cap[1]+t.gap)
	}
	unit := t.gap
	if unit < 0 {
		unit = -unit
	}
	for _, v := range t.length {
		unit = gcd(unit, v)
	}
	unit = max(unit, 1)
	// So many of the shortest fit, and no more.
	used, pieces := int64(0), 0
	for _, v := range slices.Sorted(slices.Values(t.length)) {
		if used += v; used > capacity {
			break
		}
		used += t.gap
		pieces++
	}
	words := countedWords(capacity/unit, t.gap/unit, pieces)
	cost := words * int64(len(t.length)) / 2000
	if words > mostWords || cost > e.left/2 {
		return
	}
	e.spend(cost)
	c := newCounted(capacity/unit, t.gap/unit, pieces)
	for _, v := range t.length {
		c.add(v / unit)
	}
	t.bound = c.best(t.aim)
	t.bound.Time *= Millis(unit)
}

// floor is what the blank of a choice with this share is at the least.
func (t *pair) floor(s Share) Blank {
	if t.one {
		return t.spare.blank(0, 1, Millis(t.cap[0]-int64(s.Time)-t.gap*int64(max(0, s.Pieces-1))))
	}
	all := t.cap[0] + t.cap[1] - int64(s.Time) - t.gap*int64(max(0, s.Pieces-2))
	a, b := int64(0), all
	switch t.spare {
	case First:
		a, b = all, 0
	case Even:
		a, b = all/2, all-all/2
	}
	return t.spare.blank(0, 2, Millis(a)).plus(t.spare.blank(1, 2, Millis(b)))
}

// greedy is a first answer: the longest pieces first, or the shortest.
func (t *pair) greedy() found {
	order := t.all()
	slices.SortStableFunc(order, func(i, j int) int {
		if t.aim == FewestLeftOut {
			return int(t.length[i] - t.length[j])
		}
		return int(t.length[j] - t.length[i])
	})
	var lists [2][]int
	for _, i := range order {
		for s := range lists {
			with := lists
			with[s] = append(slices.Clip(with[s]), i)
			if t.fits(with) {
				lists = with
				break
			}
		}
	}
	return found{true, t.share(slices.Concat(lists[0], lists[1])), t.blank(lists), lists}
}

// improve opens a few pieces at a time to a new choice, the others staying as
// they are (large neighbourhood search; P. Shaw, CP98, LNCS 1520), until
// nothing is left to win or the effort is spent.
func (t *pair) improve(e *effort, best *found) bool {
	rng := rand.New(rand.NewPCG(1, 2))
	n := len(t.length)
	for e.spend(1) {
		if best.share == t.bound && best.blank.compare(t.floor(best.share)) <= 0 {
			return true
		}
		open := rng.Perm(n)[:mostChosen-8]
		slices.Sort(open)
		var fixed []int
		for _, i := range slices.Concat(best.lists[0], best.lists[1]) {
			if _, ok := slices.BinarySearch(open, i); !ok {
				fixed = append(fixed, i)
			}
		}
		t.search(e, best, fixed, open)
	}
	return false
}

// option is some of the pieces of a half.
type option struct {
	time int64
	set  uint32
}

// options lists all sets of pieces by their number, each list by time.
func (t *pair) options(items []int) [][]option {
	by := make([][]option, len(items)+1)
	by[0] = []option{{}}
	for k, i := range items {
		for c := k + 1; c > 0; c-- {
			by[c] = mergeOptions(by[c], by[c-1], t.length[i], 1<<k)
		}
	}
	return by
}

func mergeOptions(a, b []option, v int64, bit uint32) []option {
	out := make([]option, 0, len(a)+len(b))
	j := 0
	for _, x := range a {
		for ; j < len(b) && b[j].time+v < x.time; j++ {
			out = append(out, option{b[j].time + v, b[j].set | bit})
		}
		out = append(out, x)
	}
	for ; j < len(b); j++ {
		out = append(out, option{b[j].time + v, b[j].set | bit})
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

// search goes through the choices that are no worse than the best so far,
// best first: fixed pieces and any of the open ones. Sums come in order from
// two sorted lists by way of a heap (R. Schroeppel and A. Shamir, SIAM Journal
// on Computing 10, 1981). It tells whether the word is final.
func (t *pair) search(e *effort, best *found, fixed, open []int) bool {
	base := t.share(fixed)
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
				for j >= 0 && x.time+two[c2][j].time > limit {
					j--
				}
				if j < 0 {
					break
				}
				s := Share{pieces, base.Time + Millis(x.time+two[c2][j].time)}
				if t.aim.compare(s, best.share) >= 0 {
					f.list = append(f.list, front{s, x, c2, j})
				}
			}
		}
	}
	heap.Init(f)
	if !e.spend(int64(len(f.list))/50 + int64(1)<<h/20) {
		return false
	}
	final := true
	for f.Len() > 0 {
		x := f.list[0]
		if t.aim.compare(x.share, best.share) < 0 {
			break
		}
		choice := slices.Clone(fixed)
		for set := x.first.set; set != 0; set &= set - 1 {
			choice = append(choice, open[bits.TrailingZeros32(set)])
		}
		for set := two[x.count][x.second].set; set != 0; set &= set - 1 {
			choice = append(choice, open[h+bits.TrailingZeros32(set)])
		}
		lists, ok, known := t.part(e, choice)
		final = final && known
		if ok {
			b := t.blank(lists)
			if c := t.aim.compare(x.share, best.share); c > 0 || c == 0 && b.compare(best.blank) < 0 {
				*best = found{true, x.share, b, lists}
			}
		}
		if !e.spend(1 + int64(len(choice))/2) {
			return false
		}
		if x.second--; x.second < 0 {
			heap.Pop(f)
			continue
		}
		x.share.Time = base.Time + Millis(x.first.time+two[x.count][x.second].time)
		f.list[0] = x
		heap.Fix(f, 0)
	}
	return final
}
