package bins

import (
	"cmp"
	"math"
	"slices"
)

// columns is the linear relaxation of bin packing over patterns, the ways to
// fill a bin (column generation; P. C. Gilmore and R. E. Gomory, Operations
// Research 9, 1961).
type columns struct {
	e        Effort
	width    []int64 // the different sizes
	demand   []int   // how many there are of each
	capacity int64
	basis    [][]int // patterns: how many of each size
	inverse  [][]float64
	x        []float64
}

// priceUnit turns prices into whole numbers, so that a bound is exact.
const priceUnit = 1 << 36

// newColumns starts with a pattern a size.
func newColumns(e Effort, width []int64, demand []int, capacity int64) *columns {
	c := &columns{e: e, width: width, demand: demand, capacity: capacity}
	m := len(width)
	for i := range m {
		a := make([]int, m)
		a[i] = min(demand[i], int(capacity/width[i]))
		c.basis = append(c.basis, a)
		row := make([]float64, m)
		row[i] = 1 / float64(a[i])
		c.inverse = append(c.inverse, row)
		c.x = append(c.x, float64(demand[i])/float64(a[i]))
	}
	return c
}

// solve brings the relaxation to its optimum, or until a bound of enough bins
// is proved, and returns the best bound. The bound is Farley's (A. A. Farley,
// Operations Research 38, 1990): prices over the value of the best pattern.
func (c *columns) solve(enough int) (atLeast int) {
	m := len(c.width)
	y := make([]float64, m)
	price := make([]int64, m)
	for range 60*m + 500 {
		for j := range m {
			y[j] = 0
			for i := range m {
				y[j] += c.inverse[i][j]
			}
		}
		var total int64
		for j := range m {
			price[j] = int64(math.Floor(max(0, y[j]) * priceUnit))
			total += price[j] * int64(c.demand[j])
		}
		a, value := c.pattern(price)
		if value <= 0 {
			return atLeast
		}
		if b := int((total + value - 1) / value); b > atLeast {
			atLeast = b
		}
		if atLeast >= enough || float64(value) <= priceUnit*(1+1e-7) {
			return atLeast
		}
		if !c.enter(a) || !c.e.Spend(int64(m*m)/1000+c.capacity*int64(m)/1000+1) {
			return atLeast
		}
	}
	return atLeast
}

// pattern is the most valuable way to fill a bin: a bounded knapsack by
// dynamic programming over the capacity.
func (c *columns) pattern(price []int64) ([]int, int64) {
	n := int(c.capacity) + 1
	best := make([]int64, n)
	m := len(c.width)
	taken := make([][]uint8, m)
	for i := range m {
		taken[i] = make([]uint8, n)
		if price[i] <= 0 {
			continue
		}
		w := int(c.width[i])
		row := taken[i]
		// Copies one after another; from the top, so that each counts once.
		for k := 1; k <= min(c.demand[i], int(c.capacity)/w, 255); k++ {
			any := false
			for v := n - 1; v >= w*k; v-- {
				if int(row[v-w]) == k-1 {
					if t := best[v-w] + price[i]; t > best[v] {
						best[v], row[v] = t, uint8(k)
						any = true
					}
				}
			}
			if !any {
				break
			}
		}
	}
	a := make([]int, m)
	v := n - 1
	for i := m - 1; i >= 0; i-- {
		a[i] = int(taken[i][v])
		v -= a[i] * int(c.width[i])
	}
	return a, best[n-1]
}

// enter brings a pattern into the basis.
func (c *columns) enter(a []int) bool {
	m := len(a)
	d := make([]float64, m)
	for i := range m {
		for j, k := range a {
			if k != 0 {
				d[i] += c.inverse[i][j] * float64(k)
			}
		}
	}
	out, ratio := -1, math.Inf(1)
	for i := range m {
		if d[i] > 1e-9 {
			if r := c.x[i] / d[i]; r < ratio-1e-12 || r < ratio+1e-12 && out >= 0 && d[i] > d[out] {
				out, ratio = i, r
			}
		}
	}
	if out < 0 {
		return false
	}
	ratio = max(0, ratio)
	pivot := c.inverse[out]
	for j := range m {
		pivot[j] /= d[out]
	}
	for i := range m {
		if i == out {
			continue
		}
		if f := d[i]; f != 0 {
			row := c.inverse[i]
			for j := range m {
				row[j] -= f * pivot[j]
			}
		}
		c.x[i] = max(0, c.x[i]-ratio*d[i])
	}
	c.x[out] = ratio
	c.basis[out] = a
	return true
}

// mostColumns bounds the size of a relaxation: different sizes and capacity.
const (
	mostWidths   = 400
	mostCapacity = 20_000
)

// byColumns proves a better bound or finds a better packing: the relaxation
// gives the bound, and bins are fixed along its patterns, those used most
// first (diving).
func (p *packing) byColumns(bins [][]int, atLeast int) ([][]int, int) {
	unit := p.capacity
	for _, v := range p.size {
		unit = gcd(unit, v)
	}
	width, demand, _ := p.widths(upTo(len(p.size)), unit)
	if len(width) > mostWidths || p.capacity/unit > mostCapacity {
		return bins, atLeast
	}
	root := newColumns(p.e, width, demand, p.capacity/unit)
	atLeast = max(atLeast, root.solve(len(bins)))
	for dive := range 200 {
		if len(bins) <= atLeast || !p.e.Spend(0) {
			break
		}
		if got := p.dive(unit, atLeast, float64(dive%20)/20, root); len(got) < len(bins) {
			bins = got
		}
		if len(bins) > atLeast {
			bins = p.repack(bins, atLeast, 5*len(p.size))
		}
	}
	return bins, atLeast
}

// widths lists the different sizes of some items, how many there are of each
// and which.
func (p *packing) widths(items []int, unit int64) (width []int64, demand []int, stack [][]int) {
	for _, i := range items {
		v := p.size[i] / unit
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

func (p *packing) dive(unit int64, target int, noise float64, root *columns) [][]int {
	left := upTo(len(p.size))
	var bins [][]int
	first := true
	for len(left) > 0 && p.e.Spend(0) {
		if n := target - len(bins); !first && n <= 22 {
			rest, ok := p.complete(left, n, 4_000)
			if ok {
				return append(bins, rest...)
			}
			if n <= 4 {
				break
			}
		}
		width, demand, stack := p.widths(left, unit)
		c := root
		if !first {
			c = newColumns(p.e, width, demand, p.capacity/unit)
			c.solve(math.MaxInt)
		}
		first = false
		type use struct {
			k int
			x float64
		}
		var uses []use
		for k, x := range c.x {
			if x > 1e-6 {
				uses = append(uses, use{k, x + noise*p.rng.Float64()})
			}
		}
		slices.SortStableFunc(uses, func(a, b use) int { return cmp.Compare(b.x, a.x) })
		// Fix the patterns that are nearly whole, and a few at the least.
		fixed := 0
		for n, u := range uses {
			times := int(math.Floor(u.x + 0.3))
			if n < 1+len(uses)/12 {
				times = max(times, 1)
			}
			for range times {
				bin := []int{}
				whole := true
				for i, k := range c.basis[u.k] {
					whole = whole && k <= len(stack[i])
				}
				if !whole {
					break
				}
				for i, k := range c.basis[u.k] {
					bin = append(bin, stack[i][:k]...)
					stack[i] = stack[i][k:]
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

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
