package fit

import (
	"math/rand/v2"
	"slices"
)

// surrogate is the best share of the two sides taken for one, to the
// millisecond (the surrogate relaxation; S. Martello and P. Toth, Discrete
// Applied Mathematics 3, 1981).
func (t *pair) surrogate(e *effort) (Share, bool) {
	capacity := t.cap[0]
	if !t.one {
		capacity = max(t.cap[0], t.cap[1], t.cap[0]+t.cap[1]+t.gap)
	}
	if t.more != nil {
		return Share{}, false // what a song costs in gaps is not the same for all
	}
	unit := t.unit()
	pieces := fewestFit(t.size, capacity, t.gap)
	words := countedWords(capacity/unit, t.gap/unit, pieces)
	cost := words * int64(len(t.size)) / 1000
	if words > mostWords || cost > e.left/2 {
		return Share{}, false
	}
	e.spend(cost)
	c := newCounted(capacity/unit, t.gap/unit, pieces)
	for i, v := range t.size {
		c.add(v/unit, t.fixed[i])
	}
	s, ok := c.best(t.aim)
	s.Time *= Millis(unit)
	return s, ok
}

// unit is the greatest that divides all sizes and the gap.
func (t *pair) unit() int64 {
	unit := max(t.gap, -t.gap)
	for _, v := range t.size {
		unit = gcd(unit, v)
	}
	return max(unit, 1)
}

// reach makes a choice with exactly this share, and parts it.
func (t *pair) reach(e *effort, rng *rand.Rand, want Share) (split, bool) {
	unit := t.unit()
	var list, open []int
	for _, i := range rng.Perm(len(t.size)) {
		if t.fixed[i] {
			list = append(list, i)
			want.Songs--
			want.Time -= Millis(t.size[i])
		} else {
			open = append(open, i)
		}
	}
	times := make([]int64, len(open))
	for k, i := range open {
		times[k] = t.size[i] / unit
	}
	if want.Songs < 0 || want.Time < 0 || !e.spend(int64(want.Time)/unit/64*int64(want.Songs)*int64(len(open))/1000) {
		return split{}, false
	}
	chosen, ok := pick(times, Share{want.Songs, want.Time / Millis(unit)})
	if !ok {
		return split{}, false
	}
	for _, k := range chosen {
		list = append(list, open[k])
	}
	slices.Sort(list)
	got, ok, _ := t.part(e, list)
	return got, ok
}
