package tape

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func seconds(s float64) time.Duration { return time.Duration(s * 1e9) }

// supplyTurns are what a watch shows for n turns of the full supply pack.
func supplyTurns(tp Tape, n int) Turning {
	// n turns off the top are n layers: 2 pi (R - n t / 2) each in the mean.
	r := float64(tp.FullRadius()) - float64(n)*float64(tp.Thickness)/2000
	return Turning{Pack: SupplyPack, Turns: n, Took: seconds(2 * math.Pi * r * float64(n) / float64(Speed))}
}

// A full C60 of 18 um, by hand: R = 24.742 mm, ten turns take 10 x 2 pi (24.742 -
// 0.09) / 47.625 = 32.52 s; the pack is 13.742 mm wide. By the counter note's form,
// r0/t = 611.11 and v T/(pi t) = 505317 at 10:00, 1515950 at 30:00: sqrt(373457 +
// 505317) - 611.11 = 326.32 turns and sqrt(373457 + 1515950) - 611.11 = 763.45;
// a counter of 0.5 shows half of each.
func TestMeasureByHand(t *testing.T) {
	whole := 30 * time.Minute
	for _, c := range []struct {
		what string
		r    Readings
		um   float64
		by   string
	}{
		{"turns", Readings{Name: "C60", Side: whole, Turnings: []Turning{{SupplyPack, 0, 10, seconds(32.52)}}}, 18, "10 turns"},
		{"width", Readings{Name: "C60", Side: whole, Widths: []Width{{SupplyPack, 0, 13.742}}}, 18, "width"},
		{"share", Readings{Name: "C60", Side: whole, Edge: 14, EdgeWithin: 0.1, Shares: []Share{{SupplyPack, 0, 13.742 / 14}}}, 18, "share"},
		{"counts", Readings{Counts: []Count{{10 * time.Minute, 163.16}, {whole, 381.72}}}, 18, "with the hub"},
		{"one count", Readings{Ratio: 0.5, Counts: []Count{{whole, 381.72}}}, 18, "the deck's ratio and the hub"},
		{"takeup", Readings{Name: "C60", Side: whole, Widths: []Width{{TakeUpPack, whole, 13.742}}}, 18, "width"},
		// 10 um on 171.5 m of C120: R = 25.82 mm, a pack 14.82 wide.
		{"thin", Readings{Name: "C120", Side: time.Hour, Widths: []Width{{SupplyPack, 0, 14.82}}}, 10, "width"},
	} {
		m, err := Measure(c.r)
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		near(t, c.what+" um", float64(m.Thickness.Value), c.um, 0.05)
		if !m.Weighed || !strings.Contains(m.Thickness.By, c.by) {
			t.Errorf("%s: by %q, want %q", c.what, m.Thickness.By, c.by)
		}
	}
}

// A side of 46:00 on a deck 1 % fast is 46.46 min of tape: 132.76 m.
func TestMeasureLength(t *testing.T) {
	m, err := Measure(Readings{Name: "C90", Side: 46 * time.Minute, DeckError: 0.01, DeckWithin: 0.002})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "length m", float64(m.Length.Value), 46*60*1.01*0.047625, 0.001)
	// 0.2 % of the deck's speed, a second of the watch: sqrt(0.2627^2 + 0.0481^2) m.
	near(t, "within m", float64(m.Length.Within), 0.267, 0.002)
	near(t, "side at nominal speed", m.Tape.Side.Minutes(), 46.46, 0.001)
	if m.Weighed || m.Thickness.Value != 12 || len(m.Ask) == 0 {
		t.Errorf("a thickness out of nothing: %+v", m)
	}
	// Only a name: its figures, and what to measure.
	m, err = Measure(Readings{Name: "C90"})
	if err != nil || m.Timed || m.Weighed || len(m.Ask) < 3 {
		t.Errorf("only a name: %+v, %v", m, err)
	}
}

