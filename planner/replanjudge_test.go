package planner

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"longside/fit"
)

// A judge of replans that tries every way to lay what is left on what is left. It
// knows the wishes by reading them off the plan's tracks, and shares no code with
// fit or with what lays a plan.

// remains is a track or a joined row that is still to be recorded.
type remains []Track

type everyWay struct {
	apart   int
	gap     time.Duration
	order   fit.Order
	aim     fit.Aim
	room    []time.Duration // of each side, recorded and all
	done    [][]Track       // recorded, by side
	closed  []bool          // nothing more goes there
	pieces  []remains
	songs   int // the best so far
	playing time.Duration
	any     bool
}

func (j *everyWay) gapOf(t Track) time.Duration {
	if t.Wish != nil && t.Wish.Gap != nil {
		return t.Wish.Gap.D()
	}
	return j.gap
}

// sound tells whether a side may be laid so.
func (j *everyWay) sound(s int, sides [][]remains) bool {
	var line []Track
	var own []int // the piece of each, -1: recorded
	for _, t := range j.done[s] {
		line, own = append(line, t), append(own, -1)
	}
	for n, p := range sides[s] {
		for _, t := range p {
			line, own = append(line, t), append(own, n)
		}
	}
	var at time.Duration
	for k, t := range line {
		w := Wish{}
		if t.Wish != nil {
			w = *t.Wish
		}
		mine := own[k] >= 0
		if mine && w.Side != "" && w.Side != sideLabel(s, len(j.room)/2) {
			return false
		}
		if mine && w.Opens != Anywhere && k > 0 || w.Closes != Anywhere && k < len(line)-1 {
			return false
		}
		if w.Opens == OfMix && mine {
			for z := range s {
				if len(j.done[z])+len(sides[z]) > 0 {
					return false
				}
			}
		}
		if w.Closes == OfMix {
			for z := s + 1; z < len(sides); z++ {
				if len(sides[z]) > 0 {
					return false
				}
			}
		}
		for back := 1; back <= j.apart && back <= k && mine; back++ {
			if t.Artist == line[k-back].Artist && own[k] != own[k-back] {
				return false
			}
		}
		at += t.LengthS.D()
		if k < len(line)-1 && (own[k] < 0 || own[k] != own[k+1]) {
			at += j.gapOf(t)
		}
	}
	return at <= j.room[s]
}

func sideLabel(s, tapes int) string {
	l := string(rune('A' + s%2))
	if tapes > 1 {
		return fmt.Sprint(s/2+1, l)
	}
	return l
}

// place tries every side and place, or none, for each piece in turn.
func (j *everyWay) place(n int, sides [][]remains) {
	if n < len(j.pieces) {
		j.place(n+1, sides)
		p := j.pieces[n]
		for s := range sides {
			if j.closed[s] {
				continue
			}
			was := sides[s]
			from := 0
			if j.order == fit.Keep { // behind all that were placed before it
				from = len(was)
				for z := s + 1; z < len(sides); z++ {
					if len(sides[z]) > 0 {
						from = len(was) + 1
					}
				}
			}
			for at := from; at <= len(was); at++ {
				sides[s] = slices.Insert(slices.Clone(was), at, p)
				j.place(n+1, sides)
			}
			sides[s] = was
		}
		return
	}
	songs := 0
	var playing time.Duration
	for s := range sides {
		for _, p := range sides[s] {
			for _, t := range p {
				songs++
				playing += t.LengthS.D()
			}
		}
	}
	better := songs > j.songs || songs == j.songs && playing > j.playing
	if j.aim == fit.MostTime {
		better = playing > j.playing || playing == j.playing && songs > j.songs
	}
	if j.any && !better {
		return
	}
	for s := range sides {
		if !j.sound(s, sides) {
			return
		}
	}
	j.songs, j.playing, j.any = songs, playing, true
}

