package fit

import (
	"cmp"
	"math/bits"
	"slices"
)

// How many pieces bySubsets takes: 3 to the power of it steps a side, and the
// square of it as many again where moves are counted.
const (
	smallest     = 11
	smallestNear = 9
)

// bySubsets looks at every set of pieces on every side: dynamic programming
// over subsets (M. Held and R. M. Karp, Journal of SIAM 10, 1962). It knows
// every rule and every point of what is better, and it is the yardstick of
// the other methods.
//
// Of answers with the same pieces, one with less faded comes first, or where
// stay is true one with fewer moved.
func bySubsets(e *effort, p *Problem, kinds []int, known map[Side][]laying, stay bool) (Answer, bool) {
	n := len(p.Pieces)
	marks := 1 // in order Near: the last piece not moved, counted from 1
	if p.Order == Near {
		marks = n + 1
	}
	sides, starts := p.row(kinds)
	m := len(sides)
	size := 1 << n
	tape := 0 // tapes before that which is looked at

	// A state is the pieces placed, whether this tape has one, and the mark.
	type cell struct {
		ok     bool
		faded  Millis
		stayed int
		blank  Blank
		cost   cost
		from   int32 // the state before
		mine   int32 // the set on this side
	}
	at := func(set, used, mark int) int { return (set*2+used)*marks + mark }
	better := func(x, y *cell) bool {
		first := 0
		if stay {
			first = cmp.Compare(y.stayed, x.stayed)
		}
		return !y.ok || cmp.Or(
			first,
			cmp.Compare(x.faded, y.faded),
			cmp.Compare(y.stayed, x.stayed),
			x.blank.compare(y.blank),
			x.cost.compare(y.cost)) < 0
	}
	type laid struct {
		laying
		add  cell
		stay [][]int32 // by mark: pairs of a later mark and what stays until it
	}
	var opensAll, closesAll int
	for i, q := range p.Pieces {
		if q.Opens == OfAll {
			opensAll |= 1 << i
		}
		if q.Closes == OfAll {
			closesAll |= 1 << i
		}
	}

	before := make([]cell, size*2*marks)
	before[at(0, 0, 0)].ok = true
	table := make([][]cell, m)
	sets := make([][]laid, m)
	for s, side := range sides {
		lays := make([]laid, size)
		all, ok := known[side]
		if !ok {
			if all, ok = p.layEvery(e, side); !ok {
				return Answer{}, false
			}
			known[side] = all
		}
		for set := range size {
			l := &lays[set]
			if l.laying = all[set]; !p.allowed(elements(set), s+1) {
				l.ok = false
			}
			if !l.ok {
				continue
			}
			used := p.Used(l.list)
			for _, f := range l.fades {
				l.add.faded += f.By
				used -= f.By
			}
			l.add.blank = p.Spare.blank(s, m, side.Capacity-used)
			l.add.cost = cost{0, stirs(l.list)}
			if p.Order == Free {
				l.add.cost.arc = p.offArc(l.list, side.Arc)
			}
			if marks > 1 {
				l.stay = stays(l.list, n)
			}
		}
		if s > 0 && starts[s] { // the tape before holds something, or is given
			tape++
			for set := range size {
				for mark := range marks {
					none, some := &before[at(set, 0, mark)], &before[at(set, 1, mark)]
					if tape > len(p.Given) || some.ok && better(some, none) {
						*none = *some
					}
					some.ok = false
				}
			}
		}
		now := make([]cell, size*2*marks)
		for set := range size {
			for mine := set; ; mine = (mine - 1) & set {
				rest := set &^ mine
				l := &lays[mine]
				if l.ok && (p.Order != Keep || mine == 0 || rest < mine&-mine) &&
					(rest == 0 || mine&opensAll == 0) && (mine == 0 || rest&closesAll == 0) {
					for used := range 2 {
						for mark := range marks {
							from := at(rest, used, mark)
							b := &before[from]
							if !b.ok {
								continue
							}
							x := cell{true, b.faded + l.add.faded, b.stayed, b.blank.plus(l.add.blank),
								cost{b.cost.arc + l.add.cost.arc, b.cost.stirs + l.add.cost.stirs}, int32(from), int32(mine)}
							u := used | truth(mine != 0)
							if y := &now[at(set, u, mark)]; better(&x, y) {
								*y = x
							}
							if marks == 1 {
								continue
							}
							for k := 0; k < len(l.stay[mark]); k += 2 {
								z := x
								z.stayed += int(l.stay[mark][k+1])
								if y := &now[at(set, u, int(l.stay[mark][k]))]; better(&z, y) {
									*y = z
								}
							}
						}
					}
				}
				if mine == 0 {
					break
				}
			}
		}
		if !e.spend(1 + int64(size)/16) {
			return Answer{}, false
		}
		table[s], before, sets[s] = now, now, lays
	}
	var best Answer
	any := false
	for set := range size {
		if p.missing(set) {
			continue
		}
		var end *cell
		state := 0
		for mark := range marks {
			for used := range 2 {
				if used == 0 && len(kinds) > len(p.Given) {
					continue
				}
				if c := &before[at(set, used, mark)]; c.ok && (end == nil || better(c, end)) {
					end, state = c, at(set, used, mark)
				}
			}
		}
		if end == nil {
			continue
		}
		out := make([][]int, m)
		var fades []Fade
		for s := m - 1; s >= 0; s-- {
			c := table[s][state]
			l := &sets[s][c.mine]
			out[s] = l.list
			fades = append(fades, l.fades...)
			state = int(c.from)
		}
		a := p.answer(kinds, out, fades)
		if !any || p.better(a, best) {
			best, any = a, true
		}
	}
	return best, any
}

