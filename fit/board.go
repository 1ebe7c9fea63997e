package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// board is a row of sides with the pieces laid so far, for long lists in order
// Free. It is changed two sides at a time.
type board struct {
	p     *Problem
	e     *effort
	kinds []int
	sides []Side
	sets  [][]int // ascending, a set a side
	out   []int   // pieces without a place, of the rank now looked at
	held  []bool  // pieces that must stay placed
	gap   int64   // the least gap
	even  bool    // all gaps are the same
	rng   *rand.Rand
	rules bool  // the order on a side can matter to whether it is allowed
	sure  bool  // no other choice of as much leaves blank tape better
	more  int64 // what fading could add to the capacity, for the bound
}

func newBoard(e *effort, p *Problem, kinds []int) *board {
	b := &board{p: p, e: e, kinds: kinds, held: make([]bool, len(p.Pieces)),
		rng: rand.New(rand.NewPCG(1, 2))} // a fixed seed: the same answer on every run
	b.sides, _ = p.row(kinds)
	b.sets = make([][]int, len(b.sides))
	b.gap, b.even = leastGap(p.Pieces)
	b.rules = p.tight()
	for i, q := range p.Pieces {
		b.held[i] = q.Must
		b.rules = b.rules || q.Opens != Nothing || q.Closes != Nothing || q.NotThin || p.Apart > 0 && q.grouped()
	}
	return b
}

// leastGap is the least gap after any piece, and whether it is that of all and
// the time on a side therefore depends only on what is on it.
func leastGap(pieces []Piece) (gap int64, all bool) {
	all = true
	for i, q := range pieces {
		if g := int64(q.Gap); i == 0 {
			gap = g
		} else if g != gap {
			gap, all = min(gap, g), false
		}
	}
	return gap, all
}

// size is the length of a piece and what its gap has beyond the least.
func (b *board) size(i int) int64 {
	q := &b.p.Pieces[i]
	return int64(q.Length) + int64(q.Gap) - b.gap
}

// fits tells whether a set may lie on a side, order and all.
func (b *board) fits(set []int, s int) bool {
	if !b.p.allowed(set, s+1) {
		return false
	}
	if !b.rules {
		if !b.even {
			return b.p.tightest(set) <= b.sides[s].Capacity
		}
		return b.p.Used(set) <= b.sides[s].Capacity
	}
	_, ok := b.p.anyRun(set, b.sides[s])
	b.e.spend(int64(len(set))/4 + 1)
	return ok && b.ends(set, s)
}

// ends tells whether the openers and closers of everything, if among these,
// may be on this side.
func (b *board) ends(set []int, s int) bool {
	for _, i := range set {
		q := &b.p.Pieces[i]
		if q.Opens == OfAll && s > 0 || q.Closes == OfAll && s < len(b.sides)-1 {
			return false
		}
	}
	return true
}

// place is the side that a piece must be on, counted from 1; 0: any.
func (b *board) place(i int) int {
	switch q := &b.p.Pieces[i]; {
	case q.Side > 0:
		return q.Side
	case q.Opens == OfAll:
		return 1
	case q.Closes == OfAll:
		return len(b.sides)
	}
	return 0
}

// room is the time left on a side, each piece counted with its gap.
func (b *board) room(s int) int64 {
	r := int64(b.sides[s].Capacity) + b.gap
	for _, i := range b.sets[s] {
		r -= b.size(i) + b.gap
	}
	return r
}

// sequence is the sides in the order in which they are to be full.
func (b *board) sequence() []int {
	s := run(0, len(b.sides))
	if b.p.Spare == First {
		slices.Reverse(s)
	}
	return s
}

func with(set []int, i int) []int {
	k, _ := slices.BinarySearch(set, i)
	return slices.Insert(slices.Clone(set), k, i)
}

func without(set []int, i int) []int {
	k, ok := slices.BinarySearch(set, i)
	if !ok {
		return set
	}
	return slices.Delete(slices.Clone(set), k, k+1)
}

// put places a piece on the first side that takes it.
func (b *board) put(i int, sequence []int) bool {
	w := b.size(i) + b.gap
	for _, s := range sequence {
		if b.room(s) < w && b.even {
			continue
		}
		if x := with(b.sets[s], i); b.fits(x, s) {
			b.sets[s] = x
			return true
		}
	}
	return false
}

