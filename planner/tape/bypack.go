package tape

import (
	"fmt"
	"math"
	"time"
)

// byPack gives the thickness by each radius that was timed or measured.
func (r Readings) byPack(b *bench) ([]Estimate, error) {
	type seen struct {
		name   string
		pack   Pack
		middle func([]float64) float64 // s, by the deck's clock
		radius func([]float64) float64 // mm
	}
	moment := func(at time.Duration) func([]float64) float64 {
		return func([]float64) float64 { return at.Seconds() }
	}
	var all []seen
	for _, g := range r.Turnings {
		if g.bare() {
			continue // it gave the hub
		}
		took := b.add("the watch on the pack", g.Took.Seconds(), TurnsWithin.Seconds())
		all = append(all, seen{g.String(), g.Pack,
			// The radius changes by t a turn, so the mean over the turns is
			// that of the middle one.
			func(x []float64) float64 { return g.At.Seconds() + x[took]/2 },
			func(x []float64) float64 { return b.speed(x) * x[took] / (2 * math.Pi * float64(g.Turns)) }})
	}
	for _, w := range r.Widths {
		wide := b.add("the ruler", float64(w.Wide), float64(WidthWithin))
		all = append(all, seen{w.String(), w.Pack, moment(w.At),
			func(x []float64) float64 { return b.hub(x) + x[wide] }})
	}
	edge := b.add("the way from hub to edge", float64(or(r.Edge, UsualEdge)), float64(or(r.EdgeWithin, EdgeWithin)))
	for _, s := range r.Shares {
		// A share is read no better than half a millimetre of the way.
		of := b.add("the share", s.Of, float64(WidthWithin/or(r.Edge, UsualEdge)))
		all = append(all, seen{s.String(), s.Pack, moment(s.At),
			func(x []float64) float64 { return b.hub(x) + x[of]*x[edge] }})
	}

	var found []Estimate
	for _, s := range all {
		onPack := func(x []float64) float64 { // m
			run := b.speed(x) * s.middle(x) / 1000
			if s.pack == TakeUpPack {
				return run
			}
			return b.length(x) - run
		}
		if s.pack == SupplyPack && b.length == nil {
			return nil, fmt.Errorf("%s says nothing without a length: give the tape's name (--tape C90) or the time of the whole side", s.name)
		}
		e := b.estimate(s.name, func(x []float64) float64 {
			rr, h := s.radius(x), b.hub(x)
			// Below a metre the pack is the hub and says nothing of the tape.
			return math.Pi * (rr*rr - h*h) / max(onPack(x), 1)
		})
		if e.Value+e.Within <= 0 {
			return nil, fmt.Errorf("%s contradicts the hub of %.4g mm: the pack would be smaller than the hub", s.name, b.hub(b.values()))
		}
		found = append(found, e)
	}
	return found, nil
}
