// Package sheet writes the run sheet: what to do at the deck, in order, from
// cleaning the heads to taking the tabs out.
//
// Of gathers everything the sheet says as plain values; Text sets it for 80
// columns and Draw as pages to lay beside the deck. All say the same.
package sheet

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"longside/media/oneline"
	"longside/planner"
)

// Sheet is everything a run sheet says.
type Sheet struct {
	Title string
	Note  string
	Facts []Fact // what to set the deck to, and what the plan was reckoned with

	Before []Step
	Parts  []Part // one for each side, in order of recording
	After  []Step
	Care   []string // warnings that belong to no side
}

// Fact is a label and its value.
type Fact struct{ Label, Value string }

// Step is one thing to do.
type Step struct {
	Do    string   // the thing itself, short
	How   string   // how and why; may be empty
	Write []string // what to write down: a place for each
}

// Part is one side.
type Part struct {
	Name     string // Side A
	Tape     string // C60, with "tape 1 of 2" in a set
	Counter  bool   // the deck counts turns: rows have readings
	Trims    bool   // the tracks were metered: rows have trims
	Measured bool   // the counter ratio was measured on this deck

	First []string // before pressing record on this side
	Rows  []Row
	Tail  []string // when the last track has ended
	Then  []Step   // the flip, or nothing after the last side
	Care  []string // warnings about this side

	Side   planner.Side   // for the drawing
	Echoes []planner.Echo // where an echo may be heard, of this side alone

	Courses   []planner.SideCourse // how loud it is, where that is known
	Loudest   bool                 // LoudestAt is known:
	LoudestAt planner.Seconds      // the place that moves a meter most, from pressing record
	SetHere   bool                 // it is the place that the record level is set on

	short string // of a track's name in notes: A, or "tape 2, A"
}

// Row is one track.
type Row struct {
	Recorded bool // it is on the tape already
	Number   int
	Start    string // clock from pressing record
	Counter  string // reading at the start; empty: none
	Length   string
	Trim     string // gain that brings the tracks to one loudness, dB with its sign; empty: not metered
	Title    string
	Artist   string
	Gap      string // the blank behind it, in words; empty: none
	Note     string // fade, typed length and so on; empty: none
}

// Of makes the run sheet of a plan.
func Of(p planner.Plan) Sheet {
	s := Sheet{Title: oneline.Text(p.Title), Note: oneline.Text(p.Note), Facts: facts(p), Before: before(p), After: after(p)}
	if s.Title == "" {
		s.Title = "Run sheet"
	}
	for ti, t := range p.Tapes {
		for si, side := range t.Sides {
			part := part(p, ti, si)
			last := ti == len(p.Tapes)-1 && si == len(t.Sides)-1
			part.Then = turn(p, ti, si, last)
			for _, w := range p.Warnings {
				if w.Side == side.Side && (w.Tape == ti+1 || w.Tape == 0) {
					part.Care = append(part.Care, says(w))
				}
			}
			s.Parts = append(s.Parts, part)
		}
	}
	for _, w := range p.Warnings {
		if w.Side == "" && w.About != "level" { // a step says that
			s.Care = append(s.Care, says(w))
		}
	}
	return s
}

// typeOf is the types of the plan's tapes, or the plan's own.
func typeOf(p planner.Plan) string {
	var types []string
	for _, t := range p.Tapes {
		typ := oneline.Text(cmp.Or(t.Type, p.Terms.TapeType))
		if typ != "" && !slices.Contains(types, typ) {
			types = append(types, typ)
		}
	}
	return strings.Join(types, ", ")
}

// deckName spells a noise reduction out.
func deckName(nr string) string {
	switch nr {
	case "":
		return "as the deck is set; write it on the card"
	case "none":
		return "off"
	}
	return oneline.Text(nr)
}

