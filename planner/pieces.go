package planner

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"longside/fit"
	"longside/media"
	"longside/planner/tape"
)

// typedMargin is how far off a length can be that was typed to the second.
const typedMargin = 500 * time.Millisecond

// piece is one thing that is never split: the numbers of its items, in order.
type piece struct {
	items  []int
	length time.Duration // their playing time and what lies between them
	margin time.Duration // how much longer it may turn out
	gap    time.Duration // after it
}

// pieces turns items into pieces: joined ones are one piece.
func (r *Request) pieces() []piece {
	return r.piecesOf(func(i int) bool { return r.Mix.Items[i].Wish.Join })
}

// piecesOf turns items into pieces: those that are with the next are one with it.
func (r *Request) piecesOf(withNext func(int) bool) []piece {
	var ps []piece
	open := false // the last piece is joined to what follows
	for i, it := range r.Mix.Items {
		if !open {
			ps = append(ps, piece{})
		}
		p := &ps[len(ps)-1]
		p.items = append(p.items, i)
		p.length += whole(it.Length)
		p.margin += it.margin()
		p.gap = r.gapOf(it)
		open = withNext(i)
	}
	return ps
}

// margin is how much longer an item may turn out than it is said to be.
func (it Item) margin() time.Duration {
	if it.LengthFrom == media.Typed {
		return typedMargin
	}
	return 0
}

// gapOf is the silence that is to follow an item.
func (r *Request) gapOf(it Item) time.Duration {
	if it.Wish.Gap != nil {
		return it.Wish.Gap.D()
	}
	return r.Gap
}

// checkOverlaps refuses an overlap that no neighbour could give: one longer than
// the track before it, or than all that could follow. How much two overlaps take
// of the track between them is a rule of fit.
func (r *Request) checkOverlaps(ps []piece) error {
	for n, p := range ps {
		over := -p.gap
		if over <= 0 || n == len(ps)-1 && r.Order == fit.Keep { // nothing can follow the last
			continue
		}
		it := r.Mix.Items[p.items[len(p.items)-1]]
		says := fmt.Sprintf("%s (#%d, %s) cannot overlap what follows by %s: ", quote(it.Title), it.Number, Clock(it.Length), Clock(over))
		if over > it.Length-it.Wish.Fade.D() {
			return errors.New(says + "it is not as long itself; give it a gap of its own, or a shorter overlap to all")
		}
		long := func(q piece) bool {
			first := r.Mix.Items[q.items[0]]
			return over <= first.Length-first.Wish.Fade.D()
		}
		if rest := slices.Concat(ps[:n], ps[n+1:]); len(rest) > 0 && !slices.ContainsFunc(rest, long) {
			return errors.New(says + "no other track is as long; give it a gap of its own")
		}
	}
	return nil
}

// MoveWorth is how much more music each moved track must bring, with order
// near, where not all tracks have a place: less is not worth a change to the
// person's order (our choice; nothing is known of what people would say).
const MoveWorth = 10 * time.Second

// problem puts the request to fit.
func (r *Request) problem(ps []piece) fit.Problem {
	q := fit.Problem{
		Kinds:     r.kinds(),
		MaxTapes:  max(1, r.MaxTapes),
		Order:     r.Order,
		Spare:     r.Spare,
		Aim:       r.Aim,
		Apart:     r.Apart,
		MoveWorth: fit.Up(MoveWorth),
		MaxSteps:  r.MaxSteps,
	}
	artists := map[string]int{}
	for t, b := range r.begun {
		q.Given = append(q.Given, t)
		for s, done := range b.done {
			if len(done) == 0 {
				continue
			}
			var groups []int
			for _, t := range done {
				groups = append(groups, r.groupOf(t.Artist, artists))
			}
			q.Begun = append(q.Begun, fit.Begun{Groups: groups})
			q.Kinds[t].Sides[s].Begun = len(q.Begun)
		}
	}
	q.Start = r.asItWas(ps)
	low, high := r.loudnessSpan()
	bright := r.middleTreble()
	for _, p := range ps {
		f := r.fitPiece(p, artists, bright)
		f.Drive = r.drive(p, low, high)
		q.Pieces = append(q.Pieces, f)
	}
	return q
}

// fitPiece is a piece as fit sees it. What is wished of the first of joined
// items holds for where the piece begins, of the last for where it ends.
func (r *Request) fitPiece(p piece, artists map[string]int, bright float64) fit.Piece {
	first, last := r.Mix.Items[p.items[0]].Wish, r.Mix.Items[p.items[len(p.items)-1]].Wish
	f := fit.Piece{
		Length:  fit.Up(p.length + p.margin),
		Margin:  fit.Down(p.margin),
		Gap:     fit.Up(p.gap),
		Opens:   place[first.Opens],
		Closes:  place[last.Closes],
		Fade:    fit.Down(last.Fade.D()),
		Groups:  r.groups(p, artists),
		Songs:   len(p.items),
		Reserve: r.reserve(p),
		// A named opener or closer of the whole is not left out.
		Must: first.Opens == OfMix || last.Closes == OfMix,
	}
	f.Gap = max(f.Gap, -f.Length) // where it is longer it is refused, but for the last track
	f.Fade = max(0, min(f.Fade, f.Length-1))
	for _, i := range p.items {
		w := r.Mix.Items[i].Wish
		if w.Side != "" {
			f.Side = sideNumber(w.Side)
		}
		f.Must = f.Must || w.Must
		f.NotThin = f.NotThin || w.NotThin || r.ThinTail == RuggedTail && !r.Mix.Items[i].rugged(bright)
	}
	return f
}

