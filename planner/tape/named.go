package tape

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Remembered is the source of a figure that no text was found for.
const Remembered = "from memory, unverified"

// Where else a thickness comes from.
const (
	published = "inside the range of two or more published texts"
	oneText   = "one published text"
	byRule    = "by the rule that thickness times length is the same for tapes that fill the shell alike"
)

// kinds are the lengths met in shops, by minutes of both sides, with the
// thickness to reckon with, where that comes from, and the range seen in print.
//
// Length is minutes x 60 x Speed. The published figures are those of an
// encyclopedia's text on playback length, a data recorder's counter note and a
// page of tape specifications; a range of one figure means that no other was found.
var kinds = []struct {
	minutes  int
	um       Micrometres
	from, to Micrometres
	how      string
}{
	{46, 18, 15, 18, published},
	{54, 18, 15, 18, Remembered},
	{60, 18, 15, 18, published},
	{74, 12, 11, 12, oneText},
	{80, 12, 11, 12, oneText},
	{90, 12, 10, 12, published},
	{94, 11, 11, 12, Remembered},
	{100, 11, 10, 11, Remembered},
	{110, 10, 10, 10, Remembered},
	{120, 9, 9, 9, oneText},
	{150, 7, 7, 7, Remembered},
	{180, 6, 6, 6, Remembered},
}

// The shortest and longest names that Named takes, in minutes of both sides:
// what a shell can hold and a person could mean.
const (
	ShortestMinutes = 10
	LongestMinutes  = 240
)

// Thickness of lengths outside the table: thickness times length is the same
// for tapes that fill the shell alike (18 um x 85.7 m, 12 x 128.6, 9 x 171.5,
// 6 x 257.2: all 1543), and no cassette tape is thicker than a C60's.
const (
	thicknessTimesLength             = 1543 // um m
	thickest             Micrometres = 18
)

// Named is the tape that a name promises: "C90", "c90" or "90", the minutes of
// both sides together. Its length is the nominal one; a real tape may hold a
// minute more a side, or less.
func Named(name string) (Tape, error) {
	const want = "write C and the minutes of both sides, C10 to C240, as in C90"
	digits := strings.TrimSpace(name)
	if digits != "" && (digits[0] == 'C' || digits[0] == 'c') {
		digits = digits[1:]
	}
	minutes, err := strconv.Atoi(digits)
	if err != nil || digits[0] < '0' || digits[0] > '9' {
		return Tape{}, fmt.Errorf("%q is no tape length: %s", name, want)
	}
	if minutes < ShortestMinutes || minutes > LongestMinutes {
		return Tape{}, fmt.Errorf("no cassette holds the %d minutes of %q: %s", minutes, name, want)
	}
	return ofMinutes(minutes), nil
}

// Standard is the table of lengths met in shops, shortest first.
func Standard() []Tape {
	tapes := make([]Tape, len(kinds))
	for i, k := range kinds {
		tapes[i] = ofMinutes(k.minutes)
	}
	return tapes
}

func ofMinutes(minutes int) Tape {
	t := Tape{Name: fmt.Sprintf("C%d", minutes), Hub: HubRadius}
	t = t.OfSide(time.Duration(minutes) * time.Minute / 2)
	t.Thickness, _, _, _ = usualThickness(minutes, t.Length)
	return t
}

// usualThickness is the thickness to reckon with, the range around it, and
// where it comes from; a length outside the table gets its figure by the rule,
// to a tenth.
func usualThickness(minutes int, length Metres) (um, from, to Micrometres, how string) {
	for _, k := range kinds {
		if k.minutes == minutes {
			return k.um, k.from, k.to, k.how
		}
	}
	um = min(Micrometres(math.Round(10*thicknessTimesLength/float64(length))/10), thickest)
	return um, um, um, byRule
}
