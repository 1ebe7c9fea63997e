package fit

import (
	"cmp"
	"slices"
)

// inOrder solves long lists whose order is given: only the side breaks are
// chosen, and what to leave out when not all fits.
func inOrder(e *effort, p *Problem) (Answer, bool) {
	all := run(p.within())
	wanted := slices.DeleteFunc(slices.Clone(all), func(i int) bool { return p.Pieces[i].Reserve > 0 && !p.Pieces[i].Must })
	atLeast := p.fewest(wanted)
	top := p.top()
	var best Answer
	any, fewest, faded := false, false, false
	every := true // row of fewer tapes was looked at
	for tapes := max(1, len(p.Given), atLeast, p.nextFit(wanted)); tapes <= top && !any; tapes++ {
		looked := 0
		p.rows(tapes, func(kinds []int) bool {
			sides, _ := p.row(kinds)
			e.spend(int64(len(sides)) + 1)
			if cuts, ok := p.breaks(wanted, sides); ok {
				a := p.answer(kinds, cutAt(wanted, cuts), nil)
				if len(a.Tapes) == tapes && (!any || p.better(a, best)) {
					best, any = a, true
				}
			}
			looked++
			return looked < mostRows && !e.spent()
		})
		every = every && looked < mostRows
		if any {
			if fewest = every && !p.reservesPart(); fewest {
				atLeast = tapes
			}
			best.Proved = fewest && len(wanted) == len(all)
		}
	}
	if !any || len(wanted) < len(all) {
		var rows [][]int
		exact := true
		if any { // reserves fill the tapes that the wanted pieces need
			rows = [][]int{nil}
			for _, t := range best.Tapes {
				rows[0] = append(rows[0], t.Kind)
			}
			exact = fewest && p.oneRow()
		} else {
			roomy := p.roomiest(top)
			if exact = p.rows(len(roomy), func(kinds []int) bool {
				rows = append(rows, kinds)
				return len(rows) < mostRows
			}); !exact {
				rows = [][]int{roomy}
			}
			// The roomiest first: it may leave the others nothing to better.
			room := func(kinds []int) (all Millis) {
				sides, _ := p.row(kinds)
				for _, s := range sides {
					all += s.Capacity
				}
				return all
			}
			slices.SortStableFunc(rows, func(a, b []int) int { return cmp.Compare(room(b), room(a)) })
		}
		all, bound := any, Share{}
		faded = !all
		for r, kinds := range rows {
			mine := &effort{ctx: e.ctx, left: e.left / int64(len(rows)-r)}
			if r == 0 {
				mine.left = max(mine.left, e.left/2)
			}
			left := mine.left
			k := p.keep(mine, kinds, all, best.Score.Wanted)
			e.spend(left - mine.left)
			e.cut = e.cut || mine.cut
			exact = exact && k.proved
			if p.Aim.compare(k.bound, bound) > 0 {
				bound = k.bound
			}
			if !k.ok {
				continue
			}
			a := p.answer(kinds, k.lists, k.fades)
			if !any || p.better(a, best) {
				best, any = a, true
			}
			faded = faded && k.whole
		}
		best.Proved = exact && any
		if best.most = bound; best.Proved || any && all {
			best.most = best.Score.Wanted
		}
	}
	if !any {
		return Answer{}, false
	}
	if !faded {
		best = p.fadeIn(e, best)
	}
	best.AtLeast = p.least(best, atLeast)
	return best, true
}

// reservesPart tells whether a reserve between two wanted pieces can make a
// running order possible that these alone do not have.
func (p *Problem) reservesPart() bool {
	return len(p.ranks()) > 0 && (p.Apart > 0 || p.tight())
}

// mostRows is how many rows of tapes of several kinds are looked at.
const mostRows = 200

// within is the part of the list that can have a place where the order is
// given: nothing goes before a piece that must be placed and opens everything,
// nothing after one that closes everything.
func (p *Problem) within() (from, to int) {
	to = len(p.Pieces)
	for i, q := range p.Pieces {
		if q.Must && q.Opens == OfAll {
			from = i
		}
		if q.Must && q.Closes == OfAll && to == len(p.Pieces) {
			to = i + 1
		}
	}
	return from, max(from, to)
}

