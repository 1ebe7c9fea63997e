package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// long solves lists that are too long for bySets.
func long(e *effort, p *Problem) (Answer, bool) {
	method := anyOrder
	switch p.Order {
	case Keep:
		method = inOrder
	case Near:
		method = nearOrder
	}
	a, ok, enough := p.oneOf(e, method)
	if !enough {
		a, ok = method(e, p)
		// Which mix of kinds leaves blank tape best is not gone into.
		a.Proved = a.Proved && len(p.Kinds) == 1
	}
	// Reserves open no tape, not even the first.
	if none := p.answer(nil, nil, nil); ok && p.better(none, a) && p.Check(none) == nil {
		none.Proved, none.Within = a.Proved, a.Within
		a = none
	}
	a.Proved = a.Proved && !e.cut
	if ok && p.Check(a) != nil {
		a, ok = p.sound(a)
	}
	return a, ok
}

// sound leaves out pieces that an empty tape before them, which is not listed,
// has put on another side than theirs.
func (p *Problem) sound(a Answer) (Answer, bool) {
	for {
		number, gone := 0, false
		var kinds []int
		var lists [][]int
		for _, load := range a.Tapes {
			kinds = append(kinds, load.Kind)
			for _, list := range load.Sides {
				number++
				lists = append(lists, slices.DeleteFunc(slices.Clone(list), func(i int) bool {
					off := p.Pieces[i].Side > 0 && p.Pieces[i].Side != number
					gone = gone || off
					return off
				}))
			}
		}
		if !gone {
			return a, p.Check(a) == nil
		}
		a = p.answer(kinds, lists, a.Faded)
		a.Within = p.wanted().Time - a.Score.Wanted.Time
	}
}

// oneOf tries a single tape of each kind, where there are several. That is
// enough where no more are allowed or one can take all that is wanted.
func (p *Problem) oneOf(e *effort, method func(*effort, *Problem) (Answer, bool)) (best Answer, ok, enough bool) {
	if len(p.Kinds) == 1 {
		return best, false, false
	}
	proved := true
	var within Millis
	for k, kind := range p.Kinds {
		q := *p
		q.Kinds = []Kind{kind}
		q.MaxTapes = 1
		mine := &effort{ctx: e.ctx, left: e.left / int64(len(p.Kinds)-k)}
		if p.MaxTapes > 1 {
			mine.left /= 4
		}
		all := mine.left
		a, found := method(mine, &q)
		e.spend(all - mine.left)
		e.cut = e.cut || mine.cut
		if !found { // which does not say that there is none
			proved, within = false, p.wanted().Time
			continue
		}
		proved = proved && a.Proved
		within = max(within, a.Score.Wanted.Time+a.Within)
		for t := range a.Tapes {
			a.Tapes[t].Kind = k
		}
		if !ok || p.better(a, best) {
			best, ok = a, true
		}
	}
	best.Proved = proved
	best.Within = max(0, within-best.Score.Wanted.Time)
	return best, ok, p.MaxTapes <= 1 || ok && best.Score.Wanted == p.wanted() && best.Score.Faded == 0
}

// anyOrder solves long lists whose pieces may stand in any order: the tapes
// first, then what is kept, then the reserves, then where blank tape lies.
func anyOrder(e *effort, p *Problem) (Answer, bool) {
	var wanted []int
	for i, q := range p.Pieces {
		if q.Reserve == 0 || q.Must {
			wanted = append(wanted, i)
		}
	}
	b, all, atLeast := p.chooseTapes(e, wanted)
	keptProved := all
	bound := p.wanted()
	if !all {
		if bound = b.mostShare(wanted, nil); p.Aim == MostTime {
			bound.Time = min(bound.Time, p.wanted().Time)
		}
		keptProved = b.keepMost(wanted, bound)
	}
	if b.sets == nil || !b.mustHeld() {
		return Answer{}, false
	}
	reservesProved := b.reserves()
	blankProved := b.settle() && b.even
	a, ok := b.answer()
	if !ok {
		return Answer{}, false
	}
	if !keptProved {
		a.Within = max(0, bound.Time-a.Score.Wanted.Time)
	}
	a = p.fadeIn(e, a)
	a.AtLeast = p.least(a, atLeast)
	a.Proved = keptProved && reservesProved && blankProved && len(a.Tapes) == a.AtLeast && a.Score.Faded == 0 &&
		p.cheapest(a) && (a.Score.Wanted == p.wanted() || !p.mayFade())
	return a, true
}

