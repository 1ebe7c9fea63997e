package tape

import (
	"math"
	"testing"
	"time"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.5g, want %.5g within %g", what, got, want, within)
	}
}

// The pack table of the trade: full and half radius by r^2 = r0^2 + L t / pi,
// hub 11 mm, 47.625 mm/s. For the C90: L = 45 x 60 x 47.625 mm = 128.5875 m;
// 121 + 128.5875 x 12 / pi = 612.17, whose root is 24.742. Seconds of one turn
// are 2 pi r / v: 2 pi 11 / 47.625 = 1.451, 2 pi 24.742 / 47.625 = 3.264.
func TestPackTable(t *testing.T) {
	for _, c := range []struct {
		name       string
		um         Micrometres
		full, half float64 // mm
		turns      float64
		turnFull   float64 // s
	}{
		{"C60", 18, 24.74, 19.15, 763, 3.26},
		{"C60", 16, 23.61, 18.42, 788, 3.12},
		{"C74", 12, 22.91, 17.97, 992, 3.02},
		{"C90", 12, 24.74, 19.15, 1145, 3.26},
		{"C90", 11, 23.90, 18.60, 1173, 3.15},
		{"C100", 11, 24.93, 19.26, 1266, 3.29},
		{"C120", 9, 24.74, 19.15, 1527, 3.26},
		{"C180", 6, 24.74, 19.15, 2290, 3.26},
	} {
		tp, err := Named(c.name)
		if err != nil {
			t.Fatal(err)
		}
		tp.Thickness = c.um
		near(t, c.name+" full mm", float64(tp.FullRadius()), c.full, 0.005)
		near(t, c.name+" half mm", float64(tp.TakeUp(tp.Side/2)), c.half, 0.005)
		near(t, c.name+" half mm, supply", float64(tp.Supply(tp.Side/2)), c.half, 0.005)
		near(t, c.name+" turns", tp.Turns(), c.turns, 0.6)
		near(t, c.name+" full turn s", 2*math.Pi*float64(tp.FullRadius()/Millimetres(Speed)), c.turnFull, 0.005)
	}
}

// Counts of a full side at 0.525 (one measured data recorder) and at 0.5.
func TestCounterTable(t *testing.T) {
	for _, c := range []struct {
		name       string
		um         Micrometres
		c525, c500 float64
	}{
		{"C60", 18, 401, 382},
		{"C74", 12, 521, 496},
		{"C90", 12, 601, 573},
		{"C100", 11, 665, 633},
		{"C120", 9, 802, 763},
	} {
		tp, _ := Named(c.name)
		tp.Thickness = c.um
		near(t, c.name+" at 0.525", tp.Counter(tp.Side, 0.525), c.c525, 0.6)
		near(t, c.name+" at 0.5", tp.Counter(tp.Side, 0.5), c.c500, 0.6)
	}
}

// The counter note's own form, f (sqrt((r0/t)^2 + v T/(pi t)) - r0/t), at ten
// minutes of a C90: r0/t = 11/0.012 = 916.667; v T/(pi t) = 47.625 x 600 /
// (pi 0.012) = 757975.4; sqrt(840277.8 + 757975.4) - 916.667 = 347.555; half is 173.78.
func TestCounterFormula(t *testing.T) {
	tp, _ := Named("C90")
	near(t, "counter at 10:00", tp.Counter(10*time.Minute, 0.5), 173.78, 0.01)
}

func TestNamed(t *testing.T) {
	for _, c := range []struct {
		in     string
		name   string
		metres float64
		um     float64
	}{
		// Published table, minutes x 60 x 47.625 mm a side.
		{"C46", "C46", 65.7, 18},
		{"c60", "C60", 85.7, 18},
		{"90", "C90", 128.6, 12},
		{" C94 ", "C94", 134.3, 11},
		{"C110", "C110", 157.2, 10},
		{"C150", "C150", 214.3, 7},
		{"C180", "C180", 257.2, 6},
		// By the rule t = 1543 / L: C64 is 32 min, 91.44 m, 16.87 um; C105 is
		// 52.5 min, 150.02 m, 10.29 um; a C10 would be 108 um, and is capped.
		{"C64", "C64", 91.44, 16.9},
		{"C105", "C105", 150.02, 10.3},
		{"C10", "C10", 14.29, 18},
		{"C240", "C240", 342.9, 4.5},
	} {
		tp, err := Named(c.in)
		if err != nil {
			t.Fatal(err)
		}
		if tp.Name != c.name {
			t.Errorf("%q: name %q, want %q", c.in, tp.Name, c.name)
		}
		near(t, c.in+" length m", float64(tp.Length), c.metres, 0.05)
		near(t, c.in+" thickness um", float64(tp.Thickness), c.um, 0.001)
	}
	for _, in := range []string{"", "C", "c", "CC90", "C-90", "-90", "+90", "C+90", "C9", "C241", "C99999999999999999999", "C90.5", "90m", "C９０", "1e2"} {
		if tp, err := Named(in); err == nil {
			t.Errorf("%q was taken as %v", in, tp)
		}
	}
}

