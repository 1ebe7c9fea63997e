package planner

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"longside/media/verify"
	"longside/planner/tape"
)

// SideVerdict is the answer to the evening's last question: is it all there?
type SideVerdict struct {
	AllThere bool           `json:"all_there"`
	Tracks   []TrackVerdict `json:"verdicts"` // in the side's order
	Wrong    []string       `json:"wrong"`    // what is wrong with the whole side
	Again    []string       `json:"again"`    // what to record again
	Notes    []string       `json:"remarks"`
}

// TrackVerdict is the answer for one track.
type TrackVerdict struct {
	Number int      `json:"number"`
	Title  string   `json:"title"`
	Says   string   `json:"says"` // whole, missing, cut ..., not judged
	Whole  *bool    `json:"whole"`
	More   []string `json:"more"` // where it lies, drop-outs, level
}

// Of the side's level, in dB, and its plan, in s: our own choice.
const (
	levelOff = 3.0
	lateBy   = 1.0
)

// JudgeSide says what was found of a side that was planned.
func JudgeSide(f verify.SideFindings, p Plan, tapeNumber, side int) SideVerdict {
	t, s := p.Tapes[tapeNumber], p.Tapes[tapeNumber].Sides[side]
	v := SideVerdict{AllThere: true, Tracks: []TrackVerdict{}, Wrong: []string{}, Again: []string{}, Notes: []string{}}
	place := func(at float64) string {
		text := Clock(seconds(at))
		if c := counterAt(t, p.Terms, seconds(at)); c != "" {
			text += ", counter " + c
		}
		return text
	}
	levels, usual := levelsOf(f, s)
	for i, h := range f.Tracks {
		tv := TrackVerdict{Number: i + 1, Title: h.Title, More: []string{}}
		yes, no := true, false
		more := func(format string, args ...any) { tv.More = append(tv.More, fmt.Sprintf(format, args...)) }
		switch {
		case !h.Judged:
			tv.Says = "not judged: it came from no file"
		case !h.Found:
			tv.Says, tv.Whole = "missing", &no
			v.Again = append(v.Again, fmt.Sprintf("%d %s, planned for %s", i+1, h.Title, place(s.Tracks[i].StartS.D().Seconds())))
		case !h.Whole:
			tv.Whole = &no
			var parts []string
			for _, x := range h.Holes {
				if x.ToEnd {
					parts = append(parts, fmt.Sprintf("cut at %s, %s of it missing", Clock(seconds(x.FromS)), lasting(s.Tracks[i].LengthS.D().Seconds()-x.FromS)))
					continue
				}
				parts = append(parts, fmt.Sprintf("%s missing at %s (tape %s)", lasting(x.ToS-x.FromS), Clock(seconds(x.FromS)), place(x.AtTape)))
			}
			tv.Says = strings.Join(parts, "; ")
			v.Again = append(v.Again, fmt.Sprintf("%d %s, from %s", i+1, h.Title, place(h.TapeS)))
		default:
			tv.Says, tv.Whole = "whole", &yes
		}
		if tv.Whole != nil && !*tv.Whole {
			v.AllThere = false
		}
		if h.Found {
			at := fmt.Sprintf("begins at %s of the tape", place(h.TapeS))
			if math.Abs(h.LateS) >= lateBy {
				word := "later"
				if h.LateS < 0 {
					word = "earlier"
				}
				at += fmt.Sprintf(", %.1f s %s than planned", math.Abs(h.LateS), word)
			}
			more("%s", at)
			if d := levels[i] - usual; math.Abs(d) >= levelOff {
				more("%+.1f dB against the other tracks: not as planned", d)
			}
			const most = 5
			for k, d := range h.DropOuts {
				if k == most {
					more("and %d more drop-outs", len(h.DropOuts)-most)
					break
				}
				more("drop-out at %s (tape %s): %.0f dB for %.0f ms, %s", Clock(seconds(d.TrackS)), place(d.TapeS), d.DB, 1000*d.LongS, d.Channel)
			}
		}
		v.Tracks = append(v.Tracks, tv)
	}
	switch {
	case f.OneSided != "":
		v.Wrong = append(v.Wrong, fmt.Sprintf("the %s channel is missing: look at plugs, cable and heads, of the recording and of the capture", f.OneSided))
	case f.Swapped:
		v.Wrong = append(v.Wrong, "left and right are swapped: look at the cables, of the recording and of the capture")
	case f.Alike:
		v.Wrong = append(v.Wrong, "both channels hold the same: a mono deck, head or cable")
	}
	if len(v.Wrong) > 0 {
		v.AllThere = false
		if len(v.Again) == 0 {
			v.Again = append(v.Again, "the side, if the fault is not of the capture alone")
		}
	}
	if f.Channels == 1 {
		v.Notes = append(v.Notes, "the capture has one channel: left and right are not judged")
	}
	last := s.Tracks[len(s.Tracks)-1].EndS().D().Seconds()
	end := f.LengthS - f.RecordS
	if f.Speed != nil { // of the plan's seconds a fast deck plays more in each
		end *= 1 + f.Speed.Value/100
	}
	if end < last-1 {
		v.Notes = append(v.Notes, fmt.Sprintf("the capture ends at %s of the tape, the side's last track was planned to end at %s: capture all of it", Clock(seconds(max(end, 0))), Clock(seconds(last))))
	}
	if f.Clipped > 0 {
		v.Notes = append(v.Notes, fmt.Sprintf("the capture is cut off at full scale in %d places: lower its level when you capture again", f.Clipped))
	}
	return v
}

