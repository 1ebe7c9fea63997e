package fit

import "slices"

// inOrder solves long lists whose order is given: only the side breaks are
// chosen, and what to leave out when not all fits.
func inOrder(e *effort, p *Problem) (Answer, bool) {
	all := run(p.within())
	wanted := slices.DeleteFunc(slices.Clone(all), func(i int) bool { return p.Pieces[i].Reserve > 0 && !p.Pieces[i].Must })
	atLeast := p.fewest(wanted)
	top := min(max(1, p.MaxTapes), len(p.Pieces))
	var best Answer
	any := false
	for tapes := max(1, atLeast, p.nextFit(wanted)); tapes <= top && !any; tapes++ {
		looked := 0
		p.rows(tapes, func(kinds []int) bool {
			sides, _ := p.row(kinds)
			e.spend(int64(len(sides)) + 1)
			if cuts, ok := p.breaks(wanted, sides); ok {
				a := p.answer(kinds, cutAt(wanted, cuts), nil)
				if len(a.Tapes) == tapes && (!any || p.better(a, best)) {
					best, any = a, true
				}
			}
			looked++
			return looked < 200 && !e.spent()
		})
		if any {
			best.Proved = (tapes == max(1, atLeast) || len(p.Kinds) == 1) && looked < 200 && len(wanted) == len(all)
			if best.Proved {
				atLeast = tapes
			}
		}
	}
	bound := Share{}
	if any {
		bound = best.Score.Wanted
	}
	if !any || len(wanted) < len(all) {
		rows := [][]int{p.roomiest(top)}
		if any { // reserves fill the tapes that the wanted pieces need
			rows = [][]int{nil}
			for _, t := range best.Tapes {
				rows[0] = append(rows[0], t.Kind)
			}
		} else if top == 1 {
			rows = nil
			for k := range p.Kinds {
				rows = append(rows, []int{k})
			}
		}
		exact := len(wanted) == len(all)
		for _, kinds := range rows {
			b := newBoard(e, p, kinds)
			most := b.mostShare(wanted, nil)
			if any {
				most = bound
			}
			lists, proved, ok := p.partInOrder(e, kinds)
			if !ok {
				continue
			}
			exact = exact && proved
			a := p.answer(kinds, lists, nil)
			if best.Tapes == nil || p.better(a, best) {
				best = a
			}
			if p.Aim.compare(most, bound) > 0 {
				bound = most
			}
			any = true
		}
		if best.Proved = exact && len(wanted) == len(all) && top == 1; !best.Proved && best.Score.Wanted != bound {
			best.Within = max(0, bound.Time-best.Score.Wanted.Time)
		}
	}
	if !any {
		return Answer{}, false
	}
	best = p.fadeIn(e, best)
	best.AtLeast = p.least(best, atLeast)
	return best, true
}

// within is the part of the list that can have a place where the order is
// given: nothing goes before a piece that must be placed and opens everything,
// nothing after one that closes everything.
func (p *Problem) within() (from, to int) {
	to = len(p.Pieces)
	for i, q := range p.Pieces {
		if q.Must && q.Opens == OfAll {
			from = i
		}
		if q.Must && q.Closes == OfAll && to == len(p.Pieces) {
			to = i + 1
		}
	}
	return from, max(from, to)
}

// nextFit is how many tapes the given order needs where there is one kind and
// no rule: each side as far as it goes, which no other breaks better. It is 1
// where it cannot tell.
func (p *Problem) nextFit(list []int) int {
	if len(p.Kinds) > 1 {
		return 1
	}
	sides := p.Kinds[0].Sides
	side := 0
	var used Millis
	for k, i := range list {
		q := &p.Pieces[i]
		if q.Gap < 0 || q.Side > 0 || q.Opens != Nothing || q.Closes != Nothing || q.NotThin || q.Group != 0 && p.Apart > 0 {
			return 1
		}
		for first := true; ; first = false {
			more := q.Length
			if used > 0 {
				more += p.Pieces[list[k-1]].Gap
			}
			if used+more <= sides[side%len(sides)].Capacity {
				used += more
				break
			}
			if !first && used == 0 && side%len(sides) == 0 {
				return len(p.Pieces) + 1 // longer than any side, or nearly
			}
			side++
			used = 0
		}
		if side > len(sides)*len(p.Pieces) {
			return len(p.Pieces) + 1
		}
	}
	return side/len(sides) + 1
}

