package tape

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// Past is a counter reading noted on a tape whose thickness is known: the
// counter stood at 000 at the start of the side, and at Reading after At.
type Past struct {
	Tape    Tape
	At      time.Duration // by the deck's clock
	Reading float64       // 1000 added when it has gone round
}

// Learnt is a counter's ratio with what each reading lies off it.
type Learnt struct {
	Ratio  float64
	Within float64   // counts a turn, 19 times in 20
	Off    []float64 // counts: read less reckoned, in the order of the readings
}

// thicknessUnknown is how far a tape's true thickness may be from the figure
// of its name, as a fraction; a full side's turns go about as its root.
const thicknessUnknown = 0.08

// LearnRatio finds the ratio f of C = f N by least squares: f = sum(C N) /
// sum(N^2), N being the turns of the take-up hub by the pack model. The
// uncertainty is the larger of what the residuals say and of one count in the
// longest reading; what the thickness of each tape leaves open is added.
// deckError is the deck's speed error as a fraction.
func LearnRatio(past []Past, deckError float64) (Learnt, error) {
	if len(past) == 0 {
		return Learnt{}, errors.New("no counter reading: give at least one, such as C90 10:00 174")
	}
	turns := make([]float64, len(past))
	var cn, nn, most float64
	for i, p := range past {
		if err := p.Tape.Check(); err != nil {
			return Learnt{}, err
		}
		at := NominalTime(p.At, deckError)
		if p.At <= 0 || at > p.Tape.SupplyFallsTo(0)+p.Tape.Side/10 {
			return Learnt{}, fmt.Errorf("a reading at %s of a %s: it must lie on the side, after its start", clock(p.At), p.Tape.Name)
		}
		if !(p.Reading > 0 && p.Reading < 10000) {
			return Learnt{}, fmt.Errorf("a reading of %g at %s: it must be above zero, from a counter set to 000 at the start of the side", p.Reading, clock(p.At))
		}
		turns[i] = p.Tape.Counter(at, 1)
		cn += p.Reading * turns[i]
		nn += turns[i] * turns[i]
		most = max(most, turns[i])
	}
	l := Learnt{Ratio: cn / nn}
	if l.Ratio > mostRatio {
		return Learnt{}, fmt.Errorf("the readings make %.3g counts a turn of the hub; a counter makes about half a count", l.Ratio)
	}
	var squares, thin float64
	for i, p := range past {
		off := p.Reading - l.Ratio*turns[i]
		l.Off = append(l.Off, off)
		squares += off * off
		// dN/dt at this reading, by the model itself.
		thicker := p.Tape
		thicker.Thickness *= 1 + thicknessUnknown
		thin = max(thin, math.Abs(thicker.Counter(NominalTime(p.At, deckError), 1)-turns[i])/turns[i])
	}
	spread := CountWithin / most
	if n := len(past); n > 1 {
		spread = max(spread, 2*math.Sqrt(squares/float64(n-1)/nn))
	}
	l.Within = math.Hypot(spread, l.Ratio*thin)
	return l, slip(past, turns, l, thin)
}

// slip names a reading that the others contradict: by more than a thickness
// and a count can explain, off the ratio in their middle, which one wrong
// reading cannot move. Of two readings neither can be called the wrong one.
func slip(past []Past, turns []float64, l Learnt, thin float64) error {
	ratios := make([]float64, len(past))
	for i, p := range past {
		ratios[i] = p.Reading / turns[i]
	}
	slices.Sort(ratios)
	middle := (ratios[(len(ratios)-1)/2] + ratios[len(ratios)/2]) / 2
	worst, most := 0, 0.0
	for i, p := range past {
		off := math.Abs(p.Reading - middle*turns[i])
		if by := off - 3*CountWithin - 1.5*middle*thin*turns[i]; by > most {
			worst, most = i, by
		}
	}
	name := func(p Past) string {
		return fmt.Sprintf("the count %.4g at %s of a %s", p.Reading, clock(p.At), p.Tape.Name)
	}
	switch {
	case most == 0:
		return nil
	case len(past) == 2:
		return fmt.Errorf("%s and %s contradict each other: they make %.3f and %.3f counts a turn; read both again", name(past[0]), name(past[1]), past[0].Reading/turns[0], past[1].Reading/turns[1])
	}
	p := past[worst]
	return fmt.Errorf("%s contradicts the others: it makes %.3f counts a turn, they %.3f; read it again or leave it out", name(p), p.Reading/turns[worst], middle)
}
