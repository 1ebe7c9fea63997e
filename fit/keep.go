package fit

import "slices"

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
		if k.bound = b.mostShare(wanted, nil); p.Aim.compare(k.bound, floor) < 0 {
			k.proved = true
			return k
		}
	}
	open := map[int]int{} // by rank
	var sure Share        // of the wanted
	from, to := p.within()
	for i, q := range p.Pieces {
		if stays[i] = q.Must || all && q.Reserve == 0 && i >= from && i < to; !stays[i] {
			open[q.Reserve]++
		} else if q.Reserve == 0 {
			sure.Songs += q.songs()
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
		if t == nil {
			k.proved = false
			break
		}
		thinned := false
		if !t.narrow(sides[:last]) {
			k.proved = false
			if thinned = t.thin(sides[:last]); !thinned {
				large = true
				break
			}
		}
		var row []*table
		for s, side := range sides[:last] {
			row = append(row, t.table(side, s+1))
		}
		least := int64(nothing)
		if rank == 0 {
			least = t.worth.of(Share{floor.Songs - sure.Songs, floor.Time - sure.Time})
		}
		found, bound, final := t.settle(row, least)
		most := t.worth.share(max(0, bound))
		most = Share{most.Songs + sure.Songs, most.Time + sure.Time}
		if rank == 0 && !thinned && p.Aim.compare(most, k.bound) < 0 {
			k.bound = most
		}
		k.proved = k.proved && final && t.even
		if found <= nothing {
			if final && exact && rank == 0 && !thinned {
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
	given := len(t.p.blankSides())
	for s := max(1, given); s <= len(row); s++ {
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
			t.count(q.songs())
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
