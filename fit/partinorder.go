package fit

import "slices"

// partInOrder keeps the best part of a list whose order is given, on sides
// that cannot hold all of it. Each side takes the best part of a stretch of
// the list; where the stretches meet is chosen by dynamic programming.
func partInOrder(e *effort, p Problem, sides []Side) result {
	t, ok := newStretches(e, p, sides)
	if !ok {
		return result{sides: make([][]int, len(sides))}
	}
	return t.solve(e)
}

// stretches is a list of pieces with the same gap after each, scaled to the
// greatest unit that divides all of it.
type stretches struct {
	p     Problem
	sides []Side
	unit  int64
	exact bool // all gaps are the same
	gap   int64
	time  []int64
	index []int   // of each piece in the problem
	cap   []int64 // of each side
}

func newStretches(e *effort, p Problem, sides []Side) (*stretches, bool) {
	t := &stretches{p: p, sides: sides}
	top := Millis(0)
	for _, side := range sides {
		top = max(top, side.Capacity)
	}
	t.gap, t.exact = leastGap(p.Pieces, int64(top))
	for i, q := range p.Pieces {
		if v := int64(q.Length) + int64(q.Gap) - t.gap; q.Length <= top {
			t.unit = gcd(t.unit, v)
			t.time = append(t.time, v)
			t.index = append(t.index, i)
		}
	}
	t.unit = max(1, gcd(t.unit, max(t.gap, -t.gap)))
	for i := range t.time {
		t.time[i] /= t.unit
	}
	t.gap /= t.unit
	var words int64
	for _, side := range sides {
		c := int64(side.Capacity) / t.unit
		t.cap = append(t.cap, c)
		words = max(words, countedWords(c, t.gap, t.pieces(c)))
	}
	cost := words * int64(len(t.time)) * int64(len(sides)) / 2000
	if len(sides) > 2 {
		cost *= int64(len(t.time))
	}
	if words > mostWords || cost > e.left {
		return nil, false
	}
	e.spend(cost)
	return t, true
}

// pieces is how many of the shortest pieces a side can hold.
func (t *stretches) pieces(capacity int64) int {
	s := slices.Sorted(slices.Values(t.time))
	used := int64(0)
	for k, v := range s {
		if used += v; used > capacity {
			return k
		}
		used += t.gap
	}
	return len(s)
}

// best is the best share for every stretch that starts (or, backwards, ends)
// at a given place: best[k] is of k pieces from there.
func (t *stretches) best(s int, times []int64, aim Aim) []Share {
	c := newCounted(t.cap[s], t.gap, t.pieces(t.cap[s]))
	out := []Share{{}}
	for _, v := range times {
		c.add(v)
		out = append(out, c.best(aim))
	}
	return out
}

func (t *stretches) solve(e *effort) result {
	n, m := len(t.time), len(t.sides)
	aim := t.p.Aim
	type cell struct {
		ok    bool
		share Share
		blank Blank
		from  int
		mine  Share
	}
	better := func(x, y cell) bool {
		if c := aim.compare(x.share, y.share); c != 0 || !y.ok {
			return c > 0 || !y.ok
		}
		return x.blank.compare(y.blank) < 0
	}
	join := func(x cell, s, from int, mine Share) cell {
		used := int64(mine.Time) + t.gap*int64(max(0, mine.Pieces-1))
		b := t.sides[s].Capacity - Millis(used*t.unit)
		return cell{true, Share{x.share.Pieces + mine.Pieces, x.share.Time + mine.Time},
			x.blank.plus(t.p.Spare.blank(s, m, b)), from, mine}
	}
	row := make([]cell, n+1)
	row[0].ok = true
	table := make([][]cell, m)
	for s := range m {
		now := make([]cell, n+1)
		switch {
		case s == m-1:
			back := slices.Clone(t.time)
			slices.Reverse(back)
			for k, mine := range t.best(s, back, aim) {
				if j := n - k; row[j].ok {
					if x := join(row[j], s, j, mine); better(x, now[n]) {
						now[n] = x
					}
				}
			}
		default:
			for j, c := range row {
				if !c.ok {
					continue
				}
				for k, mine := range t.best(s, t.time[j:], aim) {
					if x := join(c, s, j, mine); better(x, now[j+k]) {
						now[j+k] = x
					}
				}
			}
		}
		table[s], row = now, now
	}
	out := make([][]int, m)
	for s, k := m-1, n; s >= 0; s-- {
		c := table[s][k]
		list, ok := pick(t.time[c.from:k], c.mine)
		if !ok {
			return result{sides: make([][]int, m)}
		}
		for _, i := range list {
			out[s] = append(out[s], t.index[i+c.from])
		}
		k = c.from
	}
	return result{sides: out, proved: t.exact}
}
