package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// drift is an answer in order Near that is changed a little at a time: a piece
// goes to another side, or out, or in, or two change places, or the break between
// two sides moves on. A change is kept when it makes the answer no worse than by
// so much, which grows less and less (threshold accepting; G. Dueck and T. Scheuer,
// Journal of Computational Physics 90, 1990).
type drift struct {
	p     *Problem
	e     *effort
	b     *board // for what may lie on a side; its sets are not used
	kinds []int
	at    []int // the side of each piece; -1: none
	sets  [][]int
	lists [][]int // the same in running order
	rng   *rand.Rand
	ends  []int
	songs Millis // what a song left out weighs while looking
	cost  Millis
}

// mostDrift is how many pieces are looked at so.
const mostDrift = 300

// newDrift begins with some pieces of an answer on a row of tapes: those that the
// sides can hold.
func (p *Problem) newDrift(e *effort, kinds []int, lists [][]int) *drift {
	d := &drift{p: p, e: e, b: newBoard(e, p, kinds), kinds: kinds, at: slices.Repeat([]int{-1}, len(p.Pieces)),
		rng: rand.New(rand.NewPCG(5, 6))}
	m := len(d.b.sides)
	d.sets, d.lists = make([][]int, m), make([][]int, m)
	for s := range min(m, len(lists)) {
		set := slices.DeleteFunc(slices.Sorted(slices.Values(lists[s])), func(i int) bool { return p.Pieces[i].Reserve > 0 && !p.Pieces[i].Must })
		if list, ok := d.lay(set, s); ok {
			d.sets[s], d.lists[s] = set, list
			for _, i := range set {
				d.at[i] = s
			}
		}
	}
	all := p.wanted()
	d.songs = all.Time/Millis(max(1, all.Songs)) + 1
	if p.Aim == MostTime {
		d.songs = 1
	}
	d.cost = d.weigh()
	return d
}

// lay puts a set on a side in its running order; ok is false where it may not lie there.
func (d *drift) lay(set []int, s int) (list []int, ok bool) {
	p := d.p
	if d.b.even {
		var used Millis
		for _, i := range set {
			used += p.Pieces[i].Length + p.Pieces[i].Gap
		}
		if len(set) > 0 && used-Millis(d.b.gap) > d.b.sides[s].Capacity {
			return nil, false
		}
	}
	if !p.allowed(set, s+1) || d.b.rules && !d.b.ends(set, s) {
		return nil, false
	}
	if list, ok = p.base(set); ok && p.broken(list, d.b.sides[s]) == 0 {
		return list, true
	}
	if !d.b.rules && d.b.even {
		return nil, false
	}
	d.e.spend(int64(len(set)*len(set)) / 4) // it tries each piece in each place
	return p.anyRun(set, d.b.sides[s])
}

// weigh is what the answer lacks, as playing time: less is better.
func (d *drift) weigh() Millis {
	var out Millis
	for i, s := range d.at {
		if q := &d.p.Pieces[i]; s < 0 && (q.Reserve == 0 || q.Must) {
			out += q.Length + d.songs*Millis(q.songs())
			if q.Must {
				out += Longest
			}
		}
	}
	placed := 0
	ends := d.ends[:0] // the longest rise, as in rise
	for _, l := range d.lists {
		placed += len(l)
		for _, i := range l {
			if k, _ := slices.BinarySearch(ends, i); k == len(ends) {
				ends = append(ends, i)
			} else {
				ends[k] = i
			}
		}
	}
	d.ends = ends
	return out + max(1, d.p.MoveWorth)*Millis(placed-len(ends))
}

// change is sides as they would be, and where pieces would go.
type change struct {
	sides []int
	sets  [][]int
	moves []move
}

type move struct{ piece, to int }

// set is a side as it would be after the change so far.
func (d *drift) set(c *change, s int) []int {
	if k := slices.Index(c.sides, s); k >= 0 {
		return c.sets[k]
	}
	return d.sets[s]
}

func (d *drift) put(c *change, s int, set []int) {
	if k := slices.Index(c.sides, s); k >= 0 {
		c.sets[k] = set
		return
	}
	c.sides, c.sets = append(c.sides, s), append(c.sets, set)
}

