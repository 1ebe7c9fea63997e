package planner

import (
	"encoding"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"longside/fit"
	"longside/media"
	"longside/media/oneline"
	"longside/planner/tape"
)

// A plan file may come from anyone, and a side's name becomes a file's name and
// its times an evening at the deck. So it is judged twice: its shape (shaped)
// before anything is made of it, and its values (check) after. Fields that this
// version does not know pass; a value of the wrong kind, or one that no tape
// could have, does not.

// mostElements bounds what all lists of a plan file hold together: ten thousand
// tracks, and a few warnings for each.
const mostElements = 100_000

// shaped tells whether each field that is known holds a value of its kind, and
// the lists are not endless. data must be valid JSON. It looks at the bytes and
// keeps nothing, so that a file of millions of empty tracks costs no memory.
func shaped(data []byte, into any) error {
	s := shape{data: data, left: mostElements, fields: map[reflect.Type][]namedField{}}
	return s.value(reflect.TypeOf(into))
}

// shape is a place in a file of valid JSON.
type shape struct {
	data   []byte
	at     int
	left   int // elements of lists that may still come
	fields map[reflect.Type][]namedField
}

func (s *shape) space() {
	for s.at < len(s.data) && strings.IndexByte(" \t\r\n", s.data[s.at]) >= 0 {
		s.at++
	}
}

// next passes c over if it comes next.
func (s *shape) next(c byte) bool {
	s.space()
	if s.at < len(s.data) && s.data[s.at] == c {
		s.at++
		return true
	}
	return false
}

// kindOf is the kind of a JSON value, by its first byte.
func kindOf(c byte) string {
	switch c {
	case '{':
		return "an object"
	case '[':
		return "a list"
	case '"':
		return "text"
	case 't', 'f':
		return "true or false"
	case 'n':
		return "null"
	}
	return "a number"
}

// value passes over one value that is to be of type t.
func (s *shape) value(t reflect.Type) error {
	s.space()
	if s.at >= len(s.data) {
		return errors.New("ends too early")
	}
	found, want := kindOf(s.data[s.at]), ""
	if t.Kind() == reflect.Pointer {
		if found == "null" {
			s.skip()
			return nil
		}
		t = t.Elem()
	}
	switch {
	case t == reflect.TypeFor[[]byte]() || t.Kind() == reflect.String || reflect.PointerTo(t).Implements(reflect.TypeFor[encoding.TextUnmarshaler]()):
		want = "text"
	case t.Kind() == reflect.Bool:
		want = "true or false"
	case t.Kind() == reflect.Slice:
		want = "a list"
	case t.Kind() == reflect.Struct || t.Kind() == reflect.Map:
		want = "an object"
	default: // Seconds is one: it is written as a number
		want = "a number"
	}
	switch {
	case found != want:
		return fmt.Errorf("%s where %s belongs", found, want)
	case want == "a list":
		return s.list(t.Elem())
	case want == "an object":
		return s.object(t)
	}
	s.skip()
	return nil
}

func (s *shape) list(t reflect.Type) error {
	s.at++
	for n := 1; !s.next(']'); n++ {
		if s.left--; s.left < 0 {
			return fmt.Errorf("more than %d entries in all lists", mostElements)
		}
		if err := s.value(t); err != nil {
			return fmt.Errorf("%d: %w", n, err)
		}
		s.next(',')
	}
	return nil
}

func (s *shape) object(t reflect.Type) error {
	s.at++
	seen := uint64(0) // a bit a field
	for !s.next('}') {
		s.space()
		name := s.key()
		s.next(':')
		switch i := s.field(t, name); {
		case t.Kind() == reflect.Map:
			if err := s.value(t.Elem()); err != nil {
				return err
			}
		case i < 0:
			s.skip()
		default:
			f := s.fields[t][i]
			if seen>>i&1 != 0 {
				return fmt.Errorf("%s: is there twice", f.name)
			}
			seen |= 1 << i
			if err := s.value(f.typ); err != nil {
				return fmt.Errorf("%s: %w", f.name, err)
			}
		}
		s.next(',')
	}
	return nil
}

// field is the number of a field of t by its name in JSON; -1 where there is
// none. encoding/json takes TITLE for title, and so does this.
func (s *shape) field(t reflect.Type, name string) int {
	if t.Kind() == reflect.Map {
		return -1
	}
	fs, ok := s.fields[t]
	if !ok {
		fs = fieldsOf(t)
		s.fields[t] = fs
	}
	return slices.IndexFunc(fs, func(f namedField) bool { return strings.EqualFold(f.name, name) })
}

