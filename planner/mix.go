package planner

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"longside/fit"
	"longside/media"
	"longside/media/meter"
	"longside/planner/tape"
)

// Mix is what the person wants on tape, in the order given.
type Mix struct {
	Title   string // for spine and sheet; may be empty
	Note    string
	Items   []Item
	Skipped []Skipped // files that were left aside
}

// Item is a track and what the person wishes of it. The zero Wish asks for nothing.
type Item struct {
	media.Track
	Wish  Wish
	Heard *meter.Result // what the meter found in it; nil: not listened to
	// Quiet is where the piece is quietest near its middle, from its start, for
	// those that are longer than a side; 0: not looked for.
	Quiet time.Duration
	// Number is its place in the given order, counted from 1; 0: as it stands.
	Number int
	faded  time.Duration // by how much that plan faded it
	was    *spot         // where a plan had it that is made anew; nil: nowhere
	// splitOf is the piece that it is a part of, where one was split; nil: none.
	splitOf *Stretch
}

// Wish is what a person asks of one track.
type Wish struct {
	Join    bool     `json:"join,omitempty"`     // to the next item: no gap, never split
	Gap     *Seconds `json:"gap_s,omitempty"`    // after it, negative for an overlap; nil: the request's gap
	Side    string   `json:"side,omitempty"`     // A, B, or 2B of the second tape: only there; empty: any
	Opens   Where    `json:"opens,omitempty"`    // it opens a side, or the whole
	Closes  Where    `json:"closes,omitempty"`   // it closes a side, or the whole
	Must    bool     `json:"must,omitempty"`     // never left out
	Reserve int      `json:"reserve,omitempty"`  // rank among the tracks that only fill spare time, 1 first; 0: wanted
	NotThin bool     `json:"not_thin,omitempty"` // never on the thin tail
	Rugged  bool     `json:"rugged,omitempty"`   // it can bear the thin tail
	Fade    Seconds  `json:"fade_s,omitempty"`   // it may be faded early by up to this, as the last resort
	Split   Seconds  `json:"split_s,omitempty"`  // a long piece may be split there, over two sides; 0: never
	Drive   *float64 `json:"drive,omitempty"`    // how much it drives, 0 to 10, for the arc of a side; nil: not given
}

// Where an opener or a closer stands.
type Where string

const (
	Anywhere Where = ""
	OfSide   Where = "side"
	OfMix    Where = "mix"
)

// Choice is a kind of tape that may be used.
type Choice struct {
	Tape   tape.Tape
	Stock  int      // how many there are; 0: as many as wanted
	Labels []string // the person's own names of each that there is; none: not from a shelf
	Type   string   // I, II, III, IV; empty: as the request says
	Used   bool     // something was recorded on it before
	Rank   int      // among choices of one length, the lower goes first
	// Timed is a side timed leader to leader, brought to the nominal speed; 0: not measured.
	Timed time.Duration

	Known Known // what is known of this very tape
}

// Known is what is known of one very tape, as its owner noted it. Zero values
// mean that nothing is.
type Known struct {
	Years       int               `json:"years,omitempty"` // since it was made
	Condition   tape.Condition    `json:"condition,omitempty"`
	Wound       bool              `json:"wound,omitempty"`       // it was wound end to end before
	PlayedWell  bool              `json:"played_well,omitempty"` // it was recorded and played through before, without trouble
	Calibration *tape.Calibration `json:"calibration,omitempty"` // how it came out on this deck; nil: not done
}

// Same tells whether nothing else is known of another tape.
func (k Known) Same(o Known) bool {
	a, b := k.Calibration, o.Calibration
	k.Calibration, o.Calibration = nil, nil
	return k == o && (a == b || a != nil && b != nil && *a == *b)
}

// facts are what speaks for a tape and against it.
func (k Known) facts(t tape.Tape) tape.Facts {
	f := tape.Facts{Tape: t, Years: k.Years, Condition: k.Condition, Wound: k.Wound, PlayedWell: k.PlayedWell}
	if c := k.Calibration; c != nil {
		f.Shortfall, f.Calibrates = c.Shortfall, c.Shortfall == 0
	}
	return f
}

// Limit is which of a side's three figures a plan may fill.
type Limit string

const (
	ShortLimit    Limit = "short"    // nominal less the tolerance: safe on any tape within it
	NominalLimit  Limit = "nominal"  // the length on the label, to the second
	MeasuredLimit Limit = "measured" // as timed, less 0.3 %
)

// ThinTail says what to do about the end of a side of thin tape.
type ThinTail string

const (
	WarnTail   ThinTail = "warn"   // name what lies there
	RuggedTail ThinTail = "rugged" // prefer tracks there that were called rugged
	BlankTail  ThinTail = "blank"  // leave it blank
)

