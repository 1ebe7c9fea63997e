package tape

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// turnAway is where the point one turn from x lies, by counting turns: with
// N = (r - r0)/t turns inside, N + 1 turns hold pi ((r0 + t (N+1))^2 - r0^2) / t.
func turnAway(tp Tape, x float64, startOutside, outward bool) float64 {
	v, thick, r0 := float64(Speed), float64(tp.Thickness)/1000, float64(tp.Hub)
	inside := v * x // mm
	if startOutside {
		inside = 1000*float64(tp.Length) - inside
	}
	n := (math.Sqrt(r0*r0+inside*thick/math.Pi) - r0) / thick
	if outward {
		n++
	} else {
		n--
	}
	to := math.Pi * (math.Pow(r0+thick*n, 2) - r0*r0) / thick
	if startOutside {
		to = 1000*float64(tp.Length) - to
	}
	return to / v
}

// The start of a song after silence, on every side and either way stored. A
// pack rewound for side A has one turn of 3.26 s at A's start falling to 1.45
// at its end, and 1.45 rising to 3.26 along B.
func TestEchoDelays(t *testing.T) {
	c60, _ := Named("C60")
	for _, c := range []struct {
		what   string
		stored Stored
		sideB  bool
		at     float64 // s
		delay  float64 // s, of the table to its two decimals
	}{
		{"A, rewound, near the start", Rewound, false, 10, 3.26},
		{"A, rewound, near the end", Rewound, false, 1790, 1.46},
		{"B, rewound, near the start", Rewound, true, 10, 1.46},
		{"B, rewound, near the end", Rewound, true, 1790, 3.26},
		{"A, played, near the start", Played, false, 10, 1.46},
		{"B, played, near the start", Played, true, 10, 3.26},
	} {
		outside := c.stored.StartOutside(c.sideB)
		song := seconds(c.at)
		side := []Passage{{song - 5*time.Second, song, math.Inf(-1)}, {song, song + 5*time.Second, -14}}
		found := c60.Echoes(side, outside, EchoContrast)
		if len(found) != 1 {
			t.Errorf("%s: %d echoes, want 1: %+v", c.what, len(found), found)
			continue
		}
		e := found[0]
		near(t, c.what+" delay s", e.Delay.Seconds(), c.delay, 0.015)
		// A pre-echo is printed from the song one layer outwards when the start
		// lies outside, one layer inwards when it lies at the hub.
		near(t, c.what+" falls at s", e.From.Seconds(), turnAway(c60, c.at, outside, outside), 1e-6)
		if !e.Before || e.Loud != song {
			t.Errorf("%s: %+v", c.what, e)
		}
		// Silence counts as the meter's gate, -70: 56 LU under -14.
		near(t, c.what+" contrast", e.Contrast, 56, 1e-9)
		if d, stronger, ok := c60.PrintDelay(song, outside, true); d != e.Delay || stronger != e.Stronger || !ok {
			t.Errorf("%s: PrintDelay says %v, %v, %v of %+v", c.what, d, stronger, ok, e)
		}
		if e.Stronger == outside {
			t.Errorf("%s: the stronger print goes inwards, this one is Stronger=%v", c.what, e.Stronger)
		}
	}
}

// A shout of half a second in a long quiet is heard twice, before and after;
// in a gap shorter than a turn the next song hides the pre-echo of it.
func TestEchoPlaces(t *testing.T) {
	c90, _ := Named("C90")
	s := func(from, to, lufs float64) Passage { return Passage{seconds(from), seconds(to), lufs} }
	for _, c := range []struct {
		what          string
		side          []Passage
		before, after int
	}{
		{"a shout in the quiet", []Passage{s(100, 120, -60), s(120, 120.5, -12), s(120.5, 140, -60)}, 1, 1},
		{"two songs, a gap of 4 s", []Passage{s(0, 100, -14), s(100, 104, math.Inf(-1)), s(104, 200, -14)}, 1, 1},
		// One turn is 3.2 s here: a gap of 1 s is over before its echo comes.
		{"two songs, a gap of 1 s", []Passage{s(0, 100, -14), s(100, 101, math.Inf(-1)), s(101, 200, -14)}, 1, 1},
		{"one loudness", []Passage{s(0, 100, -14), s(100, 200, -14)}, 0, 0},
		{"not quiet enough", []Passage{s(0, 100, -14), s(100, 104, -50), s(104, 200, -14)}, 0, 0},
		{"nothing", nil, 0, 0},
		{"no numbers", []Passage{s(0, 100, math.NaN()), s(100, 200, -14)}, 0, 0},
	} {
		before, after := 0, 0
		for _, e := range c90.Echoes(c.side, true, EchoContrast) {
			if e.Before {
				before++
			} else {
				after++
			}
		}
		if before != c.before || after != c.after {
			t.Errorf("%s: %d before and %d after, want %d and %d", c.what, before, after, c.before, c.after)
		}
	}
}

