package tape

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"
)

// Stored says how a tape is put away. Print-through happens while it lies, so
// the layers that touch then are the ones that count, not those of the moment
// of playing.
type Stored int

const (
	Rewound Stored = iota // at the start of side A, which then lies outermost
	Played                // at the end of side A, which is the start of side B
)

// MarshalText writes rewound or played.
func (s Stored) MarshalText() ([]byte, error) {
	if s == Played {
		return []byte("played"), nil
	}
	return []byte("rewound"), nil
}

// UnmarshalText reads rewound or played.
func (s *Stored) UnmarshalText(b []byte) error {
	switch string(b) {
	case "rewound":
		*s = Rewound
	case "played":
		*s = Played
	default:
		return fmt.Errorf("stored %q: write rewound or played", b)
	}
	return nil
}

// StartOutside says whether the start of a side lies outermost in the stored
// pack (else it lies at the hub).
func (s Stored) StartOutside(sideB bool) bool { return (s == Rewound) != sideB }

// Passage is a stretch of a side with one loudness: a gap, a quiet opening, a
// block of the meter. Silence is -Inf.
type Passage struct {
	From, To time.Duration // at nominal speed, from the start of the side
	LUFS     float64
}

const (
	// EchoContrast is how much louder a passage must be than what lies one
	// turn away before it is worth a word, in LU. No published figure for a
	// cassette was found; print lies some 50 dB under its source (from memory,
	// unverified), and 40 leaves room: our own choice, far from a promise.
	EchoContrast = 40
	// echoFloor stands for silence: the absolute gate of ITU-R BS.1770, under
	// which nothing counts as programme.
	echoFloor = -70
	// shortestEcho is the shortest echo worth naming: our own choice.
	shortestEcho = 100 * time.Millisecond
	// echoJoin joins echoes of one direction that lie closer than this.
	echoJoin = time.Second
)

// Echo is a place where a loud passage may be heard faintly in a quiet one.
type Echo struct {
	From, To time.Duration // where it falls, in the quiet
	Loud     time.Duration // start of the loudest passage that it comes from
	Delay    time.Duration // how far apart the two are, always positive
	Before   bool          // a pre-echo: it is heard before the loud passage
	// Contrast is how much louder the passage is than the quiet, in LU. It is
	// the programme's, not the print's: how strong that will be, no figure says.
	Contrast float64
	// Stronger marks the one of the two directions in which the print is held
	// to be stronger. Cassettes are wound with the coating out, so it is the
	// layer further in; inferred from what is published of reels, not
	// published for cassettes.
	Stronger bool
}

// Echoes finds the places on a side where a loud passage lies one turn of the
// stored pack away from a quiet one. The passages are in order and do not
// overlap; startOutside is Stored.StartOutside; contrast is in LU.
//
// A point with n turns of tape inside it has the length pi n (2 r0 + n t)
// inside it. One turn more is 2 pi (r + t/2) away, one turn less 2 pi (r - t/2):
// these, over the speed, are the exact delays.
func (t Tape) Echoes(side []Passage, startOutside bool, contrast float64) []Echo {
	if !(t.Length > 0) || math.IsNaN(contrast) {
		return nil
	}
	end := duration(float64(t.Length) * 1000 / float64(Speed))
	var onTape []Passage
	for _, p := range side {
		p.From, p.To = max(p.From, 0), min(p.To, end)
		if p.From < p.To && !math.IsNaN(p.LUFS) {
			p.LUFS = max(p.LUFS, echoFloor)
			onTape = append(onTape, p)
		}
	}
	var found []Echo
	for _, before := range []bool{true, false} {
		found = append(found, t.echoes(onTape, end, startOutside, contrast, before)...)
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].From < found[j].From })
	return found
}

// echoes is Echoes in one direction, for passages that lie on the tape.
func (t Tape) echoes(side []Passage, end time.Duration, startOutside bool, contrast float64, before bool) []Echo {
	// The print of a later sound comes from further in when the start lies
	// outside, and from further out when it lies at the hub.
	fromInside := before == startOutside
	// source is the moment that lies on the layer next to the one at y.
	source := func(y time.Duration) (time.Duration, bool) {
		d, ok := t.lap(y, startOutside, fromInside)
		if before {
			return y + d, ok && y+d <= end
		}
		return y - d, ok && y-d >= 0
	}
	// lands is the reverse: where the sound of x is printed to.
	lands := func(x time.Duration) time.Duration {
		d, _ := t.lap(x, startOutside, !fromInside)
		if before {
			return x - d
		}
		return x + d
	}

	var found []Echo
	next := 0 // the first passage that may still be a source; sources only move on
	for _, quiet := range side {
		a, ok := source(quiet.From)
		b, okTo := source(quiet.To)
		if !ok && !okTo {
			continue
		}
		if !ok {
			a = 0 // only the later part has a neighbour
		}
		if !okTo {
			b = end
		}
		for next < len(side) && side[next].To <= a {
			next++
		}
		for _, loud := range side[next:] {
			if loud.From >= b {
				break
			}
			from, to := max(loud.From, a), min(loud.To, b)
			by := loud.LUFS - quiet.LUFS
			if !(by >= contrast) || from >= to {
				continue
			}
			e := Echo{From: lands(from), To: lands(to), Loud: from, Before: before, Contrast: by, Stronger: !fromInside}
			e.Delay = (e.Loud - e.From).Abs()
			e.From, e.To = max(e.From, quiet.From), min(e.To, quiet.To)
			found = joinEcho(found, e)
		}
	}
	return slices.DeleteFunc(found, func(e Echo) bool { return e.To-e.From < shortestEcho })
}

// PrintDelay is how far before or after the sound at x, at nominal speed, its
// print falls: one turn of the stored pack. stronger is as in Echo; ok is false
// where no tape lies there, at the hub and at the ends.
func (t Tape) PrintDelay(x time.Duration, startOutside, before bool) (d time.Duration, stronger, ok bool) {
	// With the start outside, what comes earlier lies further out.
	inward := before != startOutside
	d, ok = t.lap(x, startOutside, inward)
	to := x + d
	if before {
		to = x - d
	}
	return d, inward, ok && to >= 0 && passed(to) <= t.Length
}

// lap is how far the sound at x lies from the one on the next layer of the
// stored pack, inwards or outwards; false where the next layer inwards is the hub.
func (t Tape) lap(x time.Duration, startOutside, inward bool) (time.Duration, bool) {
	inside := passed(x)
	if startOutside {
		inside = t.Length - inside
	}
	r, half := t.wound(inside), Millimetres(float64(t.Thickness)/2000)
	if inward {
		return TurnTime(r - half), t.turns(inside) >= 1
	}
	return TurnTime(r + half), true
}

// joinEcho adds e, or makes the last echo longer when e goes on from it; the
// louder of the two gives its contrast and its delay.
func joinEcho(found []Echo, e Echo) []Echo {
	if n := len(found); n > 0 && e.From-found[n-1].To < echoJoin {
		last := &found[n-1]
		if e.Contrast > last.Contrast {
			last.Loud, last.Delay, last.Contrast = e.Loud, e.Delay, e.Contrast
		}
		last.To = max(last.To, e.To)
		return found
	}
	return append(found, e)
}