// A hub of 13 mm, timed turn by turn as the tape winds onto it, is found; the
// usual 11 mm is given up for it, and the thickness comes out right with it.
func TestMeasureHub(t *testing.T) {
	big := Tape{Thickness: 18, Hub: 13}.OfSide(23 * time.Minute)
	took := 0.0
	for n := 0; n < 20; n++ {
		took += 2 * math.Pi * (13 + 0.018*(float64(n)+0.5)) / float64(Speed)
	}
	turns := Turning{TakeUpPack, 0, 20, seconds(took)}
	m, err := Measure(Readings{Name: "C46", Side: 23 * time.Minute, DeckWithin: 0.002,
		Turnings: []Turning{turns, supplyTurns(big, 20)}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "hub mm", float64(m.Hub.Value), 13, 0.1)
	if !(m.Hub.Within < 0.3) {
		t.Errorf("hub within %g mm", m.Hub.Within)
	}
	near(t, "thickness um", float64(m.Thickness.Value), 18, 0.3)
	// Five turns of a hub of 15 mm are a poor measurement, but 11 mm it is not.
	m, err = Measure(Readings{Name: "C46", Turnings: []Turning{{TakeUpPack, 0, 5, seconds(5 * 2 * math.Pi * 15.05 / float64(Speed))}}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "large hub mm", float64(m.Hub.Value), 15, 0.1)
	// The same turns against a hub said to be of 11 mm.
	_, err = Measure(Readings{Name: "C46", Hub: 11, HubWithin: 0.1, Turnings: []Turning{turns}})
	if err == nil || !strings.Contains(err.Error(), "contradict") {
		t.Errorf("13 mm measured, 11 said: %v", err)
	}
}

// What is measured on a modelled tape comes back, whatever the tape: the
// rounding of a watch and a counter stays within the stated uncertainty.
func TestMeasureRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tp := anyTape(t)
		deck := rapid.Float64Range(-0.02, 0.02).Draw(t, "deck")
		ratio := rapid.Float64Range(0.4, 0.7).Draw(t, "ratio")
		side := ClockTime(tp.Side, deck)
		early := side / 3
		read := func(at time.Duration) Count {
			return Count{at, math.Round(tp.Counter(NominalTime(at, deck), ratio))}
		}
		turns := supplyTurns(tp, 20)
		turns.Took = ClockTime(turns.Took, deck).Round(100 * time.Millisecond)
		m, err := Measure(Readings{
			Side: side.Round(time.Second), Hub: tp.Hub, HubWithin: 0.05,
			DeckError: deck, DeckWithin: 0.001, Ratio: ratio,
			Counts:   []Count{read(early), read(side)},
			Turnings: []Turning{turns},
			Widths:   []Width{{SupplyPack, 0, tp.FullRadius() - tp.Hub}, {TakeUpPack, side, tp.FullRadius() - tp.Hub}},
			Edge:     14, EdgeWithin: 0.1,
			Shares: []Share{{SupplyPack, side / 2, float64(tp.Supply(tp.Side/2)-tp.Hub) / 14}},
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range m.Estimates {
			if math.Abs(float64(e.Value-tp.Thickness)) > float64(e.Within) {
				t.Fatalf("%s: %.3f um give or take %.3f, is %.3f", e.By, e.Value, e.Within, tp.Thickness)
			}
		}
		if math.Abs(float64(m.Length.Value-tp.Length)) > float64(m.Length.Within) {
			t.Fatalf("length %.2f give or take %.2f, is %.2f", m.Length.Value, m.Length.Within, tp.Length)
		}
		if math.Abs(m.Ratio.Value-ratio) > m.Ratio.Within {
			t.Fatalf("ratio %.4f give or take %.4f, is %.4f", m.Ratio.Value, m.Ratio.Within, ratio)
		}
	})
}

// Two 60-minute tapes a fifth apart in thickness (common practice, no source)
// must come apart by more than the uncertainty of their difference, or the
// method must say that it cannot tell them apart.
func TestAFifthApart(t *testing.T) {
	thin, _ := Named("C60")
	thin.Thickness = 15
	thick := thin
	thick.Thickness = 18
	side := thin.Side
	counts := func(tp Tape, at ...time.Duration) (c []Count) {
		for _, a := range at {
			c = append(c, Count{a, math.Round(tp.Counter(a, 0.5))})
		}
		return c
	}
	for _, c := range []struct {
		method string
		tells  bool
		read   func(Tape) Readings
	}{
		{"ten turns of the full pack", true, func(tp Tape) Readings {
			return Readings{Name: "C60", Side: side, Turnings: []Turning{supplyTurns(tp, 10)}}
		}},
		{"one turn of the full pack", false, func(tp Tape) Readings {
			return Readings{Name: "C60", Side: side, Turnings: []Turning{supplyTurns(tp, 1)}}
		}},
		{"the pack's width", true, func(tp Tape) Readings {
			return Readings{Name: "C60", Side: side, Widths: []Width{{SupplyPack, 0, tp.FullRadius() - 11}}}
		}},
		{"the pack's share", true, func(tp Tape) Readings {
			return Readings{Name: "C60", Side: side, Shares: []Share{{SupplyPack, 0, float64(tp.FullRadius()-11) / 14}}}
		}},
		{"counts far apart", true, func(tp Tape) Readings {
			return Readings{Name: "C60", Counts: counts(tp, 10*time.Minute, side)}
		}},
		{"counts close together", false, func(tp Tape) Readings {
			return Readings{Name: "C60", Counts: counts(tp, 14*time.Minute, 17*time.Minute)}
		}},
		{"one count and a ratio good to 5 %", false, func(tp Tape) Readings {
			return Readings{Name: "C60", Ratio: 0.5, RatioWithin: 0.05, Counts: counts(tp, side)}
		}},
	} {
		a, errA := Measure(c.read(thin))
		b, errB := Measure(c.read(thick))
		if errA != nil || errB != nil {
			t.Errorf("%s: %v, %v", c.method, errA, errB)
			continue
		}
		if !a.Weighed || !b.Weighed {
			if c.tells || len(a.Ask) == 0 {
				t.Errorf("%s: no answer", c.method)
			}
			continue
		}
		told := a.Estimates[0].TellsFifth && b.Estimates[0].TellsFifth
		apart := float64(b.Thickness.Value-a.Thickness.Value) > math.Hypot(float64(a.Thickness.Within), float64(b.Thickness.Within))
		if told != c.tells {
			t.Errorf("%s: says %v, want %v (%.2f±%.2f, %.2f±%.2f)", c.method, told, c.tells, a.Thickness.Value, a.Thickness.Within, b.Thickness.Value, b.Thickness.Within)
		}
		if told && !apart {
			t.Errorf("%s: says it tells them apart: %.2f±%.2f, %.2f±%.2f", c.method, a.Thickness.Value, a.Thickness.Within, b.Thickness.Value, b.Thickness.Within)
		}
	}
}

// Readings that cannot be, or not together, are refused by name.
func TestMeasureRefuses(t *testing.T) {
	m10, m20, m30 := 10*time.Minute, 20*time.Minute, 30*time.Minute
	full := []Turning{{SupplyPack, 0, 10, seconds(32.52)}}
	for _, c := range []struct {
		what string
		r    Readings
		says string
	}{
		{"no such name", Readings{Name: "C900"}, `"C900"`},
		{"zero side", Readings{Name: "C60", Side: 1}, "a side of 0:00"},
		{"negative side", Readings{Name: "C60", Side: -m30}, "a side of -30:00"},
		{"the wrong tape", Readings{Name: "C90", Side: m30}, "C90 and a side of 30:00 contradict"},
		{"swapped counts", Readings{Counts: []Count{{m10, 300}, {m20, 160}}}, "300 at 10:00 and the count 160 at 20:00"},
		{"same moment", Readings{Counts: []Count{{m10, 160}, {m10, 161}}}, "same moment"},
		{"zero count", Readings{Counts: []Count{{m10, 0}}}, "the count 0 at 10:00"},
		{"no number", Readings{Counts: []Count{{m10, math.NaN()}}}, "the count NaN"},
		{"faster and faster", Readings{Counts: []Count{{m10, 100}, {m30, 400}}}, "slower and slower"},
		{"one of three off", Readings{Counts: []Count{{m10, 163.16}, {m20, 310}, {m30, 381.72}}}, "the count 310 at 20:00 lies"},
		{"count after the end", Readings{Name: "C60", Side: m30, Counts: []Count{{m10, 160}, {40 * time.Minute, 480}}}, "40:00 and a side that ends by 30:01"},
		{"a turn too long", Readings{Name: "C60", Turnings: []Turning{{SupplyPack, 0, 1, seconds(32.5)}}}, "no cassette has"},
		{"no turns", Readings{Name: "C60", Turnings: []Turning{{SupplyPack, 0, 0, seconds(3)}}}, "whole turns"},
		{"a width in centimetres", Readings{Name: "C60", Widths: []Width{{SupplyPack, 0, 137}}}, "millimetres"},
		{"a mark for a share", Readings{Name: "C60", Shares: []Share{{SupplyPack, 0, 50}}}, "share"},
		{"no length", Readings{Turnings: full}, "without a length"},
		{"turns against width", Readings{Name: "C60", Side: m30, Turnings: full, Widths: []Width{{SupplyPack, 0, 9}}}, "turns of the supply pack at 0:00 in 32.5 s and the supply pack's width of 9.0 mm at 0:00 contradict"},
		{"counts against ratio: a large hub", Readings{Ratio: 0.7, Counts: []Count{{m10, 163.16}, {m30, 381.72}}}, "with the hub and the count 163.2"},
		{"a hub's diameter", Readings{Name: "C60", Hub: 22}, "radius, not the diameter"},
		{"no such deck", Readings{Name: "C60", DeckError: 1}, "+100 % off"},
		{"no such ratio", Readings{Name: "C60", Ratio: 50}, "50 counts a turn"},
		{"a thin sixty", Readings{Name: "C60", Side: m30, Widths: []Width{{SupplyPack, 0, 1}}}, "4 to 25 um"},
	} {
		m, err := Measure(c.r)
		if err == nil {
			t.Errorf("%s: taken as %+v", c.what, m)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.what, err, c.says)
		}
	}
}

