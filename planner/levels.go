package planner

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
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

// DefaultHeadroom is what the highest true peak keeps to full scale, dB: the
// usual maximum of -1 dBTP (EBU R 128).
const DefaultHeadroom = 1.0

// LevelTerms are how the tracks of a mix are brought together in level.
type LevelTerms struct {
	AsTheyAre bool `json:"as_they_are,omitempty"` // the tracks are played as they are: no trims
	// LoudnessLUFS is what the trims bring the tracks to; nil: the middle one's,
	// until a plan was made.
	LoudnessLUFS *float64 `json:"loudness_lufs,omitempty"`
	// HeadroomDB is what the highest true peak, trimmed, keeps to full scale, and
	// LoweredDB by how much the whole mix is lower for its sake.
	HeadroomDB float64 `json:"headroom_db"`
	LoweredDB  float64 `json:"lowered_db,omitempty"`
	// MeterZero is the flux at 0 dB of the record meter, nWb/m; 0: as the deck's
	// profile says, or not known.
	MeterZero int `json:"meter_zero_nwb_m,omitempty"`
}

// check refuses what no mix is brought to.
func (t LevelTerms) check() error {
	if l := t.LoudnessLUFS; l != nil && !(*l >= -40 && *l <= 0) {
		return fmt.Errorf("a loudness of %g LUFS: give -40 to 0", *l)
	}
	if !(t.HeadroomDB >= 0 && t.HeadroomDB <= 20) {
		return fmt.Errorf("a headroom of %g dB: give 0 to 20", t.HeadroomDB)
	}
	switch t.MeterZero {
	case 0, 160, 200, 250:
		return nil
	}
	return fmt.Errorf("a meter zero of %d nWb/m: write 160, 200 or 250", t.MeterZero)
}

// levelled is a track while its trim is reckoned.
type levelled struct {
	*TrackLevel
	placed  bool // it is on the tape: what is not has no say
	kept    bool // it is recorded: its trim stays what it was
	overlap bool // it runs into the next
	held    bool // more or less was wanted than it got
}

// trim gives every track its trim: to one loudness, and the whole mix lower by
// as much as its highest true peak needs for the headroom. Where tracks overlap,
// their peaks may add up: each fades by the root of its share of the power, so
// that together they are no higher than the root of the sum of their squares.
//
// Once some of the mix is recorded, the rest keeps to its loudness and lowering;
// a track that would then pass the headroom is held down by itself.
func (t *LevelTerms) trim(tracks []levelled) {
	var loud []float64
	fixed := false
	for _, l := range tracks {
		if l.placed {
			loud = append(loud, l.IntegratedLUFS)
		}
		fixed = fixed || l.kept
	}
	if t.AsTheyAre || len(loud) == 0 {
		t.LoweredDB = 0
		for _, l := range tracks {
			if !l.kept {
				l.TrimDB = 0
			}
		}
		return
	}
	if t.LoudnessLUFS == nil {
		slices.Sort(loud)
		t.LoudnessLUFS = &loud[len(loud)/2]
	}
	want := func(l levelled) float64 {
		return round1(max(-mostTrim, min(*t.LoudnessLUFS-l.IntegratedLUFS, mostTrim)))
	}
	if !fixed {
		highest := math.Inf(-1)
		before := 0.0 // the power of a peak that runs into this track's
		for _, l := range tracks {
			if !l.placed {
				continue
			}
			peak := math.Pow(10, (l.TruePeakDBTP+want(l))/10)
			highest = max(highest, 10*math.Log10(peak+before))
			if before = 0; l.overlap {
				before = peak
			}
		}
		t.LoweredDB = max(0, math.Ceil(10*(highest+t.HeadroomDB)-1e-6)/10)
	}
	for i := range tracks {
		l := &tracks[i]
		if l.kept {
			continue
		}
		w := want(*l)
		l.TrimDB = round1(w - t.LoweredDB)
		if fixed {
			l.TrimDB = min(l.TrimDB, math.Floor(10*(-t.HeadroomDB-l.TruePeakDBTP)+1e-6)/10)
		}
		l.held = math.Abs(l.TrimDB+t.LoweredDB-(*t.LoudnessLUFS-l.IntegratedLUFS)) > 0.06
	}
}

