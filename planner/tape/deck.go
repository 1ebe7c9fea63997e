package tape

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

const (
	worstDeck    = 0.10 // the largest speed error taken for a deck's: beyond it the reading is wrong
	mostDeckName = 200  // letters
	mostRatio    = 10.0 // counts a turn; the most seen in print is 2 wings x 43/23 = 3.7
)

// AutoStop is what ends play when the tape no longer runs.
type AutoStop string

const (
	StopUnknown  AutoStop = ""          // not said
	StopNone     AutoStop = "none"      // nothing
	StopLever    AutoStop = "lever"     // a lever feels the tape's pull at its end
	StopBothHubs AutoStop = "both hubs" // both hubs are watched: stops at a jam too
)

// Counting is what a deck's counter counts.
type Counting string

const (
	CountsTurns Counting = "turns" // turns of a hub, through gears
	CountsTime  Counting = "time"  // minutes and seconds: no readings are planned
)

// Deck is the profile of one tape deck; ParseDeck reads one and TOML writes it.
// The zero value of a field means that nothing is known.
type Deck struct {
	Name string // the owner's word for it

	SpeedError  float64 // as a fraction, + is fast
	SpeedWithin float64 // how far off SpeedError may be; 0: the speed was never measured

	Counting    Counting
	Ratio       float64 // counts a turn of the take-up hub; 0: not known
	RatioWithin float64 // how far off Ratio may be, in counts a turn

	LongestTape  string // the longest that its manual allows: "C90"
	Heads        int    // 2 or 3
	AutoStop     AutoStop
	AutoReverse  bool
	TurnRound    time.Duration // silence while it turns round, leaders not counted
	Noise        []string      // noise reduction types: "B", "C"
	MeterZero    int           // flux at the meter's 0 dB, nWb/m: 160, 200, 250
	LevelControl bool          // record calibration of level
	BiasControl  bool          // and of bias
}

// Check refuses a profile that no deck has; each line of the error is one fault.
func (d Deck) Check() error {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	if strings.ContainsFunc(d.Name, unicode.IsControl) || utf8.RuneCountInString(d.Name) > mostDeckName {
		fault("a name that cannot be printed, or is longer than %d letters", mostDeckName)
	}
	if !(math.Abs(d.SpeedError) <= worstDeck) {
		fault("a speed error of %+.3g %%: no deck that plays music is so far off; within 10 %%, + is fast", 100*d.SpeedError)
	}
	if !(d.SpeedWithin >= 0 && d.SpeedWithin <= worstDeck) {
		fault("a speed known to %.3g %%: give 0 to 10 %%", 100*d.SpeedWithin)
	}
	switch d.Counting {
	case "", CountsTurns, CountsTime:
	default:
		fault("a counter of %q: write turns or time", string(d.Counting))
	}
	if !(d.Ratio >= 0 && d.Ratio <= mostRatio) {
		fault("%g counts a turn: a counter makes about half a count a turn of the hub, never more than %g", d.Ratio, mostRatio)
	}
	if !(d.RatioWithin >= 0 && d.RatioWithin <= mostRatio) {
		fault("a ratio known to %g: give counts a turn, 0 to %g", d.RatioWithin, mostRatio)
	}
	if d.Counting == CountsTime && d.Ratio > 0 {
		fault("a counter of time has no counts a turn: leave the ratio out, or write turns")
	}
	if d.LongestTape != "" {
		if _, err := Named(d.LongestTape); err != nil {
			fault("longest tape: %w", err)
		}
	}
	if d.Heads != 0 && d.Heads != 2 && d.Heads != 3 {
		fault("%d heads: write 2 (one records and plays) or 3 (it can play while it records)", d.Heads)
	}
	switch d.AutoStop {
	case StopUnknown, StopNone, StopLever, StopBothHubs:
	default:
		fault("an auto-stop of %q: write none, lever or both hubs", string(d.AutoStop))
	}
	if d.TurnRound < 0 || d.TurnRound > time.Minute {
		fault("a turn-round of %.4g s: give seconds, 0 to 60", d.TurnRound.Seconds())
	}
	if d.TurnRound > 0 && !d.AutoReverse {
		fault("a turn-round time without auto-reverse: one of the two is wrong")
	}
	for _, n := range d.Noise {
		// By their letters; S is of the last decks (from memory, unverified).
		if !slices.ContainsFunc([]string{"none", "B", "C", "S"}, func(k string) bool { return strings.EqualFold(k, n) }) {
			fault("a noise reduction of %q: write none, B, C or S", n)
		}
	}
	switch d.MeterZero {
	case 0, 160, 200, 250:
	default:
		fault("a meter zero of %d nWb/m: write 160, 200 or 250", d.MeterZero)
	}
	return errors.Join(faults...)
}

