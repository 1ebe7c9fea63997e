package planner

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"longside/fit"
	"longside/media"
	"longside/planner/tape"
)

// Recorded says how far the recording came: all sides before Side of tape Tape
// are full, and Tracks of that side are on it; -1 is the whole side.
type Recorded struct {
	Tape   int // from 0
	Side   int // 0 is A
	Tracks int
}

// ParseRecorded reads A, A:7 (the first seven tracks), 2B or 2B:3 (of the second tape).
func ParseRecorded(s string) (Recorded, error) {
	bad := fmt.Errorf("recorded %q: write A for the whole side, A:7 for its first seven tracks, 2B:3 on the second tape", s)
	r := Recorded{Tracks: -1}
	place, count, some := strings.Cut(strings.TrimSpace(s), ":")
	if some {
		n, err := strconv.Atoi(count)
		if err != nil || n < 0 {
			return r, bad
		}
		r.Tracks = n
	}
	var err error
	if r.Tape, r.Side, err = parseSide(place); err != nil {
		return r, bad
	}
	return r, nil
}

// parseSide reads A, B or 2B (of the second tape); both numbers count from 0.
func parseSide(s string) (tapeNumber, side int, err error) {
	bad := fmt.Errorf("side %q: write A or B, or 2B for the second tape", s)
	s = strings.ToUpper(strings.TrimSpace(s))
	number, letter := s[:max(0, len(s)-1)], s[max(0, len(s)-1):]
	if letter != "A" && letter != "B" {
		return 0, 0, bad
	}
	if number != "" {
		if tapeNumber, err = strconv.Atoi(number); err != nil || tapeNumber < 1 || tapeNumber > 1000 || number[0] == '+' {
			return 0, 0, bad
		}
		tapeNumber--
	}
	return tapeNumber, int(letter[0] - 'A'), nil
}

// begun is a tape of which some is recorded already; what is on it stays.
type begun struct {
	choice Choice
	label  string
	done   [2][]Track // what is on each side
	full   [2]bool    // nothing more goes on this side
}

// spot is a place in a plan: tape and side from 0, and which track of the side.
type spot struct{ tape, side, at int }

// Replan plans anew what is left of a plan after a mishap: what is recorded
// stays where it is, and the rest is fitted to what is left of the tapes. change
// may alter the request (its order, say) before it is solved; nil alters nothing.
func Replan(ctx context.Context, p Plan, done Recorded, change func(*Request)) (Plan, error) {
	r, err := p.request()
	if err != nil {
		return Plan{}, err
	}
	if done.Tape >= len(p.Tapes) || done.Side >= len(p.Tapes[done.Tape].Sides) {
		return Plan{}, fmt.Errorf("recorded: there is no side %s of tape %d in this plan", string(rune('A'+done.Side)), done.Tape+1)
	}
	recorded, closed := false, false
	for ti, t := range p.Tapes {
		b := begun{choice: r.Tapes[ti], label: t.Label}
		for si, s := range t.Sides {
			n := 0
			b.full[si] = closed
			switch here := ti*2 + si - (done.Tape*2 + done.Side); {
			case here < 0:
				n = len(s.Tracks)
				b.full[si] = true
			case here == 0:
				n = done.Tracks
				if n < 0 {
					n, b.full[si] = len(s.Tracks), true
				}
				if n > len(s.Tracks) {
					return Plan{}, fmt.Errorf("recorded: side %s holds %d tracks, not %d", s.Side, len(s.Tracks), n)
				}
			}
			b.done[si] = s.Tracks[:n]
			for _, t := range b.done[si] {
				// Behind what closes a side nothing more goes on it, and behind what
				// closes everything on no later one.
				closes := t.Wish != nil && t.Wish.Closes != Anywhere
				b.full[si] = b.full[si] || closes
				closed = closed || closes && t.Wish.Closes == OfMix
			}
			recorded = recorded || n > 0
			for k, t := range s.Tracks[n:] {
				it := t.item()
				it.was, it.faded = &spot{ti, si, k}, t.FadeS.D()
				r.Mix.Items = append(r.Mix.Items, it)
			}
		}
		r.begun = append(r.begun, b)
	}
	if closed { // nothing comes behind what closes everything
		r.MaxTapes = len(p.Tapes)
	}
	for _, t := range p.LeftOut {
		r.Mix.Items = append(r.Mix.Items, t.item())
	}
	if len(r.Mix.Items) == 0 {
		return Plan{}, errors.New("everything is recorded already: there is nothing left to plan")
	}
	slices.SortStableFunc(r.Mix.Items, func(a, b Item) int { return cmp.Compare(a.Number, b.Number) })
	for i := range r.Mix.Items {
		it := &r.Mix.Items[i]
		// What opened the tape has been recorded, or never will.
		if recorded && it.Wish.Opens == OfMix {
			it.Wish.Opens = Anywhere
		}
		// A join reaches the next of the given order, and nothing else.
		if i+1 < len(r.Mix.Items) && it.Number > 0 && r.Mix.Items[i+1].Number != it.Number+1 {
			it.Wish.Join = false
		}
	}
	if change != nil {
		change(&r)
	}
	return Make(ctx, r)
}