// least is a number of tapes that what is kept of the wanted pieces cannot do
// without; atLeast is one for all of them.
func (p *Problem) least(a Answer, atLeast int) int {
	if a.Score.Wanted == p.wanted() {
		return min(atLeast, len(a.Tapes))
	}
	var held Millis
	gap, _ := leastGap(p.Pieces)
	for t, k := range p.roomiest(len(a.Tapes)) {
		if held >= a.Score.Wanted.Time {
			return t
		}
		for _, side := range p.Kinds[k].Sides {
			// Overlaps shorten what is laid by less than a piece each.
			held += side.Capacity
			if gap < 0 {
				held += Longest
			}
		}
	}
	return len(a.Tapes)
}

// mustHeld tells whether everything that must be placed is.
func (b *board) mustHeld() bool {
	for _, i := range b.out {
		if b.p.Pieces[i].Must {
			return false
		}
	}
	return true
}

// chooseTapes finds the fewest tapes, and of these the cheapest, on which all
// these pieces can be placed; all is false when there are not enough, and the
// board is then the one that can hold the most. It cannot be done with fewer
// than atLeast.
func (p *Problem) chooseTapes(e *effort, pieces []int) (b *board, all bool, atLeast int) {
	var need int64
	gap, _ := leastGap(p.Pieces)
	for _, i := range pieces {
		q := &p.Pieces[i]
		need += int64(q.Length) + min(int64(q.Gap), gap)
	}
	top := min(max(1, p.MaxTapes), len(p.Pieces))
	roomy := p.roomiest(top)
	packed := false
	for tapes := 1; tapes <= len(roomy); tapes++ {
		if p.holds(roomy[:tapes], gap) < need {
			continue
		}
		if atLeast == 0 {
			atLeast = tapes
		}
		for _, kinds := range p.mixes(tapes, need, gap) {
			x := newBoard(e, p, kinds)
			if ok, known := x.parted(pieces); known {
				if ok {
					return x, true, atLeast
				}
				if x.even && len(p.Kinds) == 1 && atLeast == tapes {
					atLeast = tapes + 1
				}
				continue
			}
			x.fill(pieces)
			if len(x.out) > 0 && !packed && x.alike() {
				packed = true
				x.sets = nil
				if bins, least := x.pack(pieces); len(bins) > 0 {
					per := len(p.Kinds[kinds[0]].Sides)
					if len(p.Kinds) == 1 {
						atLeast = max(atLeast, (least+per-1)/per)
					}
					if n := (len(bins) + per - 1) / per; n <= len(roomy) {
						x = newBoard(e, p, slices.Repeat([]int{kinds[0]}, n))
						x.lay(bins)
						return x, true, atLeast
					}
				}
				x.sets = make([][]int, len(x.sides))
				x.fill(pieces)
			}
			if len(x.out) > 0 {
				x.improve(min(e.left/4, 400_000), func() bool { return len(x.out) == 0 })
			}
			if len(x.out) == 0 {
				return x, true, atLeast
			}
			if e.spent() {
				break
			}
		}
		if e.spent() {
			break
		}
	}
	if atLeast == 0 {
		atLeast = len(roomy)
	}
	b = newBoard(e, p, roomy)
	b.fill(pieces)
	return b, len(b.out) == 0, atLeast
}

// parted lays all the pieces on one side or two if that is possible. known is
// false where it cannot tell.
func (b *board) parted(pieces []int) (ok, known bool) {
	if len(b.sides) > 2 || !b.even || len(pieces) > 200 {
		return false, false
	}
	t, _, _ := b.pairOf(pieces)
	x, ok, known := t.part(b.e, run(0, len(pieces)))
	if !ok {
		return false, known && t.both(t.total())
	}
	for s := range b.sides {
		for _, k := range x.lists[s] {
			b.sets[s] = append(b.sets[s], pieces[k])
		}
		slices.Sort(b.sets[s])
	}
	for s := range b.sides {
		if !b.fits(b.sets[s], s) {
			b.sets = make([][]int, len(b.sides))
			return false, false
		}
	}
	return true, true
}

