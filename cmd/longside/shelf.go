package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/planner"
	"longside/planner/shelf"
	"longside/planner/tape"
)

// newShelf is the command for the tapes that a person owns.
func newShelf(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "shelf",
		Short: "Keep the tapes that you own: what each is and holds",
		Long: `Keep the tapes that you own, in a text file of your own: what each is, what was
measured of it, how it was calibrated, what is recorded on it and what it is
booked for. "plan --shelf" picks from it. Without a word behind it, list them.`,
		Example: `  longside shelf
  longside shelf add "Mole 1" --tape C90 --type II --year 1991 --condition used`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			store := shelfOf(c)
			s, err := store.Read()
			if err != nil {
				return err
			}
			if asJSON {
				return a.printJSON(shelfJSONOf(s))
			}
			a.showShelf(store, s)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "answer as JSON")
	c.PersistentFlags().String("shelf-file", "", "the shelf's `FILE` (default: shelf.toml in your data folder)")
	c.AddCommand(
		newShelfAdd(a), newShelfShow(a), newShelfSet(a), newShelfCalibrate(a),
		newShelfRecorded(a), newShelfBook(a), newShelfFree(a), newShelfRemove(a),
	)
	return c
}

// addShelfFile gives a command outside "shelf" the flag that names its file.
func addShelfFile(c *cobra.Command) {
	c.Flags().String("shelf-file", "", "the shelf's `FILE` (default: shelf.toml in your data folder)")
}

// shelfOf is the shelf that the flags name, or the person's own.
func shelfOf(c *cobra.Command) shelf.Store {
	if path, err := c.Flags().GetString("shelf-file"); err == nil && path != "" {
		return shelf.Store{Path: path}
	}
	return shelf.Default()
}

// entryFlags are what can be said of a tape.
type entryFlags struct {
	name, kind, condition string
	year                  int
	side                  time.Duration
	thickness, hub        float64
	wound, playedWell     bool
}

func (f *entryFlags) add(c *cobra.Command) {
	fl := c.Flags()
	fl.SortFlags = false
	fl.Var(&parsedValue{kind: "tape", set: func(s string) error {
		t, err := tape.Named(s)
		f.name = t.Name
		return err
	}}, "tape", "its length, as printed on it: C90")
	fl.Var(oneOf(&f.kind, "I", "II", "III", "IV"), "type", "tape type by IEC")
	fl.IntVar(&f.year, "year", 0, "the `YEAR` it was made")
	fl.Var(oneOf(&f.condition, "sealed", "used", "worn"), "condition", "its condition")
	fl.Var(timeValue{&f.side, time.Minute}, "side", "a side timed leader to leader, brought to nominal speed, as 46:12")
	fl.Float64Var(&f.thickness, "thickness", 0, "its measured thickness in `UM` (micrometres)")
	fl.Float64Var(&f.hub, "hub", 0, "the measured radius of its hub in `MM`")
	fl.BoolVar(&f.wound, "wound", false, "it was wound end to end before")
	fl.BoolVar(&f.playedWell, "played-well", false, "it was recorded and played through before, without trouble")
	c.RegisterFlagCompletionFunc("tape", completeTapes)
	c.RegisterFlagCompletionFunc("type", cobra.FixedCompletions([]string{"I", "II", "III", "IV"}, cobra.ShellCompDirectiveNoFileComp))
	c.RegisterFlagCompletionFunc("condition", cobra.FixedCompletions([]string{"sealed", "used", "worn"}, cobra.ShellCompDirectiveNoFileComp))
}

// into puts what was said into an entry, and leaves the rest as it was.
func (f entryFlags) into(e *shelf.Entry, set func(string) bool) {
	if set("tape") {
		e.Name = f.name
	}
	if set("type") {
		e.Type = f.kind
	}
	if set("year") {
		e.Year = f.year
	}
	if set("condition") {
		e.Condition = tape.Condition(f.condition)
	}
	if set("side") {
		e.Side = f.side
	}
	if set("thickness") {
		e.Thickness = tape.Micrometres(f.thickness)
	}
	if set("wound") {
		e.Wound = f.wound
	}
	if set("played-well") {
		e.PlayedWell = f.playedWell
	}
	if set("hub") {
		e.Hub = tape.Millimetres(f.hub)
	}
}

