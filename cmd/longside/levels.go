package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/media"
	"longside/media/cache"
	"longside/media/meter"
	"longside/planner"
)

// levelsFlags are what the advice depends on.
type levelsFlags struct {
	tapeType       string
	terms          planner.LevelTerms
	deck           string
	skipBad, fresh bool
	asJSON         bool
	read           media.Options
	by             string
}

// newLevels is the command that listens to tracks beforehand.
func newLevels(a *app) *cobra.Command {
	f := levelsFlags{by: "name"}
	c := &cobra.Command{
		Use:   "levels SOURCES...",
		Short: "Listen to the tracks beforehand: loudness, peaks, and what to set",
		Long: `Listen to every track beforehand and say how loud it is (ITU-R BS.1770), how
far its loudness ranges (EBU Tech 3342), how high it peaks between samples, and
where it is loudest; then what that means at the deck: which track and second
to set the record level on, trims that bring the tracks to one loudness within
the tape's headroom, and tracks with more treble than the tape takes well.

A track is measured as it will lie on a stereo tape: one channel on both tracks,
more than two folded down (ITU-R BS.775).

What a meter may show depends on what its 0 dB means: give --meter-zero (or
--deck), or read all three. Such figures are typical; your deck's manual goes
before them. What was heard is kept in the user's cache folder.

Exit status: 0 all were heard, 2 a file could not be decoded.`,
		Example: `  longside levels ~/music/crossing --type II
  longside levels crossing.m3u8 --meter-zero 200 --json`,
		Args: someSources,
		RunE: func(c *cobra.Command, sources []string) error {
			if f.deck != "" {
				d, err := loadDeck(f.deck)
				if err != nil {
					return err
				}
				if !c.Flags().Changed("meter-zero") {
					f.terms.MeterZero = d.MeterZero
				}
			}
			if f.by == "tag" {
				f.read.By = media.ByTag
			}
			tracks, faults, err := a.readTracks(c.Context(), sources, f.read, !f.fresh)
			if err != nil {
				return err
			}
			heard, deaf, err := a.listen(c.Context(), tracks, !f.fresh)
			if err != nil {
				return err
			}
			faults = append(faults, deaf...)
			if len(heard) == 0 && len(faults) == 0 {
				return fmt.Errorf("%s: no track of it comes from a file, so there is nothing to listen to", strings.Join(sources, ", "))
			}
			advice, ok := planner.AdviseLevels(levelsOf(heard), f.terms, f.tapeType)
			if f.asJSON {
				err = a.printJSON(levelsAnswer(heard, faults, advice, ok))
			} else {
				a.showLevels(heard, advice, ok, f)
			}
			if err != nil {
				return err
			}
			if f.skipBad && len(heard) > 0 {
				a.leftOut(faults, len(heard), "heard")
				return nil
			}
			return faultLines(faults, len(heard))
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.Var(oneOf(&f.tapeType, "I", "II", "III", "IV"), "type", "tape type by IEC (without it, advice is for Type I)")
	addLevelTerms(fl, &f.terms)
	fl.StringVar(&f.deck, "deck", "", "profile of the deck, as longside deck makes it")
	fl.Var(oneOf(&f.by, "name", "tag"), "by", "order of the tracks in a folder")
	fl.BoolVar(&f.read.Chapters, "chapters", false, "take a file that has chapters as its chapters")
	fl.BoolVar(&f.skipBad, "skip-bad", false, "go on without files that cannot be decoded")
	fl.BoolVar(&f.fresh, "no-cache", false, "listen to every file anew, and keep nothing")
	fl.BoolVar(&f.asJSON, "json", false, "answer as JSON")
	for name, words := range map[string][]string{"type": {"I", "II", "III", "IV"}, "by": {"name", "tag"}, "meter-zero": {"160", "200", "250"}} {
		c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
	}
	c.RegisterFlagCompletionFunc("deck", cobra.FixedCompletions([]string{"toml"}, cobra.ShellCompDirectiveFilterFileExt))
	return c
}

// listen measures tracks with a progress line in seconds of sound, and with what
// earlier runs heard when remember is set. A cache that fails is done without.
func (a *app) listen(ctx context.Context, tracks []media.Track, remember bool) ([]media.Heard, []media.Fault, error) {
	step, end := a.progress("listening, seconds of sound")
	defer end()
	o := media.Options{Progress: step}
	if remember {
		if c, err := cache.Open(cache.Dir()); err == nil {
			o.Cache = c
			defer c.Save(ctx)
		}
	}
	return media.Listen(ctx, tracks, o)
}

// levelsJSON is the answer for scripts. Fields may be added; none changes its
// meaning. A level of silence is null.
type levelsJSON struct {
	Tracks []levelJSON      `json:"tracks"`
	Advice *levelAdviceJSON `json:"advice,omitempty"`
	Faults []faultJSON      `json:"faults,omitempty"`
}

type levelJSON struct {
	Path             string   `json:"path"`
	LengthS          float64  `json:"length_s"`
	LengthFrom       string   `json:"length_from"`
	IntegratedLUFS   *float64 `json:"integrated_lufs"`
	RangeLU          *float64 `json:"range_lu"`
	MomentaryMaxLUFS *float64 `json:"momentary_max_lufs"`
	ShortMaxLUFS     *float64 `json:"short_max_lufs"`
	TruePeakDBTP     *float64 `json:"true_peak_dbtp"`
	SamplePeakDBFS   *float64 `json:"sample_peak_dbfs"`
	LoudestS         float64  `json:"loudest_s"`
	TruePeakS        float64  `json:"true_peak_s"`
	LeadSilenceS     float64  `json:"lead_silence_s"`
	TailSilenceS     float64  `json:"tail_silence_s"`
	MeterMaxDBFS     *float64 `json:"meter_max_dbfs"` // the most that a peak meter reads; 0: a held sine of full scale
	MeterMaxS        float64  `json:"meter_max_s"`
	TrebleDB         *float64 `json:"treble_db"`
	TrebleMaxDBFS    *float64 `json:"treble_max_dbfs"`
	Title            string   `json:"title"`
	Artist           string   `json:"artist,omitempty"`
	TrimDB           float64  `json:"trim_db"`
	TrimHeld         bool     `json:"trim_held,omitempty"`
	RunsOn           bool     `json:"runs_on,omitempty"` // into the next, with no pause at the seam
	Notes            []string `json:"notes,omitempty"`
}

type levelAdviceJSON struct {
	SetOn    string  `json:"set_on"` // path
	SetAtS   float64 `json:"set_at_s"`
	SetDBFS  float64 `json:"set_dbfs"` // what a peak meter reads there, trims counted
	SpreadLU float64 `json:"spread_lu"`
	planner.LevelTerms
	Meters []meterPeakJSON `json:"meters"`
	Treble []string        `json:"treble,omitempty"` // paths
}

type meterPeakJSON struct {
	ZeroNWb int     `json:"zero_nwb_m"`
	LowDB   float64 `json:"low_db"`
	HighDB  float64 `json:"high_db"`
	// ToneDBFS is the level of a tone that reads 0 where the place reads LowDB.
	ToneDBFS float64 `json:"tone_dbfs"`
}

// level is a figure for JSON, to a hundredth; nil where there is none.
func level(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	v = math.Round(v*100) / 100
	return &v
}

func levelsAnswer(heard []media.Heard, faults []media.Fault, advice planner.LevelAdvice, ok bool) levelsJSON {
	j := levelsJSON{Tracks: []levelJSON{}}
	for i, h := range heard {
		r := h.Result
		t := levelJSON{
			Path: h.Path, LengthS: h.Track.Length.Seconds(), LengthFrom: string(h.LengthFrom),
			IntegratedLUFS: level(r.Integrated), RangeLU: level(r.Range), MomentaryMaxLUFS: level(r.MomentaryMax), ShortMaxLUFS: level(r.ShortMax),
			TruePeakDBTP: level(r.TruePeak), SamplePeakDBFS: level(r.SamplePeak),
			LoudestS: r.LoudestAt.Seconds(), TruePeakS: r.TruePeakAt.Seconds(), LeadSilenceS: r.Lead.Seconds(), TailSilenceS: r.Tail.Seconds(),
			MeterMaxDBFS: level(r.MeterMax), MeterMaxS: r.MeterMaxAt.Seconds(),
			TrebleDB: level(r.Treble), TrebleMaxDBFS: level(r.TrebleMax),
			Title: h.Title, Artist: h.Artist, Notes: h.Said,
		}
		if ok {
			t.TrimDB, t.TrimHeld = advice.Trims[i].DB, advice.Trims[i].Held
		}
		t.RunsOn = runsOn(heard, i)
		j.Tracks = append(j.Tracks, t)
	}
	if ok {
		j.Advice = &levelAdviceJSON{SetOn: heard[advice.SetOn].Path, SetAtS: advice.SetAt.Seconds(), SetDBFS: *level(advice.SetDBFS), SpreadLU: *level(advice.SpreadLU), LevelTerms: advice.Terms}
		for _, r := range advice.Readings {
			high := planner.MeterPeaks(r.TapeType, r.ZeroNWb)[0].High
			j.Advice.Meters = append(j.Advice.Meters, meterPeakJSON{r.ZeroNWb, r.DB, high, r.ToneDBFS})
		}
		for _, x := range advice.Treble {
			j.Advice.Treble = append(j.Advice.Treble, heard[x.Track].Path)
		}
	}
	for _, f := range faults {
		j.Faults = append(j.Faults, faultJSON{f.Path, f.Err.Error()})
	}
	return j
}

// showLevels prints a row a track with a small bar, then the advice.
func (a *app) showLevels(heard []media.Heard, advice planner.LevelAdvice, ok bool, f levelsFlags) {
	if len(heard) == 0 {
		return
	}
	digits := len(fmt.Sprint(len(heard)))
	const barWidth = 12
	lead := fmt.Sprintf("%*s  %*s   loud  range   peak  loudest   trim  ", digits, "", barWidth, "")
	units := fmt.Sprintf("%*s  %*s   LUFS     LU   dBTP     m:ss     dB", digits, "", barWidth, "")
	room := max(8, min(a.width, maxRow)-len(lead)-1)
	fmt.Fprintln(a.out, a.paint(faint, lead+"track"))
	fmt.Fprintln(a.out, a.paint(faint, units))
	for i, h := range heard {
		r := h.Result
		trim := "     -"
		if ok && !math.IsInf(r.Integrated, 0) && !f.terms.AsTheyAre {
			trim = fmt.Sprintf("%+6.1f", advice.Trims[i].DB)
			if advice.Trims[i].Held {
				trim = a.paint(care, trim)
			}
		}
		name := h.Title
		if h.Artist != "" {
			name = h.Artist + " - " + name
		}
		peak := figure(r.TruePeak)
		if r.TruePeak > 0 {
			peak = a.paint(danger, peak)
		}
		fmt.Fprintf(a.out, "%*d  %s %s %s %s  %7s %s  %s\n", digits, i+1, a.levelBar(r, barWidth), figure(r.Integrated), figure(r.Range), peak,
			planner.Clock(r.LoudestAt), trim, clip(plain(name), room))
		for _, n := range h.Said {
			a.wrap(fmt.Sprintf("%*s%s", digits+2, "", a.paint(care, "note:")), digits+2+6, plain(n))
		}
	}
	fmt.Fprintln(a.out)
	if !ok {
		a.wrap("level:", 7, "there is no sound in these tracks")
		return
	}
	for i := range heard {
		if runsOn(heard, i) {
			a.wrap(a.paint(care, "runs on:"), 8, fmt.Sprintf("%s into %s: silence between them is heard as a hole; join them when you plan (--join auto)", plain(heard[i].Title), plain(heard[i+1].Title)))
		}
	}
	a.showAdvice(heard, advice, f)
}

// runsOn tells whether sound runs from a track into the one behind it.
func runsOn(heard []media.Heard, i int) bool {
	return i+1 < len(heard) && planner.RunsOn(heard[i].Track, heard[i+1].Track, heard[i].Result, heard[i+1].Result)
}

// figure is a level in six columns.
func figure(v float64) string {
	if math.IsInf(v, 0) {
		return "     -"
	}
	return fmt.Sprintf("%6.1f", v)
}

// levelBar draws a track from -36 LUFS to full scale: its loudness, its loudest
// moment, and its peak.
func (a *app) levelBar(r meter.Result, width int) string {
	marks := []string{"#", "-", ".", "|"}
	if a.drawn {
		marks = []string{"█", "▒", "░", "▏"}
	}
	const bottom = -36.0
	at := func(v float64) int {
		if math.IsInf(v, 0) {
			return 0
		}
		return max(0, min(width, int(math.Round((v-bottom)/-bottom*float64(width)))))
	}
	loud, moment, peak := at(r.Integrated), at(r.MomentaryMax), at(r.TruePeak)
	var b strings.Builder
	b.WriteString(a.paint(sideInk, strings.Repeat(marks[0], loud)))
	b.WriteString(strings.Repeat(marks[1], max(0, moment-loud)))
	n := max(loud, moment)
	b.WriteString(a.paint(faint, strings.Repeat(marks[2], max(0, peak-n))))
	b.WriteString(strings.Repeat(" ", width-max(n, peak)))
	return b.String()
}

func (a *app) showAdvice(heard []media.Heard, x planner.LevelAdvice, f levelsFlags) {
	typ := f.tapeType
	if typ == "" {
		typ = "I"
	}
	on := heard[x.SetOn]
	counted := ""
	if !x.Terms.AsTheyAre {
		counted = ", the trims counted in"
	}
	a.wrap(a.paint(good, "level:"), 7, fmt.Sprintf("play %q from a little before %s, the place that moves a peak meter most%s, and set the record level so that it reads about", plain(on.Title), planner.Clock(x.SetAt), counted))
	for _, r := range x.Readings {
		m := planner.MeterPeaks(r.TapeType, r.ZeroNWb)[0]
		span := fmt.Sprintf("%+.0f dB", m.Low)
		if m.High > m.Low {
			span = fmt.Sprintf("%+.0f to %+.0f dB", m.Low, m.High)
		}
		fmt.Fprintf(a.out, "         %-12s where the meter's 0 is %d nWb/m\n", span, m.ZeroNWb)
	}
	a.wrap("      ", 7, fmt.Sprintf("typical figures for Type %s; your deck's manual goes before them", typ))
	if x.Terms.AsTheyAre {
		a.wrap("trims:", 7, "none, as you said")
	} else {
		says := fmt.Sprintf("the tracks differ by %.1f LU; the trims above bring them to %.1f LUFS", x.SpreadLU, *x.Terms.LoudnessLUFS-x.Terms.LoweredDB)
		if slices.ContainsFunc(x.Trims, func(t planner.Trim) bool { return t.Held }) {
			says += ", but for those that would take more than 12 dB"
		}
		if x.Terms.LoweredDB > 0 {
			says += fmt.Sprintf("; all of them are %.1f dB lower than that takes, so that the highest true peak keeps %g dB to full scale", x.Terms.LoweredDB, x.Terms.HeadroomDB)
		}
		a.wrap("trims:", 7, says+". plan --levels keeps them, and longside programme uses them")
	}
	for _, t := range x.Treble {
		a.wrap(a.paint(care, "treble:"), 8, fmt.Sprintf("%q has more than the tape may hold at that level: about %+.0f dB re 250 nWb/m, where Type %s takes some %+.0f at 10 kHz (from memory, unverified); set the level lower, or accept softer cymbals",
			plain(heard[t.Track].Title), t.At, typ, t.Ceiling))
	}
	var blanks time.Duration
	n := 0
	for _, h := range heard {
		if b := h.Lead + h.Tail; b >= 2*time.Second {
			blanks += b
			n++
		}
	}
	if n > 0 {
		a.wrap("blank:", 7, fmt.Sprintf("%d %s 2 s or more of blank at start or end (under %.0f dBFS), %s in all: gaps could count it",
			n, plural(n, "track has", "tracks have"), meter.SilenceLevel, planner.Clock(blanks)))
	}
}
