package planner

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"longside/planner/tape"
)

// courseOf is a course of 100 ms by a loudness at each.
func courseOf(d time.Duration, lufs func(i int) float64) ([]byte, Seconds) {
	b := make([]byte, d/(100*time.Millisecond))
	for i := range b {
		b[i] = byte(max(0, math.Round(2*(lufs(i)+60))))
	}
	return b, Seconds(100 * time.Millisecond)
}

// levelAt is a track's level with a course of one loudness.
func levelAt(d time.Duration, lufs float64) *TrackLevel {
	l := &TrackLevel{IntegratedLUFS: lufs, TruePeakDBTP: -1, MeterMaxDBFS: -3}
	l.Course, l.CourseStepS = courseOf(d, func(int) float64 { return lufs })
	return l
}

// twoSongs is a C60 with two loud songs on side A, a gap of 4 s between them,
// and one on side B.
func twoSongs() Plan {
	sec := func(s float64) Seconds { return Seconds(s * 1e9) }
	song := func(title string, at, length float64) Track {
		return Track{Title: title, StartS: sec(at), LengthS: sec(length), Level: levelAt(sec(length).D(), -12)}
	}
	p := Plan{Tapes: []Tape{{Name: "C60", LengthM: 85.725, ThicknessUM: 18, HubMM: 11, Sides: []Side{
		{Side: "A", RunS: sec(1800), Tracks: []Track{song("Mooring Lines", 7, 200), song("Slow Swell", 211, 200)}},
		{Side: "B", RunS: sec(1800), Tracks: []Track{song("Gangway", 7, 60)}},
	}}}}
	p.Tapes[0].Sides[0].Tracks[0].GapS = sec(4)
	return p
}

// The gap from 3:27 to 3:31 lies on side A of a tape stored rewound: r^2 there is
// 612.1 - 0.047625 x 211 x 18/pi = 554.5, r = 23.55 mm, one turn 2 pi 23.55 / 47.625
// = 3.11 s. On side B the start lies at the hub: r^2 = 121 + 0.047625 x 7 x 18/pi,
// r = 11.09 mm, 1.46 s.
func TestEchoesInGaps(t *testing.T) {
	found := Echoes(twoSongs(), tape.Rewound)
	type want struct {
		side, track string
		before      bool
		from, delay float64 // from where the blank can hold it
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
		at := e.AtS.D().Seconds()
		if e.Side != w.side || e.Track != w.track || e.Before != w.before ||
			at < w.from-0.02 || at > w.from+w.delay || math.Abs(e.DelayS.D().Seconds()-w.delay) > 0.02 {
			t.Errorf("echo %d: %s %q before=%v at %.2f by %.2f, want %+v", i, e.Side, e.Track, e.Before, at, e.DelayS.D().Seconds(), w)
		}
	}
	// The gap is -60, the meter's floor: 48 LU under -12.
	if math.Abs(found[2].RiseLU-48) > 1e-9 || math.Abs(found[2].Strength()-8.0/15) > 1e-9 {
		t.Errorf("rise %g LU, strength %g, want 48 and 8/15", found[2].RiseLU, found[2].Strength())
	}
	// Stored played, the start of A lies at the hub.
	if e := Echoes(twoSongs(), tape.Played)[0]; math.Abs(e.DelayS.D().Seconds()-1.46) > 0.02 {
		t.Errorf("stored played the first delay is %v, want 1.46 s", e.DelayS.D())
	}
}

// A track that quietens again and again has an echo at each shout, not at one.
func TestEveryEchoInATrack(t *testing.T) {
	p := twoSongs()
	s := &p.Tapes[0].Sides[0]
	s.Tracks = s.Tracks[:1]
	// Half a second of shout every 20 s, the first at 10 s, over a hum of -55.
	s.Tracks[0].Level.Course, _ = courseOf(200*time.Second, func(i int) float64 {
		if i%200 >= 100 && i%200 < 105 {
			return -10
		}
		return -55
	})
	before, after := 0, 0
	for _, e := range Echoes(p, tape.Rewound) {
		if e.Side != "A" || e.RiseLU < 44 {
			continue
		}
		if math.Abs(e.RiseLU-45) > 1e-9 || math.Mod(e.LoudS.D().Seconds()-7, 20) < 9.99 || math.Mod(e.LoudS.D().Seconds()-7, 20) > 10.5 {
			t.Errorf("%+v", e)
		}
		if e.Before {
			before++
		} else {
			after++
		}
	}
	if before != 10 || after != 10 {
		t.Errorf("%d echoes before and %d after ten shouts", before, after)
	}
	// A part that begins 100 s in has the later five; a track of unknown level none.
	first := &s.Tracks[0]
	first.Part, first.FromS, first.SplitOf, first.LengthS = true, Exact(100*time.Second), &Stretch{}, Seconds(100*time.Second)
	n := 0
	for _, e := range Echoes(p, tape.Rewound) {
		if e.Side == "A" && e.Before {
			n++
			if e.LoudS > Seconds(107*time.Second) {
				t.Errorf("beyond the part: %+v", e)
			}
		}
	}
	if n != 5 {
		t.Errorf("%d echoes before in half the track, want 5", n)
	}
}

