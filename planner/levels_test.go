package planner

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"longside/media"
	"longside/media/meter"
)

// heardAt is a stereo track of a loudness and a true peak.
func heardAt(lufs, peak float64) meter.Result {
	return meter.Result{Channels: 2, Rate: 44100, Samples: 44100, Integrated: lufs, MeterMax: peak - 2, TruePeak: peak,
		MeterMaxAt: 40 * time.Second, LoudestAt: 30 * time.Second, TrebleMax: -40}
}

func levelOf(lufs, peak float64) *TrackLevel { r := heardAt(lufs, peak); return LevelOf(&r) }

func TestAdviseLevels(t *testing.T) {
	lufs := func(v float64) *float64 { return &v }
	cases := []struct {
		name    string
		heard   []*TrackLevel
		terms   LevelTerms
		set     int
		trims   []float64
		held    []bool
		lowered float64
	}{
		{"all the same", []*TrackLevel{levelOf(-14, -1), levelOf(-14, -1)}, LevelTerms{HeadroomDB: 1}, 0, []float64{0, 0}, []bool{false, false}, 0},
		// Middle -14. The quiet one goes up by 4, its peak to 0: for 1 dB of headroom all go down by 1.
		{"loud and quiet", []*TrackLevel{levelOf(-8, -1), levelOf(-14, -6), levelOf(-18, -4)}, LevelTerms{HeadroomDB: 1}, 2, []float64{-7, -1, 3}, []bool{false, false, false}, 1},
		// A target of one's own: -16 takes -8, -2, +2; peaks -9, -8, -2 have room.
		{"a target", []*TrackLevel{levelOf(-8, -1), levelOf(-14, -6), levelOf(-18, -4)}, LevelTerms{HeadroomDB: 1, LoudnessLUFS: lufs(-16)}, 2, []float64{-8, -2, 2}, []bool{false, false, false}, 0},
		// Full scale and over: down to -3 dBTP.
		{"over full scale", []*TrackLevel{levelOf(-14, 1.2), levelOf(-14, -5)}, LevelTerms{HeadroomDB: 3}, 0, []float64{-4.2, -4.2}, []bool{false, false}, 4.2},
		{"as they are", []*TrackLevel{levelOf(-8, 1), levelOf(-14, -6)}, LevelTerms{HeadroomDB: 1, AsTheyAre: true}, 0, []float64{0, 0}, []bool{false, false}, 0},
		// No trim over 12 dB.
		{"hardly anything", []*TrackLevel{levelOf(-14, -1), levelOf(-14, -1), levelOf(-50, -40)}, LevelTerms{HeadroomDB: 1}, 0, []float64{0, 0, 12}, []bool{false, false, true}, 0},
		{"silence beside music", []*TrackLevel{nil, levelOf(-14, -1)}, LevelTerms{HeadroomDB: 1}, 1, []float64{0, 0}, []bool{false, false}, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a, ok := AdviseLevels(c.heard, c.terms, "I")
			if !ok {
				t.Fatal("no advice")
			}
			if a.SetOn != c.set || a.SetAt != 40*time.Second {
				t.Errorf("set on %d from %v", a.SetOn, a.SetAt)
			}
			if math.Abs(a.Terms.LoweredDB-c.lowered) > 1e-9 {
				t.Errorf("lowered by %g dB, want %g", a.Terms.LoweredDB, c.lowered)
			}
			for i, tr := range a.Trims {
				if math.Abs(tr.DB-c.trims[i]) > 1e-9 || tr.Held != c.held[i] {
					t.Errorf("track %d: trim %+v, want %v held %v", i, tr, c.trims[i], c.held[i])
				}
			}
			// The place and its readings are one setting with the tone.
			on := c.heard[a.SetOn]
			if want := on.MeterMaxDBFS + a.Trims[a.SetOn].DB; math.Abs(a.SetDBFS-want) > 1e-9 {
				t.Errorf("the place reads %g, want %g", a.SetDBFS, want)
			}
			for _, r := range a.Readings {
				if math.Abs(a.SetDBFS-r.ToneDBFS-r.DB) > 0.051 {
					t.Errorf("with the tone of %g dBFS at 0 the place reads %g, want %g", r.ToneDBFS, a.SetDBFS-r.ToneDBFS, r.DB)
				}
			}
		})
	}
	if _, ok := AdviseLevels(nil, LevelTerms{}, "I"); ok {
		t.Error("advice on nothing")
	}
}