// Reading is what the record meter is to read at the place that a mix is set on.
type Reading struct {
	TapeType string  `json:"tape_type"`  // I, II, III, IV; empty: not said, taken as I
	ZeroNWb  int     `json:"zero_nwb_m"` // flux at the meter's 0 dB
	DB       float64 `json:"db"`
	// ToneDBFS is the level of a tone, 0 being a sine of full scale, that reads 0
	// where the place reads DB: one setting for both.
	ToneDBFS float64 `json:"tone_dbfs"`
}

// lowestTone bounds the tone of a very quiet mix, dBFS: our own choice.
const lowestTone = -40.0

// readings are what to set a place to that a peak meter shows at dbfs. Where the
// zero is not known they are for all three, the safest first.
func readings(dbfs float64, types []string, zero int) []Reading {
	var rs []Reading
	for _, typ := range types {
		for _, m := range MeterPeaks(typ, zero) {
			rs = append(rs, Reading{typ, m.ZeroNWb, m.Low, min(0, max(round1(dbfs-m.Low), lowestTone))})
		}
	}
	return rs
}

// LevelSetting is the one place of a mix that the record level is set on.
type LevelSetting struct {
	Tape     int     `json:"tape"`       // from 1
	Side     string  `json:"side"`       // A or B
	Track    string  `json:"track"`      // its title
	AtS      Seconds `json:"at_s"`       // from pressing record
	InTrackS Seconds `json:"in_track_s"` // from the beginning of the track as it is played
	// PlaceDBFS is what a peak meter (see meter.Result) reads there, trims counted;
	// 0 is a held sine of full scale.
	PlaceDBFS float64   `json:"place_dbfs"`
	Readings  []Reading `json:"readings"`
}

// For is what the meter is to read with a tape of a type; where its zero is not
// known, by the convention that is safest.
func (s LevelSetting) For(tapeType string) Reading {
	for _, r := range s.Readings {
		if r.TapeType == tapeType {
			return r
		}
	}
	return s.Readings[0]
}

// LevelAdvice is what the levels of some tracks mean at the deck. Tracks are
// counted from 0, in the order in which they were given.
type LevelAdvice struct {
	Terms    LevelTerms    // resolved: the loudness, and by how much all is lower
	Trims    []Trim        // one a track
	SetOn    int           // the track to set the record level on, trims counted
	SetAt    time.Duration // where in it: what moves a peak meter most
	SetDBFS  float64       // what such a meter reads there
	Readings []Reading     // what to set that place to
	SpreadLU float64       // between the loudest and the quietest track
	Treble   []TrebleExcess
}

// Trim is a gain for one track.
type Trim struct {
	DB   float64
	Held bool // it would have taken another to bring the track to the loudness
}

// TrebleExcess is a track whose treble a tape may not hold at the advised level.
type TrebleExcess struct {
	Track   int
	At      float64 // dB re 250 nWb/m that its peaks of 8 to 16 kHz reach
	Ceiling float64 // dB re 250 nWb/m that the tape holds at 10 kHz
}

// AdviseLevels reads the levels of tracks, nil for those that hold no sound, for
// one tape type. It is false when no track holds any.
func AdviseLevels(heard []*TrackLevel, terms LevelTerms, tapeType string) (LevelAdvice, bool) {
	a := LevelAdvice{Terms: terms, Trims: make([]Trim, len(heard)), SetDBFS: math.Inf(-1)}
	var tracks []levelled
	var number []int
	low, high := math.Inf(1), math.Inf(-1)
	for i, l := range heard {
		if l != nil {
			own := *l
			tracks, number = append(tracks, levelled{TrackLevel: &own, placed: true}), append(number, i)
			low, high = min(low, l.IntegratedLUFS), max(high, l.IntegratedLUFS)
		}
	}
	if len(tracks) == 0 {
		return a, false
	}
	a.SpreadLU = high - low
	a.Terms.trim(tracks)
	for k, l := range tracks {
		a.Trims[number[k]] = Trim{l.TrimDB, l.held}
		if m := l.MeterMaxDBFS + l.TrimDB; m > a.SetDBFS {
			a.SetOn, a.SetAt, a.SetDBFS = number[k], l.MeterMaxS.D(), m
		}
	}
	a.Readings = readings(a.SetDBFS, []string{tapeType}, terms.MeterZero)
	for k, l := range tracks {
		if x, over := l.treble(a.SetDBFS, tapeType); over {
			x.Track = number[k]
			a.Treble = append(a.Treble, x)
		}
	}
	return a, true
}

