package planner

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"longside/media/meter"
	"longside/planner/tape"
)

// Levels gives what the meter found in a track; false where it was not metered.
type Levels func(Track) (meter.Result, bool)

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

// Echoes finds the places of a plan where print-through may be heard, in the
// order of the tape, for tapes that are stored in that way. Tracks without
// levels are passed over.
func Echoes(p Plan, levels Levels, stored tape.Stored) []Echo {
	var all []Echo
	for ti, t := range p.Tapes {
		wound := tape.Tape{Name: t.Name, Length: tape.Metres(t.LengthM), Thickness: tape.Micrometres(t.ThicknessUM), Hub: tape.Millimetres(t.HubMM)}
		for _, s := range t.Sides {
			e := echoing{p: p, wound: wound, levels: levels, outside: stored.StartOutside(s.Side == "B")}
			found := append(e.inGaps(s), e.inTracks(s)...)
			slices.SortStableFunc(found, func(a, b Echo) int { return cmp.Compare(a.AtS, b.AtS) })
			for _, f := range found {
				f.Tape, f.Side, f.RiseLU = ti+1, s.Side, math.Round(10*f.RiseLU)/10
				all = append(all, f)
			}
		}
	}
	return all
}

// echoing is the search on one side.
type echoing struct {
	p       Plan
	wound   tape.Tape
	levels  Levels
	outside bool // the start of the side lies outermost in the stored pack
}

// onTape is a clock time of the plan as time at nominal speed, and clock the reverse.
func (e echoing) onTape(s Seconds) time.Duration {
	return tape.NominalTime(s.D(), e.p.Terms.DeckSpeedPct/100)
}
func (e echoing) clock(d time.Duration) Seconds {
	return Seconds(tape.ClockTime(d, e.p.Terms.DeckSpeedPct/100))
}

// inGaps finds the echoes that fall into the blanks: before the first track,
// between tracks, after the last. Next to a blank counts what sounds within a
// second of it.
func (e echoing) inGaps(s Side) []Echo {
	var side []tape.Passage
	add := func(from, to Seconds, lufs float64) {
		side = append(side, tape.Passage{From: e.onTape(from), To: e.onTape(to), LUFS: lufs})
	}
	// A second on either side of a blank is not all that one turn reaches, but
	// it is what the meter keeps of a track's ends; so that the blank's whole
	// length finds its source, an end counts for one turn of a full pack.
	const reach = Seconds(3300 * time.Millisecond)
	blank := Seconds(0) // where the blank before the next track begins
	for _, t := range s.Tracks {
		r, ok := e.levels(t)
		whole := ok && t.FadeS == 0 && t.SplitOf == nil
		if !whole {
			// What is not known is no blank and no loud end either.
			blank = t.EndS()
			continue
		}
		first, last := t.StartS+Seconds(r.Lead), max(t.EndS()-Seconds(r.Tail), t.StartS)
		if first >= last { // nothing but silence
			continue
		}
		add(blank, first, meter.SilenceLevel)
		middle := first + (last-first)/2
		add(first, min(first+reach, middle), r.Opening)
		add(max(last-reach, middle), last, r.Closing)
		blank = last
	}
	if n := len(s.Tracks); n > 0 {
		add(blank, max(s.RunS, blank), meter.SilenceLevel)
	}
	var found []Echo
	for _, x := range e.wound.Echoes(side, e.outside, tape.EchoContrast) {
		loud := e.clock(x.Loud)
		found = append(found, Echo{
			Track: trackAt(s, loud), LoudS: loud, AtS: e.clock(x.From), DelayS: e.clock(x.Delay),
			Before: x.Before, RiseLU: x.Contrast, Stronger: x.Stronger,
		})
	}
	return found
}

// inTracks finds the echoes within tracks. The meter keeps, for each delay that
// a turn can have, the place with the greatest contrast; a place counts when
// one turn there is that delay, to half a step of the meter's.
func (e echoing) inTracks(s Side) []Echo {
	const halfStep = 50 * time.Millisecond
	var found []Echo
	for _, t := range s.Tracks {
		r, ok := e.levels(t)
		if !ok {
			continue
		}
		for _, list := range []struct {
			before bool
			of     []meter.Contrast
		}{{true, r.LoudAfterQuiet}, {false, r.QuietAfterLoud}} {
			var best *Echo
			for _, c := range list.of {
				at := t.StartS + Seconds(c.At) - t.inPlace()
				quiet := at + Seconds(c.Delay)
				if list.before {
					quiet = at - Seconds(c.Delay)
				}
				if at < t.StartS || at >= t.EndS() || quiet < t.StartS || quiet >= t.EndS() || !(c.Rise() >= tape.EchoContrast) {
					continue
				}
				turn, stronger, ok := e.wound.PrintDelay(e.onTape(at), e.outside, list.before)
				delay := e.clock(turn)
				if !ok || (delay.D()-c.Delay).Abs() > halfStep {
					continue
				}
				x := Echo{Track: t.Title, LoudS: at, AtS: at + delay, DelayS: delay, Before: list.before, RiseLU: c.Rise(), Stronger: stronger}
				if list.before {
					x.AtS = at - delay
				}
				if best == nil || x.RiseLU > best.RiseLU {
					best = &x
				}
			}
			if best != nil {
				found = append(found, *best)
			}
		}
	}
	return found
}

// trackAt is the title of the track that sounds at a time, or the nearest.
func trackAt(s Side, at Seconds) string {
	title, off := "", Seconds(math.MaxInt64)
	for _, t := range s.Tracks {
		d := max(t.StartS-at, at-t.EndS(), 0)
		if d < off {
			title, off = t.Title, d
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
