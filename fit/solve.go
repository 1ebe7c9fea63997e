package fit

import (
	"context"
	"slices"
)

// defaultSteps is the effort where none is asked for: about two seconds.
const defaultSteps = 2_000_000

// Solve finds the best answer it can within the effort allowed. It fails on
// numbers out of range only; when the context ends it gives the best answer
// so far, marked Cut.
func Solve(ctx context.Context, p Problem) (Answer, error) {
	if err := p.valid(); err != nil {
		return Answer{}, err
	}
	e := &effort{ctx: ctx, left: p.MaxSteps}
	if e.left <= 0 {
		e.left = defaultSteps
	}
	all := e.left
	var best Answer
	for k, kind := range p.Kinds {
		x := oneTape(e, p, k, kind)
		if k == 0 || p.better(x, best) {
			x.Proved = x.Proved && (k == 0 || best.Proved)
			x.Within = max(x.Within, best.Within)
			best = x
		} else {
			best.Proved = x.Proved && best.Proved
			best.Within = max(x.Within, best.Within)
		}
	}
	best.Cut = e.cut
	best.Steps = all - e.left
	return best, nil
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
	return e.left > 0 && !e.cut
}

// result is what a method found for a given row of sides.
type result struct {
	sides  [][]int
	proved bool
	within Millis
}

// oneTape solves for one tape of a kind.
func oneTape(e *effort, p Problem, k int, kind Kind) Answer {
	q := p
	q.Kinds = []Kind{kind}
	r := onSides(e, q, kind.Sides)
	a := p.answer([]int{k}, r.sides)
	a.Proved, a.Within = r.proved, r.within
	return a
}

// answer dresses lists of pieces, in a row over the tapes of these kinds.
func (p Problem) answer(kinds []int, sides [][]int) Answer {
	var a Answer
	placed := make([]bool, len(p.Pieces))
	for _, k := range kinds {
		n := len(p.Kinds[k].Sides)
		used := false
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
	a.Score = p.Score(a)
	return a
}

// onSides solves for a given row of sides.
func onSides(e *effort, p Problem, sides []Side) result {
	if len(p.Pieces) <= smallest {
		return bySubsets(e, p, sides)
	}
	if p.Order == Keep {
		return inOrder(e, p, sides)
	}
	return anyOrder(e, p, sides)
}
