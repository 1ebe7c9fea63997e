package planner

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"longside/media/meter"
)

// MeterPeak is how high the record meter's peaks may go on music, for one
// convention of what its 0 dB means. Published advice differs: Low and High are
// its ends. Typical figures; the deck's own manual goes before them.
type MeterPeak struct {
	ZeroNWb   int     // flux at the meter's 0 dB, nWb/m
	Low, High float64 // dB on that meter
}

// MeterPeaks gives the advice for a tape type (I, II, III, IV; empty as I), for
// one meter zero (160, 200, 250) or, with 0, for all three.
//
// Type I and II / Type IV: meters with 0 at 250 nWb/m about +2 / +4 (a hobby
// page on decks of 2015) to +3 / +6 (an owner manual); at 200 nWb/m +4 / +6 by
// arithmetic from that (250 is 1.9 dB over 200) to +5 / +8 (an owner manual
// quoted in Audio, November 1986); at 160 nWb/m +6 by an owner manual of an
// older deck, Type IV +8 by arithmetic.
func MeterPeaks(tapeType string, zero int) []MeterPeak {
	all := []MeterPeak{{250, 2, 3}, {200, 4, 5}, {160, 6, 6}}
	if tapeType == "IV" {
		all = []MeterPeak{{250, 4, 6}, {200, 6, 8}, {160, 8, 8}}
	}
	for _, m := range all {
		if m.ZeroNWb == zero {
			return []MeterPeak{m}
		}
	}
	return all
}

// trebleCeiling is what a tape gives at 10 kHz before it saturates, in dB
// against 250 nWb/m, the lower end of the usual range: from memory, unverified.
var trebleCeiling = map[string]float64{"": -4, "I": -4, "II": -6, "III": -4, "IV": 0}

// trebleCrest is how far brief peaks of treble stand over their mean of 100 ms:
// common practice, no source.
const trebleCrest = 6.0

// mostTrim bounds a trim in dB: beyond it something is wrong with the file, and
// its noise would come up with it (common practice, no source).
const mostTrim = 12.0

// LevelAdvice is what the meter's findings mean at the deck. Tracks are counted
// from 0, in the order in which they were given.
type LevelAdvice struct {
	SetOn    int           // the track to set the record level on
	SetAt    time.Duration // from where in it: the loudest 400 ms
	SpreadLU float64       // between the loudest and the quietest track
	Trims    []Trim        // for equal loudness, one a track
	// TrimmedSetOn and TrimmedSetAt are SetOn and SetAt once the trims are used.
	TrimmedSetOn int
	TrimmedSetAt time.Duration
	Treble       []TrebleExcess
	Meters       []MeterPeak
}

// Trim is a gain for one track.
type Trim struct {
	DB float64
	// Held: more was wanted, but the track's peaks would have passed those that
	// the level was set for.
	Held bool
}

// TrebleExcess is a track whose treble a tape may not hold at the advised level.
type TrebleExcess struct {
	Track   int
	At      float64 // dB re 250 nWb/m that its peaks of 8 to 16 kHz reach
	Ceiling float64 // dB re 250 nWb/m that the tape holds at 10 kHz
}

// AdviseLevels reads the meter's findings for one tape type and meter zero (see
// MeterPeaks). It is false when no track holds any sound.
func AdviseLevels(heard []meter.Result, tapeType string, meterZero int) (LevelAdvice, bool) {
	a := LevelAdvice{Trims: make([]Trim, len(heard)), Meters: MeterPeaks(tapeType, meterZero)}
	var loud []float64 // loudness on tape of the tracks that have one
	peak := math.Inf(-1)
	for _, r := range heard {
		if !math.IsInf(r.Integrated, 0) {
			loud = append(loud, r.Integrated+r.OnTape())
		}
		peak = max(peak, r.TruePeak)
	}
	if math.IsInf(peak, 0) {
		return a, false
	}
	a.SetOn, a.SetAt = loudest(heard, nil)
	if len(loud) > 0 {
		slices.Sort(loud)
		a.SpreadLU = loud[len(loud)-1] - loud[0]
		a.trim(heard, loud[len(loud)/2], min(peak, 0))
	}
	a.TrimmedSetOn, a.TrimmedSetAt = loudest(heard, a.Trims)
	a.treble(heard, tapeType, peak)
	return a, true
}

// loudest is the track with the loudest 400 ms on tape, and where they are; of
// tracks too short for that, the one with the highest peak.
func loudest(heard []meter.Result, trims []Trim) (track int, at time.Duration) {
	best, bestPeak := math.Inf(-1), math.Inf(-1)
	for i, r := range heard {
		m, p := r.MomentaryMax+r.OnTape(), r.TruePeak
		if trims != nil {
			m, p = m+trims[i].DB, p+trims[i].DB
		}
		if m > best || math.IsInf(best, -1) && p > bestPeak {
			track, at, best, bestPeak = i, r.LoudestAt, m, p
		}
	}
	return track, at
}

// trim brings every track to the loudness of the middle one, but none so far up
// that its peaks pass those of the whole side, or full scale: the record level
// is set for these, and the tape's headroom is spoken for.
func (a *LevelAdvice) trim(heard []meter.Result, target, ceiling float64) {
	for i, r := range heard {
		if math.IsInf(r.Integrated, 0) {
			continue
		}
		want := target - r.Integrated - r.OnTape()
		room := max(0, ceiling-r.TruePeak)
		db := max(-mostTrim, min(want, room, mostTrim))
		a.Trims[i] = Trim{DB: math.Round(db*10) / 10, Held: db < want-0.05 && want > 0}
	}
}

