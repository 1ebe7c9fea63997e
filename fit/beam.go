package fit

import (
	"cmp"
	"slices"
)

// beam walks through a list whose order is given and decides at each piece
// whether it goes on the side that is being filled, opens the next one or is
// left out; of the many half-made answers it keeps the most promising (beam
// search; B. T. Lowerre, The Harpy speech recognition system, 1976). It knows
// every rule, since each is about what came before on the side.
func (p *Problem) beam(e *effort, kinds []int) ([][]int, bool) {
	sides, starts := p.row(kinds)
	tape := make([]int, len(sides)) // of each side
	for s := 1; s < len(sides); s++ {
		tape[s] = tape[s-1] + truth(starts[s])
	}
	n, m := len(p.Pieces), len(sides)
	type state struct {
		side  int    // being filled
		used  Millis // on it, without the gap of the last piece
		last  int    // the last piece placed, or -1
		count int    // pieces on this side
		gone  Millis // capacity of the sides before
		share Share  // of the wanted
		extra Millis // of the reserves
		prev  *state // where the last piece was placed
	}
	width := int(min(max(e.left/int64(n+1), 50), 4_000_000/int64(n+1)+200, 4000))
	capacity := Millis(0)
	top := Millis(0)
	for _, side := range sides {
		capacity += side.Capacity
		top = max(top, side.Capacity)
	}
	rest := make([]Millis, n+1) // of the wanted that can fit at all
	for i := n - 1; i >= 0; i-- {
		rest[i] = rest[i+1]
		if q := &p.Pieces[i]; q.Reserve == 0 && q.Length <= top {
			rest[i] += q.Length
		}
	}
	fits := func(s *state, i, side int) (Millis, bool) {
		q := &p.Pieces[i]
		if q.Side > 0 && q.Side != side+1 {
			return 0, false
		}
		if s.last >= 0 && (p.Pieces[s.last].Closes == OfAll || q.Opens == OfAll) {
			return 0, false
		}
		// No tape is left empty.
		if given := len(p.Given); s.last < 0 && tape[side] > given || tape[side] > max(given, tape[s.side]+1) {
			return 0, false
		}
		used := q.Length
		if p.tooNearBefore(sides[side], nil, i) && (side != s.side || s.count == 0) || sides[side].Begun > 0 && q.Opens != Nothing {
			return 0, false
		}
		if side == s.side && s.count > 0 {
			before := &p.Pieces[s.last]
			if q.Opens != Nothing || before.Closes != Nothing {
				return 0, false
			}
			used += s.used + before.Gap
			over := before.overlap()
			if s.count > 1 {
				over += p.Pieces[s.prev.last].overlap()
			}
			if over > before.firm() || before.overlap() > q.firm() {
				return 0, false
			}
			if p.Apart > 0 && q.grouped() {
				list := make([]int, s.count) // what is on the side
				for k, x := s.count-1, s; k >= 0; k, x = k-1, x.prev {
					list[k] = x.last
				}
				if p.crowded(list, i) >= 0 || p.tooNearBefore(sides[side], list, i) {
					return 0, false
				}
			}
		}
		if used > sides[side].Capacity || q.NotThin && sides[side].ThinFrom > 0 && used > sides[side].ThinFrom {
			return 0, false
		}
		return used, true
	}
	// What an answer can come to: what it has and what there is still room for.
	hope := func(s *state, i int) Millis {
		return s.share.Time + min(rest[i], capacity-s.gone-s.used)
	}
	now := []*state{{last: -1}}
	for i := range n {
		q := &p.Pieces[i]
		var next []*state
		for _, s := range now {
			for side := s.side; side < m; side++ {
				used, ok := fits(s, i, side)
				if !ok {
					continue
				}
				x := &state{side: side, used: used, last: i, count: 1, gone: s.gone, share: s.share, extra: s.extra, prev: s}
				if side == s.side {
					x.count = s.count + 1
				}
				for z := s.side; z < side; z++ {
					x.gone += sides[z].Capacity
				}
				if q.Reserve == 0 {
					x.share.Songs += q.songs()
					x.share.Time += q.Length
				} else {
					x.extra += q.Length
				}
				next = append(next, x)
				if side > s.side && q.Side == 0 { // an empty side is of no use
					break
				}
			}
			if !q.Must {
				next = append(next, s)
			}
		}
		if !e.spend(1 + int64(len(next))/4) {
			// Out of effort: only the most promising goes on.
			width = 1
		}
		slices.SortStableFunc(next, func(a, b *state) int {
			if p.Aim == MostSongs {
				return cmp.Or(cmp.Compare(int64(b.share.Songs)*1000-int64((b.gone+b.used)/1000), int64(a.share.Songs)*1000-int64((a.gone+a.used)/1000)),
					cmp.Compare(b.share.Time, a.share.Time))
			}
			return cmp.Or(cmp.Compare(hope(b, i+1), hope(a, i+1)), cmp.Compare(b.extra, a.extra))
		})
		// A few of each degree of fullness, so that near the end of the list
		// and of each side there is a choice of sums.
		now = now[:0:0]
		type place struct {
			side int
			used Millis
		}
		crowd := map[place]int{}
		for _, s := range next {
			if len(now) == width {
				break
			}
			at := place{s.side, s.used / (sides[s.side].Capacity/256 + 1)}
			if crowd[at]++; crowd[at] <= 6 {
				now = append(now, s)
			}
		}
		if len(now) == 0 {
			return nil, false
		}
	}
	best := now[0]
	for _, s := range now[1:] {
		if c := p.Aim.compare(s.share, best.share); c > 0 || c == 0 && s.extra > best.extra {
			best = s
		}
	}
	out := make([][]int, m)
	for s := best; s != nil && s.last >= 0; s = s.prev {
		out[s.side] = append(out[s.side], s.last)
	}
	for _, l := range out {
		slices.Reverse(l)
	}
	return out, true
}