// fewest is a number of tapes that these pieces cannot do without, by what
// they need in all.
func (p *Problem) fewest(pieces []int) int {
	var need int64
	gap, _ := leastGap(p.Pieces)
	for _, i := range pieces {
		need += int64(p.Pieces[i].Length) + min(int64(p.Pieces[i].Gap), gap)
	}
	roomy := p.roomiest(min(max(1, p.MaxTapes), len(p.Pieces)))
	for t := range roomy {
		if p.holds(roomy[:t+1], gap) >= need {
			return t + 1
		}
	}
	return len(roomy) + 1
}

// breaks places a whole list in its order: side s takes list[cuts[s]] to
// list[cuts[s+1]-1], with blank tape best placed. It is dynamic programming
// over places in the list, and exact under every rule: a side holds a stretch
// of the list, and the rules are about one side.
func (p *Problem) breaks(list []int, sides []Side) (cuts []int, ok bool) {
	n, m := len(list), len(sides)
	type cell struct {
		ok    bool
		blank Blank
	}
	row := make([]cell, n+1)
	row[0].ok = true
	from := make([][]int32, m)
	for s, side := range sides {
		now := make([]cell, n+1)
		from[s] = make([]int32, n+1)
		for j, c := range row {
			if !c.ok {
				continue
			}
			var used, most Millis // where the last piece ends, and the one that ends last
			for k := j; ; k++ {
				if most = max(most, used); most <= side.Capacity {
					b := c.blank.plus(p.Spare.blank(s, m, side.Capacity-most))
					if !now[k].ok || b.compare(now[k].blank) < 0 {
						now[k] = cell{true, b}
						from[s][k] = int32(j)
					}
				}
				if k == n {
					break
				}
				q := &p.Pieces[list[k]]
				if k > j {
					before := &p.Pieces[list[k-1]]
					if q.Opens != Nothing || before.Closes != Nothing {
						break
					}
					used += before.Gap
				}
				// An overlap is at most the piece before it, so from here on no
				// piece ends on this side.
				if used > side.Capacity || most > side.Capacity {
					break
				}
				used += q.Length
				if q.Side > 0 && q.Side != s+1 || q.Opens == OfAll && k > 0 || q.Closes == OfAll && k < n-1 ||
					q.NotThin && side.ThinFrom > 0 && used > side.ThinFrom || p.crowded(list[j:k], list[k]) {
					break
				}
			}
		}
		row = now
	}
	if !row[n].ok {
		return nil, false
	}
	cuts = make([]int, m+1)
	cuts[m] = n
	for s, k := m-1, n; s >= 0; s-- {
		k = int(from[s][k])
		cuts[s] = k
	}
	return cuts, true
}

// crowded tells whether one of the latest pieces is of the group of the next.
func (p *Problem) crowded(list []int, next int) bool {
	g := p.Pieces[next].Group
	if g == 0 {
		return false
	}
	for back := len(list) - 1; back >= 0 && len(list)-back <= p.Apart; back-- {
		if p.Pieces[list[back]].Group == g {
			return true
		}
	}
	return false
}

func cutAt(list, cuts []int) [][]int {
	var out [][]int
	for s := range len(cuts) - 1 {
		out = append(out, slices.Clone(list[cuts[s]:cuts[s+1]]))
	}
	return out
}

// partInOrder keeps the best part of a list whose order is given, on sides
// that cannot hold all of it.
func (p *Problem) partInOrder(e *effort, kinds []int) (lists [][]int, proved, ok bool) {
	sides, _ := p.row(kinds)
	if t, ok := newStretches(e, p, kinds); ok {
		if lists, ok := t.solve(); ok {
			return lists, t.exact, true
		}
	}
	if lists, ok = p.beam(e, kinds); ok {
		p.polish(e, sides, lists)
	}
	return lists, false, ok
}

