// Package bins packs numbers into as few bins of one capacity as it can, and
// tells how few cannot be undercut (the one-dimensional bin-packing problem).
// Whole numbers only; it knows nothing of tapes. Give [Pack] the sizes:
//
//	packed, atLeast := bins.Pack(effort, []int64{60, 50, 40, 30, 20}, 100, 1)
//
// Each bin is a list of indices of the sizes. When there are atLeast bins,
// fewer are proved impossible; otherwise the truth lies between the two.
//
// Each step is taken only while those before leave a doubt:
//
//   - bins.go: the bound L2, bins filled one after another with the least slack,
//     a search bin by bin, and a few bins at a time taken apart and packed anew;
//   - cover.go: where hardly anything may be wasted, the few sets that fill a
//     bin so well, and a choice of them that holds each item once;
//   - relax.go: the linear relaxation over patterns, the ways to fill a bin,
//     for a bound; price.go finds the patterns;
//   - dive.go: bins fixed along the patterns that the relaxation uses most.
//
// Nothing makes a table over the capacity, which may be any number.
package bins

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"sort"
)

// Effort is what the caller still allows to be spent. It is counted in steps of
// about a microsecond, so that answers do not depend on the machine.
type Effort interface {
	// Spend takes steps off and tells whether to go on. Spend(0) just asks.
	Spend(steps int64) bool
	// Ended tells whether the caller wants no more, steps left or not.
	Ended() bool
}

// packing is the bin-packing problem: sizes, descending, into as few bins of
// one capacity as can be. No size is 0 or over the capacity.
type packing struct {
	e        Effort
	size     []int64
	order    []int // of each size, its number in the caller's list
	capacity int64
	group    int // only the number of groups of so many bins counts
	rng      *rand.Rand
}

func newPacking(e Effort, sizes []int64, capacity int64, group int) *packing {
	p := &packing{e: e, capacity: capacity, group: group, order: upTo(len(sizes)), rng: rand.New(rand.NewPCG(3, 4))}
	slices.SortStableFunc(p.order, func(i, j int) int { return cmp.Compare(sizes[j], sizes[i]) })
	for _, i := range p.order {
		p.size = append(p.size, sizes[i])
	}
	return p
}

// Pack packs sizes, from 1 to the capacity each, into as few bins as it can with
// the effort allowed. Bins hold indices of sizes; fewer than atLeast cannot hold
// them all. Where bins come in groups of so many, like the sides of a tape, only
// the number of groups counts, and no effort is spent on a bin less or a higher
// bound in the same number of groups; group is 1 where each bin counts.
func Pack(e Effort, sizes []int64, capacity int64, group int) (bins [][]int, atLeast int) {
	p := newPacking(e, sizes, capacity, group)
	bins, atLeast = p.solve()
	for _, b := range bins {
		for k := range b {
			b[k] = p.order[b[k]]
		}
	}
	return bins, atLeast
}

func (p *packing) solve() (bins [][]int, atLeast int) {
	all := upTo(len(p.size))
	atLeast = boundL2(p.size, p.capacity)
	bins = p.minimumSlack(all, 20_000, nil)
	nodes := 200_000
	if len(all) <= 80 { // few enough to look at nearly everything
		nodes = 10_000_000
	}
	// What a search finds is packed; what a whole search does not find does
	// not exist.
	for none := true; none && len(bins) > p.target(atLeast); {
		var x [][]int
		if x, none = p.complete(all, p.target(atLeast), nodes); x != nil {
			return x, atLeast
		} else if none {
			atLeast = p.target(atLeast) + 1
		}
	}
	bins = p.repack(bins, p.target(atLeast), 40*len(all))
	for none := true; none && len(bins) > p.target(atLeast); {
		var x [][]int
		if x, none = p.cover(p.target(atLeast), 20_000_000); x != nil {
			return x, atLeast
		} else if none {
			atLeast = p.target(atLeast) + 1
		}
	}
	if len(bins) > p.target(atLeast) {
		bins, atLeast = p.byColumns(bins, atLeast)
	}
	return bins, atLeast
}

// target is the most bins that are no more groups than so many.
func (p *packing) target(bins int) int { return (bins + p.group - 1) / p.group * p.group }

