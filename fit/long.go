package fit

import "slices"

// long solves lists that are too long for bySets.
func long(e *effort, p *Problem) (Answer, bool) {
	method := freeOrder
	switch p.Order {
	case Keep:
		method = inOrder
	case Near:
		method = nearOrder
	}
	a, ok, enough := p.oneOf(e, method)
	if !enough {
		a, ok = method(e, p)
		// Which mix of kinds leaves blank tape best is not gone into in other
		// orders than the given one.
		a.Proved = a.Proved && (p.oneRow() || p.Order == Keep)
	}
	// Reserves open no tape, not even the first.
	if none := p.answer(p.Given, p.blankSides(), nil); ok && p.better(none, a) && p.Check(none) == nil {
		none.Proved, none.most = a.Proved, a.most
		a = none
	}
	a.Proved = a.Proved && !e.cut
	if ok && p.Check(a) != nil {
		a, ok = p.sound(a)
	}
	return a, ok
}

// blankSides are the sides of the tapes given, with nothing on them.
func (p *Problem) blankSides() [][]int {
	sides, _ := p.row(p.Given)
	return make([][]int, len(sides))
}

// sound leaves out pieces that an empty tape before them, which is not listed,
// has put on another side than theirs.
func (p *Problem) sound(a Answer) (Answer, bool) {
	for {
		number, gone := 0, false
		var kinds []int
		var lists [][]int
		for _, load := range a.Tapes {
			kinds = append(kinds, load.Kind)
			for _, list := range load.Sides {
				number++
				lists = append(lists, slices.DeleteFunc(slices.Clone(list), func(i int) bool {
					off := p.Pieces[i].Side > 0 && p.Pieces[i].Side != number
					gone = gone || off
					return off
				}))
			}
		}
		if !gone {
			return a, p.Check(a) == nil
		}
		most := a.most
		a = p.answer(kinds, lists, a.Faded)
		a.most = most
	}
}

// oneOf tries a single tape of each kind, where there are several. That is
// enough where no more are allowed or one can take all that is wanted.
func (p *Problem) oneOf(e *effort, method func(*effort, *Problem) (Answer, bool)) (best Answer, ok, enough bool) {
	if len(p.Kinds) == 1 || len(p.Given) > 0 {
		return best, false, false
	}
	proved := true
	var most Share
	for k, kind := range p.Kinds {
		q := *p
		q.Kinds = []Kind{kind}
		q.MaxTapes = 1
		mine := &effort{ctx: e.ctx, left: e.left / int64(len(p.Kinds)-k)}
		if p.MaxTapes > 1 {
			mine.left /= 4
		}
		all := mine.left
		a, found := method(mine, &q)
		e.spend(all - mine.left)
		e.cut = e.cut || mine.cut
		if !found { // which does not say that there is none
			proved, most = false, p.wanted()
			continue
		}
		proved = proved && a.Proved
		if p.Aim.compare(a.most, most) > 0 {
			most = a.most
		}
		for t := range a.Tapes {
			a.Tapes[t].Kind = k
		}
		if !ok || p.better(a, best) {
			best, ok = a, true
		}
	}
	best.Proved = proved
	best.most = most
	return best, ok, p.MaxTapes <= 1 || ok && best.Score.Wanted == p.wanted() && best.Score.Faded == 0
}

