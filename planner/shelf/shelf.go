// Package shelf keeps the tapes that a person owns, in one file that people
// can read: what each is, what was measured of it, how it was calibrated, what
// is recorded on it and what it is booked for.
//
// A Shelf is plain values; Store reads it from its file and changes it there.
// Two programs at once lose nothing (a lock), a full disk leaves the old file
// as it was (written whole beside it, then moved), and a file of a newer
// version is refused, never rewritten.
package shelf

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"longside/planner/tape"
)

// The first fields of the file. A reader refuses any other format and any
// newer version. Within a version fields are only added, never given another
// meaning; a field that this program does not know is refused, as writing the
// file again would lose it.
const (
	Format  = "longside shelf"
	Version = 1
)

// Date is a day, written without quotes: 2026-11-25.
type Date = toml.LocalDate

// On is the day of a moment, where the moment is.
func On(t time.Time) Date {
	return Date{Year: t.Year(), Month: int(t.Month()), Day: t.Day()}
}

// Shelf is all the tapes, in the order in which they were put there.
type Shelf struct {
	Tapes []Entry
}

// Entry is one cassette. The zero value of a field means that it is not known.
type Entry struct {
	Label     string         // the person's own, one of its kind on the shelf
	Name      string         // nominal length as printed on it: C90
	Type      string         // I, II, III, IV by IEC
	Year      int            // when it was made
	Condition tape.Condition // sealed, used, worn

	Side      time.Duration    // a side timed leader to leader, at nominal speed
	Thickness tape.Micrometres // measured
	Hub       tape.Millimetres // radius, measured

	Wound      bool // it was wound end to end before
	PlayedWell bool // it was recorded and played through before, without trouble

	Calibrations []Calibration // latest last
	Recorded     []Recording   // what is on it
	Booked       *Booking      // what it is kept for; nil: free
}

// Calibration is how one deck's record calibration came out on the tape.
type Calibration struct {
	Deck      string  `toml:"deck,omitempty"`
	Date      Date    `toml:"date"`
	Level400  float64 `toml:"level_400hz_db"`         // 400 Hz off tape against the source, controls at centre
	Bias10k   float64 `toml:"bias_10khz_db"`          // 10 kHz off tape against 400 Hz, controls at centre
	Shortfall float64 `toml:"shortfall_db,omitempty"` // what 400 Hz still lacks with the level control at its end
	Note      string  `toml:"note,omitempty"`
}

// Recording is what is on a tape. Side is A or B, or empty for both.
type Recording struct {
	Title string `toml:"title"`
	Side  string `toml:"side,omitempty"`
	Date  Date   `toml:"date"`
}

// Booking keeps a tape for a plan.
type Booking struct {
	For  string `toml:"for"`
	Date Date   `toml:"date"`
}

// Tape is the entry as a tape: its name's figures, with the measured ones in
// their place.
func (e Entry) Tape() (tape.Tape, error) {
	t, err := tape.Named(e.Name)
	if err != nil {
		return t, err
	}
	if e.Side != 0 {
		t = t.OfSide(e.Side)
	}
	if e.Thickness != 0 {
		t.Thickness = e.Thickness
	}
	if e.Hub != 0 {
		t.Hub = e.Hub
	}
	return t, t.Check()
}

// CalibrationOn is the latest calibration of the tape on a deck of that name or,
// where there is none, the latest of all; nil when there is none at all.
func (e Entry) CalibrationOn(deck string) *tape.Calibration {
	var found *tape.Calibration
	for i := len(e.Calibrations) - 1; i >= 0; i-- {
		c := e.Calibrations[i]
		mine := deck != "" && fold(c.Deck) == fold(deck)
		if found == nil || mine {
			found = &tape.Calibration{Deck: c.Deck, Level400: c.Level400, Bias10k: c.Bias10k, Shortfall: c.Shortfall}
		}
		if mine {
			break
		}
	}
	return found
}

// Free says that the tape is neither booked nor recorded on.
func (e Entry) Free() bool { return e.Booked == nil && len(e.Recorded) == 0 }

// Trust judges the tape on a deck in a year; 0 leaves its age out.
func (e Entry) Trust(d tape.Deck, year int) (tape.Trust, error) {
	t, err := e.Tape()
	if err != nil {
		return tape.Trust{}, err
	}
	f := tape.Facts{Tape: t, Condition: e.Condition, Deck: d, Wound: e.Wound, PlayedWell: e.PlayedWell}
	if c := e.CalibrationOn(d.Name); c != nil {
		f.Shortfall, f.Calibrates = c.Shortfall, c.Shortfall == 0
	}
	if e.Year > 0 && year > e.Year {
		f.Years = year - e.Year
	}
	return tape.Judge(f), nil
}

// The first cassettes were sold in 1963 (from memory, unverified).
const firstYear, lastYear = 1963, 2200

// worstOffset is the largest calibration offset that is no slip of the pen, dB.
const worstOffset = 30

// mostText is the longest label, title or note.
const mostText = 200