// ParseThinTail reads warn, rugged or blank.
func ParseThinTail(s string) (ThinTail, error) {
	switch t := ThinTail(strings.ToLower(s)); t {
	case WarnTail, RuggedTail, BlankTail:
		return t, nil
	}
	return "", fmt.Errorf("thin tail %q: write warn, rugged or blank", s)
}

// Request is everything a plan is made from.
type Request struct {
	Mix      Mix
	Tapes    []Choice
	MaxTapes int // 0 means 1

	Order fit.Order
	Spare fit.Spare
	Aim   fit.Aim        // what is kept when not everything fits; the zero value is fit.MostSongs
	Gap   time.Duration  // between tracks, where an item names none
	Apart int            // tracks between two of the same artist on a side, at the least
	Arcs  map[string]Arc // the running order wanted of side A and B; a side not named has none

	ThinTail ThinTail // what to do about the end of a side of thin tape; empty: warn

	Limit     Limit
	Tolerance float64 // of the tape's length and the deck together, as a fraction
	LeadIn    time.Duration
	EndLeader time.Duration

	DeckError    float64    // as a fraction, + is fast
	CounterRatio float64    // counts a turn of the take-up hub; 0: the deck counts time
	CounterKnown bool       // the ratio was measured, and is not the default
	DeckLimit    DeckSays   // longest tape the deck's manual allows
	Deck         *tape.Deck // its profile; nil: none. The four fields above go before it

	Levels LevelTerms  // how the tracks are brought together in level, where they were heard
	Stored tape.Stored // how the tape will be put away, for the places of echo

	TapeType       string // I, II, III, IV; may be empty
	NoiseReduction string // none, B, C ...; may be empty
	UsedTape       bool   // something was recorded on it before

	MaxSteps int64 // fit's effort; 0: its default

	begun    []begun // tapes of which some is recorded already; see Replan
	unsolved bool    // nothing may be solved on its behalf; see Lay
	roomy    bool    // sides hold anything; see Contradiction
}

// DeckSays is the longest tape that a deck may be fed.
type DeckSays struct {
	Name  string        // C90
	Side  time.Duration // 45 minutes
	Known bool          // from this deck's manual; false: the usual advice
}

// SetDeck takes what a deck's profile says of speed, counter and longest tape.
func (r *Request) SetDeck(d tape.Deck) error {
	r.Deck = &d
	r.DeckError = d.SpeedError
	r.CounterRatio, r.CounterKnown = d.CounterRatio()
	if d.LongestTape != "" {
		t, err := tape.Named(d.LongestTape)
		if err != nil {
			return err
		}
		r.DeckLimit = DeckSays{Name: t.Name, Side: t.Side, Known: true}
	}
	return nil
}

// Arc is the shape that the drive of a side's tracks should take.
type Arc string

const (
	Level   Arc = "level"
	Rising  Arc = "rising"
	Falling Arc = "falling"
	Hill    Arc = "hill"
	Valley  Arc = "valley"
)

// SetArc asks for an arc of side A or B.
func (r *Request) SetArc(side, arc string) error {
	side = strings.ToUpper(side)
	if side != "A" && side != "B" {
		return fmt.Errorf("there is no side %q: write A or B", side)
	}
	switch a := Arc(strings.ToLower(arc)); a {
	case Level, Rising, Falling, Hill, Valley:
		if r.Arcs == nil {
			r.Arcs = map[string]Arc{}
		}
		r.Arcs[side] = a
		return nil
	}
	return fmt.Errorf("arc %q: write level, rising, falling, hill or valley", arc)
}

// CheckArcs refuses an arc that could not be heeded: one that is wished with an
// order in which nothing may be moved for its sake, or of tracks of which no
// drive is known, given or heard. With toHear they are to be listened to yet.
func (r *Request) CheckArcs(toHear bool) error {
	if len(r.Arcs) == 0 {
		return nil
	}
	if r.Order != fit.Free {
		return errors.New("--arc chooses the running order: it needs --order free (arc and order in a mix file, too)")
	}
	known := func(it Item) bool { return it.Wish.Drive != nil || it.Heard != nil }
	if !toHear && !slices.ContainsFunc(r.Mix.Items, known) {
		return errors.New("--arc: nothing says how driving the tracks are: give --drive, or drive in a mix file, or --levels to take their loudness for it")
	}
	return nil
}

// Orders, spares and aims by the names that a person writes.
var (
	orderNames = map[fit.Order]string{fit.Keep: "keep", fit.Near: "near", fit.Free: "free"}
	spareNames = map[fit.Spare]string{fit.Last: "last", fit.Even: "even", fit.First: "first"}
	aimNames   = map[fit.Aim]string{fit.MostSongs: "songs", fit.MostTime: "time"}
)

