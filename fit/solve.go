package fit

import (
	"cmp"
	"context"
	"slices"
)

// defaultSteps is the effort where none is asked for: about two seconds.
const defaultSteps = 2_000_000

// Solve finds the best answer it can within the effort allowed. It fails on
// numbers out of range, with a [*Contradiction] where no answer can keep all
// rules and with [ErrNoneFound] where none was found; when the context ends it
// gives the best answer so far, marked Cut.
func Solve(ctx context.Context, p Problem) (Answer, error) {
	if err := p.valid(); err != nil {
		return Answer{}, err
	}
	if c := p.Contradiction(); c != nil {
		return Answer{}, c
	}
	e := &effort{ctx: ctx, left: p.MaxSteps}
	if e.left <= 0 {
		e.left = defaultSteps
	}
	all := e.left
	var a Answer
	var ok bool
	if len(p.Pieces) <= smallestNear || len(p.Pieces) <= smallest && p.Order != Near {
		// Half of the effort, so that there is some for long where that is
		// not enough.
		half := &effort{ctx: ctx, left: (e.left + 1) / 2}
		a, ok = bySets(half, &p)
		e.left -= (all+1)/2 - half.left
		e.cut = half.cut
		if !ok && !half.spent() {
			if c := p.explain(&effort{ctx: ctx, left: all}, run(0, len(p.Pieces))...); c != nil {
				return Answer{}, c
			}
		}
	}
	if !ok {
		a, ok = long(e, &p)
	}
	if a, ok = p.orStart(a, ok); !ok {
		return Answer{}, ErrNoneFound
	}
	a.Arcs = p.arcFits(a)
	if p.sayWithin(&a); a.Proved {
		a.MovedAtLeast = a.Score.Moved
	}
	a.Cut = e.cut
	a.Steps = all - e.left
	return a, nil
}

// orStart is the answer, or the start where that is better.
func (p *Problem) orStart(a Answer, ok bool) (Answer, bool) {
	if p.Start == nil {
		return a, ok
	}
	s := Answer{Tapes: p.Start.Tapes, Faded: p.Start.Faded}
	placed := make([]bool, len(p.Pieces))
	for _, t := range s.Tapes {
		if t.Kind < 0 || t.Kind >= len(p.Kinds) || len(t.Sides) > len(p.Kinds[t.Kind].Sides) {
			return a, ok
		}
		for _, i := range slices.Concat(t.Sides...) {
			if i < 0 || i >= len(placed) || placed[i] {
				return a, ok
			}
			placed[i] = true
		}
	}
	for i, in := range placed {
		if !in {
			s.LeftOut = append(s.LeftOut, i)
		}
	}
	if s.Score = p.Score(s); p.Check(s) != nil || ok && !p.better(s, a) {
		return a, ok
	}
	if s.most = a.most; !ok {
		s.most = p.wanted()
	}
	s.AtLeast = min(a.AtLeast, len(s.Tapes))
	return s, true
}

// bySets solves short lists: every row of tapes in turn, fewest first.
func bySets(e *effort, p *Problem) (Answer, bool) {
	best, any := Answer{}, false
	known := map[Side][]laying{} // rows of tapes have sides in common
	all := p.wanted()
	for tapes := len(p.Given); tapes <= p.top(); tapes++ {
		ok := p.rows(tapes, func(kinds []int) bool {
			x, ok := bySubsets(e, p, kinds, known, false)
			if ok && (!any || p.better(x, best)) {
				best, any = x, true
			}
			// Where moved pieces must pay they come before what is faded.
			if p.Order == Near && p.MoveWorth > 0 && p.mayFade() {
				if x, ok = bySubsets(e, p, kinds, known, true); ok && (!any || p.better(x, best)) {
					best, any = x, true
				}
			}
			return !e.spent()
		})
		if !ok {
			return best, false
		}
		// More tapes can only bring more of the wanted pieces.
		if any && best.Score.Wanted == all && best.Score.Faded == 0 {
			break
		}
	}
	_, even := leastGap(p.Pieces)
	still := best.Score.Moved == 0 && (even || p.Order != Near || !p.mayFade()) // else to fade might spare a move
	best.Proved = still || !p.stirred(known)
	best.AtLeast = len(best.Tapes)
	best.most = best.Score.Wanted
	return best, any
}