// On random mixes: no peak, trimmed, passes the headroom, overlaps counted; no
// more is taken off than that needs; and the setting is the place that reads most.
func TestTrimsKeepHeadroom(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 4))
	for range 300 {
		var p Plan
		headroom := float64(rng.IntN(7))
		p.Terms.Levels = &LevelTerms{HeadroomDB: headroom}
		p.Tapes = make([]Tape, 1+rng.IntN(2))
		for i := range p.Tapes {
			p.Tapes[i].Sides = []Side{{Side: "A"}, {Side: "B"}}
			for si := range p.Tapes[i].Sides {
				s := &p.Tapes[i].Sides[si]
				for k := range 1 + rng.IntN(4) {
					peak := math.Round(-80+830*rng.Float64()*0.1) / 10
					l := levelOf(-30+22*rng.Float64(), peak)
					l.MeterMaxS = Seconds(rng.IntN(60)) * Seconds(time.Second)
					gap := Seconds(4 * time.Second)
					if rng.IntN(3) == 0 {
						gap = -Seconds(3 * time.Second)
					}
					s.Tracks = append(s.Tracks, Track{Title: "t", StartS: Seconds(k) * Seconds(64*time.Second), LengthS: Seconds(time.Minute), GapS: gap, Level: l})
				}
			}
		}
		q := p.withLevels()
		highest, most := -1000.0, -1000.0
		for _, tp := range q.Tapes {
			for _, s := range tp.Sides {
				for k, tr := range s.Tracks {
					here := math.Pow(10, (tr.Level.TruePeakDBTP+tr.Level.TrimDB)/20)
					if k > 0 && s.Tracks[k-1].GapS < 0 {
						// The worst moment of an equal-power crossing, by trying all.
						b := s.Tracks[k-1].Level
						other := math.Pow(10, (b.TruePeakDBTP+b.TrimDB)/20)
						worst := 0.0
						for x := 0.0; x <= math.Pi/2; x += 0.001 {
							worst = max(worst, other*math.Cos(x)+here*math.Sin(x))
						}
						here = max(here, worst)
					}
					highest = max(highest, 20*math.Log10(here))
					most = max(most, tr.Level.MeterMaxDBFS+tr.Level.TrimDB)
				}
			}
		}
		if highest > -headroom+0.01 {
			t.Fatalf("a peak of %.2f dBTP with %g dB of headroom asked for: %+v", highest, headroom, q.Terms.Levels)
		}
		if q.Terms.Levels.LoweredDB > 0 && highest < -headroom-0.12 {
			t.Fatalf("the highest peak is %.2f dBTP, lower than %g dB of headroom need", highest, headroom)
		}
		s := q.Setting
		if math.Abs(s.PlaceDBFS-most) > 0.051 {
			t.Fatalf("set on a place of %g dBFS, and one reads %g", s.PlaceDBFS, most)
		}
		for _, tr := range q.Tapes[s.Tape-1].Sides[s.Side[0]-'A'].Tracks {
			if tr.StartS+tr.Level.MeterMaxS == s.AtS && math.Abs(tr.Level.MeterMaxDBFS+tr.Level.TrimDB-most) > 0.051 {
				t.Fatalf("%+v is not the place of %g", s, most)
			}
		}
	}
}