// boundL2 is a number of bins that cannot be undercut: the bound L2 of
// S. Martello and P. Toth, Discrete Applied Mathematics 28, 1990. For each
// small size K, what is over capacity - K shares a bin with nothing of K or
// more, what is over half of it with nothing of its like.
func boundL2(desc []int64, capacity int64) int {
	n := len(desc)
	sums := make([]int64, n+1)
	for i, v := range desc {
		sums[i+1] = sums[i] + v
	}
	best := (sums[n] + capacity - 1) / capacity
	half := sort.Search(n, func(i int) bool { return 2*desc[i] <= capacity })
	for k := half; k <= n; k++ {
		least := int64(1)
		if k < n {
			least = desc[k]
			if k+1 < n && desc[k+1] == least {
				continue // take all of one size together
			}
			k := k + 1
			big := sort.Search(n, func(i int) bool { return desc[i] <= capacity-least })
			free := int64(half-min(big, half))*capacity - (sums[half] - sums[min(big, half)])
			more := max(0, (sums[k]-sums[half]-free+capacity-1)/capacity)
			best = max(best, int64(half)+more)
		}
	}
	return int(best)
}

// minimumSlack packs some of the sizes, ascending indices: each bin takes the
// largest left and then the set that leaves the least slack (MBS'; J. N. D.
// Gupta and J. C. Ho, Production Planning and Control 10, 1999; K. Fleszar and
// K. S. Hindi, Computers and Operations Research 29, 2002). At most nodes sets
// are looked at for a bin. With an order, sets are looked at in it.
func (p *packing) minimumSlack(items []int, nodes int, order []int) [][]int {
	left := slices.Clone(items)
	var bins [][]int
	for len(left) > 0 {
		first := left[0]
		look := left[1:]
		if order != nil {
			look = slices.Clone(look)
			p.rng.Shuffle(len(look), func(i, j int) { look[i], look[j] = look[j], look[i] })
		}
		least := p.size[left[len(left)-1]]
		cur, best := make([]int, 0, 8), make([]int, 0, 8)
		slack := p.capacity + 1
		budget := nodes
		var dig func(k int, room int64) bool
		dig = func(k int, room int64) bool {
			budget--
			if room < slack {
				slack = room
				best = append(best[:0], cur...)
				if room == 0 {
					return true
				}
			}
			if budget < 0 {
				return true
			}
			if room < least {
				return false
			}
			if order == nil {
				k += sort.Search(len(look)-k, func(i int) bool { return p.size[look[k+i]] <= room })
			}
			for ; k < len(look); k++ {
				i := look[k]
				if p.size[i] > room {
					continue
				}
				cur = append(cur, i)
				if dig(k+1, room-p.size[i]) {
					return true
				}
				cur = cur[:len(cur)-1]
				if order == nil { // an equal size has just been looked at
					for k+1 < len(look) && p.size[look[k+1]] == p.size[i] {
						k++
					}
				}
			}
			return false
		}
		dig(0, p.capacity-p.size[first])
		p.e.Spend(int64(nodes-budget)/100 + 1)
		bin := append([]int{first}, best...)
		bins = append(bins, bin)
		next := make([]int, 0, len(left))
		for _, i := range left {
			if !slices.Contains(bin, i) {
				next = append(next, i)
			}
		}
		left = next
	}
	return bins
}

func (p *packing) load(bin []int) int64 {
	var v int64
	for _, i := range bin {
		v += p.size[i]
	}
	return v
}

// repack takes a few bins at a time apart and packs them anew, keeping what is
// no looser, until there are as few as the target or the tries are up.
func (p *packing) repack(bins [][]int, target, tries int) [][]int {
	for range tries {
		if len(bins) <= target || !p.e.Spend(0) {
			break
		}
		loose := make([]int, 0, len(bins))
		for k, b := range bins {
			if p.load(b) < p.capacity {
				loose = append(loose, k)
			}
		}
		taken := map[int]bool{}
		n := min(3+p.rng.IntN(6), len(bins))
		slack := 2 + p.rng.IntN(2)
		if len(bins) == target+1 && len(loose) <= 8 { // all that is loose, and some
			n, slack = min(len(loose)+5+p.rng.IntN(9), len(bins)), 0
			for _, k := range loose {
				taken[k] = true
			}
		}
		for t := range n {
			if t < slack && len(loose) > 0 {
				taken[loose[p.rng.IntN(len(loose))]] = true
			} else {
				taken[p.rng.IntN(len(bins))] = true
			}
		}
		keep := make([][]int, 0, len(bins)+1)
		open := make([]int, 0, len(p.size))
		var before int64
		for k, b := range bins {
			if !taken[k] {
				keep = append(keep, b)
				continue
			}
			open = append(open, b...)
			v := p.load(b)
			before += v * v
		}
		slices.Sort(open)
		if len(bins) == target+1 && len(loose) <= 8 {
			if again, _ := p.complete(open, len(taken)-1, 5000); again != nil {
				return append(keep, again...)
			}
		}
		again := p.minimumSlack(open, 3000, open)
		var after int64
		for _, b := range again {
			v := p.load(b)
			after += v * v
		}
		if len(again) < len(taken) || len(again) == len(taken) && after >= before {
			bins = append(keep, again...)
		}
	}
	return bins
}