// fill lays pieces on the sides: those first that are bound to a place, then
// side by side the longest that go in, the rest of each side by the best sum
// (minimum bin slack; J. N. D. Gupta and J. C. Ho, Production Planning and
// Control 10, 1999). What has no place is left in out.
func (b *board) fill(pieces []int) {
	sequence := b.sequence()
	var bound, free []int
	for _, i := range pieces {
		q := &b.p.Pieces[i]
		if q.Must || q.Side > 0 || q.Opens != Nothing || q.Closes != Nothing || q.NotThin {
			bound = append(bound, i)
		} else {
			free = append(free, i)
		}
	}
	slices.SortStableFunc(bound, func(i, j int) int {
		x, y := &b.p.Pieces[i], &b.p.Pieces[j]
		return cmp.Or(truth(y.Must)-truth(x.Must), truth(y.Side > 0)-truth(x.Side > 0),
			int(max(y.Opens, y.Closes))-int(max(x.Opens, x.Closes)), cmp.Compare(b.size(j), b.size(i)))
	})
	b.out = nil
	for _, i := range bound {
		if !b.put(i, sequence) {
			b.out = append(b.out, i)
		}
	}
	slices.SortStableFunc(free, func(i, j int) int { return cmp.Compare(b.size(j), b.size(i)) })
	target := b.target(free)
	for _, s := range sequence {
		free = b.fillSide(s, free, target)
		if b.e.spent() {
			break
		}
	}
	// What is left goes wherever it still can.
	roomy := int64(0)
	for _, s := range sequence {
		roomy = max(roomy, b.room(s))
	}
	for _, i := range free {
		if b.even && b.size(i)+b.gap > roomy || b.e.cut || !b.put(i, sequence) {
			b.out = append(b.out, i)
		}
		b.e.spend(int64(len(sequence))/100 + 1)
	}
	slices.Sort(b.out)
}

// target is how much blank each side is to keep while it is filled.
func (b *board) target(free []int) int64 {
	if b.p.Spare != Even {
		return 0
	}
	var blank int64
	for s := range b.sides {
		blank += b.room(s)
	}
	for _, i := range free {
		blank -= b.size(i) + b.gap
	}
	return max(0, blank/int64(len(b.sides)))
}

// fillSide fills one side from a list, longest first, and gives back the rest.
func (b *board) fillSide(s int, list []int, blank int64) (rest []int) {
	room := b.room(s) - blank
	taken := map[int]bool{}
	var sum int64
	for _, i := range list {
		sum += b.size(i) + b.gap
	}
	if len(list) == 0 {
		return list
	}
	mean := max(1, sum/int64(len(list)))
	add := func(i int) bool {
		x := with(b.sets[s], i)
		if !b.fits(x, s) {
			return false
		}
		b.sets[s] = x
		room -= b.size(i) + b.gap
		taken[i] = true
		return true
	}
	// The last few are chosen by their sum.
	tried := 0
	for _, i := range list {
		if room < 5*mean || tried > 3*len(b.sets[s])+30 {
			break
		}
		if b.size(i)+b.gap <= room {
			tried++
			add(i)
		}
	}
	const sample = 22
	var some []int
	left := len(list) - len(taken)
	k := 0
	for _, i := range list {
		if !taken[i] && b.size(i)+b.gap <= room && b.p.allowed([]int{i}, s+1) {
			if k*sample/max(1, left) == len(some) && len(some) < sample {
				some = append(some, i)
			}
		}
		if !taken[i] {
			k++
		}
	}
	ws := make([]int64, len(some))
	for k, i := range some {
		ws[k] = b.size(i) + b.gap
	}
	if pick, ok, _ := nearest(b.e, ws, 0, max(0, room), 2*max(0, room)); ok {
		for _, k := range pick {
			add(some[k])
		}
	}
	for _, i := range list {
		if !taken[i] {
			rest = append(rest, i)
		}
	}
	return rest
}

// mostOpen is how many pieces one step of better opens.
const mostOpen = 20

