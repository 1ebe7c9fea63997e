package planner

import (
	"errors"
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
	SetAt    time.Duration // where in it: what moves a peak meter most
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
			loud = append(loud, r.Integrated)
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

// loudest is the track that moves a peak meter most, and where.
func loudest(heard []meter.Result, trims []Trim) (track int, at time.Duration) {
	best, bestPeak := math.Inf(-1), math.Inf(-1)
	for i, r := range heard {
		m, p := r.MeterMax, r.TruePeak
		if trims != nil {
			m, p = m+trims[i].DB, p+trims[i].DB
		}
		if m > best || math.IsInf(best, -1) && p > bestPeak {
			track, at, best, bestPeak = i, r.MeterMaxAt, m, p
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
		want := target - r.Integrated
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

// TrackLevel is what a plan keeps of what the meter found in a track, as it will
// lie on the tape; times are from the start of its file. It is all that a later
// command knows of it. Levels are to a tenth.
type TrackLevel struct {
	IntegratedLUFS float64 `json:"integrated_lufs"`
	TruePeakDBTP   float64 `json:"true_peak_dbtp"`
	LoudestS       Seconds `json:"loudest_s"` // where the loudest 400 ms begin
	// TrimDB is the gain that would bring the tracks of the tape to one loudness.
	TrimDB float64 `json:"trim_db"`

	MeterMaxDBFS  float64 `json:"meter_max_dbfs"` // the most that a peak meter reads; see meter.Result
	MeterMaxS     Seconds `json:"meter_max_s"`    // where
	TrebleDB      float64 `json:"treble_db"`      // see meter.Result; noTreble: none
	TrebleMaxDBFS float64 `json:"treble_max_dbfs"`
	LeadSilenceS  Seconds `json:"lead_silence_s"`
	TailSilenceS  Seconds `json:"tail_silence_s"`

	// Course is a meter.Course: a byte a step, in halves of an LU above -60 LUFS.
	// In the file it is base64 (RFC 4648).
	CourseStepS Seconds `json:"course_step_s,omitempty"`
	Course      []byte  `json:"course,omitempty"`
}

// noTreble stands for a level that cannot be given: JSON knows no infinity.
const noTreble = -200.0

// LevelOf is what a plan keeps of the meter's findings; nil when nothing was
// heard, or only silence.
func LevelOf(r *meter.Result) *TrackLevel {
	if r == nil || math.IsInf(r.Integrated, 0) || math.IsInf(r.TruePeak, 0) {
		return nil
	}
	// Blanks are cut by these: no sound is to be lost by rounding.
	down := func(d time.Duration) Seconds { return Seconds(d.Truncate(time.Millisecond)) }
	return &TrackLevel{
		IntegratedLUFS: round1(r.Integrated), TruePeakDBTP: round1(r.TruePeak), LoudestS: down(r.LoudestAt),
		MeterMaxDBFS: round1(r.MeterMax), MeterMaxS: down(r.MeterMaxAt),
		TrebleDB: round1(max(r.Treble, noTreble)), TrebleMaxDBFS: round1(max(r.TrebleMax, noTreble)),
		LeadSilenceS: down(r.Lead), TailSilenceS: down(r.Tail),
		CourseStepS: Seconds(r.Course.Step), Course: r.Course.Levels,
	}
}

// heard is the reverse of LevelOf, as far as a plan needs it.
func (l *TrackLevel) heard() *meter.Result {
	if l == nil {
		return nil
	}
	level := func(v float64) float64 {
		if v <= noTreble {
			return math.Inf(-1)
		}
		return v
	}
	return &meter.Result{
		Integrated: l.IntegratedLUFS, TruePeak: l.TruePeakDBTP, LoudestAt: l.LoudestS.D(),
		MeterMax: l.MeterMaxDBFS, MeterMaxAt: l.MeterMaxS.D(),
		Treble: level(l.TrebleDB), TrebleMax: level(l.TrebleMaxDBFS),
		Lead: l.LeadSilenceS.D(), Tail: l.TailSilenceS.D(), Course: l.course(),
	}
}

func (l *TrackLevel) course() meter.Course {
	return meter.Course{Step: l.CourseStepS.D(), Levels: l.Course}
}

// check refuses levels that no meter found.
func (l *TrackLevel) check() error {
	if l == nil {
		return nil
	}
	for _, v := range []float64{l.IntegratedLUFS, l.TruePeakDBTP, l.TrimDB, l.MeterMaxDBFS, l.TrebleDB, l.TrebleMaxDBFS} {
		if !(math.Abs(v) <= -noTreble) {
			return fmt.Errorf("a level of %g dB", v)
		}
	}
	if min(l.LoudestS, l.MeterMaxS, l.LeadSilenceS, l.TailSilenceS, l.CourseStepS) < 0 {
		return errors.New("a level with a negative time")
	}
	if len(l.Course) > meter.CourseMost || len(l.Course) > 0 && l.CourseStepS.D() < 10*time.Millisecond {
		return fmt.Errorf("a course of %d steps of %v", len(l.Course), l.CourseStepS.D())
	}
	return nil
}

// mostCourse bounds the courses of a plan together, in bytes: 116 hours in steps
// of 100 ms. Beyond it all go to longer steps.
const mostCourse = 1 << 22

// boundCourses makes the courses of a plan coarser until they are within most
// bytes. The tracks are the plan's own.
func (p Plan) boundCourses(most int) {
	for {
		var levels []*TrackLevel
		total, fine := 0, Seconds(math.MaxInt64)
		for _, t := range p.tracks() {
			if l := t.Level; l != nil && len(l.Course) > 0 {
				levels, total, fine = append(levels, l), total+len(l.Course), min(fine, l.CourseStepS)
			}
		}
		if total <= most {
			return
		}
		for _, l := range levels {
			if l.CourseStepS == fine {
				c := l.course().Halved()
				l.CourseStepS, l.Course = Seconds(c.Step), c.Levels
			}
		}
	}
}

// tracks are all the tracks of a plan, those left out at the end.
func (p Plan) tracks() []*Track {
	var all []*Track
	for ti := range p.Tapes {
		for si := range p.Tapes[ti].Sides {
			s := &p.Tapes[ti].Sides[si]
			for i := range s.Tracks {
				all = append(all, &s.Tracks[i])
			}
		}
	}
	for i := range p.LeftOut {
		all = append(all, &p.LeftOut[i])
	}
	return all
}

// withLevels adds what the levels of the tracks mean: a trim for each, a note a
// side on where to set the record level, what has too much treble and how much
// the tracks differ, and the places of echo. Trims are for all tracks of the
// plan together.
func (p Plan) withLevels() Plan {
	p = p.WithPaths(func(f string) string { return f }) // its own copy of the tracks
	for _, t := range p.tracks() {
		if t.Level != nil {
			l := *t.Level
			t.Level = &l
		}
	}
	zero := 0
	if p.Terms.Deck != nil {
		zero = p.Terms.Deck.MeterZero
	}
	var heard []meter.Result
	var tracks []*Track
	for _, t := range p.tracks() {
		if t.Level != nil {
			heard, tracks = append(heard, *t.Level.heard()), append(tracks, t)
		}
	}
	all, ok := AdviseLevels(heard, p.Terms.TapeType, zero)
	if !ok {
		return p
	}
	for i, t := range tracks {
		t.Level.TrimDB = all.Trims[i].DB
	}
	p.boundCourses(mostCourse)
	p.Warnings = slices.Clone(p.Warnings)
	var types []string // whose meter peaks were given
	for ti, t := range p.Tapes {
		typ := p.typeOf(t)
		if !slices.Contains(types, typ) {
			types = append(types, typ)
			p.Warnings = append(p.Warnings, Warning{About: "meter", Severity: Remark, Says: meterWords(MeterPeaks(typ, zero), typ)})
		}
		for _, s := range t.Sides {
			for _, w := range levelWarnings(s, typ, zero) {
				w.Tape, w.Side = ti+1, s.Side
				p.Warnings = append(p.Warnings, w)
			}
		}
	}
	p.Echoes = Echoes(p, p.Terms.Stored)
	p.Warnings = append(p.Warnings, EchoWarnings(p, p.Echoes, p.Terms.Stored)...)
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

func levelWarnings(s Side, tapeType string, zero int) (ws []Warning) {
	var heard []meter.Result
	var tracks []Track
	for _, t := range s.Tracks {
		if t.Level != nil {
			heard, tracks = append(heard, *t.Level.heard()), append(tracks, t)
		}
	}
	a, ok := AdviseLevels(heard, tapeType, zero)
	if !ok {
		return nil
	}
	t := tracks[a.SetOn]
	at := t.StartS + Seconds(a.SetAt) - t.inPlace()
	says := fmt.Sprintf("set the record level on %s, loudest at %s of the track (%s of the side)", quote(t.Title), Clock(a.SetAt), at)
	if at < t.StartS || at > t.EndS() { // of a part of a file, when it lies in the other part
		at = t.StartS
		says = fmt.Sprintf("set the record level on %s, which is loudest in its other part", quote(t.Title))
	}
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
