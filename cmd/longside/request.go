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
	"longside/media/meter"
	"longside/media/oneline"
	"longside/planner"
	"longside/planner/tape"
)

// requestFlags are the flags that check and plan share: what to read, the tape
// and the deck, and how to fit.
type requestFlags struct {
	req     planner.Request
	wishes  wishFlags
	shelf   shelfFlags
	tapes   []string
	timed   time.Duration
	deck    string
	count   bool
	fresh   bool
	chapter bool
	levels  bool
	think   time.Duration
	stored  tape.Stored
	skipBad bool
	byTag   string
}

// add puts the flags on a command, under headings; the command adds its own and
// then calls complete.
func (f *requestFlags) add(c *cobra.Command) *sections {
	r := &f.req
	r.Gap = 4 * time.Second // the blank that an automatic record mute leaves: a deck's circuit description
	r.Tolerance = tape.DefaultTolerance
	r.LeadIn = tape.DefaultLeadIn
	r.EndLeader = tape.DefaultEndLeader
	r.CounterRatio = tape.DefaultCounterRatio
	r.Limit = planner.ShortLimit
	// Common practice, no source: the longest tape that most deck manuals allow.
	r.DeckLimit = planner.DeckSays{Name: "C90", Side: 45 * time.Minute}
	f.byTag = "name"

	s := &sections{c: c}
	fl := s.under("The tape")
	fl.StringSliceVar(&f.tapes, "tape", nil, "`NAME` of the tape, as C60 or C90; several with commas: any mix of them")
	fl.IntVar(&r.MaxTapes, "tapes", 1, "how many tapes may be used")
	f.shelf.add(fl)
	fl.Var(oneOf(&r.TapeType, "I", "II", "III", "IV"), "type", "tape type by IEC")
	fl.BoolVar(&r.UsedTape, "used-tape", false, "something was recorded on it before")
	fl.Var(among("short", "short|nominal|measured", func(s string) (err error) { r.Limit, err = planner.ParseLimit(s); return }), "limit", "which of a side's three figures to fill")
	fl.Var(percentValue{&r.Tolerance}, "tolerance", "of tape and deck together (DIN 45500: 1.5%)")
	fl.Var(timeValue{&f.timed, time.Minute}, "tape-minutes", "a side of this tape timed from leader to leader at nominal speed, as 46:12 or 46.2")
	fl.Var(timeValue{&r.LeadIn, time.Second}, "lead-in", "from pressing record to the first note; the leader lies inside it")
	fl.Var(timeValue{&r.EndLeader, time.Second}, "end-leader", "leader at the end of a side")
	fl.Var(among("warn", "warn|rugged|blank", func(s string) (err error) { r.ThinTail, err = planner.ParseThinTail(s); return }), "thin-tail", "the end of a side of thin tape: warn of it, prefer rugged tracks there, or leave it blank")

	fl = s.under("The deck")
	fl.StringVar(&f.deck, "deck", "", "profile of the deck, a `FILE` of longside deck; the next three go before it")
	fl.Var(percentValue{&r.DeckError}, "deck-speed", "speed error of the deck, + is fast")
	fl.Var(&parsedValue{text: "C90", kind: "tape", set: f.setDeckLimit}, "deck-limit", "longest tape that your deck's manual allows")
	fl.Float64Var(&r.CounterRatio, "counter-ratio", r.CounterRatio, "counts for one turn of the take-up hub; 0: the deck counts time")
	fl.Var(oneOf(&r.NoiseReduction, noiseReductions...), "nr", "noise reduction, by its letter")

	fl = s.under("The order")
	fl.Var(among("keep", "keep|near|free", func(s string) (err error) { r.Order, err = planner.ParseOrder(s); return }), "order", fmt.Sprintf("keep the given order, move as few as will do (near; where not all fits, a track only for %.0f s more music), or any order (free)", planner.MoveWorth.Seconds()))
	fl.Var(among("songs", "songs|time", func(s string) (err error) { r.Aim, err = planner.ParseAim(s); return }), "aim", "when not all fits, keep the most songs, then the most playing time; or the most playing time first")
	fl.Var(among("last", "last|even|first", func(s string) (err error) { r.Spare, err = planner.ParseSpare(s); return }), "spare", "where blank tape should be")
	fl.Var(timeValue{&r.Gap, time.Second}, "gap", "silence between tracks")
	fl.Var(thinkValue{timeValue{&f.think, time.Second}}, "think", "stop the search after so long, whatever it has found; 0: when its effort is spent")

	f.wishes.add(s.under("Wishes (NAME is a title, a file's name, a part of one, or #7)"))

	fl = s.under("Levels")
	fl.BoolVar(&f.levels, "levels", false, "listen to every track first: levels, trims and echo places for the run sheet, and drive by loudness")
	fl.Var(among("rewound", "rewound|played", func(s string) error {
		f.stored = map[string]tape.Stored{"rewound": tape.Rewound, "played": tape.Played}[strings.ToLower(s)]
		if s = strings.ToLower(s); s != "rewound" && s != "played" {
			return errors.New("write rewound or played")
		}
		return nil
	}), "stored", "how the tape will be put away, for the echo places")
	addLevelTerms(fl, &r.Levels)

	fl = s.under("Reading")
	fl.Var(oneOf(&f.byTag, "name", "tag"), "by", "order of the tracks in a folder")
	fl.BoolVar(&f.chapter, "chapters", false, "take a file that has chapters as its chapters")
	fl.BoolVar(&f.count, "count", false, "decode every file and compare with its header (slow)")
	fl.BoolVar(&f.fresh, "no-cache", false, "read every file anew, and keep nothing of it")
	fl.BoolVar(&f.skipBad, "skip-bad", false, "go on without files that cannot be read")
	return s
}

