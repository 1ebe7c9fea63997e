package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/planner"
	"longside/planner/tape"
)

// newDeck is the command for a deck's profile: make one, learn more, check one.
func newDeck(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "deck [FILE]",
		Short: "Make, better or check the profile of your deck",
		Long: `A deck's profile is a small text file: how far its speed is off, what its
counter counts, the longest tape its manual allows, heads, auto-stop,
auto-reverse, noise reduction, meter and record calibration. Plans, counters,
warnings and the run sheet use it (--deck FILE). With a file alone, one that is
there is checked, and one that is not is made by asking.`,
		Example: `  longside deck make galley.toml
  longside deck check galley.toml`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return c.Help()
			}
			do := newDeckCheck(a)
			if _, err := os.Lstat(args[0]); errors.Is(err, fs.ErrNotExist) {
				do = newDeckMake(a)
			}
			do.SetContext(c.Context())
			return do.RunE(do, args)
		},
	}
	c.AddCommand(newDeckMake(a), newDeckLearn(a), newDeckCheck(a))
	return c
}

// loadDeck reads a profile.
func loadDeck(path string) (tape.Deck, error) {
	data, err := readBounded(path, 1<<20)
	if err != nil {
		return tape.Deck{}, err
	}
	d, err := tape.ParseDeck(data)
	if err != nil {
		return d, inFile(path, err)
	}
	return d, nil
}

// deckFlags are the answers about a deck that flags can give.
type deckFlags struct {
	d          tape.Deck
	tone       string // 3150=3165
	toneWithin float64
	timed      string // 30:00=29:48
	past       []tape.Past
	autoStop   string
	counter    string
	longest    string
	turnRound  time.Duration
	force      bool
}

// addLearnt are the flags that measure: speed and counter.
func (f *deckFlags) addLearnt(c *cobra.Command) {
	fl := c.Flags()
	fl.StringVar(&f.tone, "tone", "", "a test tape's `TONE=READING` on a frequency meter, in Hz, as 3150=3165")
	fl.Float64Var(&f.toneWithin, "tone-within", 3, "how many `HZ` the meter may be off")
	fl.StringVar(&f.timed, "timed", "", "a known length and what the watch shows (`KNOWN=WATCH`), as 30:00=29:48")
	fl.Var(&parsedValue{kind: "TAPE@TIME=COUNT", set: func(s string) error {
		p, err := parsePast(s)
		f.past = append(f.past, p)
		return err
	}}, "reading", "a past reading of the counter since 000, as C90@10:00=174; may be repeated")
	fl.BoolVar(&f.force, "force", false, "replace a file that exists")
}

func (f *deckFlags) addAll(c *cobra.Command) {
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.d.Name, "name", "", "your own `NAME` for it")
	fl.Var(percentValue{&f.d.SpeedError}, "speed", "speed error when it is known already, + is fast")
	fl.Var(percentValue{&f.d.SpeedWithin}, "speed-within", "how far off that may be")
	fl.Var(oneOf(&f.counter, "turns", "time"), "counter", "what the counter counts")
	fl.Float64Var(&f.d.Ratio, "counter-ratio", 0, "`COUNTS` for one turn of the take-up hub when it is known already")
	fl.Var(&parsedValue{kind: "tape", set: func(s string) error {
		t, err := tape.Named(s)
		f.longest = t.Name
		return err
	}}, "longest", "longest tape that its manual allows, as C90")
	fl.IntVar(&f.d.Heads, "heads", 0, "`HOW MANY`: 2, or 3 when it can play while it records")
	fl.Var(&parsedValue{kind: "none|lever|both hubs", set: f.setStop}, "auto-stop", "what ends play: none, lever, or both hubs watched")
	fl.BoolVar(&f.d.AutoReverse, "auto-reverse", false, "it turns round at the end of a side")
	fl.Var(timeValue{&f.turnRound, time.Second}, "turn-round", "silence while it turns round")
	fl.StringSliceVar(&f.d.Noise, "nr", nil, "noise reduction `TYPES` it has, as B,C")
	fl.IntVar(&f.d.MeterZero, "meter-zero", 0, "flux at 0 dB in `NWB`/m: 160, 200 or 250")
	fl.BoolVar(&f.d.LevelControl, "level-control", false, "it has a record calibration of level")
	fl.BoolVar(&f.d.BiasControl, "bias-control", false, "it has a record calibration of bias")
	f.addLearnt(c)
	c.RegisterFlagCompletionFunc("longest", completeTapes)
	c.RegisterFlagCompletionFunc("counter", cobra.FixedCompletions([]string{"turns", "time"}, cobra.ShellCompDirectiveNoFileComp))
	c.RegisterFlagCompletionFunc("auto-stop", cobra.FixedCompletions([]string{"none", "lever", "both hubs"}, cobra.ShellCompDirectiveNoFileComp))
	c.RegisterFlagCompletionFunc("meter-zero", cobra.FixedCompletions([]string{"160", "200", "250"}, cobra.ShellCompDirectiveNoFileComp))
}

