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
	any, fewest, faded := false, false, false
	every := true // row of fewer tapes was looked at
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
			return looked < mostRows && !e.spent()
		})
		every = every && looked < mostRows
		if any {
			if fewest = every; fewest {
				atLeast = tapes
			}
			best.Proved = fewest && len(wanted) == len(all)
		}
	}
	if !any || len(wanted) < len(all) {
		var rows [][]int
		exact := true
		if any { // reserves fill the tapes that the wanted pieces need
			rows = [][]int{nil}
			for _, t := range best.Tapes {
				rows[0] = append(rows[0], t.Kind)
			}
			exact = fewest && len(p.Kinds) == 1
		} else {
			roomy := p.roomiest(top)
			if exact = p.rows(len(roomy), func(kinds []int) bool {
				rows = append(rows, kinds)
				return len(rows) < mostRows
			}); !exact {
				rows = [][]int{roomy}
			}
		}
		all, bound := any, Share{}
		faded = !all
		for r, kinds := range rows {
			mine := &effort{ctx: e.ctx, left: e.left / int64(len(rows)-r)}
			left := mine.left
			k := p.keep(mine, kinds, all, best.Score.Wanted)
			e.spend(left - mine.left)
			e.cut = e.cut || mine.cut
			exact = exact && k.proved
			if p.Aim.compare(k.bound, bound) > 0 {
				bound = k.bound
			}
			if !k.ok {
				continue
			}
			a := p.answer(kinds, k.lists, k.fades)
			if !any || p.better(a, best) {
				best, any = a, true
			}
			faded = faded && k.whole
		}
		if best.Proved = exact && any; !best.Proved && p.Aim.compare(bound, best.Score.Wanted) > 0 {
			best.Within = max(0, bound.Time-best.Score.Wanted.Time)
		}
	}
	if !any {
		return Answer{}, false
	}
	if !faded {
		best = p.fadeIn(e, best)
	}
	best.AtLeast = p.least(best, atLeast)
	return best, true
}

// mostRows is how many rows of tapes of several kinds are looked at.
const mostRows = 200

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

// keeping is what a row of tapes keeps of a list whose order is given.
type keeping struct {
	lists  [][]int
	fades  []Fade
	ok     bool
	whole  bool  // no rule was left aside, fading neither
	proved bool  // nothing better on these tapes, but what was not asked for
	bound  Share // of the wanted
}