// step takes two sides and some of the pieces left out, opens a few pieces to a
// new choice while the others stay, and keeps what is no worse (large
// neighbourhood search; P. Shaw, CP98, LNCS 1520). It tells whether the pair
// got better.
func (b *board) step(x, y int, spares int) bool {
	if x > y {
		x, y = y, x
	}
	two := [2]int{x, y}
	one := x == y
	var open []int
	var side []int8
	for k, s := range two[:2-truth(one)] {
		for _, i := range b.sets[s] {
			open = append(open, i)
			side = append(side, int8(k))
		}
	}
	n := len(open)
	b.rng.Shuffle(n, func(i, j int) {
		open[i], open[j] = open[j], open[i]
		side[i], side[j] = side[j], side[i]
	})
	if n > mostOpen-spares {
		open, side = open[:mostOpen-spares], side[:mostOpen-spares]
	}
	for range min(spares, len(b.out)) {
		i := b.out[b.rng.IntN(len(b.out))]
		if !slices.Contains(open, i) {
			open = append(open, i)
			side = append(side, anySide)
		}
	}
	t := &pair{aim: b.p.Aim, spare: b.p.Spare, gap: b.gap, one: one}
	for k, s := range two {
		t.cap[k] = b.room(s) - b.gap
		t.used[k] = len(b.sets[s]) > 0
	}
	var old split
	for k, i := range open {
		pin := int8(anySide)
		if s := b.place(i); s > 0 {
			pin = 2 // on neither
			for z, at := range two {
				if s == at+1 {
					pin = int8(z)
				}
			}
		}
		t.size = append(t.size, b.size(i))
		t.count(b.p.Pieces[i].songs())
		t.pin = append(t.pin, pin)
		t.fixed = append(t.fixed, b.held[i])
		if side[k] != anySide {
			t.cap[side[k]] += b.size(i) + b.gap
			old.lists[side[k]] = append(old.lists[side[k]], k)
		}
	}
	for k, s := range two {
		t.used[k] = len(b.sets[s]) > len(old.lists[k])
		if one {
			t.used[1] = false
		}
	}
	if one {
		t.cap[1] = -1 << 40
	}
	old, ok := t.weigh(old.lists)
	if !ok {
		return false
	}
	best := old
	t.search(b.e, &best, 40)
	if b.p.Aim.compare(best.share, old.share) == 0 && best.blank.compare(old.blank) == 0 {
		return false
	}
	var next [2][]int
	for k, s := range two {
		if one && k == 1 {
			break
		}
		next[k] = slices.Clone(b.sets[s])
		for _, z := range old.lists[k] {
			next[k] = without(next[k], open[z])
		}
		for _, z := range best.lists[k] {
			next[k] = with(next[k], open[z])
		}
		if !b.fits(next[k], s) {
			return false
		}
	}
	placed := map[int]bool{}
	for k, s := range two {
		if one && k == 1 {
			break
		}
		b.sets[s] = next[k]
		for _, i := range next[k] {
			placed[i] = true
		}
	}
	var out []int
	for _, i := range b.out {
		if !placed[i] {
			out = append(out, i)
		}
	}
	for _, i := range open {
		if _, was := slices.BinarySearch(b.out, i); !placed[i] && !was {
			out = append(out, i)
		}
	}
	slices.Sort(out)
	b.out = out
	return true
}

// share is what is placed of one rank.
func (b *board) share(rank int) Share {
	var s Share
	for _, set := range b.sets {
		for _, i := range set {
			if q := &b.p.Pieces[i]; q.Reserve == rank {
				s.Songs += q.songs()
				s.Time += q.Length
			}
		}
	}
	return s
}

// spare is the blank of a side.
func (b *board) spare(s int) int64 {
	if len(b.sets[s]) == 0 {
		return int64(b.sides[s].Capacity)
	}
	return max(0, b.room(s)) // less than 0 where a wider gap than the least is given back
}

// blank is how far blank tape is from where it should be, each piece counted
// with its size.
func (b *board) blank() Blank {
	var x Blank
	for s := range b.sides {
		x = x.plus(b.p.Spare.blank(s, len(b.sides), Millis(b.spare(s))))
	}
	return x
}

// bestBlank is the least that blank can be for what is placed. An empty side
// has no gap to give back, so the fewer sides are in use the less blank there
// is in all.
func (b *board) bestBlank() Blank {
	m := len(b.sides)
	var capacity, taken int64
	var caps []int64
	for s, side := range b.sides {
		c := int64(side.Capacity)
		capacity += c
		taken += c + b.gap - b.room(s)
		caps = append(caps, c)
	}
	slices.Sort(caps)
	slices.Reverse(caps)
	inUse, hold := 0, int64(0)
	for inUse < m && hold < taken {
		hold += caps[inUse] + max(0, b.gap)
		inUse++
	}
	if b.p.Spare != Even {
		// All of it on one side, as far as that side goes.
		s := m - 1
		if b.p.Spare == First {
			s = 0
		}
		far := capacity - taken - int64(b.sides[s].Capacity)
		if b.gap > 0 {
			far += b.gap * int64(inUse)
		} else {
			far += b.gap * int64(m)
		}
		return Blank{max(0, far), max(0, far)}
	}
	spread := func(all int64, m, from int) (x Blank) {
		for s := range m {
			x = x.plus(Even.blank(s+from, m+from, Millis((all+int64(s))/int64(m))))
		}
		return x
	}
	least := spread(max(0, capacity-taken+b.gap*int64(m)), m, 0)
	if inUse < m {
		// Or one side, the shortest, all blank and the rest even.
		c := caps[m-1]
		x := spread(max(0, capacity-taken-c+min(b.gap*int64(inUse), b.gap*int64(m-1))), m-1, 1)
		if x.Far += times(c, c); x.compare(least) < 0 {
			least = x
		}
	}
	return least
}