// freeOrder is anyOrder, but never worse than inOrder, nor than nearOrder by what
// comes before blank tape: where that is not proved it looks at what nearOrder
// finds, with the same effort, so that it finds the same. Of more than a hundred
// pieces it does not, where no second more could be kept.
func freeOrder(e *effort, p *Problem) (Answer, bool) {
	if len(p.Pieces) > mostDrift {
		a, ok := anyOrder(e, p)
		if ok && p.surelyMost(a) {
			return a, ok
		}
		return p.orKept(e, a, ok)
	}
	all := e.left
	mine := &effort{ctx: e.ctx, left: all / 3}
	a, ok := anyOrder(mine, p)
	e.left -= all/3 - mine.left
	e.cut = e.cut || mine.cut
	const little = 1000 // ms: what more effort could bring is not worth it
	close := func() bool {
		got := a.Score.Wanted
		return ok && a.most.Songs <= got.Songs && a.most.Time-got.Time < little && len(a.Tapes) <= a.AtLeast
	}
	if ok && p.surelyMost(a) || close() && len(p.Pieces) > mostDrift/3 {
		return p.orKept(e, a, ok)
	}
	asNear := *p
	asNear.Order = Near
	mine = &effort{ctx: e.ctx, left: all, cut: e.cut}
	near, found := nearOrder(mine, &asNear)
	a, ok = p.orOther(a, ok, near, found)
	if close() || e.left <= 0 || e.cut {
		return a, ok
	}
	x, found := anyOrder(e, p)
	return p.orOther(x, found, a, ok)
}

// surelyMost tells whether no answer keeps more, or as much on fewer tapes or with
// more of the reserves.
func (p *Problem) surelyMost(a Answer) bool {
	if a.Proved {
		return true
	}
	for k, r := range p.ranks() {
		if a.Score.Reserves[k] != p.share(r) {
			return false
		}
	}
	return p.Aim.compare(a.Score.Wanted, a.most) >= 0 && len(a.Tapes) <= a.AtLeast && a.Score.Faded == 0 && p.cheapest(a)
}

// orKept is an answer, or that in the given order where it is better.
func (p *Problem) orKept(e *effort, a Answer, ok bool) (Answer, bool) {
	if ok && a.Proved {
		return a, ok
	}
	asKeep := *p
	asKeep.Order = Keep
	mine := &effort{ctx: e.ctx, left: e.left / 4, cut: e.cut}
	still, found := inOrder(mine, &asKeep)
	e.left -= e.left/4 - mine.left
	return p.orOther(a, ok, still, found)
}

// orOther is the better of two answers; what is known of the first holds for both.
func (p *Problem) orOther(a Answer, ok bool, b Answer, found bool) (Answer, bool) {
	if !found {
		return a, ok
	}
	b.Score = p.Score(b)
	b.Proved, b.MovedAtLeast = false, 0
	if p.Check(b) != nil || ok && !p.better(b, a) {
		return a, ok
	}
	if ok {
		b.most, b.AtLeast = a.most, min(a.AtLeast, len(b.Tapes))
	} else {
		b.most = p.wanted()
	}
	return b, true
}

// anyOrder solves long lists whose pieces may stand in any order: the tapes
// first, then what is kept, then the reserves, then where blank tape lies.
func anyOrder(e *effort, p *Problem) (Answer, bool) {
	var wanted []int
	for i, q := range p.Pieces {
		if q.Reserve == 0 || q.Must {
			wanted = append(wanted, i)
		}
	}
	b, all, atLeast := p.chooseTapes(e, wanted)
	keptProved := all
	bound := p.wanted()
	if !all {
		if bound = b.mostShare(wanted, nil); p.Aim == MostTime {
			bound.Time = min(bound.Time, p.wanted().Time)
			if !b.even {
				bound.Time = min(bound.Time, b.fractional(wanted))
			}
		}
		if s, ok := b.asOne(wanted); ok && !b.even && p.Aim.compare(s, bound) < 0 {
			bound = s
		}
		keptProved = b.keepMost(wanted, bound)
	}
	if b.sets == nil || !b.mustHeld() {
		return Answer{}, false
	}
	reservesProved := b.reserves()
	if !all && len(p.ranks()) > 0 && slices.ContainsFunc(b.out, func(i int) bool { return p.Pieces[i].Reserve > 0 }) {
		reservesProved = false // another choice as good might leave more room for them
	}
	blankProved := b.settle() && b.even
	a, ok := b.answer()
	if !ok {
		return Answer{}, false
	}
	if !all && !p.oneRow() {
		// What this row of tapes keeps at the most says nothing of others.
		bound = b.mostAnywhere(wanted)
		keptProved = p.Aim.compare(a.Score.Wanted, bound) >= 0
	}
	if a.most = bound; keptProved {
		a.most = a.Score.Wanted
	}
	a = p.fadeIn(e, a)
	a.AtLeast = p.least(a, atLeast)
	a.Proved = keptProved && reservesProved && blankProved && len(a.Tapes) == a.AtLeast && a.Score.Faded == 0 &&
		p.cheapest(a) && (a.Score.Wanted == p.wanted() || !p.mayFade())
	return a, true
}

