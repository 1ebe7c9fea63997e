package fit

import "slices"

// Moved lists the pieces of an answer that are out of the given order: the
// fewest whose removal leaves the rest rising, by number. Sides are read on as
// one line. Of several such sets it is always the same one.
func (a Answer) Moved() []int {
	var line []int
	for _, t := range a.Tapes {
		for _, list := range t.Sides {
			line = append(line, list...)
		}
	}
	// The longest rising subsequence stays (C. Schensted, Canadian Journal of
	// Mathematics 13, 1961), kept with links to the piece before.
	var ends []int // ends[k]: where in line the least end of a rise of k+1 stands
	before := make([]int, len(line))
	for at, i := range line {
		k, _ := slices.BinarySearchFunc(ends, i, func(e, i int) int { return line[e] - i })
		before[at] = -1
		if k > 0 {
			before[at] = ends[k-1]
		}
		if k == len(ends) {
			ends = append(ends, at)
		} else {
			ends[k] = at
		}
	}
	stays := make([]bool, len(line))
	if n := len(ends); n > 0 {
		for at := ends[n-1]; at >= 0; at = before[at] {
			stays[at] = true
		}
	}
	var moved []int
	for at, i := range line {
		if !stays[at] {
			moved = append(moved, i)
		}
	}
	slices.Sort(moved)
	return moved
}