func newShelfAdd(a *app) *cobra.Command {
	var f entryFlags
	count := 1
	c := &cobra.Command{
		Use:   "add LABEL --tape NAME",
		Short: "Put a tape on the shelf",
		Example: `  longside shelf add "Mole 1" --tape C90 --type II --condition sealed
  longside shelf add Box --count 10 --tape C60`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if f.name == "" {
				return errors.New("which length? name it with --tape, as in --tape C90")
			}
			if count < 1 || count > 1000 {
				return fmt.Errorf("--count %d: give 1 to 1000", count)
			}
			labels := []string{args[0]}
			if count > 1 {
				labels = labels[:0]
				for i := range count {
					labels = append(labels, fmt.Sprintf("%s %d", args[0], i+1))
				}
			}
			err := shelfOf(c).Change(c.Context(), func(s *shelf.Shelf) error {
				for _, l := range labels {
					e := shelf.Entry{Label: l}
					f.into(&e, c.Flags().Changed)
					if err := s.Add(e); err != nil {
						return err
					}
				}
				return nil
			})
			if err == nil {
				fmt.Fprintf(a.out, "On the shelf: %s\n", plain(strings.Join(labels, ", ")))
			}
			return err
		},
	}
	f.add(c)
	c.Flags().IntVar(&count, "count", count, "put `N` of them there, with a number behind the label")
	return c
}

func newShelfSet(a *app) *cobra.Command {
	var f entryFlags
	c := &cobra.Command{
		Use:   "set LABEL",
		Short: "Change what is known of a tape",
		Example: `  longside shelf set "Mole 1" --side 46:12 --thickness 11.6
  longside shelf set "Mole 1" --condition worn`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			return a.change(c, args[0], func(e *shelf.Entry) error {
				f.into(e, c.Flags().Changed)
				return nil
			})
		},
	}
	f.add(c)
	return c
}

// change changes one tape and shows it as it is then.
func (a *app) change(c *cobra.Command, label string, change func(*shelf.Entry) error) error {
	var after shelf.Entry
	err := shelfOf(c).Change(c.Context(), func(s *shelf.Shelf) error {
		e, err := s.Find(label)
		if err != nil {
			return err
		}
		if err := change(e); err != nil {
			return err
		}
		after = *e
		return nil
	})
	if err == nil {
		_, trust := judged(after, tape.Deck{})
		a.showEntry(after)
		fmt.Fprintf(a.out, "Trust: %s\n", trust.Word())
	}
	return err
}

func newShelfShow(a *app) *cobra.Command {
	var deck string
	var asJSON bool
	c := &cobra.Command{
		Use:   "show LABEL",
		Short: "Show one tape, and how far it can be trusted",
		Example: `  longside shelf show "Mole 1"
  longside shelf show "Mole 1" --deck galley.toml --json`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			s, err := shelfOf(c).Read()
			if err != nil {
				return err
			}
			e, err := s.Find(args[0])
			if err != nil {
				return err
			}
			var d tape.Deck
			if deck != "" {
				if d, err = loadDeck(deck); err != nil {
					return err
				}
			}
			if asJSON {
				return a.printJSON(entryJSONOf(*e, d))
			}
			_, trust := judged(*e, d)
			a.showEntry(*e)
			a.showTrust(trust.Word(), doubtsOf(trust))
			return nil
		},
	}
	c.Flags().StringVar(&deck, "deck", "", "judge it on this deck: a profile `FILE`, as longside deck makes it")
	c.Flags().BoolVar(&asJSON, "json", false, "answer as JSON")
	return c
}

func newShelfCalibrate(a *app) *cobra.Command {
	var cal shelf.Calibration
	var day dateValue
	c := &cobra.Command{
		Use:   "calibrate LABEL",
		Short: "Note how a deck's record calibration came out on a tape",
		Long: `Note how a deck's record calibration came out on a tape. Turn the monitor down
before tones. Level: 400 Hz at 0 dB from the source, and what comes back off
tape. Bias: 10 kHz at -20 dB (or -15) from the source, against that. If the
level control came to its end, say what was still missing with --shortfall.`,
		Example: `  longside shelf calibrate "Mole 1" --deck-name galley --level -0.5 --bias 0.3
  longside shelf calibrate "Long one" --level -5 --shortfall 3`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			if !c.Flags().Changed("level") && !c.Flags().Changed("bias") {
				return errors.New("nothing to note: give --level or --bias, in dB")
			}
			cal.Date = day.or(time.Now())
			return a.change(c, args[0], func(e *shelf.Entry) error {
				e.Calibrations = append(e.Calibrations, cal)
				return nil
			})
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&cal.Deck, "deck-name", "", "the deck's `NAME`")
	fl.Float64Var(&cal.Level400, "level", 0, "400 Hz off tape against the source in `DB`, controls at centre")
	fl.Float64Var(&cal.Bias10k, "bias", 0, "10 kHz off tape against 400 Hz in `DB`, controls at centre")
	fl.Float64Var(&cal.Shortfall, "shortfall", 0, "what 400 Hz still lacks with the control at its end, in `DB`, as 3")
	fl.Var(&day, "date", "the day (default: today)")
	fl.StringVar(&cal.Note, "note", "", "a `REMARK`")
	return c
}

