package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/media"
	"longside/media/decode"
	"longside/media/programme"
	"longside/media/stage"
	"longside/planner"
)

// programmeFlags say what is made of a plan.
type programmeFlags struct {
	bitsAndRate
	dir         string
	trims       bool
	trimsSaid   bool // else as the plan says
	tones       bool
	zero        float64
	zeroSaid    bool // else as the plan's levels say
	toneTime    time.Duration
	bias        string
	toTheEnd    bool
	autoReverse time.Duration
	reverse     bool // both sides as one file
	reverseSaid bool // with a time
	playlists   bool
	changed     bool
	force       bool
}

const (
	// gettingReady is the silence between the tones and pressing record.
	gettingReady = 20 * time.Second
	// beyondTheEnd is how much longer than its nominal length a tape is taken to
	// be at the most: makers add one to two minutes a side (two posters and a hobby
	// guide agree), and 1.5 % for the deck (DIN 45500).
	beyondTheEnd = 2 * time.Minute
	beyondShare  = 0.015
)

// profileTime stands for a turn-round of the length that the deck's profile says.
const profileTime = "profile"

// checklistName is the file beside the sides.
const checklistName = "before-you-play.txt"

// newProgramme is the command that makes each side one file.
func newProgramme(a *app) *cobra.Command {
	f := programmeFlags{bitsAndRate: bitsAndRate{bits: 16, rate: "auto"}, zero: -12, toneTime: programme.ToneTime, bias: "-20"}
	c := &cobra.Command{
		Use:   "programme PLAN --out DIR",
		Short: "Make each side of a plan one sound file to feed the deck from",
		Long: `Make each side of a plan one WAV file, with the lead-in, the gaps, fades and
trims in it, each track at its sample: start the file, press record, and let
both run. PLAN is a plan.json, or the folder that holds it.

The file's first sample is the moment of pressing record. A track that comes
from no file is timed silence with a marker. Markers with the titles are in the
file, and a cue sheet stands beside it. Joined tracks meet to the sample;
overlaps are cross-faded.

The trims of a plan with levels (plan --levels) are used, unless --trims=false
says otherwise. The tones of --tones lie at a level that makes one setting of
two: with the meter at 0 dB on the tone, the loudest place of the mix reads what
the run sheet says.`,
		Example: `  longside programme crossing --out crossing/sound
  longside programme crossing --out sound --trims --bits 24 --to-the-end`,
		RunE: func(c *cobra.Command, args []string) error {
			// The time may stand behind its flag as a word of its own.
			for i, word := range args {
				if len(args) == 2 && c.Flags().Changed("auto-reverse") && !f.reverseSaid && c.Flags().Set("auto-reverse", word) == nil {
					args = []string{args[1-i]}
				}
			}
			if err := onePlan(c, args); err != nil {
				return err
			}
			if f.dir == "" {
				return errors.New("where to? name a folder with --out")
			}
			f.reverse, f.trimsSaid, f.zeroSaid = c.Flags().Changed("auto-reverse"), c.Flags().Changed("trims"), c.Flags().Changed("zero")
			p, err := loadPlan(args[0])
			if err != nil {
				return err
			}
			return a.makeProgramme(c.Context(), p, f)
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.dir, "out", "", "folder for the files")
	fl.IntVar(&f.bits, "bits", f.bits, "16 or 24 bits a sample")
	fl.StringVar(&f.rate, "rate", f.rate, "44100 or 48000 samples a second (auto: as most of the tracks have)")
	fl.BoolVar(&f.trims, "trims", false, "bring the tracks to one loudness (without the flag: as the plan says)")
	fl.BoolVar(&f.tones, "tones", false, "tones for level and bias in front, and 20 s to get ready")
	zero := &parsedValue{text: "by the mix", kind: "level", set: dBFSValue{&f.zero}.Set}
	fl.Var(zero, "zero", "level of a tone at 0 dB, as -12dBFS; it goes before what the mix asks for")
	fl.Var(timeValue{&f.toneTime, time.Second}, "tone-time", "how long each tone lasts")
	fl.Var(oneOf(&f.bias, "-20", "-15", "both"), "bias", "level of the 10 kHz tone, dB under the 400 Hz")
	fl.BoolVar(&f.toTheEnd, "to-the-end", false, "silence to the very end of the tape, over what was on it before")
	reverse := &parsedValue{kind: "time", set: func(s string) error {
		if f.reverseSaid = false; s == profileTime {
			return nil
		}
		err := timeValue{&f.autoReverse, time.Second}.Set(s)
		f.reverseSaid = err == nil
		return err
	}}
	fl.Var(reverse, "auto-reverse", "both sides as one file, with this time for the deck to turn round (without a time: as its profile says)")
	fl.Lookup("auto-reverse").NoOptDefVal = profileTime
	fl.BoolVar(&f.playlists, "playlist", false, "a playlist a side instead, for those who play the files themselves")
	fl.BoolVar(&f.changed, "changed", false, "go on though files changed since the plan was made")
	fl.BoolVar(&f.force, "force", false, "replace files that exist")
	c.RegisterFlagCompletionFunc("rate", cobra.FixedCompletions([]string{"auto", "44100", "48000"}, cobra.ShellCompDirectiveNoFileComp))
	c.RegisterFlagCompletionFunc("bits", cobra.FixedCompletions([]string{"16", "24"}, cobra.ShellCompDirectiveNoFileComp))
	return c
}

func (a *app) makeProgramme(ctx context.Context, p planner.Plan, f programmeFlags) error {
	o, err := f.options()
	if err != nil {
		return err
	}
	if err := checkFiles(p, f.changed); err != nil {
		return err
	}
	checklist := output{path: filepath.Join(f.dir, checklistName), data: []byte(checklistText(p, f))}
	if f.tones {
		if err := checkToneTime(f.toneTime); err != nil {
			return err
		}
	}
	// Asked before the listening, which takes long: where one is, all are.
	if err := a.vacant(ctx, f.force, checklist.path); err != nil {
		return err
	}
	if f.playlists {
		files, without, err := playlists(p, f.dir)
		if err != nil {
			return err
		}
		files = append(files, checklist)
		if err := a.writeAll(ctx, files, true, f.force); err != nil {
			return err
		}
		for _, w := range files {
			fmt.Fprintln(a.out, w.path)
		}
		for _, says := range without {
			a.wrap("note:", 6, says)
		}
		if p.Setting != nil { // players know nothing of trims
			f.trims, f.trimsSaid, f.tones = false, true, false
			if p, err = a.withLevels(ctx, p, f); err != nil {
				return err
			}
			a.showSetting(p, f)
		}
		if slices.ContainsFunc(files, func(f output) bool { return strings.Contains(string(f.data), "#t=") }) {
			a.wrap("note:", 6, "parts of files are named by their times (#t=): a player that does not know this plays the whole file, or none")
		}
		a.wrap("note:", 6, "a player makes no gaps of its own, and the plan's start times then hold only if you stop and start by the run sheet")
		return nil
	}
	if d := p.Terms.Deck; f.reverse && !f.reverseSaid {
		if d == nil || d.TurnRoundS <= 0 {
			return errors.New("--auto-reverse: the plan knows of no turn-round of the deck; give the time, as --auto-reverse 1.5")
		}
		f.autoReverse = d.TurnRoundS.D()
	}
	if p, err = a.withLevels(ctx, p, f); err != nil {
		return err
	}
	if o.Rate == 0 {
		if o.Rate, err = usualRate(p); err != nil {
			return err
		}
	}
	sounds, err := f.sides(ctx, p, o)
	if err != nil {
		return err
	}
	others := []output{checklist}
	sheets := 0
	for _, s := range sounds {
		sheet := s.layout.Sheet(s.text.Title, filepath.Base(s.path))
		if len(sheet.Files[0].Tracks) > 0 {
			others = append(others, output{path: strings.TrimSuffix(s.path, ".wav") + ".cue", data: sheet.Encode()})
			sheets++
		}
	}
	notes, err := a.writeSounds(ctx, sounds, others, true, f.force, o)
	if err != nil {
		return err
	}
	for _, s := range sounds {
		fmt.Fprintf(a.out, "%s  %s, %d bits, %d Hz\n", a.paint(strong, s.path), planner.Clock(s.layout.Length()), s.layout.Bits, s.layout.Rate)
		for _, line := range listSpans(s.layout) {
			fmt.Fprintln(a.out, clip(line, min(a.width, maxRow)))
		}
		notes = append(s.layout.Notes, notes...)
	}
	for _, n := range notes {
		a.wrap(a.paint(care, "note:"), 6, plain(n))
	}
	a.showSetting(p, f)
	if f.tones {
		a.wrap(a.paint(danger, "caution:"), 9, programme.Caution)
	}
	if !f.toTheEnd && slices.ContainsFunc(p.Tapes, func(t planner.Tape) bool { return t.Used || p.Terms.UsedTape }) {
		a.wrap("note:", 6, "the tape was recorded before: with --to-the-end the files are silent to its very end, so that the old music does not follow")
	}
	if d := p.Terms.Deck; !f.reverse && d != nil && d.AutoReverse && d.TurnRoundS > 0 {
		a.wrap("note:", 6, fmt.Sprintf("the deck turns round by itself: --auto-reverse makes one file of both sides, with the %.3g s of its profile between them", d.TurnRoundS.D().Seconds()))
	}
	if f.reverse {
		a.wrap(a.paint(care, "caution:"), 9, "one file for both sides meets side B only as well as the tape's length and the deck's speed are known: time a side first (--tape-minutes and --deck-speed of longside plan), or make a file a side")
	}
	if sheets > 0 {
		fmt.Fprintf(a.out, "%s  cue %s, to jump to a song in a player or an editor\n", filepath.Join(f.dir, "*.cue"), plural(sheets, "sheet", "sheets"))
	}
	fmt.Fprintf(a.out, "%s  what to see to on the computer first\n", checklist.path)
	return nil
}

// sides lays out the files of a plan.
func (f programmeFlags) sides(ctx context.Context, p planner.Plan, o programme.Options) ([]soundFile, error) {
	var sounds []soundFile
	for ti, t := range p.Tapes {
		lead, at := f.lead(f.zeroOf(p, t))
		cues := lead
		var end time.Duration
		add := func(name, title string) error {
			l, err := programme.Lay(ctx, cues, end, o)
			if err != nil {
				return err
			}
			text := programme.Text{Title: title, Comment: "The file's first sample is the moment of pressing record."}
			if f.tones {
				text.Comment = fmt.Sprintf("%s 0 dB is %g dBFS. Press record at the marker.", programme.Caution, f.zeroOf(p, t))
			}
			sounds = append(sounds, soundFile{filepath.Join(f.dir, fileOf(p, ti, name, ".wav")), l, text})
			return nil
		}
		for _, s := range t.Sides {
			if len(s.Tracks) == 0 && !f.toTheEnd && !f.reverse {
				continue // nothing is recorded on it
			}
			n, until := s.Recorded()
			if n > 0 && f.reverse {
				return nil, fmt.Errorf("side %s: a part is recorded already: make a file a side, without --auto-reverse", s.Side)
			}
			if n > 0 && n == len(s.Tracks) {
				continue // it stays as it is
			}
			for _, c := range s.Cues(s.Trims())[n:] {
				c.Start += at - until.D()
				cues = append(cues, c)
			}
			end = at + p.Terms.LeadInS.D() + s.UsedS.D() - until.D()
			if f.toTheEnd {
				end = at - until.D() + s.RunS.D() + beyondTheEnd + time.Duration(beyondShare*float64(s.RunS.D()))
			}
			if !f.reverse {
				if err := add("side-"+s.Side, strings.TrimSpace(p.Title+", side "+s.Side)); err != nil {
					return nil, err
				}
				cues, at = lead, leadLength(lead)
				continue
			}
			// The deck turns round when the tape has run to its end.
			at += s.RunS.D() + f.autoReverse
		}
		if f.reverse {
			if err := add("both-sides", strings.TrimSpace(p.Title)); err != nil {
				return nil, err
			}
		}
	}
	if len(sounds) == 0 {
		return nil, errors.New("the plan has no track on any side: there is nothing to make")
	}
	return sounds, nil
}

// lead is what stands before pressing record, and when that is; zero is the
// level of a tone at 0 dB.
func (f programmeFlags) lead(zero float64) ([]programme.Cue, time.Duration) {
	if !f.tones {
		return nil, 0
	}
	bias := map[string][]float64{"-20": {programme.BiasLow}, "-15": {programme.BiasHigh}, "both": {programme.BiasHigh, programme.BiasLow}}[f.bias]
	cues := programme.Calibration(zero, f.toneTime, bias...)
	n := len(cues)
	ready := cues[n-1].Start + cues[n-1].Length + gettingReady
	cues = append(cues, programme.Cue{Title: "press record here", Start: ready, Length: time.Millisecond})
	return cues[:len(cues):len(cues)], ready
}

// zeroOf is the level of a tone at 0 dB for a tape: what the person said, or what
// makes one setting of the tone and of the mix.
func (f programmeFlags) zeroOf(p planner.Plan, t planner.Tape) float64 {
	if f.zeroSaid || p.Setting == nil {
		return f.zero
	}
	return p.Setting.For(p.TypeOf(t)).ToneDBFS
}

func leadLength(lead []programme.Cue) time.Duration {
	if len(lead) == 0 {
		return 0
	}
	return lead[len(lead)-1].Start
}

// withLevels is the plan with the trims that the flags ask for, and with the
// place that its tones are set by. A plan without levels is listened to where it
// takes that.
func (a *app) withLevels(ctx context.Context, p planner.Plan, f programmeFlags) (planner.Plan, error) {
	has := p.Terms.Levels
	trims := has != nil && !has.AsTheyAre
	if f.trimsSaid {
		trims = f.trims
	}
	switch {
	case has != nil && trims != has.AsTheyAre:
		return p, nil
	case has != nil:
		terms := *has
		terms.AsTheyAre = !trims
		return p.WithHeard(func(t planner.Track) *planner.TrackLevel { return t.Level }, terms), nil
	case !trims && (!f.tones || f.zeroSaid):
		return p, nil
	}
	var tracks []media.Track
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, tr := range s.Tracks {
				t := media.Track{Path: tr.Path, Title: tr.Title, Length: tr.LengthS.D()}
				// The halves of a piece that was split are heard as one, and get one trim.
				if at := tr.Place(); at.Length > 0 {
					t.Part, t.From, t.Length = true, at.From, at.Length
				}
				tracks = append(tracks, t)
			}
		}
	}
	heard, faults, err := a.listen(ctx, tracks, true)
	if err != nil {
		return p, err
	}
	if len(faults) > 0 {
		return p, faultLines(faults, len(heard))
	}
	found := map[media.Place]*planner.TrackLevel{}
	for i, l := range levelsOf(heard) {
		found[heard[i].Track.Place()] = l
	}
	terms := planner.LevelTerms{AsTheyAre: !trims, HeadroomDB: planner.DefaultHeadroom}
	return p.WithHeard(func(t planner.Track) *planner.TrackLevel { return found[t.Place()] }, terms), nil
}