func facts(p planner.Plan) []Fact {
	var names []string
	for _, t := range p.Tapes {
		n := oneline.Text(t.Name)
		if t.Label != "" {
			n += " (" + oneline.Text(t.Label) + ")"
		}
		names = append(names, n)
	}
	typ := typeOf(p)
	if typ == "" {
		typ = "as marked on the tape"
	}
	lim := map[string]string{
		"short":    fmt.Sprintf("nominal length less %s %% for tape and deck", trim(p.Terms.TolerancePct)),
		"nominal":  "nominal length, nothing taken off for a short tape or a fast deck",
		"measured": "the side as it was timed",
	}[p.Terms.Limit]
	fs := []Fact{
		{"Tape", strings.Join(names, ", ")},
		{"Type", typ},
		{"Noise reduction", deckName(p.Terms.NoiseReduction)},
		{"Lead-in", seconds(p.Terms.LeadInS.D()) + " of record before the first track"},
		{"Gap", seconds(p.Terms.GapS.D()) + " between tracks"},
	}
	if lim != "" {
		fs = append(fs, Fact{"Limit", lim})
	}
	var deck []string
	if d := p.Terms.Deck; d != nil {
		if d.Name != "" {
			deck = append(deck, oneline.Text(d.Name))
		}
		if d.MeterZero > 0 {
			deck = append(deck, fmt.Sprintf("0 dB on its meter is %d nWb/m", d.MeterZero))
		}
		if d.AutoStop == "none" {
			deck = append(deck, "no auto-stop: be there when a side ends")
		}
	}
	if v := p.Terms.DeckSpeedPct; v != 0 {
		word := "fast"
		if v < 0 {
			word = "slow"
		}
		deck = append(deck, trim(math.Abs(v))+" % "+word)
	}
	if len(deck) > 0 {
		fs = append(fs, Fact{"Deck", strings.Join(deck, "; ")})
	}
	if p.Terms.CounterRatio > 0 {
		c := "readings by the ratio measured on this deck"
		if !p.Terms.CounterKnown {
			c = fmt.Sprintf("readings are estimates: %s counts a turn assumed (common value, from memory); note your own beside them", trim(p.Terms.CounterRatio))
		}
		fs = append(fs, Fact{"Counter", c})
	}
	return fs
}

// before is what is done once, before the first side. The order and the tones
// are common practice, no source, save where said.
func before(p planner.Plan) []Step {
	back := "off-tape" // where the tone is read
	level := "Noise reduction off. Source at 0 dB on the meter; on a deck with three heads turn record level until off-tape reads 0 dB too."
	bias := "Turn bias until off-tape reads the same as the source, then check 400 Hz again. Skip this where the deck sets bias itself."
	if d := p.Terms.Deck; d != nil && d.Heads == 2 {
		level = "Noise reduction off. Record the tone at 0 dB, wind back and play it: where it does not read 0 dB, change record level and record it again."
		back = "played back"
		bias = "Record the tone, wind back and play it; change bias until it plays at the level of the source. Skip this where the deck has no bias control."
	}
	level += each(p, func(k planner.Known) string {
		says := k.Calibration.Level()
		if says == "" {
			return ""
		}
		return says + ". Off the tape the music will read as much lower, too: leave it so, for such a tape is soon full (common practice, no source)."
	})
	bias += each(p, func(k planner.Known) string {
		says := k.Calibration.Bias()
		if says == "" {
			return ""
		}
		return "begin with " + says + "."
	})
	st := []Step{
		{Do: "Check the tabs.", How: "Both must be in, or taped over (the tab hole only, not the type holes)."},
		{Do: "Clean heads, capstan and pinch roller."},
		// Compute II no. 2 (1980), rule 15, and owner manuals.
		{Do: "Wind the tape to its end and back once.", How: "It evens the pack of a new or long-stored tape."},
		{Do: "Take up the slack by hand.", How: "Turn a hub until the tape is taut."},
		{Do: "Set tape type and noise reduction.", How: setWords(p)},
	}
	wound := "Clock and counter both run from pressing record."
	settings := []Step{
		{Do: "Turn the monitor down.", How: "The tones to come are continuous and near full level; they can hurt ears and speakers."},
		// 400 Hz and 10 kHz: common practice; -20 dB for bias: Audio, July 1991.
		{Do: "Set record level with 400 Hz.", How: level, Write: readings(p, back+", dB", "record level at")},
		{Do: "Set bias with 10 kHz at -20 dB (or -15 dB).", How: bias, Write: readings(p, back+", dB", "bias at")},
		levelStep(p),
	}
	if anyRecorded(p) {
		wound = "Then wind on to where record is taken up: the page of that side says where."
		settings = []Step{{Do: "Leave record level and bias as they were.", How: "A tone recorded now would erase what is to be kept."}}
	}
	st = append(append(st, settings...), []Step{
		{Do: "Know how to make a gap.", How: "The tape runs on between tracks: record mute, where the deck has it, or the player paused."},
		{Do: "Wind fully back, counter to 000.", How: wound},
	}...)
	if anyUsed(p) {
		st = append(st, Step{Do: "The tape was recorded before.", How: "Keep record running, with the source silent, from each last track to the very end of the side, so that the old music does not follow."})
	}
	return st
}

