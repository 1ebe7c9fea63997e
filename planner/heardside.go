package planner

import "longside/media/meter"

// SideCourse is how loud a stretch of a side is from one moment to the next, as
// it will lie on the tape: the trims are counted in.
type SideCourse struct {
	From, Step Seconds   // where the first value begins, from pressing record, and how long each holds
	LUFS       []float64 // not under meter.CourseFloor
}

// Courses are the side's tracks whose course is known. Of tracks that overlap,
// the one that comes in is given.
func (s Side) Courses() (out []SideCourse) {
	for i, t := range s.Tracks {
		if t.Level == nil || t.Level.CourseStepS <= 0 || len(t.Level.Course) == 0 {
			continue
		}
		until := t.EndS()
		if i+1 < len(s.Tracks) {
			until = min(until, max(s.Tracks[i+1].StartS, t.StartS))
		}
		course, step := t.Level.course(), t.Level.CourseStepS
		first := int(t.inPlace() / step)
		c := SideCourse{From: t.StartS + Seconds(first)*step - t.inPlace(), Step: step}
		for k := first; c.From+Seconds(k-first)*step < until && k < len(t.Level.Course); k++ {
			v := course.At(k)
			if v > meter.CourseFloor {
				v += t.Level.TrimDB
			}
			c.LUFS = append(c.LUFS, max(v, meter.CourseFloor))
		}
		out = append(out, c)
	}
	return out
}

// LoudestOn is the place of a side that moves a peak meter most, the trims
// counted in, from pressing record; ok is false where no track of it was metered.
// On the side that the record level is set on it is that place (Setting).
func (p Plan) LoudestOn(tape int, s Side) (at Seconds, ok bool) {
	if p.Setting != nil && p.Setting.Tape == tape && p.Setting.Side == s.Side {
		return p.Setting.AtS, true
	}
	best := 0.0
	for _, t := range s.Tracks {
		if t.Level == nil {
			continue
		}
		// A place that was found in a part of the file which is not on this side is none of its.
		in := t.Level.MeterMaxS - t.inPlace()
		if v := t.Level.MeterMaxDBFS + t.Level.TrimDB; in >= 0 && in < t.LengthS && (!ok || v > best) {
			at, best, ok = t.StartS+in, v, true
		}
	}
	return at, ok
}