// nextFit is how many tapes the given order needs where there is one kind and
// no rule: each side as far as it goes, which no other breaks better. It is 1
// where it cannot tell.
func (p *Problem) nextFit(list []int) int {
	if len(p.Kinds) > 1 || len(p.Given) > 0 {
		return 1
	}
	sides := p.Kinds[0].Sides
	side := 0
	var used Millis
	for k, i := range list {
		q := &p.Pieces[i]
		if q.Gap < 0 || q.Side > 0 || q.Opens != Nothing || q.Closes != Nothing || q.NotThin || p.Apart > 0 && q.grouped() {
			return 1
		}
		for first := true; ; first = false {
			more := q.Length
			if used > 0 {
				more += p.Pieces[list[k-1]].Gap
			}
			if used+more <= sides[side%len(sides)].Capacity {
				used += more
				break
			}
			if !first && used == 0 && side%len(sides) == 0 {
				return len(p.Pieces) + 1 // longer than any side, or nearly
			}
			side++
			used = 0
		}
		if side > len(sides)*len(p.Pieces) {
			return len(p.Pieces) + 1
		}
	}
	return side/len(sides) + 1
}

// fewest is a number of tapes that these pieces cannot do without, by what
// they need in all.
func (p *Problem) fewest(pieces []int) int {
	var need int64
	gap, _ := leastGap(p.Pieces)
	for _, i := range pieces {
		need += int64(p.Pieces[i].Length) + min(int64(p.Pieces[i].Gap), gap)
	}
	roomy := p.roomiest(p.top())
	for t := range roomy {
		if t+1 < len(p.Given) {
			continue
		}
		if p.holds(roomy[:t+1], gap) >= need {
			return t + 1
		}
	}
	return len(roomy) + 1
}

// breaks places a whole list in its order: side s takes list[cuts[s]] to
// list[cuts[s+1]-1], with blank tape best placed. It is dynamic programming
// over places in the list, and exact under every rule: a side holds a stretch
// of the list, and the rules are about one side.
func (p *Problem) breaks(list []int, sides []Side) (cuts []int, ok bool) {
	n, m := len(list), len(sides)
	type cell struct {
		ok    bool
		blank Blank
	}
	row := make([]cell, n+1)
	row[0].ok = true
	from := make([][]int32, m)
	for s, side := range sides {
		now := make([]cell, n+1)
		from[s] = make([]int32, n+1)
		for j, c := range row {
			if !c.ok {
				continue
			}
			var used Millis // where the last piece ends
			for k := j; ; k++ {
				if used <= side.Capacity {
					b := c.blank.plus(p.Spare.blank(s, m, side.Capacity-used))
					if !now[k].ok || b.compare(now[k].blank) < 0 {
						now[k] = cell{true, b}
						from[s][k] = int32(j)
					}
				}
				if k == n {
					break
				}
				q := &p.Pieces[list[k]]
				if k > j {
					before := &p.Pieces[list[k-1]]
					if q.Opens != Nothing || before.Closes != Nothing {
						break
					}
					over := before.overlap()
					if over > q.firm() || k > j+1 && p.Pieces[list[k-2]].overlap()+over > before.firm() || over > before.firm() {
						break
					}
					used += before.Gap
				}
				used += q.Length
				if used > side.Capacity { // no later piece ends before this one
					break
				}
				if q.Side > 0 && q.Side != s+1 || q.Opens == OfAll && k > 0 || q.Closes == OfAll && k < n-1 ||
					side.Begun > 0 && q.Opens != Nothing || p.tooNearBefore(side, list[j:k], list[k]) ||
					q.NotThin && side.ThinFrom > 0 && used > side.ThinFrom || p.crowded(list[j:k], list[k]) >= 0 {
					break
				}
			}
		}
		row = now
	}
	if !row[n].ok {
		return nil, false
	}
	cuts = make([]int, m+1)
	cuts[m] = n
	for s, k := m-1, n; s >= 0; s-- {
		k = int(from[s][k])
		cuts[s] = k
	}
	return cuts, true
}

// crowded gives the latest place in a list whose piece is too near the next for
// their groups; -1: none.
func (p *Problem) crowded(list []int, next int) int {
	q := &p.Pieces[next]
	if p.Apart == 0 || !q.grouped() {
		return -1
	}
	between := 0 // tracks
	for back := len(list) - 1; back >= 0 && between < p.Apart; back-- {
		x := &p.Pieces[list[back]]
		for k := x.tracks() - 1; k >= 0; k-- {
			for t := range q.tracks() {
				if g := q.group(t); g != 0 && g == x.group(k) && between+t < p.Apart {
					return back
				}
			}
			between++
		}
	}
	return -1
}

func cutAt(list, cuts []int) [][]int {
	var out [][]int
	for s := range len(cuts) - 1 {
		out = append(out, slices.Clone(list[cuts[s]:cuts[s+1]]))
	}
	return out
}

// fewestFit is how many of the shortest fit, and no more of any do.
func fewestFit(times []int64, capacity, gap int64) int {
	used := int64(0)
	for k, v := range slices.Sorted(slices.Values(times)) {
		if used += v; used > capacity {
			return k
		}
		used += gap
	}
	return len(times)
}