// key passes over a name; one that is too long to be known is given as empty.
func (s *shape) key() (name string) {
	from := s.at
	s.text()
	if raw := s.data[from:s.at]; len(raw) < 1000 {
		json.Unmarshal(raw, &name)
	}
	return name
}

// text passes over a string.
func (s *shape) text() {
	for s.at++; s.at < len(s.data) && s.data[s.at] != '"'; s.at++ {
		if s.data[s.at] == '\\' {
			s.at++
		}
	}
	s.at++
}

// skip passes over a whole value, whatever it is.
func (s *shape) skip() {
	s.space()
	for depth := 0; s.at < len(s.data); {
		switch c := s.data[s.at]; {
		case c == '"':
			s.text()
		case c == '{' || c == '[':
			depth++
			s.at++
		case c == '}' || c == ']':
			depth--
			s.at++
		case depth == 0: // a number or a word
			for s.at < len(s.data) && strings.IndexByte(" \t\r\n,:]}", s.data[s.at]) < 0 {
				s.at++
			}
		default:
			s.at++
		}
		if depth == 0 {
			return
		}
	}
}

type namedField struct {
	name string
	typ  reflect.Type
}

// fieldsOf are the names that a struct has in JSON.
func fieldsOf(t reflect.Type) []namedField {
	var fs []namedField
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.IsExported() && name != "" && name != "-" {
			fs = append(fs, namedField{name, f.Type})
		}
	}
	return fs
}

// The bounds of what a plan can hold.
const (
	mostTapes  = 1000              // as --tapes takes
	mostTracks = 2 * fit.MaxPieces // a split makes two of one
	mostLetter = 2000              // of a title, an artist, a label: media keeps 500
	mostPath   = 32 << 10          // bytes of a path: the most of any system
	mostSideS  = Seconds(3 * time.Hour)
	mostTrackS = Seconds(24 * time.Hour) // as a typed list takes
	mostGapS   = Seconds(maxGap)
	// slack is how far the times of a plan may disagree: each is rounded to the
	// millisecond, and four of them meet.
	slack = Seconds(3 * time.Millisecond)
)

// judge keeps the first fault that was found.
type judge struct {
	where string // tape 1 side A, track 3
	fault error
}

func (j *judge) refuse(format string, args ...any) {
	if j.fault == nil {
		where := j.where
		if where != "" {
			where += ": "
		}
		j.fault = fmt.Errorf(where+format, args...)
	}
}

func (j *judge) number(what string, v, lo, hi float64) {
	if !(v >= lo && v <= hi) { // a NaN is outside, too
		j.refuse("%s of %g: not within %g and %g", what, v, lo, hi)
	}
}

func (j *judge) whole(what string, v, lo, hi int) {
	if v < lo || v > hi {
		j.refuse("%s of %d: not within %d and %d", what, v, lo, hi)
	}
}

func (j *judge) time(what string, v, lo, hi Seconds) {
	switch {
	case v < 0 && lo == 0:
		j.refuse("%s is a negative time", what)
	case v < lo || v > hi:
		j.refuse("%s of %g s is out of range", what, v.D().Seconds())
	}
}

// same refuses two times that should be one.
func (j *judge) same(what string, v Seconds, as string, w Seconds) {
	if d := v - w; d > slack || d < -slack {
		j.refuse("%s of %g s, and %s of %g s: they do not add up", what, v.D().Seconds(), as, w.D().Seconds())
	}
}

func (j *judge) word(what, s string, words ...string) {
	if !slices.Contains(words, s) {
		j.refuse("%s %s: not one of %s", what, inQuotes(s), strings.Join(words, ", "))
	}
}

// text refuses what would move a cursor, and a text without end.
func (j *judge) text(what, s string, most int) {
	switch {
	case !utf8.ValidString(s):
		j.refuse("%s is not text in UTF-8", what)
	case strings.ContainsFunc(s, unicode.IsControl):
		j.refuse("%s %s holds a control character", what, inQuotes(s))
	case most > 0 && utf8.RuneCountInString(s) > most:
		j.refuse("%s is longer than %d characters", what, most)
	}
}

// inQuotes shows a value on one line, however long and odd it is.
func inQuotes(s string) string {
	if len(s) > 40 {
		s = s[:40] + "..."
	}
	return strconv.QuoteToASCII(s)
}

