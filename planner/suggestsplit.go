package planner

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sort"
	"time"

	"longside/fit"
)

// tooLong offers a split for what no side can hold: at a quiet place where one
// was looked for, else near the middle. What takes more than two sides cannot be
// split by a wish, and it is said how many parts it takes.
func (r Request) tooLong(ctx context.Context, _ Plan) []Suggestion {
	var out []Suggestion
	side := r.longestSide()
	for _, i := range r.TooLong() {
		it := r.Mix.Items[i]
		if it.Wish.Reserve > 0 {
			continue // it is not missed
		}
		s := Suggestion{About: "split", Tracks: []string{it.Title},
			Says: fmt.Sprintf("%s (%s) is longer than a side (%s): ", r.called(i), Clock(it.Length), Clock(side))}
		parts := partsOf(it, side)
		if parts > maxParts {
			continue // no tape at all, or a mistyped length
		}
		if parts > 2 {
			s.Says += fmt.Sprintf("it needs %d parts, on %d sides; list each part as a track of its own", parts, parts)
		} else if at, leaves, ok := r.splitAt(ctx, i, r.goodPlaces(i)...); !ok {
			s.Says += "it needs 2 parts, and with the other tracks there is no room for both"
		} else {
			s.Change, s.LeavesOut = &Change{Split: &at}, leaves
			s.Says += "split it over both at " + ExactClock(at.AtS.D())
			switch {
			case slices.Contains(it.Chapters, at.AtS.D()):
				s.Says += ", where a chapter ends"
			case at.AtS.D() == it.Quiet.Round(time.Second):
				s.Says += ", where it is quietest"
			}
			if leaves == 0 {
				s.Says += at.orElse() + ", and everything fits"
			}
		}
		out = append(out, s)
		if n := len(it.Chapters); n > 1 {
			out = append(out, Suggestion{About: "split", Tracks: s.Tracks, Change: &Change{Chapters: i + 1}, LeavesOut: -1,
				Says: fmt.Sprintf("take the %d chapters of %s as tracks", n, r.called(i))})
		}
	}
	return out
}

// otherSplit offers another place for a split with which not everything fits.
func (r Request) otherSplit(ctx context.Context, _ Plan) []Suggestion {
	for i, it := range r.Mix.Items {
		was := it.Wish.Split
		if was == 0 || r.overfull() {
			continue
		}
		if at, leaves, ok := r.splitAt(ctx, i, was.D()); ok && leaves == 0 && at.AtS != was {
			return []Suggestion{{About: "split", Tracks: []string{it.Title}, Change: &Change{Split: &at},
				Says: fmt.Sprintf("split %s at %s and not at %s%s, and everything fits", r.called(i), ExactClock(at.AtS.D()), ExactClock(was.D()), at.orElse())}}
		}
	}
	return nil
}

// orElse says where else a split will do.
func (s SplitAt) orElse() string {
	if s.ToS-s.FromS < Seconds(2*time.Second) {
		return ""
	}
	return fmt.Sprintf(" (any place from %s to %s will do)", ExactClock(s.FromS.D()), ExactClock(s.ToS.D()))
}

// goodPlaces are where an item would best be split, the best first: where a
// chapter ends, where it is quietest, and last its middle.
func (r *Request) goodPlaces(i int) []time.Duration {
	it := r.Mix.Items[i]
	from, to, _ := r.SplitSpan(i)
	places := it.chapterEnds(from, to)
	if it.Quiet > from && it.Quiet < to {
		places = append(places, it.Quiet.Round(time.Second))
	}
	return append(places, ((from + to) / 2).Round(time.Second))
}

// mostEnds is how many ends of chapters are tried for a split.
const mostEnds = 5

// chapterEnds are the ends of chapters between two times, the nearest to their
// middle first.
func (it Item) chapterEnds(from, to time.Duration) []time.Duration {
	ends := slices.DeleteFunc(slices.Clone(it.Chapters), func(d time.Duration) bool { return d <= from || d >= to })
	slices.SortStableFunc(ends, func(a, b time.Duration) int {
		return cmp.Compare((a - (from+to)/2).Abs(), (b - (from+to)/2).Abs())
	})
	return ends[:min(len(ends), mostEnds)]
}

// maxParts bounds the parts that a piece is told to need.
const maxParts = 100

// partsOf is how many sides an item takes that may be cut anywhere.
func partsOf(it Item, side time.Duration) int {
	if side -= typedMargin; side <= 0 {
		return maxParts + 1
	}
	return int((it.Length + side - 1) / side)
}