func (f *deckFlags) setStop(s string) error {
	switch st := tape.AutoStop(strings.ToLower(s)); st {
	case tape.StopNone, tape.StopLever, tape.StopBothHubs:
		f.autoStop = string(st)
		return nil
	case "both", "hubs", "both-hubs":
		f.autoStop = string(tape.StopBothHubs)
		return nil
	}
	return errors.New("write none, lever or both hubs")
}

// parsePast reads C90@10:00=174; a measured thickness may stand behind the
// name, as C90/11.6@10:00=174.
func parsePast(s string) (tape.Past, error) {
	want := errors.New("write tape, time since 000 and count, as C90@10:00=174, or with a measured thickness, as C90/11.6@10:00=174")
	head, what, ok := strings.Cut(s, "=")
	name, when, ok2 := strings.Cut(head, "@")
	at, err := planner.ParseTime(when, time.Minute)
	n, err2 := number(what)
	if !ok || !ok2 || err != nil || err2 != nil {
		return tape.Past{}, want
	}
	name, thick, has := strings.Cut(name, "/")
	t, err := tape.Named(name)
	if err != nil {
		return tape.Past{}, err
	}
	if has {
		um, err := number(strings.TrimSuffix(strings.TrimSpace(thick), "um"))
		if err != nil {
			return tape.Past{}, want
		}
		t.Thickness = tape.Micrometres(um)
	}
	if err := t.Check(); err != nil {
		return tape.Past{}, err
	}
	return tape.Past{Tape: t, At: at, Reading: n}, nil
}

// learn puts what was measured into the profile, and says what it found.
func (f *deckFlags) learn(d *tape.Deck) (found []string, err error) {
	if f.tone != "" && f.timed != "" {
		return nil, errors.New("--tone and --timed both tell the speed: give the better one, a test tape's tone")
	}
	var s tape.SpeedReading
	switch {
	case f.tone != "":
		s, err = parseTone(f.tone, f.toneWithin)
	case f.timed != "":
		s, err = parseTimed(f.timed)
	}
	if err != nil {
		return nil, err
	}
	if f.tone != "" || f.timed != "" {
		d.SpeedError, d.SpeedWithin = s.Error, s.Within
		found = append(found, fmt.Sprintf("speed: %+.2f %% +- %.2f (+ is fast; +- 19 times in 20)", 100*s.Error, 100*s.Within))
	}
	if len(f.past) > 0 {
		if d.Counting == tape.CountsTime {
			return nil, errors.New("--reading: a counter that counts time has no counts a turn")
		}
		l, err := tape.LearnRatio(f.past, d.SpeedError)
		if err != nil {
			return nil, err
		}
		d.Counting, d.Ratio, d.RatioWithin = tape.CountsTurns, l.Ratio, l.Within
		found = append(found, fmt.Sprintf("counter: %.3f counts a turn +- %.3f, by least squares", l.Ratio, l.Within))
		for i, p := range f.past {
			found = append(found, fmt.Sprintf("  %s %s: read %g, reckoned %.1f, off by %+.1f", p.Tape.Name, planner.Clock(p.At), p.Reading, p.Reading-l.Off[i], l.Off[i]))
		}
	}
	return found, nil
}

// parseTone reads 3150=3165.
func parseTone(s string, within float64) (tape.SpeedReading, error) {
	t, r, ok := strings.Cut(s, "=")
	tone, err := number(t)
	read, err2 := number(r)
	if !ok || err != nil || err2 != nil {
		return tape.SpeedReading{}, fmt.Errorf("--tone %s: write the tone and the reading in Hz, as 3150=3165", s)
	}
	return tape.SpeedFromTone(tone, read, within)
}

