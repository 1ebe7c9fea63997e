package planner

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"longside/fit"
)

// Contradiction is the error of wishes that cannot all be kept. It names just
// those: by themselves they cannot be kept either, and without any one of them
// the others can.
type Contradiction struct {
	Wishes []Lift
	says   string
}

func (c *Contradiction) Error() string { return c.says }

// contradiction words wishes that cannot all be kept. Those of one track are
// told together.
func (r *Request) contradiction(wishes ...Lift) error {
	var all []string
	room := ""
	for k, l := range wishes {
		n := slices.IndexFunc(wishes, func(x Lift) bool { return x.Track == l.Track })
		switch {
		case l.Wish == "room":
			room = fmt.Sprintf(" on sides of %s", Clock(r.longestSide()))
		case l.Track == 0 || n == k:
			says := l.says(r)
			for _, x := range wishes[k+1:] {
				if x.Track == l.Track && l.Track > 0 {
					says += " and " + x.does(r)
				}
			}
			if l.Track > 0 {
				says = fmt.Sprintf("%s (#%d)%s", quote(r.Mix.Items[l.Track-1].Title), l.Track, strings.TrimPrefix(says, r.called(l.Track-1)))
			}
			all = append(all, "that "+says)
		}
	}
	c := &Contradiction{Wishes: wishes}
	lead, drop := "these wishes cannot all be kept", "drop one of them"
	switch count := len(wishes) - truth(room != ""); {
	case count == 1:
		lead, drop = "a wish cannot be kept", "drop it"
	case count == 2:
		lead = "two wishes cannot both be kept"
	}
	if room != "" {
		drop += ", or take a longer tape"
	}
	if n := len(all); n > 1 {
		all = append(all[:n-2:n-2], all[n-2]+", and "+all[n-1])
	}
	c.says = fmt.Sprintf("%s: %s%s; %s", lead, strings.Join(all, ", "), room, drop)
	return c
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

// explain puts an error of fit, which knows only numbers, into the person's
// words: of all wishes it leaves those that contradict each other.
func (r Request) explain(ctx context.Context, err error) error {
	var c *fit.Contradiction
	if !errors.As(err, &c) && !errors.Is(err, fit.ErrNoneFound) {
		return err
	}
	// What need not be on the tape can be left out, and is mostly in nobody's way:
	// few tracks are asked first. But others may have to keep artists apart, or
	// fill a tape before the one that is wished.
	few, places := r.onlyMusts(r.Apart * 4)
	wishes := few.conflict(ctx)
	for i := range wishes {
		if n := &wishes[i].Track; *n > 0 {
			*n = places[*n-1]
		}
	}
	if wishes == nil || r.only(wishes).possible(ctx) {
		wishes = r.conflict(ctx)
	}
	if wishes == nil {
		return errors.New("no plan was found that keeps all wishes; drop one of them")
	}
	return r.contradiction(wishes...)
}

// only is the request with just these of its wishes.
func (r Request) only(wishes []Lift) Request {
	q := r
	for _, l := range append(r.wishes(), Lift{Wish: "room"}) {
		if !slices.Contains(wishes, l) {
			q = q.less(l)
		}
	}
	return q
}

// onlyMusts is the request with those rows of joined tracks that hold one which
// must be on the tape, and some others; places are where its tracks stood, from 1.
func (r Request) onlyMusts(others int) (q Request, places []int) {
	q = r
	q.Mix.Items = nil
	for _, p := range r.pieces() {
		must := slices.ContainsFunc(p.items, func(i int) bool { return r.Mix.Items[i].Wish.must() })
		if others -= truth(!must); !must && others < 0 {
			continue
		}
		for _, i := range p.items {
			q.Mix.Items = append(q.Mix.Items, r.Mix.Items[i])
			places = append(places, i+1)
		}
	}
	return q, places
}

// must tells whether a track may not be left out: a named opener or closer of the
// whole may not be, either.
func (w Wish) must() bool { return w.Must || w.Opens == OfMix || w.Closes == OfMix }

// conflictSteps is fit's effort for one question of conflict.
const conflictSteps = 50_000

// possible tells whether there is a plan that keeps all wishes.
func (r Request) possible(ctx context.Context) bool {
	r.MaxSteps = conflictSteps
	if r.ready() != nil {
		return false
	}
	_, err := r.solve(ctx, r.pieces())
	return err == nil
}

// conflict does without one wish after the other, as long as the rest cannot be
// kept: what is left at the end cannot be done without (a minimal unsatisfiable
// set, found by deletion). It is nil where all wishes can be kept.
func (r Request) conflict(ctx context.Context) (wishes []Lift) {
	if r.possible(ctx) {
		return nil
	}
	for _, l := range append([]Lift{{Wish: "room"}}, r.wishes()...) {
		if q := r.less(l); ctx.Err() == nil && q.possible(ctx) {
			wishes = append(wishes, l)
		} else {
			r = q
		}
	}
	slices.SortStableFunc(wishes, func(a, b Lift) int { return truth(a.Track == 0) - truth(b.Track == 0) })
	return wishes
}

// checkWishes refuses wishes that speak of one place and cannot both be kept,
// where fit would see only one of them, or would leave one track out for the other.
func (r *Request) checkWishes() error {
	wishes := r.clash()
	if wishes == nil {
		return nil
	}
	// Of those that were found some may do by themselves.
	only := r.only(wishes)
	var left []Lift
	for _, l := range wishes {
		if q := only.less(l); q.clash() != nil {
			only = q
		} else {
			left = append(left, l)
		}
	}
	return r.contradiction(left...)
}

// less is the request without one of its wishes.
func (r Request) less(l Lift) Request {
	q, err := Change{Lift: &l}.Apply(r)
	if err != nil {
		return r // it is one of its wishes, so there is none
	}
	return q
}

// clash finds wishes that cannot all be kept, without asking fit; nil: there are none such.
func (r *Request) clash() []Lift {
	type spot struct {
		side int
		ends bool
	}
	taken := map[spot][]Lift{} // the wishes that have it
	take := func(side int, ends bool, wishes ...Lift) []Lift {
		if by, ok := taken[spot{side, ends}]; ok && by[0].Track != wishes[0].Track {
			return slices.Concat(by, wishes)
		}
		taken[spot{side, ends}] = wishes
		return nil
	}
	var row []Lift    // the joins since a track that says which side the row is on
	var pinned []Lift // its wish
	on := 0           // that side
	items := r.Mix.Items
	for i, it := range items {
		w, n := it.Wish, i+1
		joined := i > 0 && items[i-1].Wish.Join
		if !joined {
			row, pinned, on = nil, nil, 0
		} else {
			row = append(row, Lift{n - 1, "join"})
		}
		if joined && w.Opens != Anywhere {
			return []Lift{Lift{n - 1, "join"}, Lift{n, "opens"}}
		}
		if w.Join && n < len(items) && w.Closes != Anywhere {
			return []Lift{Lift{n, "closes"}, Lift{n, "join"}}
		}
		if w.Must && w.Reserve > 0 {
			return []Lift{Lift{n, "must"}, Lift{n, "reserve"}}
		}
		side, by := sideNumber(w.Side), Lift{n, "side"}
		if w.Split != 0 {
			if side > 0 {
				return []Lift{by, Lift{n, "split"}}
			}
			side, by = 1, Lift{n, "split"} // its first part
		}
		if side > 2*r.mostTapes() {
			return []Lift{by, Lift{0, "tapes"}}
		}
		if side > 0 && on > 0 && side != on {
			return slices.Concat(pinned, row, []Lift{by})
		}
		if side > 0 {
			row, pinned, on = nil, []Lift{by}, side
		}
		if w.Split != 0 {
			if clash := take(1, true, by); clash != nil {
				return clash
			}
			if clash := take(2, false, by); clash != nil {
				return clash
			}
			on = 2 // its second part
			continue
		}
		if w.Reserve > 0 || w.Side == "" {
			continue // a reserve may be left out
		}
		var clash []Lift
		if w.Opens != Anywhere {
			clash = take(side, false, by, Lift{n, "opens"})
		}
		if w.Closes != Anywhere && clash == nil {
			clash = take(side, true, by, Lift{n, "closes"})
		}
		if clash != nil {
			return clash
		}
	}
	return r.endsClash()
}

// mostTapes is how many tapes there can be.
func (r *Request) mostTapes() int {
	most := max(1, r.MaxTapes, len(r.begun))
	stock := 0
	for _, c := range r.Tapes {
		if c.Stock == 0 {
			return most
		}
		stock += c.Stock
	}
	return min(most, max(stock, len(r.begun)))
}

// endsClash finds an opener of the tape that is its closer, too, by itself or in
// one row, where more than that is wanted.
func (r *Request) endsClash() []Lift {
	ps := r.pieces()
	for n, p := range ps {
		first, last := p.items[0], p.items[len(p.items)-1]
		if r.Mix.Items[first].Wish.Opens != OfMix || r.Mix.Items[last].Wish.Closes != OfMix {
			continue
		}
		wishes := []Lift{{first + 1, "opens"}}
		for _, i := range p.items[1:] {
			wishes = append(wishes, Lift{i, "join"}) // i counts from 0: of the one before
		}
		wishes = append(wishes, Lift{last + 1, "closes"})
		for m, other := range ps {
			if m != n && r.reserve(other) == 0 {
				return wishes
			}
		}
	}
	return nil
}
