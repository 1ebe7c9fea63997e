package tape

import (
	"time"
)

// What a side is planned with when nothing else is known.
const (
	// DefaultTolerance allows for a deck that runs slow or fast and a tape cut
	// short: 1.5 %, the mean speed error DIN 45500 allows a hi-fi machine.
	DefaultTolerance = 0.015
	// MeasuredTolerance is what stays uncertain of a side that was timed
	// leader to leader on a known deck: common practice, no source.
	MeasuredTolerance = 0.003
	// DefaultLeadIn is from pressing record on a tape wound fully back to the
	// first note; the leader lies inside it. Published leaders take 2 to 6 s.
	DefaultLeadIn = 7 * time.Second
	// DefaultEndLeader is the leader at the end of a side, where nothing
	// records: 6 s, a hobby guide to recording.
	DefaultEndLeader = 6 * time.Second
)

// Running is how a deck runs the tape and what of a side is kept clear.
type Running struct {
	DeckError float64 // speed error as a fraction; + is fast, so that a side ends sooner
	Tolerance float64 // of the tape's length and the deck together, as a fraction: 0.015
	LeadIn    time.Duration
	EndLeader time.Duration
	Timed     time.Duration // a side timed leader to leader, brought to nominal speed; 0: not measured
}

// Default is Running with nothing known of deck or tape.
func Default() Running {
	return Running{Tolerance: DefaultTolerance, LeadIn: DefaultLeadIn, EndLeader: DefaultEndLeader}
}

// Limits are times for programme on one side, by the clock of the deck that
// records it, after lead-in and end leader. None is negative.
type Limits struct {
	Short    time.Duration // the nominal side less the tolerance
	Nominal  time.Duration // the nominal side
	Measured time.Duration // the timed side less MeasuredTolerance; 0 when none was timed
}

// Limits reckons the three limits of a side. A deck error that no deck has
// (slower than half or faster than twice the speed, or no number) counts as
// none; a tolerance outside 0 to 1 counts as the nearer of the two.
func (t Tape) Limits(r Running) Limits {
	pace := 1 + r.DeckError
	if !(pace >= 0.5 && pace <= 2) {
		pace = 1
	}
	programme := func(side time.Duration, tolerance float64) time.Duration {
		if !(tolerance >= 0) {
			tolerance = 0
		}
		run := duration(side.Seconds() / pace * (1 - min(tolerance, 1)))
		for _, kept := range []time.Duration{r.LeadIn, r.EndLeader} {
			run -= min(max(kept, 0), max(run, 0))
		}
		return max(run, 0)
	}
	l := Limits{Short: programme(t.Side, r.Tolerance), Nominal: programme(t.Side, 0)}
	if r.Timed > 0 {
		l.Measured = programme(r.Timed, MeasuredTolerance)
	}
	return l
}

// Run is the whole side by the deck's clock, from pressing record to the end.
func (t Tape) Run(deckError float64) time.Duration {
	l := t.Limits(Running{DeckError: deckError})
	return l.Nominal
}

// NominalTime is the time at nominal speed in which as much tape passes as
// this deck runs in clock; it is what TakeUp, Supply and Counter want.
func NominalTime(clock time.Duration, deckError float64) time.Duration {
	if pace := 1 + deckError; pace >= 0.5 && pace <= 2 {
		return duration(clock.Seconds() * pace)
	}
	return clock
}

// ClockTime is the reverse: how long this deck's clock shows for a moment
// given at nominal speed.
func ClockTime(nominal time.Duration, deckError float64) time.Duration {
	if pace := 1 + deckError; pace >= 0.5 && pace <= 2 {
		return duration(nominal.Seconds() / pace)
	}
	return nominal
}
