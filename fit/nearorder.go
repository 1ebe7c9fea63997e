package fit

import "slices"

// nearOrder solves long lists of which some pieces may be moved: the side
// breaks alone if these do, else as much as any order can keep, with one, two
// or three pieces moved if that is enough, else with as few as it finds.
func nearOrder(e *effort, p *Problem) (Answer, bool) {
	asKeep, asFree := *p, *p
	asKeep.Order, asFree.Order = Keep, Free
	still, okStill := inOrder(e, &asKeep)
	if okStill {
		still.Score = p.Score(still)
		// That no breaks do with fewer tapes says nothing of other orders.
		wanted := slices.DeleteFunc(run(0, len(p.Pieces)), func(i int) bool { return p.Pieces[i].Reserve > 0 })
		still.AtLeast = p.least(still, p.fewest(wanted))
		if still.Score.Wanted == p.wanted() && len(still.Tapes) == still.AtLeast && still.Score.Faded == 0 {
			return still, true // nothing is moved for reserves
		}
		if p.notWorthMoving(e, still) {
			return still, true
		}
		still.Proved = false
	}
	// With arcs a free order would stir the pieces for their sake.
	asFree.Kinds = slices.Clone(p.Kinds)
	for k, kind := range asFree.Kinds {
		asFree.Kinds[k].Sides = slices.Clone(kind.Sides)
		for s := range kind.Sides {
			asFree.Kinds[k].Sides[s].Arc = NoArc
		}
	}
	mine := &effort{ctx: e.ctx, left: e.left / 3}
	all := mine.left
	free, okFree := anyOrder(mine, &asFree)
	e.spend(all - mine.left)
	e.cut = e.cut || mine.cut
	best, ok := still, okStill
	atLeast := 0 // pieces moved
	consider := func(a Answer) {
		a.Score = p.Score(a)
		if p.Check(a) == nil && (!ok || p.better(a, best)) {
			best, ok = a, true
		}
	}
	if okFree {
		kinds := make([]int, len(free.Tapes))
		var sets [][]int
		for t, load := range free.Tapes {
			kinds[t] = load.Kind
			sets = append(sets, load.Sides...)
		}
		if free.Score.Wanted == p.wanted() && free.Score.Faded == 0 {
			// A piece that must leave its place is no choice.
			most := 3
			for i, q := range p.Pieces {
				most += truth(q.Opens == OfAll && i > most || q.Closes == OfAll && len(p.Pieces)-1-i > most)
			}
			atLeast = p.mustMove(kinds)
			for moves := 1; moves <= min(most, 5) && !e.spent(); moves++ {
				a, found, none := p.withMoves(e, kinds, moves)
				if found {
					consider(a)
					break
				}
				if none && atLeast == moves {
					atLeast++
				}
			}
		}
		free.Proved = false
		consider(free)
		rows := [][]int{kinds}
		if okStill && len(still.Tapes) != len(kinds) {
			rows = append(rows, kindsOf(still))
		}
		if roomy := p.roomiest(p.top()); free.Score.Wanted != p.wanted() && !slices.Equal(roomy, kinds) {
			rows = append(rows, roomy)
		}
		if len(p.Pieces) <= mostDrift {
			for r, row := range rows {
				steps := e.left / 2 / int64(len(rows)-r)
				if okStill {
					mine := e.left
					consider(p.withReserves(e, p.newDrift(e, row, listsOf(still)).search(steps/2)))
					steps -= mine - e.left
				}
				calmed := sets
				if a, found := p.calm(e, kinds, sets); found && r == 0 {
					consider(a)
					calmed = listsOf(a)
				}
				consider(p.withReserves(e, p.newDrift(e, row, calmed).search(steps)))
			}
		} else if a, found := p.calm(e, kinds, sets); found {
			consider(a)
		}
	}
	if ok && okFree {
		best.AtLeast = p.least(best, free.AtLeast)
		best.most = free.most
		if best.Score.Wanted == p.wanted() && len(best.Tapes) <= len(free.Tapes) {
			best.MovedAtLeast = min(atLeast, best.Score.Moved)
		}
	} else {
		best.most = p.wanted()
	}
	return best, ok
}

func kindsOf(a Answer) (kinds []int) {
	for _, t := range a.Tapes {
		kinds = append(kinds, t.Kind)
	}
	return kinds
}

func listsOf(a Answer) (lists [][]int) {
	for _, t := range a.Tapes {
		lists = append(lists, t.Sides...)
	}
	return lists
}