func newShelfRecorded(a *app) *cobra.Command {
	var rec shelf.Recording
	var day dateValue
	var well bool
	c := &cobra.Command{
		Use:   "recorded LABEL --title TITLE",
		Short: "Note what was recorded on a tape; a booking for it is over then",
		Example: `  longside shelf recorded "Mole 1" --title "The Crossing"
  longside shelf recorded "Mole 1" --title Fog --side A --date 2026-11-20`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			if rec.Title == "" {
				return errors.New("what was recorded? name it with --title")
			}
			rec.Date = day.or(time.Now())
			return a.change(c, args[0], func(e *shelf.Entry) error {
				e.Recorded = append(e.Recorded, rec)
				e.Booked = nil
				e.PlayedWell = e.PlayedWell || well
				if e.Condition == tape.Sealed {
					e.Condition = tape.Used
				}
				return nil
			})
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&rec.Title, "title", "", "`TITLE` of what is on it")
	fl.Var(oneOf(&rec.Side, "A", "B"), "side", "on one side only")
	fl.BoolVar(&well, "played-well", false, "it was played through afterwards, without trouble")
	fl.Var(&day, "date", "the day (default: today)")
	return c
}

func newShelfBook(a *app) *cobra.Command {
	var title string
	var reuse bool
	c := &cobra.Command{
		Use:   "book LABEL --for TITLE",
		Short: "Keep a tape for a plan",
		Example: `  longside shelf book "Mole 1" --for "The Crossing"
  longside shelf book "Mole 2" --for "The Crossing" --reuse`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			if title == "" {
				return errors.New("kept for what? name it with --for")
			}
			err := shelfOf(c).Change(c.Context(), func(s *shelf.Shelf) error {
				return s.Book(args[0], title, shelf.On(time.Now()), reuse)
			})
			if err == nil {
				fmt.Fprintf(a.out, "%s is kept for %s.\n", plain(args[0]), plain(title))
			}
			return err
		},
	}
	c.Flags().StringVar(&title, "for", "", "the plan's `TITLE`")
	c.Flags().BoolVar(&reuse, "reuse", false, "what is recorded on it may be lost")
	return c
}

func newShelfFree(a *app) *cobra.Command {
	var wipe bool
	c := &cobra.Command{
		Use:   "free LABEL",
		Short: "Take a booking back",
		Example: `  longside shelf free "Mole 1"
  longside shelf free "Mole 1" --erased`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			return a.change(c, args[0], func(e *shelf.Entry) error {
				if e.Booked == nil && !(wipe && len(e.Recorded) > 0) {
					return fmt.Errorf("tape %q is not booked", e.Label)
				}
				e.Booked = nil
				if wipe {
					e.Recorded = nil
				}
				return nil
			})
		},
	}
	c.Flags().BoolVar(&wipe, "erased", false, "what was recorded on it is gone, too")
	return c
}

func newShelfRemove(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "remove LABEL...",
		Short: "Take tapes off the shelf",
		Example: `  longside shelf remove "Mole 1"
  longside shelf remove "Box 1" "Box 2"`,
		Args:              cobra.MinimumNArgs(1),
		ValidArgsFunction: completeLabels,
		RunE: func(c *cobra.Command, args []string) error {
			err := shelfOf(c).Change(c.Context(), func(s *shelf.Shelf) error {
				for _, l := range args {
					if err := s.Remove(l); err != nil {
						return err
					}
				}
				return nil
			})
			if err == nil {
				fmt.Fprintf(a.out, "Off the shelf: %s\n", plain(strings.Join(args, ", ")))
			}
			return err
		},
	}
}

// completeLabels offers the labels on the shelf.
func completeLabels(c *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
	s, err := shelfOf(c).Read()
	if err != nil {
		return nil, cobra.ShellCompDirectiveError
	}
	var labels []string
	for _, e := range s.Tapes {
		labels = append(labels, e.Label)
	}
	return labels, cobra.ShellCompDirectiveNoFileComp
}