// showSetting says how to set the record level for the programme.
func (a *app) showSetting(p planner.Plan, f programmeFlags) {
	if p.Setting != nil {
		a.wrap(a.paint(good, "level:"), 7, p.SettingSays())
	}
	if says := p.TrimsSay(); says != "" {
		a.wrap("trims:", 7, says)
	}
	if !f.tones {
		return
	}
	said := map[float64]bool{}
	for _, t := range p.Tapes {
		zero := f.zeroOf(p, t)
		if said[zero] {
			continue
		}
		said[zero] = true
		says := fmt.Sprintf("a tone at 0 dB lies at %.1f dBFS", zero)
		if p.Setting != nil {
			r := p.Setting.For(p.TypeOf(t))
			says += fmt.Sprintf("; with the meter at 0 on it, the loudest place reads about %+.0f dB", p.Setting.PlaceDBFS-zero)
			switch {
			case f.zeroSaid:
				says += fmt.Sprintf(" (a meter whose 0 is %d nWb/m should show %+.0f there)", r.ZeroNWb, r.DB)
			case p.MeterZero() == 0:
				says += fmt.Sprintf(": right where the meter's 0 is %d nWb/m, and on the safe side elsewhere; plan with --meter-zero or --deck where you know it", r.ZeroNWb)
			}
		}
		a.wrap("tones:", 7, says)
	}
}