// Once some is recorded the rest keeps to its loudness and lowering: a trim on
// the tape cannot change any more.
func TestTrimsAfterARecording(t *testing.T) {
	r := request(t, "C60", mix(700, 700, 500, 340, 300))
	levels := [][2]float64{{-10, -0.5}, {-16, -2}, {-13, -1}, {-20, -3}, {-30, -1}}
	for i, l := range levels {
		h := heardAt(l[0], l[1])
		r.Mix.Items[i].Heard = &h
	}
	r.Levels = LevelTerms{HeadroomDB: 1}
	p := make1(t, r)
	// Middle -16: the last goes up by 12, to +11, so that all are 12 lower.
	if l := p.Terms.Levels; *l.LoudnessLUFS != -16 || l.LoweredDB != 12 {
		t.Fatalf("%+v", l)
	}
	first := side(p, 0).Tracks[0].Level.TrimDB
	q := replanned(t, p, "A:1", nil)
	if got := side(q, 0).Tracks[0].Level.TrimDB; got != first || *q.Terms.Levels.LoudnessLUFS != -16 || q.Terms.Levels.LoweredDB != 12 {
		t.Errorf("recorded with %g dB, now %g: %+v", first, got, q.Terms.Levels)
	}
	// A louder peak that comes in only now is held down alone.
	l := q.Terms.Levels
	tracks := []levelled{{TrackLevel: levelOf(-14, -1), placed: true, kept: true}, {TrackLevel: levelOf(-40, -0.3), placed: true}}
	l.LoweredDB = 2
	l.trim(tracks)
	if tracks[1].TrimDB != -0.7 || !tracks[1].held || l.LoweredDB != 2 {
		t.Errorf("%+v %+v", tracks[1].TrimDB, l)
	}
}

// Meter conventions: the same flux reads higher where 0 means less flux. By
// arithmetic 250 nWb/m is 20 log10(250/200) = 1.9 dB over 200, and 3.9 over 160.
func TestMeterPeaks(t *testing.T) {
	for _, typ := range []string{"I", "II", "IV"} {
		all := MeterPeaks(typ, 0)
		if len(all) != 3 {
			t.Fatalf("%d conventions", len(all))
		}
		for _, m := range all {
			flux := 20 * math.Log10(float64(m.ZeroNWb)/250)
			if at := m.Low + flux; at < all[0].Low-0.1 || at > all[0].High+2.1 {
				t.Errorf("Type %s, 0 at %d nWb/m: %+.1f dB is %+.1f re 250, the others say %+.0f", typ, m.ZeroNWb, m.Low, at, all[0].Low)
			}
		}
		if one := MeterPeaks(typ, 200); len(one) != 1 || one[0].ZeroNWb != 200 {
			t.Errorf("asked for 200: %v", one)
		}
	}
}

func TestTrebleAdvice(t *testing.T) {
	bright, dull := heardAt(-14, -1), heardAt(-14, -1)
	// -12 dBFS and 6 dB of crest, the place that reads -3 set to +2: at -1 dB re 250.
	bright.TrebleMax = -12
	a, _ := AdviseLevels([]*TrackLevel{LevelOf(&dull), LevelOf(&bright)}, LevelTerms{}, "I")
	if len(a.Treble) != 1 || a.Treble[0].Track != 1 || math.Abs(a.Treble[0].At+1) > 1e-9 {
		t.Errorf("%+v", a.Treble)
	}
	if a, _ := AdviseLevels([]*TrackLevel{LevelOf(&bright)}, LevelTerms{}, "IV"); len(a.Treble) != 1 || a.Treble[0].Ceiling != 0 || math.Abs(a.Treble[0].At-1) > 1e-9 {
		t.Errorf("Type IV, set 2 dB higher: %+v", a.Treble)
	}
}