// The places found on random sides, against a tape wound turn by turn: this
// judge knows no square root, it adds up circumferences.
func TestEchoesByWinding(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 8))
	places := 0
	for round := range 12 {
		const step = 0.1
		length := 200 + 300*rng.Float64()
		n := int(length / step)
		loud := make([]float64, n)
		for i := 0; i < n; {
			v := -58 + 50*rng.Float64()
			for k := 3 + rng.IntN(60); k > 0 && i < n; k, i = k-1, i+1 {
				loud[i] = math.Round(2*v) / 2
			}
		}
		um, hub := []float64{9, 12, 18}[rng.IntN(3)], 11.0
		metres := 40 + 80*rng.Float64()
		p := Plan{Tapes: []Tape{{Name: "X", LengthM: metres, ThicknessUM: um, HubMM: hub}}}
		tr := Track{Title: "all", StartS: 0, LengthS: Seconds(float64(n) * step * 1e9), Level: &TrackLevel{}}
		tr.Level.Course, tr.Level.CourseStepS = courseOf(tr.LengthS.D(), func(i int) float64 { return loud[i] })
		p.Tapes[0].Sides = []Side{{Side: "B", RunS: Seconds(metres / 0.047625 * 1e9), Tracks: []Track{tr}}}
		// Side B of a tape stored rewound begins at the hub: turn after turn outwards.
		// turn[i] is where the i-th turn ends, in seconds.
		var turn []float64
		for at, k := 0.0, 0; at < metres*1000; k++ {
			at += 2 * math.Pi * (hub + (float64(k)+0.5)*um/1000)
			turn = append(turn, at/47.625)
		}
		outward := func(s float64) (float64, bool) { // the same angle, one turn further out
			from := 0.0
			for i := 0; i+1 < len(turn); i++ {
				if s < turn[i] {
					part := (s - from) / (turn[i] - from)
					return turn[i] + part*(turn[i+1]-turn[i]), true
				}
				from = turn[i]
			}
			return 0, false
		}
		at := func(s float64) float64 {
			if i := int(s / step); i < n {
				return loud[i]
			}
			return -60
		}
		// Every moment on a fine grid: which are echoes, before and after.
		want := map[bool][]float64{}
		for s := 0.0; s < length; s += 0.01 {
			if o, ok := outward(s); ok && o*0.047625 < metres {
				if at(o)-at(s) >= tape.EchoContrast {
					want[true] = append(want[true], s)
				}
				if at(s)-at(o) >= tape.EchoContrast {
					want[false] = append(want[false], o)
				}
			}
		}
		found := Echoes(p, tape.Rewound)
		places += len(found)
		for _, before := range []bool{true, false} {
			// Stretches of the judge: what lies within the join of a second is one place.
			var spans [][2]float64
			for _, s := range want[before] {
				if k := len(spans) - 1; k >= 0 && s-spans[k][1] < 1 {
					spans[k][1] = s
				} else {
					spans = append(spans, [2]float64{s, s})
				}
			}
			met := make([]bool, len(spans))
			for _, e := range found {
				if e.Before != before {
					continue
				}
				ok := false
				for i, sp := range spans {
					if x := e.AtS.D().Seconds(); x > sp[0]-0.05 && x < sp[1]+0.05 {
						ok, met[i] = true, true
					}
				}
				if !ok {
					t.Errorf("round %d: an echo at %v that the winding does not have: %+v", round, e.AtS.D(), e)
				}
			}
			for i, sp := range spans {
				if !met[i] && sp[1]-sp[0] > 0.15 { // shorter ones are not named
					t.Errorf("round %d: no echo found from %.2f to %.2f s (before: %v)", round, sp[0], sp[1], before)
				}
			}
		}
	}
	if places < 50 {
		t.Errorf("only %d echoes in all: this tests nothing", places)
	}
}

func TestEchoWarnings(t *testing.T) {
	ws := EchoWarnings(twoSongs(), Echoes(twoSongs(), tape.Rewound), tape.Rewound)
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
	unknown := twoSongs()
	for _, tr := range unknown.tracks() {
		tr.Level = nil
	}
	if none := Echoes(unknown, tape.Rewound); len(none) > 0 {
		t.Errorf("%+v", none)
	}
	if strings.Contains(ws[0].Says, "dB") {
		t.Errorf("%q names a level", ws[0].Says)
	}
}