// request is the request that a plan was made from, without its items.
func (p Plan) request() (Request, error) {
	t := p.Terms
	r := Request{
		Mix:      Mix{Title: p.Title, Note: p.Note, Skipped: p.Skipped},
		MaxTapes: max(1, t.Tapes, len(p.Tapes)),
		Gap:      t.GapS.D(), Apart: t.Apart, Arcs: t.Arcs,
		Tolerance: t.TolerancePct / 100, LeadIn: t.LeadInS.D(), EndLeader: t.EndLeaderS.D(),
		DeckError: t.DeckSpeedPct / 100, CounterRatio: t.CounterRatio, CounterKnown: t.CounterKnown,
		TapeType: t.TapeType, NoiseReduction: t.NoiseReduction, UsedTape: t.UsedTape, Stored: t.Stored,
	}
	var err [6]error
	r.Aim = fit.MostTime // as it was before plans said so
	if t.Aim != "" {
		r.Aim, err[5] = ParseAim(t.Aim)
	}
	r.Order, err[0] = ParseOrder(t.Order)
	r.Spare, err[1] = ParseSpare(t.Spare)
	r.Limit, err[2] = ParseLimit(t.Limit)
	if t.ThinTail != "" {
		r.ThinTail, err[3] = ParseThinTail(t.ThinTail)
	}
	if t.DeckLimit != "" {
		var k tape.Tape
		k, err[4] = tape.Named(t.DeckLimit)
		r.DeckLimit = DeckSays{Name: k.Name, Side: k.Side, Known: true}
	}
	if r.Levels.HeadroomDB = DefaultHeadroom; t.Levels != nil {
		r.Levels = *t.Levels
	}
	if d := t.Deck; d != nil {
		r.Deck = &tape.Deck{
			Name: d.Name, SpeedError: r.DeckError, Heads: d.Heads, AutoStop: tape.AutoStop(d.AutoStop),
			AutoReverse: d.AutoReverse, TurnRound: d.TurnRoundS.D(), MeterZero: d.MeterZero,
			LevelControl: d.LevelControl, BiasControl: d.BiasControl, LongestTape: t.DeckLimit,
		}
	}
	for _, pt := range p.Tapes {
		k, e := tape.Named(pt.Name)
		if e != nil {
			return r, fmt.Errorf("tape %s of the plan: %w", pt.Name, e)
		}
		k.Thickness, k.Length, k.Hub = tape.Micrometres(pt.ThicknessUM), tape.Metres(pt.LengthM), tape.Millimetres(pt.HubMM)
		var labels []string
		if pt.Label != "" {
			labels = []string{pt.Label}
		}
		c := Choice{Tape: k, Labels: labels, Type: pt.Type, Used: pt.Used, Timed: pt.TimedS.D()}
		if pt.Known != nil {
			c.Known = *pt.Known
		}
		r.Tapes = append(r.Tapes, c)
	}
	if e := errors.Join(err[:]...); e != nil {
		return r, fmt.Errorf("terms of the plan: %w", e)
	}
	return r, nil
}

