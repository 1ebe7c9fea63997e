package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// settle finds what two sides can keep of up to mostSettled pieces, and tells
// whether that is proved best, and blank tape too. For each number of pieces a side there is a bound
// on the playing time; the numbers are gone through, the most promising first.
// Where lengths lie close there are so many choices that one fills both sides to
// the millisecond, and it is drawn at random; where there are few, those near
// the bound are listed and none is missed (see fillBoth, provePair).
func (t *pair) settle(e *effort, rng *rand.Rand, best *split) (proved, blank bool) {
	n := len(t.size)
	if n > mostSettled || t.one || t.used[0] || t.used[1] {
		return false, false
	}
	if t.more != nil {
		return t.settleHeavy(e, rng, best)
	}
	top, known := n, true
	if t.aim == MostSongs {
		if top, known = t.mostPieces(e, best); !known {
			return false, false
		}
	}
	b := t.newBounds(e)
	list := b.list(t.aim, top)
	proved = true
	last := int64(-1)
	for _, c := range list {
		_, worth := t.better(c, b.time(c), best)
		if !worth {
			if t.aim.compare(Share{c.a + c.b, Millis(b.time(c))}, best.share) < 0 {
				break
			}
			continue
		}
		goal := b.time(c)
		tries := mostFills
		if goal == last { // of these it is the sum that cannot be found
			tries /= 10
		}
		last = goal
		if !t.near(e, c, b, best) && !t.bySums(e, rng, c, b, best) && !t.fillBoth(e, rng, c, tries, b, best) {
			if least, worth := t.better(c, b.time(c), best); worth && !t.listBoth(e, c, least, b, best) {
				proved = false
			}
		}
		if e.spent() {
			return false, false
		}
	}
	if !proved || !t.both(best.share) {
		return false, false
	}
	return true, t.settleBlank(e, b, best)
}

// settleBlank looks at the other choices that keep as much, where blank tape is
// not as well as it could be, and tells whether none leaves it better.
func (t *pair) settleBlank(e *effort, b *bounds, best *split) bool {
	n := best.share.Songs
	if n < 0 || n > len(t.size) { // it is none of these pieces (see settleHeavy)
		return true
	}
	if best.blank.compare(b.floor(n, int64(best.share.Time))) <= 0 {
		return true
	}
	if int64(best.share.Time) == b.top[n] && !slices.ContainsFunc(t.pin, func(s int8) bool { return s != anySide }) {
		// No other lengths than the longest add up to this.
		x, ok, known := t.part(e, slices.Sorted(slices.Values(slices.Concat(best.lists[0], best.lists[1]))))
		if ok && t.isBetter(x, *best) {
			*best = x
		}
		return known
	}
	for a := range n + 1 {
		c := counts{a, n - a}
		if b.time(c) >= int64(best.share.Time) && !t.listBoth(e, c, int64(best.share.Time), b, best) {
			return false
		}
	}
	return true
}

// near lists the choices of so many pieces a side that are at the bound, then
// those a little below it, and so on. It tells whether one was found: there is
// none better then. It stops where there are too many, which is where fillBoth
// finds one soon.
func (t *pair) near(e *effort, c counts, b *bounds, best *split) bool {
	for under := int64(0); ; under = 4*under + 1 {
		least, worth := t.better(c, b.time(c), best)
		if !worth {
			return true
		}
		from := max(least, b.time(c)-under)
		was := best.share
		if !t.listBoth(e, c, from, b, best) {
			return false
		}
		if from == least || t.aim.compare(best.share, was) > 0 {
			return true
		}
	}
}

// mostSettled is how many pieces settle takes.
const mostSettled = 128

// better gives the playing time that so many pieces a side must have to be
// better than the best so far; worth is false where their bound says that they
// cannot be.
func (t *pair) better(c counts, bound int64, best *split) (least int64, worth bool) {
	s, n := best.share, c.a+c.b
	switch {
	case t.aim == MostSongs && n < s.Songs:
		return 0, false
	case t.aim == MostSongs && n > s.Songs:
		return 0, true
	}
	least = int64(s.Time) + truth64(n <= s.Songs)
	return least, bound >= least
}