// checkFiles refuses files that are gone or not those that were planned with.
func checkFiles(p planner.Plan, changedToo bool) error {
	var faults []error
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, tr := range s.Tracks {
				if tr.Path == "" {
					continue
				}
				st, err := os.Stat(tr.Path)
				switch {
				case err != nil:
					faults = append(faults, fmt.Errorf("%s: %w; put it back, or plan again", plain(tr.Path), bare(err)))
				case changedToo:
				case tr.Size > 0 && st.Size() != tr.Size, tr.ModTime != nil && !st.ModTime().Truncate(time.Second).Equal(tr.ModTime.Truncate(time.Second)):
					faults = append(faults, fmt.Errorf("%s: changed since the plan was made; plan again, or go on with --changed", plain(tr.Path)))
				}
			}
		}
	}
	return errors.Join(faults...)
}

// usualRate is the rate that most of the sound has, of the two that are written:
// then most of it needs no conversion.
func usualRate(p planner.Plan) (int, error) {
	share := map[bool]time.Duration{} // by whether 48000 suits it
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, tr := range s.Tracks {
				if tr.Path == "" {
					continue
				}
				info, err := decode.Look(tr.Path)
				if err != nil {
					return 0, fmt.Errorf("%s: %w", plain(tr.Path), err)
				}
				share[48000%info.Rate == 0 || info.Rate%48000 == 0] += tr.LengthS.D()
			}
		}
	}
	if share[true] > share[false] {
		return 48000, nil
	}
	return 44100, nil
}