// shift takes a piece from where it is to another side, or out.
func (d *drift) shift(c *change, i, to int) {
	from := d.at[i]
	for _, m := range c.moves {
		if m.piece == i {
			from = m.to
		}
	}
	if from >= 0 {
		d.put(c, from, without(d.set(c, from), i))
	}
	if to >= 0 {
		d.put(c, to, with(d.set(c, to), i))
	}
	c.moves = append(c.moves, move{i, to})
}

// makeRoom takes pieces out of the sides of a change until these hold the rest,
// each to another side where it goes in.
func (d *drift) makeRoom(c *change, stays int) bool {
	for k := 0; k < len(c.sides); k++ {
		s := c.sides[k]
		for tries := 0; ; tries++ {
			if _, ok := d.lay(c.sets[k], s); ok {
				break
			}
			if tries == 3 || len(c.sets[k]) == 0 {
				return false
			}
			i := c.sets[k][d.rng.IntN(len(c.sets[k]))]
			if i == stays || d.p.Pieces[i].Must && d.p.Pieces[i].Side > 0 {
				continue
			}
			to := -1
			if z := d.rng.IntN(len(d.sets) + 1); z < len(d.sets) && z != s && len(c.sides) < 4 {
				if _, ok := d.lay(with(d.set(c, z), i), z); ok {
					to = z
				}
			}
			d.shift(c, i, to)
		}
	}
	return true
}

// draw makes up a change.
func (d *drift) draw() (c change, ok bool) {
	m, n := len(d.sets), len(d.at)
	i := d.rng.IntN(n)
	if q := &d.p.Pieces[i]; q.Reserve > 0 && !q.Must {
		return c, false
	}
	switch kind := d.rng.IntN(8); {
	case kind < 3: // a piece goes to another side, or comes in, or out
		to := d.rng.IntN(m)
		if kind == 0 { // near its place in the given order
			if j := i + 1 - 2*d.rng.IntN(2); j >= 0 && j < n && d.at[j] >= 0 {
				to = d.at[j]
			}
		}
		if to == d.at[i] {
			to = -1
		}
		if d.at[i] < 0 && to < 0 {
			return c, false
		}
		d.shift(&c, i, to)
	case kind < 6: // two change places
		j := d.rng.IntN(n)
		if q := &d.p.Pieces[j]; d.at[i] == d.at[j] || q.Reserve > 0 && !q.Must {
			return c, false
		}
		a, b := d.at[i], d.at[j]
		d.shift(&c, i, b)
		d.shift(&c, j, a)
	default: // the break between two sides moves on
		s := d.at[i]
		if s < 0 {
			return c, false
		}
		to := s + 1
		k, _ := slices.BinarySearch(d.sets[s], i)
		mine := d.sets[s][k:]
		if kind == 7 {
			to, mine = s-1, d.sets[s][:k+1]
		}
		if to < 0 || to >= m || len(mine) > 4 {
			return c, false
		}
		for _, j := range slices.Clone(mine) {
			d.shift(&c, j, to)
		}
	}
	return c, d.makeRoom(&c, i)
}

// take makes a change unless it makes the answer worse by more than that much.
func (d *drift) take(c change, worse Millis) bool {
	lists := make([][]int, len(c.sides))
	for k, s := range c.sides {
		list, ok := d.lay(c.sets[k], s)
		if !ok {
			return false
		}
		lists[k] = list
	}
	was := make([]int, len(c.moves))
	for k, m := range c.moves {
		was[k], d.at[m.piece] = d.at[m.piece], m.to
	}
	for k, s := range c.sides {
		d.sets[s], c.sets[k] = c.sets[k], d.sets[s]
		d.lists[s], lists[k] = lists[k], d.lists[s]
	}
	cost := d.weigh()
	if cost <= d.cost+worse {
		d.cost = cost
		return true
	}
	for k := len(c.moves) - 1; k >= 0; k-- {
		d.at[c.moves[k].piece] = was[k]
	}
	for k, s := range c.sides {
		d.sets[s], d.lists[s] = c.sets[k], lists[k]
	}
	return false
}

