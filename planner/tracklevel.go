package planner

import (
	"errors"
	"fmt"
	"math"
	"time"

	"longside/media/meter"
)

// TrackLevel is what a plan keeps of what the meter found in a track, as it will
// lie on the tape; times are from the start of its file. It is all that a later
// command knows of it. Levels are to a tenth.
type TrackLevel struct {
	IntegratedLUFS float64 `json:"integrated_lufs"`
	TruePeakDBTP   float64 `json:"true_peak_dbtp"`
	LoudestS       Seconds `json:"loudest_s"` // where the loudest 400 ms begin
	// TrimDB is the gain that brings the tracks of the mix to one loudness, the
	// lowering of the whole mix in it (see LevelTerms).
	TrimDB float64 `json:"trim_db"`

	MeterMaxDBFS  float64 `json:"meter_max_dbfs"` // the most that a peak meter reads; see meter.Result
	MeterMaxS     Seconds `json:"meter_max_s"`    // where
	TrebleDB      float64 `json:"treble_db"`      // see meter.Result; noTreble: none
	TrebleMaxDBFS float64 `json:"treble_max_dbfs"`
	LeadSilenceS  Seconds `json:"lead_silence_s"`
	TailSilenceS  Seconds `json:"tail_silence_s"`

	// Course is a meter.Course: a byte a step, in halves of an LU above -60 LUFS.
	// In the file it is base64 (RFC 4648).
	CourseStepS Seconds `json:"course_step_s,omitempty"`
	Course      []byte  `json:"course,omitempty"`
}

// noTreble stands for a level that cannot be given: JSON knows no infinity.
const noTreble = -200.0

// LevelOf is what a plan keeps of the meter's findings; nil when nothing was
// heard, or only silence.
func LevelOf(r *meter.Result) *TrackLevel {
	if r == nil || math.IsInf(r.Integrated, 0) || math.IsInf(r.TruePeak, 0) {
		return nil
	}
	// Blanks are cut by these: no sound is to be lost by rounding.
	down := func(d time.Duration) Seconds { return Seconds(d.Truncate(time.Millisecond)) }
	return &TrackLevel{
		IntegratedLUFS: round1(r.Integrated), TruePeakDBTP: round1(r.TruePeak), LoudestS: down(r.LoudestAt),
		MeterMaxDBFS: round1(r.MeterMax), MeterMaxS: down(r.MeterMaxAt),
		TrebleDB: round1(max(r.Treble, noTreble)), TrebleMaxDBFS: round1(max(r.TrebleMax, noTreble)),
		LeadSilenceS: down(r.Lead), TailSilenceS: down(r.Tail),
		CourseStepS: Seconds(r.Course.Step), Course: r.Course.Levels,
	}
}

// heard is the reverse of LevelOf, as far as a plan needs it.
func (l *TrackLevel) heard() *meter.Result {
	if l == nil {
		return nil
	}
	level := func(v float64) float64 {
		if v <= noTreble {
			return math.Inf(-1)
		}
		return v
	}
	return &meter.Result{
		Integrated: l.IntegratedLUFS, TruePeak: l.TruePeakDBTP, LoudestAt: l.LoudestS.D(),
		MeterMax: l.MeterMaxDBFS, MeterMaxAt: l.MeterMaxS.D(),
		Treble: level(l.TrebleDB), TrebleMax: level(l.TrebleMaxDBFS),
		Lead: l.LeadSilenceS.D(), Tail: l.TailSilenceS.D(), Course: l.course(),
	}
}

func (l *TrackLevel) course() meter.Course {
	return meter.Course{Step: l.CourseStepS.D(), Levels: l.Course}
}

// check refuses levels that no meter found.
func (l *TrackLevel) check() error {
	if l == nil {
		return nil
	}
	for _, v := range []float64{l.IntegratedLUFS, l.TruePeakDBTP, l.TrimDB, l.MeterMaxDBFS, l.TrebleDB, l.TrebleMaxDBFS} {
		if !(math.Abs(v) <= -noTreble) {
			return fmt.Errorf("a level of %g dB", v)
		}
	}
	if min(l.LoudestS, l.MeterMaxS, l.LeadSilenceS, l.TailSilenceS, l.CourseStepS) < 0 {
		return errors.New("a level with a negative time")
	}
	if len(l.Course) > meter.CourseMost || len(l.Course) > 0 && l.CourseStepS.D() < 10*time.Millisecond {
		return fmt.Errorf("a course of %d steps of %v", len(l.Course), l.CourseStepS.D())
	}
	return nil
}

// mostCourse bounds the courses of a plan together, in bytes: 116 hours in steps
// of 100 ms. Beyond it all go to longer steps.
const mostCourse = 1 << 22

// boundCourses makes the courses of a plan coarser until they are within most
// bytes. The tracks are the plan's own.
func (p Plan) boundCourses(most int) {
	for {
		var levels []*TrackLevel
		total, fine := 0, Seconds(math.MaxInt64)
		for _, t := range p.tracks() {
			if l := t.Level; l != nil && len(l.Course) > 0 {
				levels, total, fine = append(levels, l), total+len(l.Course), min(fine, l.CourseStepS)
			}
		}
		if total <= most {
			return
		}
		for _, l := range levels {
			if l.CourseStepS == fine {
				c := l.course().Halved()
				l.CourseStepS, l.Course = Seconds(c.Step), c.Levels
			}
		}
	}
}

// tracks are all the tracks of a plan, those left out at the end.
func (p Plan) tracks() []*Track {
	var all []*Track
	for ti := range p.Tapes {
		for si := range p.Tapes[ti].Sides {
			s := &p.Tapes[ti].Sides[si]
			for i := range s.Tracks {
				all = append(all, &s.Tracks[i])
			}
		}
	}
	for i := range p.LeftOut {
		all = append(all, &p.LeftOut[i])
	}
	return all
}
