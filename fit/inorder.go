package fit

import "slices"

// inOrder chooses the side breaks of a list whose order is given. If all of it
// fits, the breaks follow by dynamic programming over places in the list;
// otherwise each side takes the best part of a stretch of it.
func inOrder(e *effort, p Problem, sides []Side) result {
	if cuts, ok := breaks(p, sides); ok {
		out := make([][]int, len(sides))
		for s := range sides {
			out[s] = run(cuts[s], cuts[s+1])
		}
		return result{sides: out, proved: true}
	}
	return partInOrder(e, p, sides)
}

// breaks places the whole list: side s takes pieces cuts[s] to cuts[s+1]-1,
// with blank tape best placed.
func breaks(p Problem, sides []Side) (cuts []int, ok bool) {
	n, m := len(p.Pieces), len(sides)
	type cell struct {
		ok    bool
		blank Blank
		from  int
	}
	row := make([]cell, n+1)
	row[0].ok = true
	table := make([][]cell, m)
	for s, side := range sides {
		now := make([]cell, n+1)
		for j, c := range row {
			if !c.ok {
				continue
			}
			var used Millis
			for k := j; ; k++ {
				b := c.blank.plus(p.Spare.blank(s, m, side.Capacity-used))
				if used <= side.Capacity && (!now[k].ok || b.compare(now[k].blank) < 0) {
					now[k] = cell{true, b, j}
				}
				if k == n {
					break
				}
				if k > j {
					used += p.Pieces[k-1].Gap
				}
				used += p.Pieces[k].Length
				// An overlap is at most the piece before it, so from here on no
				// stretch comes back under the capacity.
				if used-p.Pieces[k].Length > side.Capacity {
					break
				}
			}
		}
		table[s], row = now, now
	}
	if !row[n].ok {
		return nil, false
	}
	cuts = make([]int, m+1)
	cuts[m] = n
	for s, k := m-1, n; s >= 0; s-- {
		k = table[s][k].from
		cuts[s] = k
	}
	return cuts, true
}

func run(from, to int) []int {
	list := make([]int, 0, to-from)
	for i := from; i < to; i++ {
		list = append(list, i)
	}
	return slices.Clip(list)
}