// keep keeps the best part of a list whose order is given, on a row of tapes
// that cannot hold all of it; or, where all that is wanted has a place, fills
// it up with reserves. It need not find what is worse than floor. Where parts
// does not know a rule, a beam search does, and parts gives the bound.
func (p *Problem) keep(e *effort, kinds []int, all bool, floor Share) (k keeping) {
	sides, starts := p.row(kinds)
	stays := make([]bool, len(p.Pieces))
	ranks := p.ranks()
	k.bound = p.wanted()
	if !all {
		ranks = append([]int{0}, ranks...)
		wanted := slices.DeleteFunc(run(0, len(p.Pieces)), func(i int) bool { return p.Pieces[i].Reserve > 0 && !p.Pieces[i].Must })
		b := newBoard(e, p, kinds)
		for _, q := range p.Pieces {
			b.more += int64(q.Fade)
		}
		k.bound = b.mostShare(wanted, nil)
	}
	open := map[int]int{} // by rank
	var sure Share        // of the wanted
	from, to := p.within()
	for i, q := range p.Pieces {
		if stays[i] = q.Must || all && q.Reserve == 0 && i >= from && i < to; !stays[i] {
			open[q.Reserve]++
		} else if q.Reserve == 0 {
			sure.Pieces++
			sure.Time += q.Length
		}
	}
	mine := &effort{ctx: e.ctx, left: e.left / 2}
	k.proved = true
	last, large := len(sides), false
	for _, rank := range ranks {
		if open[rank] == 0 {
			continue
		}
		// What is faded lies as it is, and is not faded more for a reserve.
		q := *p
		q.Pieces = slices.Clone(p.Pieces)
		for _, f := range k.fades {
			q.Pieces[f.Piece].Length -= f.By
			q.Pieces[f.Piece].Fade = 0
		}
		t, exact := newParts(mine, &q, stays, rank)
		if t == nil || !t.narrow(last) {
			large = t != nil
			k.proved = false
			break
		}
		var row []*table
		for s, side := range sides[:last] {
			row = append(row, t.table(side, s+1))
		}
		least := int64(nothing)
		if rank == 0 {
			least = t.worth.of(Share{floor.Pieces - sure.Pieces, floor.Time - sure.Time})
		}
		found, bound, final := t.settle(row, least)
		most := t.worth.share(max(0, bound))
		most = Share{most.Pieces + sure.Pieces, most.Time + sure.Time}
		if rank == 0 && p.Aim.compare(most, k.bound) < 0 {
			k.bound = most
		}
		k.proved = k.proved && final && t.even
		if found <= nothing {
			if final && exact && rank == 0 {
				return k // what must be placed cannot be, or all is worse
			}
			k.proved = false
			break
		}
		cuts, tapes, ok := t.onFewest(row, sides, starts, found)
		if !ok {
			k.proved = false
			break
		}
		last = tapes
		lists := make([][]int, len(sides))
		placed := 0
		var fades []Fade
		for s := range last {
			list, f, laid := q.lay(t.choice(row[s], cuts[s], cuts[s+1]), sides[s])
			ok = ok && laid
			lists[s] = list
			fades = append(fades, f...)
			placed += len(list)
		}
		if fades = append(fades, k.fades...); !ok || !exact && p.Check(p.answer(kinds, lists, slices.Clone(fades))) != nil {
			k.proved = false
			break
		}
		k.fades = fades
		k.whole = k.whole || rank == 0
		k.lists, k.ok = lists, true
		before := 0
		for _, is := range stays {
			before += truth(is)
		}
		for _, list := range lists {
			for _, i := range list {
				stays[i] = true
			}
		}
		// Another choice as good might leave more room for the next rank.
		if rank != ranks[len(ranks)-1] && (placed-before < open[rank] || len(fades) > 0) {
			k.proved = false
		}
	}
	e.spend(e.left/2 - mine.left)
	e.cut = e.cut || mine.cut
	if !k.ok {
		k.proved = false
		if large {
			if k.lists, k.ok = p.halved(e, kinds); k.ok {
				return k
			}
		}
		if k.lists, k.ok = p.beam(e, kinds); k.ok {
			p.polish(e, sides, k.lists)
		}
	}
	return k
}

// halved keeps what it can of a list that is too long to be looked at whole: of
// either half of it on half of the tapes.
func (p *Problem) halved(e *effort, kinds []int) (lists [][]int, ok bool) {
	h, at := len(kinds)/2, 0
	if h == 0 || slices.ContainsFunc(p.Pieces, func(q Piece) bool { return q.Side > 0 || q.Opens == OfAll || q.Closes == OfAll }) {
		return nil, false
	}
	room := func(kinds []int) (all int64) {
		sides, _ := p.row(kinds)
		for _, s := range sides {
			all += int64(s.Capacity)
		}
		return all
	}
	cut := int(int64(len(p.Pieces)) * room(kinds[:h]) / max(1, room(kinds)))
	for k, part := range [][]int{kinds[:h], kinds[h:]} {
		q := *p
		q.Pieces = [][]Piece{p.Pieces[:cut], p.Pieces[cut:]}[k]
		mine := &effort{ctx: e.ctx, left: e.left / int64(2-k)}
		left := mine.left
		half := q.keep(mine, part, false, Share{})
		e.spend(left - mine.left)
		e.cut = e.cut || mine.cut
		if !half.ok || len(half.fades) > 0 {
			return nil, false
		}
		for _, list := range half.lists {
			for x := range list {
				list[x] += at
			}
			lists = append(lists, list)
		}
		at = cut
	}
	return lists, true
}

// onFewest cuts the list over no more tapes than it takes, and the least faded;
// sides is how many sides these have.
func (t *parts) onFewest(row []*table, sides []Side, starts []bool, want int64) (cuts []int, last int, ok bool) {
	walk := t.walk(row, byFound)
	var least Millis
	for s := 1; s <= len(row); s++ {
		if s < len(row) && !starts[s] || walk[s][len(t.items)] != want {
			continue
		}
		if c, faded, found := t.cut(row[:s], sides, want); found && (!ok || faded < least) {
			cuts, last, least, ok = c, s, faded, true
		}
		if ok && least == 0 {
			break
		}
	}
	return
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
