package tape

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Known is a figure and how far off it may be, 19 times in 20.
type Known[Unit ~float64] struct {
	Value, Within Unit
	By            string // the readings that it comes from
}

// Estimate is one method's answer for the thickness.
type Estimate struct {
	Known[Micrometres]
	// TellsFifth says that two tapes a fifth apart in thickness, each measured
	// so, come apart by more than the uncertainty of the difference.
	TellsFifth bool

	parts []float64 // what each input adds to the uncertainty, with its sign
}

// Measured is what the readings say of a tape.
type Measured struct {
	Tape      Tape // with the best figures known; Check has passed
	Length    Known[Metres]
	Timed     bool // the length comes from a timed side, not from the name
	Thickness Known[Micrometres]
	Weighed   bool // the thickness comes from readings, not from the name
	Hub       Known[Millimetres]
	Ratio     Known[float64] // the counter's, from its own readings; 0: not known
	Estimates []Estimate     // every method that the readings allow, surest first
	Ask       []string       // what to measure next, a sentence each
}

// Measure turns readings into a tape. Readings that cannot be, or that
// contradict each other by more than both their uncertainties, are refused by
// name: each line of the error is one fault.
//
// Every method is a closed form:
//
//	side by the watch:     L = v T
//	a turn of a pack:      r = v s / (2 pi), and t = pi (r^2 - r0^2) / l, l being the length on that pack
//	the width of a pack:   r = r0 + w, and t as before
//	the counter:           with N = C / f turns of the take-up hub, v T = pi (2 r0 N + t N^2), so that
//	                       v T / pi = a C + b C^2 with a = 2 r0 / f and b = t / f^2,
//	                       which is linear in a and b: two readings give both, more give them by least squares.
//	                       Hub and thickness cannot be told apart from counts alone: t = b f^2 wants the ratio f,
//	                       t = 4 b r0^2 / a^2 wants the hub.
func Measure(r Readings) (Measured, error) {
	if err := r.check(); err != nil {
		return Measured{}, err
	}
	b, m, err := r.bench()
	if err != nil {
		return Measured{}, err
	}
	if err := r.within(b); err != nil {
		return Measured{}, err
	}
	counted, err := r.byCounter(b, &m)
	if err != nil {
		return Measured{}, err
	}
	packed, err := r.byPack(b)
	if err != nil {
		return Measured{}, err
	}
	all := append(counted, packed...)
	for i := range all { // inputs were added on the way: bring all to one length
		all[i].parts = append(all[i].parts, make([]float64, len(b.in)-len(all[i].parts))...)
	}
	if err := agree(all); err != nil {
		return Measured{}, err
	}
	for _, e := range all {
		if e.Value+e.Within < leastThickness || e.Value-e.Within > mostThickness {
			return Measured{}, fmt.Errorf("%s: they make the tape %.1f um thick, give or take %.1f; cassette tape has 4 to 25 um, so a reading or the hub is wrong", e.By, float64(e.Value), float64(e.Within))
		}
		// An answer that may be off by half of itself is none.
		if !(e.Value > 0 && e.Within < e.Value/2) {
			m.Ask = append(m.Ask, fmt.Sprintf("%s: too unsure to be of use (%.0f um, or off by %.0f); take readings further apart, or time more turns", e.By, float64(e.Value), float64(e.Within)))
			continue
		}
		m.Estimates = append(m.Estimates, e)
	}
	surestFirst(m.Estimates)
	if len(m.Estimates) > 0 {
		m.Thickness, m.Weighed = m.Estimates[0].Known, true
		m.Tape.Thickness = m.Thickness.Value
	}
	r.ask(&m)
	if m.Tape.Length > 0 && m.Tape.Thickness > 0 {
		if err := m.Tape.Check(); err != nil {
			return Measured{}, fmt.Errorf("the readings do not go together: %w", err)
		}
	}
	return m, nil
}

// within refuses readings of a moment after the end of the tape.
func (r Readings) within(b *bench) error {
	if b.length == nil {
		return nil
	}
	e := known[Metres](b, "", b.length)
	end := duration((float64(e.Value+e.Within)*1000/float64(Speed) + 1) / (1 + r.DeckError))
	if r.Side > 0 {
		end = r.Side + WatchWithin
	}
	var late []error
	see := func(at time.Duration, name string) {
		if at > end {
			late = append(late, fmt.Errorf("%s and a side that ends by %s contradict each other", name, clock(end)))
		}
	}
	for _, c := range r.Counts {
		see(c.At, c.String())
	}
	for _, g := range r.Turnings {
		see(g.At+g.Took, g.String())
	}
	for _, w := range r.Widths {
		see(w.At, w.String())
	}
	for _, s := range r.Shares {
		see(s.At, s.String())
	}
	return errors.Join(late...)
}

// agree refuses estimates of the same thickness that lie further apart than
// one and a half times the uncertainty of their difference (three standard
// deviations: by chance alone three times in a thousand). What both take from
// the same input, such as the hub, cancels in the difference.
func agree(all []Estimate) error {
	var faults []error
	for i, a := range all {
		for _, b := range all[:i] {
			diff := make([]float64, len(a.parts))
			for k := range diff {
				diff[k] = a.parts[k] - b.parts[k]
			}
			if math.Abs(float64(a.Value-b.Value)) > 1.5*rootSum(diff) {
				faults = append(faults, fmt.Errorf("%s and %s contradict each other: %.1f um thick by the first, %.1f by the second; measure both again, and the hub",
					b.By, a.By, float64(b.Value), float64(a.Value)))
			}
		}
	}
	return errors.Join(faults...)
}

// ask says what would make the answer surer.
func (r Readings) ask(m *Measured) {
	if m.Length.Value == 0 {
		m.Ask = append(m.Ask, "length: give the tape's name (--tape C90), or play the whole side once with a watch")
	} else if !m.Timed {
		m.Ask = append(m.Ask, "length: only the name says it; play the whole side once with a watch, leader to leader")
	}
	if !m.Weighed {
		m.Ask = append(m.Ask, "thickness: only the name says it; with the tape wound fully back, time ten turns of the full supply pack, or set the counter to 000 and note it at two times far apart")
	} else if !m.Estimates[0].TellsFifth {
		m.Ask = append(m.Ask, "thickness: these readings cannot tell two tapes a fifth apart in thickness from each other; time twenty turns of the full supply pack, or read the counter near the end of the side too")
	}
	if r.DeckWithin == 0 {
		m.Ask = append(m.Ask, "deck: its speed was not measured, which leaves 1.5 % in every figure; longside deck helps to")
	}
}

func surestFirst(all []Estimate) {
	for i := range all { // at most a handful; keeps equal ones in their order
		for k := i; k > 0 && all[k].Within/all[k].Value < all[k-1].Within/all[k-1].Value; k-- {
			all[k], all[k-1] = all[k-1], all[k]
		}
	}
}