// complete adds what Tab completes to, once all flags are there.
func (f *requestFlags) complete(s *sections) {
	s.done()
	s.c.RegisterFlagCompletionFunc("tape", completeTapes)
	s.c.RegisterFlagCompletionFunc("deck-limit", completeTapes)
	s.c.RegisterFlagCompletionFunc("nr", cobra.FixedCompletions(noiseReductions, cobra.ShellCompDirectiveNoFileComp))
}

func completeTapes(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var names []string
	for _, t := range tape.Standard() {
		names = append(names, t.Name)
	}
	return names, cobra.ShellCompDirectiveNoFileComp
}

func (f *requestFlags) setDeckLimit(s string) error {
	t, err := tape.Named(s)
	f.req.DeckLimit = planner.DeckSays{Name: t.Name, Side: t.Side, Known: true}
	return err
}

// request reads the sources and completes the request.
func (a *app) request(c *cobra.Command, f *requestFlags, sources []string) (planner.Request, error) {
	r := f.req
	if r.MaxTapes < 1 || r.MaxTapes > 1000 {
		return r, fmt.Errorf("--tapes %d: give 1 to 1000", r.MaxTapes)
	}
	unset := func(flag string) bool { return !c.Flags().Changed(flag) }
	for _, flag := range []string{"loudness", "headroom", "meter-zero", "stored"} {
		if !f.levels && !unset(flag) {
			return r, fmt.Errorf("--%s speaks of levels: add --levels, to listen to the tracks first", flag)
		}
	}
	if err := f.setDeck(&r, unset); err != nil {
		return r, err
	}
	if err := f.chooseTapes(&r); err != nil {
		return r, err
	}
	faults, err := a.items(c.Context(), sources, f, &r, unset)
	if err != nil {
		return r, err
	}
	if r.Mix.Title == "" {
		r.Mix.Title = titleOf(r.Mix.Items, sources)
	}
	if f.shelf.use {
		if err := f.shelf.choose(shelfOf(c), f.tapes, &r, time.Now().Year()); err != nil {
			return r, err
		}
	}
	if f.skipBad {
		for _, b := range faults {
			r.Mix.Skipped = append(r.Mix.Skipped, planner.Skipped{Path: b.Path, Why: b.Err.Error()})
		}
	} else if err := faultLines(faults, len(r.Mix.Items)); err != nil {
		return r, err
	}
	if len(r.Mix.Items) == 0 {
		return r, fmt.Errorf("%s: no file in it can be read, so there is nothing to plan", strings.Join(sources, ", "))
	}
	if err := f.wishes.set(&r); err != nil {
		return r, err
	}
	joinAll := slices.Contains(f.wishes.joins, joinAuto)
	if joinAll && !f.levels {
		return r, errors.New("--join auto finds what runs on by listening: give --levels with it")
	}
	// Before the listening, which takes long, and after it.
	if err := r.CheckArcs(f.levels); err != nil || !f.levels {
		return r, err
	}
	if err := a.hear(c.Context(), f, &r); err != nil {
		return r, err
	}
	if joinAll {
		r.JoinRunOns()
	}
	return r, r.CheckArcs(false)
}

