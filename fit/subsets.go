package fit

import (
	"cmp"
	"math/bits"
	"slices"
)

// smallest is how many pieces bySubsets takes: 3 to the power of it steps a side.
const smallest = 11

// bySubsets looks at every set of pieces on every side: dynamic programming
// over subsets (M. Held and R. M. Karp, Journal of SIAM 10, 1962). It knows
// every rule and every point of what is better, and it is the yardstick of
// the other methods.
func bySubsets(e *effort, p Problem, sides []Side) result {
	n, m := len(p.Pieces), len(sides)
	size := 1 << n
	type cell struct {
		ok    bool
		blank Blank
		stirs int64
		mine  int // the set on this side
	}
	table := make([][]cell, m)
	orders := make([]map[int][]int, m)
	before := make([]cell, size)
	before[0].ok = true
	for s, side := range sides {
		fits := make([]cell, size) // a set on this side alone
		orders[s] = map[int][]int{}
		for set := range size {
			list, ok := p.lay(elements(set), side)
			if ok {
				orders[s][set] = list
				fits[set] = cell{true, p.Spare.blank(s, m, side.Capacity-p.Used(list)), stirs(list), set}
			}
		}
		now := make([]cell, size)
		for set := range size {
			for mine := set; ; mine = (mine - 1) & set {
				rest := set &^ mine
				follows := p.Order != Keep || mine == 0 || rest < mine&-mine
				if follows && fits[mine].ok && before[rest].ok {
					b := before[rest].blank.plus(fits[mine].blank)
					n := before[rest].stirs + fits[mine].stirs
					if was := now[set]; !was.ok || cmp.Or(b.compare(was.blank), cmp.Compare(n, was.stirs)) < 0 {
						now[set] = cell{true, b, n, mine}
					}
				}
				if mine == 0 {
					break
				}
			}
		}
		e.spend(int64(size) / 16)
		table[s], before = now, now
	}
	best, at := Answer{}, -1
	var lists [][]int
	for set := range size {
		if !before[set].ok {
			continue
		}
		out := make([][]int, m)
		for s, rest := m-1, set; s >= 0; s-- {
			mine := table[s][rest].mine
			out[s] = orders[s][mine]
			rest &^= mine
		}
		a := p.answer([]int{0}, out)
		if at < 0 || p.better(a, best) {
			best, at, lists = a, set, out
		}
	}
	return result{sides: lists, proved: true}
}

// elements lists the numbers in a set, ascending.
func elements(set int) []int {
	list := make([]int, 0, bits.OnesCount(uint(set)))
	for ; set != 0; set &= set - 1 {
		list = append(list, bits.TrailingZeros(uint(set)))
	}
	return list
}

// lay puts a set, ascending, in its best running order on a side and tells
// whether it fits at all. Where the given order is too long, the piece with
// the greatest gap goes last, as the last gap is given back.
func (p Problem) lay(set []int, side Side) ([]int, bool) {
	if p.Used(set) <= side.Capacity {
		return set, true
	}
	if p.Order == Keep {
		return nil, false
	}
	// From the end: the fewest pairs swapped.
	for k := len(set) - 2; k >= 0; k-- {
		list := append(slices.Delete(slices.Clone(set), k, k+1), set[k])
		if p.Used(list) <= side.Capacity {
			return list, true
		}
	}
	return nil, false
}
