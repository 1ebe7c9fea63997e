package fit

import (
	"cmp"
	"slices"
)

// Where pieces have different gaps, the last of a side gives back its own: it
// had better be the one with the widest. With the pieces of a side in the order
// of their gaps the last that is chosen is that one, so that the best choice
// for one side is that from a list whose order is given.

// tightest is the time that a set takes on a side at the least, in any order.
func (p *Problem) tightest(set []int) Millis {
	var used, widest Millis
	closed := false
	for k, i := range set {
		q := &p.Pieces[i]
		used += q.Length + q.Gap
		if !closed && (k == 0 || q.Gap > widest) || q.Closes != Nothing {
			widest = q.Gap
		}
		closed = closed || q.Closes != Nothing
	}
	return used - widest
}

// rechoose takes one side after another, or two, and gives each in turn the best
// choice of what is on them and what was left out, for as long as that betters
// anything. It tells whether that is proved best, which it can be of one side.
func (b *board) rechoose(pieces []int) (proved bool) {
	m := len(b.sides)
	stop := b.e.left / 2
	for won, pass := true, 0; won && pass < 10; pass++ {
		won = false
		for x := range m {
			for y := range m {
				sides := []int{x, y}
				if x == y {
					sides = sides[:1]
				}
				better, exact := b.rechooseOn(pieces, sides, 0)
				won = won || better
				proved = exact && m == 1 && !b.rules
				if b.e.left < stop || b.e.cut {
					return proved
				}
			}
		}
	}
	// Some pieces kept from the first side may let both be better.
	for idle := 0; m > 1 && idle < 30+10*m && b.e.left > stop && !b.e.cut; idle++ {
		x := b.rng.IntN(m)
		y := (x + 1 + b.rng.IntN(m-1)) % m
		if better, _ := b.rechooseOn(pieces, []int{x, y, x}, 1+b.rng.IntN(4)); better {
			idle = 0
		}
	}
	return proved
}

// rechooseOn chooses anew on some sides in turn, so many pieces drawn at random
// being kept from the first.
func (b *board) rechooseOn(pieces, sides []int, hide int) (better, exact bool) {
	was := b.copy()
	old := b.share(0)
	for k, s := range sides {
		// What lies on the sides to come is free, too.
		var pool []int
		for _, z := range append(slices.Clone(sides[k+1:]), s) {
			for _, i := range b.sets[z] {
				b.out = with(b.out, i)
			}
			b.sets[z] = nil
		}
		for _, i := range b.out {
			_, in := slices.BinarySearch(pieces, i)
			if in && b.p.allowed([]int{i}, s+1) && b.ends([]int{i}, s) {
				pool = append(pool, i)
			}
		}
		for range hide {
			if k == 0 && len(pool) > 0 {
				z := b.rng.IntN(len(pool))
				pool = slices.Delete(pool, z, z+1)
			}
		}
		set, known, ok := b.bestOf(pool, b.sides[s].Capacity, s)
		if exact = known; !ok || !b.fits(set, s) {
			b.sets, b.out = was.sets, was.out
			return false, false
		}
		for _, i := range set {
			b.out = without(b.out, i)
		}
		b.sets[s] = set
	}
	better = b.p.Aim.compare(b.share(0), old) > 0
	for _, i := range b.out {
		better = better && (!b.held[i] || slices.Contains(was.out, i))
	}
	if !better {
		b.sets, b.out = was.sets, was.out
	}
	return better, exact
}

// bestOf is the best choice of pieces for a side of its own, this number or
// none: that from a list in the order of gaps.
func (b *board) bestOf(pool []int, capacity Millis, s int) (set []int, exact, ok bool) {
	pool = slices.Clone(pool)
	slices.SortStableFunc(pool, func(i, j int) int {
		x, y := &b.p.Pieces[i], &b.p.Pieces[j]
		return cmp.Or(
			truth(x.Closes != Nothing)-truth(y.Closes != Nothing),
			truth(y.Opens != Nothing)-truth(x.Opens != Nothing),
			cmp.Compare(x.Gap, y.Gap))
	})
	q := Problem{Aim: b.p.Aim, Kinds: []Kind{{Sides: []Side{{Capacity: capacity}}}}}
	stays := make([]bool, len(pool))
	for k, i := range pool {
		x := Piece{Length: b.p.Pieces[i].Length, Gap: b.p.Pieces[i].Gap, Must: b.held[i]}
		if s >= 0 {
			if b.p.Pieces[i].Opens != Nothing {
				x.Opens = OfSide
			}
			if b.p.Pieces[i].Closes != Nothing {
				x.Closes = OfSide
			}
			_, on := slices.BinarySearch(b.sets[s], i)
			x.Must = x.Must && on
		}
		stays[k] = x.Must
		q.Pieces = append(q.Pieces, x)
	}
	t, known := newParts(b.e, &q, stays, 0)
	if t == nil {
		return nil, false, false
	}
	t.width = len(pool)
	c := t.look(&table{view: view{capacity: capacity}}, 0, len(pool), firstFrontier)
	for _, k := range c.list {
		set = append(set, pool[k])
	}
	slices.Sort(set)
	return set, known && c.exact, c.ok
}

// asOne bounds what can be kept of pieces with different gaps, were the sides
// one; each but the last would give back the widest gap, too.
func (b *board) asOne(pieces []int) (Share, bool) {
	var capacity, widest int64
	for _, side := range b.sides {
		capacity += int64(side.Capacity)
	}
	for _, i := range pieces {
		widest = max(widest, int64(b.p.Pieces[i].Gap))
	}
	capacity += b.more + widest*int64(len(b.sides)-1)
	if capacity > int64(Longest) {
		return Share{}, false
	}
	set, exact, ok := b.bestOf(pieces, Millis(capacity), -1)
	return b.p.shareOf(set), ok && exact
}

// shareOf is the share that pieces have.
func (p *Problem) shareOf(set []int) (s Share) {
	for _, i := range set {
		s.Songs += p.Pieces[i].songs()
		s.Time += p.Pieces[i].Length
	}
	return s
}

// fractional bounds the playing time of these pieces that can be kept, were the
// sides one and pieces divisible: those first that have the least gap for their
// length (G. B. Dantzig, Operations Research 5, 1957).
func (b *board) fractional(pieces []int) Millis {
	room, top := b.more, b.more
	for _, side := range b.sides {
		room += int64(side.Capacity)
		top = max(top, b.more+int64(side.Capacity))
	}
	var kept int64
	var list []*Piece
	var gaps []int64
	for _, i := range pieces {
		q := &b.p.Pieces[i]
		gaps = append(gaps, int64(q.Gap))
		if b.held[i] {
			kept += int64(q.Length)
			room -= int64(q.Length + q.Gap)
		} else if int64(q.Length) <= top {
			list = append(list, q)
		}
	}
	slices.Sort(gaps) // the widest are given back
	for k := range min(len(b.sides), len(gaps)) {
		room += max(0, gaps[len(gaps)-1-k])
	}
	slices.SortStableFunc(list, func(x, y *Piece) int {
		return cmp.Compare(int64(x.Gap)*int64(y.Length), int64(y.Gap)*int64(x.Length))
	})
	for _, q := range list {
		w := int64(q.Length + q.Gap)
		if w > room {
			// Longest squared goes into 64 bits.
			kept += (max(0, room)*int64(q.Length) + w - 1) / w
			break
		}
		kept += int64(q.Length)
		room -= w
	}
	return Millis(kept)
}
