package fit

import (
	"cmp"
	"slices"
)

// measure says by what a walk goes.
type measure int

const (
	byFound measure = iota // by what was found
	byBound                // by the bound on it
	byAll                  // and on stretches that are longer than the width
)

// walk gives for each number of sides the most that they can keep of the first
// j items.
func (t *parts) walk(row []*table, by measure) [][]int64 {
	n := len(t.items)
	best := [][]int64{make([]int64, n+1)}
	for j := range n {
		best[0][j+1] = nothing
	}
	for s, x := range row {
		now := make([]int64, n+1)
		far := int64(nothing) // the best that begins farther back than the width
		for j := range now {
			most := int64(nothing)
			if i := j - t.width - 1; i >= 0 && by == byAll {
				far = max(far, best[s][i])
				most = far + x.all
			}
			for i := max(0, j-t.width); i <= j; i++ {
				c := t.at(x, i, j)
				v := c.found
				if by != byFound {
					v = c.most
				}
				most = max(most, best[s][i]+v)
			}
			now[j] = orNothing(most)
		}
		best = append(best, now)
	}
	return best
}

func orNothing(v int64) int64 {
	if v < nothing/2 {
		return nothing
	}
	return v
}

// rest gives, for each number of sides gone by, a bound on what the others can
// keep of the items from i on.
func (t *parts) rest(row []*table) [][]int64 {
	n, m := len(t.items), len(row)
	best := make([][]int64, m+1)
	best[m] = slices.Repeat([]int64{nothing}, n+1)
	best[m][n] = 0
	for s := m - 1; s >= 0; s-- {
		x := row[s]
		best[s] = make([]int64, n+1)
		far := int64(nothing)
		for i := n; i >= 0; i-- {
			most := int64(nothing)
			if j := i + t.width + 1; j <= n {
				far = max(far, best[s+1][j])
				most = far + x.all
			}
			for j := i; j <= min(n, i+t.width); j++ {
				most = max(most, t.at(x, i, j).most+best[s+1][j])
			}
			best[s][i] = orNothing(most)
		}
	}
	return best
}

// doubt is a stretch that was not looked at and may be part of the best answer.
type doubt struct {
	most int64 // bound on the whole answer
	x    *table
	i, j int
}

// doubts lists the stretches that an answer as good as this may have.
func (t *parts) doubts(row []*table, ahead, back [][]int64, floor int64) (list []doubt) {
	n := len(t.items)
	sides := map[*table][]int{}
	for s, x := range row {
		sides[x] = append(sides[x], s)
	}
	for s, x := range row {
		if sides[x][0] != s {
			continue
		}
		for i := range n + 1 {
			for j := i; j <= min(n, i+t.width); j++ {
				c := t.at(x, i, j)
				if c.looked || c.most <= nothing {
					continue
				}
				most := int64(nothing)
				for _, s := range sides[x] {
					most = max(most, ahead[s][i]+back[s+1][j])
				}
				if most += c.most; most >= floor && most > nothing/2 {
					list = append(list, doubt{most, x, i, j})
				}
			}
		}
	}
	return list
}

// settle looks at stretches until it is known what the sides can keep, or the
// effort is spent. It gives what was found and a bound; final says that no
// stretch is left that could do as well. What is worse than floor is not asked
// for.
func (t *parts) settle(row []*table, floor int64) (found, bound int64, final bool) {
	n, m := len(t.items), len(row)
	pass := t.pass(m)
	tied := int64(-1) // the effort left when only ties were left
	for {
		near := t.walk(row, byBound)
		ahead := near
		if t.width < n {
			ahead = t.walk(row, byAll)
		}
		found, bound = t.walk(row, byFound)[m][n], ahead[m][n]
		floor = max(floor, found)
		open := t.doubts(row, ahead, t.rest(row), floor)
		if !t.e.spend(1+pass) || len(open) == 0 && (bound <= floor || t.most == lastFrontier) {
			return found, bound, len(open) == 0 && bound <= floor
		}
		if len(open) == 0 { // what was passed over matters
			t.most *= 8
			for _, x := range t.tables {
				for k := range x.cell {
					c := &x.cell[k]
					c.looked = c.looked && c.found == c.most
				}
			}
			continue
		}
		if found == bound {
			if tied < 0 {
				tied = t.e.left
			}
			if t.e.left < tied*3/4 {
				return found, bound, false
			}
		}
		// Of those as promising, the ones of usual length first.
		usual := n / m
		slices.SortStableFunc(open, func(a, b doubt) int {
			return cmp.Or(cmp.Compare(b.most, a.most),
				cmp.Compare(distance(int64(a.j-a.i), int64(usual)), distance(int64(b.j-b.i), int64(usual))))
		})
		stop := t.e.left - max(pass, 200)
		for _, d := range append(t.path(row, near), open...) {
			if t.e.left < stop {
				break
			}
			if !t.at(d.x, d.i, d.j).looked {
				t.try(d.x, d.i, d.j)
			}
		}
	}
}

