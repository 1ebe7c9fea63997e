package fit

import (
	"cmp"
	"slices"
)

// roomBound bounds the worth of a choice from some items for one side: for each
// number of pieces the longest of them, but no more than there is room for.
type roomBound struct {
	t     *parts
	v     view
	long  []int64 // lengths of open items, descending
	short []int64 // and as short as they can be made, ascending
	fades []int64 // by how much, of all, descending
	gaps  []int64 // of all, ascending
	songs []int64 // of open items, descending
	must  int
	fixed int64 // the lengths of what must be there
}

func (b *roomBound) reset() {
	b.must, b.fixed, b.long, b.short, b.fades, b.gaps = 0, 0, b.long[:0], b.short[:0], b.fades[:0], b.gaps[:0]
	b.songs = b.songs[:0]
}

// off tells whether a piece cannot be on a side.
func (t *parts) off(v view, q *Piece) bool {
	return v.number > 0 && q.Side > 0 && q.Side != v.number || t.least(q) > int64(v.limit(q))
}

// least is the length of a piece, faded as far as it may be.
func (t *parts) least(q *Piece) int64 {
	if t.fades {
		return int64(q.Length - q.Fade)
	}
	return int64(q.Length)
}

// limit is by when a piece must have ended.
func (v view) limit(q *Piece) Millis {
	if q.NotThin && v.thin > 0 {
		return min(v.capacity, v.thin)
	}
	return v.capacity
}

func (b *roomBound) add(x item) {
	q := &b.t.p.Pieces[x.index]
	off := b.t.off(b.v, q)
	switch {
	case x.must && off:
		b.fixed += int64(Longest) << 16 // never fits
	case off:
		return
	case x.must:
		b.fixed += b.t.least(q)
	default:
		b.long = insert(b.long, int64(q.Length), -1)
		b.songs = insert(b.songs, int64(q.songs()), -1)
		if b.t.fades {
			b.short = insert(b.short, b.t.least(q), 1)
			b.fades = insert(b.fades, int64(q.Fade), -1)
		}
	}
	b.must += truth(x.must)
	b.gaps = insert(b.gaps, int64(q.Gap), 1)
}

// insert keeps a list in order, ascending or descending by sign.
func insert(list []int64, v int64, sign int) []int64 {
	k, _ := slices.BinarySearchFunc(list, v, func(a, b int64) int { return sign * cmp.Compare(a, b) })
	return slices.Insert(list, k, v)
}

// most is the bound and the number of open pieces that it is for; nothing
// where what must be there does not fit.
func (b *roomBound) most() (most int64, pieces int) {
	most = nothing
	room := int64(b.v.capacity) - b.fixed
	for k := range max(0, b.must-1) {
		room -= b.gaps[k]
	}
	var short, long, fades int64
	songs := 0
	for k := 0; ; k++ {
		if short <= room {
			if v := b.t.worth.of(Share{songs, Millis(min(long, room+fades))}); v > most {
				most, pieces = v, k
			}
		}
		if k == len(b.long) {
			return
		}
		if k+b.must > 0 { // the last piece gives its gap back
			room -= b.gaps[k+b.must-1]
		}
		if b.t.fades {
			short += b.short[k]
			fades += b.fades[k]
		} else {
			short += b.long[len(b.long)-1-k]
		}
		long += b.long[k]
		songs += int(b.songs[k])
	}
}

// mostOpenSlots is how many open pieces are looked at all together; of more,
// first so many around those that decide.
const mostOpenSlots = 28

// look finds the best choice from a stretch for one side, with frontiers of so
// many. Pieces of a group that come too near each other are put apart by
// branching: one of the two is left out, or a piece between them is there
// (branch and bound, the most promising first).
func (t *parts) look(x *table, i, j, frontier int) (best choice) {
	type branch struct {
		choice
		in, out []int // items that must be there, or may not
	}
	var open []branch
	add := func(in, out []int) {
		open = append(open, branch{t.lookAt(x, i, j, frontier, in, out), in, out})
	}
	add(nil, nil)
	best.exact = true
	for tries := 0; len(open) > 0; tries++ {
		k := 0
		for l, b := range open {
			if b.ok && (!open[k].ok || b.value > open[k].value) {
				k = l
			}
		}
		b := open[k]
		open = slices.Delete(open, k, k+1)
		best.exact = best.exact && b.exact
		if !b.ok || best.ok && b.value <= best.value {
			continue
		}
		near, far, crowded := t.tooNear(b.list)
		if !crowded {
			best.value, best.list, best.ok = b.value, b.list, true
			continue
		}
		if tries > mostBranches {
			best.exact = false
			return best
		}
		if !t.stays(near) {
			add(b.in, append(slices.Clone(b.out), near))
		}
		in := append(slices.Clone(b.in), near)
		if !t.stays(far) {
			add(in, append(slices.Clone(b.out), far))
		}
		in = append(in, far)
		out := b.out
		for _, it := range t.items[i:j] {
			if c := it.index; c > near && c < far && !it.must && !slices.Contains(b.list, c) && !slices.Contains(out, c) {
				add(append(slices.Clone(in), c), out)
				out = append(slices.Clone(out), c)
			}
		}
	}
	return best
}

