package verify

import (
	"fmt"
	"time"

	"longside/media/programme"
)

// The test programme. Levels are dB against 0 dB, the level that the record
// meter is set to.
const (
	// ahead is silence in front of the first marker and behind the last one, and
	// on the other side of each: an echo lies up to 3.3 s away, at the rim of a
	// full pack. The tones next to it lie outside of the marker's band, so that
	// their own echo is not taken for the marker's.
	ahead = 4.5
	// The marker glides so that its place is known to far less than a period of
	// any tone, its polarity is seen, and it can be found again 50 dB down in
	// noise. Print-through is strongest between some 500 and 900 Hz on tapes of
	// C60 to C120 thickness: inside it.
	markerFrom, markerTo, markerLength = 300.0, 3000.0, 0.6

	between = 0.25 // s of silence between tones

	referenceHz = 400.0  // the levels of all others are told against it (common practice)
	levelHz     = 315.0  // IEC reference frequency; DIN 45 500 has 333 Hz
	flutterHz   = 3150.0 // AES6, IEC 60386, DIN 45 507
	flutterDB   = -10.0
	flutterLong = 62.0
	trebleHz    = 10000.0 // far from where noise is then measured
	responseDB  = -20.0   // where a tape is not saturated by the treble boost (Audio, July 1991)
	pauseLong   = 14.0

	// Levels for the third harmonic, to 8 dB over the meter's 0.
	lowestStep, highestStep = -6.0, 8.0
)

// responseHz are the tones of the response, in thirds of octaves or wider, and
// 10 kHz for the bias.
// The first two come before all others, next to the marker.
var responseHz = []float64{40, 63, 100, 160, 250, 630, 1000, 1600, 2500, 4000, 6300, 8000, 10000, 12500, 14000, 16000}

var levelSteps = []float64{-6, -3, 0, 1, 2, 3, 4, 5, 6, 7, 8}

// job is what a step of the programme is measured for.
type job int

const (
	marker    job = iota
	reference     // 400 Hz at 0 dB
	level         // 315 Hz in steps
	response      // -20 dB
	quiet         // -40 dB, for noise reduction
	treble        // a loud 10 kHz, for noise reduction
	left          // one channel alone
	right
	flutter
	pause
)

// step is a stretch of the programme: a tone, a marker, or the pause.
type step struct {
	job          job
	at, long     float64 // s from the programme's beginning, at the speed of the recording
	hz, db       float64
	left, right  bool
	first, again bool // of the 400 Hz tones among the response: the one before and the one after
}

// steps is the whole programme in order, and how long it plays.
func steps() (all []step, long float64) {
	t := ahead
	add := func(s step) {
		s.at = t
		all = append(all, s)
		t += s.long + between
	}
	both := func(j job, hz, db, long float64) step {
		return step{job: j, hz: hz, db: db, long: long, left: true, right: true}
	}
	add(both(marker, markerFrom, 0, markerLength))
	t += ahead - between
	for _, hz := range responseHz[:2] {
		add(both(response, hz, responseDB, 2))
	}
	add(both(reference, referenceHz, 0, 5))
	for _, db := range levelSteps {
		add(both(level, levelHz, db, 2))
	}
	first, again := both(response, referenceHz, responseDB, 3), both(response, referenceHz, responseDB, 3)
	first.first, again.again = true, true
	add(first)
	for _, hz := range responseHz[2:] {
		long := 2.0
		if hz == 10000 {
			long = 3
		}
		add(both(response, hz, responseDB, long))
	}
	add(again)
	for _, hz := range []float64{400, 4000} {
		add(both(quiet, hz, 2*responseDB, 2))
	}
	add(both(treble, trebleHz, -10, 2))
	for _, alone := range []job{left, right} {
		for _, s := range []step{{hz: 1000, db: 0, long: 3}, {hz: 500, db: 0, long: 2}, {hz: 6300, db: -10, long: 2}} {
			s.job, s.left, s.right = alone, alone == left, alone == right
			add(s)
		}
	}
	add(both(flutter, flutterHz, flutterDB, flutterLong))
	add(step{job: pause, long: pauseLong})
	t += ahead - between
	add(both(marker, markerFrom, 0, markerLength))
	return all, t - between + ahead
}

// Length is how long the test programme plays.
func Length() time.Duration {
	_, long := steps()
	return seconds(long)
}

// Programme is the test programme as cues, with the length that its file must
// have. zero is the level of 0 dB, in dBFS; 8 dB over it must be under full
// scale.
func Programme(zero float64) ([]programme.Cue, time.Duration, error) {
	if !(zero <= -highestStep && zero >= -40) {
		return nil, 0, fmt.Errorf("0 dB at %g dBFS: the test goes to %g dB over it; give -40 to %g", zero, highestStep, -highestStep)
	}
	all, long := steps()
	var cues []programme.Cue
	for _, s := range all {
		c := programme.Cue{Title: s.title(), Start: seconds(s.at), Length: seconds(s.long)}
		if s.job != pause {
			c.Tone = &programme.Tone{Hz: s.hz, Level: zero + s.db, Left: s.left, Right: s.right}
		}
		if s.job == marker {
			c.Tone.ToHz = markerTo
		}
		cues = append(cues, c)
	}
	return cues, seconds(long), nil
}

func (s step) title() string {
	switch s.job {
	case marker:
		return "marker"
	case pause:
		return "pause for the noise"
	case left:
		return fmt.Sprintf("left alone, %g Hz", s.hz)
	case right:
		return fmt.Sprintf("right alone, %g Hz", s.hz)
	}
	return fmt.Sprintf("%g Hz at %+g dB", s.hz, s.db)
}

// Part is a stretch of the programme as a person is told of it.
type Part struct {
	At   time.Duration
	What string
}

// Parts is what is in the programme, for the page beside it.
func Parts() []Part {
	says := map[job]string{
		marker:    "marker, a glide from 300 to 3000 Hz, with silence on both sides for its echo",
		reference: "400 Hz at 0 dB: set the record level to it, and then the level of the capture",
		level:     "315 Hz in steps from -6 to +8 dB: where the third harmonic reaches 3 %",
		response:  "tones from 40 Hz to 16 kHz at -20 dB: response, bias, azimuth",
		quiet:     "tones at -40 dB, then a loud 10 kHz: is a noise reduction on?",
		left:      "left alone: crosstalk and order of the channels",
		right:     "right alone",
		flutter:   "3150 Hz for a minute: speed, wow and flutter, drop-outs",
		pause:     "pause: noise",
	}
	all, _ := steps()
	var parts []Part
	last := job(-1)
	for i, s := range all {
		if what, ok := says[s.job]; ok && s.job != last {
			if s.job == response && i < 4 {
				what = "two low tones of the response"
			}
			parts = append(parts, Part{seconds(s.at), what})
		}
		last = s.job
	}
	return parts
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
