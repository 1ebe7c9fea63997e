package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// fillBoth draws so many pieces for the first side with the playing time that it
// should have, and gives the other the best of those left, over and over. It
// tells whether the bound was reached, blank tape as it should be.
func (t *pair) fillBoth(e *effort, rng *rand.Rand, c counts, tries int, b *bounds, best *split) bool {
	n := len(t.size)
	goal := b.time(c)
	limA, _ := b.side(0, c.a)
	limB, _ := b.side(1, c.b)
	want := b.want(c, goal, limA, limB)
	long := run(0, n) // the longest first
	slices.SortStableFunc(long, func(i, j int) int { return cmp.Compare(t.size[j], t.size[i]) })
	floor := b.floor(c.a+c.b, goal)
	done := func() bool {
		return t.aim.compare(best.share, Share{c.a + c.b, Millis(goal)}) == 0 && best.blank.compare(floor) <= 0
	}
	reached := func() bool { return t.aim.compare(best.share, Share{c.a + c.b, Millis(goal)}) >= 0 }
	consider := func(lists [2][]int) {
		if got, fits := t.weigh(lists); fits && t.holdsFixed(lists) && t.isBetter(got, *best) {
			*best = got
		}
	}
	for try := range tries {
		if done() || reached() && try >= tries/4 || !e.spend(1000) {
			break
		}
		switch try % 5 {
		case 0, 1: // of one side and of what it leaves
			x, okX := t.draw(rng, long, 0, c.a, want, nil)
			y, okY := t.drawBest(rng, long, 1, c.b, limB, x)
			if okX && okY {
				consider([2][]int{x, y})
			}
		case 2: // the second takes the longest there are
			if limB < b.top[c.b] {
				continue
			}
			x, okX := t.draw(rng, long[min(c.b, n):], 0, c.a, want, nil)
			y, okY := t.drawBest(rng, long, 1, c.b, limB, x)
			if okX && okY {
				consider([2][]int{x, y})
			}
		case 3: // the first does
			if limA < b.top[c.a] {
				continue
			}
			y, okY := t.draw(rng, long[min(c.a, n):], 1, c.b, limB, nil)
			x, okX := t.drawBest(rng, long, 0, c.a, limA, y)
			if okX && okY {
				consider([2][]int{x, y})
			}
		case 4: // both together, and then parted
			all, ok := t.draw(rng, long, bothOfThem, c.a+c.b, goal, nil)
			if !ok {
				continue
			}
			t.partDrawn(rng, all, c, want, best)
		}
	}
	return reached()
}

// mostFills is how many choices fillBoth draws for the first numbers of pieces
// that could be the best.
const mostFills = 300

// bothOfThem stands for either side where a side is named.
const bothOfThem = -2

// partDrawn parts a choice of pieces over the sides, so many on the first with the
// playing time that these should have, or a little less.
func (t *pair) partDrawn(rng *rand.Rand, all []int, c counts, want int64, best *split) {
	for range 8 {
		x, ok := t.draw(rng, all, 0, c.a, want, []int{})
		if !ok {
			return
		}
		y := slices.DeleteFunc(slices.Clone(all), func(i int) bool { _, in := slices.BinarySearch(x, i); return in })
		lists := [2][]int{x, y}
		if got, fits := t.weigh(lists); fits && t.isBetter(got, *best) {
			*best = got
		}
		if t.sum(x) == want {
			return
		}
	}
}

// holdsFixed tells whether all that must be placed is.
func (t *pair) holdsFixed(lists [2][]int) bool {
	in := make([]bool, len(t.size))
	for _, list := range lists {
		for _, i := range list {
			in[i] = true
		}
	}
	for i, f := range t.fixed {
		if f && !in[i] {
			return false
		}
	}
	return true
}

// open parts a pool in what must be on a side and what may be, without what is
// taken. Of both sides together all must be that is fixed, of the second that the
// first has not; of a side of what is parted, what is pinned to it.
func (t *pair) open(pool []int, s int, taken []int) (must, may []int) {
	in := make([]bool, len(t.size))
	for _, i := range taken {
		in[i] = true
	}
	parted := taken != nil && len(taken) == 0
	for _, i := range pool {
		pin := int(t.pin[i])
		switch {
		case in[i] || pin != anySide && pin != s && (s != bothOfThem || pin > 1):
		case parted && pin == s || !parted && t.fixed[i] && (pin == s || taken != nil || s == bothOfThem):
			must = append(must, i)
		default:
			may = append(may, i)
		}
	}
	return must, may
}

// draw chooses k pieces at random whose lengths come to what is wanted, or to as
// little less as it finds.
func (t *pair) draw(rng *rand.Rand, pool []int, s, k int, want int64, taken []int) ([]int, bool) {
	must, may := t.open(pool, s, taken)
	if len(must) > k || len(must)+len(may) < k {
		return nil, false
	}
	rng.Shuffle(len(may), func(i, j int) { may[i], may[j] = may[j], may[i] })
	z := k - len(must)
	in, out := may[:z], may[z:]
	over := t.sum(must) + t.sum(in) - want
	// Change pieces while that brings the sum nearer.
	if z > 0 && len(out) > 0 {
		for range 6 * k {
			i, j := rng.IntN(z), rng.IntN(len(out))
			d := t.size[in[i]] - t.size[out[j]]
			if distance(over-d, 0) < distance(over, 0) {
				in[i], out[j] = out[j], in[i]
				over -= d
			}
		}
	}
	for range 4 {
		if over == 0 {
			break
		}
		over = t.tune(in, out, over)
		rng.Shuffle(len(in), func(i, j int) { in[i], in[j] = in[j], in[i] })
		rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	}
	if over > 0 {
		return nil, false
	}
	list := slices.Concat(must, in)
	slices.Sort(list)
	return list, true
}

