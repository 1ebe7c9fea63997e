package verify

import (
	"math"
	"slices"
)

// mean is the mean of x and how far off it may be (two standard errors), from
// the scatter of x. Values that follow each other may be alike: then they count
// for fewer.
func mean(x []float64) Figure {
	n := float64(len(x))
	if n == 0 {
		return Figure{math.NaN(), math.Inf(1)}
	}
	var m float64
	for _, v := range x {
		m += v
	}
	m /= n
	if n < 3 {
		return Figure{m, math.Inf(1)}
	}
	var ss, lag float64
	for i, v := range x {
		ss += (v - m) * (v - m)
		if i > 0 {
			lag += (v - m) * (x[i-1] - m)
		}
	}
	alike := 0.0
	if ss > 0 {
		// A short series shows too little of it, by some 1/n.
		alike = min(max(lag/ss+1/n, 0), 0.9)
	}
	count := max(n*(1-alike)/(1+alike), 2)
	return Figure{m, student(count-1) * math.Sqrt(ss/(n-1)/count)}
}

// student is the factor of a 95 % interval with so many degrees of freedom:
// Student's t to 1 %, by its expansion in 1/degrees (Abramowitz and Stegun,
// 26.7.5), from 2 degrees on.
func student(degrees float64) float64 {
	const x = 1.959964
	d := max(degrees, 1)
	x3, x5, x7, x9 := x*x*x, math.Pow(x, 5), math.Pow(x, 7), math.Pow(x, 9)
	return x + (x3+x)/(4*d) + (5*x5+16*x3+3*x)/(96*d*d) +
		(3*x7+19*x5+17*x3-15*x)/(384*d*d*d) +
		(79*x9+776*x7+1482*x5-1920*x3-945*x)/(92160*d*d*d*d)
}

// and adds uncertainties that have nothing to do with each other.
func and(within ...float64) float64 {
	var ss float64
	for _, w := range within {
		ss += w * w
	}
	return math.Sqrt(ss)
}

// less is a - b, each known as it is.
func (f Figure) less(g Figure) Figure { return Figure{f.Value - g.Value, and(f.Within, g.Within)} }

// median of x, which it sorts.
func median(x []float64) float64 { return quantile(x, 0.5) }

// quantile is the value that a part p of x does not pass; it sorts x.
func quantile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	slices.Sort(x)
	at := p * float64(len(x)-1)
	i := int(at)
	if i+1 >= len(x) {
		return x[len(x)-1]
	}
	return x[i] + (at-float64(i))*(x[i+1]-x[i])
}

// inBlocks are the means of blocks of n, what is left over at the end put away.
func inBlocks(x []float64, n int) []float64 {
	var out []float64
	for n = max(n, 1); len(x) >= n; x = x[n:] {
		var m float64
		for _, v := range x[:n] {
			m += v
		}
		out = append(out, m/float64(n))
	}
	return out
}

// scatter is how far values lie from each other in the usual run of them, in dB:
// one standard deviation, by the middle two thirds.
func scatter(x []float64) float64 {
	if len(x) < 6 {
		return 0
	}
	y := slices.Clone(x)
	return dB(quantile(y, 0.84)/max(quantile(y, 0.16), 1e-15)) / 2
}