// search drifts from where it is, then goes down from the best that it came by,
// and gives the best answer.
func (d *drift) search(steps int64) Answer {
	best := d.wander(steps * 3 / 4)
	end := d.p.newDrift(d.e, d.kinds, listsOf(best))
	if !slices.Equal(kindsOf(best), d.kinds) {
		return best // a tape has become empty
	}
	end.descend(steps / 4)
	if a := end.answer(); d.p.better(a, best) {
		return a
	}
	return best
}

// descend makes each piece change sides, and each two places, for as long as that
// makes the answer better.
func (d *drift) descend(steps int64) {
	stop := d.e.left - steps
	try := func(i, to, j int) bool {
		var c change
		from := d.at[i]
		if d.shift(&c, i, to); j >= 0 {
			d.shift(&c, j, from)
		}
		return d.take(c, -1)
	}
	for won := true; won; {
		won = false
		for i := range d.at {
			if q := &d.p.Pieces[i]; q.Reserve > 0 && !q.Must {
				continue
			}
			for to := -1; to < len(d.sets); to++ {
				if to != d.at[i] && try(i, to, -1) {
					won = true
				}
			}
			for j := range i {
				if q := &d.p.Pieces[j]; d.at[j] != d.at[i] && (q.Reserve == 0 || q.Must) && try(i, d.at[j], j) {
					won = true
				}
				if !d.e.spend(1+int64(len(d.at))/30) || d.e.left < stop {
					return
				}
			}
		}
	}
}

// wander is search without the way down.
func (d *drift) wander(steps int64) Answer {
	p := d.p
	best := d.answer()
	low := d.cost
	n := int64(len(d.at))
	each := 2 + n/12
	first := max(p.MoveWorth*2, d.songs/2, p.wanted().Time/Millis(max(1, n))/2)
	all := max(1, steps/each)
	if len(d.sets) == 0 {
		return best
	}
	for k := range all {
		if !d.e.spend(each) {
			break
		}
		left := all - k
		worse := first * Millis(left) / Millis(all) * Millis(left) / Millis(all)
		if k%16 > 3 {
			worse /= 8
		}
		c, ok := d.draw()
		if !ok || !d.take(c, worse) {
			continue
		}
		// What is as good by cost may be better by the finer points.
		if d.cost < low || d.cost == low && k%8 == 0 || d.cost < low+max(1, p.MoveWorth) && k%64 == 0 {
			low = min(low, d.cost)
			if a := d.answer(); p.better(a, best) {
				best = a
			}
		}
	}
	return best
}

func (d *drift) answer() Answer { return d.p.answer(d.kinds, d.lists, nil) }

// withReserves fills spare time with reserves, rank by rank, the longest first or
// the shortest, wherever one goes in without another piece being moved.
func (p *Problem) withReserves(e *effort, a Answer) Answer {
	if len(p.ranks()) == 0 {
		return a
	}
	var order []int
	for _, i := range a.LeftOut {
		if p.Pieces[i].Reserve > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		x, y := &p.Pieces[i], &p.Pieces[j]
		c := cmp.Compare(x.Length, y.Length)
		if p.Aim == MostTime {
			c = -c
		}
		return cmp.Or(cmp.Compare(x.Reserve, y.Reserve), c)
	})
	var kinds []int
	var lists [][]int
	for _, t := range a.Tapes {
		kinds = append(kinds, t.Kind)
		lists = append(lists, t.Sides...)
	}
	sides, _ := p.row(kinds)
	for _, i := range order {
		for s := range lists {
			if !e.spend(int64(len(lists[s]))/4 + 1) {
				return a
			}
			set := with(slices.Sorted(slices.Values(lists[s])), i)
			if !p.allowed(set, s+1) {
				continue
			}
			list, ok := p.order(set, sides[s])
			if !ok {
				continue
			}
			next := slices.Clone(lists)
			next[s] = list
			if x := p.answer(kinds, next, slices.Clone(a.Faded)); p.better(x, a) && p.Check(x) == nil {
				x.most, x.AtLeast = a.most, a.AtLeast
				a, lists = x, next
				break
			}
		}
	}
	return a
}