// CounterRatio is the ratio to plan readings with and whether it is the
// deck's own; 0 for a deck that counts time.
func (d Deck) CounterRatio() (ratio float64, known bool) {
	switch {
	case d.Counting == CountsTime:
		return 0, true
	case d.Ratio > 0:
		return d.Ratio, true
	}
	return DefaultCounterRatio, false
}

// Tones that speed is read from, Hz: 3150 of IEC and DIN, 3000 of service
// tapes and of older standards (three service manuals; 3150 from memory, unverified).
const (
	ToneIEC     = 3150.0
	ToneService = 3000.0
)

// testTapeWithin is how far off a test tape's own tone may be, as a fraction:
// from memory, unverified.
const testTapeWithin = 0.002

// SpeedReading is a reading of a deck's speed as fractions: how far off it is (+ is
// fast), and how far off that may be, 19 times in 20.
type SpeedReading struct{ Error, Within float64 }

// SpeedFromTone is the deck's speed error from a test tape's tone: played fast,
// it sounds high. A tone that the deck recorded itself proves nothing, as the
// error cancels. within is the meter's own uncertainty, Hz; that of the test
// tape is added.
func SpeedFromTone(tone, read, within float64) (SpeedReading, error) {
	if tone != ToneIEC && tone != ToneService {
		return SpeedReading{}, fmt.Errorf("a test tone of %g Hz: speed tapes have 3000 or 3150", tone)
	}
	e := read/tone - 1
	if !(math.Abs(e) <= worstDeck) {
		return SpeedReading{}, fmt.Errorf("%g Hz from a tone of %g contradict each other: no deck is more than 10 %% off; is it the other tone?", read, tone)
	}
	if !(within >= 0 && within < tone/10) {
		return SpeedReading{}, fmt.Errorf("a meter good to %g Hz: give how far off it may be, such as 5", within)
	}
	return SpeedReading{e, math.Hypot(within/tone, testTapeWithin)}, nil
}

// SpeedFromLength is the speed error from a stretch of tape that lasts known
// at nominal speed and took by the watch on this deck: a fast deck is done
// early. The stretch must have been recorded or measured elsewhere.
func SpeedFromLength(known, took time.Duration) (SpeedReading, error) {
	if known < leastSide || took < leastSide || known > mostSide || took > mostSide {
		return SpeedReading{}, fmt.Errorf("%s timed at %s: time at least half a minute; ten are better", clock(known), clock(took))
	}
	e := known.Seconds()/took.Seconds() - 1
	if math.Abs(e) > worstDeck {
		return SpeedReading{}, fmt.Errorf("%s timed at %s contradict each other: no deck is more than 10 %% off", clock(known), clock(took))
	}
	return SpeedReading{e, WatchWithin.Seconds() / took.Seconds()}, nil
}

// MeterOffset is the deck's 0 dB against the 250 nWb/m reference of IEC tapes,
// in dB, by either way of measuring flux. A figure of 200 or 160 nWb/m is by
// the American method, which reads what the DIN method calls 218 (and 174); 250
// is by DIN. So the answer is a pair: flux taken as printed, and brought to
// DIN. The two differ by 20 log10(218/200) = 0.75 dB, printed as 0.7 in the
// trade (a page on deck calibration gives 218 to 220; 218 from memory).
func (d Deck) MeterOffset() (printed, din float64, known bool) {
	if d.MeterZero <= 0 {
		return 0, 0, false
	}
	printed = 20 * math.Log10(float64(d.MeterZero)/250)
	if d.MeterZero == 250 {
		return printed, printed, true
	}
	return printed, printed + 20*math.Log10(218.0/200), true
}