// each is what the calibrations of the plan's tapes say, each once, of which
// tape where there are several.
func each(p planner.Plan, say func(planner.Known) string) string {
	var said []string
	for _, t := range p.Tapes {
		if t.Known == nil || t.Known.Calibration == nil {
			continue
		}
		says := say(*t.Known)
		if says == "" {
			continue
		}
		whose := "This tape"
		if len(p.Tapes) > 1 {
			whose = "Tape " + cmp.Or(oneline.Text(t.Label), oneline.Text(t.Name))
		}
		if deck := t.Known.Calibration.Deck; deck != "" {
			whose += ", as calibrated on " + oneline.Text(deck)
		}
		if says = " " + whose + ": " + says; !slices.Contains(said, says) {
			said = append(said, says)
		}
	}
	return strings.Join(said, "")
}

// short tells whether a tape of the plan came out short of level on its deck.
func short(p planner.Plan) bool {
	return slices.ContainsFunc(p.Tapes, func(t planner.Tape) bool {
		return t.Known != nil && t.Known.Calibration != nil && t.Known.Calibration.Shortfall > 0
	})
}

// levelStep is how to set the record level on the music.
func levelStep(p planner.Plan) Step {
	if p.Setting == nil {
		return Step{Do: "Set the level by the loudest passage.", How: "Play it from the source before recording; noise reduction back on.", Write: knob()}
	}
	how := p.SettingSays() + ". Noise reduction back on; then leave the knob alone: this is the level for all sides."
	var tones []string
	for _, t := range p.Tapes {
		if says := fmt.Sprintf("%.1f dBFS", p.Setting.For(p.TypeOf(t)).ToneDBFS); !slices.Contains(tones, says) {
			tones = append(tones, says)
		}
	}
	how += " The tones of longside programme --tones come to the same setting (their 0 dB is " + strings.Join(tones, ", ") + ")."
	return Step{Do: "Set the level by the loudest place, once.", How: capital(oneline.Text(how)), Write: knob()}
}

// capital begins a sentence with a large letter.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// used tells whether something was recorded on a tape before.
func used(p planner.Plan, t planner.Tape) bool { return p.Terms.UsedTape || t.Used }

// anyRecorded tells whether something of the plan itself is on a tape already.
func anyRecorded(p planner.Plan) bool {
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			if n, _ := s.Recorded(); n > 0 {
				return true
			}
		}
	}
	return false
}

func anyUsed(p planner.Plan) bool {
	return slices.ContainsFunc(p.Tapes, func(t planner.Tape) bool { return used(p, t) })
}

func setWords(p planner.Plan) string {
	var w []string
	if t := typeOf(p); t != "" {
		w = append(w, "Type "+t)
	}
	if n := p.Terms.NoiseReduction; n != "" {
		w = append(w, "noise reduction "+deckName(n))
	}
	if len(w) == 0 {
		return "As marked on the tape; the same settings play it back." + mistracks(p)
	}
	return capital(strings.Join(w, ", ")) + "." + mistracks(p)
}

// mistracks says what noise reduction does on a tape that is short of level.
func mistracks(p planner.Plan) string {
	if !short(p) || p.Terms.NoiseReduction == "none" {
		return ""
	}
	// IASA TC-04 5.4.11: decoding wants type, level and response as they were. By how
	// much it goes wrong no figure with a source was found.
	return " Noise reduction mistracks on a tape that comes back short of level (IASA TC-04, 5.4.11, asks for level and response to match): better leave it off."
}

