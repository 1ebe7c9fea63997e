package fit

import (
	"cmp"
	"slices"
)

// keepMost places the most of the pieces when not all can be: first a choice
// of pieces that leaves as little blank as can be, then the laying of it.
func (b *board) keepMost(pieces []int, bound Share) bool {
	// What is quick and settles everything first, then what takes longer.
	if b.lattice(pieces, mostLattice/16) {
		return true
	}
	if b.quickly(pieces) {
		return true
	}
	settled, ran := b.settled(pieces)
	if settled && b.sure || b.lattice(pieces, mostLattice) {
		return true
	}
	if x, ok := b.exactly(pieces); ok {
		b.sure = x
		return x || settled || !b.even && b.rechoose(pieces)
	}
	if ran {
		return settled || b.share(0) == bound
	}
	if !b.even { // what follows takes the gaps for time kept
		return b.rechoose(pieces) || b.share(0) == bound
	}
	b.improve(b.e.left/40, func() bool { return b.share(0) == bound })
	if b.share(0) != bound && b.reachSum(pieces, &bound) {
		return true
	}
	best, at := b.share(0), b.copy()
	stop := b.e.left / 4
	for slack, try := int64(0), 0; best != bound && b.e.left > stop && !b.e.cut; try++ {
		if try == 12 {
			if at.proveKept(pieces) {
				b.sets, b.out = at.sets, at.out
				return true
			}
			best = at.share(0)
		}
		choice := b.choose(pieces, slack)
		x := b.copy()
		if x.layAll(choice, pieces) {
			if s := x.share(0); b.p.Aim.compare(s, best) > 0 {
				best, at = s, x
			}
			slack = slack/2 - truth64(slack == 1)
		} else {
			slack = 2*slack + 1
		}
		if slack > max(1000, b.gap) || try > 200 {
			break
		}
		slack = max(0, slack)
		b.e.spend(1)
	}
	b.sets, b.out = at.sets, at.out
	if best != bound {
		b.improve(b.e.left/6, func() bool { return b.share(0) == bound })
	}
	return b.share(0) == bound || b.proveKept(pieces)
}

// quickly is exactly with a few tries, for lists that are short enough.
func (b *board) quickly(pieces []int) bool {
	if len(b.sides) > 2 || len(pieces) > mostChosen-4 || !b.even {
		return false
	}
	t, best, ok := b.pairOf(pieces)
	if !ok {
		return false
	}
	b.sure = t.search(b.e, &best, 300) && t.both(best.share)
	if !b.take(pieces, best) {
		b.sure = false
	}
	return b.sure
}

// settled lays what two sides can keep, and tells whether that is proved best; ok
// is false where other ways may do better.
func (b *board) settled(pieces []int) (proved, ok bool) {
	if len(b.sides) != 2 || !b.even || len(pieces) > mostSettled {
		return false, false
	}
	t, best, ok := b.pairOf(pieces)
	if !ok || !t.holdsFixed(best.lists) {
		best = split{share: Share{-1, -1}}
	}
	mine := &effort{ctx: b.e.ctx, left: b.e.left / 3}
	left := mine.left
	proved, b.sure = t.settle(mine, b.rng, &best)
	b.e.spend(left - mine.left)
	b.e.cut = b.e.cut || mine.cut
	if best.share.Songs < 0 || !b.take(pieces, best) {
		b.sure = false
		return false, false
	}
	return proved, true
}

// small tells whether the pieces can be looked at as a pair, all of them open.
func (b *board) small(pieces []int) (*pair, split, bool) {
	if len(b.sides) > 2 || !b.even || len(pieces) > 64 {
		return nil, split{}, false
	}
	return b.pairOf(pieces)
}

// reachSum brings the bound down to what the sides could keep if they were
// one, and tells whether a choice with just that could be parted.
func (b *board) reachSum(pieces []int, bound *Share) bool {
	t, best, ok := b.small(pieces)
	if !ok {
		return false
	}
	tight, ok := t.surrogate(b.e)
	if !ok {
		return false
	}
	*bound = tight
	if b.p.Aim.compare(best.share, tight) >= 0 {
		return true
	}
	for range 2 {
		if got, ok := t.reach(b.e, b.rng, tight); ok && b.p.Aim.compare(got.share, tight) >= 0 {
			return b.take(pieces, got)
		}
	}
	return false
}

