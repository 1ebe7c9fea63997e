package tape

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// The two fits are checked against a general-purpose library's least squares
// by QR (gonum): v T / pi = a C + b C^2 for the counts, C = f N for the ratio.
func TestLeastSquaresAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tp := anyTape(t)
		n := rapid.IntRange(2, 8).Draw(t, "readings")
		b := &bench{in: nil, ratio: -1}
		b.deck = b.add("deck", 0, 0)
		b.speed = func(x []float64) float64 { return float64(Speed) * (1 + x[b.deck]) }
		left, right := mat.NewDense(n, 2, nil), mat.NewVecDense(n, nil)
		turns, reads := mat.NewDense(n, 1, nil), mat.NewVecDense(n, nil)
		var past []Past
		for i := range n {
			at := tp.Side * time.Duration(i+1) / time.Duration(n+1)
			c := tp.Counter(at, 0.5) + rapid.Float64Range(-0.4, 0.4).Draw(t, "off")
			if c <= 0 {
				t.Skip("a count of nothing")
			}
			b.counts = append(b.counts, [2]int{b.add("watch", at.Seconds(), 0), b.add("counter", c, 0)})
			left.SetRow(i, []float64{c, c * c})
			right.SetVec(i, float64(Speed)*at.Seconds()/math.Pi)
			turns.Set(i, 0, tp.Counter(at, 1))
			reads.SetVec(i, c)
			past = append(past, Past{tp, at, c})
		}
		same := func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-6*math.Abs(want) {
				t.Fatalf("%s: %g, the library says %g", what, got, want)
			}
		}
		var line, ratio mat.VecDense
		if err := line.SolveVec(left, right); err != nil {
			t.Fatal(err)
		}
		a, c := b.fitCounts(b.values())
		same("a", a, line.AtVec(0))
		same("b", c, line.AtVec(1))
		if err := ratio.SolveVec(turns, reads); err != nil {
			t.Fatal(err)
		}
		l, err := LearnRatio(past, 0)
		if err != nil {
			t.Fatal(err)
		}
		same("ratio", l.Ratio, ratio.AtVec(0))
	})
}