func part(p planner.Plan, ti, si int) Part {
	t := p.Tapes[ti]
	s := t.Sides[si]
	name := oneline.Text(t.Name)
	if len(p.Tapes) > 1 {
		name = fmt.Sprintf("%s, tape %d of %d", name, ti+1, len(p.Tapes))
	}
	short := s.Side
	if len(p.Tapes) > 1 {
		short = fmt.Sprintf("tape %d, %s", ti+1, s.Side)
	}
	out := Part{Name: "Side " + s.Side, Tape: name, Measured: p.Terms.CounterKnown, Side: s, short: short}
	n, until := s.Recorded()
	switch {
	case n == 0:
		out.First = []string{fmt.Sprintf("Press record and start the clock. Start track 1 at %s: the leader and the first turns take no sound.", planner.Clock(p.Terms.LeadInS.D()))}
	case n == len(s.Tracks):
		out.First = []string{"This side is recorded: leave it as it is."}
	default:
		at := planner.Clock(until.D())
		out.First = []string{fmt.Sprintf("Do not record from the beginning: %s on the tape. Wind to the end of track %d (about %s from the beginning), play until its sound is over and stop there; then press record with the clock at %s, and start track %d at %s.",
			onTape(n), n, at, at, n+1, planner.Clock(s.Tracks[n].StartS.D()))}
	}
	typed := 0
	for _, tr := range s.Tracks {
		if tr.LengthFrom == "typed" {
			typed++
		}
	}
	allTyped := typed > 1 && typed == len(s.Tracks)
	if allTyped {
		out.First = append(out.First, "Every length here was typed: half a second either way each.")
	}
	for i, tr := range s.Tracks {
		r := Row{Recorded: tr.Recorded, Number: i + 1, Start: tr.StartS.String(), Length: tr.LengthS.String(), Title: oneline.Text(tr.Title), Artist: oneline.Text(tr.Artist)}
		if tr.Counter != nil {
			r.Counter = fmt.Sprintf("%03d", *tr.Counter)
			out.Counter = true
		}
		if l := tr.Level; l != nil && (p.Terms.Levels == nil || !p.Terms.Levels.AsTheyAre) {
			r.Trim = strings.Replace(fmt.Sprintf("%+.1f", l.TrimDB), "-", "\u2212", 1)
			out.Trims = true
		}
		switch {
		case i == len(s.Tracks)-1:
		case tr.Joined:
			r.Gap = "joined: runs straight on"
		case tr.GapS < 0:
			r.Gap = "runs into the next by " + seconds(-tr.GapS.D())
		case tr.GapS == 0:
			r.Gap = "no gap"
		case tr.GapS != p.Terms.GapS:
			r.Gap = "gap " + seconds(tr.GapS.D())
		}
		var notes []string
		if tr.Recorded {
			notes = append(notes, "on the tape already")
		}
		switch {
		case tr.SplitOf != nil:
			notes = append(notes, "a part: from "+planner.Clock(tr.FromS.D()-tr.SplitOf.FromS.D())+" of the whole")
		case tr.Part:
			notes = append(notes, "from "+planner.Clock(tr.FromS.D())+" of "+filepath.Base(tr.Path))
		}
		if tr.FadeS > 0 {
			notes = append(notes, "faded out "+planner.Clock(tr.FadeS.D())+" early")
		}
		switch {
		case tr.LengthFrom == "estimated":
			notes = append(notes, "length is an estimate")
		case tr.LengthFrom == "typed" && !allTyped:
			notes = append(notes, "length typed, half a second either way")
		}
		r.Note = strings.Join(notes, "; ")
		out.Rows = append(out.Rows, r)
	}
	out.Tail = tail(p, t, s)
	out.mapped(p, ti)
	for _, e := range p.Echoes {
		if e.Tape == ti+1 && e.Side == s.Side {
			out.Echoes = append(out.Echoes, e)
		}
	}
	if len(out.Echoes) > 0 {
		out.Tail = append(out.Tail, echoWords(p, ti, s.Side, out.Echoes))
	}
	if out.Trims {
		out.First = append(out.First, "Trims are in dB. A programme of longside has them in it; where you play the files yourself, turn the source by them.")
	}
	return out
}

func onTape(n int) string {
	if n == 1 {
		return "track 1 is"
	}
	return fmt.Sprintf("tracks 1 to %d are", n)
}