// alike tells whether this is plain bin packing: sides of one length, the same
// gaps, and no rules.
func (b *board) alike() bool {
	for _, side := range b.sides {
		if side.Capacity != b.sides[0].Capacity {
			return false
		}
	}
	for _, q := range b.p.Pieces {
		if q.Side > 0 || q.Length > b.sides[0].Capacity || int64(q.Length)+b.gap < 1 {
			return false
		}
	}
	for _, k := range b.p.Kinds {
		if k.Stock > 0 {
			return false
		}
	}
	return b.even && !b.rules && len(b.p.Kinds) == 1
}

// pack is bin packing of the pieces, each counted with its gap.
func (b *board) pack(pieces []int) ([][]int, int) {
	sizes := make([]int64, len(pieces))
	for k, i := range pieces {
		sizes[k] = b.size(i) + b.gap
	}
	bins, least := fewestBins(b.e, sizes, int64(b.sides[0].Capacity)+b.gap)
	for _, bin := range bins {
		for k := range bin {
			bin[k] = pieces[bin[k]]
		}
		slices.Sort(bin)
	}
	return bins, least
}

// lay puts bins on the sides.
func (b *board) lay(bins [][]int) {
	copy(b.sets, bins)
	b.out = nil
}

// roomiest is up to so many tapes, those that hold most first.
func (p *Problem) roomiest(tapes int) []int {
	order := run(0, len(p.Kinds))
	gap, _ := leastGap(p.Pieces)
	slices.SortStableFunc(order, func(i, j int) int {
		return cmp.Compare(p.holds([]int{j}, gap), p.holds([]int{i}, gap))
	})
	var kinds []int
	for _, k := range order {
		n := p.Kinds[k].Stock
		for range n {
			if len(kinds) < tapes {
				kinds = append(kinds, k)
			}
		}
		for n == 0 && len(kinds) < tapes {
			kinds = append(kinds, k)
		}
	}
	return kinds
}

// holds is what tapes can hold, each piece counted with its gap.
func (p *Problem) holds(kinds []int, gap int64) int64 {
	var c int64
	for _, k := range kinds {
		for _, side := range p.Kinds[k].Sides {
			c += int64(side.Capacity) + max(0, gap)
		}
	}
	return c
}

// mostMixes bounds how many mixes of kinds are tried for a number of tapes.
const mostMixes = 24

// mixes lists mixes of so many tapes that can hold as much as is needed, the
// cheapest first and of equal cost the shortest.
func (p *Problem) mixes(tapes int, need, gap int64) [][]int {
	type mix struct {
		kinds []int
		cost  int64
		holds int64
	}
	var found []mix
	looked := 0
	var add func(kinds []int, from int)
	add = func(kinds []int, from int) {
		if looked++; looked > 20_000 {
			return
		}
		if len(kinds) == tapes {
			if h := p.holds(kinds, gap); h >= need {
				var cost int64
				for _, k := range kinds {
					cost += p.Kinds[k].Cost
				}
				found = append(found, mix{slices.Clone(kinds), cost, h})
			}
			return
		}
		for k := from; k < len(p.Kinds); k++ {
			n := 0
			for _, x := range kinds {
				n += truth(x == k)
			}
			if s := p.Kinds[k].Stock; s == 0 || n < s {
				add(append(kinds, k), k)
			}
		}
	}
	add(nil, 0)
	slices.SortStableFunc(found, func(a, b mix) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.holds, b.holds))
	})
	var out [][]int
	for _, m := range found[:min(len(found), mostMixes)] {
		out = append(out, m.kinds)
	}
	if roomy := p.roomiest(tapes); len(found) > mostMixes || looked > 20_000 {
		out = append(out, roomy)
	}
	return out
}

// cheapest tells whether no tapes of the same number can cost less.
func (p *Problem) cheapest(a Answer) bool {
	var costs []int64
	for _, k := range p.Kinds {
		n := k.Stock
		if n == 0 || n > len(a.Tapes) {
			n = len(a.Tapes)
		}
		for range n {
			costs = append(costs, k.Cost)
		}
	}
	slices.Sort(costs)
	var sum int64
	for _, c := range costs[:min(len(costs), len(a.Tapes))] {
		sum += c
	}
	return sum == a.Score.Cost
}

