package tape

import (
	"fmt"
	"time"
)

// Condition of a tape.
type Condition string

const (
	Unsaid Condition = ""
	Sealed Condition = "sealed" // never opened
	Used   Condition = "used"   // played or recorded on, and well
	Worn   Condition = "worn"   // creased, noisy, or played very often
)

// Facts are what is known when the trust in a tape is judged. Zero values mean
// that nothing is known, and are not held against it.
type Facts struct {
	Tape      Tape
	Years     int // since it was made
	Condition Condition
	Deck      Deck
	Shortfall float64       // dB by which 400 Hz stays under 0 dB with the deck's level control at its end, as a positive number
	Ends      time.Duration // where programme ends on the side, at nominal speed; 0: not planned

	// Facts for the tape count as facts against it do.
	Wound      bool // it was wound end to end before
	PlayedWell bool // it was recorded and played through before, without trouble
	Calibrates bool // a calibration came out with nothing short
}

// Risk is one way in which a long thin tape goes wrong.
type Risk string

const (
	Jam     Risk = "jam"
	Uneven  Risk = "uneven wind"
	Stretch Risk = "stretch"
	Flutter Risk = "flutter"
	Print   Risk = "print-through"
	Output  Risk = "lower output"
)

// Likely is how likely a risk is, in plain words. No frequency stands behind
// them: no published figure was found.
type Likely int

const (
	Unlikely Likely = iota
	Possible
	Probable
)

func (l Likely) String() string { return [...]string{"unlikely", "possible", "probable"}[l] }

// Doubt is one risk with what speaks for it and what helps.
type Doubt struct {
	Risk    Risk
	Likely  Likely
	Because []string // what speaks for the risk; never empty
	But     []string // what speaks against it
	Do      []string // what helps; never empty
}

// Trust is a judgement of a tape, not a ban.
type Trust struct {
	Likely Likely  // of the worst doubt
	Doubts []Doubt // worst first; those with nothing against the tape are left out
}

// Word is the trust in one word.
func (t Trust) Word() string { return [...]string{"good", "fair", "careful"}[t.Likely] }

// Bounds of the judgement. Where no source is named they are common practice, no source.
const (
	// VeryThin marks the C150 and C180, which are thinner still than the C120
	// that four owner and workshop manuals advise against.
	VeryThin Micrometres = 8
	// OldTape: a clean C120 of 20 to 30 years can still record well; drop-outs
	// show on the oldest.
	OldTape = 20
	// WeakOutput is a shortfall at 400 Hz that the record control cannot mend.
	WeakOutput = 2.0 // dB
	// UsualDeckLimit is the longest tape that most decks' manuals allow.
	UsualDeckLimit = 90 * time.Minute / 2 // a side
)

// A rule is one fact that speaks for some risks, or against them. Two points make
// a risk possible, four probable: our own reckoning, no source.
//
// Probable is kept for what is worn, weak, very thin or stopped by a lever alone
// (grave). People who use long tapes on sound decks report no trouble up to the
// C110, and good recordings on C120s three decades old; the manuals that warn
// were mostly written for mechanisms with a simple stop (common practice, no
// source).
type rule struct {
	holds func(Facts) bool
	why   string
	adds  map[Risk]int
	grave bool
}

const (
	possibleFrom = 2
	probableFrom = 4
)

var rules = []rule{
	{holds: func(f Facts) bool { return f.Tape.Thickness < NoteThinner && f.Tape.Thickness >= CautionThinner },
		why:  "the tape is thinner than a C90's",
		adds: map[Risk]int{Jam: 1, Uneven: 1, Stretch: 1, Print: 1}},
	{holds: func(f Facts) bool { return f.Tape.Thickness < CautionThinner },
		why:  "the tape is as thin as a C120's, which four owner and workshop manuals advise against",
		adds: map[Risk]int{Jam: 2, Uneven: 2, Stretch: 2, Flutter: 1, Print: 2, Output: 1}},
	{holds: func(f Facts) bool { return f.Tape.Thickness < VeryThin }, grave: true,
		why:  "it is among the thinnest ever sold",
		adds: map[Risk]int{Jam: 2, Uneven: 1, Stretch: 2, Flutter: 2, Print: 1, Output: 1}},
	{holds: func(f Facts) bool { return f.Deck.LongestTape != "" && f.Tape.nominalSide() > f.Deck.limit() },
		why:  "it is longer than the deck is made for",
		adds: map[Risk]int{Jam: 1, Uneven: 1, Flutter: 1}},
	{holds: func(f Facts) bool { return f.Deck.LongestTape == "" && f.Tape.nominalSide() > f.Deck.limit() },
		why:  "it is longer than a C90, the most that decks' manuals usually allow (common practice, no source)",
		adds: map[Risk]int{Jam: 1, Uneven: 1, Flutter: 1}},
	{holds: func(f Facts) bool {
		return f.Tape.Thickness < NoteThinner && (f.Deck.AutoStop == StopNone || f.Deck.AutoStop == StopLever)
	}, grave: true,
		why:  "the deck does not watch both hubs, so a jam is not stopped at once",
		adds: map[Risk]int{Jam: 1, Stretch: 1}},
	{holds: func(f Facts) bool { return f.Condition == Worn }, grave: true,
		why:  "the tape is worn",
		adds: map[Risk]int{Jam: 1, Uneven: 2, Stretch: 1, Flutter: 2, Output: 2}},
	{holds: func(f Facts) bool { return f.Condition == Used && !f.PlayedWell },
		why:  "the tape was used before",
		adds: map[Risk]int{Uneven: 1, Output: 1}},
	{holds: func(f Facts) bool { return f.Years >= OldTape },
		why:  "it is old, and drop-outs show on the oldest tapes",
		adds: map[Risk]int{Uneven: 1, Output: 1}},
	{holds: func(f Facts) bool { return f.Shortfall > 0 && f.Shortfall < WeakOutput },
		why:  "its calibration fell a little short",
		adds: map[Risk]int{Output: 1}},
	{holds: func(f Facts) bool { return f.Shortfall >= WeakOutput }, grave: true,
		why:  "its calibration fell short with the control at its end",
		adds: map[Risk]int{Output: 3}},
	{holds: func(f Facts) bool { z := f.Tape.ThinTail(); return f.Ends > 0 && !z.Empty() && f.Ends > z.From },
		why:  "the programme runs into the thin end of the side",
		adds: map[Risk]int{Jam: 1, Stretch: 1, Flutter: 1}},

	{holds: func(f Facts) bool { return f.Deck.AutoStop == StopBothHubs },
		why:  "both hubs are watched",
		adds: map[Risk]int{Jam: -1, Stretch: -1}},
	{holds: func(f Facts) bool { return f.Deck.Heads == 3 },
		why:  "you can listen off the tape while it records",
		adds: map[Risk]int{Flutter: -1, Output: -1}},
	{holds: func(f Facts) bool { return f.Wound },
		why:  "it was wound end to end before",
		adds: map[Risk]int{Jam: -1, Uneven: -1}},
	{holds: func(f Facts) bool { return f.PlayedWell },
		why:  "it was recorded and played before without trouble",
		adds: map[Risk]int{Jam: -1, Uneven: -1, Stretch: -1, Flutter: -1, Output: -1}},
	{holds: func(f Facts) bool { return f.Calibrates && f.Shortfall <= 0 },
		why:  "it calibrates fully",
		adds: map[Risk]int{Output: -1}},
}