// saveMeasured keeps a measurement with a tape of the shelf.
func saveMeasured(c *cobra.Command, label string, m tape.Measured) error {
	return shelfOf(c).Change(c.Context(), func(s *shelf.Shelf) error {
		e, err := s.Find(label)
		if err != nil {
			return err
		}
		if m.Tape.Name != "" && m.Tape.Name != e.Name {
			return fmt.Errorf("tape %q is a %s on the shelf, and a %s was measured", e.Label, e.Name, m.Tape.Name)
		}
		if m.Timed {
			e.Side = m.Tape.Side
		}
		if m.Weighed {
			e.Thickness = m.Thickness.Value
			e.Hub = m.Hub.Value
		}
		return nil
	})
}

// dateValue is a flag that takes a day.
type dateValue struct{ d shelf.Date }

func (v *dateValue) String() string {
	if v.d == (shelf.Date{}) {
		return ""
	}
	return v.d.String()
}
func (v *dateValue) Type() string { return "date" }
func (v *dateValue) Set(s string) error {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		return errors.New("write a day as 2026-11-25")
	}
	v.d = shelf.On(t)
	return nil
}

// or is the day given, or that of now.
func (v dateValue) or(now time.Time) shelf.Date {
	if v.d == (shelf.Date{}) {
		return shelf.On(now)
	}
	return v.d
}

// shelfJSON is the list as JSON; fields may be added, none changes its meaning.
type shelfJSON struct {
	Format  string      `json:"format"`
	Version int         `json:"version"`
	Tapes   []entryJSON `json:"tapes"`
}

type entryJSON struct {
	Label          string  `json:"label"`
	Name           string  `json:"name"`
	MinutesPerSide float64 `json:"minutes_per_side"`
	Type           string  `json:"type,omitempty"`
	Year           int     `json:"year,omitempty"`
	Condition      string  `json:"condition,omitempty"`
	SideS          float64 `json:"measured_side_s,omitempty"`
	ThicknessUM    float64 `json:"thickness_um"`
	Measured       bool    `json:"thickness_measured"`
	LengthM        float64 `json:"length_m"`
	HubMM          float64 `json:"hub_radius_mm"`
	Wound          bool    `json:"wound,omitempty"`
	PlayedWell     bool    `json:"played_well,omitempty"`

	Calibrations []calibrationJSON `json:"calibrations"`
	Recorded     []recordingJSON   `json:"recorded"`
	BookedFor    string            `json:"booked_for,omitempty"`
	BookedOn     string            `json:"booked_on,omitempty"`
	Free         bool              `json:"free"`
	Trust        string            `json:"trust"`
	Doubts       []tapeDoubt       `json:"doubts"`
}

type calibrationJSON struct {
	Deck        string  `json:"deck,omitempty"`
	Date        string  `json:"date"`
	LevelDB     float64 `json:"level_400hz_db"`
	BiasDB      float64 `json:"bias_10khz_db"`
	ShortfallDB float64 `json:"shortfall_db,omitempty"`
	Note        string  `json:"note,omitempty"`
}

type recordingJSON struct {
	Title string `json:"title"`
	Side  string `json:"side,omitempty"`
	Date  string `json:"date"`
}

func shelfJSONOf(s shelf.Shelf) shelfJSON {
	j := shelfJSON{Format: shelf.Format, Version: shelf.Version, Tapes: []entryJSON{}}
	for _, e := range s.Tapes {
		j.Tapes = append(j.Tapes, entryJSONOf(e, tape.Deck{}))
	}
	return j
}

func entryJSONOf(e shelf.Entry, d tape.Deck) entryJSON {
	t, trust := judged(e, d)
	j := entryJSON{
		Label: e.Label, Name: e.Name, MinutesPerSide: round(t.Side.Minutes(), 3), Type: e.Type, Year: e.Year, Condition: string(e.Condition),
		SideS: round(e.Side.Seconds(), 1), ThicknessUM: round(float64(t.Thickness), 2), Measured: e.Thickness > 0,
		LengthM: round(float64(t.Length), 2), HubMM: round(float64(t.Hub), 2), Wound: e.Wound, PlayedWell: e.PlayedWell,
		Calibrations: []calibrationJSON{}, Recorded: []recordingJSON{}, Free: e.Free(),
		Trust: trust.Word(), Doubts: doubtsOf(trust),
	}
	for _, c := range e.Calibrations {
		j.Calibrations = append(j.Calibrations, calibrationJSON{c.Deck, c.Date.String(), c.Level400, c.Bias10k, c.Shortfall, c.Note})
	}
	for _, r := range e.Recorded {
		j.Recorded = append(j.Recorded, recordingJSON{r.Title, r.Side, r.Date.String()})
	}
	if e.Booked != nil {
		j.BookedFor, j.BookedOn = e.Booked.For, e.Booked.Date.String()
	}
	return j
}