// parseTimed reads 30:00=29:48.
func parseTimed(s string) (tape.SpeedReading, error) {
	k, t, ok := strings.Cut(s, "=")
	known, err := planner.ParseTime(k, time.Minute)
	took, err2 := planner.ParseTime(t, time.Minute)
	if !ok || err != nil || err2 != nil {
		return tape.SpeedReading{}, fmt.Errorf("--timed %s: write the known length and what the watch showed, as 30:00=29:48", s)
	}
	return tape.SpeedFromLength(known, took)
}

// newDeckMake makes a profile by asking, or from flags alone.
func newDeckMake(a *app) *cobra.Command {
	var f deckFlags
	c := &cobra.Command{
		Use:   "make FILE",
		Short: "Make a profile by asking, step by step",
		Long: `Make a deck's profile. At a terminal, what no flag has said is asked for; Enter
skips a question. Otherwise the flags are all there is.

Speed: play a speed test tape and read its tone with a frequency meter, or play
something recorded elsewhere whose length you know and time it. What the deck
has recorded itself proves nothing: its error cancels.`,
		Example: `  longside deck make galley.toml
  longside deck make galley.toml --tone 3150=3165 --reading C90@10:00=174`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			d := f.d
			d.AutoStop, d.Counting, d.LongestTape, d.TurnRound = tape.AutoStop(f.autoStop), tape.Counting(strings.ToLower(f.counter)), f.longest, f.turnRound
			if d.Ratio > 0 && d.Counting == "" {
				d.Counting = tape.CountsTurns
			}
			if !a.ask && c.Flags().NFlag() == 0 {
				return fmt.Errorf("%s: nothing is known of the deck: answer at a terminal, or say it with flags (longside deck make --help)", args[0])
			}
			if a.ask {
				// Told before the questions, not after them.
				if err := a.vacant(c.Context(), f.force, args[0]); err != nil {
					return err
				}
				if err := a.askDeck(c, &f, &d); err != nil {
					return err
				}
			}
			return a.finishDeck(c.Context(), args[0], &f, d)
		},
	}
	f.addAll(c)
	return c
}

// newDeckLearn adds measurements to a profile.
func newDeckLearn(a *app) *cobra.Command {
	var f deckFlags
	c := &cobra.Command{
		Use:   "learn FILE",
		Short: "Learn speed or counter ratio from readings",
		Long: `Learn the deck's speed error or its counter ratio from readings, show how well
they agree, and with --force put the result into the profile.

Counter: the ratio is that of the least squares over all readings given; a
measured thickness behind the tape's name makes it surer (C90/11.6).`,
		Example: `  longside deck learn galley.toml --reading C90@10:00=174
  longside deck learn galley.toml --timed 30:00=29:48 --force`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if f.tone == "" && f.timed == "" && len(f.past) == 0 {
				return errors.New("nothing to learn from: give --tone, --timed or --reading")
			}
			d, err := loadDeck(args[0])
			if err != nil {
				return err
			}
			if !f.force {
				found, err := f.learn(&d)
				if err != nil {
					return err
				}
				for _, s := range found {
					fmt.Fprintln(a.out, s)
				}
				fmt.Fprintf(a.out, "Nothing was written: --force puts this into %s.\n", plain(args[0]))
				return nil
			}
			return a.finishDeck(c.Context(), args[0], &f, d)
		},
	}
	c.Flags().SortFlags = false
	f.addLearnt(c)
	return c
}

// newDeckCheck checks a profile and says what it means.
func newDeckCheck(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE",
		Short: "Check a profile and say what it means",
		Example: `  longside deck check galley.toml
  longside deck check ~/decks/bridge.toml`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			d, err := loadDeck(args[0])
			if err != nil {
				return err
			}
			a.showDeck(d)
			return nil
		},
	}
}