// playlists is a playlist for each side that has tracks from files; without says
// which have none.
func playlists(p planner.Plan, dir string) (files []output, without []string, err error) {
	base, err := filepath.Abs(dir)
	if err != nil {
		return nil, nil, err
	}
	for ti, t := range p.Tapes {
		for _, s := range t.Sides {
			side := "side " + s.Side
			if len(p.Tapes) > 1 {
				side = fmt.Sprintf("tape %d, %s", ti+1, side)
			}
			text, sounds := playlist(s, base)
			if !sounds {
				without = append(without, side+" has no track from a file, so there is no playlist for it")
				continue
			}
			files = append(files, output{path: filepath.Join(dir, fileOf(p, ti, "side-"+s.Side, ".m3u8")), data: []byte(text)})
		}
	}
	if len(files) == 0 {
		return nil, nil, errors.New("the plan has no track from a file on any side: there is no playlist to make")
	}
	return files, without, nil
}

// playlist is one side's, with paths from the folder base; sounds tells whether
// any track of it comes from a file.
func playlist(s planner.Side, base string) (text string, sounds bool) {
	var b strings.Builder
	b.WriteString("#EXTM3U\n")
	for _, tr := range s.Tracks {
		title := tr.Title
		if tr.Artist != "" {
			title = tr.Artist + " - " + title
		}
		if tr.Path == "" {
			fmt.Fprintf(&b, "# %s from no file, at %s: %s\n", tr.LengthS, tr.StartS, plain(title))
			continue
		}
		sounds = true
		at := media.Place{Path: tr.Path}
		if tr.Part {
			at.From, at.Length = tr.FromS.D(), max(tr.PartS.D(), tr.LengthS.D())
		}
		b.WriteString(media.M3UEntry(title, tr.LengthS.D(), at, base))
	}
	return b.String(), sounds
}