// polish betters sides one at a time: between the last piece of the side
// before and the first of the side after, each takes the best choice of what
// it has and of what was left out there.
func (p *Problem) polish(e *effort, sides []Side, lists [][]int) {
	gap, _ := leastGap(p.Pieces)
	for s, list := range lists {
		from, to := 0, len(p.Pieces)
		for z, other := range lists {
			if z < s && len(other) > 0 {
				from = other[len(other)-1] + 1
			} else if z > s && len(other) > 0 {
				to = min(to, other[0])
			}
		}
		if len(list) == 0 || to-from > mostChosen {
			continue
		}
		t := &pair{aim: p.Aim, gap: gap, one: true, cap: [2]int64{int64(sides[s].Capacity), -1}}
		var old split
		for i := from; i < to; i++ {
			q := &p.Pieces[i]
			pin := int8(anySide)
			_, on := slices.BinarySearch(list, i)
			if !on && (q.Reserve > 0 || q.Side > 0 && q.Side != s+1) {
				pin = 1 // not here
			}
			if on {
				old.lists[0] = append(old.lists[0], i-from)
			}
			t.size = append(t.size, int64(q.Length)+int64(q.Gap)-gap)
			t.pin = append(t.pin, pin)
			t.fixed = append(t.fixed, on && (q.Must || q.Reserve > 0))
		}
		best, ok := t.weigh(old.lists)
		if !ok || e.spent() {
			continue
		}
		was := best.share
		t.search(e, &best, 40)
		if p.Aim.compare(best.share, was) <= 0 {
			continue
		}
		var next []int
		for _, k := range best.lists[0] {
			next = append(next, k+from)
		}
		slices.Sort(next)
		if p.broken(next, sides[s]) == 0 && p.allowed(next, s+1) && !p.bound(next) {
			lists[s] = next
		}
	}
}

// bound tells whether a piece has to do with where everything begins or ends.
func (p *Problem) bound(list []int) bool {
	return slices.ContainsFunc(list, func(i int) bool { return p.Pieces[i].Opens == OfAll || p.Pieces[i].Closes == OfAll })
}

// stretches is a list of pieces with the same gap after each, scaled to the
// greatest unit that divides all of it, on one side or two. Each side takes the
// best part of a stretch of the list; where the stretches meet is tried
// everywhere. It knows which pieces must be placed, and on which side.
type stretches struct {
	p     *Problem
	sides []Side
	unit  int64
	gap   int64
	exact bool // all gaps are the same
	items []item
	cap   []int64 // of each side
}

// item is a piece of stretches.
type item struct {
	time  int64
	index int // of the piece in the problem
	must  bool
	pin   int // the side it must be on, counted from 1; 0: any
}

func newStretches(e *effort, p *Problem, kinds []int) (*stretches, bool) {
	t := &stretches{p: p}
	if t.sides, _ = p.row(kinds); len(t.sides) > 2 {
		return nil, false
	}
	top, thin := Millis(0), false
	for _, side := range t.sides {
		top = max(top, side.Capacity)
		thin = thin || side.ThinFrom > 0
	}
	t.gap, t.exact = leastGap(p.Pieces)
	from, to := p.within()
	for i, q := range p.Pieces {
		if i < from || i >= to {
			if q.Must {
				return nil, false
			}
			continue
		}
		// What opens or closes everything does so by its place in the list.
		opens := q.Opens == Nothing || q.Opens == OfAll && q.Must && i == from
		closes := q.Closes == Nothing || q.Closes == OfAll && q.Must && i == to-1
		if !opens || !closes || q.Reserve > 0 || q.NotThin && thin || q.Group != 0 && p.Apart > 0 || q.Side > 0 && len(kinds) > 1 {
			return nil, false
		}
		if q.Length > top || q.Side > len(t.sides) {
			if q.Must {
				return nil, false
			}
			continue
		}
		v := int64(q.Length) + int64(q.Gap) - t.gap
		t.unit = gcd(t.unit, v)
		t.items = append(t.items, item{v, i, q.Must, q.Side})
	}
	t.unit = max(1, gcd(t.unit, max(t.gap, -t.gap)))
	for i := range t.items {
		t.items[i].time /= t.unit
	}
	t.gap /= t.unit
	var words int64
	for _, side := range t.sides {
		c := int64(side.Capacity) / t.unit
		t.cap = append(t.cap, c)
		words = max(words, countedWords(c, t.gap, t.pieces(c)))
	}
	cost := words * int64(len(t.items)) * int64(len(t.sides)) / 2000
	if words > mostWords || cost > e.left/2 {
		return nil, false
	}
	e.spend(cost)
	return t, true
}