// item is a track of a plan as a wish for another.
func (t Track) item() Item {
	it := Item{Track: media.Track{
		Path: t.Path, Title: t.Title, Artist: t.Artist,
		Length: t.LengthS.D() + t.FadeS.D(), LengthFrom: t.LengthFrom, Size: t.Size,
	}}
	if t.ModTime != nil {
		it.ModTime = *t.ModTime
	}
	it.Number = t.Number
	if it.Part, it.splitOf = t.Part, t.SplitOf; t.Part {
		it.From = t.FromS.D()
		if t.PartS > 0 {
			it.Length = t.PartS.D()
		}
	}
	it.Heard = t.Level.heard()
	if t.Wish != nil {
		it.Wish = *t.Wish
	}
	return it
}

// kinds are the tapes that fit may fill: those begun, each the only one of its
// kind and free of cost, or else the choices of the request.
func (r *Request) kinds() []fit.Kind {
	var ks []fit.Kind
	for _, b := range r.begun {
		usable := r.limits(b.choice).of(r.Limit)
		left := [2]time.Duration{usable, usable}
		var begins [2]time.Duration
		for i := range left {
			if n := len(b.done[i]); n > 0 {
				last := b.done[i][n-1]
				begins[i] = last.EndS().D() - r.LeadIn + r.gapAfter(last)
				left[i] -= begins[i]
			}
			if b.full[i] {
				left[i] = 0
			}
		}
		ks = append(ks, fit.Kind{Sides: r.fitSides(b.choice, left, begins), Stock: 1})
	}
	for _, c := range r.fresh() {
		usable := r.limits(c).of(r.Limit)
		ks = append(ks, fit.Kind{
			Sides: r.fitSides(c, [2]time.Duration{usable, usable}, [2]time.Duration{}),
			Stock: c.Stock,
			// Length decides; the rank only between tapes of one length.
			Cost: int64(c.Tape.Side/time.Second)*1000 + int64(min(c.Rank, 999)),
		})
	}
	return ks
}

// fresh are the tapes that may be begun: those of the request or, beside tapes
// that were begun, more of such kinds as are no tape of a shelf, of which each
// is the only one.
func (r *Request) fresh() []Choice {
	if len(r.begun) == 0 {
		return r.Tapes
	}
	var cs []Choice
	for _, c := range r.Tapes {
		if len(c.Labels) == 0 && r.MaxTapes > len(r.begun) && !slices.ContainsFunc(cs, func(x Choice) bool { return x.Tape == c.Tape }) {
			c.Used, c.Timed = false, 0
			cs = append(cs, c)
		}
	}
	return cs
}

// asItWas is the arrangement of the plan that is made anew, as far as its pieces
// are still to be recorded.
func (r *Request) asItWas(ps []piece) *fit.Answer {
	if len(r.begun) == 0 {
		return nil
	}
	a := &fit.Answer{}
	for t, b := range r.begun {
		a.Tapes = append(a.Tapes, fit.Load{Kind: t, Sides: make([][]int, len(b.done))})
	}
	placed := map[spot]int{}
	var spots []spot
	for n, p := range ps {
		first := r.Mix.Items[p.items[0]].was
		whole := first != nil
		for k, i := range p.items {
			was := r.Mix.Items[i].was
			whole = whole && was != nil && *was == spot{first.tape, first.side, first.at + k}
		}
		if whole {
			placed[*first] = n
			spots = append(spots, *first)
			if by := r.Mix.Items[p.items[len(p.items)-1]].faded; by > 0 {
				a.Faded = append(a.Faded, fit.Fade{Piece: n, By: fit.Up(by)})
			}
		}
	}
	slices.SortFunc(spots, func(x, y spot) int {
		return cmp.Or(cmp.Compare(x.tape, y.tape), cmp.Compare(x.side, y.side), cmp.Compare(x.at, y.at))
	})
	for _, s := range spots {
		list := &a.Tapes[s.tape].Sides[s.side]
		*list = append(*list, placed[s])
	}
	return a
}

// gapAfter is the silence that follows a track which is on the tape already:
// nothing overlaps that any more.
func (r *Request) gapAfter(t Track) time.Duration {
	if t.Wish != nil && t.Wish.Gap != nil {
		return max(0, t.Wish.Gap.D())
	}
	return max(0, r.Gap)
}
