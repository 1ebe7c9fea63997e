package tape

import (
	"fmt"
	"math"
	"time"
)

// quantity is a number with a name and how far off it may be, 19 times in 20.
type quantity struct {
	name          string
	value, within float64
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
	apart := math.Abs(float64(e.Value-m.Hub.Value)) > 1.5*math.Hypot(float64(e.Within), float64(m.Hub.Within))
	if apart && r.Hub != 0 {
		return fmt.Errorf("%s and a hub radius of %.4g mm contradict each other: the turns make it %.1f mm, give or take %.1f", g, float64(r.Hub), float64(e.Value), float64(e.Within))
	}
	// Even a poor measurement goes before the usual hub when that cannot be.
	if apart || e.Within < m.Hub.Within {
		m.Hub, b.hub = e, hub
	}
	return nil
}

// or is x, or the usual when x is zero.
func or[N ~float64](x, usual N) N {
	if x == 0 {
		return usual
	}
	return x
}