// nominalSide is the side that t's name promises: a C90 that holds a minute
// more is a C90 still.
func (t Tape) nominalSide() time.Duration {
	if named, err := Named(t.Name); err == nil {
		return named.Side
	}
	return t.Side
}

// limit is the longest side that the deck is made for.
func (d Deck) limit() time.Duration {
	if t, err := Named(d.LongestTape); err == nil {
		return t.Side
	}
	return UsualDeckLimit
}

// What helps, a risk each, in the order of use. Common practice, save where a
// source is named. What the facts have answered is left out.
var help = []struct {
	risk Risk
	do   []remedy
}{
	{Jam, []remedy{
		{windOnce, func(f Facts) bool { return !f.Wound }},
		{"use a deck that watches both hubs, if you can", func(f Facts) bool { return f.Deck.AutoStop == StopUnknown && f.Tape.Thickness < NoteThinner }},
		{"stay beside the deck: nothing stops a jam at once", func(f Facts) bool { return f.Deck.AutoStop == StopNone || f.Deck.AutoStop == StopLever }},
		{"take up the slack by hand before it goes in; clean heads, pinch roller and capstan", always},
	}},
	{Uneven, []remedy{
		{windOnce, func(f Facts) bool { return !f.Wound }},
		{"tap the closed shell flat on the hand if the packs stand proud (two owner manuals)", always},
	}},
	{Stretch, []remedy{
		{"no long pauses with the tape held against the head, and no fast winding to and fro", always},
	}},
	{Flutter, []remedy{
		{"put rugged tracks at the end of the side: no held notes, no solo piano", always},
	}},
	{Print, []remedy{
		{"store it rewound, upright and cool, and wind it end to end before playing", always},
		{"no loud start straight after a silence shorter than four seconds", always},
	}},
	{Output, []remedy{
		{"record a little lower and set level and bias for this very tape", func(f Facts) bool { return !f.Calibrates }},
		{"record a little lower", func(f Facts) bool { return f.Calibrates }},
		{"listen off the tape for drop-outs", func(f Facts) bool { return f.Deck.Heads == 3 }},
		{"play the first minutes back and listen for drop-outs", func(f Facts) bool { return f.Deck.Heads != 3 }},
	}},
}

// windOnce evens the pack.
const windOnce = "wind it to its end and back once before recording, in one go (advice of a 1980 home-computer magazine and of owner manuals)"

// remedy is one thing that helps, where it is still to be done.
type remedy struct {
	do    string
	helps func(Facts) bool
}

func always(Facts) bool { return true }

// Judge weighs the facts. Worse facts never give a better judgement.
func Judge(f Facts) Trust {
	var t Trust
	for _, h := range help {
		points, grave := 0, false
		d := Doubt{Risk: h.risk}
		if z := f.Tape.ThinTail(); h.risk == Stretch && !z.Empty() {
			d.Do = append(d.Do, fmt.Sprintf("leave the last %s of a side blank, from %s on", clock(z.To-z.From), clock(z.From)))
		}
		for _, r := range h.do {
			if r.helps(f) {
				d.Do = append(d.Do, r.do)
			}
		}
		for _, r := range rules {
			n := r.adds[h.risk]
			if n == 0 || !r.holds(f) {
				continue
			}
			points += n
			if n > 0 {
				d.Because = append(d.Because, r.why)
				grave = grave || r.grave
			} else {
				d.But = append(d.But, r.why)
			}
		}
		switch {
		case len(d.Because) == 0:
			continue
		case points >= probableFrom && grave:
			d.Likely = Probable
		case points >= possibleFrom:
			d.Likely = Possible
		}
		t.Likely = max(t.Likely, d.Likely)
		t.Doubts = append(t.Doubts, d)
	}
	// Worst first; help's order among equals.
	for i := range t.Doubts {
		for k := i; k > 0 && t.Doubts[k].Likely > t.Doubts[k-1].Likely; k-- {
			t.Doubts[k], t.Doubts[k-1] = t.Doubts[k-1], t.Doubts[k]
		}
	}
	return t
}