// proveKept settles what can be kept on one side or two, where the bound is
// not reached.
func (b *board) proveKept(pieces []int) bool {
	t, best, ok := b.small(pieces)
	if !ok {
		return false
	}
	was := best.share
	proved := t.provePair(b.e, &best)
	if b.p.Aim.compare(best.share, was) > 0 && !b.take(pieces, best) {
		return false
	}
	return proved
}

// take lays the pieces as they are split, if the rules allow it.
func (b *board) take(pieces []int, x split) bool {
	sets, ok := b.asSplit(pieces, x)
	if !ok {
		return false
	}
	placed := slices.Concat(sets...)
	slices.Sort(placed)
	b.sets, b.out = sets, nil
	for _, i := range pieces {
		if _, in := slices.BinarySearch(placed, i); !in {
			b.out = append(b.out, i)
		}
	}
	return true
}

// asSplit lists the pieces of each side, ascending; ok is false where a rule
// forbids a side to hold them.
func (b *board) asSplit(pieces []int, x split) (sets [][]int, ok bool) {
	sets = make([][]int, len(b.sides))
	for s := range b.sides {
		for _, k := range x.lists[s] {
			sets[s] = append(sets[s], pieces[k])
		}
		slices.Sort(sets[s])
		if !b.fits(sets[s], s) {
			return nil, false
		}
	}
	return sets, true
}

func truth64(x bool) int64 { return int64(truth(x)) }

func (b *board) copy() *board {
	c := *b
	c.sets = slices.Clone(b.sets)
	c.out = slices.Clone(b.out)
	c.held = slices.Clone(b.held)
	return &c
}

// choose picks pieces that would fill all sides but for some slack, if these
// were one side: as few or as many as the aim asks for.
func (b *board) choose(pieces []int, slack int64) []int {
	order := slices.Clone(pieces)
	slices.SortStableFunc(order, func(i, j int) int {
		if b.p.Aim == MostSongs {
			i, j = j, i
		}
		return cmp.Or(truth(b.held[j])-truth(b.held[i]), cmp.Compare(b.size(j), b.size(i)))
	})
	room := -slack
	for _, side := range b.sides {
		room += int64(side.Capacity) + b.gap
	}
	// The longest first: the first number of pieces that is too much can be
	// brought down to what there is room for. The shortest first: the last
	// number that is not too much can be brought up to it.
	n := 0
	var sum int64
	for n < len(order) {
		w := b.size(order[n]) + b.gap
		if b.p.Aim == MostSongs && sum+w > room || sum > room {
			break
		}
		sum += w
		n++
	}
	in, out := slices.Clone(order[:n]), slices.Clone(order[n:])
	fixed := 0
	for fixed < len(in) && b.held[in[fixed]] {
		fixed++
	}
	// Swap pieces while that brings the sum nearer to the room.
	over := sum - room
	for range 4 * len(order) {
		if over == 0 || len(out) == 0 || fixed == len(in) {
			break
		}
		i, j := fixed+b.rng.IntN(len(in)-fixed), b.rng.IntN(len(out))
		d := b.size(in[i]) - b.size(out[j])
		if distance(over-d, 0) < distance(over, 0) && (over > 0) == (d > 0) {
			in[i], out[j] = out[j], in[i]
			over -= d
		}
	}
	// The last of it exactly, among some of those in and some of those out.
	const open = 11
	x, y := min(open, len(in)-fixed), min(open, len(out))
	b.rng.Shuffle(len(in)-fixed, func(i, j int) { in[fixed+i], in[fixed+j] = in[fixed+j], in[fixed+i] })
	b.rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	some := slices.Concat(in[len(in)-x:], out[:y])
	b.rng.Shuffle(len(some), func(i, j int) { some[i], some[j] = some[j], some[i] })
	var want int64
	for _, i := range in[len(in)-x:] {
		want += b.size(i)
	}
	want -= over
	t := &pair{}
	for _, i := range some {
		t.size = append(t.size, b.size(i))
	}
	b.e.spend(20)
	picked, ok := t.bestSum(nil, run(0, len(some)), x, want)
	if !ok {
		return slices.Sorted(slices.Values(in))
	}
	choice := slices.Clone(in[:len(in)-x])
	for _, k := range picked {
		choice = append(choice, some[k])
	}
	slices.Sort(choice)
	return choice
}