// At the ends of the tape and at the hub there is nothing to print on.
func TestPrintDelayAtTheEnds(t *testing.T) {
	c60, _ := Named("C60")
	for _, c := range []struct {
		what            string
		at              time.Duration
		outside, before bool
		ok              bool
	}{
		{"before the first sound", time.Second, true, true, false},
		{"after the first sound", time.Second, true, false, true},
		{"after the last sound", c60.Side - time.Second, true, false, false},
		{"before the last sound", c60.Side - time.Second, true, true, true},
		{"before the first sound, at the hub", time.Second, false, true, false},
	} {
		if _, _, ok := c60.PrintDelay(c.at, c.outside, c.before); ok != c.ok {
			t.Errorf("%s: %v, want %v", c.what, ok, c.ok)
		}
	}
}

// The same shout given in blocks of 100 ms, as a meter gives it, is the same echo.
func TestEchoOfBlocks(t *testing.T) {
	c90, _ := Named("C90")
	var blocks []Passage
	for i := range 400 {
		lufs := -60.0
		if i >= 200 && i < 205 {
			lufs = -12
		}
		at := 100 + float64(i)/10
		blocks = append(blocks, Passage{seconds(at), seconds(at + 0.1), lufs})
	}
	whole := []Passage{{seconds(100), seconds(120), -60}, {seconds(120), seconds(120.5), -12}, {seconds(120.5), seconds(140), -60}}
	a, b := c90.Echoes(whole, true, EchoContrast), c90.Echoes(blocks, true, EchoContrast)
	if len(a) != 2 || len(b) != 2 {
		t.Fatalf("%d echoes of the whole, %d of the blocks, want 2 and 2", len(a), len(b))
	}
	for i := range a {
		near(t, "from s", b[i].From.Seconds(), a[i].From.Seconds(), 1e-6)
		near(t, "to s", b[i].To.Seconds(), a[i].To.Seconds(), 1e-6)
		near(t, "delay s", b[i].Delay.Seconds(), a[i].Delay.Seconds(), 1e-3)
	}
}

// Law: every echo falls on a passage that is quieter by the contrast, and its
// delay is one turn of the pack, between 1.4 s and that of the full pack.
func TestEchoLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tp := anyTape(t)
		outside := rapid.Bool().Draw(t, "outside")
		var side []Passage
		at := 0.0
		for at < tp.Side.Seconds() && len(side) < 200 {
			long := rapid.Float64Range(0.1, 20).Draw(t, "long")
			side = append(side, Passage{seconds(at), seconds(at + long), rapid.Float64Range(-80, -5).Draw(t, "lufs")})
			at += long
		}
		for _, e := range tp.Echoes(side, outside, 20) {
			least, most := TurnTime(tp.Hub-1).Seconds(), TurnTime(tp.FullRadius()+1).Seconds()
			if d := e.Delay.Seconds(); d < least || d > most {
				t.Fatalf("a delay of %g s, outside %g to %g", d, least, most)
			}
			if e.To < e.From || e.Contrast < 20 || e.From < 0 || e.To > tp.Side+time.Microsecond || e.Before && e.Loud < e.From {
				t.Fatalf("%+v", e)
			}
			want := turnAway(tp, e.Loud.Seconds(), outside, outside == e.Before)
			if got := e.Loud.Seconds() - e.Delay.Seconds(); e.Before && math.Abs(got-want) > 1e-4 {
				t.Fatalf("falls at %g, want %g", got, want)
			}
		}
	})
}

// A side of blocks of 100 ms, loud and quiet by turns: what a meter gives.
func BenchmarkEchoes(b *testing.B) {
	c120, _ := Named("C120")
	var side []Passage
	for i := range 36000 {
		at := time.Duration(i) * 100 * time.Millisecond
		side = append(side, Passage{at, at + 100*time.Millisecond, -14 - 30*float64(i/50%2)})
	}
	b.ReportAllocs()
	for b.Loop() {
		if len(c120.Echoes(side, true, 25)) == 0 {
			b.Fatal("none found")
		}
	}
}
