package planner

import (
	"math"
	"strings"
	"testing"
	"time"

	"longside/media/meter"
	"longside/planner/tape"
)

// twoSongs is a C60 with two loud songs on side A, a gap of 4 s between them,
// and one on side B.
func twoSongs() Plan {
	sec := func(s float64) Seconds { return Seconds(s * 1e9) }
	return Plan{Tapes: []Tape{{Name: "C60", LengthM: 85.725, ThicknessUM: 18, HubMM: 11, Sides: []Side{
		{Side: "A", RunS: sec(1800), Tracks: []Track{
			{Title: "Mooring Lines", StartS: sec(7), LengthS: sec(200), GapS: sec(4)},
			{Title: "Slow Swell", StartS: sec(211), LengthS: sec(200)},
		}},
		{Side: "B", RunS: sec(1800), Tracks: []Track{{Title: "Gangway", StartS: sec(7), LengthS: sec(60)}}},
	}}}}
}

func loudEnds(Track) (meter.Result, bool) {
	return meter.Result{Opening: -12, Closing: -14}, true
}

// The gap from 3:27 to 3:31 lies on side A of a tape stored rewound: r^2 there is
// 612.1 - 0.047625 x 211 x 18/pi = 554.5, r = 23.55 mm, one turn 2 pi 23.55 / 47.625
// = 3.11 s. On side B the start lies at the hub: r^2 = 121 + 0.047625 x 7 x 18/pi,
// r = 11.09 mm, 1.46 s.
func TestEchoesInGaps(t *testing.T) {
	found := Echoes(twoSongs(), loudEnds, tape.Rewound)
	type want struct {
		side, track string
		before      bool
		at, delay   float64
	}
	wants := []want{
		{"A", "Mooring Lines", true, 7 - 3.25, 3.25},
		{"A", "Mooring Lines", false, 207, 3.11},
		{"A", "Slow Swell", true, 211 - 3.11, 3.11},
		{"A", "Slow Swell", false, 411, 2.97},
		{"B", "Gangway", true, 7 - 1.46, 1.46},
		{"B", "Gangway", false, 67, 1.57},
	}
	if len(found) != len(wants) {
		t.Fatalf("%d echoes, want %d: %+v", len(found), len(wants), found)
	}
	for i, w := range wants {
		e := found[i]
		if e.Side != w.side || e.Track != w.track || e.Before != w.before ||
			math.Abs(e.AtS.D().Seconds()-w.at) > 0.02 || math.Abs(e.DelayS.D().Seconds()-w.delay) > 0.02 {
			t.Errorf("echo %d: %s %q before=%v at %.2f by %.2f, want %+v", i, e.Side, e.Track, e.Before, e.AtS.D().Seconds(), e.DelayS.D().Seconds(), w)
		}
	}
	// The gap is -60, the meter's floor: 48 LU under an opening of -12.
	if math.Abs(found[2].RiseLU-48) > 1e-9 {
		t.Errorf("rise %g LU, want 48", found[2].RiseLU)
	}
	// Stored played, the start of A lies at the hub.
	if e := Echoes(twoSongs(), loudEnds, tape.Played)[0]; math.Abs(e.DelayS.D().Seconds()-1.46) > 0.02 {
		t.Errorf("stored played the first delay is %v, want 1.46 s", e.DelayS.D())
	}
}

func TestEchoesInTracks(t *testing.T) {
	// A shout at 60 s into the first track, 3.2 s after a quiet moment: one turn
	// at 67 s is 3.22 s on side A and 1.57 s on side B.
	shout := func(delay time.Duration) Levels {
		return func(tr Track) (meter.Result, bool) {
			if tr.Title == "Slow Swell" {
				return meter.Result{}, false
			}
			return meter.Result{Opening: -50, Closing: -50, LoudAfterQuiet: []meter.Contrast{
				{Delay: delay, At: 58 * time.Second, Loud: -10, Quiet: -58},
			}}, true
		}
	}
	for _, c := range []struct {
		delay time.Duration
		sides string
	}{{3200 * time.Millisecond, "A"}, {1600 * time.Millisecond, "B"}, {2500 * time.Millisecond, ""}} {
		got := ""
		for _, e := range Echoes(twoSongs(), shout(c.delay), tape.Rewound) {
			got += e.Side
			if !e.Before || e.LoudS != Seconds(65*time.Second) || e.RiseLU != 48 {
				t.Errorf("%v: %+v", c.delay, e)
			}
		}
		if got != c.sides {
			t.Errorf("a contrast of %v is heard on side %q, want %q", c.delay, got, c.sides)
		}
	}
	// The same place in a track that plays from later on lies outside of it.
	p := twoSongs()
	first := &p.Tapes[0].Sides[0].Tracks[0]
	first.Part, first.FromS, first.SplitOf = true, Exact(59*time.Second), &Stretch{}
	for _, e := range Echoes(p, shout(3200*time.Millisecond), tape.Rewound) {
		if e.Side == "A" {
			t.Errorf("an echo of what is not played: %+v", e)
		}
	}
}

func TestEchoWarnings(t *testing.T) {
	ws := EchoWarnings(twoSongs(), Echoes(twoSongs(), loudEnds, tape.Rewound), tape.Rewound)
	if len(ws) != 2 {
		t.Fatalf("%d warnings, want one a side: %+v", len(ws), ws)
	}
	if s := ws[0].Says; !strings.Contains(s, "may be heard") || !strings.Contains(s, "3.1 s before the loud passage of “Slow Swell” at 3:31") || !strings.Contains(s, "in 1 more place;") {
		t.Errorf("%q", s)
	}
	if ws[0].Severity != Remark || ws[0].Side != "A" || ws[0].Tape != 1 {
		t.Errorf("%+v", ws[0])
	}
	// Nothing known, nothing said; and a decibel figure is never made up.
	if none := Echoes(twoSongs(), func(Track) (meter.Result, bool) { return meter.Result{}, false }, tape.Rewound); len(none) > 0 {
		t.Errorf("%+v", none)
	}
	if strings.Contains(ws[0].Says, "dB") {
		t.Errorf("%q names a level", ws[0].Says)
	}
}