// treble finds the tracks whose treble, with the highest peak of the side set
// to what the meter may show (+2 dB re 250 nWb/m, Type IV +4), passes what the
// tape holds.
func (a *LevelAdvice) treble(heard []meter.Result, tapeType string, peak float64) {
	target := MeterPeaks(tapeType, 250)[0].Low
	ceiling := trebleCeiling[tapeType]
	for i, r := range heard {
		at := r.TrebleMax + trebleCrest - peak + target
		if at > ceiling {
			a.Treble = append(a.Treble, TrebleExcess{i, at, ceiling})
		}
	}
}

// TrackLevel is what a plan keeps of a track's levels.
type TrackLevel struct {
	IntegratedLUFS float64 `json:"integrated_lufs"`
	TruePeakDBTP   float64 `json:"true_peak_dbtp"`
	LoudestS       Seconds `json:"loudest_s"` // from the start of the track
	// TrimDB is the gain that would bring the tracks of the tape to one loudness.
	TrimDB float64 `json:"trim_db"`
}

// WithLevels is the plan with what the meter found in its tracks: a level and a
// trim for each, and a note a side on where to set the record level, what has
// too much treble, and how much the tracks differ. Trims are for all tracks of
// the plan together.
func (p Plan) WithLevels(levels Levels) Plan {
	p = p.WithPaths(func(f string) string { return f }) // its own copy of the tracks
	zero := 0
	if p.Terms.Deck != nil {
		zero = p.Terms.Deck.MeterZero
	}
	var heard []meter.Result
	var tracks []*Track
	for ti := range p.Tapes {
		for si := range p.Tapes[ti].Sides {
			s := &p.Tapes[ti].Sides[si]
			for i := range s.Tracks {
				if r, ok := levels(s.Tracks[i]); ok {
					heard, tracks = append(heard, r), append(tracks, &s.Tracks[i])
				}
			}
		}
	}
	all, ok := AdviseLevels(heard, p.Terms.TapeType, zero)
	if !ok {
		return p
	}
	for i, t := range tracks {
		if !math.IsInf(heard[i].Integrated, 0) {
			t.Level = &TrackLevel{round1(heard[i].Integrated), round1(heard[i].TruePeak), Seconds(heard[i].LoudestAt), all.Trims[i].DB}
		}
	}
	p.Warnings = slices.Clone(p.Warnings)
	var types []string // whose meter peaks were given
	for ti, t := range p.Tapes {
		typ := p.typeOf(t)
		if !slices.Contains(types, typ) {
			types = append(types, typ)
			p.Warnings = append(p.Warnings, Warning{About: "meter", Severity: Remark, Says: meterWords(MeterPeaks(typ, zero), typ)})
		}
		for _, s := range t.Sides {
			for _, w := range levelWarnings(s, levels, typ, zero) {
				w.Tape, w.Side = ti+1, s.Side
				p.Warnings = append(p.Warnings, w)
			}
		}
	}
	return p
}

// typeOf is a tape's own type, or the plan's.
func (p Plan) typeOf(t Tape) string {
	if t.Type != "" {
		return t.Type
	}
	return p.Terms.TapeType
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }

// evenEnough is the spread of loudness that nobody minds, in LU: common
// practice, no source.
const evenEnough = 4.0

func levelWarnings(s Side, levels Levels, tapeType string, zero int) (ws []Warning) {
	var heard []meter.Result
	var tracks []Track
	for _, t := range s.Tracks {
		if r, ok := levels(t); ok {
			heard, tracks = append(heard, r), append(tracks, t)
		}
	}
	a, ok := AdviseLevels(heard, tapeType, zero)
	if !ok {
		return nil
	}
	t := tracks[a.SetOn]
	at := t.StartS + Seconds(a.SetAt) - t.inPlace()
	says := fmt.Sprintf("set the record level on %s, loudest at %s of the track (%s of the side)", quote(t.Title), Clock(a.SetAt), at)
	if a.SpreadLU > evenEnough {
		says += fmt.Sprintf("; the tracks differ by %.0f LU, the trims bring them nearer", a.SpreadLU)
	}
	ws = append(ws, Warning{About: "level", Severity: Remark, Track: t.Title, AtS: at, Says: says})
	for _, x := range a.Treble {
		t := tracks[x.Track]
		ws = append(ws, Warning{About: "treble", Severity: Remark, Track: t.Title, AtS: t.StartS,
			Says: fmt.Sprintf("%s has more treble than the tape may hold at that level (about %+.0f dB re 250 nWb/m; %s takes some %+.0f at 10 kHz, from memory, unverified): set the level %.0f dB lower, or accept softer cymbals",
				quote(t.Title), x.At, typeWords(tapeType), x.Ceiling, math.Ceil(x.At-x.Ceiling))})
	}
	return ws
}

func typeWords(tapeType string) string {
	if tapeType == "" {
		tapeType = "I"
	}
	return "Type " + tapeType
}

// meterWords says how high the peaks may go, for the meters that it may be.
func meterWords(meters []MeterPeak, tapeType string) string {
	var parts []string
	for _, m := range meters {
		span := fmt.Sprintf("%+.0f", m.Low)
		if m.High > m.Low {
			span += fmt.Sprintf(" to %+.0f", m.High)
		}
		parts = append(parts, fmt.Sprintf("%s dB where its 0 is %d nWb/m", span, m.ZeroNWb))
	}
	return fmt.Sprintf("let peaks on the meter reach about %s: typical for %s, and your deck's manual goes before it", strings.Join(parts, ", "), typeWords(tapeType))
}
