package tape

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// anyTape draws a tape that a shell holds: hub, full pack and thickness give the side.
func anyTape(t *rapid.T) Tape {
	hub := rapid.Float64Range(10, 14).Draw(t, "hub")
	full := rapid.Float64Range(hub+6, 25).Draw(t, "full pack")
	um := rapid.Float64Range(5, 20).Draw(t, "um")
	side := math.Pi * (full*full - hub*hub) / um * 1000 / float64(Speed)
	tp := Tape{Name: "any", Hub: Millimetres(hub), Thickness: Micrometres(um)}.OfSide(seconds(side))
	if err := tp.Check(); err != nil {
		t.Fatal(err)
	}
	return tp
}

// The layer is laid on turn by turn here: dL = 2 pi r dN with r = r0 + t N, by
// the midpoint rule in steps of a hundredth of a turn, until the length is up.
func TestPackAgainstIntegration(t *testing.T) {
	for _, tp := range Standard() {
		thick := float64(tp.Thickness) / 1000 // mm
		const step = 0.01
		n, length := 0.0, 0.0 // turns, mm
		for length < 1000*float64(tp.Length) {
			length += 2 * math.Pi * (float64(tp.Hub) + thick*(n+step/2)) * step
			n += step
		}
		near(t, tp.Name+" turns", tp.Turns(), n, 2*step)
		near(t, tp.Name+" full mm", float64(tp.FullRadius()), float64(tp.Hub)+n*thick, 1e-3)
	}
}

// One turn, 2 pi r / v: 2 pi 11 / 47.625 = 1.451 s at the hub, 3.264 at a full
// C90. The worst print frequency, v / (2 pi t): 47625 / (2 pi 18) = 421.1 Hz.
func TestEchoTable(t *testing.T) {
	c90, _ := Named("C90")
	near(t, "one turn at the hub s", TurnTime(11).Seconds(), 1.45, 0.005)
	near(t, "one turn at a full pack s", TurnTime(c90.FullRadius()).Seconds(), 3.26, 0.005)
	for _, c := range []struct{ um, hz float64 }{
		{18, 421}, {16, 474}, {12, 632}, {11, 689}, {9, 842}, {6, 1263},
	} {
		near(t, "print Hz", Tape{Thickness: Micrometres(c.um)}.PrintFrequency(), c.hz, 0.6)
	}
	near(t, "no tape", Tape{}.PrintFrequency(), 0, 0)
}

// Both hubs together hold all the tape at every moment, r1^2 + r2^2 stays
// 2 r0^2 + L t / pi, and the counter only rises.
func TestPackLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tp := anyTape(t)
		at := time.Duration(rapid.Int64Range(0, int64(tp.Side)).Draw(t, "at"))
		r1, r2, r0 := float64(tp.TakeUp(at)), float64(tp.Supply(at)), float64(tp.Hub)
		want := 2*r0*r0 + float64(tp.Length)*float64(tp.Thickness)/math.Pi
		if got := r1*r1 + r2*r2; math.Abs(got-want) > 1e-6*want {
			t.Fatalf("r1^2 + r2^2 = %g, want %g", got, want)
		}
		// (r - r0)/t is the number of layers: the definition, not the form in the code.
		w := tp.TakeUpWind(at)
		if got := (r1 - r0) / float64(tp.Thickness) * 1000; math.Abs(got-w.Layers) > 1e-6*(1+got) {
			t.Fatalf("%g layers, (r - r0)/t = %g", w.Layers, got)
		}
		if later := at + time.Second; later < tp.Side && tp.Counter(later, 0.5) <= tp.Counter(at, 0.5) {
			t.Fatalf("the counter stands still at %v", at)
		}
		if r2 > r0+0.01 {
			if back := tp.SupplyFallsTo(Millimetres(r2)); (back - at).Abs() > 10*time.Millisecond {
				t.Fatalf("supply falls to %g at %v, was there at %v", r2, back, at)
			}
		}
	})
}

// Half way both packs are alike, at 19.15 mm, and turn 47.625 x 60 / (2 pi 19.147)
// = 23.75 times a minute.
func TestWindHalfWay(t *testing.T) {
	c90, _ := Named("C90")
	s, u := c90.SupplyWind(c90.Side/2), c90.TakeUpWind(c90.Side/2)
	near(t, "radii", float64(s.Radius), float64(u.Radius), 1e-6)
	near(t, "turns a minute", s.RPM, 23.75, 0.01)
	near(t, "layer mm", float64(s.Layer), 2*math.Pi*19.147, 0.01)
	near(t, "empty hub layers", c90.TakeUpWind(0).Layers, 0, 0)
}

