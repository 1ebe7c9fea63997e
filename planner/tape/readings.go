package tape

import (
	"fmt"
	"math"
	"time"
)

// Pack is one of the two packs.
type Pack int

const (
	SupplyPack Pack = iota // gives tape: the left one
	TakeUpPack             // takes it: the right one
)

// String is the word that flags and messages use.
func (p Pack) String() string {
	if p == TakeUpPack {
		return "takeup"
	}
	return "supply"
}

// How far off a reading is taken to be, 19 times in 20, when the person does
// not say better. All are common practice, no source, save where one is named.
const (
	WatchWithin        = time.Second            // starting and stopping a watch by eye
	CountWithin        = 1.0                    // a counter shows whole counts
	TurnsWithin        = 400 * time.Millisecond // timing some turns of a hub, whatever their number
	WidthWithin        = Millimetres(0.5)       // a ruler against the window
	HubWithin          = Millimetres(0.3)       // hubs of different makes; from memory, unverified
	DeckWithin         = 0.015                  // a deck whose speed was never measured: DIN 45500
	NominalWithin      = 0.03                   // a length that was not measured: tapes of 132 or 135 m are sold as 129
	EdgeWithin         = Millimetres(0.5)       // hub-to-edge distance, when it was not measured
	UsualEdge          = LargestPack - HubRadius
	leastFull, mostFul = 0.94, 1.12 // a measured side against its name: 3.8 % short is the worst tape on the worst deck, 8 % long was measured
)

// Count is what the counter showed after the tape had run for At from the
// start of the side, where it stood at 000. After the counter has gone round,
// 1000 is added to it.
type Count struct {
	At      time.Duration // by the deck's clock
	Reading float64
}

// Turning is some whole turns of a pack, timed with a watch from At on.
type Turning struct {
	Pack  Pack
	At    time.Duration // from the start of the side, by the deck's clock
	Turns int
	Took  time.Duration
}

// Width is the width of a pack from the edge of its hub, measured through the window.
type Width struct {
	Pack Pack
	At   time.Duration
	Wide Millimetres
}

// Share is the same read as a share of the way from hub to Readings.Edge. A
// printed mark of the window is no share: the marks have no standard meaning.
type Share struct {
	Pack Pack
	At   time.Duration
	Of   float64 // 0 to 1
}

// Readings is what a person has measured of one tape on one deck. The zero
// value of a field means that it was not measured; of a "Within", the usual.
type Readings struct {
	Name string        // "C90", as printed on the shell; may be empty when Side is there
	Side time.Duration // the whole side leader to leader by the watch

	Counts   []Count
	Turnings []Turning
	Widths   []Width
	Shares   []Share

	Hub, HubWithin   Millimetres // radius
	Edge, EdgeWithin Millimetres // from the hub's edge to that of the largest pack

	DeckError, DeckWithin float64 // of the deck that ran the tape, as fractions; + is fast
	Ratio, RatioWithin    float64 // of its counter, where it is known; RatioWithin as a fraction, 0.01 when not said
}

// check refuses, one by one, what no deck and no tape can show.
func (r Readings) check() error {
	if r.Side != 0 && (r.Side < leastSide || r.Side > mostSide) {
		return fmt.Errorf("a side of %s: no cassette has one; give m:ss, 0:30 to 130:00", clock(r.Side))
	}
	if !(math.Abs(r.DeckError) <= worstDeck) {
		return fmt.Errorf("a deck %+.3g %% off: no deck that plays music is; a speed error is within 10 %%", 100*r.DeckError)
	}
	if !(r.Ratio >= 0 && r.Ratio <= mostRatio) {
		return fmt.Errorf("%g counts a turn: a counter makes about half a count a turn of the hub, never more than %g", r.Ratio, mostRatio)
	}
	for _, w := range []struct {
		what string
		x    float64
		most float64
	}{
		{"the hub's uncertainty, mm", float64(r.HubWithin), 5},
		{"the edge's uncertainty, mm", float64(r.EdgeWithin), 5},
		{"the deck's uncertainty, a fraction", r.DeckWithin, worstDeck},
		{"the ratio's uncertainty, a fraction", r.RatioWithin, 0.5},
	} {
		if !(w.x >= 0 && w.x <= w.most) {
			return fmt.Errorf("%s: %g is not within 0 to %g", w.what, w.x, w.most)
		}
	}
	if r.Hub != 0 && !(r.Hub >= leastHub && r.Hub <= mostHub) {
		return fmt.Errorf("a hub radius of %.4g mm: a cassette's hub has 8 to 20 mm (give the radius, not the diameter)", float64(r.Hub))
	}
	if r.Edge != 0 && !(r.Edge >= 8 && r.Edge <= 20) {
		return fmt.Errorf("%.4g mm from hub to edge: a shell has 8 to 20 mm", float64(r.Edge))
	}
	for i, c := range r.Counts {
		if c.At <= 0 || !(c.Reading > 0 && c.Reading < 10000) {
			return fmt.Errorf("%s: the time and the count must be above zero, from a counter set to 000 at the start of the side", c)
		}
		for _, d := range r.Counts[:i] {
			if c.At == d.At {
				return fmt.Errorf("%s and %s are of the same moment; keep one of them", d, c)
			}
			if (c.At > d.At) != (c.Reading > d.Reading) {
				return fmt.Errorf("%s and %s contradict each other: the later one must count more; add 1000 if the counter has gone round", d, c)
			}
		}
	}
	for _, g := range r.Turnings {
		if g.At < 0 || g.Turns < 1 || g.Turns > 1000 || g.Took <= 0 {
			return fmt.Errorf("%s: give whole turns, 1 to 1000, and the seconds that all of them took", g)
		}
		radius := float64(Speed) * g.Took.Seconds() / (2 * math.Pi * float64(g.Turns))
		if radius < float64(leastHub)-1 || radius > float64(mostPack)+1 {
			return fmt.Errorf("%s: a turn of %.2f s is a pack of %.1f mm radius, which no cassette has; a turn takes 1.4 to 3.4 s", g, g.Took.Seconds()/float64(g.Turns), radius)
		}
	}
	for _, w := range r.Widths {
		if w.At < 0 || !(w.Wide > 0 && w.Wide <= 18) {
			return fmt.Errorf("%s: a pack is up to about 14 mm wide from the edge of its hub; give millimetres", w)
		}
	}
	for _, s := range r.Shares {
		if s.At < 0 || !(s.Of > 0 && s.Of <= 1.2) {
			return fmt.Errorf("%s: give a share of the way from hub to edge, above 0 and about 1 at most", s)
		}
	}
	return nil
}

// String names a reading, in messages and as the source of a figure; so do the
// next three.
func (c Count) String() string { return fmt.Sprintf("the count %.4g at %s", c.Reading, clock(c.At)) }
func (g Turning) String() string {
	return fmt.Sprintf("%d turns of the %s pack at %s in %.1f s", g.Turns, g.Pack, clock(g.At), g.Took.Seconds())
}
func (w Width) String() string {
	return fmt.Sprintf("the %s pack's width of %.1f mm at %s", w.Pack, float64(w.Wide), clock(w.At))
}
func (s Share) String() string {
	return fmt.Sprintf("the %s pack's share of %.2f at %s", s.Pack, s.Of, clock(s.At))
}