// judged is the entry as a tape, with the trust in it today. An entry of a
// shelf has passed its check, so neither can fail.
func judged(e shelf.Entry, d tape.Deck) (tape.Tape, tape.Trust) {
	t, _ := e.Tape()
	trust, _ := e.Trust(d, time.Now().Year())
	return t, trust
}

// showShelf prints a row a tape.
func (a *app) showShelf(store shelf.Store, s shelf.Shelf) {
	if len(s.Tapes) == 0 {
		fmt.Fprintln(a.out, "The shelf is empty: longside shelf add LABEL --tape C90 puts a tape there.")
		return
	}
	widest := len("label")
	for _, e := range s.Tapes {
		widest = max(widest, columns(plain(e.Label)))
	}
	widest = min(widest, 22)
	fmt.Fprintln(a.out, a.paint(faint, pad("label", widest)+" tape  type year  condition   side   trust    kept or recorded"))
	for _, e := range s.Tapes {
		t, trust := judged(e, tape.Deck{})
		what := ""
		switch {
		case e.Booked != nil:
			what = "kept for " + e.Booked.For
		case len(e.Recorded) > 0:
			what = e.Recorded[len(e.Recorded)-1].Title
		}
		mark := " "
		if e.Side > 0 {
			mark = "*"
		}
		year := ""
		if e.Year > 0 {
			year = fmt.Sprint(e.Year)
		}
		line := fmt.Sprintf("%s %-5s %-4s %-5s %-9s %6s%s  %s %s", pad(plain(e.Label), widest), e.Name, e.Type, year, string(e.Condition), planner.Clock(t.Side), mark, pad(trust.Word(), 8), plain(what))
		fmt.Fprintln(a.out, strings.TrimRight(clip(line, max(a.width, 80)-1), " "))
	}
	a.wrap("", 0, "* timed, not nominal. The file: "+plain(store.Path))
}

// showEntry prints what is known of one tape.
func (a *app) showEntry(e shelf.Entry) {
	t, _ := judged(e, tape.Deck{})
	row := func(what, format string, args ...any) {
		a.wrap(a.paint(faint, pad(what, 11)), 12, plain(fmt.Sprintf(format, args...)))
	}
	head := e.Name
	if e.Type != "" {
		head += ", type " + e.Type
	}
	if e.Condition != "" {
		head += ", " + string(e.Condition)
	}
	if e.Year > 0 {
		head += fmt.Sprintf(", of %d", e.Year)
	}
	fmt.Fprintln(a.out, a.paint(strong, plain(e.Label))+"  "+head)
	how := "nominal"
	if e.Side > 0 {
		how = "timed"
	}
	row("side", "%s (%s), %.1f m", planner.Clock(t.Side), how, float64(t.Length))
	how = "by its name"
	if e.Thickness > 0 {
		how = "measured"
	}
	row("thickness", "%.1f um (%s), full pack %.1f mm", float64(t.Thickness), how, float64(t.FullRadius()))
	var history []string
	if e.Wound {
		history = append(history, "wound end to end")
	}
	if e.PlayedWell {
		history = append(history, "recorded and played before without trouble")
	}
	if len(history) > 0 {
		row("history", "%s", strings.Join(history, "; "))
	}
	for _, c := range e.Calibrations {
		on := ""
		if c.Deck != "" {
			on = " on " + c.Deck
		}
		text := fmt.Sprintf("%s%s: 400 Hz %+.1f dB, 10 kHz %+.1f dB", c.Date, on, c.Level400, c.Bias10k)
		if c.Shortfall > 0 {
			text += fmt.Sprintf(", -%.1f dB with the control at its end", c.Shortfall)
		}
		if c.Note != "" {
			text += " (" + c.Note + ")"
		}
		row("calibrated", "%s", text)
	}
	for _, r := range e.Recorded {
		side := ""
		if r.Side != "" {
			side = ", side " + r.Side
		}
		row("recorded", "%s%s, %s", r.Title, side, r.Date)
	}
	if e.Booked != nil {
		row("kept for", "%s, since %s", e.Booked.For, e.Booked.Date)
	}
}