// keepMost places the most of the pieces when not all can be: first a choice
// of pieces that leaves as little blank as can be, then the laying of it.
func (b *board) keepMost(pieces []int, bound Share) bool {
	if x, ok := b.exactly(pieces); ok {
		return x
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
	sets := make([][]int, len(b.sides))
	var placed []int
	for s := range b.sides {
		for _, k := range x.lists[s] {
			sets[s] = append(sets[s], pieces[k])
		}
		slices.Sort(sets[s])
		placed = append(placed, sets[s]...)
		if !b.fits(sets[s], s) {
			return false
		}
	}
	slices.Sort(placed)
	b.sets, b.out = sets, nil
	for _, i := range pieces {
		if _, in := slices.BinarySearch(placed, i); !in {
			b.out = append(b.out, i)
		}
	}
	return true
}

// surrogate is the best share of the two sides taken for one, to the
// millisecond (the surrogate relaxation; S. Martello and P. Toth, Discrete
// Applied Mathematics 3, 1981).
func (t *pair) surrogate(e *effort) (Share, bool) {
	capacity := t.cap[0]
	if !t.one {
		capacity = max(t.cap[0], t.cap[1], t.cap[0]+t.cap[1]+t.gap)
	}
	unit := t.unit()
	pieces := fewestFit(t.size, capacity, t.gap)
	words := countedWords(capacity/unit, t.gap/unit, pieces)
	cost := words * int64(len(t.size)) / 1000
	if words > mostWords || cost > e.left/2 {
		return Share{}, false
	}
	e.spend(cost)
	c := newCounted(capacity/unit, t.gap/unit, pieces)
	for i, v := range t.size {
		c.add(v/unit, t.fixed[i])
	}
	s, ok := c.best(t.aim)
	s.Time *= Millis(unit)
	return s, ok
}

// unit is the greatest that divides all sizes and the gap.
func (t *pair) unit() int64 {
	unit := max(t.gap, -t.gap)
	for _, v := range t.size {
		unit = gcd(unit, v)
	}
	return max(unit, 1)
}

// reach makes a choice with exactly this share, and parts it.
func (t *pair) reach(e *effort, rng *rand.Rand, want Share) (split, bool) {
	unit := t.unit()
	var list, open []int
	for _, i := range rng.Perm(len(t.size)) {
		if t.fixed[i] {
			list = append(list, i)
			want.Pieces--
			want.Time -= Millis(t.size[i])
		} else {
			open = append(open, i)
		}
	}
	times := make([]int64, len(open))
	for k, i := range open {
		times[k] = t.size[i] / unit
	}
	if want.Pieces < 0 || want.Time < 0 || !e.spend(int64(want.Time)/unit/64*int64(want.Pieces)*int64(len(open))/1000) {
		return split{}, false
	}
	chosen, ok := pick(times, Share{want.Pieces, want.Time / Millis(unit)})
	if !ok {
		return split{}, false
	}
	for _, k := range chosen {
		list = append(list, open[k])
	}
	slices.Sort(list)
	got, ok, _ := t.part(e, list)
	return got, ok
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
		if b.p.Aim == FewestLeftOut {
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
		if b.p.Aim == FewestLeftOut && sum+w > room || sum > room {
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
	h := len(some) / 2
	one, two := t.options(run(0, h)), t.options(run(h, len(some)))
	b.e.spend(20)
	most, set := int64(-1), [2]uint32{}
	for c1, list := range one {
		c2 := x - c1
		if c2 < 0 || c2 >= len(two) {
			continue
		}
		j := len(two[c2]) - 1
		for _, o := range list {
			for j >= 0 && o.size+two[c2][j].size > want {
				j--
			}
			if j < 0 {
				break
			}
			if v := o.size + two[c2][j].size; v > most {
				most, set = v, [2]uint32{o.set, two[c2][j].set}
			}
		}
	}
	if most < 0 {
		return slices.Sorted(slices.Values(in))
	}
	choice := slices.Clone(in[:len(in)-x])
	for k, i := range some {
		if k < h && set[0]>>k&1 == 1 || k >= h && set[1]>>(k-h)&1 == 1 {
			choice = append(choice, i)
		}
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
		for s := range b.sides {
			for _, k := range x.lists[s] {
				b.sets[s] = append(b.sets[s], choice[k])
			}
			slices.Sort(b.sets[s])
			if !b.fits(b.sets[s], s) {
				return false
			}
		}
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

// reserves fills spare time, rank by rank, without giving up anything placed.
func (b *board) reserves() bool {
	proved := true
	left := b.out
	for _, rank := range b.p.ranks() {
		var placed, pool []int
		for _, set := range b.sets {
			for _, i := range set {
				b.held[i] = true
				placed = append(placed, i)
			}
		}
		for i, q := range b.p.Pieces {
			if q.Reserve == rank && !q.Must {
				pool = append(pool, i)
			}
		}
		if len(pool) == 0 {
			continue
		}
		bound := b.mostShare(pool, placed)
		b.out = nil
		for _, i := range pool {
			if !b.put(i, b.sequence()) {
				b.out = append(b.out, i)
			}
		}
		reached := func() bool { return len(b.out) == 0 || b.share(rank) == bound }
		if !reached() {
			all := slices.Sorted(slices.Values(append(placed, pool...)))
			if p, ok := b.exactly(all); ok {
				proved = proved && p
			} else if !b.improve(b.e.left/4, reached) {
				proved = false
			}
		}
		left = append(left, b.out...)
	}
	b.out = slices.Sorted(slices.Values(left))
	return proved
}

// settle puts blank tape where it should be, everything placed staying placed.
func (b *board) settle() bool {
	var placed []int
	for _, set := range b.sets {
		for _, i := range set {
			b.held[i] = true
			placed = append(placed, i)
		}
	}
	if len(b.sides) <= 2 {
		slices.Sort(placed)
		if t, old, ok := b.pairOf(placed); ok {
			got, ok, known := t.part(b.e, run(0, len(placed)))
			if ok && got.blank.compare(old.blank) < 0 {
				was := b.sets
				b.sets = make([][]int, len(b.sides))
				for s := range b.sides {
					for _, k := range got.lists[s] {
						b.sets[s] = append(b.sets[s], placed[k])
					}
					slices.Sort(b.sets[s])
				}
				for s := range b.sides {
					if !b.fits(b.sets[s], s) {
						b.sets = was
						known = false
						break
					}
				}
			}
			if ok && known && t.both(got.share) {
				return true
			}
		}
	}
	out := b.out
	b.out = nil
	ok := b.improve(b.e.left/2, func() bool { return b.blank().compare(b.bestBlank()) <= 0 })
	b.out = out
	return ok
}

func (p *Problem) mayFade() bool {
	return slices.ContainsFunc(p.Pieces, func(q Piece) bool { return q.Fade > 0 })
}

// fadeIn lays wanted pieces that were left out where shortening some makes
// room. It is the last resort, so it comes last, and it is not proved to be
// the best that fading can do.
func (p *Problem) fadeIn(e *effort, a Answer) Answer {
	if a.Score.Wanted == p.wanted() || !p.mayFade() {
		return a
	}
	var room Millis
	for _, q := range p.Pieces {
		room += q.Fade
	}
	a.Proved = false
	out := slices.Clone(a.LeftOut)
	slices.SortStableFunc(out, func(i, j int) int { return cmp.Compare(p.Pieces[j].Length, p.Pieces[i].Length) })
	if p.Aim == FewestLeftOut {
		slices.Reverse(out)
	}
	for _, i := range out {
		if p.Pieces[i].Reserve > 0 {
			continue
		}
		best := a
		for t, load := range a.Tapes {
			for s, list := range load.Sides {
				if !e.spend(int64(len(p.Pieces))/50 + 1<<min(len(list), 13)) {
					break
				}
				side := p.Kinds[load.Kind].Sides[s]
				laid, fades, ok := p.lay(slices.Sorted(slices.Values(append(slices.Clone(list), i))), side)
				if !ok {
					continue
				}
				x := Answer{Tapes: slices.Clone(a.Tapes), Faded: fades}
				x.Tapes[t].Sides = slices.Clone(load.Sides)
				x.Tapes[t].Sides[s] = laid
				for _, f := range a.Faded {
					if !slices.Contains(laid, f.Piece) {
						x.Faded = append(x.Faded, f)
					}
				}
				slices.SortFunc(x.Faded, func(f, g Fade) int { return cmp.Compare(f.Piece, g.Piece) })
				x.LeftOut = without(a.LeftOut, i)
				x.Score = p.Score(x)
				if p.better(x, best) && p.Check(x) == nil {
					x.Within, x.AtLeast = a.Within, a.AtLeast
					best = x
				}
			}
		}
		a = best
	}
	// Fading could have made so much more room, anywhere.
	b := newBoard(e, p, p.roomiest(min(max(1, p.MaxTapes), len(p.Pieces))))
	b.more = int64(room)
	wanted := slices.DeleteFunc(run(0, len(p.Pieces)), func(i int) bool { return p.Pieces[i].Reserve > 0 })
	a.Within = max(0, b.mostShare(wanted, nil).Time-a.Score.Wanted.Time)
	return a
}
