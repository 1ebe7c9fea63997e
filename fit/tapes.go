package fit

import (
	"cmp"
	"slices"

	"longside/fit/bins"
)

// chooseTapes finds the fewest tapes, and of these the cheapest, on which all
// these pieces can be placed; all is false when there are not enough, and the
// board is then the one that can hold the most. It cannot be done with fewer
// than atLeast.
func (p *Problem) chooseTapes(e *effort, pieces []int) (b *board, all bool, atLeast int) {
	var need int64
	gap, _ := leastGap(p.Pieces)
	for _, i := range pieces {
		q := &p.Pieces[i]
		need += int64(q.Length) + min(int64(q.Gap), gap)
	}
	roomy := p.roomiest(p.top())
	packed := false
	for tapes := max(1, len(p.Given)); tapes <= len(roomy); tapes++ {
		if p.holds(roomy[:tapes], gap) < need {
			continue
		}
		if atLeast == 0 {
			atLeast = tapes
		}
		for _, kinds := range p.mixes(tapes, need, gap) {
			x := newBoard(e, p, kinds)
			if ok, known := x.parted(pieces); known {
				if ok {
					return x, true, atLeast
				}
				if x.even && p.oneRow() && atLeast == tapes {
					atLeast = tapes + 1
				}
				continue
			}
			x.fill(pieces)
			if len(x.out) > 0 && !packed && x.alike() {
				packed = true
				x.sets = nil
				if packs, least := x.pack(pieces); len(packs) > 0 {
					per := len(p.Kinds[kinds[0]].Sides)
					if len(p.Kinds) == 1 {
						atLeast = max(atLeast, (least+per-1)/per)
					}
					if n := (len(packs) + per - 1) / per; n <= len(roomy) {
						x = newBoard(e, p, slices.Repeat([]int{kinds[0]}, n))
						x.lay(packs)
						return x, true, atLeast
					}
				}
				x.sets = make([][]int, len(x.sides))
				x.fill(pieces)
			}
			if len(x.out) > 0 {
				x.improve(min(e.left/4, 400_000), func() bool { return len(x.out) == 0 })
			}
			if len(x.out) == 0 {
				return x, true, atLeast
			}
			if e.spent() {
				break
			}
		}
		if e.spent() {
			break
		}
	}
	if atLeast == 0 {
		atLeast = len(roomy)
	}
	b = newBoard(e, p, roomy)
	b.fill(pieces)
	return b, len(b.out) == 0, atLeast
}

// parted lays all the pieces on one side or two if that is possible. known is
// false where it cannot tell.
func (b *board) parted(pieces []int) (ok, known bool) {
	if len(b.sides) > 2 || !b.even || len(pieces) > 200 {
		return false, false
	}
	t, _, _ := b.pairOf(pieces)
	x, ok, known := t.part(b.e, run(0, len(pieces)))
	if !ok {
		return false, known && t.both(t.total())
	}
	sets, ok := b.asSplit(pieces, x)
	if !ok {
		return false, false
	}
	b.sets = sets
	return true, true
}

// alike tells whether this is plain bin packing: sides of one length, the same
// gaps, and no rules.
func (b *board) alike() bool {
	for _, side := range b.sides {
		if side.Capacity != b.sides[0].Capacity {
			return false
		}
	}
	for _, q := range b.p.Pieces {
		if q.Side > 0 || q.Length > b.sides[0].Capacity || int64(q.Length)+b.gap < 1 {
			return false
		}
	}
	for _, k := range b.p.Kinds {
		if k.Stock > 0 {
			return false
		}
	}
	return b.even && !b.rules && len(b.p.Kinds) == 1
}

// pack is bin packing of the pieces, each counted with its gap.
func (b *board) pack(pieces []int) ([][]int, int) {
	sizes := make([]int64, len(pieces))
	for k, i := range pieces {
		sizes[k] = b.size(i) + b.gap
	}
	sets, least := bins.Pack(allowed{b.e}, sizes, int64(b.sides[0].Capacity)+b.gap, len(b.p.Kinds[0].Sides))
	for _, bin := range sets {
		for k := range bin {
			bin[k] = pieces[bin[k]]
		}
		slices.Sort(bin)
	}
	return sets, least
}