// One place for the whole mix, by what a peak meter shows, trims counted; with
// each type of tape and each meter its reading.
func TestWithLevels(t *testing.T) {
	p := Plan{Terms: Terms{TapeType: "I", Deck: &Deck{MeterZero: 200}}, Tapes: []Tape{{Name: "C60", Sides: []Side{
		{Side: "A", Tracks: []Track{
			{Title: "Lamp", StartS: Seconds(7 * time.Second), LengthS: Seconds(time.Minute), Level: levelOf(-20, -6)},
			{Title: "Rope", StartS: Seconds(71 * time.Second), LengthS: Seconds(time.Minute), Level: levelOf(-12, -1)}}},
		{Side: "B", Tracks: []Track{{Title: "a record", StartS: Seconds(7 * time.Second), LengthS: Seconds(time.Minute)},
			{Title: "Swell", StartS: Seconds(71 * time.Second), LengthS: Seconds(time.Minute), Level: levelOf(-18, -3)}}},
	}}}}
	q := p.withLevels()
	if p.Tapes[0].Sides[0].Tracks[0].Level.TrimDB != 0 || p.Terms.Levels != nil {
		t.Error("the plan that was given has changed")
	}
	// Middle -18: +2, -6, 0; peaks of -4, -7, -3: no lowering. Meters -6, -9, -5.
	a, b := q.Tapes[0].Sides[0].Tracks, q.Tapes[0].Sides[1].Tracks
	if a[0].Level.TrimDB != 2 || a[1].Level.TrimDB != -6 || b[0].Level != nil || b[1].Level.TrimDB != 0 {
		t.Errorf("levels %+v %+v %+v", a[0].Level, a[1].Level, b[1].Level)
	}
	// 71 s and 40 s in; +4 where 0 is 200 nWb/m, so that a tone at 0 lies at -9.
	want := LevelSetting{Tape: 1, Side: "B", Track: "Swell", AtS: Seconds(111 * time.Second), InTrackS: Seconds(40 * time.Second), PlaceDBFS: -5,
		Readings: []Reading{{"I", 200, 4, -9}}}
	if !reflect.DeepEqual(*q.Setting, want) {
		t.Errorf("%+v, want %+v", *q.Setting, want)
	}
	if len(q.Warnings) != 2 || !strings.Contains(q.Warnings[0].Says, "“Swell” from a little before 0:40 (side B at 1:51)") ||
		!strings.Contains(q.Warnings[0].Says, "+4 dB where the meter's 0 is 200 nWb/m") || !strings.Contains(q.Warnings[1].Says, "8 LU") {
		t.Fatalf("%d notes: %+v", len(q.Warnings), q.Warnings)
	}
	// As they are, the loudest is another; a meter that is not known has three readings.
	p.Terms.Levels, p.Terms.Deck = &LevelTerms{AsTheyAre: true}, nil
	p.Tapes = append(p.Tapes, Tape{Name: "C60", Type: "IV"})
	q = p.withLevels()
	if s := q.Setting; s.Track != "Rope" || s.PlaceDBFS != -3 || len(s.Readings) != 6 || s.For("IV") != (Reading{"IV", 250, 4, -7}) || s.For("I") != (Reading{"I", 250, 2, -5}) {
		t.Errorf("%+v", q.Setting)
	}
	if says := q.SettingSays(); !strings.Contains(says, "Type I: +2, +4 or +6 dB where the meter's 0 is 250, 200 or 160 nWb/m; Type IV: +4, +6 or +8 dB") {
		t.Error(says)
	}
	// The place of a piece that was split lies in its first part alone.
	whole := levelOf(-12, -1)
	whole.Course, whole.CourseStepS = courseOf(100*time.Second, func(i int) float64 { return map[bool]float64{true: -10, false: -16}[i < 600] })
	half := Track{LengthS: Seconds(40 * time.Second), Level: whole, Part: true, FromS: Exact(60 * time.Second), SplitOf: &Stretch{}}
	if at, db, ok := half.meterPlace(); !ok || at != 0 || db != -9 { // 6 LU under the first part's -3
		t.Errorf("the second part moves the meter at %v to %g", at.D(), db)
	}
}