// check refuses what no plan could hold, so that whoever draws, plays or plans
// anew from it need not ask again. It is asked of every plan that is read, and of
// every one that is written: what longside wrote, longside reads.
func (p Plan) check() error {
	j := &judge{}
	j.text("title", p.Title, mostLetter)
	j.text("note", p.Note, mostLetter)
	j.time("within_s", p.WithinS, 0, maxSeconds*Seconds(time.Second))
	j.whole("within_songs", p.WithinSongs, 0, mostTracks)
	j.whole("at_least_tapes", p.AtLeast, 0, mostTracks)
	j.whole("moved_at_least", p.MovedAtLeast, 0, mostTracks)
	j.whole("number of tapes", len(p.Tapes), 0, mostTapes)
	tracks := len(p.LeftOut)
	for i, t := range p.Tapes {
		j.where = fmt.Sprintf("tape %d", i+1)
		j.tape(t)
		for k, s := range t.Sides {
			tracks += len(s.Tracks)
			j.where = fmt.Sprintf("tape %d side %d", i+1, k+1)
			j.side(p.Terms, t, i, k, s)
		}
	}
	for k, t := range p.LeftOut {
		j.where = fmt.Sprintf("left out, track %d", k+1)
		j.track(t)
	}
	j.where = ""
	j.whole("number of tracks", tracks, 0, mostTracks)
	for _, title := range p.Moved {
		j.text("moved", title, mostLetter)
	}
	for i, s := range p.Skipped {
		j.where = fmt.Sprintf("skipped %d", i+1)
		j.path(s.Path)
		j.text("why", s.Why, 0)
	}
	for i, w := range p.Warnings {
		j.where = fmt.Sprintf("warning %d", i+1)
		j.text("about", w.About, mostLetter)
		j.word("severity", string(w.Severity), string(Remark), string(Caution), string(Stop))
		j.place(p, w.Tape, w.Side)
		j.text("track", w.Track, mostLetter)
		j.time("at_s", w.AtS, -mostSideS, mostSideS)
		j.text("says", w.Says, 0)
	}
	for i, e := range p.Echoes {
		j.where = fmt.Sprintf("echo %d", i+1)
		j.place(p, e.Tape, e.Side)
		j.text("track", e.Track, mostLetter)
		j.time("loud_s", e.LoudS, 0, mostSideS)
		j.time("at_s", e.AtS, -Seconds(time.Minute), mostSideS)
		j.time("delay_s", e.DelayS, -Seconds(time.Minute), Seconds(time.Minute))
		j.number("rise_lu", e.RiseLU, 0, 200)
	}
	if s := p.Setting; s != nil {
		j.where = "level_setting"
		j.place(p, s.Tape, s.Side)
		j.text("track", s.Track, mostLetter)
		j.time("at_s", s.AtS, -mostSideS, mostSideS)
		j.time("in_track_s", s.InTrackS, -mostTrackS, mostTrackS)
		j.number("place_dbfs", s.PlaceDBFS, noTreble, 100)
		if len(s.Readings) == 0 {
			j.refuse("no reading of a meter")
		}
		for _, r := range s.Readings {
			j.word("tape_type", r.TapeType, "", "I", "II", "III", "IV")
			j.word("zero_nwb_m", strconv.Itoa(r.ZeroNWb), "0", "160", "200", "250")
			j.number("db", r.DB, -200, 200)
			j.number("tone_dbfs", r.ToneDBFS, -200, 200)
		}
	}
	for i, s := range p.Suggestions {
		j.where = fmt.Sprintf("suggestion %d", i+1)
		j.text("about", s.About, mostLetter)
		j.text("says", s.Says, 0)
		j.text("tape", s.Tape, mostLetter)
		for _, t := range s.Tracks {
			j.text("track", t, mostLetter)
		}
	}
	j.where = ""
	if p.Setting != nil {
		j.setting(p)
	}
	j.terms(p.Terms)
	if j.fault != nil {
		return j.fault
	}
	return p.checkLaid()
}

// place refuses a tape and a side that are not in the plan; 0 and nothing mean
// the whole plan.
func (j *judge) place(p Plan, tape int, side string) {
	j.whole("tape", tape, 0, len(p.Tapes))
	if side == "" || j.fault != nil {
		return
	}
	if tape > 0 && !slices.ContainsFunc(p.Tapes[tape-1].Sides, func(s Side) bool { return s.Side == side }) {
		j.refuse("there is no side %s of tape %d", inQuotes(side), tape)
	} else if tape == 0 && !sideForm.MatchString(side) {
		j.refuse("there is no side %s", inQuotes(side))
	}
}