// sayWithin says how far an answer can be from the best, by the bound on what can
// be kept.
func (p *Problem) sayWithin(a *Answer) {
	got := a.Score.Wanted
	if a.Proved || p.Aim.compare(a.most, got) <= 0 {
		return
	}
	a.SongsWithin = max(0, a.most.Songs-got.Songs)
	a.Within = max(0, a.most.Time-got.Time)
	if p.Aim == MostSongs && a.SongsWithin > 0 || p.Aim == MostTime && a.Within > 0 {
		// Of what is counted second the bound says nothing then.
		all := p.wanted()
		if p.Aim == MostTime {
			a.SongsWithin = all.Songs - got.Songs
			return
		}
		var room Millis
		gap, _ := leastGap(p.Pieces)
		for _, k := range p.roomiest(p.top()) {
			for _, side := range p.Kinds[k].Sides {
				room += side.Capacity
			}
		}
		for _, q := range p.Pieces {
			room += q.Fade // what is faded counts as kept whole
		}
		if gap >= 0 {
			all.Time = min(all.Time, room)
		}
		a.Within = max(0, all.Time-got.Time)
	}
}

// stirred tells whether a rule kept pieces from the given order on any side.
// They are then laid with as few pairs swapped as can be; another order, which
// swaps more, might move fewer pieces.
func (p *Problem) stirred(known map[Side][]laying) bool {
	for _, all := range known {
		for set, l := range all {
			if base, _ := p.base(elements(set)); l.ok && !slices.Equal(l.list, base) {
				return true
			}
		}
	}
	return false
}

// wanted is the share that all wanted pieces have.
func (p *Problem) wanted() Share { return p.share(0) }

// share is the share that all pieces of a rank have.
func (p *Problem) share(rank int) Share {
	var s Share
	for _, q := range p.Pieces {
		if q.Reserve == rank {
			s.Songs += q.songs()
			s.Time += q.Length
		}
	}
	return s
}

// rows calls f with every row of so many tapes that the stock allows, until it
// says no.
func (p *Problem) rows(tapes int, f func(kinds []int) bool) bool {
	if tapes < len(p.Given) {
		return true
	}
	kinds := append(make([]int, 0, tapes), p.Given...)
	stock := make([]int, len(p.Kinds))
	for _, k := range kinds {
		stock[k]++
	}
	var put func() bool
	put = func() bool {
		if len(kinds) == tapes {
			return f(slices.Clone(kinds))
		}
		for k, kind := range p.Kinds {
			if kind.Stock > 0 && stock[k] == kind.Stock {
				continue
			}
			stock[k]++
			kinds = append(kinds, k)
			if !put() {
				return false
			}
			kinds = kinds[:len(kinds)-1]
			stock[k]--
		}
		return true
	}
	return put()
}

// top is how many tapes may be used; more than a piece each are of no use.
func (p *Problem) top() int {
	return max(len(p.Given), min(max(1, p.MaxTapes), len(p.Given)+len(p.Pieces)))
}

// oneRow tells whether there is but one row of so many tapes.
func (p *Problem) oneRow() bool { return len(p.Kinds) == 1 || len(p.Given) >= max(1, p.MaxTapes) }

// row lists the sides of tapes of these kinds, and where a tape starts.
func (p *Problem) row(kinds []int) (sides []Side, starts []bool) {
	for _, k := range kinds {
		for s, side := range p.Kinds[k].Sides {
			sides = append(sides, side)
			starts = append(starts, s == 0)
		}
	}
	return
}

func (p Problem) better(x, y Answer) bool { return p.Compare(x.Score, y.Score) > 0 }

// effort is what may still be spent.
type effort struct {
	ctx  context.Context
	left int64
	cut  bool // the context ended
	tick int64
}

// spend takes n steps off and tells whether to go on.
func (e *effort) spend(n int64) bool {
	e.left -= n
	if e.tick += n; e.tick >= 256 {
		e.tick = 0
		if !e.cut && e.ctx.Err() != nil {
			e.cut = true
		}
	}
	return !e.spent()
}

// ended asks the context at once.
func (e *effort) ended() bool {
	e.cut = e.cut || e.ctx.Err() != nil
	return e.cut
}

func (e *effort) spent() bool { return e.left <= 0 || e.cut }

// answer dresses lists of pieces, in a row over the tapes of these kinds.
// Tapes without a piece are dropped, but for those given.
func (p *Problem) answer(kinds []int, sides [][]int, fades []Fade) Answer {
	a := Answer{Faded: fades}
	placed := make([]bool, len(p.Pieces))
	for t, k := range kinds {
		n := len(p.Kinds[k].Sides)
		used := t < len(p.Given)
		load := Load{Kind: k}
		for _, list := range sides[:n] {
			load.Sides = append(load.Sides, slices.Clone(list))
			for _, i := range list {
				placed[i], used = true, true
			}
		}
		if sides = sides[n:]; used {
			a.Tapes = append(a.Tapes, load)
		}
	}
	for i, ok := range placed {
		if !ok {
			a.LeftOut = append(a.LeftOut, i)
		}
	}
	slices.SortFunc(a.Faded, func(x, y Fade) int { return cmp.Compare(x.Piece, y.Piece) })
	a.Score = p.Score(a)
	return a
}