// path lists the stretches of an answer that is as good as the bound.
func (t *parts) path(row []*table, ahead [][]int64) (list []doubt) {
	j := len(t.items)
	for s := len(row) - 1; s >= 0; s-- {
		i := j
		for ; i >= max(0, j-t.width); i-- {
			if c := t.at(row[s], i, j); ahead[s][i]+c.most == ahead[s+1][j] {
				list = append(list, doubt{0, row[s], i, j})
				break
			}
		}
		if j = i; j < 0 {
			break
		}
	}
	return list
}

// pass is what a walk over the stretches costs, there and back.
func (t *parts) pass(sides int) int64 {
	return int64(sides) * int64(len(t.items)) * int64(t.width) / 70
}

// used is the time taken on a side by what was found for a stretch.
func (t *parts) used(c *stretch, i, j int) Millis {
	s := t.worth.share(c.found)
	n := int(c.pieces) + t.musts[j] - t.musts[i]
	return s.Time + Millis(t.fixed[j]-t.fixed[i]) + Millis(t.gap*int64(max(0, n-1)))
}

// cut chooses the stretches that keep this much on a row of sides, with the
// least faded and then with blank tape best placed.
func (t *parts) cut(row []*table, sides []Side, want int64) (cuts []int, faded Millis, ok bool) {
	type cell struct {
		worth int64
		faded Millis
		blank Blank
		from  int
	}
	n, m := len(t.items), len(row)
	table := [][]cell{slices.Repeat([]cell{{worth: nothing}}, n+1)}
	table[0][0].worth = 0
	for s, x := range row {
		now := slices.Repeat([]cell{{worth: nothing}}, n+1)
		for j := range now {
			for i := max(0, j-t.width); i <= j; i++ {
				c, b := t.at(x, i, j), &table[s][i]
				if b.worth <= nothing || c.found <= nothing || b.worth+c.found < now[j].worth {
					continue
				}
				left := sides[s].Capacity - t.used(c, i, j)
				z := cell{b.worth + c.found, b.faded - min(0, left), b.blank.plus(t.p.Spare.blank(s, m, max(0, left))), i}
				if y := &now[j]; z.worth > y.worth || cmp.Or(cmp.Compare(z.faded, y.faded), z.blank.compare(y.blank)) < 0 {
					*y = z
				}
			}
		}
		table = append(table, now)
	}
	if table[m][n].worth != want {
		return nil, 0, false
	}
	cuts = make([]int, m+1)
	cuts[m] = n
	for s := m; s > 0; s-- {
		cuts[s-1] = table[s][cuts[s]].from
	}
	return cuts, table[m][n].faded, true
}

// choice lists the pieces that make up what was found for a stretch.
func (t *parts) choice(x *table, i, j int) []int {
	for want := t.at(x, i, j).found; i < j; {
		if c := t.at(x, i+1, j); !t.items[i].must && c.found == want {
			i++
		} else if c := t.at(x, i, j-1); !t.items[j-1].must && c.found == want {
			j--
		} else {
			break
		}
	}
	return t.look(x, i, j, int(t.at(x, i, j).frontier)).list
}