// What a plan keeps of a track's levels comes back from its file, and is all
// that another plan needs.
func TestLevelsTravel(t *testing.T) {
	r := heardAt(-17.34, -0.26)
	r.Lead, r.Tail = 1234567*time.Microsecond, 2999999*time.Microsecond
	r.Treble, r.TrebleMax = math.Inf(-1), -33.33
	r.Course = meter.Course{Step: 100 * time.Millisecond, Levels: []byte{0, 1, 80, 255}}
	l := LevelOf(&r)
	p := Plan{Format: Format, Version: Version, Terms: Terms{Order: "keep", Spare: "last", Limit: "short"}, LeftOut: []Track{{Title: "Lamp", LengthFrom: media.Header, Level: l}}}
	data, err := Encode(p)
	if err != nil {
		t.Fatal(err)
	}
	q, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	back := q.LeftOut[0].Level
	if !reflect.DeepEqual(back, l) {
		t.Errorf("%+v came back as %+v", l, back)
	}
	if got := LevelOf(q.LeftOut[0].item().Heard); !reflect.DeepEqual(got, l) {
		t.Errorf("%+v planned again is %+v", l, got)
	}
	if l.LeadSilenceS != Seconds(1234*time.Millisecond) || l.IntegratedLUFS != -17.3 {
		t.Errorf("%+v", l)
	}
	for _, bad := range []TrackLevel{{TruePeakDBTP: 1e9}, {LeadSilenceS: -Seconds(time.Second)}, {Course: []byte{1}}, {Course: make([]byte, meter.CourseMost+1), CourseStepS: Seconds(time.Second)}} {
		p.LeftOut[0].Level = &bad
		data, _ := Encode(p)
		if _, err := Decode(data); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%+v was read: %v", bad, err)
		}
	}
}

// The courses of a plan are bounded together, the finest first.
func TestBoundCourses(t *testing.T) {
	p := Plan{LeftOut: []Track{{}, {Level: &TrackLevel{CourseStepS: Seconds(100 * time.Millisecond), Course: make([]byte, 1000)}},
		{Level: &TrackLevel{CourseStepS: Seconds(400 * time.Millisecond), Course: make([]byte, 300)}}}}
	p.boundCourses(1300)
	if n := len(p.LeftOut[1].Level.Course); n != 1000 {
		t.Errorf("within the bound, yet %d", n)
	}
	p.boundCourses(600)
	a, b := p.LeftOut[1].Level, p.LeftOut[2].Level
	if len(a.Course) != 250 || a.CourseStepS != Seconds(400*time.Millisecond) || len(b.Course) != 300 {
		t.Errorf("%d of %v and %d of %v", len(a.Course), a.CourseStepS.D(), len(b.Course), b.CourseStepS.D())
	}
}

func TestCues(t *testing.T) {
	sec := func(s float64) Seconds { return Seconds(s * float64(time.Second)) }
	s := Side{Tracks: []Track{
		{Path: "a.flac", Title: "Lamp", Artist: "Ada", StartS: sec(7), LengthS: sec(60.001), Joined: true},
		{Path: "b.flac", Title: "Rope", StartS: sec(67.001), LengthS: sec(50)},
		{Title: "a record", StartS: sec(121.001), LengthS: sec(180)},
		{Path: "c.mp3", Title: "Long", StartS: sec(305), LengthS: sec(756), FadeS: sec(4)},
		{Path: "d.mp3", Title: "Half", StartS: sec(1065), LengthS: sec(100), Part: true, FromS: Exact(200 * time.Second), SplitOf: &Stretch{}},
	}}
	c := s.Cues([]float64{-1, 2})
	if len(c) != 5 || c[0].Label() != "Ada - Lamp" || c[0].Performer != "Ada" || c[0].Gain != -1 || c[1].Gain != 2 || c[2].Gain != 0 {
		t.Fatalf("%+v", c)
	}
	if c[0].Joined || !c[1].Joined || c[2].Joined {
		t.Error("the second is joined to the first, no other")
	}
	if c[0].Length != 0 || c[1].Length != 0 || c[2].Length != 180*time.Second || c[2].Path != "" {
		t.Error("whole files are played to their end, silence as long as planned")
	}
	if c[3].Length != 756*time.Second || c[3].Fade != 6*time.Second || c[4].Skip != 200*time.Second || c[4].Length != 100*time.Second {
		t.Errorf("shortened and split: %+v %+v", c[3], c[4])
	}
	starts := []time.Duration{}
	for _, x := range c {
		starts = append(starts, x.Start)
	}
	if !slices.IsSorted(starts) || starts[3] != 305*time.Second {
		t.Errorf("starts %v", starts)
	}
}