// notWorthMoving tells whether no moved piece can pay, since the given order
// keeps all but little of what any order could. Its answer then stands as it is.
func (p *Problem) notWorthMoving(e *effort, still Answer) bool {
	if p.MoveWorth == 0 {
		return false
	}
	var wanted []int
	b := newBoard(e, p, p.roomiest(p.top()))
	for i, q := range p.Pieces {
		if q.Reserve == 0 {
			wanted = append(wanted, i)
		}
		b.more += int64(q.Fade)
	}
	most := b.mostShare(wanted, nil)
	if most == p.wanted() || p.Aim == MostSongs && most.Songs > still.Score.Wanted.Songs {
		return false
	}
	return most.Time-still.Score.Wanted.Time < p.MoveWorth
}

// mustMove is 1 where the given order cannot place all that is wanted on tapes
// of these kinds, if there is one row only; else 0.
func (p *Problem) mustMove(kinds []int) int {
	if !p.oneRow() || p.reservesPart() {
		return 0
	}
	sides, _ := p.row(kinds)
	wanted := slices.DeleteFunc(run(0, len(p.Pieces)), func(i int) bool { return p.Pieces[i].Reserve > 0 && !p.Pieces[i].Must })
	_, ok := p.breaks(wanted, sides)
	return truth(!ok)
}

// withMoves looks for a way to place all wanted pieces with so many of them
// moved. The pieces that stay are cut into sides; on each side room is left
// for some that are moved there. As there are no rules in this, the further a
// side reaches in the list the better, so that one place is remembered for
// each set of moved pieces already laid. none says that there is no way, were
// there even no rules.
func (p *Problem) withMoves(e *effort, kinds []int, moves int) (best Answer, found, none bool) {
	sides, _ := p.row(kinds)
	gap, _ := leastGap(p.Pieces)
	var list []int
	for i, q := range p.Pieces {
		if q.Reserve == 0 || q.Must {
			list = append(list, i)
		}
	}
	n, m := len(list), len(sides)
	weight := make([]int64, n)
	for k, i := range list {
		weight[k] = int64(p.Pieces[i].Length + p.Pieces[i].Gap)
	}
	room := make([]int64, m)
	for s, side := range sides {
		room[s] = int64(side.Capacity) + gap
	}
	if !p.alikeGaps() {
		return
	}
	// Some pieces belong on one side; some cannot stay where they are.
	place := make([]int, n)
	var leaves []int
	for k, i := range list {
		q := &p.Pieces[i]
		place[k] = q.Side - 1
		switch {
		case q.Opens == OfAll:
			place[k] = 0
		case q.Closes == OfAll:
			place[k] = m - 1
		}
		if q.Opens == OfAll && k > moves || q.Closes == OfAll && n-1-k > moves {
			leaves = append(leaves, k)
		}
	}
	barred := make([]int, m) // from each side, a set of those moved
	states := 1 << moves
	moved := make([]int, moves) // places in the list, ascending
	sums := make([]int64, n-moves+1)
	extra := make([]int64, states)
	type step struct {
		reach int
		add   int
	}
	table := make([][]step, m)
	for s := range table {
		table[s] = make([]step, states)
	}
	answers, passed := 0, 0
	try := func() {
		k, next := 0, 0
		for x := range n {
			if next < moves && moved[next] == x {
				next++
				continue
			}
			sums[k+1] = sums[k] + weight[x]
			k++
		}
		for s := range barred {
			barred[s] = 0
			for b, x := range moved {
				if place[x] >= 0 && place[x] != s {
					barred[s] |= 1 << b
				}
			}
		}
		for set := 1; set < states; set++ {
			low := elements(set)[0]
			extra[set] = extra[set&(set-1)] + weight[moved[low]]
		}
		for s := range m {
			for set := range states {
				table[s][set] = step{-1, 0}
				for add := set; ; add = (add - 1) & set {
					from := 0
					if s > 0 {
						from = table[s-1][set&^add].reach
					} else if add != set {
						from = -1
					}
					if left := room[s] - extra[add]; from >= 0 && add&barred[s] == 0 && (left >= 0 || add == 0) {
						to, exact := slices.BinarySearch(sums[from:], sums[from]+max(0, left))
						if to += from; !exact {
							to--
						}
						if to > table[s][set].reach {
							table[s][set] = step{to, add}
						}
					}
					if add == 0 {
						break
					}
				}
			}
		}
		if table[m-1][states-1].reach < n-moves {
			return
		}
		none = false
		stay := make([]int, 0, n)
		for x := range n {
			if _, out := slices.BinarySearch(moved, x); !out {
				stay = append(stay, list[x])
			}
		}
		lists := make([][]int, m)
		set, to := states-1, n-moves
		for s := m - 1; s >= 0; s-- {
			add := table[s][set].add
			from := 0
			if s > 0 {
				from = min(to, table[s-1][set&^add].reach)
			}
			mine := slices.Clone(stay[from:to])
			for _, b := range elements(add) {
				mine = append(mine, list[moved[b]])
			}
			slices.Sort(mine)
			laid, ok := p.order(mine, sides[s])
			if !ok {
				return
			}
			lists[s] = laid
			set, to = set&^add, from
		}
		a := p.answer(kinds, lists, nil)
		if answers++; p.Check(a) == nil && (!found || p.better(a, best)) {
			best, found = a, true
		}
	}
	var draw func(k, from int) bool
	draw = func(k, from int) bool {
		if k == moves {
			for _, x := range leaves {
				if _, in := slices.BinarySearch(moved, x); !in {
					passed++
					return passed%64 > 0 || e.spend(1)
				}
			}
			try()
			return answers < 500 && e.spend(1+int64(m)*int64(states)/10)
		}
		for x := from; x < n; x++ {
			moved[k] = x
			if !draw(k+1, x+1) {
				return false
			}
		}
		return true
	}
	if n > moves {
		// What opens everything need not be on the first side, were that empty.
		none = !slices.ContainsFunc(list, func(i int) bool { return p.Pieces[i].Opens == OfAll || p.Pieces[i].Closes == OfAll })
		none = draw(0, 0) && none
	}
	return
}