// levelsOf is each track's level against what was planned, and the usual one.
// Whether the trims were used in the recording is told by what agrees better.
func levelsOf(f verify.SideFindings, s Side) (levels []float64, usual float64) {
	trims := s.Trims()
	spread := func(trimmed bool) (all []float64, middle, wide float64) {
		var found []float64
		for i, h := range f.Tracks {
			x := h.LevelDB
			if trimmed && i < len(trims) {
				x -= trims[i]
			}
			all = append(all, x)
			if h.Found {
				found = append(found, x)
			}
		}
		if len(found) == 0 {
			return all, 0, 0
		}
		slices.Sort(found)
		middle = found[len(found)/2]
		for _, x := range found {
			wide += math.Abs(x - middle)
		}
		return all, middle, wide
	}
	plain, m, w := spread(false)
	if trimmed, m2, w2 := spread(true); w2 < w {
		return trimmed, m2
	}
	return plain, m
}

// counterAt is the reading at a moment of a side; empty: the deck counts time.
func counterAt(t Tape, terms Terms, at time.Duration) string {
	if terms.CounterRatio <= 0 || at < 0 {
		return ""
	}
	length := tape.Metres(t.LengthM)
	whole := tape.Tape{Name: t.Name, Length: length, Thickness: tape.Micrometres(t.ThicknessUM), Hub: tape.Millimetres(t.HubMM),
		Side: seconds(t.LengthM * 1000 / float64(tape.Speed))}
	n := int(whole.Counter(tape.NominalTime(at, terms.DeckSpeedPct/100), terms.CounterRatio)) % 1000
	if !terms.CounterKnown {
		return fmt.Sprintf("about %03d", n)
	}
	return fmt.Sprintf("%03d", n)
}

// lasting is a length for a sentence.
func lasting(s float64) string {
	if s < 60 {
		return fmt.Sprintf("%.1f s", s)
	}
	return Clock(seconds(s))
}

// ParseSide reads A, or 1A and 2B for the side of a set's tape; the numbers count
// from 0. It must be a side of the plan.
func (p Plan) ParseSide(s string) (tapeNumber, side int, err error) {
	n, k, err := parseSide(s)
	if err != nil {
		return 0, 0, err
	}
	if n >= len(p.Tapes) || k >= len(p.Tapes[n].Sides) {
		return 0, 0, fmt.Errorf("side %q: the plan has %d tape(s) and no such side", s, len(p.Tapes))
	}
	return n, k, nil
}