// sideForm is how a side is named: A, B, or 2B of the second tape.
var sideForm = regexp.MustCompile(`^([1-9][0-9]{0,3})?[AB]$`)

func (j *judge) tape(t Tape) {
	if _, err := tape.Named(t.Name); err != nil || strings.ContainsFunc(t.Name, unicode.IsSpace) {
		j.refuse("a name of %s: no tape is called so", inQuotes(t.Name))
	}
	j.text("label", t.Label, mostLetter)
	j.word("type", t.Type, "", "I", "II", "III", "IV")
	j.number("thickness in um", t.ThicknessUM, 1, 100)
	j.number("length in m", t.LengthM, 0.1, 2000)
	j.number("hub in mm", t.HubMM, 1, 50)
	j.number("full pack in mm", t.FullMM, t.HubMM, 200)
	wound := tape.Tape{Thickness: tape.Micrometres(t.ThicknessUM), Length: tape.Metres(t.LengthM), Hub: tape.Millimetres(t.HubMM)}
	if j.fault == nil && math.Abs(float64(wound.FullRadius())-t.FullMM) > 0.1 {
		j.refuse("%g m of %g um on a hub of %g mm do not wind to %g mm", t.LengthM, t.ThicknessUM, t.HubMM, t.FullMM)
	}
	if k := t.Known; k != nil {
		j.whole("years", k.Years, 0, 200)
		j.word("condition", string(k.Condition), "", string(tape.Sealed), string(tape.Used), string(tape.Worn))
		if c := k.Calibration; c != nil {
			j.text("deck of the calibration", c.Deck, mostLetter)
			j.number("level_400hz_db", c.Level400, -100, 100)
			j.number("bias_10khz_db", c.Bias10k, -100, 100)
			j.number("shortfall_db", c.Shortfall, 0, 100)
		}
	}
	j.time("timed_s", t.TimedS, 0, mostSideS)
	j.whole("number of sides", len(t.Sides), 0, 2)
}

// side is side k of tape n, both from 0.
func (j *judge) side(terms Terms, t Tape, n, k int, s Side) {
	// The name becomes a part of file names: it is just the letter of its place,
	// with the tape's number before it or not.
	letter := string(rune('A' + k))
	j.word("side", s.Side, letter, strconv.Itoa(n+1)+letter)
	for _, x := range []struct {
		what string
		v    Seconds
	}{{"usable_s", s.UsableS}, {"used_s", s.UsedS}, {"short_s", s.ShortS}, {"nominal_s", s.NominalS},
		{"measured_s", s.MeasuredS}, {"run_s", s.RunS}, {"thin_from_s", s.ThinFromS}} {
		j.time(x.what, x.v, 0, mostSideS)
	}
	j.time("spare_s", s.SpareS, -mostSideS, mostSideS)
	j.same("spare_s", s.SpareS, "usable less used time", s.UsableS-s.UsedS)
	run := tape.ClockTime(t.TimedS.D(), terms.DeckSpeedPct/100)
	if named, err := tape.Named(t.Name); err == nil && t.TimedS == 0 {
		run = named.Run(terms.DeckSpeedPct / 100)
	}
	j.same("run_s", s.RunS, "a side of this tape", Seconds(run))
	if s.ThinFromS > s.RunS+slack {
		j.refuse("its thin end begins after its end")
	}
	if a := s.Arc; a != nil {
		j.word("arc", string(a.Arc), arcWords...)
		j.number("arc off", a.Off, 0, 10)
		j.number("arc within", a.Within, 0, 10)
	}
	where, recorded := j.where, true
	for i, t := range s.Tracks {
		j.where = fmt.Sprintf("%s, track %d", where, i+1)
		j.time("start_s", t.StartS, 0, mostSideS)
		j.track(t)
		if i > 0 && t.StartS < s.Tracks[i-1].StartS {
			j.refuse("it starts before the track before it")
		}
		if t.Recorded && !recorded {
			j.refuse("it is recorded, and a track before it is not")
		}
		recorded = t.Recorded
		if c := t.Counter; c != nil {
			j.whole("counter", *c, 0, 999)
		}
	}
	j.where = where
	used := Seconds(0)
	if n := len(s.Tracks); n > 0 {
		used = s.Tracks[n-1].EndS() - terms.LeadInS
	}
	j.same("used_s", s.UsedS, "its tracks and gaps", used)
}