// Law: whatever the readings, an answer is a tape that a shell holds, with
// finite uncertainties, or it is an error; never a panic.
func FuzzMeasure(f *testing.F) {
	f.Add("C60", int64(30*time.Minute), 160.0, 381.0, int64(10*time.Minute), 10, int64(32520*time.Millisecond), 13.7, 0.9, 0.5, 0.01)
	f.Add("", int64(0), 0.0, -1.0, int64(-5), -3, int64(1), math.NaN(), math.Inf(1), 1e300, -1.0)
	f.Fuzz(func(t *testing.T, name string, side int64, c1, c2 float64, at int64, turns int, took int64, wide, share, ratio, deck float64) {
		m, err := Measure(Readings{
			Name: name, Side: time.Duration(side), DeckError: deck, Ratio: ratio,
			Counts:   []Count{{time.Duration(at), c1}, {time.Duration(side), c2}},
			Turnings: []Turning{{SupplyPack, time.Duration(at), turns, time.Duration(took)}, {TakeUpPack, 0, turns, time.Duration(took)}},
			Widths:   []Width{{TakeUpPack, time.Duration(at), Millimetres(wide)}},
			Shares:   []Share{{SupplyPack, 0, share}},
		})
		if err != nil {
			return
		}
		if err := m.Tape.Check(); err != nil && m.Tape.Length > 0 && m.Tape.Thickness > 0 {
			t.Fatal(err)
		}
		for _, e := range m.Estimates {
			if math.IsNaN(float64(e.Within)) || math.IsInf(float64(e.Within), 0) || e.Value <= 0 {
				t.Fatalf("%+v", e)
			}
		}
	})
}