// finishDeck learns, checks, writes and shows.
func (a *app) finishDeck(ctx context.Context, path string, f *deckFlags, d tape.Deck) error {
	for i, n := range d.Noise {
		if n = strings.ToUpper(n); n != "NONE" {
			d.Noise[i] = n
		}
	}
	found, err := f.learn(&d)
	if err != nil {
		return err
	}
	data, err := d.TOML()
	if err != nil {
		return err
	}
	if err := a.writeOwn(ctx, path, data, f.force); err != nil {
		return err
	}
	for _, s := range found {
		fmt.Fprintln(a.out, s)
	}
	if len(found) > 0 {
		fmt.Fprintln(a.out)
	}
	a.showDeck(d)
	fmt.Fprintf(a.out, "\n%s  give it to plan and check with --deck\n", plain(path))
	return nil
}

// askDeck asks for what no flag has said.
func (a *app) askDeck(c *cobra.Command, f *deckFlags, d *tape.Deck) error {
	q := a.asking(c.Context())
	fmt.Fprintln(a.err, "Enter skips a question.")
	set := c.Flags().Changed
	// A question whose flag was given is not put.
	type question struct {
		unless []string
		text   string
		take   func(string) error
	}
	tried := *d // answers are checked as they come, by the profile's own check
	try := func(change func(*tape.Deck) error) error {
		t := tried
		if err := change(&t); err != nil {
			return err
		}
		if err := t.Check(); err != nil {
			return err
		}
		tried = t
		return nil
	}
	whole := func(p func(*tape.Deck) *int) func(string) error {
		return func(s string) error {
			n, err := strconv.Atoi(s)
			if err != nil {
				return errors.New("write a whole number")
			}
			return try(func(t *tape.Deck) error { *p(t) = n; return nil })
		}
	}
	say := func(p func(*tape.Deck) *bool) func(string) error {
		return func(s string) error {
			return try(func(t *tape.Deck) error { return yes(p(t))(s) })
		}
	}
	asks := []question{
		{[]string{"name"}, "Your own word for the deck", func(s string) error {
			return try(func(t *tape.Deck) error { t.Name = s; return nil })
		}},
		{[]string{"tone", "timed", "speed"}, "Speed: a test tape's tone and the meter's reading in Hz, as 3150=3165", func(s string) error {
			_, err := parseTone(s, f.toneWithin)
			if err == nil {
				f.tone = s
			}
			return err
		}},
		{[]string{"tone", "timed", "speed"}, "Or a known length and what your watch shows, as 30:00=29:48", func(s string) error {
			_, err := parseTimed(s)
			if err == nil {
				f.timed = s
			}
			return err
		}},
		{[]string{"counter", "counter-ratio", "reading"}, "Does the counter count turns or time", func(s string) error {
			return try(func(t *tape.Deck) error { t.Counting = tape.Counting(strings.ToLower(s)); return nil })
		}},
		{[]string{"longest"}, "Longest tape that the manual allows, as C90", func(s string) error {
			return try(func(t *tape.Deck) error { t.LongestTape = s; return nil })
		}},
		{[]string{"heads"}, "Heads: 2, or 3 when it can play while it records", whole(func(t *tape.Deck) *int { return &t.Heads })},
		{[]string{"auto-stop"}, "What ends play: none, lever, or both hubs watched", func(s string) error {
			if err := f.setStop(s); err != nil {
				return err
			}
			return try(func(t *tape.Deck) error { t.AutoStop = tape.AutoStop(f.autoStop); return nil })
		}},
		{[]string{"auto-reverse"}, "Does it turn round by itself, y or n", say(func(t *tape.Deck) *bool { return &t.AutoReverse })},
		{[]string{"nr"}, "Noise reduction types, as B,C", func(s string) error {
			return try(func(t *tape.Deck) error {
				t.Noise = nil
				for _, n := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' }) {
					t.Noise = append(t.Noise, strings.ToUpper(n))
				}
				return nil
			})
		}},
		{[]string{"meter-zero"}, "Flux at the meter's 0 dB, by the manual: 160, 200 or 250 nWb/m", whole(func(t *tape.Deck) *int { return &t.MeterZero })},
		{[]string{"level-control"}, "Has it a record calibration of level, y or n", say(func(t *tape.Deck) *bool { return &t.LevelControl })},
		{[]string{"bias-control"}, "And of bias, y or n", say(func(t *tape.Deck) *bool { return &t.BiasControl })},
	}
	for _, x := range asks {
		if slices.ContainsFunc(x.unless, set) || strings.HasPrefix(x.text, "Or ") && f.tone != "" {
			continue
		}
		if err := q.ask(x.text, x.take); err != nil {
			return err
		}
		if strings.HasPrefix(x.text, "Does it turn") && tried.AutoReverse && !set("turn-round") {
			if err := q.ask("Seconds without sound while it turns round", func(s string) error {
				return try(func(t *tape.Deck) (err error) {
					t.TurnRound, err = planner.ParseTime(s, time.Second)
					return err
				})
			}); err != nil {
				return err
			}
		}
	}
	if tried.Counting != tape.CountsTime && !set("counter-ratio") && !set("reading") {
		if err := q.each("Counter since 000 on a tape that you know, as C90@10:00=174", func(s string) error {
			p, err := parsePast(s)
			if err != nil {
				return err
			}
			// A reading that contradicts those before it is refused at once.
			if _, err := tape.LearnRatio(append(slices.Clone(f.past), p), tried.SpeedError); err != nil {
				return err
			}
			f.past = append(f.past, p)
			return nil
		}); err != nil {
			return err
		}
	}
	*d = tried
	return nil
}