// What is begun stays, in order; what is left is laid the best way there is, under
// the wishes as they were; and a plan that could be left as it was loses nothing.
func TestReplanAgainstEveryWay(t *testing.T) {
	looked, proved := 0, 0
	for seed := range seeds(150) {
		rng := rand.New(rand.NewPCG(seed, 35))
		odd := func(n int) bool { return rng.IntN(n) == 0 }
		n := 4 + rng.IntN(4)
		lengths := make([]float64, n)
		for i := range lengths {
			lengths[i] = float64(60 + rng.IntN(200))
		}
		m := mix(lengths...)
		tapes := 1 + rng.IntN(2)
		for i := range m.Items {
			it := &m.Items[i]
			it.Artist = string(rune('x' + rng.IntN(3)))
			switch {
			case odd(9):
				it.Wish.Side = []string{"A", "B", "2A", "2B"}[rng.IntN(2*tapes)]
				if tapes > 1 && len(it.Wish.Side) == 1 {
					it.Wish.Side = "1" + it.Wish.Side
				}
			case odd(12):
				it.Wish.Opens = []Where{OfSide, OfMix}[rng.IntN(2)]
			case odd(12):
				it.Wish.Closes = []Where{OfSide, OfMix}[rng.IntN(2)]
			case odd(8) && i < n-1:
				it.Wish.Join = true
			}
			if odd(8) {
				it.Wish.Gap = gap(float64(rng.IntN(9))).Gap
			}
		}
		r := request(t, "C14", m)
		r.MaxTapes, r.Apart, r.Aim = tapes, rng.IntN(2), fit.Aim(rng.IntN(2))
		r.Order = []fit.Order{fit.Keep, fit.Free}[rng.IntN(2)]
		p, err := Make(context.Background(), r)
		if err != nil || len(p.Tapes) == 0 {
			continue
		}
		at := rng.IntN(2 * len(p.Tapes))
		done := Recorded{Tape: at / 2, Side: at % 2, Tracks: rng.IntN(len(p.Tapes[at/2].Sides[at%2].Tracks) + 1)}
		q, err := Replan(context.Background(), p, done, nil)
		if err != nil {
			continue // all is recorded, or the wishes leave no way
		}
		j := everyWay{apart: r.Apart, gap: r.Gap, order: r.Order, aim: r.Aim}
		var left []Track
		closed := false
		for ti := range tapes {
			for si := range 2 {
				j.room = append(j.room, p.Tapes[0].Sides[0].UsableS.D())
				j.done = append(j.done, nil)
				if ti < len(p.Tapes) {
					s := p.Tapes[ti].Sides[si]
					k := 0
					switch here := 2*ti + si; {
					case here < at:
						k = len(s.Tracks)
					case here == at:
						k = done.Tracks
					}
					j.done[2*ti+si] = s.Tracks[:k]
					left = append(left, s.Tracks[k:]...)
					// What is recorded stands where it stood.
					for x, was := range s.Tracks[:k] {
						if now := q.Tapes[ti].Sides[si].Tracks[x]; now.Title != was.Title || now.StartS != was.StartS || !now.Recorded {
							t.Fatalf("seed %d: %s was at %v, now %s at %v", seed, was.Title, was.StartS, now.Title, now.StartS)
						}
					}
				}
				here := closed || 2*ti+si < at
				for _, k := range j.done[2*ti+si] {
					if k.Wish != nil && k.Wish.Closes != Anywhere {
						here = true
						closed = closed || k.Wish.Closes == OfMix
					}
				}
				j.closed = append(j.closed, here)
			}
		}
		left = append(left, p.LeftOut...)
		slices.SortStableFunc(left, func(a, b Track) int { return a.Number - b.Number })
		if len(left) > 5 {
			continue
		}
		recorded := slices.ContainsFunc(j.done, func(l []Track) bool { return len(l) > 0 })
		for k, x := range left {
			if x.Wish != nil && x.Wish.Opens == OfMix && recorded {
				w := *x.Wish
				w.Opens = Anywhere
				x.Wish = &w
			}
			if k > 0 && left[k-1].Wish != nil && left[k-1].Wish.Join && left[k-1].Number == x.Number-1 {
				j.pieces[len(j.pieces)-1] = append(j.pieces[len(j.pieces)-1], x)
				continue
			}
			j.pieces = append(j.pieces, remains{x})
		}
		j.place(0, make([][]remains, len(j.room)))
		if !j.any {
			continue
		}
		looked++
		songs, playing := 0, time.Duration(0)
		for _, t := range q.Tapes {
			for _, s := range t.Sides {
				for _, k := range s.Tracks {
					if !k.Recorded {
						songs++
						playing += k.LengthS.D()
					}
				}
			}
		}
		must := slices.ContainsFunc(left, func(k Track) bool {
			return k.Wish != nil && (k.Wish.Opens == OfMix && !recorded || k.Wish.Closes == OfMix)
		})
		if must { // which is never left out: the judge does not know of it
			continue
		}
		if q.Proved {
			proved++
		}
		if songs != j.songs || playing != j.playing {
			t.Errorf("seed %d: %d songs of %v (proved %v), every way keeps %d of %v\nwas %v\nnow %v", seed, songs, playing, q.Proved, j.songs, j.playing, shown(p), shown(q))
		}
	}
	t.Logf("%d looked at, %d proved", looked, proved)
	if looked < 40 {
		t.Errorf("only %d looked at", looked)
	}
}

func shown(p Plan) (s string) {
	for _, t := range p.Tapes {
		for _, side := range t.Sides {
			s += " |"
			for _, k := range side.Tracks {
				s += " " + k.Title
				if k.Recorded {
					s += "*"
				}
			}
		}
	}
	return s
}