// settleHeavy is settle where some pieces are several songs: with each choice of
// those in turn, of which the others are left out.
func (t *pair) settleHeavy(e *effort, rng *rand.Rand, best *split) (proved, blank bool) {
	var heavy []int
	for i, m := range t.more {
		if m > 0 && !t.fixed[i] {
			heavy = append(heavy, i)
		}
	}
	if len(heavy) > 4 {
		return false, false
	}
	proved, blank = true, true
	for in := 1<<len(heavy) - 1; in >= 0; in-- {
		x := &pair{aim: t.aim, spare: t.spare, gap: t.gap, cap: t.cap, bound: t.bound}
		var number []int
		songs := 0 // beyond the pieces
		for i := range t.size {
			k := slices.Index(heavy, i)
			if k >= 0 && in>>k&1 == 0 {
				continue
			}
			x.size = append(x.size, t.size[i])
			x.pin = append(x.pin, t.pin[i])
			x.fixed = append(x.fixed, t.fixed[i] || k >= 0)
			songs += truth(t.fixed[i] || k >= 0) * t.more[i]
			number = append(number, i)
		}
		// From the best so far, as far as it is one of these.
		start := split{share: Share{best.share.Songs - songs, best.share.Time}, blank: best.blank}
		got := start
		ok, sure := x.settle(e, rng, &got)
		proved, blank = proved && ok, blank && (sure || x.aim.compare(got.share, start.share) < 0)
		if got.share == start.share && got.blank == start.blank {
			continue
		}
		for s := range got.lists {
			for k, i := range got.lists[s] {
				got.lists[s][k] = number[i]
			}
		}
		if y, fits := t.weigh(got.lists); fits && t.isBetter(y, *best) {
			*best = y
		}
	}
	return proved, blank
}

func (t *pair) isBetter(x, y split) bool {
	c := t.aim.compare(x.share, y.share)
	return c > 0 || c == 0 && x.blank.compare(y.blank) < 0
}

// mostPieces is how many pieces can be parted over the sides at the most: for
// shorter ones can take the place of longer, that is the shortest of each pin.
// It betters the best where that has fewer.
func (t *pair) mostPieces(e *effort, best *split) (most int, known bool) {
	var by [3][]int // pinned to either side, and free
	var least [3]int
	for i := range t.size {
		k := 2
		if t.pin[i] != anySide {
			k = int(t.pin[i])
		}
		if k > 2 || t.pin[i] == 2 { // on neither side
			if t.fixed[i] {
				return 0, false
			}
			continue
		}
		by[k] = append(by[k], i)
		least[k] += truth(t.fixed[i])
	}
	for k := range by {
		slices.SortStableFunc(by[k], func(i, j int) int {
			return cmp.Or(truth(t.fixed[j])-truth(t.fixed[i]), cmp.Compare(t.size[i], t.size[j]))
		})
	}
	if len(by[0])*len(by[1]) > 64 {
		return 0, false
	}
	for most = len(t.size); most > 0; most-- {
		for a := least[0]; a <= len(by[0]); a++ {
			for b := least[1]; b <= len(by[1]); b++ {
				f := most - a - b
				if f < least[2] || f > len(by[2]) {
					continue
				}
				choice := slices.Concat(by[0][:a], by[1][:b], by[2][:f])
				slices.Sort(choice)
				if size := t.sum(choice); size > t.most(most) {
					continue
				}
				x, ok, sure := t.part(e, choice)
				if !ok {
					if !sure {
						return 0, false
					}
					continue
				}
				if t.isBetter(x, *best) {
					*best = x
				}
				return most, true
			}
		}
	}
	return 0, true
}

func (t *pair) sum(list []int) (all int64) {
	for _, i := range list {
		all += t.size[i]
	}
	return all
}
