// Package tape knows a compact cassette's tape as a physical thing: how long
// and how thick it is, how it winds on its two hubs, what a turn counter reads
// on the way, and how much of a side can be trusted to hold programme.
//
// Named gives the tape that a name such as "C90" promises; Tape's methods
// answer for any moment of a side, and Limits turns a side into time for
// programme. Measure turns readings by watch, counter and ruler into a Tape.
// Deck is what is known of a deck. Tail, Echoes and Judge say where to be
// careful. Everything is pure: values and bytes in, values and bytes out.
//
// One law is under all of it. Wound tape covers an area, seen from the side,
// of its length times its thickness, and so a pack of length L on a hub of
// radius r0 has the radius r with
//
//	r^2 = r0^2 + L t / pi
//
// No air between the layers is assumed; real packs are 0 to 3 % larger (from
// memory, unverified). Metres times micrometres are square millimetres, which
// is why no power of ten appears in the formulas below.
package tape

import (
	"math"
	"time"
)

// Lengths carry their unit in the type, so that a wrong unit does not compile.
type (
	Metres               float64
	Millimetres          float64
	Micrometres          float64
	MillimetresPerSecond float64
)

// Speed is the nominal speed, 1 7/8 inches a second exactly. Standards round
// it to 4.76 cm/s (US W-C-1684 par. 1.2, GB/T 14855-1993); the difference is
// 1.4 s in 45 minutes.
const Speed MillimetresPerSecond = 47.625

// HubRadius is half of the 22 mm hub of most cassettes (a counter note for a
// data recorder, one source). Short tapes are sold on larger hubs too.
const HubRadius Millimetres = 11

// Tape is the tape of one cassette.
type Tape struct {
	Name      string        // "C90"
	Side      time.Duration // playing time of a side at nominal speed
	Length    Metres        // leader to leader
	Thickness Micrometres   // base and coating together
	Hub       Millimetres   // radius of the empty hub
}

// OfSide is t with a side that plays for another time at nominal speed, as a
// watch measured it; the length follows.
func (t Tape) OfSide(side time.Duration) Tape {
	t.Side = max(side, 0)
	t.Length = passed(t.Side)
	return t
}

// passed is the length that runs by in d at nominal speed.
func passed(d time.Duration) Metres {
	return Metres(d.Seconds() * float64(Speed) / 1000)
}

// wound is the radius of a pack of the given length on t's hub.
func (t Tape) wound(length Metres) Millimetres {
	area := float64(max(length, 0)) * float64(t.Thickness)
	return Millimetres(math.Sqrt(float64(t.Hub)*float64(t.Hub) + area/math.Pi))
}

// onTakeUp is the length wound on the take-up hub after at, kept within the tape.
func (t Tape) onTakeUp(at time.Duration) Metres {
	return min(max(passed(at), 0), max(t.Length, 0))
}

// FullRadius is the radius of the pack with all the tape on one hub.
func (t Tape) FullRadius() Millimetres { return t.wound(t.Length) }

// TakeUp is the radius of the take-up pack after the tape has run for at at
// nominal speed. A moment outside the side counts as its nearer end.
func (t Tape) TakeUp(at time.Duration) Millimetres { return t.wound(t.onTakeUp(at)) }

// Supply is the radius of the supply pack at the same moment.
func (t Tape) Supply(at time.Duration) Millimetres {
	return t.wound(t.Length - t.onTakeUp(at))
}

// turns is how often a hub has turned to wind length onto it: (r - r0)/t,
// written as L / (pi (r + r0)), which is the same and needs no small difference.
func (t Tape) turns(length Metres) float64 {
	r := float64(t.wound(length) + t.Hub)
	if !(r > 0) {
		return 0
	}
	return float64(length) * 1000 / (math.Pi * r)
}

// Turns is how often a hub turns for the whole tape, the same for both hubs.
func (t Tape) Turns() float64 { return t.turns(max(t.Length, 0)) }

// Counter is the reading, in counts from the start of the side, of a counter
// that makes ratio counts for each turn of the take-up hub. It is not wrapped
// at 1000. A ratio that is no number, or negative, counts nothing.
func (t Tape) Counter(at time.Duration, ratio float64) float64 {
	if !(ratio > 0) || math.IsInf(ratio, 0) {
		return 0
	}
	return ratio * t.turns(t.onTakeUp(at))
}

// SupplyFallsTo is when the supply pack has shrunk to the radius r, at nominal
// speed: 0 when it never was larger, the end of the side when it never gets
// there.
func (t Tape) SupplyFallsTo(r Millimetres) time.Duration {
	end := duration(float64(max(t.Length, 0)) * 1000 / float64(Speed))
	if !(r > t.Hub) || !(t.Thickness > 0) {
		return end
	}
	left := math.Pi * float64(r-t.Hub) * float64(r+t.Hub) / float64(t.Thickness) // metres
	return min(max(duration((float64(t.Length)-left)*1000/float64(Speed)), 0), end)
}

// duration is s seconds as a time.Duration, kept within what one can hold; a
// number that is none becomes 0.
func duration(s float64) time.Duration {
	const most = float64(1<<63-1024) / float64(time.Second)
	if math.IsNaN(s) {
		return 0
	}
	return time.Duration(math.Round(min(max(s, -most), most) * float64(time.Second)))
}
