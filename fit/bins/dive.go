package bins

import (
	"cmp"
	"math"
	"slices"
)

// mostWidths bounds the different sizes of a relaxation.
const mostWidths = 400

// byColumns proves a better bound or finds a better packing: the relaxation
// gives the bound, and bins are fixed along its patterns, those used most
// first (diving).
func (p *packing) byColumns(bins [][]int, atLeast int) ([][]int, int) {
	width, demand, _ := p.widths(upTo(len(p.size)))
	if len(width) > mostWidths {
		return bins, atLeast
	}
	root := newRelaxation(p.e, width, demand, p.capacity, nil)
	atLeast = max(atLeast, root.bound(p.target(len(bins))-p.group+1, p.group))
	for dive := range 200 {
		target := p.target(atLeast)
		if len(bins) <= target || !p.e.Spend(0) {
			break
		}
		// The first dive takes a relaxation as soon as it is good enough,
		// which is far sooner than it is at its best. Where hardly anything
		// may be wasted the best is needed.
		whole := dive > 0
		if dive == 1 {
			root.solve()
		}
		if dive == 4 {
			if x, none := p.cover(target, 200_000_000); x != nil {
				return x, atLeast
			} else if none {
				atLeast = target + 1
				continue
			}
		}
		if got := p.dive(root, target, whole, float64(dive%20)/20); len(got) < len(bins) {
			bins = got
		}
		bins = p.repack(bins, target, 5*len(p.size))
	}
	return bins, atLeast
}

// widths lists the different sizes of some items, how many there are of each
// and which.
func (p *packing) widths(items []int) (width []int64, demand []int, stack [][]int) {
	for _, i := range items {
		v := p.size[i]
		if len(width) == 0 || width[len(width)-1] != v {
			width = append(width, v)
			demand = append(demand, 0)
			stack = append(stack, nil)
		}
		demand[len(demand)-1]++
		stack[len(stack)-1] = append(stack[len(stack)-1], i)
	}
	return
}

// rest is the relaxation of what is left, which knows the patterns of the whole.
func (c *relaxation) rest(width []int64, demand []int) *relaxation {
	now := make([]int, len(c.width)) // number of a size in what is left, and 1
	k := 0
	for i, w := range c.width {
		if k < len(width) && width[k] == w {
			k++
			now[i] = k
		}
	}
	var pool []column
	for _, a := range c.pool {
		if a.cost == 0 {
			continue
		}
		var uses []use
		for _, u := range a.uses {
			if i := now[u.size] - 1; i >= 0 {
				uses = append(uses, use{i, min(u.times, demand[i])})
			}
		}
		if len(uses) == len(a.uses) {
			pool = append(pool, column{uses, 1})
		}
	}
	return newRelaxation(c.e, width, demand, c.pricer.capacity, pool)
}

// dive fixes the patterns that are used most, solves what is left anew, and so
// on. Noise makes one dive differ from another.
func (p *packing) dive(root *relaxation, target int, whole bool, noise float64) (bins [][]int) {
	left := upTo(len(p.size))
	c := root
	for len(left) > 0 && p.e.Spend(0) {
		n := target - len(bins)
		if len(bins) > 0 && n <= 22 {
			if rest, _ := p.complete(left, n, 4_000); rest != nil {
				return append(bins, rest...)
			}
			if n <= 4 {
				break
			}
		}
		width, demand, stack := p.widths(left)
		if len(bins) > 0 {
			c = root.rest(width, demand)
			if whole {
				c.solve()
			} else {
				c.until(float64(n))
			}
		}
		type way struct {
			k int
			x float64
		}
		var ways []way
		for k, x := range c.x {
			if x > 1e-6 && c.basis[k].cost > 0 {
				ways = append(ways, way{k, x + noise*p.rng.Float64()})
			}
		}
		slices.SortStableFunc(ways, func(a, b way) int { return cmp.Compare(b.x, a.x) })
		// Fix the patterns that are nearly whole, and a few at the least.
		fixed := 0
		for n, u := range ways {
			times := int(math.Floor(u.x + 0.3))
			if n < 1+len(ways)/12 {
				times = max(times, 1)
			}
			for range times {
				bin, ok := p.pick(c.basis[u.k].uses, stack, fixed == 0)
				if !ok {
					break
				}
				bins = append(bins, bin)
				fixed++
			}
		}
		left = left[:0]
		for _, s := range stack {
			left = append(left, s...)
		}
		slices.Sort(left)
		if fixed == 0 {
			break
		}
	}
	if len(left) > 0 {
		bins = append(bins, p.minimumSlack(left, 20_000, nil)...)
	}
	return bins
}

// pick takes the items of a pattern out of the stacks. Where a size is used up it
// takes the next smaller one, for which the relaxation may have exchanged it, if
// it may, and tells whether it took any.
func (p *packing) pick(uses []use, stack [][]int, exchange bool) (bin []int, ok bool) {
	for _, u := range uses {
		if u.times > len(stack[u.size]) && !exchange {
			return nil, false
		}
	}
	for _, u := range uses {
		i := u.size
		for range u.times {
			for i < len(stack) && len(stack[i]) == 0 {
				i++
			}
			if i == len(stack) {
				break
			}
			bin = append(bin, stack[i][0])
			stack[i] = stack[i][1:]
		}
	}
	return bin, len(bin) > 0
}