func (p *Problem) alikeGaps() bool {
	_, same := leastGap(p.Pieces)
	return same
}

// calm takes an answer of any order and puts pieces back where they came
// from, for as long as that leaves fewer of them moved: two pieces of
// different sides change places, or one changes sides.
func (p *Problem) calm(e *effort, kinds []int, lists [][]int) (Answer, bool) {
	sides, _ := p.row(kinds)
	sets := make([][]int, len(lists))
	for s, l := range lists {
		sets[s] = slices.Sorted(slices.Values(l))
	}
	// The sides themselves first: in the order of what they hold.
	line := func(sets [][]int) []int { return slices.Concat(sets...) }
	moved := func(sets [][]int) int { l := line(sets); return len(l) - rise(l) }
	fits := func(set []int, s int) bool {
		if !p.allowed(set, s+1) {
			return false
		}
		_, ok := p.anyRun(set, sides[s])
		return ok
	}
	now := moved(sets)
	try := func(a, b int, x, y []int) bool {
		oldA, oldB := sets[a], sets[b]
		sets[a], sets[b] = x, y
		if n := moved(sets); n < now && fits(x, a) && fits(y, b) {
			now = n
			return true
		}
		sets[a], sets[b] = oldA, oldB
		return false
	}
	for won := true; won; {
		won = false
		for a := range sets {
			for b := range a {
				if !e.spend(int64(len(p.Pieces)) / 4) {
					break
				}
				if try(a, b, sets[b], sets[a]) {
					won = true
				}
				for _, i := range slices.Clone(sets[a]) {
					if _, in := slices.BinarySearch(sets[a], i); !in {
						continue
					}
					if try(a, b, without(sets[a], i), with(sets[b], i)) {
						won = true
						continue
					}
					for _, j := range slices.Clone(sets[b]) {
						if _, in := slices.BinarySearch(sets[b], j); !in {
							continue
						}
						e.spend(1 + int64(len(p.Pieces))/20)
						if try(a, b, with(without(sets[a], i), j), with(without(sets[b], j), i)) {
							won = true
							break
						}
					}
				}
				for _, j := range slices.Clone(sets[b]) {
					if _, in := slices.BinarySearch(sets[b], j); in && try(a, b, with(sets[a], j), without(sets[b], j)) {
						won = true
					}
				}
			}
		}
		if e.spent() {
			break
		}
	}
	out := make([][]int, len(sets))
	for s, set := range sets {
		list, ok := p.order(set, sides[s])
		if !ok {
			if list, ok = p.anyRun(set, sides[s]); !ok {
				return Answer{}, false
			}
		}
		out[s] = list
	}
	return p.answer(kinds, out, nil), true
}