// echoWords says where an echo may be heard, or only what the marks are when a
// warning says the rest.
func echoWords(p planner.Plan, ti int, side string, all []planner.Echo) string {
	for _, w := range p.Warnings {
		if w.About == "echo" && w.Tape == ti+1 && w.Side == side {
			return "The marks over the strip show where a faint echo may be heard; the larger the mark, the more the loud place stands out. Where marks would touch, the strongest stands for the others."
		}
	}
	const most = 8
	var at []string
	for _, e := range all[:min(len(all), most)] {
		at = append(at, e.AtS.String())
	}
	if n := len(all) - most; n > 0 {
		at = append(at, fmt.Sprintf("and at %d more places", n))
	}
	return "A faint echo may be heard at " + strings.Join(at, ", ") + " (the marks over the strip)."
}

// says makes a sentence of a warning.
func says(w planner.Warning) string {
	s := oneline.Text(w.Says)
	if w.Severity != planner.Remark {
		s = "Caution: " + s
	}
	s = capital(s)
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// tail says what is left of a side and what to do with it.
func tail(p planner.Plan, t planner.Tape, s planner.Side) []string {
	var end time.Duration
	if n := len(s.Tracks); n > 0 {
		end = s.Tracks[n-1].EndS().D()
	}
	left := s.RunS.D() - end
	var out []string
	switch {
	case len(s.Tracks) == 0:
		out = append(out, fmt.Sprintf("Nothing is planned on this side; it runs %s.", planner.Clock(s.RunS.D())))
	case left > 0:
		out = append(out, fmt.Sprintf("The last track ends at %s; the tail is %s by the tape's nominal length, which runs out at %s.",
			planner.Clock(end), planner.Clock(left), planner.Clock(s.RunS.D())))
	default:
		out = append(out, fmt.Sprintf("The last track ends at %s, past the tape's nominal end at %s.", planner.Clock(end), planner.Clock(s.RunS.D())))
	}
	if s.ThinFromS > 0 {
		out = append(out, fmt.Sprintf("From %s the tape is on the inner turns of the pack, where thin tape is worst handled (common practice, no source).", planner.Clock(s.ThinFromS.D())))
	}
	if used(p, t) {
		out = append(out, "Used tape: record silence to the end, so that the old music does not follow.")
	}
	return out
}

// turn says how to go on to the next side.
func turn(p planner.Plan, ti, si int, last bool) []Step {
	if last {
		return nil
	}
	if si == 0 {
		if d := p.Terms.Deck; d != nil && d.AutoReverse {
			how := "Side B begins at the very end of side A"
			if d.TurnRoundS > 0 {
				how += "; the deck is without sound for about " + seconds(d.TurnRoundS.D())
			}
			return []Step{{Do: "Let side A run to its very end: the deck turns round itself.", How: how + ". Its clock starts when the tape runs again."}}
		}
		return []Step{
			{Do: "Let side A run, or wind, to its very end.", How: "Side B begins there: flipped early, it has only as much tape as side A has used."},
			{Do: "Turn the tape over, counter to 000.", How: "Take up the slack again."},
		}
	}
	return []Step{{Do: "Take the tape out, tabs out, label on.", How: fmt.Sprintf("Then tape %d: steps as before from the tabs on.", ti+2)}}
}

func after(planner.Plan) []Step {
	return []Step{
		{Do: "Listen to the beginning and the end of each side."},
		{Do: "Take the tabs out.", How: "One a side, on the rear edge; tape over the hole to record again."},
		{Do: "Write the label: title, date, type, noise reduction."},
		{Do: "Wind back, and store upright in its case.", How: "8 to 35 °C at the most, about 20 °C and 40 to 50 % relative humidity at best (IASA TC-05); away from magnets."},
		{Do: "Wind it once or more before playing after long storage.", How: "It lowers print-through."},
		{Do: "Copies are your own duty.", How: "The law on copying for home use differs by country."},
	}
}

// seconds writes a short length: "4 s", "2.5 s".
func seconds(d time.Duration) string { return trim(d.Seconds()) + " s" }

// trim writes a number with two decimals at most and no zeros behind.
func trim(v float64) string {
	s := fmt.Sprintf("%.2f", v)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
