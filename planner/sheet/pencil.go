package sheet

import (
	"fmt"
	"slices"

	"longside/planner"
	"longside/planner/paper"
)

// mostSets is for how many tapes a step has places for readings of their own.
const mostSets = 4

// readings names the places to write a step's readings into: one set of them for
// each tape, as no two tapes read alike.
func readings(p planner.Plan, what ...string) (out []string) {
	if n := len(p.Tapes); n > 1 && n <= mostSets {
		for i := range p.Tapes {
			for _, w := range what {
				out = append(out, fmt.Sprintf("tape %d, %s", i+1, w))
			}
		}
		return out
	}
	return what
}

// knob is what is written down of the level set on the music.
func knob() []string { return []string{"peaks read, dB", "level control at"} }

// mapped adds to a part what its map shows: loudness and the loudest place.
func (p *Part) mapped(plan planner.Plan, ti int) {
	p.Courses = p.Side.Courses()
	p.LoudestAt, p.Loudest = plan.LoudestOn(ti+1, p.Side)
	p.SetHere = plan.Setting != nil && plan.Setting.Tape == ti+1 && plan.Setting.Side == p.Side.Side
	if len(p.Courses) > 0 {
		p.Tail = append(p.Tail, fmt.Sprintf("The course under the strip is the loudness of each moment with its trim, from %d to %d LUFS; a step is %d LU.", courseLow, courseHigh, courseStep))
	}
	if p.Loudest {
		says := "The meter goes highest on this side at " + p.LoudestAt.String()
		if p.SetHere {
			says += "; the record level is set on this place"
		}
		p.Tail = append(p.Tail, says+".")
	}
}

// The range of the loudness course in LUFS, the same on every sheet, so that
// sides can be compared: what is quieter is lost in most tapes' noise, and
// nothing is louder than full scale by much.
const (
	courseLow  = -50
	courseHigh = 0
	courseStep = 10
)

// course is a part's loudness for the drawing.
func (p Part) course() paper.Course {
	c := paper.Course{Length: p.Side.RunS.D().Seconds(), Low: courseLow, High: courseHigh, Every: courseStep}
	for _, r := range p.Courses {
		c.Runs = append(c.Runs, paper.Run{From: r.From.D().Seconds(), Step: r.Step.D().Seconds(), Levels: slices.Clone(r.LUFS)})
	}
	return c
}