// least is a number of tapes that what is kept of the wanted pieces cannot do
// without; atLeast is one for all of them.
func (p *Problem) least(a Answer, atLeast int) int {
	if a.Score.Wanted == p.wanted() {
		return max(len(p.Given), min(atLeast, len(a.Tapes)))
	}
	var held Millis
	gap, _ := leastGap(p.Pieces)
	for t, k := range p.roomiest(len(a.Tapes)) {
		if held >= a.Score.Wanted.Time && t >= len(p.Given) {
			return t
		}
		for _, side := range p.Kinds[k].Sides {
			// Overlaps shorten what is laid by less than a piece each.
			held += side.Capacity
			if gap < 0 {
				held += Longest
			}
		}
	}
	return len(a.Tapes)
}

// all tells whether all that is wanted is placed.
func (b *board) all() bool { return b.share(0) == b.p.wanted() }

// mustHeld tells whether everything that must be placed is.
func (b *board) mustHeld() bool {
	for _, i := range b.out {
		if b.p.Pieces[i].Must {
			return false
		}
	}
	return true
}

// reserves fills spare time, rank by rank, without giving up anything placed.
func (b *board) reserves() bool {
	proved := true
	left := b.out
	for _, rank := range b.p.ranks() {
		var placed, pool []int
		for _, set := range b.sets {
			for _, i := range set {
				b.held[i] = true
				placed = append(placed, i)
			}
		}
		for i, q := range b.p.Pieces {
			if q.Reserve == rank && !q.Must {
				pool = append(pool, i)
			}
		}
		if len(pool) == 0 {
			continue
		}
		bound := b.mostShare(pool, placed)
		b.out = nil
		for _, i := range pool {
			if !b.put(i, b.sequence()) {
				b.out = append(b.out, i)
			}
		}
		reached := func() bool { return len(b.out) == 0 || b.share(rank) == bound }
		if !reached() {
			all := slices.Sorted(slices.Values(append(placed, pool...)))
			if p, ok := b.exactly(all); ok {
				proved = proved && p
			} else if !b.improve(b.e.left/4, reached) {
				proved = false
			}
		}
		left = append(left, b.out...)
	}
	b.out = slices.Sorted(slices.Values(left))
	return proved
}

// settle puts blank tape where it should be, everything placed staying placed.
func (b *board) settle() bool {
	var placed []int
	for _, set := range b.sets {
		for _, i := range set {
			b.held[i] = true
			placed = append(placed, i)
		}
	}
	if len(b.sides) <= 2 {
		slices.Sort(placed)
		if t, old, ok := b.pairOf(placed); ok {
			got, ok, known := t.part(b.e, run(0, len(placed)))
			if ok && got.blank.compare(old.blank) < 0 {
				if sets, ok := b.asSplit(placed, got); ok {
					b.sets = sets
				} else {
					known = false
				}
			}
			if ok && known && t.both(got.share) && (b.sure || b.all() || got.blank.compare(t.floor(len(placed), int64(got.share.Time))) <= 0) {
				return true
			}
		}
	}
	out := b.out
	b.out = nil
	ok := b.improve(b.e.left/2, func() bool { return b.blank().compare(b.bestBlank()) <= 0 })
	b.out = out
	return ok
}