// path refuses a name that no system has. All other bytes may be in it.
func (j *judge) path(path string) {
	if len(path) > mostPath || strings.ContainsRune(path, 0) {
		j.refuse("path %s: no file is called so", inQuotes(path))
	}
}

func (j *judge) track(t Track) {
	j.path(t.Path)
	j.text("title", t.Title, mostLetter)
	j.text("artist", t.Artist, mostLetter)
	j.time("length_s", t.LengthS, 0, mostTrackS)
	j.word("length_from", string(t.LengthFrom), string(media.Counted), string(media.Header), string(media.Typed), string(media.Estimated))
	j.time("from_s", Seconds(t.FromS), 0, mostTrackS)
	j.time("part_s", Seconds(t.PartS), 0, mostTrackS)
	if t.PartS > 0 {
		j.same("part_s", Seconds(t.PartS), "its length and fade", t.LengthS+t.FadeS)
	}
	if s := t.SplitOf; s != nil {
		j.time("from_s of the whole", Seconds(s.FromS), 0, mostTrackS)
		j.time("length_s of the whole", Seconds(s.LengthS), 0, mostTrackS)
	}
	j.time("gap_s", t.GapS, -mostGapS, mostSideS)
	j.whole("reserve", t.Reserve, 0, mostTracks)
	j.whole("n", t.Number, 0, mostTracks)
	j.time("fade_s", t.FadeS, 0, mostTrackS)
	if t.Size < 0 {
		j.refuse("a size of %d bytes", t.Size)
	}
	if w := t.Wish; w != nil {
		j.wish(*w)
	}
	if err := t.Level.check(); err != nil {
		j.refuse("%w", err)
	}
}

func (j *judge) wish(w Wish) {
	if w.Gap != nil {
		j.time("wished gap_s", *w.Gap, -mostGapS, mostGapS)
	}
	if w.Side != "" && !sideForm.MatchString(w.Side) {
		j.refuse("wished side %s: there is none such", inQuotes(w.Side))
	}
	places := []string{string(Anywhere), string(OfSide), string(OfMix)}
	j.word("opens", string(w.Opens), places...)
	j.word("closes", string(w.Closes), places...)
	j.whole("wished reserve", w.Reserve, 0, mostTracks)
	j.time("wished fade_s", w.Fade, 0, mostTrackS)
	j.time("split_s", w.Split, 0, mostTrackS)
	if w.Drive != nil {
		j.number("drive", *w.Drive, 0, 10)
	}
}

var arcWords = []string{string(Level), string(Rising), string(Falling), string(Hill), string(Valley)}

// setting is the place that the record level is set on.
func (j *judge) setting(p Plan) {
	s := p.Setting
	j.where = "level setting"
	if p.Terms.Levels == nil || len(s.Readings) == 0 {
		j.refuse("it has no terms or no readings")
		return
	}
	j.whole("tape", s.Tape, 1, len(p.Tapes))
	j.place(p, s.Tape, s.Side)
	j.text("track", s.Track, mostLetter)
	j.time("at_s", s.AtS, 0, mostSideS)
	j.time("in_track_s", s.InTrackS, 0, mostSideS)
	j.number("place_dbfs", s.PlaceDBFS, noTreble, -noTreble)
	for _, r := range s.Readings {
		j.word("tape_type", r.TapeType, "", "I", "II", "III", "IV")
		j.whole("zero_nwb_m", r.ZeroNWb, 1, 1000)
		j.number("db", r.DB, -100, 100)
		j.number("tone_dbfs", r.ToneDBFS, lowestTone, 0)
	}
}

