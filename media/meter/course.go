package meter

import (
	"math"
	"time"
)

// A Course is how loud a track is from one moment to the next: what a loud
// place prints on the neighbouring turns of a wound tape, and what a drawing of
// the track shows, can be told from it.
//
// Each value is the K-weighted loudness of one step, in halves of an LU above
// CourseFloor; 0 is the floor, and whatever is quieter. What is left of a step
// at the end is left out. A step is 100 ms, and twice as long as often as it
// takes for the course to keep within CourseMost values.
type Course struct {
	Step   time.Duration
	Levels []byte
}

const (
	// CourseFloor in LUFS: nothing is quieter than the tape's own noise, so that
	// digital silence and a faint room count the same. See SilenceLevel.
	CourseFloor = SilenceLevel
	// CourseMost bounds a course: 27 minutes in steps of 100 ms.
	CourseMost = 1 << 14

	courseStep  = 100 * time.Millisecond
	coursePerLU = 2
)

// At is the loudness of step i, LUFS; the floor outside the course.
func (c Course) At(i int) float64 {
	if i < 0 || i >= len(c.Levels) {
		return CourseFloor
	}
	return CourseFloor + float64(c.Levels[i])/coursePerLU
}

// Halved is the course in steps of twice the length, each with the mean energy
// of two.
func (c Course) Halved() Course {
	h := Course{2 * c.Step, make([]byte, 0, len(c.Levels)/2)}
	for i := 0; i+1 < len(c.Levels); i += 2 {
		mean := (math.Pow(10, c.At(i)/10) + math.Pow(10, c.At(i+1)/10)) / 2
		h.Levels = append(h.Levels, courseLevel(10*math.Log10(mean)))
	}
	return h
}

func courseLevel(lufs float64) byte {
	return byte(min(max(math.Round((lufs-CourseFloor)*coursePerLU), 0), math.MaxUint8))
}

// coursing makes a Course from every 100 ms of a track.
type coursing struct {
	Course
	sum float64 // of the mean squares of the open step
	n   int     // of how many 100 ms
}

func (c *coursing) add(z float64) {
	if c.Step == 0 {
		c.Step = courseStep
	}
	c.sum += z
	c.n++
	if c.n < int(c.Step/courseStep) {
		return
	}
	c.Levels = append(c.Levels, courseLevel(loudness(c.sum/float64(c.n))))
	c.sum, c.n = 0, 0
	if len(c.Levels) == CourseMost {
		c.Course = c.Halved()
	}
}