// treble tells whether a track's treble passes what the tape holds, with the
// place that reads place set to what the meter may show (+2 dB re 250 nWb/m,
// Type IV +4).
func (l *TrackLevel) treble(place float64, tapeType string) (x TrebleExcess, over bool) {
	x.At = l.TrebleMaxDBFS + l.TrimDB + trebleCrest - place + MeterPeaks(tapeType, 250)[0].Low
	x.Ceiling = trebleCeiling[tapeType]
	return x, x.At > x.Ceiling
}

// withLevels adds what the levels of the tracks mean: a trim for each, the one
// place of the whole mix to set the record level on, what has too much treble,
// how much the tracks differ, and the places of echo.
func (p Plan) withLevels() Plan {
	p = p.WithPaths(func(f string) string { return f }) // its own copy of the tracks
	var tracks []levelled
	heard := false
	for ti := range p.Tapes {
		for si := range p.Tapes[ti].Sides {
			s := &p.Tapes[ti].Sides[si]
			for i := range s.Tracks {
				t := &s.Tracks[i]
				if t.Level == nil {
					continue
				}
				l := *t.Level
				t.Level = &l
				heard = true
				tracks = append(tracks, levelled{TrackLevel: &l, placed: true, kept: t.Recorded, overlap: t.GapS < 0 && i+1 < len(s.Tracks)})
			}
		}
	}
	for i := range p.LeftOut {
		if t := &p.LeftOut[i]; t.Level != nil {
			l := *t.Level
			t.Level = &l
			tracks = append(tracks, levelled{TrackLevel: &l})
		}
	}
	if p.Setting = nil; !heard {
		p.Terms.Levels = nil
		return p
	}
	terms := LevelTerms{HeadroomDB: DefaultHeadroom}
	if p.Terms.Levels != nil {
		terms = *p.Terms.Levels
	}
	terms.trim(tracks)
	p.Terms.Levels = &terms
	p.setting()
	p.boundCourses(mostCourse)
	p.Echoes = Echoes(p, p.Terms.Stored)
	p.Warnings = slices.Concat(p.Warnings, p.levelWarnings(), EchoWarnings(p, p.Echoes, p.Terms.Stored))
	return p
}

// setting finds the place of all sides that moves a peak meter most, trims
// counted.
func (p *Plan) setting() {
	s := LevelSetting{PlaceDBFS: math.Inf(-1)}
	var types []string
	for ti, t := range p.Tapes {
		if typ := p.TypeOf(t); !slices.Contains(types, typ) {
			types = append(types, typ)
		}
		for _, side := range t.Sides {
			for _, tr := range side.Tracks {
				if at, db, ok := tr.meterPlace(); ok && db > s.PlaceDBFS {
					s = LevelSetting{Tape: ti + 1, Side: side.Side, Track: tr.Title, AtS: tr.StartS + at, InTrackS: at, PlaceDBFS: round1(db)}
				}
			}
		}
	}
	s.Readings = readings(s.PlaceDBFS, types, p.MeterZero())
	p.Setting = &s
}

// MeterZero is the flux at the meter's 0 dB; 0: not known.
func (p Plan) MeterZero() int {
	switch {
	case p.Terms.Levels != nil && p.Terms.Levels.MeterZero > 0:
		return p.Terms.Levels.MeterZero
	case p.Terms.Deck != nil:
		return p.Terms.Deck.MeterZero
	}
	return 0
}

// meterPlace is where, from its beginning as it is played, a track moves a peak
// meter most, and what that reads, its trim counted. Of a part in which the place
// of the whole does not lie, it is told by the loudest step of its course.
func (t Track) meterPlace() (at Seconds, db float64, ok bool) {
	l := t.Level
	if l == nil {
		return 0, 0, false
	}
	from := t.inPlace()
	if at = l.MeterMaxS - from; at >= 0 && at < t.LengthS {
		return at, l.MeterMaxDBFS + l.TrimDB, true
	}
	all, here := 0, 0
	at = 0
	for k, v := range l.Course {
		all = max(all, int(v))
		if x := Seconds(k)*l.CourseStepS - from; x >= 0 && x < t.LengthS && int(v) > here {
			here, at = int(v), x
		}
	}
	return at, l.MeterMaxDBFS + l.TrimDB - float64(all-here)/2, true
}

// WithHeard is the plan with levels put into it of the tracks that found knows,
// to be used as terms says: for a plan that was made without.
func (p Plan) WithHeard(found func(Track) *TrackLevel, terms LevelTerms) Plan {
	p = p.WithPaths(func(f string) string { return f })
	for _, t := range p.tracks() {
		t.Level = found(*t)
	}
	p.Terms.Levels = &terms
	return p.withLevels()
}