// reserve is the rank of a piece: a wanted track makes all that is joined to it wanted.
func (r *Request) reserve(p piece) int {
	rank := r.Mix.Items[p.items[0]].Wish.Reserve
	for _, i := range p.items {
		rank = min(rank, r.Mix.Items[i].Wish.Reserve)
	}
	return rank
}

// driveUnit turns a drive of 0 to 10 into whole numbers for fit.
const driveUnit = 1000

var place = map[Where]fit.Place{Anywhere: fit.Nothing, OfSide: fit.OfSide, OfMix: fit.OfAll}

var arcs = map[Arc]fit.Arc{Level: fit.Level, Rising: fit.Rising, Falling: fit.Falling, Hill: fit.Hill, Valley: fit.Valley}

// middleDrive is the drive of a track of which none is known.
const middleDrive = 5

// drive is how much a piece drives, as fit takes it: the mean of its tracks.
func (r *Request) drive(p piece, low, high float64) int64 {
	var sum float64
	for _, i := range p.items {
		sum += r.Mix.Items[i].drive(low, high)
	}
	return int64(math.Round(sum / float64(len(p.items)) * driveUnit))
}

// drive is how much a track drives, 0 to 10. Loudness stands for it where it
// was heard and not given: the quietest track, of loudness low, is 0 and the
// loudest 10.
func (it Item) drive(low, high float64) float64 {
	switch {
	case it.Wish.Drive != nil:
		return *it.Wish.Drive
	case it.Heard == nil || math.IsInf(it.Heard.Integrated, 0) || high <= low:
		return middleDrive
	}
	return 10 * (it.Heard.Integrated - low) / (high - low)
}

// rugged tells whether a track can bear the thin tail: as the person said, or,
// where nothing was said of any and the tracks were heard, when it has no more
// treble than the middle one. Treble goes first when thin tape leaves the head.
func (it Item) rugged(bright float64) bool {
	return it.Wish.Rugged || !math.IsInf(bright, 0) && it.Heard != nil && it.Heard.Treble <= bright
}

// middleTreble is the treble of the middle track of those heard; -Inf when none
// was, or when the person named rugged tracks.
func (r *Request) middleTreble() float64 {
	var heard []float64
	for _, it := range r.Mix.Items {
		if it.Wish.Rugged {
			return math.Inf(-1)
		}
		if it.Heard != nil {
			heard = append(heard, it.Heard.Treble)
		}
	}
	if len(heard) == 0 {
		return math.Inf(-1)
	}
	slices.Sort(heard)
	return heard[len(heard)/2]
}

// groups numbers the artists of a piece's tracks, 1 and up, for the rule that
// keeps them apart; a track of no artist is of no group.
func (r *Request) groups(p piece, artists map[string]int) (list []int) {
	if r.Apart == 0 {
		return nil
	}
	for _, i := range p.items {
		list = append(list, r.groupOf(r.Mix.Items[i].Artist, artists))
	}
	return list
}

// groupOf is the number of an artist, 0 for none.
func (r *Request) groupOf(artist string, artists map[string]int) int {
	name := strings.ToLower(strings.TrimSpace(artist))
	if name == "" || r.Apart == 0 {
		return 0
	}
	n, ok := artists[name]
	if !ok {
		n = len(artists) + 1
		artists[name] = n
	}
	return n
}

// sideNumber counts the sides of all tapes from 1: A is 1, 2B is 4.
func sideNumber(s string) int {
	tapeNumber, side, err := parseSide(s)
	if err != nil {
		return 0
	}
	return 2*tapeNumber + side + 1
}

// fitSides are the two sides of a tape as fit sees them; left is how much
// programme each can still take, and begins where on the side that is.
func (r *Request) fitSides(c Choice, left, begins [2]time.Duration) []fit.Side {
	var thin time.Duration // where the thin tail begins, in programme time
	if z := c.Tape.ThinTail(); !z.Empty() {
		thin = tape.ClockTime(z.From, r.DeckError) - r.LeadIn
	}
	var out []fit.Side
	for i := range left {
		if r.roomy {
			left[i], thin = fit.Longest.Duration(), 0
		}
		s := fit.Side{Capacity: fit.Down(max(0, left[i])), Arc: arcs[r.Arcs[string(rune('A'+i))]]}
		if thin > 0 {
			s.ThinFrom = fit.Down(max(time.Millisecond, thin-begins[i]))
			if r.ThinTail == BlankTail {
				s.Capacity = min(s.Capacity, s.ThinFrom)
			}
		}
		out = append(out, s)
	}
	return out
}
