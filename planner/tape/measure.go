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

// bench holds the inputs of one measurement, each with its uncertainty, and
// the few functions of them that several methods share.
type bench struct {
	in     []quantity
	deck   int                       // index of the speed error
	length func([]float64) float64   // m; nil: neither name nor side is known
	hub    func([]float64) float64   // mm
	ratio  int                       // index; -1: not known
	counts [][2]int                  // indexes of time and reading
	speed  func(x []float64) float64 // mm/s, the deck's
}

func (b *bench) add(name string, value, within float64) int {
	b.in = append(b.in, quantity{name, value, within})
	return len(b.in) - 1
}

// values are the inputs as they were read.
func (b *bench) values() []float64 {
	x := make([]float64, len(b.in))
	for i, q := range b.in {
		x[i] = q.value
	}
	return x
}

// spread is f at the inputs and what each adds to its uncertainty. It is the
// numerical method of JCGM 100:2008 (GUM), 5.1.3 note 2: half the change of f
// when an input moves by its uncertainty to either side.
func (b *bench) spread(f func([]float64) float64) (value float64, parts []float64) {
	x := b.values()
	value, parts = f(x), make([]float64, len(x))
	for i, q := range b.in {
		x[i] = q.value + q.within
		up := f(x)
		x[i] = q.value - q.within
		parts[i] = (up - f(x)) / 2
		x[i] = q.value
	}
	return value, parts
}

// known is f as a figure of a unit.
func known[Unit ~float64](b *bench, by string, f func([]float64) float64) Known[Unit] {
	value, parts := b.spread(f)
	return Known[Unit]{Unit(value), Unit(rootSum(parts)), by}
}

// estimate is f as one method's thickness, um.
func (b *bench) estimate(by string, f func([]float64) float64) Estimate {
	value, parts := b.spread(f)
	e := Estimate{parts: parts}
	e.Known = Known[Micrometres]{Micrometres(value), Micrometres(rootSum(parts)), by}
	// A fifth more than t/1.2 is t: the nearer neighbour lies t/6 away.
	e.TellsFifth = math.Sqrt2*float64(e.Within) < float64(e.Value)/6
	return e
}

