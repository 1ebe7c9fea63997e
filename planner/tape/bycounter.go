package tape

import (
	"fmt"
	"math"
	"strings"
)

// countOff is how many counts a reading may lie off the line through all of
// them before it is held to be a slip: three standard deviations of a whole count.
const countOff = 1.5 * CountWithin

// byCounter gives the thickness by the counter's readings, as the comment of
// Measure derives it, and the ratio into m.
func (r Readings) byCounter(b *bench, m *Measured) ([]Estimate, error) {
	if len(b.counts) == 0 {
		return nil, nil
	}
	by := r.countNames()
	if b.ratio >= 0 && len(b.counts) == 1 {
		return []Estimate{b.estimate(by+" with the deck's ratio and the hub", b.oneCount)}, nil
	}
	if len(b.counts) == 1 {
		m.Ask = append(m.Ask, fmt.Sprintf("thickness: %s alone says nothing; note the counter at a second time, far from it, or give the deck's ratio", by))
		return nil, nil
	}
	withHub := b.estimate(by+" with the hub", func(x []float64) float64 {
		a, c := b.fitCounts(x)
		h := b.hub(x)
		return 1000 * 4 * c * h * h / (a * a)
	})
	if err := r.straight(b, withHub); err != nil {
		return nil, err
	}
	m.Ratio = known[float64](b, by+" with the hub", func(x []float64) float64 {
		a, _ := b.fitCounts(x)
		return 2 * b.hub(x) / a
	})
	if !(m.Ratio.Value > 0 && m.Ratio.Value <= mostRatio) {
		return nil, fmt.Errorf("%s contradict each other: they make %.3g counts a turn of the hub; a counter makes about half a count", by, m.Ratio.Value)
	}
	if b.ratio < 0 {
		return []Estimate{withHub}, nil
	}
	withRatio := b.estimate(by+" with the deck's ratio", func(x []float64) float64 {
		_, c := b.fitCounts(x)
		return 1000 * c * x[b.ratio] * x[b.ratio]
	})
	return []Estimate{withHub, withRatio}, nil
}

// oneCount solves v T / pi = 2 r0 N + t N^2 for t, um, from one reading.
func (b *bench) oneCount(x []float64) float64 {
	n := x[b.counts[0][1]] / x[b.ratio]
	return 1000 * (b.speed(x)*x[b.counts[0][0]]/math.Pi - 2*b.hub(x)*n) / (n * n)
}

// fitCounts gives a and b of v T / pi = a C + b C^2 by least squares, which is
// exact for two readings. With u = C / C_max the sums stay near one.
func (b *bench) fitCounts(x []float64) (a, c float64) {
	most := 0.0
	for _, k := range b.counts {
		most = max(most, x[k[1]])
	}
	var s2, s3, s4, p1, p2 float64
	for _, k := range b.counts {
		u, y := x[k[1]]/most, b.speed(x)*x[k[0]]/math.Pi
		s2 += u * u
		s3 += u * u * u
		s4 += u * u * u * u
		p1 += y * u
		p2 += y * u * u
	}
	det := s2*s4 - s3*s3
	return (p1*s4 - p2*s3) / det / most, (p2*s2 - p1*s3) / det / (most * most)
}

// straight refuses counts that no pack makes: they must come slower and
// slower, and with three readings or more no single one may stand aside.
func (r Readings) straight(b *bench, e Estimate) error {
	x := b.values()
	a, c := b.fitCounts(x)
	if !(a > 0) || !(c > 0) && float64(e.Value+e.Within) <= 0 {
		return fmt.Errorf("%s contradict each other: the count must come slower and slower as the take-up pack grows; was the counter at 000 at the start of the side?", r.countNames())
	}
	worst, off := 0, 0.0
	for i, k := range b.counts {
		n := x[k[1]]
		// From the time back to the count by the slope of the line there.
		by := (b.speed(x)*x[k[0]]/math.Pi - a*n - c*n*n) / (a + 2*c*n)
		if math.Abs(by) > math.Abs(off) {
			worst, off = i, by
		}
	}
	if math.Abs(off) > countOff {
		return fmt.Errorf("%s contradict each other: %s lies %.1f counts off the line through all of them; read them again or leave one out", r.countNames(), r.Counts[worst], math.Abs(off))
	}
	return nil
}

func (r Readings) countNames() string {
	names := make([]string, len(r.Counts))
	for i, c := range r.Counts {
		names[i] = c.String()
	}
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return names[0]
}