// laying is a set of pieces in its best running order on a side.
type laying struct {
	ok    bool
	list  []int
	fades []Fade
}

// layEvery lays every set of a few pieces on a side.
func (p *Problem) layEvery(e *effort, side Side) ([]laying, bool) {
	all := make([]laying, 1<<len(p.Pieces))
	for set := range all {
		l := &all[set]
		list := elements(set)
		l.list, l.fades, l.ok = p.lay(list, side)
		if !e.spend(1 + int64(1)<<len(list)/16) {
			return nil, false
		}
	}
	return all, true
}

// elements lists the numbers in a set, ascending.
func elements(set int) []int {
	list := make([]int, 0, bits.OnesCount(uint(set)))
	for ; set != 0; set &= set - 1 {
		list = append(list, bits.TrailingZeros(uint(set)))
	}
	return list
}

// allowed tells whether all pieces may be on the side of this number.
func (p *Problem) allowed(set []int, number int) bool {
	begun := p.begun(number)
	for _, i := range set {
		q := &p.Pieces[i]
		if q.Side > 0 && q.Side != number || begun && q.Opens != Nothing {
			return false
		}
	}
	return true
}

// begun tells whether the side of this number was begun: only tapes given are.
func (p *Problem) begun(number int) bool {
	for _, k := range p.Given {
		sides := p.Kinds[k].Sides
		if number <= len(sides) {
			return sides[number-1].Begun > 0
		}
		number -= len(sides)
	}
	return false
}

// onBefore are the groups of what is on a side already, the latest first, as
// far as Apart looks back.
func (p *Problem) onBefore(side Side) []int {
	if side.Begun == 0 || p.Apart == 0 {
		return nil
	}
	g := slices.Clone(p.Begun[side.Begun-1].Groups)
	slices.Reverse(g)
	return g[:min(len(g), p.Apart)]
}

// tooNearBefore tells whether a piece that follows others on a side is too near
// to one of its group that is on the side already.
func (p *Problem) tooNearBefore(side Side, list []int, next int) bool {
	q := &p.Pieces[next]
	if side.Begun == 0 || p.Apart == 0 || !q.grouped() {
		return false
	}
	between := 0
	for _, i := range list {
		between += p.Pieces[i].tracks()
	}
	for t := range q.tracks() {
		for back, g := range p.onBefore(side) {
			if g != 0 && g == q.group(t) && between+t+back < p.Apart {
				return true
			}
		}
	}
	return false
}

// missing tells whether a set lacks a piece that must be placed.
func (p *Problem) missing(set int) bool {
	for i, q := range p.Pieces {
		if q.Must && set>>i&1 == 0 {
			return true
		}
	}
	return false
}

// stays gives for each mark, the last piece so far that was not moved counted
// from 1, the later marks that a side can lead to and the most pieces that
// stay in place until there.
func stays(list []int, n int) [][]int32 {
	out := make([][]int32, n+1)
	long := make([]int32, len(list))
	for mark := range out {
		for k, i := range list {
			long[k] = 0
			if i+1 <= mark {
				continue
			}
			long[k] = 1
			for b := range k {
				if j := list[b]; long[b] > 0 && j < i {
					long[k] = max(long[k], long[b]+1)
				}
			}
			out[mark] = append(out[mark], int32(i+1), long[k])
		}
	}
	return out
}
