package planner

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"longside/media/meter"
	"longside/planner/tape"
)

// Echo is a place on a side where print-through may be heard: a loud passage
// faintly, one turn of the stored pack away, in a quiet one.
type Echo struct {
	Tape   int     `json:"tape"`    // from 1
	Side   string  `json:"side"`    // A or B
	Track  string  `json:"track"`   // title of the track with the loud passage
	LoudS  Seconds `json:"loud_s"`  // where that is, from pressing record
	AtS    Seconds `json:"at_s"`    // where it may be heard
	DelayS Seconds `json:"delay_s"` // how far apart the two are
	Before bool    `json:"before"`  // it is heard before the loud passage
	// RiseLU is how far the loud passage stands above the quiet one. How strong
	// the print itself is, no published figure says.
	RiseLU float64 `json:"rise_lu"`
	// Stronger marks the direction in which print is held to be stronger; see tape.Echo.
	Stronger bool `json:"stronger_direction"`
}

// greatRise is the contrast of the strongest marks, LU: full scale over the
// meter's floor is some 60, and music seldom stands so far (our own choice).
const greatRise = 55

// Strength is how strongly a mark for the echo should stand out, 0 to 1, by the
// contrast of the two places.
func (e Echo) Strength() float64 {
	return min(max((e.RiseLU-tape.EchoContrast)/(greatRise-tape.EchoContrast), 0), 1)
}

// Echoes finds the places of a plan where print-through may be heard, all of
// them, in the order of the tape, for tapes that are stored in that way. Tracks
// without a level are passed over.
func Echoes(p Plan, stored tape.Stored) []Echo {
	var all []Echo
	for ti, t := range p.Tapes {
		wound := tape.Tape{Name: t.Name, Length: tape.Metres(t.LengthM), Thickness: tape.Micrometres(t.ThicknessUM), Hub: tape.Millimetres(t.HubMM)}
		for _, s := range t.Sides {
			for _, x := range wound.Echoes(p.passages(s), stored.StartOutside(s.Side == "B"), tape.EchoContrast) {
				at := x.Loud + x.Delay
				if x.Before {
					at = x.Loud - x.Delay
				}
				loud := p.clock(x.Loud)
				all = append(all, Echo{
					Tape: ti + 1, Side: s.Side, Track: trackAt(s, loud), LoudS: loud, AtS: p.clock(at), DelayS: p.clock(x.Delay),
					Before: x.Before, RiseLU: round1(x.Contrast), Stronger: x.Stronger,
				})
			}
		}
	}
	return all
}

// clock is a time at nominal speed as the deck's clock shows it.
func (p Plan) clock(d time.Duration) Seconds {
	return Seconds(tape.ClockTime(d, p.Terms.DeckSpeedPct/100))
}

// passages are a side's loudness from pressing record to the end of the tape:
// each step of its tracks, and the blanks between them. What is not known is no
// blank and no loud place either.
func (p Plan) passages(s Side) []tape.Passage {
	var side []tape.Passage
	add := func(from, to Seconds, lufs float64) {
		if from < to {
			side = append(side, tape.Passage{From: tape.NominalTime(from.D(), p.Terms.DeckSpeedPct/100), To: tape.NominalTime(to.D(), p.Terms.DeckSpeedPct/100), LUFS: lufs})
		}
	}
	at := Seconds(0)
	for i, t := range s.Tracks {
		add(at, t.StartS, meter.SilenceLevel)
		// Of tracks that overlap, the one that comes in is heard.
		at = t.EndS()
		if i+1 < len(s.Tracks) {
			at = min(at, max(s.Tracks[i+1].StartS, t.StartS))
		}
		l := t.Level
		if l == nil || l.CourseStepS <= 0 {
			continue
		}
		course := l.course()
		for k := int(t.inPlace() / l.CourseStepS); ; k++ {
			from := t.StartS + Seconds(k)*l.CourseStepS - t.inPlace()
			if from >= at {
				break
			}
			lufs := course.At(k)
			if lufs > meter.CourseFloor {
				lufs += l.TrimDB
			}
			add(max(from, t.StartS), min(from+l.CourseStepS, at), lufs)
		}
	}
	if len(s.Tracks) > 0 {
		add(at, s.RunS, meter.SilenceLevel)
	}
	return side
}

// trackAt is the title of the track that plays then.
func trackAt(s Side, at Seconds) string {
	title := ""
	for _, t := range s.Tracks {
		if t.StartS <= at {
			title = t.Title
		}
	}
	return title
}

// namedEchoes is how many places of a side a warning names.
const namedEchoes = 3

// EchoWarnings is one note a side of the places found: the greatest contrasts
// by name, the rest by their number.
func EchoWarnings(p Plan, all []Echo, stored tape.Stored) []Warning {
	var ws []Warning
	for ti, t := range p.Tapes {
		for _, s := range t.Sides {
			var here []Echo
			for _, e := range all {
				if e.Tape == ti+1 && e.Side == s.Side {
					here = append(here, e)
				}
			}
			if len(here) == 0 {
				continue
			}
			slices.SortStableFunc(here, func(a, b Echo) int { return cmp.Compare(b.RiseLU, a.RiseLU) })
			var places []string
			for _, e := range here[:min(len(here), namedEchoes)] {
				word := "after"
				if e.Before {
					word = "before"
				}
				places = append(places, fmt.Sprintf("%.1f s %s the loud passage of %s at %s", e.DelayS.D().Seconds(), word, quote(e.Track), e.LoudS))
			}
			more := ""
			if n := len(here) - namedEchoes; n > 0 {
				more = fmt.Sprintf(", and in %d more %s", n, plural(n, "place", "places"))
			}
			how := map[tape.Stored]string{tape.Rewound: "rewound", tape.Played: "played"}[stored]
			ws = append(ws, Warning{About: "echo", Severity: Remark, Tape: ti + 1, Side: s.Side, Track: here[0].Track, AtS: here[0].AtS,
				Says: fmt.Sprintf("a faint echo may be heard when the tape has lain %s: %s%s; keep it cool, and wind it end to end before playing",
					how, strings.Join(places, "; "), more)})
		}
	}
	return ws
}