// tune changes up to three of some pieces for as many of others, so that their
// sum goes down by what it is over, or by as little more as there is. It gives
// what it is over then.
func (t *pair) tune(in, out []int, over int64) int64 {
	in, out = in[:min(13, len(in))], out[:min(28-min(13, len(in)), len(out))]
	a, b := t.triples(in), t.triples(out)
	best, from, to := over, uint32(0), uint32(0)
	good := func(v int64) bool { return v <= 0 && (best > 0 || v > best) || best > 0 && v > 0 && v < best }
	for n := 1; n <= 3 && best != 0; n++ {
		slices.SortFunc(a[n], func(x, y option) int { return cmp.Compare(x.size, y.size) })
		slices.SortFunc(b[n], func(x, y option) int { return cmp.Compare(x.size, y.size) })
		j := 0
		for _, x := range a[n] {
			// over - x.size + y.sum is to be 0 or a little less.
			for j+1 < len(b[n]) && over-x.size+b[n][j+1].size <= 0 {
				j++
			}
			if j < len(b[n]) {
				if v := over - x.size + b[n][j].size; good(v) {
					best, from, to = v, x.set, b[n][j].set
				}
			}
		}
	}
	for i, j := 0, 0; from != 0; i, from = i+1, from>>1 {
		if from&1 == 0 {
			continue
		}
		for to>>j&1 == 0 {
			j++
		}
		in[i], out[j] = out[j], in[i]
		j++
	}
	return best
}

// triples lists all sets of up to three of a few pieces, by their number.
func (t *pair) triples(list []int) [4][]option {
	var by [4][]option
	for i, x := range list {
		one := option{t.size[x], 1 << i}
		by[1] = append(by[1], one)
		for j, y := range list[:i] {
			two := option{one.size + t.size[y], one.set | 1<<j}
			by[2] = append(by[2], two)
			for k, z := range list[:j] {
				by[3] = append(by[3], option{two.size + t.size[z], two.set | 1<<k})
			}
		}
	}
	return by
}

// drawBest is the best choice of k pieces for a side, of those not taken: of all
// of them where they are few, else of some drawn at random.
func (t *pair) drawBest(rng *rand.Rand, pool []int, s, k int, limit int64, taken []int) ([]int, bool) {
	if taken == nil {
		taken = []int{}
	}
	must, may := t.open(pool, s, taken)
	if len(must) > k || len(must)+len(may) < k {
		return nil, false
	}
	z := k - len(must)
	limit -= t.sum(must)
	if len(may) <= mostDrawn {
		return t.bestSum(must, may, z, limit)
	}
	// The longest of what is left, if they go in.
	long := slices.Clone(may)
	slices.SortStableFunc(long, func(i, j int) int { return cmp.Compare(t.size[j], t.size[i]) })
	if t.sum(long[:z]) <= limit {
		list := slices.Concat(must, long[:z])
		slices.Sort(list)
		return list, true
	}
	var best []int
	most := int64(-1)
	for range 3 {
		list, ok := t.draw(rng, pool, s, k, limit+t.sum(must), taken)
		if !ok {
			continue
		}
		// Those drawn, and some others.
		some := slices.DeleteFunc(list, func(i int) bool { return slices.Contains(must, i) })
		for _, j := range rng.Perm(len(may)) {
			if len(some) < mostDrawn && !slices.Contains(some, may[j]) {
				some = append(some, may[j])
			}
		}
		if list, ok := t.bestSum(must, some, z, limit); ok && t.sum(list) > most {
			if best, most = list, t.sum(list); most-t.sum(must) == limit {
				break
			}
		}
	}
	return best, best != nil
}

// mostDrawn is how many pieces bestSum is given.
const mostDrawn = 26

// bestSum is the best choice of k of a few pieces beside others that must be there:
// the greatest sum up to a limit.
func (t *pair) bestSum(must, may []int, k int, limit int64) ([]int, bool) {
	h := len(may) / 2
	one, two := t.options(may[:h]), t.options(may[h:])
	best, set := int64(-1), [2]uint32{}
	for _, a := range one {
		for _, b := range two {
			if a.pieces+b.pieces != k {
				continue
			}
			j := len(b.list) - 1
			for _, x := range a.list {
				for j >= 0 && x.size+b.list[j].size > limit {
					j--
				}
				if j < 0 {
					break
				}
				if v := x.size + b.list[j].size; v > best {
					best, set = v, [2]uint32{x.set, b.list[j].set}
				}
			}
		}
	}
	if best < 0 {
		return nil, false
	}
	list := slices.Clone(must)
	for i, z := range may {
		if i < h && set[0]>>i&1 == 1 || i >= h && set[1]>>(i-h)&1 == 1 {
			list = append(list, z)
		}
	}
	slices.Sort(list)
	return list, true
}
