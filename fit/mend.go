package fit

import "context"

// Fits tells whether every wanted piece can be placed, and how. It looks for
// no more than that: a false is proved only where the answer says so.
func (p Problem) Fits(ctx context.Context) (Answer, bool) {
	a, err := Solve(ctx, p)
	return a, err == nil && a.Score.Wanted == p.wanted()
}

// FewestOut is the answer that leaves out the fewest wanted pieces, and of
// these the shortest.
func (p Problem) FewestOut(ctx context.Context) (Answer, error) {
	p.Aim = FewestLeftOut
	return Solve(ctx, p)
}

// mendSteps is the effort for each try of a mend: many are needed.
const mendSteps = 60_000

// tries tells whether all wanted pieces fit on a changed problem. It looks
// first whether what they need can be there at all.
func (p Problem) tries(ctx context.Context) bool {
	if p.MaxSteps == 0 || p.MaxSteps > mendSteps {
		p.MaxSteps = mendSteps
	}
	if p.Order == Keep && len(p.Pieces) > smallest {
		// Only the breaks: what to leave out is not asked.
		all := make([]int, 0, len(p.Pieces))
		for i, q := range p.Pieces {
			if q.Reserve == 0 || q.Must {
				all = append(all, i)
			}
		}
		top := min(max(1, p.MaxTapes), len(p.Pieces))
		for tapes := max(1, p.fewest(all)); tapes <= top; tapes++ {
			found, looked := false, 0
			p.rows(tapes, func(kinds []int) bool {
				sides, _ := p.row(kinds)
				_, found = p.breaks(all, sides)
				looked++
				return !found && looked < 200 && ctx.Err() == nil
			})
			if found {
				return true
			}
		}
		return false
	}
	_, ok := p.Fits(ctx)
	return ok
}

// LeastRoom is how much more each side would have to hold for every wanted
// piece to be placed. ok is false where an hour more would not do.
func (p Problem) LeastRoom(ctx context.Context) (more Millis, ok bool) {
	longer := func(by Millis) Problem {
		q := p
		q.Kinds = make([]Kind, len(p.Kinds))
		for k, kind := range p.Kinds {
			q.Kinds[k] = kind
			q.Kinds[k].Sides = make([]Side, len(kind.Sides))
			for s, side := range kind.Sides {
				side.Capacity = min(side.Capacity+by, Longest)
				q.Kinds[k].Sides[s] = side
			}
		}
		return q
	}
	const hour = Millis(60 * 60 * 1000)
	return bisect(0, hour, func(by Millis) bool { return longer(by).tries(ctx) })
}

// WidestGap is the widest gap, at most as wide as now, with which every wanted
// piece can be placed when no gap is wider. ok is false where none at all would
// not do.
func (p Problem) WidestGap(ctx context.Context) (gap Millis, ok bool) {
	widest := Millis(0)
	for _, q := range p.Pieces {
		widest = max(widest, q.Gap)
	}
	narrow := func(gap Millis) Problem {
		q := p
		q.Pieces = make([]Piece, len(p.Pieces))
		for i, x := range p.Pieces {
			x.Gap = min(x.Gap, gap)
			q.Pieces[i] = x
		}
		return q
	}
	less, ok := bisect(0, widest, func(less Millis) bool { return narrow(widest - less).tries(ctx) })
	return widest - less, ok
}

// bisect is the least number from lo to hi that will do, when all greater ones
// do too.
func bisect(lo, hi Millis, do func(Millis) bool) (Millis, bool) {
	if do(lo) {
		return lo, true
	}
	if !do(hi) {
		return 0, false
	}
	for hi-lo > 1 {
		if mid := lo + (hi-lo)/2; do(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, true
}

// Swap finds two pieces such that every wanted piece can be placed, in the
// given order, once these two have changed places in it; of all such pairs the
// one whose answer is best, and of these the nearest. It is for order Keep and up to 200 pieces.
func (p Problem) Swap(ctx context.Context) (i, j int, ok bool) {
	n := len(p.Pieces)
	if p.Order != Keep || n > 200 || p.valid() != nil {
		return 0, 0, false
	}
	var best Score
	kinds := p.roomiest(min(max(1, p.MaxTapes), n))
	sides, _ := p.row(kinds)
	for a := range n {
		for b := a + 1; b < n; b++ {
			if ctx.Err() != nil {
				return i, j, ok
			}
			q := p
			q.Pieces = append([]Piece(nil), p.Pieces...)
			q.Pieces[a], q.Pieces[b] = q.Pieces[b], q.Pieces[a]
			var list []int
			for x, piece := range q.Pieces {
				if piece.Reserve == 0 {
					list = append(list, x)
				}
			}
			cuts, fits := q.breaks(list, sides)
			if !fits {
				continue
			}
			x := q.answer(kinds, cutAt(list, cuts), nil)
			if q.Check(x) != nil {
				continue
			}
			c := 1
			if ok {
				c = q.Compare(x.Score, best)
			}
			if c > 0 || c == 0 && b-a < j-i {
				i, j, ok, best = a, b, true, x.Score
			}
		}
	}
	return i, j, ok
}