// fileOf names a file of a tape by what it holds, as side-A; of several tapes
// with the tape's number. What comes from the plan goes into no name but here.
func fileOf(p planner.Plan, tape int, what, ending string) string {
	if len(p.Tapes) > 1 {
		what = fmt.Sprintf("tape%d-%s", tape+1, what)
	}
	return stage.Name(what) + ending
}

// checklistText is what to see to before a computer feeds a deck.
func checklistText(p planner.Plan, f programmeFlags) string {
	lines := []string{
		"Before you play: " + p.Title,
		"",
		"[ ] Notifications, alarms and calls off (flight mode, if it stays off)",
		"[ ] Sleep, screen saver and updates off for the length of the side; mains plugged in",
		"[ ] Equaliser, sound enhancement and spatial sound off, in the player and in the system",
		"[ ] The player's own gain off (levelling, normalising), and its cross-fade and gapless tricks",
		"[ ] Every other program that can make a sound closed",
		"[ ] Output volume where you set the record level with it; do not touch it afterwards",
		"[ ] Output set to the rate of the file, where the system lets you",
		"[ ] A trial of ten seconds: left is left, right is right, no hum, no clicks",
		"[ ] Cassette wound fully back, tabs in, right side up, noise reduction as planned",
	}
	if f.playlists {
		lines = append(lines, "[ ] Gaps: stop and start by the run sheet; the player makes none")
	} else {
		lines = append(lines, "[ ] Start the file, then press record at its first moment (or at the marker, after tones)")
	}
	if f.tones {
		lines = append(lines, "", "CAUTION: "+programme.Caution)
	}
	lines = append(lines, "", "Copying music at home is a matter of the law where you live.")
	return strings.Join(lines, "\n") + "\n"
}