// TypeOf is a tape's own type, or the plan's.
func (p Plan) TypeOf(t Tape) string {
	if t.Type != "" {
		return t.Type
	}
	return p.Terms.TapeType
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }

// levelWarnings are the notes on setting the level and on the trims.
func (p Plan) levelWarnings() []Warning {
	ws := []Warning{{About: "level", Severity: Remark, Tape: p.Setting.Tape, Track: p.Setting.Track, AtS: p.Setting.AtS, Says: "set the record level once, for all sides: " + p.SettingSays()}}
	if says := p.TrimsSay(); says != "" {
		ws = append(ws, Warning{About: "trims", Severity: Remark, Says: says})
	}
	for ti, t := range p.Tapes {
		typ := p.TypeOf(t)
		for _, s := range t.Sides {
			for _, tr := range s.Tracks {
				if tr.Level == nil {
					continue
				}
				if x, over := tr.Level.treble(p.Setting.PlaceDBFS, typ); over {
					ws = append(ws, Warning{About: "treble", Severity: Remark, Tape: ti + 1, Side: s.Side, Track: tr.Title, AtS: tr.StartS,
						Says: fmt.Sprintf("%s has more treble than the tape may hold at that level (about %+.0f dB re 250 nWb/m; %s takes some %+.0f at 10 kHz, from memory, unverified): set the level %.0f dB lower, or accept softer cymbals",
							quote(tr.Title), x.At, typeWords(typ), x.Ceiling, math.Ceil(x.At-x.Ceiling))})
				}
			}
		}
	}
	return ws
}

// SettingSays is what to do with the record level, for a plan that has a Setting.
func (p Plan) SettingSays() string {
	s := p.Setting
	where := "side " + s.Side
	if len(p.Tapes) > 1 {
		where = fmt.Sprintf("tape %d, side %s", s.Tape, s.Side)
	}
	counted := ""
	if !p.Terms.Levels.AsTheyAre {
		counted = ", the trims counted in"
	}
	return fmt.Sprintf("play %s from a little before %s (%s at %s), the place that moves the meter most%s, and let its peak read about %s; typical figures, and your deck's manual goes before them",
		quote(s.Track), s.InTrackS, where, s.AtS, counted, readingsSay(s.Readings))
}

// readingsSay lists what a meter is to read, a tape type after the other.
func readingsSay(rs []Reading) string {
	var parts []string
	for len(rs) > 0 {
		typ, n := rs[0].TapeType, 1
		for n < len(rs) && rs[n].TapeType == typ {
			n++
		}
		var dbs, zeros []string
		for _, r := range rs[:n] {
			dbs, zeros = append(dbs, fmt.Sprintf("%+.0f", r.DB)), append(zeros, fmt.Sprint(r.ZeroNWb))
		}
		says := fmt.Sprintf("%s dB where the meter's 0 is %s nWb/m", list(dbs, "or"), list(zeros, "or"))
		if len(parts) > 0 || n < len(rs) {
			says = typeWords(typ) + ": " + says
		}
		parts, rs = append(parts, says), rs[n:]
	}
	return strings.Join(parts, "; ")
}

// TrimsSay is what the trims do; empty where they do nothing worth a word.
func (p Plan) TrimsSay() string {
	t := p.Terms.Levels
	if t == nil || t.AsTheyAre || t.LoudnessLUFS == nil {
		return ""
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, tape := range p.Tapes {
		for _, s := range tape.Sides {
			for _, tr := range s.Tracks {
				if tr.Level != nil {
					low, high = min(low, tr.Level.IntegratedLUFS), max(high, tr.Level.IntegratedLUFS)
				}
			}
		}
	}
	var parts []string
	if high-low >= 1 {
		parts = append(parts, fmt.Sprintf("the tracks differ by %.0f LU, and the trims bring them to one loudness, %.1f LUFS", high-low, *t.LoudnessLUFS-t.LoweredDB))
	}
	if t.LoweredDB > 0 {
		parts = append(parts, fmt.Sprintf("the whole mix is %.1f dB lower so that its highest true peak keeps %g dB to full scale", t.LoweredDB, t.HeadroomDB))
	}
	return strings.Join(parts, "; ")
}

func typeWords(tapeType string) string {
	if tapeType == "" {
		tapeType = "I"
	}
	return "Type " + tapeType
}
