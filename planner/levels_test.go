package planner

import (
	"math"
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

func TestAdviseLevels(t *testing.T) {
	cases := []struct {
		name  string
		heard []meter.Result
		set   int
		trims []float64
		held  []bool
	}{
		{"all the same", []meter.Result{heardAt(-14, -1), heardAt(-14, -1)}, 0, []float64{0, 0}, []bool{false, false}},
		// Median -14. The loud one comes down by 6 freely; the quiet one would go up by 4, has
		// 3 dB up to the side's highest peak (-1), and gets those.
		{"loud and quiet", []meter.Result{heardAt(-8, -1), heardAt(-14, -6), heardAt(-18, -4)}, 0, []float64{-6, 0, 3}, []bool{false, false, true}},
		// Never over full scale, whatever another track's peak is.
		{"over full scale", []meter.Result{heardAt(-10, 1), heardAt(-14, -5), heardAt(-22, -2)}, 0, []float64{-4, 0, 2}, []bool{false, false, true}},
		// No trim over 12 dB.
		{"hardly anything", []meter.Result{heardAt(-14, -1), heardAt(-14, -1), heardAt(-50, -40)}, 0, []float64{0, 0, 12}, []bool{false, false, true}},
		{"silence beside music", []meter.Result{{Channels: 2, Integrated: math.Inf(-1), MeterMax: math.Inf(-1), TruePeak: math.Inf(-1), TrebleMax: math.Inf(-1)}, heardAt(-14, -1)}, 1, []float64{0, 0}, []bool{false, false}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a, ok := AdviseLevels(c.heard, "I", 0)
			if !ok {
				t.Fatal("no advice")
			}
			if a.SetOn != c.set || a.SetAt != 40*time.Second {
				t.Errorf("set on %d from %v", a.SetOn, a.SetAt)
			}
			for i, tr := range a.Trims {
				if math.Abs(tr.DB-c.trims[i]) > 0.05 || tr.Held != c.held[i] {
					t.Errorf("track %d: trim %+v, want %v held %v", i, tr, c.trims[i], c.held[i])
				}
				if p := c.heard[i].TruePeak + tr.DB; tr.DB > 0 && p > 0 {
					t.Errorf("track %d is trimmed up to %+.1f dBTP", i, p)
				}
			}
		})
	}
	if _, ok := AdviseLevels(nil, "I", 0); ok {
		t.Error("advice on nothing")
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
	// -10 dBFS and 6 dB of crest, the highest peak of -1 set to +2: at -1 dB re 250.
	bright.TrebleMax = -10
	a, _ := AdviseLevels([]meter.Result{dull, bright}, "I", 0)
	if len(a.Treble) != 1 || a.Treble[0].Track != 1 || math.Abs(a.Treble[0].At+1) > 1e-9 {
		t.Errorf("%+v", a.Treble)
	}
	if a, _ := AdviseLevels([]meter.Result{bright}, "IV", 0); len(a.Treble) != 1 || a.Treble[0].Ceiling != 0 || math.Abs(a.Treble[0].At-1) > 1e-9 {
		t.Errorf("Type IV, set 2 dB higher: %+v", a.Treble)
	}
}

func TestWithLevels(t *testing.T) {
	level := func(lufs, peak float64) *TrackLevel { r := heardAt(lufs, peak); return LevelOf(&r) }
	p := Plan{Terms: Terms{TapeType: "I", Deck: &Deck{MeterZero: 200}}, Tapes: []Tape{{Name: "C60", Sides: []Side{
		{Side: "A", Tracks: []Track{
			{Title: "Lamp", StartS: Seconds(7 * time.Second), LengthS: Seconds(time.Minute), Level: level(-20, -6)},
			{Title: "Rope", StartS: Seconds(71 * time.Second), LengthS: Seconds(time.Minute), Level: level(-12, -1)}}},
		{Side: "B", Tracks: []Track{{Title: "a record", StartS: Seconds(7 * time.Second), LengthS: Seconds(time.Minute)}}},
	}}}}
	q := p.withLevels()
	if p.Tapes[0].Sides[0].Tracks[0].Level.TrimDB != 0 {
		t.Error("the plan that was given has changed")
	}
	a := q.Tapes[0].Sides[0].Tracks
	if a[0].Level == nil || a[0].Level.IntegratedLUFS != -20 || a[0].Level.TrimDB != 5 || q.Tapes[0].Sides[1].Tracks[0].Level != nil {
		t.Errorf("levels %+v", a[0].Level)
	}
	if len(q.Warnings) != 2 || !strings.Contains(q.Warnings[0].Says, "+4 to +5 dB where its 0 is 200 nWb/m") {
		t.Fatalf("%d notes: %+v", len(q.Warnings), q.Warnings)
	}
	w := q.Warnings[1]
	// 71 s and 40 s in.
	if w.Side != "A" || w.Track != "Rope" || w.AtS.D() != 111*time.Second || !strings.Contains(w.Says, "1:51") || !strings.Contains(w.Says, "8 LU") {
		t.Errorf("%+v", w)
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
	if len(c) != 5 || c[0].Title != "Ada - Lamp" || c[0].Gain != -1 || c[1].Gain != 2 || c[2].Gain != 0 {
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