// showDeck prints a profile and what it means.
func (a *app) showDeck(d tape.Deck) {
	row := func(what, format string, args ...any) {
		a.wrap(a.paint(faint, pad(what, 15)), 16, plain(fmt.Sprintf(format, args...)))
	}
	name := d.Name
	if name == "" {
		name = "A deck without a name"
	}
	fmt.Fprintln(a.out, a.paint(strong, plain(name)))
	c90, err := tape.Named("C90")
	if err != nil {
		return
	}
	switch {
	case d.SpeedWithin > 0 || d.SpeedError != 0:
		within := ""
		if d.SpeedWithin > 0 {
			within = fmt.Sprintf(" +- %.2f", 100*d.SpeedWithin)
		}
		word := "fast"
		if d.SpeedError < 0 {
			word = "slow"
		}
		row("speed", "%.2f %%%s %s: a nominal C90 side is over after %s", 100*math.Abs(d.SpeedError), within, word, planner.Clock(c90.Run(d.SpeedError)))
	default:
		row("speed", "not measured: plans allow for 1.5 %% (DIN 45500)")
	}
	switch ratio, known := d.CounterRatio(); {
	case d.Counting == tape.CountsTime:
		row("counter", "counts time: no readings are planned")
	case known:
		row("counter", "%.3f counts a turn: %.0f at the end of a C90 side", ratio, c90.Counter(c90.Side, ratio))
	default:
		row("counter", "ratio not known: %g is taken (from memory, unverified)", ratio)
	}
	if d.LongestTape != "" {
		row("longest tape", "%s by its manual", d.LongestTape)
	}
	if d.Heads > 0 {
		row("heads", "%d", d.Heads)
	}
	if d.AutoStop != tape.StopUnknown {
		row("auto-stop", "%s", map[tape.AutoStop]string{
			tape.StopNone:     "none: do not leave it alone with a long thin tape",
			tape.StopLever:    "a lever: it stops at the end, but not at once when a tape jams",
			tape.StopBothHubs: "both hubs are watched",
		}[d.AutoStop])
	}
	if d.AutoReverse {
		row("auto-reverse", "yes, %.3g s without sound and both leaders", d.TurnRound.Seconds())
	}
	if len(d.Noise) > 0 {
		row("noise reduction", "%s", strings.Join(d.Noise, ", "))
	}
	if printed, din, known := d.MeterOffset(); known {
		switch {
		case printed == din:
			row("meter", "0 dB is %d nWb/m, the reference of IEC tapes", d.MeterZero)
		default:
			row("meter", "0 dB is %d nWb/m: %.1f dB under the 250 of IEC tapes by the figure as printed, %.1f when it was measured by the American method (0.7 dB apart; manuals seldom say which)", d.MeterZero, -printed, -din)
		}
	}
	controls := []string{}
	if d.LevelControl {
		controls = append(controls, "level")
	}
	if d.BiasControl {
		controls = append(controls, "bias")
	}
	if len(controls) > 0 {
		row("calibration", "%s can be set for each tape", strings.Join(controls, " and "))
	}
}