// Check refuses an entry that makes no sense. Each line is one fault.
func (e Entry) Check() error {
	var faults []error
	fault := func(format string, args ...any) {
		faults = append(faults, fmt.Errorf("tape %q: "+format, append([]any{e.Label}, args...)...))
	}
	text := func(what, s string, must bool) {
		switch {
		case must && strings.TrimSpace(s) == "":
			fault("%s is empty: give it a word", what)
		case utf8.RuneCountInString(s) > mostText:
			fault("%s is longer than %d letters", what, mostText)
		case !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl):
			fault("%s holds characters that cannot be printed", what)
		}
	}
	text("its label", e.Label, true)
	if _, err := e.Tape(); err != nil {
		fault("%w", err)
	}
	switch e.Type {
	case "", "I", "II", "III", "IV":
	default:
		fault("type %q: write I, II, III or IV", e.Type)
	}
	switch e.Condition {
	case tape.Unsaid, tape.Sealed, tape.Used, tape.Worn:
	default:
		fault("condition %q: write sealed, used or worn", string(e.Condition))
	}
	if e.Year != 0 && (e.Year < firstYear || e.Year > lastYear) {
		fault("year %d: give the year it was made, %d or later", e.Year, firstYear)
	}
	day := func(what string, d Date) {
		t := time.Date(d.Year, time.Month(d.Month), d.Day, 0, 0, 0, 0, time.UTC)
		if d.Year < firstYear || d.Year > lastYear || On(t) != d {
			fault("%s has no date: write one, as 2026-11-25", what)
		}
	}
	for _, c := range e.Calibrations {
		day("a calibration", c.Date)
		text("a calibration's deck", c.Deck, false)
		text("a calibration's note", c.Note, false)
		for _, db := range []float64{c.Level400, c.Bias10k, c.Shortfall} {
			if !(db >= -worstOffset && db <= worstOffset) {
				fault("a calibration of %g dB: give dB, within %d", db, worstOffset)
			}
		}
		if c.Shortfall < 0 {
			fault("a shortfall of %g dB: give what is missing as a positive number", c.Shortfall)
		}
	}
	for _, r := range e.Recorded {
		day("a recording", r.Date)
		text("a recording's title", r.Title, true)
		if r.Side != "" && r.Side != "A" && r.Side != "B" {
			fault("a recording on side %q: write A or B, or leave it out for both", r.Side)
		}
	}
	if e.Booked != nil {
		day("its booking", e.Booked.Date)
		text("what it is booked for", e.Booked.For, true)
	}
	return errors.Join(faults...)
}

// Check refuses a shelf with a faulty entry or two of one label.
func (s Shelf) Check() error {
	var faults []error
	seen := map[string]bool{}
	for _, e := range s.Tapes {
		if err := e.Check(); err != nil {
			faults = append(faults, err)
		}
		if key := fold(e.Label); seen[key] {
			faults = append(faults, fmt.Errorf("tape %q: two have this label; give one another", e.Label))
		} else {
			seen[key] = true
		}
	}
	return errors.Join(faults...)
}

// fold makes labels that a person would take for the same the same.
func fold(label string) string { return strings.ToLower(strings.Join(strings.Fields(label), " ")) }

// Find is the place of a label, upper or lower case alike.
func (s Shelf) Find(label string) (*Entry, error) {
	for i := range s.Tapes {
		if fold(s.Tapes[i].Label) == fold(label) {
			return &s.Tapes[i], nil
		}
	}
	return nil, fmt.Errorf("no tape %q on the shelf: longside shelf lists them", label)
}

// Add puts a tape on the shelf.
func (s *Shelf) Add(e Entry) error {
	if err := e.Check(); err != nil {
		return err
	}
	if _, err := s.Find(e.Label); err == nil {
		return fmt.Errorf("tape %q: there is one already; choose another label", e.Label)
	}
	s.Tapes = append(s.Tapes, e)
	return nil
}

// Remove takes a tape off the shelf.
func (s *Shelf) Remove(label string) error {
	e, err := s.Find(label)
	if err != nil {
		return err
	}
	kept := make([]Entry, 0, len(s.Tapes))
	for _, o := range s.Tapes {
		if o.Label != e.Label {
			kept = append(kept, o)
		}
	}
	s.Tapes = kept
	return nil
}

// Book keeps a tape for a plan of that title. A tape that is kept for another,
// or holds a recording, is refused unless reuse is set, which lets the recording go.
func (s *Shelf) Book(label, title string, day Date, reuse bool) error {
	e, err := s.Find(label)
	switch {
	case err != nil:
		return err
	case e.Booked != nil && e.Booked.For != title:
		return fmt.Errorf("tape %q is booked for %q: free it first (longside shelf free)", e.Label, e.Booked.For)
	case len(e.Recorded) > 0 && !reuse:
		return fmt.Errorf("tape %q holds %q: it would be lost; say --reuse if it may go", e.Label, e.Recorded[len(e.Recorded)-1].Title)
	}
	e.Booked = &Booking{For: title, Date: day}
	return e.Check()
}