// allowed is an effort as package bins spends it.
type allowed struct{ *effort }

func (a allowed) Spend(steps int64) bool { return a.spend(steps) }
func (a allowed) Ended() bool            { return a.ended() }

// lay puts bins on the sides.
func (b *board) lay(packs [][]int) {
	copy(b.sets, packs)
	b.out = nil
}

// roomiest is up to so many tapes: those given, then those that hold most.
func (p *Problem) roomiest(tapes int) []int {
	order := run(0, len(p.Kinds))
	gap, _ := leastGap(p.Pieces)
	slices.SortStableFunc(order, func(i, j int) int {
		return cmp.Compare(p.holds([]int{j}, gap), p.holds([]int{i}, gap))
	})
	kinds := slices.Clone(p.Given)
	for _, k := range order {
		n := p.Kinds[k].Stock
		if n > 0 {
			for _, g := range p.Given {
				n -= truth(g == k)
			}
			if n == 0 {
				continue
			}
		}
		for range n {
			if len(kinds) < tapes {
				kinds = append(kinds, k)
			}
		}
		for n == 0 && len(kinds) < tapes {
			kinds = append(kinds, k)
		}
	}
	return kinds
}

// holds is what tapes can hold, each piece counted with its gap.
func (p *Problem) holds(kinds []int, gap int64) int64 {
	var c int64
	for _, k := range kinds {
		for _, side := range p.Kinds[k].Sides {
			c += int64(side.Capacity) + max(0, gap)
		}
	}
	return c
}

// mostMixes bounds how many mixes of kinds are tried for a number of tapes.
const mostMixes = 24

// mixes lists mixes of so many tapes that can hold as much as is needed, the
// cheapest first and of equal cost the shortest.
func (p *Problem) mixes(tapes int, need, gap int64) [][]int {
	type mix struct {
		kinds []int
		cost  int64
		holds int64
	}
	var found []mix
	looked := 0
	var add func(kinds []int, from int)
	add = func(kinds []int, from int) {
		if looked++; looked > 20_000 {
			return
		}
		if len(kinds) == tapes {
			if h := p.holds(kinds, gap); h >= need {
				var cost int64
				for _, k := range kinds {
					cost += p.Kinds[k].Cost
				}
				found = append(found, mix{slices.Clone(kinds), cost, h})
			}
			return
		}
		for k := from; k < len(p.Kinds); k++ {
			n := 0
			for _, x := range kinds {
				n += truth(x == k)
			}
			if s := p.Kinds[k].Stock; s == 0 || n < s {
				add(append(kinds, k), k)
			}
		}
	}
	add(slices.Clone(p.Given), 0)
	slices.SortStableFunc(found, func(a, b mix) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.holds, b.holds))
	})
	var out [][]int
	for _, m := range found[:min(len(found), mostMixes)] {
		out = append(out, m.kinds)
	}
	if roomy := p.roomiest(tapes); len(found) > mostMixes || looked > 20_000 {
		out = append(out, roomy)
	}
	return out
}

// cheapest tells whether no tapes of the same number can cost less.
func (p *Problem) cheapest(a Answer) bool {
	var costs []int64
	var sum int64
	more := len(a.Tapes) - len(p.Given)
	for _, k := range p.Given {
		sum += p.Kinds[k].Cost
	}
	for at, k := range p.Kinds {
		n := more
		if k.Stock > 0 {
			n = min(n, k.Stock)
			for _, g := range p.Given {
				n -= truth(g == at)
			}
		}
		for range n {
			costs = append(costs, k.Cost)
		}
	}
	slices.Sort(costs)
	for _, c := range costs[:min(len(costs), more)] {
		sum += c
	}
	return sum == a.Score.Cost
}
