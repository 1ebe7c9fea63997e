package programme

import (
	"fmt"
	"time"
)

// Section is a stretch of tones for one job at the deck.
type Section struct {
	Name  string // for a file: level-400hz
	Title string
	What  string // what it is for, one sentence
	Cues  []Cue  // from the section's start
}

// Length is how long the section plays.
func (s Section) Length() time.Duration {
	var end time.Duration
	for _, c := range s.Cues {
		end = max(end, c.Start+c.Length)
	}
	return end
}

// Caution is what must be said before a tone is played.
const Caution = "Turn the monitor and the headphones down before you play this: tones are continuous and near full level, and can hurt ears and loudspeakers."

// Levels at which bias is set, dB under the tone for the level: published texts
// prefer the lower one, where the tape cannot saturate (Audio, July 1991); many
// use the other (common practice, no source).
const (
	BiasLow  = -20.0
	BiasHigh = -15.0
)

// ToneTime is how long a tone lasts that a person turns a knob by: long enough
// to go from the meter to the knob, to the tape and back (our own choice).
const ToneTime = 45 * time.Second

// Calibration are the tones in front of a programme: 400 Hz at zero dBFS for the
// level, then 10 kHz under it by each of bias, each for so long.
func Calibration(zero float64, each time.Duration, bias ...float64) []Cue {
	cues := []Cue{toneCue(zero, 400, 0, 0, each)}
	for i, db := range bias {
		cues = append(cues, toneCue(zero, 10000, db, time.Duration(i+1)*(each+500*time.Millisecond), each))
	}
	return cues
}

// toneCue is a tone in both channels, db over zero dBFS.
func toneCue(zero, hz, db float64, start, length time.Duration) Cue {
	return Cue{Title: fmt.Sprintf("%g Hz at %g dB", hz, db), Start: start, Length: length,
		Tone: &Tone{Hz: hz, Level: zero + db, Left: true, Right: true}}
}

// Tones are the sections for setting a deck up, in the order in which a person
// works. zero is the level of a tone at 0 dB, in dBFS.
//
// 400 Hz and 10 kHz are the usual pair for level and bias (common practice);
// 10 kHz at -20 dB is what published texts prefer (Audio, July 1991), -15 dB
// what many use (common practice). 315 Hz and 3150 Hz are the frequencies of
// IEC reference and speed tapes (service manuals; 3150 Hz from memory, unverified).
func Tones(zero float64, each time.Duration) []Section {
	one := func(name, what string, hz, db float64, length time.Duration) Section {
		c := toneCue(zero, hz, db, 0, length)
		return Section{Name: name, Title: c.Title, What: what, Cues: []Cue{c}}
	}
	const s = time.Second
	left, right, both := toneCue(zero, 1000, 0, 0, 5*s), toneCue(zero, 1000, 0, 6*s, 5*s), toneCue(zero, 1000, 0, 12*s, 5*s)
	left.Title, right.Title, both.Title = "left channel", "right channel", "both channels"
	left.Tone.Right, right.Tone.Left = false, false
	return []Section{
		{Name: "channels", Title: "left, right, both", What: "Check that left is left: 5 s of 1 kHz in the left channel, 5 s in the right, 5 s in both.", Cues: []Cue{left, right, both}},
		one("level-400hz", "Set the record level: 0 dB on the meter, and the same off the tape.", 400, 0, each),
		one("bias-10khz-15", "Set the bias, the usual way: off the tape as loud as the source.", 10000, BiasHigh, each),
		one("bias-10khz-20", "Set the bias where the tape cannot saturate, as published texts prefer.", 10000, BiasLow, each),
		{Name: "round", Title: "level and bias round", What: "Play it over and over while you go from level to bias and back.", Cues: Calibration(zero, each, BiasHigh, BiasLow)},
		one("reference-315hz", "Compare with reference tapes: the IEC reference level is at 315 Hz.", 315, 0, 30*s),
		one("meter-1khz", "Compare meters: 1 kHz in both channels.", 1000, 0, 30*s),
		one("speed-3150hz", "Record it on a deck of known speed, play it on another: a frequency counter shows the other's error. What a deck recorded itself proves nothing of its speed.", 3150, 0, 60*s),
	}
}

// Routine is how a person works with the tones, step by step. threeHeads is for
// a deck that plays while it records; the other one is for decks that cannot.
func Routine(threeHeads bool) []string {
	if threeHeads {
		return []string{
			"Noise reduction off. Monitor down. Record on a stretch of the tape that you will record over.",
			"Play 400 Hz at 0 dB. From the source, set the input level so that the meter reads 0 dB.",
			"Switch the monitor to the tape. Turn the record calibration until the meter reads 0 dB again.",
			"Play 10 kHz at -20 dB (or -15 dB). From the source it must read the same; turn the bias until it does off the tape.",
			"Go back to 400 Hz: bias has moved the level a little. Repeat until both hold.",
		}
	}
	return []string{
		"Noise reduction off. Monitor down. Note the counter.",
		"Record the round: 400 Hz at 0 dB on the meter, then 10 kHz, without touching the input level.",
		"Wind back to the counter reading and play. Note what the meter shows for each tone.",
		"400 Hz too low: raise the record calibration; 10 kHz too low against 400 Hz: less bias; too high: more. Where the deck has no such controls, note the difference: it is this tape's.",
		"Record again over the same place and compare, until 400 Hz comes back at 0 dB and 10 kHz as it went in.",
	}
}