func TestStandardIsShortestFirst(t *testing.T) {
	all := Standard()
	if len(all) != 12 {
		t.Fatalf("%d lengths, want 12", len(all))
	}
	for i, tp := range all {
		if i > 0 && tp.Side <= all[i-1].Side {
			t.Errorf("%s comes after %s", tp.Name, all[i-1].Name)
		}
		// The largest pack that a shell takes is about 25 mm.
		if r := tp.FullRadius(); r > 25 {
			t.Errorf("%s winds to %.2f mm, which no shell takes", tp.Name, r)
		}
	}
}

// C90: 45 min = 2700 s. Less 1.5 % (DIN 45500) 2659.5, less 7 + 6 s of leaders
// 2646.5; nominal 2700 - 13 = 2687. Timed at 46:00: 2760 x 0.997 - 13 = 2738.72.
// On a deck 1 % fast: 2700/1.01 x 0.985 - 13 = 2620.168.
func TestLimits(t *testing.T) {
	c90, _ := Named("C90")
	for _, c := range []struct {
		what                     string
		run                      Running
		short, nominal, measured float64
	}{
		{"default", Default(), 2646.5, 2687, 0},
		{"timed", Running{Tolerance: 0.015, LeadIn: 7e9, EndLeader: 6e9, Timed: 46 * time.Minute}, 2646.5, 2687, 2738.72},
		{"fast deck", Running{DeckError: 0.01, Tolerance: 0.015, LeadIn: 7e9, EndLeader: 6e9}, 2620.168, 2660.267, 0},
		{"slow deck", Running{DeckError: -0.01}, 2727.273, 2727.273, 0},
		{"nothing kept", Running{}, 2700, 2700, 0},
		{"all kept", Running{LeadIn: time.Hour, EndLeader: math.MaxInt64}, 0, 0, 0},
		{"no deck error", Running{DeckError: math.NaN(), Tolerance: math.NaN()}, 2700, 2700, 0},
		{"no such deck", Running{DeckError: -1, Tolerance: 7}, 0, 2700, 0},
		{"negative leaders", Running{LeadIn: -time.Hour, EndLeader: math.MinInt64}, 2700, 2700, 0},
	} {
		l := c90.Limits(c.run)
		near(t, c.what+" short", l.Short.Seconds(), c.short, 0.001)
		near(t, c.what+" nominal", l.Nominal.Seconds(), c.nominal, 0.001)
		near(t, c.what+" measured", l.Measured.Seconds(), c.measured, 0.001)
	}
}

// A C120's supply pack falls to 13 mm with pi (169 - 121)/9 = 16.755 m left,
// 351.8 s of 3600: at 3248.2 s, its last tenth.
func TestSupplyFallsTo(t *testing.T) {
	c120, _ := Named("C120")
	at := c120.SupplyFallsTo(ThinTailRadius)
	near(t, "falls to 13 mm at s", at.Seconds(), 3248.2, 0.1)
	near(t, "supply there mm", float64(c120.Supply(at)), 13, 1e-6)
	near(t, "never larger", c120.SupplyFallsTo(25).Seconds(), 0, 0)
	near(t, "never so small", c120.SupplyFallsTo(10).Seconds(), 3600, 1e-6)
	near(t, "no number", c120.SupplyFallsTo(Millimetres(math.NaN())).Seconds(), 3600, 1e-6)
}

// Nonsense in gives numbers out, never a panic or a NaN.
func TestNonsense(t *testing.T) {
	c90, _ := Named("C90")
	for _, tp := range []Tape{{}, {Length: -5, Thickness: 12, Hub: 11}, c90} {
		for _, at := range []time.Duration{math.MinInt64, -1, 0, 1, math.MaxInt64} {
			for _, ratio := range []float64{math.NaN(), math.Inf(1), -1, 0, 0.5} {
				for _, x := range []float64{float64(tp.TakeUp(at)), float64(tp.Supply(at)), tp.Counter(at, ratio), tp.Turns(), tp.SupplyFallsTo(12).Seconds()} {
					if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
						t.Errorf("%v at %v, ratio %g: %g", tp, at, ratio, x)
					}
				}
			}
		}
	}
}

func TestDeckTime(t *testing.T) {
	near(t, "fast", NominalTime(100*time.Second, 0.01).Seconds(), 101, 1e-6)
	near(t, "and back", ClockTime(101*time.Second, 0.01).Seconds(), 100, 1e-6)
	near(t, "no number", ClockTime(101*time.Second, math.NaN()).Seconds(), 101, 0)
}