// rootSum adds in squares: the inputs are independent of each other.
func rootSum(parts []float64) float64 {
	sum := 0.0
	for _, p := range parts {
		sum += p * p
	}
	return math.Sqrt(sum)
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

// bench sets out the inputs that all methods share: the deck, the hub, the length.
func (r Readings) bench() (*bench, Measured, error) {
	b, m := &bench{ratio: -1}, Measured{}
	b.deck = b.add("the deck's speed", r.DeckError, or(r.DeckWithin, DeckWithin))
	b.speed = func(x []float64) float64 { return float64(Speed) * (1 + x[b.deck]) }

	hub := b.add("the hub", float64(or(r.Hub, HubRadius)), float64(or(r.HubWithin, HubWithin)))
	b.hub = func(x []float64) float64 { return x[hub] }
	m.Hub = Known[Millimetres]{or(r.Hub, HubRadius), or(r.HubWithin, HubWithin), "the usual hub, not measured"}
	if r.Hub != 0 {
		m.Hub.By = "the hub radius as given"
	}
	if r.Ratio > 0 {
		b.ratio = b.add("the counter's ratio", r.Ratio, r.Ratio*or(r.RatioWithin, 0.01))
	}

	if r.Name != "" {
		named, err := Named(r.Name)
		if err != nil {
			return nil, m, err
		}
		if r.Side > 0 {
			full := NominalTime(r.Side, r.DeckError).Seconds() / named.Side.Seconds()
			if full < leastFull || full > mostFul {
				return nil, m, fmt.Errorf("%s and a side of %s contradict each other: %s plays %s at nominal speed; check the watch or the name", named.Name, clock(r.Side), named.Name, clock(named.Side))
			}
		}
		m.Tape = named
		m.Length = Known[Metres]{named.Length, named.Length * NominalWithin, "the name " + named.Name}
		m.Thickness = Known[Micrometres]{Value: named.Thickness, By: "the name " + named.Name}
		from, to := named.ThicknessRange()
		m.Thickness.Within = max(to-named.Thickness, named.Thickness-from, named.Thickness/10)
	}
	switch {
	case r.Side > 0:
		side := b.add("the side's time", r.Side.Seconds(), WatchWithin.Seconds())
		b.length = func(x []float64) float64 { return b.speed(x) * x[side] / 1000 }
		m.Length = known[Metres](b, fmt.Sprintf("the side of %s by the watch", clock(r.Side)), b.length)
		m.Timed = true
		m.Tape = m.Tape.OfSide(NominalTime(r.Side, r.DeckError))
	case r.Name != "":
		nominal := b.add("the nominal length", float64(m.Length.Value), float64(m.Length.Within))
		b.length = func(x []float64) float64 { return x[nominal] }
	}

	if g, ok := r.emptyHub(); ok {
		if err := r.timedHub(b, &m, g); err != nil {
			return nil, m, err
		}
	}
	m.Tape.Hub = m.Hub.Value
	for _, c := range r.Counts {
		b.counts = append(b.counts, [2]int{
			b.add("the watch", c.At.Seconds(), WatchWithin.Seconds()),
			b.add("the counter", c.Reading, CountWithin),
		})
	}
	return b, m, nil
}

// hubTime is how long the take-up hub is as good as bare: in a minute it takes
// up 2.9 m, which makes 11 mm into 11.7.
const hubTime = time.Minute

// emptyHub is the longest timing of the take-up hub while it is nearly bare.
func (r Readings) emptyHub() (best Turning, ok bool) {
	for _, g := range r.Turnings {
		if g.bare() && g.Turns > best.Turns {
			best, ok = g, true
		}
	}
	return best, ok
}

func (g Turning) bare() bool { return g.Pack == TakeUpPack && g.At+g.Took <= hubTime }

// timedHub takes the hub's radius from turns of the bare take-up hub: r as
// timed is that of the middle turn, with the little tape under it taken off:
// r0^2 = r^2 - l t / pi, where t may be off by a third without harm.
func (r Readings) timedHub(b *bench, m *Measured, g Turning) error {
	took := b.add("the watch on the hub", g.Took.Seconds(), TurnsWithin.Seconds())
	thick := b.add("the thickness, roughly", 13, 5)
	hub := func(x []float64) float64 {
		rr := b.speed(x) * x[took] / (2 * math.Pi * float64(g.Turns))
		under := b.speed(x) * (g.At.Seconds() + x[took]/2) / 1000 * x[thick] / math.Pi
		return math.Sqrt(max(rr*rr-under, 0))
	}
	e := known[Millimetres](b, g.String(), hub)
	if r.Hub != 0 {
		if math.Abs(float64(e.Value-r.Hub)) > 1.5*math.Hypot(float64(e.Within), float64(m.Hub.Within)) {
			return fmt.Errorf("%s and a hub radius of %.4g mm contradict each other: the turns make it %.1f mm, give or take %.1f", g, float64(r.Hub), float64(e.Value), float64(e.Within))
		}
	}
	if e.Within < m.Hub.Within {
		m.Hub, b.hub = e, hub
	}
	return nil
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
				faults = append(faults, fmt.Errorf("%s and %s contradict each other: %.1f um thick by the first, %.1f by the second; measure both again",
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

// or is x, or the usual when x is zero.
func or[N ~float64](x, usual N) N {
	if x == 0 {
		return usual
	}
	return x
}

func surestFirst(all []Estimate) {
	for i := range all { // at most a handful; keeps equal ones in their order
		for k := i; k > 0 && all[k].Within/all[k].Value < all[k-1].Within/all[k-1].Value; k-- {
			all[k], all[k-1] = all[k-1], all[k]
		}
	}
}