// pieces is how many of the shortest pieces a side can hold.
func (t *stretches) pieces(capacity int64) int {
	times := make([]int64, len(t.items))
	for k, x := range t.items {
		times[k] = x.time
	}
	return fewestFit(times, capacity, t.gap)
}

// fewestFit is how many of the shortest fit, and no more of any do.
func fewestFit(times []int64, capacity, gap int64) int {
	used := int64(0)
	for k, v := range slices.Sorted(slices.Values(times)) {
		if used += v; used > capacity {
			return k
		}
		used += gap
	}
	return len(times)
}

// part is the best share of a stretch; ok is false where what must be there
// does not fit.
type part struct {
	Share
	ok bool
}

// best is the best share of each stretch from one end: best[k] is of k pieces.
func (t *stretches) best(s int, items []item) []part {
	c := newCounted(t.cap[s], t.gap, t.pieces(t.cap[s]))
	out := []part{{ok: true}}
	dead := false
	for _, x := range items {
		switch {
		case x.pin == 0 || x.pin == s+1:
			c.add(x.time, x.must)
		case x.must:
			dead = true
		}
		share, ok := c.best(t.p.Aim)
		out = append(out, part{share, ok && !dead})
	}
	return out
}

func (t *stretches) solve() ([][]int, bool) {
	n, m := len(t.items), len(t.sides)
	back := slices.Clone(t.items)
	slices.Reverse(back)
	first := t.best(0, t.items)
	last := make([]part, n+1)
	last[0].ok = true
	if m == 2 {
		last = t.best(1, back)
	}
	blank := func(s int, x Share) Blank {
		used := (int64(x.Time) + t.gap*int64(max(0, x.Pieces-1))) * t.unit
		return t.p.Spare.blank(s, m, t.sides[s].Capacity-Millis(used))
	}
	at := -1
	var best Share
	var far Blank
	for k := range n + 1 {
		a, z := first[k], last[n-k]
		if !a.ok || !z.ok {
			continue
		}
		x := Share{a.Pieces + z.Pieces, a.Time + z.Time}
		b := blank(0, a.Share)
		if m == 2 {
			b = b.plus(blank(1, z.Share))
		}
		if c := t.p.Aim.compare(x, best); at < 0 || c > 0 || c == 0 && b.compare(far) < 0 {
			at, best, far = k, x, b
		}
	}
	if at < 0 {
		return nil, false
	}
	out := make([][]int, m)
	wants := []part{first[at], last[n-at]}
	for s, stretch := range [][]item{t.items[:at], t.items[at:]}[:m] {
		list, ok := t.pick(s, stretch, wants[s].Share)
		if !ok {
			return nil, false
		}
		out[s] = list
	}
	return out, true
}

// pick finds which pieces of a stretch make up a share of a side.
func (t *stretches) pick(s int, stretch []item, want Share) (list []int, ok bool) {
	var times []int64
	var index []int
	for _, x := range stretch {
		switch {
		case x.must:
			list = append(list, x.index)
			want.Pieces--
			want.Time -= Millis(x.time)
		case x.pin == 0 || x.pin == s+1:
			times = append(times, x.time)
			index = append(index, x.index)
		}
	}
	chosen, ok := pick(times, want)
	for _, k := range chosen {
		list = append(list, index[k])
	}
	slices.Sort(list)
	return list, ok
}
