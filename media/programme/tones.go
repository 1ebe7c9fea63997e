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

// Tones are the sections for setting a deck up, in the order in which a person
// works. zero is the level of a tone at 0 dB, in dBFS.
//
// 400 Hz and 10 kHz are the usual pair for level and bias (common practice);
// 10 kHz at -20 dB is what published texts prefer (Audio, July 1991), -15 dB
// what many use (common practice). 315 Hz and 3150 Hz are the frequencies of
// IEC reference and speed tapes (service manuals; 3150 Hz from memory, unverified).
func Tones(zero float64) []Section {
	at := func(hz, db float64, start, length time.Duration, left, right bool) Cue {
		return Cue{Title: fmt.Sprintf("%g Hz at %g dB", hz, db), Start: start, Length: length,
			Tone: &Tone{Hz: hz, Level: zero + db, Left: left, Right: right}}
	}
	one := func(name, what string, hz, db float64, length time.Duration) Section {
		c := at(hz, db, 0, length, true, true)
		return Section{Name: name, Title: c.Title, What: what, Cues: []Cue{c}}
	}
	const s = time.Second
	left, right, both := at(1000, 0, 0, 5*s, true, false), at(1000, 0, 6*s, 5*s, false, true), at(1000, 0, 12*s, 5*s, true, true)
	left.Title, right.Title, both.Title = "left channel", "right channel", "both channels"
	return []Section{
		{Name: "channels", Title: "left, right, both", What: "Check that left is left: 5 s of 1 kHz in the left channel, 5 s in the right, 5 s in both.", Cues: []Cue{left, right, both}},
		one("level-400hz", "Set the record level: 0 dB on the meter, and the same off the tape.", 400, 0, 30*s),
		one("bias-10khz-15", "Set the bias, the usual way: off the tape as loud as the source.", 10000, -15, 30*s),
		one("bias-10khz-20", "Set the bias where the tape cannot saturate, as published texts prefer.", 10000, -20, 30*s),
		{Name: "round", Title: "level and bias round", What: "30 s to play over and over while you go from level to bias and back.", Cues: []Cue{
			at(400, 0, 0, 10*s, true, true),
			at(10000, -15, 10*s+s/2, 9*s, true, true),
			at(10000, -20, 20*s, 10*s, true, true),
		}},
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
