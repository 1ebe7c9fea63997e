package planner

import (
	"math"
	"testing"
	"time"

	"longside/media/meter"
)

// Worked by hand: a track from 0:10 that lasts 3 s, of a course in steps of 1 s at
// -20, -30 and silence, brought up by 4 dB; the next begins 1 s before it ends.
func TestCourses(t *testing.T) {
	sec := func(s float64) Seconds { return Seconds(s * float64(time.Second)) }
	level := func(trim, peak, at float64, course ...byte) *TrackLevel {
		return &TrackLevel{TrimDB: trim, MeterMaxDBFS: peak, MeterMaxS: sec(at), CourseStepS: sec(1), Course: course}
	}
	s := Side{Side: "A", RunS: sec(60), Tracks: []Track{
		{Title: "a", StartS: sec(10), LengthS: sec(3), Level: level(4, -6, 2, 80, 60, 0)},
		{Title: "b", StartS: sec(12), LengthS: sec(2), Level: level(0, -3, 1, 100, 100)},
		{Title: "c", StartS: sec(20), LengthS: sec(2)},
	}}
	got := s.Courses()
	if len(got) != 2 || got[0].From != sec(10) || got[0].Step != sec(1) || len(got[0].LUFS) != 2 || len(got[1].LUFS) != 2 {
		t.Fatalf("%+v", got)
	}
	for i, want := range []float64{-16, -26} { // 80 halves of an LU over -60 are -20, and 4 dB more
		if math.Abs(got[0].LUFS[i]-want) > 1e-9 {
			t.Errorf("second %d: %g LUFS, want %g", i, got[0].LUFS[i], want)
		}
	}
	// a reads -6 + 4 = -2 at 0:12, b -3 at 0:13.
	if at, ok := (Plan{}).LoudestOn(1, s); !ok || at != sec(12) {
		t.Errorf("loudest at %v, %v", at, ok)
	}
	s.Tracks[0].Level.TrimDB = 2
	if at, ok := (Plan{}).LoudestOn(1, s); !ok || at != sec(13) {
		t.Errorf("with less trim: loudest at %v, %v", at, ok)
	}
	if at, ok := (Plan{Setting: &LevelSetting{Tape: 1, Side: "A", AtS: sec(7)}}).LoudestOn(1, s); !ok || at != sec(7) {
		t.Errorf("with a setting: %v, %v", at, ok)
	}
	if _, ok := (Plan{}).LoudestOn(1, Side{Tracks: s.Tracks[2:]}); ok {
		t.Error("a loudest place where nothing was metered")
	}
	// Silence takes no trim, and the second part of a split piece begins within its course.
	part := Track{Title: "d", StartS: sec(5), LengthS: sec(2), Part: true, FromS: Exact(time.Second), SplitOf: &Stretch{}, Level: level(10, 0, 0, 80, 0, 60)}
	c := Side{Tracks: []Track{part}}.Courses()
	if len(c) != 1 || len(c[0].LUFS) != 2 || c[0].LUFS[0] != meter.CourseFloor || math.Abs(c[0].LUFS[1]+20) > 1e-9 {
		t.Errorf("%+v", c)
	}
	if _, ok := (Plan{}).LoudestOn(1, Side{Tracks: []Track{part}}); ok {
		t.Error("the loudest place is in the other part")
	}
}