func (j *judge) terms(t Terms) {
	j.where = "terms"
	if l := t.Levels; l != nil {
		if err := l.check(); err != nil {
			j.refuse("%w", err)
		}
		j.number("lowered_db", l.LoweredDB, 0, -noTreble)
	}
	if _, err := ParseOrder(t.Order); err != nil {
		j.refuse("order %s: there is none such", inQuotes(t.Order))
	}
	if _, err := ParseSpare(t.Spare); err != nil {
		j.refuse("spare %s: there is none such", inQuotes(t.Spare))
	}
	j.word("limit", t.Limit, string(ShortLimit), string(NominalLimit), string(MeasuredLimit))
	j.word("thin_tail", t.ThinTail, "", string(WarnTail), string(RuggedTail), string(BlankTail))
	j.word("aim", t.Aim, "", "songs", "time")
	j.whole("tapes", t.Tapes, 0, mostTapes)
	if l := t.Levels; l != nil {
		if err := l.check(); err != nil {
			j.refuse("%w", err)
		}
		j.number("lowered_db", l.LoweredDB, -200, 200)
	}
	j.whole("apart", t.Apart, 0, maxApart)
	for side, arc := range t.Arcs {
		j.word("arc of side", side, "A", "B")
		j.word("arc", string(arc), arcWords...)
	}
	j.time("gap_s", t.GapS, -mostGapS, mostGapS)
	j.number("tolerance_pct", t.TolerancePct, 0, 20)
	j.number("deck_speed_pct", t.DeckSpeedPct, -20, 20)
	j.time("lead_in_s", t.LeadInS, 0, mostGapS)
	j.time("end_leader_s", t.EndLeaderS, 0, mostGapS)
	j.number("tape_minutes", t.TapeMinutes, 0, mostSideS.D().Minutes())
	j.number("counter_ratio", t.CounterRatio, 0, 20)
	j.text("deck_limit", t.DeckLimit, mostLetter)
	if t.DeckLimit != "" {
		if _, err := tape.Named(t.DeckLimit); err != nil {
			j.refuse("deck_limit %s: no tape is called so", inQuotes(t.DeckLimit))
		}
	}
	j.time("typed_margin_s", t.TypedMarginS, 0, mostTracks*Seconds(time.Second))
	j.word("tape_type", t.TapeType, "", "I", "II", "III", "IV")
	j.text("noise_reduction", t.NoiseReduction, mostLetter)
	if d := t.Deck; d != nil {
		j.text("deck", d.Name, mostLetter)
		j.word("heads", strconv.Itoa(d.Heads), "0", "2", "3")
		j.word("auto_stop", d.AutoStop, string(tape.StopUnknown), string(tape.StopNone), string(tape.StopLever), string(tape.StopBothHubs))
		j.time("turn_round_s", d.TurnRoundS, 0, Seconds(time.Minute))
		j.word("meter_zero_nwb_m", strconv.Itoa(d.MeterZero), "0", "160", "200", "250")
	}
	j.where = ""
}

// The bytes of a file's name. On most systems a name is bytes, and JSON holds
// just text: Path is then the name as text, with U+FFFD for each byte that is
// none, and PathBytes are the bytes themselves, in base64. A plan in memory has
// all of it in Path.

// carried is the plan as its file holds it.
func (p Plan) carried() Plan {
	if p.Warnings == nil {
		p.Warnings = []Warning{} // a list and not null
	}
	return p.withTracks(func(t Track) Track {
		if !utf8.ValidString(t.Path) {
			t.PathBytes, t.Path = base64.StdEncoding.EncodeToString([]byte(t.Path)), asText(t.Path)
		}
		return t
	})
}

// restored is the reverse of carried.
func (p Plan) restored() (Plan, error) {
	var err error
	return p.withTracks(func(t Track) Track {
		if t.PathBytes != "" {
			b, bad := base64.StdEncoding.DecodeString(t.PathBytes)
			if bad != nil || asText(string(b)) != t.Path {
				err = fmt.Errorf("path %s and its path_bytes do not name one file", inQuotes(t.Path))
			}
			t.Path, t.PathBytes = string(b), ""
		}
		return t
	}), err
}

// asText puts U+FFFD in the place of each byte that is no text, as
// encoding/json does.
func asText(path string) string {
	return string([]rune(path))
}

// skipped are the files left aside, with reasons that can be read again.
func (m Mix) skipped() []Skipped {
	all := slices.Clone(m.Skipped)
	for i := range all {
		all[i].Why = oneline.Shown(all[i].Why)
	}
	return all
}

// checkGaps refuses silences that are none; what overlaps may be is another
// matter (see checkOverlaps).
func (r *Request) checkGaps() error {
	for i, it := range r.Mix.Items {
		if g := it.Wish.Gap; g != nil {
			gap := g.D()
			if gap < -maxGap || gap > maxGap {
				return fmt.Errorf("a gap after %s (#%d) of %s: give %s to %s", quote(it.Title), i+1, Clock(gap), Clock(-maxGap), Clock(maxGap))
			}
		}
	}
	return nil
}