// improve betters the board until goal says that nothing better is possible,
// or the effort set aside is spent. It tells whether the goal was reached.
func (b *board) improve(steps int64, goal func() bool) bool {
	m := len(b.sides)
	stop := b.e.left - steps
	look := int64(len(b.p.Pieces))/100 + 1 // what it costs to ask for the goal
	if goal() {
		return true
	}
	for idle := 0; !b.e.spent() && b.e.left > stop; b.e.spend(10) {
		x, y := b.pickSides(m)
		spares := 0
		if len(b.out) > 0 {
			spares = b.rng.IntN(9)
		}
		if b.step(x, y, spares) {
			idle = 0
			b.e.spend(look)
			if goal() {
				return true
			}
		} else if idle++; idle > 10*m+1500 {
			break
		}
	}
	return false
}

// pickSides draws two sides, one of them with blank tape more often than not.
func (b *board) pickSides(m int) (int, int) {
	if m == 1 {
		return 0, 0
	}
	x := b.rng.IntN(m)
	for range 3 {
		if b.room(x) > 0 {
			break
		}
		x = b.rng.IntN(m)
	}
	y := b.rng.IntN(m - 1)
	if y >= x {
		y++
	}
	return x, y
}

// mostShare bounds what can be placed of a rank beside what is held: all
// sides taken for one (the surrogate relaxation; S. Martello and P. Toth,
// Discrete Applied Mathematics 3, 1981), and for each number of pieces the
// longest or the shortest of them.
func (b *board) mostShare(pieces []int, holds []int) Share {
	var capacity, top int64
	for _, side := range b.sides {
		capacity += int64(side.Capacity)
		top = max(top, int64(side.Capacity))
	}
	return b.mostOn(len(b.sides), capacity, top, pieces, holds)
}

// mostAnywhere is mostShare for any row of tapes: as many sides as the kind that
// has most of them, the longest there are, and all the tape of the longest kind.
func (b *board) mostAnywhere(pieces []int) Share {
	var sides, capacity, top int64
	for _, kind := range b.p.Kinds {
		var all int64
		for _, side := range kind.Sides {
			all += int64(side.Capacity)
			top = max(top, int64(side.Capacity))
		}
		capacity, sides = max(capacity, all), max(sides, int64(len(kind.Sides)))
	}
	n := int64(b.p.top())
	return b.mostOn(int(sides*n), capacity*n, top, pieces, nil)
}

// mostOn is mostShare for so many sides of so much tape in all, the longest so long.
func (b *board) mostOn(m int, capacity, top int64, pieces, holds []int) Share {
	used := 0
	capacity += b.more
	top += b.more
	for _, i := range holds {
		capacity -= int64(b.p.Pieces[i].Length)
		used++
	}
	var v, gaps []int64
	var songs []int
	for _, i := range holds {
		gaps = append(gaps, int64(b.p.Pieces[i].Gap))
	}
	for _, i := range pieces {
		if q := &b.p.Pieces[i]; int64(q.Length) <= top {
			v = append(v, int64(q.Length))
			gaps = append(gaps, int64(q.Gap))
			songs = append(songs, q.songs())
		}
	}
	slices.Sort(v)
	slices.Sort(gaps)
	slices.Sort(songs)
	before := make([]int64, len(gaps)+1) // sums of the least gaps
	overlaps := 0
	for k, g := range gaps {
		before[k+1] = before[k] + g
		overlaps += truth(g < 0)
	}
	// However they lie, so many pieces have one gap less a side, and at the
	// least these are the least gaps.
	limit := func(c int) int64 {
		c += used
		return capacity - before[max(0, c-m, min(overlaps, c-1))]
	}
	var best Share
	var short, long int64
	n := 0
	for c := 1; c <= len(v); c++ {
		short += v[c-1]
		long += v[len(v)-c]
		n += songs[len(v)-c]
		if short > limit(c) {
			continue
		}
		if s := (Share{n, Millis(min(long, limit(c)))}); b.p.Aim.compare(s, best) > 0 {
			best = s
		}
	}
	return best
}

// answer lays every side in its best running order.
func (b *board) answer() (Answer, bool) {
	lists := make([][]int, len(b.sides))
	for s, set := range b.sets {
		list, ok := b.p.order(set, b.sides[s])
		if !ok {
			if list, ok = b.p.anyRun(set, b.sides[s]); !ok {
				return Answer{}, false
			}
		}
		lists[s] = list
	}
	return b.p.answer(b.kinds, lists, nil), true
}
