package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// excess is the sums that k of the pieces can have, as what they are over that of
// the k shortest, or under that of the k longest: dynamic programming over the
// pieces, the shortest first, or the longest. As the one after c others a piece
// adds what it is off the c-th of all, which is never less than nothing, so that
// only sums within the room asked for need a place.
type excess struct {
	order []int    // pieces, the shortest first, or the longest
	rows  [][]sums // after so many pieces, so many of which are chosen
	unit  int64
	base  int64 // the sum of the first k
	sign  int64 // 1: what is over it; -1: under
}

// mostExcess bounds the table: 64 MB.
const mostExcess = 8 << 20

// newExcess looks at the sums of k pieces between two limits; nil where these are
// too many.
func (t *pair) newExcess(e *effort, k int, least, most int64, b *bounds) *excess {
	n := len(t.size)
	unit := b.unit
	x := &excess{order: run(0, n), unit: unit, base: b.low[k], sign: 1}
	room := (most - b.low[k]) / unit
	if r := (b.high[k] - least) / unit; r < room {
		x.sign, x.base, room = -1, b.high[k], r
	}
	words := (room/64 + 1) * int64(k+1) * int64(n+1)
	if room < 0 || words > mostExcess || !e.spend(words/500) {
		return nil
	}
	slices.SortStableFunc(x.order, func(i, j int) int { return cmp.Compare(x.sign*t.size[i], x.sign*t.size[j]) })
	row := make([]sums, k+1)
	row[0] = newSums(room)
	row[0][0] = 1
	x.rows = append(x.rows, row)
	for at, i := range x.order {
		next := make([]sums, k+1)
		for c := range row {
			if row[c] != nil && !t.fixed[i] {
				next[c] = slices.Clone(row[c])
			}
			if c > 0 && row[c-1] != nil && t.pin[i] <= 1 {
				add := x.sign * (t.size[i] - t.size[x.order[c-1]]) / unit
				if add > room {
					continue
				}
				if next[c] == nil {
					next[c] = newSums(room)
				}
				next[c].orShifted(row[c-1], add)
			}
		}
		for c := range next { // too few are left
			if c+n-1-at < k {
				next[c] = nil
			}
		}
		row = next
		x.rows = append(x.rows, row)
	}
	return x
}

// most is the greatest sum up to a limit; ok is false where there is none.
func (x *excess) most(k int, limit int64) (int64, bool) {
	row := x.rows[len(x.order)][k]
	if row == nil {
		return 0, false
	}
	if x.sign > 0 {
		v, ok := row.atMost((limit - x.base) / x.unit)
		return x.base + v*x.unit, ok
	}
	v, ok := row.atLeast((x.base - limit + x.unit - 1) / x.unit)
	return x.base - v*x.unit, ok
}

// draw is a choice of k pieces with this sum, one of those at random.
func (x *excess) draw(t *pair, rng *rand.Rand, k int, sum int64) (list []int) {
	v := x.sign * (sum - x.base) / x.unit
	for at := len(x.order); k > 0; at-- {
		i := x.order[at-1]
		row := x.rows[at-1]
		skip := !t.fixed[i] && row[k] != nil && row[k].has(v)
		w := v - x.sign*(t.size[i]-t.size[x.order[k-1]])/x.unit
		take := t.pin[i] <= 1 && row[k-1] != nil && row[k-1].has(w)
		if take && (!skip || rng.IntN(2) == 0) {
			list = append(list, i)
			k--
			v = w
		}
	}
	slices.Sort(list)
	return list
}

// bySums brings the bound for so many pieces in all down to the sums that they
// can have, and parts choices with just that.
func (t *pair) bySums(e *effort, rng *rand.Rand, c counts, b *bounds, best *split) bool {
	n := c.a + c.b
	goal := b.time(c)
	least, worth := t.better(c, goal, best)
	if !worth {
		return true
	}
	x, seen := b.sums[n]
	if !seen {
		x = t.newExcess(e, n, max(least, b.low[n]), goal, b)
		b.sums[n] = x
	}
	if x == nil {
		return false
	}
	goal, ok := x.most(n, goal)
	if b.tight(n, goal); !ok {
		b.tight(n, -1)
	}
	if _, worth := t.better(c, goal, best); !ok || !worth {
		return true // none has as much
	}
	limA, _ := b.side(0, c.a)
	limB, _ := b.side(1, c.b)
	for try := range 60 {
		reached := t.aim.compare(best.share, Share{n, Millis(goal)}) >= 0
		if reached && (try > 20 || best.blank.compare(b.floor(n, goal)) <= 0) || !e.spend(400) {
			break
		}
		t.partDrawn(rng, x.draw(t, rng, n, goal), c, b.want(c, goal, limA, limB), best)
	}
	return t.aim.compare(best.share, Share{n, Millis(goal)}) >= 0
}
