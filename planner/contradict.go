package planner

import (
	"errors"
	"fmt"

	"longside/fit"
)

// word puts an error of fit, which knows only numbers, into the person's words.
func (r *Request) word(ps []piece, err error) error {
	var c *fit.Contradiction
	if !errors.As(err, &c) {
		return err
	}
	// That an opener or a closer must be there follows from its wish: it is no
	// wish of its own, and what stands against the wish is all the rest.
	if a := c.Against; a.What == fit.MustPlace && a.Piece == c.Rule.Piece {
		return fmt.Errorf("a wish cannot be kept: %s, which the other wishes do not let it; drop one of them", r.wordRule(ps, c.Rule))
	}
	return fmt.Errorf("two wishes cannot both be kept: %s, and %s; drop one of them", r.wordRule(ps, c.Rule), r.wordRule(ps, c.Against))
}

// wordRule says what a rule asks.
func (r *Request) wordRule(ps []piece, rule fit.Rule) string {
	what := "a track"
	if rule.Piece >= 0 && rule.Piece < len(ps) {
		what = quote(r.Mix.Items[ps[rule.Piece].items[0]].Title)
	}
	switch rule.What {
	case fit.MustPlace:
		return what + " must be on the tape"
	case fit.Room:
		if rule.Side > 0 {
			return fmt.Sprintf("side %s has only so much room", sideName(rule.Side, r.MaxTapes))
		}
		return "the sides have only so much room"
	case fit.PinnedSide:
		return fmt.Sprintf("%s is to be on side %s", what, sideName(rule.Side, r.MaxTapes))
	case fit.OpensSide:
		return what + " is to open its side"
	case fit.OpensAll:
		return what + " is to open the tape"
	case fit.ClosesSide:
		return what + " is to close its side"
	case fit.ClosesAll:
		return what + " is to close the tape"
	case fit.GivenOrder:
		return "the given order is to be kept (--order keep)"
	case fit.KeptApart:
		return fmt.Sprintf("tracks of one artist are to have %d others between them", r.Apart)
	case fit.OffThin:
		return what + " must not lie on the thin tail"
	case fit.TapeCount:
		return fmt.Sprintf("%d %s may be used", max(1, r.MaxTapes), plural(max(1, r.MaxTapes), "tape", "tapes"))
	}
	return "another wish"
}

// sideName is the name of a side that counts through all tapes, from 1: A, or
// 2A where there may be several tapes.
func sideName(n, tapes int) string {
	letter := string(rune('A' + (n-1)%2))
	if tapes > 1 {
		return fmt.Sprintf("%d%s", (n-1)/2+1, letter)
	}
	return letter
}

// checkWishes refuses wishes that speak of one place and cannot both be kept,
// where fit would see only one of them, or would leave one track out for the other.
func (r *Request) checkWishes() error {
	type spot struct {
		side int
		ends bool
	}
	taken := map[spot]int{}
	take := func(s spot, i int, verb string) error {
		if j, ok := taken[s]; ok {
			return fmt.Errorf("two wishes cannot both be kept: %s (#%d) and %s (#%d) are both to %s side %s; drop one of them",
				quote(r.Mix.Items[j].Title), j+1, quote(r.Mix.Items[i].Title), i+1, verb, sideName(s.side, r.MaxTapes))
		}
		taken[s] = i
		return nil
	}
	pinned := -1 // the item that says which side the joined ones are on
	for i, it := range r.Mix.Items {
		joined := i > 0 && r.Mix.Items[i-1].Wish.Join
		if !joined {
			pinned = -1
		}
		w := it.Wish
		if w.Must && w.Reserve > 0 {
			return fmt.Errorf("two wishes cannot both be kept: %s (#%d) is never to be left out, and is a reserve; drop one of them", quote(it.Title), i+1)
		}
		if joined && w.Opens != Anywhere {
			return fmt.Errorf("two wishes cannot both be kept: %s (#%d) is to open, and %s (#%d) is joined to it; drop one of them",
				quote(it.Title), i+1, quote(r.Mix.Items[i-1].Title), i)
		}
		if w.Join && i < len(r.Mix.Items)-1 && w.Closes != Anywhere {
			return fmt.Errorf("two wishes cannot both be kept: %s (#%d) is to close, and is joined to %s (#%d); drop one of them",
				quote(it.Title), i+1, quote(r.Mix.Items[i+1].Title), i+2)
		}
		side := sideNumber(w.Side)
		if side == 0 {
			continue
		}
		if j := pinned; j >= 0 && sideNumber(r.Mix.Items[j].Wish.Side) != side {
			return fmt.Errorf("two wishes cannot both be kept: %s (#%d) is to be on side %s and %s (#%d), joined to it, on side %s; drop one of them",
				quote(r.Mix.Items[j].Title), j+1, r.Mix.Items[j].Wish.Side, quote(it.Title), i+1, w.Side)
		}
		pinned = i
		if w.Reserve > 0 {
			continue // a reserve may be left out
		}
		if w.Opens == OfSide {
			if err := take(spot{side, false}, i, "open"); err != nil {
				return err
			}
		}
		if w.Closes == OfSide {
			if err := take(spot{side, true}, i, "close"); err != nil {
				return err
			}
		}
	}
	return nil
}