// complete packs items, ascending indices, into so many bins or finds that there
// is none such, unless the nodes given run out before: bin after bin, each with
// the largest item left, wasting no more than there is to waste in all (bin
// completion; R. E. Korf, AAAI 2002).
func (p *packing) complete(items []int, bins int, nodes int) (packed [][]int, none bool) {
	waste := int64(bins) * p.capacity
	c := completion{e: p.e, capacity: p.capacity, bins: bins, nodes: nodes,
		size: make([]int64, len(items)), gone: make([]bool, len(items)),
		chosen: make([]int, 0, len(items)), starts: make([]int, 0, max(0, bins))}
	for k, i := range items {
		c.size[k] = p.size[i]
		waste -= p.size[i]
	}
	if waste < 0 {
		return nil, true
	}
	ok := c.open(0, waste)
	p.e.Spend(int64(nodes-c.nodes)/50 + 1)
	if !ok {
		return nil, c.nodes >= 0
	}
	packed = [][]int{}
	for b, from := range c.starts {
		to := len(c.chosen)
		if b+1 < len(c.starts) {
			to = c.starts[b+1]
		}
		var bin []int
		for _, k := range c.chosen[from:to] {
			bin = append(bin, items[k])
		}
		packed = append(packed, bin)
	}
	return packed, false
}

// completion is the state of a search by bin completion.
type completion struct {
	e        Effort
	size     []int64 // descending
	gone     []bool  // in a bin
	chosen   []int   // what is in the bins, one bin after another
	starts   []int   // where each bin begins in chosen
	capacity int64
	bins     int
	nodes    int // left to look at; negative when they are used up
}

// open begins a bin with the first item left, from first on.
func (c *completion) open(first int, waste int64) bool {
	for first < len(c.size) && c.gone[first] {
		first++
	}
	if first == len(c.size) {
		return true
	}
	if len(c.starts) == c.bins {
		return false
	}
	c.starts = append(c.starts, len(c.chosen))
	c.put(first)
	if c.fill(first, first+1, c.capacity-c.size[first], waste) {
		return true
	}
	c.takeBack(first)
	c.starts = c.starts[:len(c.starts)-1]
	return false
}

// fill adds to the open bin, whose largest item is first, from item k on; when
// no more is added it goes on to the next bin.
func (c *completion) fill(first, k int, room, waste int64) bool {
	if c.nodes--; c.nodes < 0 || c.nodes&0xfffff == 0 && c.e.Ended() {
		c.nodes = -1
		return false
	}
	size := c.size
	for end := len(size); k < end; { // the first that there is room for
		if m := (k + end) / 2; size[m] <= room {
			end = m
		} else {
			k = m + 1
		}
	}
	last := int64(-1)
	for ; k < len(size); k++ {
		if c.gone[k] || size[k] == last {
			continue
		}
		last = size[k]
		c.put(k)
		if c.fill(first, k+1, room-last, waste) {
			return true
		}
		c.takeBack(k)
		if c.nodes < 0 {
			return false
		}
	}
	return room <= waste && c.open(first+1, waste-room)
}

func (c *completion) put(k int) {
	c.gone[k] = true
	c.chosen = append(c.chosen, k)
}

func (c *completion) takeBack(k int) {
	c.gone[k] = false
	c.chosen = c.chosen[:len(c.chosen)-1]
}

// upTo lists the numbers below n.
func upTo(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}
