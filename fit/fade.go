package fit

import (
	"cmp"
	"slices"
)

func (p *Problem) mayFade() bool {
	return slices.ContainsFunc(p.Pieces, func(q Piece) bool { return q.Fade > 0 })
}

// fadeIn lays wanted pieces that were left out where shortening some makes
// room. It is the last resort, so it comes last, and it is not proved to be
// the best that fading can do.
func (p *Problem) fadeIn(e *effort, a Answer) Answer {
	if a.Score.Wanted == p.wanted() || !p.mayFade() {
		return a
	}
	var room Millis
	for _, q := range p.Pieces {
		room += q.Fade
	}
	a.Proved = false
	out := slices.Clone(a.LeftOut)
	slices.SortStableFunc(out, func(i, j int) int { return cmp.Compare(p.Pieces[j].Length, p.Pieces[i].Length) })
	if p.Aim == MostSongs {
		slices.Reverse(out)
	}
	for _, i := range out {
		if p.Pieces[i].Reserve > 0 {
			continue
		}
		best := a
		for t, load := range a.Tapes {
			for s, list := range load.Sides {
				if !e.spend(int64(len(p.Pieces))/50 + 1<<min(len(list), 13)) {
					break
				}
				side := p.Kinds[load.Kind].Sides[s]
				laid, fades, ok := p.lay(slices.Sorted(slices.Values(append(slices.Clone(list), i))), side)
				if !ok {
					continue
				}
				x := Answer{Tapes: slices.Clone(a.Tapes), Faded: fades}
				x.Tapes[t].Sides = slices.Clone(load.Sides)
				x.Tapes[t].Sides[s] = laid
				for _, f := range a.Faded {
					if !slices.Contains(laid, f.Piece) {
						x.Faded = append(x.Faded, f)
					}
				}
				slices.SortFunc(x.Faded, func(f, g Fade) int { return cmp.Compare(f.Piece, g.Piece) })
				x.LeftOut = without(a.LeftOut, i)
				x.Score = p.Score(x)
				if p.better(x, best) && p.Check(x) == nil {
					x.AtLeast = a.AtLeast
					best = x
				}
			}
		}
		a = best
	}
	// Fading could have made so much more room, anywhere.
	b := newBoard(e, p, p.roomiest(p.top()))
	b.more = int64(room)
	wanted := slices.DeleteFunc(run(0, len(p.Pieces)), func(i int) bool { return p.Pieces[i].Reserve > 0 })
	if a.most = b.mostShare(wanted, nil); !p.oneRow() {
		a.most = b.mostAnywhere(wanted)
	}
	return a
}
