package planner

import (
	"context"
	"fmt"
	"slices"

	"longside/fit"
)

// split turns each item that is to be split into two: the first part closes
// side A and the second opens side B of the same tape.
func (m Mix) split() (Mix, error) {
	var out []Item
	for i, it := range m.Items {
		if it.Number == 0 {
			it.Number = i + 1
		}
		at := it.Wish.Split.D()
		if at == 0 {
			out = append(out, it)
			continue
		}
		if at >= it.Length {
			return m, fmt.Errorf("%s is %s long and cannot be split at %s", quote(it.Title), Clock(it.Length), Clock(at))
		}
		of := it.place()
		a, b := it, it
		a.splitOf = &Stretch{Exact(of.From), Exact(of.Length)}
		b.splitOf = a.splitOf
		a.Wish.Split, b.Wish.Split = 0, 0
		a.Title, b.Title = it.Title+" (1 of 2)", it.Title+" (2 of 2)"
		a.Length, b.Length = at, it.Length-at
		a.Part, b.Part = true, true
		b.From = it.From + at
		a.Wish.Side, a.Wish.Closes, a.Wish.Join = "A", OfSide, false
		b.Wish.Side, b.Wish.Opens = "B", OfSide
		out = append(out, a, b)
	}
	m.Items = out
	return m, nil
}

// places are, of each item as split leaves them, its place in the list, from 1.
func (m Mix) places() (places []int) {
	for i, it := range m.Items {
		places = append(places, i+1)
		if it.Wish.Split != 0 {
			places = append(places, i+1)
		}
	}
	return places
}

// solveSplit asks fit, with a piece that is split either on the tape whole or
// not at all: half a song is none. Fit does not know of this, so it is asked for
// both, unless the first answer leaves nothing out.
func (r *Request) solveSplit(ctx context.Context, ps []piece) (fit.Answer, error) {
	with := r.problem(ps)
	k := 0
	for k+1 < len(ps) && !sameSplit(r.Mix.Items[ps[k].items[len(ps[k].items)-1]], r.Mix.Items[ps[k+1].items[0]]) {
		k++
	}
	if k+1 >= len(ps) {
		return fit.Solve(ctx, with) // none, or the other part is recorded already
	}
	must := with.Pieces[k].Must || with.Pieces[k+1].Must
	reserve := with.Pieces[k].Reserve > 0 || with.Pieces[k+1].Reserve > 0
	if must || !reserve { // for a reserve nothing else gives way
		with.Pieces[k].Must, with.Pieces[k+1].Must = true, true
	}
	a, err := fit.Solve(ctx, with)
	out := func(i int) bool { return slices.Contains(a.LeftOut, i) }
	if err == nil && !r.lacks(ps, a) && out(k) == out(k+1) || must {
		return a, err
	}
	without := with
	without.Pieces = slices.Delete(slices.Clone(with.Pieces), k, k+2)
	without.Start = nil
	b, errWithout := fit.Solve(ctx, without)
	if errWithout != nil {
		return a, err
	}
	number := func(i int) int {
		if i >= k {
			return i + 2
		}
		return i
	}
	for t := range b.Tapes {
		for s := range b.Tapes[t].Sides {
			for x, i := range b.Tapes[t].Sides[s] {
				b.Tapes[t].Sides[s][x] = number(i)
			}
		}
	}
	for x := range b.Faded {
		b.Faded[x].Piece = number(b.Faded[x].Piece)
	}
	for x := range b.LeftOut {
		b.LeftOut[x] = number(b.LeftOut[x])
	}
	b.LeftOut = append(b.LeftOut, k, k+1)
	slices.Sort(b.LeftOut)
	if err != nil || out(k) != out(k+1) {
		return b, nil
	}
	whole := a.Score
	whole.Wanted.Songs-- // the two parts are one song
	if without.Compare(whole, b.Score) > 0 {
		a.Proved = a.Proved && b.Proved
		return a, nil
	}
	b.Proved = a.Proved && b.Proved
	return b, nil
}

// SecondPart tells whether the track is the second part of a piece that was
// split: with the first it is one track.
func (t Track) SecondPart() bool {
	return t.SplitOf != nil && t.FromS.D() > t.SplitOf.FromS.D()
}

// sameSplit tells whether two items are the parts of one piece.
func sameSplit(a, b Item) bool {
	return a.splitOf != nil && b.splitOf != nil && a.Path == b.Path && *a.splitOf == *b.splitOf
}
