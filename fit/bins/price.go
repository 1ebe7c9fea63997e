package bins

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// use is so many of a size.
type use struct{ size, times int }

// pricer finds the most valuable pattern for prices of the sizes: the knapsack
// problem, by depth-first branch and bound, the sizes that are dearest for
// their width first. It needs no table, so that the capacity may be any number.
//
// Three bounds cut the search off. What is left of the list is worth no more for
// its width than its first size (G. B. Dantzig, Operations Research 5, 1957).
// Into a room go no more sizes than the smallest allows, so many of which are
// together worth no more than the concave hull of prices over widths tells:
// where only three or four go into a bin, that is much the sharper. And where
// there is room for two, the best pair is known.
type pricer struct {
	width    []int64 // descending
	demand   []int
	capacity int64

	pairs []pair  // by rising width
	from  []int32 // of a stretch of room, how many pairs are under it
	two   []int64 // of each pair, the worth of the dearest up to it

	price  []int64
	order  []int     // sizes with a price, dearest for their width first
	dense  []float64 // of these, price over width
	single []int     // by rising width, the dearest size up to it
	shift  uint      // of a room, to its line
	lines  []line

	least []int64 // of these, the smallest width from each on

	cur   []use
	best  int64
	found [][]use // patterns found, each better than the one before
	nodes int64   // left to look at
	stop  bool    // before the search was whole
}

// line bounds from above what the rooms of a stretch are worth.
type line struct{ base, slope float64 }

// pair is two sizes that fit a bin together, or one; b is then -1.
type pair struct {
	width int64
	a, b  int32
}

// stretches is how many stretches of room have a line of their own, at least.
const stretches = 512

func newPricer(width []int64, demand []int, capacity int64) *pricer {
	p := &pricer{width: width, demand: demand, capacity: capacity}
	for capacity>>p.shift > 2*stretches {
		p.shift++
	}
	p.lines = make([]line, capacity>>p.shift+1)
	for i, w := range width {
		p.pairs = append(p.pairs, pair{w, int32(i), -1})
		for j := i; j < len(width); j++ {
			if w+width[j] <= capacity && (j > i || demand[i] > 1) {
				p.pairs = append(p.pairs, pair{w + width[j], int32(i), int32(j)})
			}
		}
	}
	slices.SortFunc(p.pairs, func(x, y pair) int { return cmp.Compare(x.width, y.width) })
	p.two = make([]int64, len(p.pairs))
	k := 0
	for s := range p.lines {
		for k < len(p.pairs) && p.pairs[k].width < int64(s)<<p.shift {
			k++
		}
		p.from = append(p.from, int32(k))
	}
	return p
}

// An easy search looks at so many nodes and is content with any pattern that is
// worth it; where there was none, it goes on to a hard one's.
const (
	easyNodes = 20_000
	hardNodes = 2_000_000
)

// dearest looks for patterns worth more than least, and gives the best few that
// it came upon. Where exact is true no pattern is worth more than most. It costs
// so many steps.
func (p *pricer) dearest(price []int64, least int64) (found [][]use, most int64, exact bool, cost int64) {
	p.price = price
	p.order = p.order[:0]
	for i, v := range price {
		if v > 0 {
			p.order = append(p.order, i)
		}
	}
	cost = int64(len(p.pairs))/500 + 1
	if len(p.order) == 0 {
		return nil, least, true, cost
	}
	p.single = p.single[:0]
	for k := len(p.order) - 1; k >= 0; k-- {
		i := p.order[k]
		if n := len(p.single); n == 0 || price[i] > price[p.single[n-1]] {
			p.single = append(p.single, i)
		}
	}
	p.drawLines()
	two := int64(0)
	for k, x := range p.pairs {
		v := max(0, price[x.a])
		if x.b >= 0 {
			v += max(0, price[x.b])
		}
		two = max(two, v)
		p.two[k] = two
	}
	dense := func(i int) float64 { return float64(price[i]) / float64(p.width[i]) }
	slices.SortStableFunc(p.order, func(i, j int) int { return cmp.Compare(dense(j), dense(i)) })
	p.dense, p.least = p.dense[:0], p.least[:0]
	for _, i := range p.order {
		p.dense = append(p.dense, dense(i))
		p.least = append(p.least, p.width[i])
	}
	for k := len(p.least) - 2; k >= 0; k-- {
		p.least[k] = min(p.least[k], p.least[k+1])
	}
	p.cur, p.found, p.best = p.cur[:0], nil, least
	p.nodes, p.stop = hardNodes, false
	p.dig(0, p.capacity, 0)
	return p.found[max(0, len(p.found)-3):], p.best, !p.stop, cost + (hardNodes-p.nodes)/50
}

// drawLines makes the bound by number of sizes, from the dearest of each width.
func (p *pricer) drawLines() {
	type corner struct{ w, v float64 }
	hull := []corner{{}}
	for _, i := range p.single {
		c := corner{float64(p.width[i]), float64(p.price[i])}
		for n := len(hull); n > 1; n = len(hull) {
			a, b := hull[n-2], hull[n-1]
			if (b.v-a.v)*(c.w-a.w) > (c.v-a.v)*(b.w-a.w) {
				break
			}
			hull = hull[:n-1]
		}
		hull = append(hull, c)
	}
	least := p.width[p.order[len(p.order)-1]] // the order is still that of widths
	for k := range p.lines {
		low := int64(k) << p.shift
		high := min(p.capacity, low+1<<p.shift-1)
		n := float64(high / least)
		if n == 0 {
			p.lines[k] = line{}
			continue
		}
		mean := (float64(low) + float64(high)) / 2 / n
		t := sort.Search(len(hull), func(t int) bool { return hull[t].w > mean })
		if t == len(hull) { // all as dear as the dearest
			p.lines[k] = line{base: n * hull[t-1].v}
			continue
		}
		a, b := hull[t-1], hull[t]
		slope := (b.v - a.v) / (b.w - a.w)
		p.lines[k] = line{n * (a.v - slope*a.w), slope}
	}
}

// dig adds sizes to the pattern from number k of the order on.
func (p *pricer) dig(k int, room, value int64) {
	if p.nodes--; p.nodes < 0 || p.nodes < hardNodes-easyNodes && len(p.found) > 0 {
		p.stop = true
		return
	}
	if value > p.best {
		p.best = value
		p.found = append(p.found, slices.Clone(p.cur))
	}
	if k == len(p.order) || p.best-value >= p.twoFrom(k, room) {
		return
	}
	l := p.lines[room>>p.shift]
	worth := l.base + l.slope*float64(room)
	for ; k < len(p.order); k++ {
		// Half a unit is for rounding: all worths are whole.
		need := float64(p.best-value) + 0.5
		if worth < need || p.dense[k]*float64(room) < need {
			return
		}
		i := p.order[k]
		w := p.width[i]
		if w > room {
			continue
		}
		for n := min(int64(p.demand[i]), room/w); n > 0; n-- {
			p.cur = append(p.cur, use{i, int(n)})
			p.dig(k+1, room-n*w, value+n*p.price[i])
			p.cur = p.cur[:len(p.cur)-1]
			if p.stop {
				return
			}
		}
	}
}

// twoFrom bounds what sizes from number k of the order on are worth in a room
// that takes two of them, or has no bound.
func (p *pricer) twoFrom(k int, room int64) int64 {
	if room >= 3*p.least[k] {
		return math.MaxInt64
	}
	n := int(p.from[room>>p.shift])
	for n < len(p.pairs) && p.pairs[n].width <= room {
		n++
	}
	if n == 0 {
		return 0
	}
	return p.two[n-1]
}