// splitAt finds the first of the wanted places, or else the nearest to the last of
// them, at which item i can be split so that both parts have a place and everything
// fits; where nothing does, one at which both parts have a place, with how many
// tracks that leaves out.
func (r Request) splitAt(ctx context.Context, i int, wanted ...time.Duration) (at SplitAt, leaves int, ok bool) {
	fits := func(cut time.Duration) (tried, bool) {
		if cut <= 0 || cut >= r.Mix.Items[i].Length {
			return tried{}, false
		}
		t, ok := r.try(ctx, Change{Split: &SplitAt{Track: i + 1, AtS: Seconds(cut)}})
		return t, ok && !slices.Contains(t.out, i+1)
	}
	full := r.overfull()
	done := map[time.Duration]bool{}
	for _, cut := range append(wanted, r.cuts(i, wanted[len(wanted)-1])...) {
		if done[cut] {
			continue
		}
		done[cut] = true
		t, placed := fits(cut)
		if !placed {
			continue
		}
		if !t.Fits {
			if !ok {
				at, leaves, ok = SplitAt{Track: i + 1, Name: r.Mix.NameOf(i), AtS: Seconds(cut)}, t.missing(), true
			}
			if full {
				break
			}
			continue
		}
		at = SplitAt{Track: i + 1, Name: r.Mix.NameOf(i), AtS: Seconds(cut), FromS: Seconds(cut), ToS: Seconds(cut)}
		// What both sides have to spare, the cut can be moved by.
		if len(t.Tapes) > 0 {
			from := (cut - spare(t.Tapes[0].Sides[1]) + time.Second - 1).Truncate(time.Second)
			to := (cut + spare(t.Tapes[0].Sides[0])).Truncate(time.Second)
			_, a := fits(from)
			_, b := fits(to)
			if a && b {
				at.FromS, at.ToS = Seconds(from), Seconds(to)
			}
		}
		return at, 0, true
	}
	return at, leaves, ok
}

// spare is what a side surely has to spare: a second is kept for typed lengths.
func spare(s Side) time.Duration { return max(0, s.SpareS.D()-time.Second) }

// The most places that are tried for a split: of short lists, which are solved
// in no time, and of others.
const (
	shortEnough = 10
	mostCuts    = 24
	fewCuts     = 5
)

// cuts lists places for a split of item i, the nearest to the wanted one first.
func (r Request) cuts(i int, want time.Duration) []time.Duration {
	length := r.Mix.Items[i].Length
	lo, hi := max(time.Second, length-r.longestSide()+time.Second), min(r.longestSide(), length)-time.Second
	if lo > hi {
		return nil
	}
	lo, hi = lo.Truncate(time.Second), hi.Truncate(time.Second)
	if r.Order == fit.Keep {
		return r.cutsInOrder(i, want, lo, hi)
	}
	all := []time.Duration{want}
	var others []piece
	for _, p := range r.pieces() {
		if r.reserve(p) == 0 && !slices.Contains(p.items, i) {
			others = append(others, p)
		}
	}
	most := mostCuts
	if len(others) > shortEnough {
		// Many sums lie close: a few places are as good as all.
		most = fewCuts
		for k := range time.Duration(most) {
			all = append(all, (lo + (hi-lo)*k/time.Duration(most-1)).Round(time.Second))
		}
	} else {
		side := r.longestSide()
		for set := range 1 << len(others) {
			a, b := side, side
			for k, p := range others {
				if set>>k&1 == 1 {
					a -= p.length + p.margin + p.gap
				} else {
					b -= p.length + p.margin + p.gap
				}
			}
			// The first part closes A and takes no gap; B gives its last one back.
			from, to := max(lo, length-b-r.Gap), min(hi, a)
			if from <= to {
				all = append(all, min(max(want, (from+time.Second-1).Truncate(time.Second)), to.Truncate(time.Second)),
					((from + to) / 2).Truncate(time.Second))
			}
		}
	}
	slices.SortFunc(all, func(x, y time.Duration) int {
		return cmp.Or(cmp.Compare((x-want).Abs(), (y-want).Abs()), cmp.Compare(x, y))
	})
	all = slices.Compact(all)
	return all[:min(len(all), most)]
}

// cutsInOrder lists places for a split in the given order, in which the tracks
// before the item share the first side with its first part, and those behind it
// the second side, or later tapes.
func (r Request) cutsInOrder(i int, want, lo, hi time.Duration) []time.Duration {
	var ht HandTape
	for n, it := range r.Mix.Items {
		switch {
		case n == i:
			ht.Sides[0], ht.Sides[1] = append(ht.Sides[0], Spot{Item: i}), append(ht.Sides[1], Spot{Item: i})
		case it.Wish.Reserve > 0:
		case n < i:
			ht.Sides[0] = append(ht.Sides[0], Spot{Item: n})
		default:
			ht.Sides[1] = append(ht.Sides[1], Spot{Item: n})
		}
	}
	over := func(cut time.Duration, side string) bool {
		q, err := Change{Split: &SplitAt{Track: i + 1, AtS: Seconds(cut)}}.Apply(r)
		if err != nil {
			return true
		}
		h, err := q.hand(Arrangement{ht})
		return err != nil || slices.ContainsFunc(h.side(0, int(side[0]-'A')), func(b Broken) bool { return b.Wish == "room" })
	}
	n := int((hi-lo)/time.Second) + 1
	cut := func(k int) time.Duration { return lo + time.Duration(k)*time.Second }
	last := sort.Search(n, func(k int) bool { return over(cut(k), "A") }) - 1
	first := sort.Search(n, func(k int) bool { return !over(cut(k), "B") })
	if last < 0 {
		return []time.Duration{want}
	}
	all := []time.Duration{want, min(max(want, cut(min(first, n-1))), cut(last)), cut(last)}
	return slices.Compact(all)
}