// ParseAim reads songs or time.
func ParseAim(s string) (fit.Aim, error) {
	for a, n := range aimNames {
		if strings.EqualFold(n, s) {
			return a, nil
		}
	}
	return 0, fmt.Errorf("aim %q: write songs or time", s)
}

// ParseOrder reads keep, near or free.
func ParseOrder(s string) (fit.Order, error) {
	for o, n := range orderNames {
		if strings.EqualFold(n, s) {
			return o, nil
		}
	}
	return 0, fmt.Errorf("order %q: write keep, near or free", s)
}

// ParseSpare reads last, even or first.
func ParseSpare(s string) (fit.Spare, error) {
	for o, n := range spareNames {
		if strings.EqualFold(n, s) {
			return o, nil
		}
	}
	return 0, fmt.Errorf("spare %q: write last, even or first", s)
}

// ParseLimit reads short, nominal or measured.
func ParseLimit(s string) (Limit, error) {
	switch l := Limit(strings.ToLower(s)); l {
	case ShortLimit, NominalLimit, MeasuredLimit:
		return l, nil
	}
	return "", fmt.Errorf("limit %q: write short, nominal or measured", s)
}

// maxGap bounds a gap: more silence than this is no gap between songs.
const maxGap = 10 * time.Minute

// maxApart bounds the tracks between two of one artist: no side holds more.
const maxApart = 1000

// TooLong lists the items that no side can hold, by number.
func (r *Request) TooLong() []int {
	most := r.longestSide()
	var list []int
	for i, it := range r.Mix.Items {
		if it.Length > most && it.Wish.Split == 0 {
			list = append(list, i)
		}
	}
	return list
}

// longestSide is the most programme that any side can take.
func (r *Request) longestSide() time.Duration {
	var most time.Duration
	for _, c := range r.Tapes {
		most = max(most, r.limits(c).of(r.Limit))
	}
	return most
}

// SplitSpan is where item i can be split so that each part fits a side; ok is
// false when it is longer than two.
func (r *Request) SplitSpan(i int) (from, to time.Duration, ok bool) {
	most, whole := r.longestSide(), r.Mix.Items[i].Length
	from, to = max(0, whole-most), min(most, whole)
	return from, to, from < to
}

// check refuses what no tape and no deck could mean.
func (r *Request) check() error {
	within := func(what string, v, lo, hi float64, unit string) error {
		if !(v >= lo && v <= hi) { // a NaN is outside, too
			return fmt.Errorf("%s of %g %s: give %g to %g", what, v, unit, lo, hi)
		}
		return nil
	}
	// Times are said as a person writes them.
	withinTime := func(what string, v, lo, hi time.Duration) error {
		if v < lo || v > hi {
			return fmt.Errorf("%s of %s: give %s to %s", what, Clock(v), Clock(lo), Clock(hi))
		}
		return nil
	}
	var errs []error
	if len(r.Mix.Items) == 0 {
		errs = append(errs, errors.New("there is no track to plan"))
	}
	if n := len(r.Mix.Items); n > fit.MaxPieces {
		errs = append(errs, fmt.Errorf("%d tracks are more than the %d that can be planned at once: plan them in parts", n, fit.MaxPieces))
	}
	if len(r.Tapes) == 0 {
		errs = append(errs, errors.New("no tape: name one with --tape, as in --tape C90"))
	}
	errs = append(errs,
		withinTime("gap", r.Gap, -maxGap, maxGap),
		within("tolerance", r.Tolerance*100, 0, 20, "%"),
		within("deck speed", r.DeckError*100, -20, 20, "%"),
		withinTime("lead-in", r.LeadIn, 0, maxGap),
		withinTime("end leader", r.EndLeader, 0, maxGap),
		within("counter ratio", r.CounterRatio, 0, 20, "counts a turn"),
	)
	if r.Apart < 0 || r.Apart > maxApart {
		errs = append(errs, fmt.Errorf("%d tracks between two of one artist (--apart, or apart in a mix file): give 0 to %d", r.Apart, maxApart))
	}
	errs = append(errs, r.Levels.check())
	if d, nr := r.Deck, r.NoiseReduction; d != nil && len(d.Noise) > 0 && nr != "" && !strings.EqualFold(nr, "none") &&
		!slices.ContainsFunc(d.Noise, func(n string) bool { return strings.EqualFold(n, nr) }) {
		errs = append(errs, fmt.Errorf("noise reduction %s: the deck's profile has %s; leave it out, say none, or correct the profile", nr, list(d.Noise, "and")))
	}
	if r.Limit == MeasuredLimit {
		for _, c := range r.Tapes {
			if c.Timed == 0 {
				errs = append(errs, fmt.Errorf("limit measured: %s was not timed; give --tape-minutes, or another limit", c.Tape.Name))
			}
		}
	}
	return errors.Join(errs...)
}
