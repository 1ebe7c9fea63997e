package bins

import "sort"

// covering is the exact-cover problem: of the sets of items that waste no more
// than there is to waste in all, those are sought that hold each item once.
// Where little may be wasted there are few such sets, and many an item is in
// hardly any; that with the fewest is placed first (D. E. Knuth, Dancing links,
// 2000). It is a complete search, for as long as its effort lasts.
type covering struct {
	e       Effort
	sets    [][]int32
	slack   []int64
	of      [][]int32 // of each item, the sets that it is in
	open    []int32   // of each item, how many of these can still be had; -1: placed
	blocked []int32   // of each set, how many of its items are placed
	chosen  []int32
	nodes   int64 // left to look at on the way to the sets
	work    int64 // left; negative when it is used up
}

const (
	mostSets   = 20_000
	mostLooked = 10_000_000 // nodes on the way to the sets
)

// cover packs all items into so many bins by exact cover or finds that there is
// no such packing, unless the sets are too many or the work runs out before.
func (p *packing) cover(bins int, work int64) (packed [][]int, none bool) {
	waste := int64(bins) * p.capacity
	for _, v := range p.size {
		waste -= v
	}
	if waste < 0 {
		return nil, true
	}
	n := len(p.size)
	c := &covering{e: p.e, of: make([][]int32, n), open: make([]int32, n), nodes: mostLooked, work: work}
	ok := c.list(p.size, p.capacity, waste)
	if !p.e.Spend((mostLooked-c.nodes)/50+1) || !ok {
		return nil, false
	}
	c.blocked = make([]int32, len(c.sets))
	for k, set := range c.sets {
		for _, i := range set {
			c.of[i] = append(c.of[i], int32(k))
		}
	}
	for i := range c.open {
		c.open[i] = int32(len(c.of[i]))
	}
	ok = c.place(n, waste)
	p.e.Spend((work-c.work)/500 + 1)
	if !ok {
		return nil, c.work >= 0
	}
	for _, k := range c.chosen {
		var bin []int
		for _, i := range c.sets[k] {
			bin = append(bin, int(i))
		}
		packed = append(packed, bin)
	}
	return packed, false
}

// list makes the sets that waste no more than this, of sizes that descend.
func (c *covering) list(size []int64, capacity, waste int64) bool {
	var cur []int32
	rest := make([]int64, len(size)+1) // the sum of all sizes from each on
	for i := len(size) - 1; i >= 0; i-- {
		rest[i] = rest[i+1] + size[i]
	}
	var dig func(k int, room int64) bool
	dig = func(k int, room int64) bool {
		if c.nodes--; c.nodes < 0 || c.nodes&0xfffff == 0 && c.e.Ended() {
			c.nodes = max(c.nodes, 0)
			return false
		}
		if room <= waste {
			if len(c.sets) == mostSets {
				return false
			}
			c.sets = append(c.sets, append([]int32(nil), cur...))
			c.slack = append(c.slack, room)
		}
		if k < len(size) && size[k] > room {
			k += sort.Search(len(size)-k, func(i int) bool { return size[k+i] <= room })
		}
		most := room / size[len(size)-1] // that can be added yet
		for k < len(size) && rest[k] >= room-waste && most*size[k] >= room-waste {
			// One that leaves room for no other has to fill the bin.
			if left := room - size[k]; left > waste && left < size[len(size)-1] {
				k += sort.Search(len(size)-k, func(i int) bool { return size[k+i] <= room-size[len(size)-1] })
				continue
			}
			cur = append(cur, int32(k))
			if !dig(k+1, room-size[k]) {
				return false
			}
			cur = cur[:len(cur)-1]
			k++
		}
		return true
	}
	return dig(0, capacity)
}

// place finds sets for so many items that are left, wasting no more than this.
func (c *covering) place(left int, waste int64) bool {
	if left == 0 {
		return true
	}
	first, fewest := -1, int32(0)
	for i, n := range c.open {
		if n >= 0 && (first < 0 || n < fewest) {
			first, fewest = i, n
		}
	}
	before := c.work
	c.work -= int64(len(c.open))
	if before>>20 != c.work>>20 && c.e.Ended() {
		c.work = -1
	}
	if fewest == 0 || c.work < 0 {
		return false
	}
	for _, k := range c.of[first] {
		if c.blocked[k] > 0 || c.slack[k] > waste {
			continue
		}
		c.take(k)
		c.chosen = append(c.chosen, k)
		if c.place(left-len(c.sets[k]), waste-c.slack[k]) {
			return true
		}
		c.chosen = c.chosen[:len(c.chosen)-1]
		c.giveBack(k)
		if c.work < 0 {
			return false
		}
	}
	return false
}

// take places the items of a set. What shares an item with it can be had no
// more.
func (c *covering) take(k int32) {
	for _, i := range c.sets[k] {
		c.work -= int64(len(c.of[i]))
		for _, z := range c.of[i] {
			if c.blocked[z]++; c.blocked[z] == 1 {
				for _, j := range c.sets[z] {
					c.open[j]--
				}
			}
		}
	}
	for _, i := range c.sets[k] {
		c.open[i] = -1 - c.open[i]
	}
}

func (c *covering) giveBack(k int32) {
	for _, i := range c.sets[k] {
		c.open[i] = -1 - c.open[i]
	}
	for _, i := range c.sets[k] {
		for _, z := range c.of[i] {
			if c.blocked[z]--; c.blocked[z] == 0 {
				for _, j := range c.sets[z] {
					c.open[j]++
				}
			}
		}
	}
}