func TestThicknessRange(t *testing.T) {
	for _, c := range []struct {
		name     string
		from, to Micrometres
	}{{"C60", 15, 18}, {"C90", 10, 12}, {"C120", 9, 9}, {"C64", 16.9, 16.9}} {
		tp, _ := Named(c.name)
		if from, to := tp.ThicknessRange(); from != c.from || to != c.to {
			t.Errorf("%s: %g to %g um, want %g to %g", c.name, from, to, c.from, c.to)
		}
	}
}

// C120: S = r1^2 + r2^2 = 2 x 121 + 171.45 x 9/pi = 733.17; the ratio is 1.8 where
// r2^2 = 733.17/4.24 = 172.92, r2 = 13.15: before 13 mm, so the radius decides,
// at 3248.2 s. A C46 on the same hub, S = 618.6, has 13 mm where the ratio is
// 1.63 and comes to 1.8 at r2^2 = 618.6/4.24 = 145.9, with pi (145.9-121)/18 =
// 4.347 m left: 91.3 s before its end at 1380 s.
func TestTail(t *testing.T) {
	c120, _ := Named("C120")
	z := c120.ThinTail()
	near(t, "C120 tail from s", z.From.Seconds(), 3248.2, 0.1)
	near(t, "C120 tail to s", z.To.Seconds(), 3600, 1e-6)
	c46, _ := Named("C46")
	near(t, "C46 tail from s", c46.Tail(ThinTailRadius, ThinTailRatio).From.Seconds(), 1380-91.3, 0.1)
	for _, name := range []string{"C46", "C60", "C90"} {
		if tp, _ := Named(name); !tp.ThinTail().Empty() {
			t.Errorf("%s is not thin, but has a thin tail %v", name, tp.ThinTail())
		}
	}
	if z := c120.Tail(8, 0); !z.Empty() {
		t.Errorf("no pack falls under its hub, yet %v", z)
	}
	if z := c120.Tail(30, 0); z.From != 0 || z.To != c120.Side {
		t.Errorf("all of the side is under 30 mm, got %v", z)
	}
}

// Every figure that no text bears out says so.
func TestThicknessSource(t *testing.T) {
	for _, c := range []struct{ name, says string }{
		{"C60", published}, {"C90", published}, {"C120", oneText}, {"C180", Remembered}, {"C64", byRule}, {"", "as given"},
	} {
		tp, _ := Named(c.name)
		if got := tp.ThicknessSource(); got != c.says {
			t.Errorf("%s: %q, want %q", c.name, got, c.says)
		}
	}
	c90, _ := Named("C90")
	if c90.Thickness = 11.3; c90.ThicknessSource() != "measured" {
		t.Errorf("11.3 um: %q", c90.ThicknessSource())
	}
}

func TestCheck(t *testing.T) {
	for _, tp := range Standard() {
		if err := tp.Check(); err != nil {
			t.Errorf("%s: %v", tp.Name, err)
		}
	}
	c90, _ := Named("C90")
	for what, tp := range map[string]Tape{
		"zero":            {},
		"no thickness":    {Side: c90.Side, Length: c90.Length, Hub: 11},
		"wrong unit":      {Side: c90.Side, Length: c90.Length, Thickness: 0.012, Hub: 11},
		"diameter":        {Side: c90.Side, Length: c90.Length, Thickness: 12, Hub: 22},
		"too full":        {Side: c90.Side, Length: c90.Length, Thickness: 18, Hub: 11},
		"no number":       {Side: c90.Side, Length: c90.Length, Thickness: Micrometres(math.NaN()), Hub: 11},
		"endless":         {Side: c90.Side, Length: Metres(math.Inf(1)), Thickness: 12, Hub: 11},
		"a day":           Tape{Thickness: 12, Hub: 11}.OfSide(24 * time.Hour),
		"a negative side": Tape{Thickness: 12, Hub: 11}.OfSide(-time.Hour),
	} {
		if tp.Check() == nil {
			t.Errorf("%s: %+v passes", what, tp)
		}
	}
}