// layAll lays a choice of pieces on the sides so that all of them have a
// place: the last side is lengthened, the others are filled to the brim, and
// it is well when what is left to the last side goes into its true length.
func (b *board) layAll(choice, pieces []int) bool {
	last := len(b.sides) - 1
	held := slices.Clone(b.held)
	for _, i := range choice {
		b.held[i] = true
	}
	defer func() { b.held = held }()
	b.sets = make([][]int, len(b.sides))
	b.out = nil
	if len(b.sides) <= 2 {
		t, _, _ := b.pairOf(choice)
		x, ok, _ := t.part(b.e, run(0, len(choice)))
		if !ok {
			return false
		}
		sets, ok := b.asSplit(choice, x)
		if !ok {
			return false
		}
		b.sets = sets
	} else {
		real := b.sides
		q := *b.p
		q.Spare = Last
		x := b.copy()
		x.p = &q
		x.sides = slices.Clone(b.sides)
		x.sides[last].Capacity = Longest
		x.fill(choice)
		if len(x.out) > 0 {
			return false
		}
		brim := func() bool { return x.room(last) >= int64(Longest-real[last].Capacity) }
		for range 40 * last {
			if brim() || x.e.spent() {
				break
			}
			from := x.rng.IntN(last)
			for range 2 * last {
				if x.spare(from) > 0 {
					break
				}
				from = (from + 1) % last
			}
			to := last
			if x.rng.IntN(3) == 0 {
				to = x.rng.IntN(last)
			}
			if from != to {
				x.step(from, to, 0)
			}
			x.e.spend(10)
		}
		if !brim() {
			return false
		}
		b.sets = x.sets
		if !b.fits(b.sets[last], last) {
			return false
		}
	}
	for _, i := range pieces {
		if _, in := slices.BinarySearch(choice, i); !in {
			b.out = append(b.out, i)
		}
	}
	return true
}

// exactly solves one or two sides outright when the pieces are few enough. ok
// is false where that is not possible.
func (b *board) exactly(pieces []int) (proved, ok bool) {
	if len(b.sides) > 2 || len(pieces) > mostChosen {
		return false, false
	}
	t, old, can := b.pairOf(pieces)
	if !can {
		return false, false
	}
	best := old
	proved = t.search(b.e, &best, 1<<30)
	if !b.take(pieces, best) {
		return false, false
	}
	return proved && b.even && t.both(best.share), true
}

// pairOf is the board as a pair with all these pieces open, and how they lie.
func (b *board) pairOf(pieces []int) (*pair, split, bool) {
	t := &pair{aim: b.p.Aim, spare: b.p.Spare, gap: b.gap, one: len(b.sides) == 1}
	for s, side := range b.sides {
		t.cap[s] = int64(side.Capacity)
	}
	var lists [2][]int
	for k, i := range pieces {
		pin := int8(anySide)
		switch q := &b.p.Pieces[i]; {
		case q.Side > 0:
			pin = int8(min(q.Side-1, 2))
		case q.Opens == OfAll && len(b.sides) == 2:
			pin, t.bound = 0, true
		case q.Closes == OfAll && len(b.sides) == 2:
			pin, t.bound = 1, true
		}
		t.size = append(t.size, b.size(i))
		t.count(b.p.Pieces[i].songs())
		t.pin = append(t.pin, pin)
		t.fixed = append(t.fixed, b.held[i])
		for s, set := range b.sets {
			if _, in := slices.BinarySearch(set, i); in {
				lists[s] = append(lists[s], k)
			}
		}
	}
	x, ok := t.weigh(lists)
	return t, x, ok
}
