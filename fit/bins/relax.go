package bins

import "math"

// relaxation is the linear relaxation of bin packing over patterns, the ways to
// fill a bin (column generation; P. C. Gilmore and R. E. Gomory, Operations
// Research 9, 1961): the least number of patterns, in fractions, that holds
// every size as often as there is one.
//
// A larger size is worth no less than a smaller one, which columns that put a
// smaller in place of the next larger one say; they bring the relaxation to its
// end much sooner (J. M. Valério de Carvalho, INFORMS Journal on Computing 17,
// 2005).
type relaxation struct {
	e       Effort
	width   []int64 // the different sizes, descending
	demand  []int   // how many there are of each
	pricer  *pricer
	pool    []column    // patterns known
	basis   []column    // those in use
	inverse [][]float64 // of the basis, column by column
	x       []float64   // how often each is used
	y       []float64   // what each size is worth
	d       []float64
	atLeast int // bins
}

// column is a pattern, at the cost of a bin, or at none the exchange of a size
// for the next smaller one.
type column struct {
	uses []use
	cost float64
}

// priceUnit turns prices into whole numbers, so that a bound is exact.
const priceUnit = 1 << 36

// tiny is what is lost in rounding.
const tiny = 1e-7

// notWorth is what a pattern must be worth more than to come into use.
const notWorth = priceUnit + priceUnit/10_000_000

// newRelaxation starts with a pattern a size.
func newRelaxation(e Effort, width []int64, demand []int, capacity int64, pool []column) *relaxation {
	m := len(width)
	c := &relaxation{e: e, width: width, demand: demand, pricer: newPricer(width, demand, capacity), pool: pool,
		y: make([]float64, m), d: make([]float64, m)}
	all := make([]float64, m*m)
	for i := range m {
		n := min(demand[i], int(capacity/width[i]))
		c.basis = append(c.basis, column{[]use{{i, n}}, 1})
		c.inverse = append(c.inverse, all[i*m:(i+1)*m])
		c.inverse[i][i] = 1 / float64(n)
		c.y[i] = 1 / float64(n)
		c.x = append(c.x, float64(demand[i])/float64(n))
		if i < m-1 {
			c.pool = append(c.pool, column{[]use{{i, -1}, {i + 1, 1}}, 0})
		}
		if n > 1 {
			c.pool = append(c.pool, column{[]use{{i, 1}}, 1})
		}
	}
	return c
}

// value is the number of bins, in fractions.
func (c *relaxation) value() (v float64) {
	for k, x := range c.x {
		v += x * c.basis[k].cost
	}
	return v
}

// bound works out how many bins are needed at the least: Farley's bound (A. A.
// Farley, Operations Research 38, 1990), all prices over the value of the best
// pattern, in whole numbers. It ends where there are enough, or where more could
// not raise the number of groups.
func (c *relaxation) bound(enough, group int) int {
	groups := func(bins int) int { return (bins + group - 1) / group }
	c.run(func() bool {
		return c.atLeast >= enough || groups(int(math.Ceil(c.value()-tiny))) <= groups(c.atLeast)
	})
	return c.atLeast
}

// until brings the relaxation down to a value, or to its best.
func (c *relaxation) until(few float64) {
	c.run(func() bool { return c.value() <= few })
}

// solve brings the relaxation to its best.
func (c *relaxation) solve() {
	c.run(func() bool { return false })
}

// run makes patterns as long as they better the relaxation.
func (c *relaxation) run(enough func() bool) {
	m := len(c.width)
	price := make([]int64, m)
	for range 100*m + 1000 {
		if !c.fromPool() || enough() {
			return
		}
		total := int64(0)
		for j, v := range c.y {
			price[j] = int64(math.Round(v * priceUnit))
			total += int64(c.demand[j]) * max(0, price[j])
		}
		found, value, exact, cost := c.pricer.dearest(price, notWorth)
		if exact {
			c.atLeast = max(c.atLeast, int((total+value-1)/value))
		}
		if !c.e.Spend(cost) || len(found) == 0 {
			return
		}
		for _, f := range found {
			c.pool = append(c.pool, column{f, 1})
		}
	}
}

// fromPool brings patterns that are known into use until none is worth it.
func (c *relaxation) fromPool() bool {
	for range 50*len(c.width) + 500 {
		most, best := tiny, -1
		for k, a := range c.pool {
			v := -a.cost
			for _, u := range a.uses {
				v += c.y[u.size] * float64(u.times)
			}
			if v > most {
				most, best = v, k
			}
		}
		if best < 0 {
			return true
		}
		if !c.enter(c.pool[best], most) {
			return false
		}
		if !c.e.Spend(int64(len(c.pool))/100 + 1) {
			return false
		}
	}
	return false
}

// enter brings a column into use that saves so much.
func (c *relaxation) enter(a column, saves float64) bool {
	m := len(c.width)
	d := c.d
	clear(d)
	for _, u := range a.uses {
		col := c.inverse[u.size]
		t := float64(u.times)
		for i, v := range col {
			d[i] += v * t
		}
	}
	out, ratio := -1, math.Inf(1)
	for i, v := range d {
		if v > 1e-9 {
			if r := c.x[i] / v; r < ratio-1e-12 || r < ratio+1e-12 && out >= 0 && v > d[out] {
				out, ratio = i, r
			}
		}
	}
	if out < 0 {
		return false
	}
	ratio = max(0, ratio)
	for i, v := range d {
		c.x[i] = max(0, c.x[i]-ratio*v)
	}
	c.x[out] = ratio
	pivot := 1 / d[out]
	d[out] = 0
	work := 0
	for j, col := range c.inverse {
		f := col[out] * pivot
		if f == 0 {
			continue
		}
		work += m
		for i, v := range d {
			col[i] -= f * v
		}
		col[out] = f
		c.y[j] -= saves * f
	}
	c.basis[out] = a
	return c.e.Spend(int64(work+2*m) / 1000)
}