// mostBranches is how many choices are tried for one stretch to keep groups apart.
const mostBranches = 40

// tooNear gives two pieces of a group that are too near each other on a side.
func (t *parts) tooNear(list []int) (near, far int, found bool) {
	for k, i := range list {
		if back := t.p.crowded(list[:k], i); back >= 0 {
			return list[back], i, true
		}
	}
	return 0, 0, false
}

func (t *parts) stays(i int) bool {
	k, _ := slices.BinarySearchFunc(t.items, i, func(it item, i int) int { return it.index - i })
	return t.items[k].must
}

// lookAt finds the best choice from a stretch, with some pieces and without some.
func (t *parts) lookAt(x *table, i, j, frontier int, in, out []int) choice {
	b := roomBound{t: t, v: x.view}
	var slots []slot
	var index []int // of slots in the problem
	var open []int  // slots
	for _, it := range t.items[i:j] {
		q := &t.p.Pieces[it.index]
		b.add(it)
		must := it.must || slices.Contains(in, it.index)
		if t.off(x.view, q) {
			if must {
				return choice{exact: true}
			}
			continue
		}
		if slices.Contains(out, it.index) {
			continue
		}
		s := slot{length: t.least(q), step: t.least(q) + int64(q.Gap), limit: int64(x.view.limit(q)),
			must: must, opens: q.Opens == OfSide, closes: q.Closes == OfSide}
		if !it.must {
			s.value = t.worth.of(Share{q.songs(), q.Length})
		}
		if !must {
			open = append(open, len(slots))
		}
		slots = append(slots, s)
		index = append(index, it.index)
	}
	c := t.core(slots, open, &b)
	if !c.exact {
		all, work := choose(slots, frontier)
		t.e.spend(1 + work/50)
		if c.ok && (!all.ok || c.value > all.value) {
			all.value, all.list, all.ok = c.value, c.list, true
		}
		c = all
	}
	for k, s := range c.list {
		c.list[k] = index[s]
	}
	return c
}

// core looks at the open slots around those that decide, where there are many:
// of the others the longest are all taken and the shortest left out, or the
// other way round (the core of a knapsack; E. Balas and E. Zemel, Operations
// Research 28, 1980). It is exact where that reaches the bound.
func (t *parts) core(slots []slot, open []int, b *roomBound) (c choice) {
	if len(open) <= mostOpenSlots {
		return c
	}
	most, pieces := b.most()
	slices.SortStableFunc(open, func(k, l int) int {
		if t.p.Aim == MostSongs {
			k, l = l, k
		}
		return cmp.Compare(slots[l].length, slots[k].length)
	})
	rank := make([]int, len(slots))
	for r, k := range open {
		rank[k] = r - pieces
	}
	var few []slot
	var number []int
	for k, s := range slots {
		if s.must || rank[k] < mostOpenSlots/2 {
			s.must = s.must || rank[k] < -mostOpenSlots/2
			few = append(few, s)
			number = append(number, k)
		}
	}
	c, work := choose(few, firstFrontier)
	t.e.spend(1 + work/50)
	for k, s := range c.list {
		c.list[k] = number[s]
	}
	c.exact = c.ok && c.value == most
	return c
}

// try looks at a stretch and keeps what it is worth.
func (t *parts) try(x *table, i, j int) {
	s := t.at(x, i, j)
	s.looked = true
	c := t.look(x, i, j, t.most)
	if c.ok && c.value > s.found {
		s.found, s.frontier, s.pieces = c.value, int32(t.most), int32(len(c.list)-(t.musts[j]-t.musts[i]))
	}
	if c.exact {
		s.most = s.found
	}
}
