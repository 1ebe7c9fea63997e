package fit

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// counts is how many pieces lie on each of two sides.
type counts struct{ a, b int }

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

// bounds are, by number of pieces, how long they can be on a side or on both.
type bounds struct {
	t     *pair
	top   []int64    // the longest k of all, or as long as k are known to be at the most
	high  []int64    // the longest k of all
	low   []int64    // the shortest k of all
	limit [2][]int64 // what a side takes of k pieces; less than 0: not so many
	unit  int64      // that divides all sizes
	sums  map[int]*excess
}

// newBounds looks at the longest and the shortest pieces and, where that is
// cheap, at the sums that so many pieces can have.
func (t *pair) newBounds(e *effort) *bounds {
	n := len(t.size)
	b := &bounds{t: t, top: make([]int64, n+1), low: make([]int64, n+1), sums: map[int]*excess{}}
	up := slices.Sorted(slices.Values(t.size))
	for k := range n {
		b.low[k+1] = b.low[k] + up[k]
		b.top[k+1] = b.top[k] + up[n-1-k]
	}
	unit := int64(0)
	for _, v := range t.size {
		unit = gcd(unit, v)
	}
	b.high = slices.Clone(b.top)
	unit = max(unit, 1)
	b.unit = unit
	for s := range b.limit {
		most := 0
		for k := range n + 1 {
			l := int64(0)
			if k > 0 {
				l = min(t.cap[s]-t.gap*int64(k-1), b.top[k])
			}
			if l < b.low[k] {
				break
			}
			b.limit[s] = append(b.limit[s], l)
			most = k
		}
		if s == 1 && t.cap[0] == t.cap[1] {
			b.limit[1] = b.limit[0]
			break
		}
		// The sums that there are: dynamic programming, a row a number of pieces.
		top := t.cap[s]/unit + 1
		if t.gap < 0 {
			top -= t.gap * int64(most) / unit
		}
		if words := (top/64 + 1) * int64(most+1); words*int64(n) < 20_000_000 {
			e.spend(words * int64(n) / 1500)
			c := newCounted(t.cap[s]/unit, 0, most)
			for k, row := range c.rows {
				c.limit[k] = top
				c.rows[k] = append(row, make(sums, max(0, int(top/64+1)-len(row)))...)
			}
			for _, v := range t.size {
				c.add(v/unit, false)
			}
			for k := range b.limit[s] {
				if v, ok := c.rows[k].atMost(b.limit[s][k] / unit); ok {
					b.limit[s][k] = v * unit
				} else {
					b.limit[s][k] = -1
				}
			}
		}
	}
	return b
}

// side is what a side takes of k pieces at the most; ok is false where it does
// not take so many.
func (b *bounds) side(s, k int) (int64, bool) {
	if k >= len(b.limit[s]) || b.limit[s][k] < 0 {
		return 0, false
	}
	return b.limit[s][k], true
}

// time bounds the playing time of so many pieces a side.
func (b *bounds) time(c counts) int64 {
	x, okX := b.side(0, c.a)
	y, okY := b.side(1, c.b)
	if !okX || !okY || c.a+c.b >= len(b.top) {
		return -1
	}
	return min(x+y, b.top[c.a+c.b])
}

// floor is what blank tape is at the least where n pieces have this playing time.
func (b *bounds) floor(n int, size int64) Blank {
	t := b.t
	least, any := Blank{}, false
	for a := range n + 1 {
		top, okA := b.side(0, a)
		other, okB := b.side(1, n-a)
		lo, hi := max(0, size-other), min(top, size)
		if !okA || !okB || lo > hi || a == 0 && hi > 0 || n == a && size > hi {
			continue
		}
		at := func(x int64) {
			x = min(max(x, lo), hi)
			y := t.blankOn(counts{a, n - a}, x, size-x)
			if !any || y.compare(least) < 0 {
				least, any = y, true
			}
		}
		at(lo)
		at(hi)
		if t.spare == Even {
			even := (size + t.cap[0] - t.cap[1] - t.gap*int64(a-1) + t.gap*int64(n-a-1)) / 2
			at(even - even%b.unit)
			at(even - even%b.unit + b.unit)
		}
	}
	if !any {
		return t.floor(n, size)
	}
	return least
}

// list gives the numbers of pieces that are possible, the most promising first:
// up to so many in all.
func (b *bounds) list(aim Aim, top int) (all []counts) {
	for x := range b.limit[0] {
		for y := range b.limit[1] {
			c := counts{x, y}
			if x+y <= top && b.time(c) >= 0 && b.low[x+y] <= b.time(c) {
				all = append(all, c)
			}
		}
	}
	slices.SortStableFunc(all, func(x, y counts) int {
		return cmp.Or(
			-aim.compare(Share{x.a + x.b, Millis(b.time(x))}, Share{y.a + y.b, Millis(b.time(y))}),
			cmp.Compare(distance(int64(x.a), int64(x.b)), distance(int64(y.a), int64(y.b))))
	})
	return all
}

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

// excess is the sums that k of the pieces can have, as what they are over that of
// the k shortest, or under that of the k longest: dynamic programming over the
// pieces, the shortest first, or the longest. As the one after c others a piece
// adds what it is off the c-th of all, which is never less than nothing, so that
// only sums within the room asked for need a place.
type excess struct {
	order []int    // pieces, the shortest first, or the longest
	rows  [][]sums // after so many pieces, so many of which are chosen
	unit  int64
	base  int64 // the sum of the first k
	sign  int64 // 1: what is over it; -1: under
}