// hear listens to the tracks and puts what the meter found on the items. A file
// that can be timed but not decoded is planned without its level, and said so.
func (a *app) hear(ctx context.Context, f *requestFlags, r *planner.Request) error {
	var tracks []media.Track
	for _, it := range r.Mix.Items {
		tracks = append(tracks, it.Track)
	}
	heard, deaf, err := a.listen(ctx, tracks, !f.fresh)
	if err != nil {
		return err
	}
	for _, d := range deaf {
		fmt.Fprintf(a.err, "longside: %s: planned without its level: %s\n", plain(d.Path), plain(d.Err.Error()))
	}
	found := map[media.Place]meter.Result{}
	for _, h := range heard {
		found[h.Track.Place()] = h.Result
	}
	for i := range r.Mix.Items {
		if m, ok := found[r.Mix.Items[i].Track.Place()]; ok {
			r.Mix.Items[i].Heard = &m
		}
	}
	r.Stored = f.stored
	for _, i := range r.TooLong() {
		it := &r.Mix.Items[i]
		from, to, ok := r.SplitSpan(i)
		if it.Path == "" || !ok {
			continue
		}
		// Not found is no fault: the middle is offered then.
		if at, err := media.Quietest(ctx, it.Path, it.From+from, it.From+to); err == nil {
			it.Quiet = at - it.From
		}
	}
	return ctx.Err()
}

// planned makes the plan of a request, with what would help. A search that is
// stopped by Ctrl-C or by --think gives the best so far, marked as cut.
func planned(ctx context.Context, r planner.Request, think time.Duration) (planner.Plan, error) {
	if think > 0 {
		var stop context.CancelFunc
		ctx, stop = context.WithTimeout(ctx, think)
		defer stop()
	}
	p, err := planner.Make(ctx, r)
	if err != nil {
		return p, err
	}
	p.Suggestions = planner.Suggest(ctx, r, p)
	return p, nil
}

// setDeck reads the deck's profile, if there is one; a flag that says the same goes before it.
func (f *requestFlags) setDeck(r *planner.Request, unset func(string) bool) error {
	r.CounterKnown = !unset("counter-ratio")
	if f.deck == "" {
		return nil
	}
	data, err := readBounded(f.deck, 1<<20)
	if err != nil {
		return err
	}
	d, err := tape.ParseDeck(data)
	if err != nil {
		return inFile(f.deck, err)
	}
	flags := *r
	if err := r.SetDeck(d); err != nil {
		return inFile(f.deck, err)
	}
	if !unset("deck-speed") {
		r.DeckError = flags.DeckError
	}
	if !unset("counter-ratio") {
		r.CounterRatio, r.CounterKnown = flags.CounterRatio, true
	}
	if !unset("deck-limit") {
		r.DeckLimit = flags.DeckLimit
	}
	return nil
}

func (f *requestFlags) chooseTapes(r *planner.Request) error {
	if f.shelf.use {
		if f.timed > 0 {
			return errors.New("--tape-minutes and --shelf: a tape of the shelf keeps its own measured time (longside shelf set)")
		}
		for _, name := range f.tapes {
			if _, err := tape.Named(name); err != nil {
				return fmt.Errorf("--tape %s: %w", name, err)
			}
		}
		return nil // chosen when the title is known
	}
	if len(f.tapes) == 0 {
		return errors.New("which tape? name it with --tape, as in --tape C90")
	}
	for _, name := range f.tapes {
		t, err := tape.Named(name)
		if err != nil {
			return fmt.Errorf("--tape %s: %w", name, err)
		}
		r.Tapes = append(r.Tapes, planner.Choice{Tape: t, Timed: f.timed})
	}
	if f.timed == 0 {
		return nil
	}
	if len(f.tapes) > 1 {
		return errors.New("--tape-minutes speaks of one tape: give one --tape with it")
	}
	// Far from the label it is a slip: both sides, hours for minutes, another tape.
	t := r.Tapes[0].Tape
	if far := float64(f.timed) / float64(t.Side); far < 0.75 || far > 1.25 {
		return fmt.Errorf("--tape-minutes %s: a side of a %s takes about %s; time one side, from leader to leader, or name another tape", planner.Clock(f.timed), t.Name, planner.Clock(t.Side))
	}
	return nil
}

// readOptions are the flags as media takes them.
func (f *requestFlags) readOptions() media.Options {
	o := media.Options{Count: f.count, Chapters: f.chapter}
	if f.byTag == "tag" {
		o.By = media.ByTag
	}
	return o
}

// titleOf names a tape that the person gave no name: by the album when all
// tracks are of one, else by the first source.
func titleOf(items []planner.Item, sources []string) string {
	album := ""
	for i, it := range items {
		if it.Album == "" || i > 0 && it.Album != album {
			album = ""
			break
		}
		album = it.Album
	}
	if album != "" {
		return album
	}
	if len(sources) == 0 || sources[0] == "-" {
		return ""
	}
	abs, err := filepath.Abs(sources[0])
	if err != nil {
		return ""
	}
	base := filepath.Base(abs)
	if st, err := os.Stat(abs); err == nil && !st.IsDir() {
		base = strings.TrimSuffix(base, filepath.Ext(base))
	}
	return oneline.Text(strings.Join(strings.FieldsFunc(base, func(r rune) bool { return r == '_' || r == ' ' }), " "))
}