// mostExcess bounds the table: 64 MB.
const mostExcess = 8 << 20

// newExcess looks at the sums of k pieces between two limits; nil where these are
// too many.
func (t *pair) newExcess(e *effort, k int, least, most int64, b *bounds) *excess {
	n := len(t.size)
	unit := b.unit
	x := &excess{order: run(0, n), unit: unit, base: b.low[k], sign: 1}
	room := (most - b.low[k]) / unit
	if r := (b.high[k] - least) / unit; r < room {
		x.sign, x.base, room = -1, b.high[k], r
	}
	words := (room/64 + 1) * int64(k+1) * int64(n+1)
	if room < 0 || words > mostExcess || !e.spend(words/500) {
		return nil
	}
	slices.SortStableFunc(x.order, func(i, j int) int { return cmp.Compare(x.sign*t.size[i], x.sign*t.size[j]) })
	row := make([]sums, k+1)
	row[0] = newSums(room)
	row[0][0] = 1
	x.rows = append(x.rows, row)
	for at, i := range x.order {
		next := make([]sums, k+1)
		for c := range row {
			if row[c] != nil && !t.fixed[i] {
				next[c] = slices.Clone(row[c])
			}
			if c > 0 && row[c-1] != nil && t.pin[i] <= 1 {
				add := x.sign * (t.size[i] - t.size[x.order[c-1]]) / unit
				if add > room {
					continue
				}
				if next[c] == nil {
					next[c] = newSums(room)
				}
				next[c].orShifted(row[c-1], add)
			}
		}
		for c := range next { // too few are left
			if c+n-1-at < k {
				next[c] = nil
			}
		}
		row = next
		x.rows = append(x.rows, row)
	}
	return x
}

// most is the greatest sum up to a limit; ok is false where there is none.
func (x *excess) most(k int, limit int64) (int64, bool) {
	row := x.rows[len(x.order)][k]
	if row == nil {
		return 0, false
	}
	if x.sign > 0 {
		v, ok := row.atMost((limit - x.base) / x.unit)
		return x.base + v*x.unit, ok
	}
	v, ok := row.atLeast((x.base - limit + x.unit - 1) / x.unit)
	return x.base - v*x.unit, ok
}

// draw is a choice of k pieces with this sum, one of those at random.
func (x *excess) draw(t *pair, rng *rand.Rand, k int, sum int64) (list []int) {
	v := x.sign * (sum - x.base) / x.unit
	for at := len(x.order); k > 0; at-- {
		i := x.order[at-1]
		row := x.rows[at-1]
		skip := !t.fixed[i] && row[k] != nil && row[k].has(v)
		w := v - x.sign*(t.size[i]-t.size[x.order[k-1]])/x.unit
		take := t.pin[i] <= 1 && row[k-1] != nil && row[k-1].has(w)
		if take && (!skip || rng.IntN(2) == 0) {
			list = append(list, i)
			k--
			v = w
		}
	}
	slices.Sort(list)
	return list
}

// bySums brings the bound for so many pieces in all down to the sums that they
// can have, and parts choices with just that.
func (t *pair) bySums(e *effort, rng *rand.Rand, c counts, b *bounds, best *split) bool {
	n := c.a + c.b
	goal := b.time(c)
	least, worth := t.better(c, goal, best)
	if !worth {
		return true
	}
	x, seen := b.sums[n]
	if !seen {
		x = t.newExcess(e, n, max(least, b.low[n]), goal, b)
		b.sums[n] = x
	}
	if x == nil {
		return false
	}
	goal, ok := x.most(n, goal)
	if b.tight(n, goal); !ok {
		b.tight(n, -1)
	}
	if _, worth := t.better(c, goal, best); !ok || !worth {
		return true // none has as much
	}
	limA, _ := b.side(0, c.a)
	limB, _ := b.side(1, c.b)
	for try := range 60 {
		reached := t.aim.compare(best.share, Share{n, Millis(goal)}) >= 0
		if reached && (try > 20 || best.blank.compare(b.floor(n, goal)) <= 0) || !e.spend(400) {
			break
		}
		t.partDrawn(rng, x.draw(t, rng, n, goal), c, b.want(c, goal, limA, limB), best)
	}
	return t.aim.compare(best.share, Share{n, Millis(goal)}) >= 0
}

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

// want is the playing time that the first side should have where both together
// have this: as much as can be, as little, or as even.
func (b *bounds) want(c counts, size, limA, limB int64) int64 {
	t := b.t
	least, most := max(0, size-limB), min(size, limA)
	switch t.spare {
	case First:
		return least
	case Even:
		even := (size + t.cap[0] - t.gap*int64(c.a-1) - t.cap[1] + t.gap*int64(c.b-1)) / 2
		return min(max(least, even), most)
	}
	return most
}

// tight notes that n pieces in all have no more playing time than this.
func (b *bounds) tight(n int, size int64) { b.top[n] = min(b.top[n], size) }

// mostFills is how many choices fillBoth draws for the first numbers of pieces
// that could be the best.
const mostFills = 300

// bothOfThem stands for either side where a side is named.
const bothOfThem = -2

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
