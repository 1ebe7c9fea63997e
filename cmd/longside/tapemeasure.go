package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/planner"
	"longside/planner/tape"
)

// newMeasure is the command that turns readings into a tape.
func newMeasure(a *app) *cobra.Command {
	var r tape.Readings
	var f struct {
		deck, save string
		hub        lengthsMM
		asJSON     bool
	}
	c := &cobra.Command{
		Use:   "measure",
		Short: "Find length and thickness of a tape from what you can read of it",
		Long: `Find the length and thickness of the tape in your hand from what can be read
with a watch, the counter and a ruler, each with how far off it may be.

Wind the tape fully back first, and set the counter to 000. Then, as much as you
like: play a whole side by the watch; time some turns of a pack (full pack:
ten turns; empty hub: twenty turns in the first minute, which gives the hub);
note the counter at two times far apart; measure the width of a pack from the
edge of its hub. The marks on the window have no standard meaning: they are no
measure. Readings that contradict each other are refused. At a terminal, and
with no reading given, the readings are asked for.`,
		Example: `  longside tape measure --tape C60 --side 31:12 --turns supply=10/32.1
  longside tape measure --tape C90 --count 10:00=174 --count 44:00=563 --json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := f.hub.into(&r); err != nil {
				return err
			}
			if f.deck != "" {
				d, err := loadDeck(f.deck)
				if err != nil {
					return err
				}
				withDeck(&r, d, c.Flags().Changed)
			}
			none := r.Side == 0 && len(r.Counts)+len(r.Turnings)+len(r.Widths)+len(r.Shares) == 0
			if none && a.ask {
				if err := a.askReadings(c, &r); err != nil {
					return err
				}
			} else if none {
				return errors.New("no reading: give at least one of --side, --turns, --count, --width or --share; longside tape measure --help says how to take them")
			}
			m, err := tape.Measure(r)
			if err != nil {
				return err
			}
			if f.save != "" {
				if err := saveMeasured(c, f.save, m); err != nil {
					return err
				}
			}
			if f.asJSON {
				return a.printJSON(measuredOf(m))
			}
			a.showMeasured(m)
			if f.save != "" {
				fmt.Fprintf(a.out, "\nKept on the shelf with %q.\n", f.save)
			}
			return nil
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.Var(&parsedValue{kind: "tape", set: func(s string) error {
		t, err := tape.Named(s)
		r.Name = t.Name
		return err
	}}, "tape", "the tape's name, as printed on it")
	fl.Var(timeValue{&r.Side, time.Minute}, "side", "the whole side by the watch, leader to leader, as 46:12")
	fl.Var(&parsedValue{kind: "TIME=COUNT", set: func(s string) error {
		x, err := parseCount(s)
		r.Counts = append(r.Counts, x)
		return err
	}}, "count", "the counter at a time since 000, as 10:00=174; may be repeated")
	fl.Var(&parsedValue{kind: "PACK@TIME=TURNS/SECONDS", set: func(s string) error {
		x, err := parseTurning(s)
		r.Turnings = append(r.Turnings, x)
		return err
	}}, "turns", "turns of a pack by the watch, as supply=10/32.1 or takeup@0:05=20/29.3; may be repeated")
	fl.Var(&parsedValue{kind: "PACK@TIME=MM", set: func(s string) error {
		p, at, x, err := parsePack(s, "mm")
		r.Widths = append(r.Widths, tape.Width{Pack: p, At: at, Wide: tape.Millimetres(x)})
		return err
	}}, "width", "width of a pack from the edge of its hub, as supply=13.6; may be repeated")
	fl.Var(&parsedValue{kind: "PACK@TIME=SHARE", set: func(s string) error {
		p, at, x, err := parsePack(s, "")
		r.Shares = append(r.Shares, tape.Share{Pack: p, At: at, Of: x})
		return err
	}}, "share", "the same as a share of --edge, 0 to 1; may be repeated")
	f.hub.add(c)
	fl.StringVar(&f.deck, "deck", "", "the deck's profile, a `FILE` that longside deck makes")
	fl.Var(percentValue{&r.DeckError}, "deck-speed", "speed error of the deck, + is fast")
	fl.Var(percentValue{&r.DeckWithin}, "deck-within", "how far off that may be (1.5% when it was never measured)")
	fl.Float64Var(&r.Ratio, "counter-ratio", 0, "`COUNTS` for one turn of the take-up hub, where it is known")
	fl.StringVar(&f.save, "save", "", "keep the result with this `LABEL` on the shelf")
	fl.BoolVar(&f.asJSON, "json", false, "answer as JSON")
	addShelfFile(c)
	c.RegisterFlagCompletionFunc("tape", completeTapes)
	return c
}

// lengthsMM are the flags that give lengths in mm.
type lengthsMM struct{ hub, hubWithin, edge, edgeWithin float64 }

func (l *lengthsMM) add(c *cobra.Command) {
	fl := c.Flags()
	fl.Float64Var(&l.hub, "hub", 0, "radius of the empty hub in `MM` (11 when not measured)")
	fl.Float64Var(&l.hubWithin, "hub-within", 0, "how many `MM` that may be off (0.3)")
	fl.Float64Var(&l.edge, "edge", 0, "the way from the hub's edge to that of the largest pack in `MM` (14 when not measured)")
	fl.Float64Var(&l.edgeWithin, "edge-within", 0, "how many `MM` that may be off (0.5)")
}

func (l lengthsMM) into(r *tape.Readings) error {
	for _, x := range []float64{l.hub, l.hubWithin, l.edge, l.edgeWithin} {
		if math.IsNaN(x) || x < 0 {
			return errors.New("a length in mm must be above zero")
		}
	}
	r.Hub, r.HubWithin = tape.Millimetres(l.hub), tape.Millimetres(l.hubWithin)
	r.Edge, r.EdgeWithin = tape.Millimetres(l.edge), tape.Millimetres(l.edgeWithin)
	return nil
}

// withDeck takes from a profile what no flag has said.
func withDeck(r *tape.Readings, d tape.Deck, set func(string) bool) {
	if !set("deck-speed") && (d.SpeedWithin > 0 || d.SpeedError != 0) {
		r.DeckError = d.SpeedError
		if !set("deck-within") {
			r.DeckWithin = d.SpeedWithin
		}
	}
	if !set("counter-ratio") && d.Ratio > 0 {
		r.Ratio, r.RatioWithin = d.Ratio, d.RatioWithin/d.Ratio
	}
}

// parseCount reads 10:00=174.
func parseCount(s string) (tape.Count, error) {
	when, what, ok := strings.Cut(s, "=")
	at, err := planner.ParseTime(when, time.Minute)
	n, err2 := number(what)
	if !ok || err != nil || err2 != nil {
		return tape.Count{}, errors.New("write the time since 000 and the count, as 10:00=174")
	}
	return tape.Count{At: at, Reading: n}, nil
}

// parseTurning reads supply@0:00=10/32.1, the time left out or not.
func parseTurning(s string) (tape.Turning, error) {
	head, what, ok := strings.Cut(s, "=")
	pack, at, err := packAt(head)
	n, sec, ok2 := strings.Cut(what, "/")
	turns, err2 := strconv.Atoi(strings.TrimSpace(n))
	took, err3 := number(sec)
	if !ok || !ok2 || err != nil || err2 != nil || err3 != nil || !(took > 0 && took <= 36000) {
		return tape.Turning{}, errors.New("write pack, turns and the seconds they took, as supply=10/32.1, or with the time they began, as takeup@44:00=10/32.6")
	}
	return tape.Turning{Pack: pack, At: at, Turns: turns, Took: time.Duration(took * float64(time.Second))}, nil
}

// parsePack reads supply@0:00=13.6, the unit behind it or not.
func parsePack(s, unit string) (tape.Pack, time.Duration, float64, error) {
	head, what, ok := strings.Cut(s, "=")
	pack, at, err := packAt(head)
	x, err2 := number(strings.TrimSuffix(strings.TrimSpace(what), unit))
	if !ok || err != nil || err2 != nil {
		return 0, 0, 0, errors.New("write pack and reading, as supply=13.6, or with the time, as takeup@30:00=11.2")
	}
	return pack, at, x, nil
}

func packAt(s string) (tape.Pack, time.Duration, error) {
	name, when, has := strings.Cut(s, "@")
	var at time.Duration
	if has {
		var err error
		if at, err = planner.ParseTime(when, time.Minute); err != nil {
			return 0, 0, err
		}
	}
	switch strings.ToLower(strings.TrimSpace(name)) {
	case "supply", "left":
		return tape.SupplyPack, at, nil
	case "takeup", "take-up", "right":
		return tape.TakeUpPack, at, nil
	}
	return 0, 0, errors.New("write supply or takeup")
}

// number reads a plain decimal number.
func number(s string) (float64, error) {
	s = strings.TrimSpace(s)
	if strings.ContainsAny(s, "xXpP_iInN") { // hexadecimal, infinities and the like
		return 0, errors.New("write a number")
	}
	return strconv.ParseFloat(s, 64)
}

// askReadings takes the readings at the terminal.
func (a *app) askReadings(c *cobra.Command, r *tape.Readings) error {
	q := a.asking(c.Context())
	fmt.Fprintln(a.err, "Wind the tape fully back and set the counter to 000. Enter skips a question.")
	if r.Name == "" {
		if err := q.ask("Name of the tape, as C90", func(s string) error {
			t, err := tape.Named(s)
			r.Name = t.Name
			return err
		}); err != nil {
			return err
		}
	}
	seconds := func(pack tape.Pack, turns int) func(string) error {
		return func(s string) error {
			x, err := parseTurning(fmt.Sprintf("%s=%d/%s", pack, turns, s))
			if err != nil {
				return errors.New("write the seconds that all of them took, as 32.1")
			}
			r.Turnings = append(r.Turnings, x)
			return nil
		}
	}
	for _, step := range []func() error{
		func() error {
			return q.ask("From the very start, twenty turns of the empty right hub, in seconds", seconds(tape.TakeUpPack, 20))
		},
		func() error {
			return q.ask("Wound back again: ten turns of the full left pack, in seconds", seconds(tape.SupplyPack, 10))
		},
		func() error {
			return q.ask("Width of the full left pack from the edge of its hub, in mm", func(s string) error {
				_, _, x, err := parsePack("supply="+s, "mm")
				if err == nil {
					r.Widths = append(r.Widths, tape.Width{Wide: tape.Millimetres(x)})
				}
				return err
			})
		},
		func() error {
			return q.each("Counter at a time since 000, as 10:00=174", func(s string) error {
				x, err := parseCount(s)
				if err == nil {
					r.Counts = append(r.Counts, x)
				}
				return err
			})
		},
		func() error {
			return q.ask("The whole side by the watch, leader to leader, as 46:12", func(s string) (err error) {
				r.Side, err = planner.ParseTime(s, time.Minute)
				return err
			})
		},
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// figureJSON is a figure with how far off it may be, 19 times in 20.
type measuredJSON struct {
	Name           string         `json:"name,omitempty"`
	SideS          float64        `json:"side_s"`
	LengthM        float64        `json:"length_m"`
	LengthWithinM  float64        `json:"length_within_m"`
	LengthFrom     string         `json:"length_from"`
	LengthTimed    bool           `json:"length_timed"`
	ThicknessUM    float64        `json:"thickness_um"`
	ThickWithinUM  float64        `json:"thickness_within_um"`
	ThicknessFrom  string         `json:"thickness_from"`
	ThicknessKnown bool           `json:"thickness_measured"`
	HubMM          float64        `json:"hub_radius_mm"`
	HubWithinMM    float64        `json:"hub_within_mm"`
	HubFrom        string         `json:"hub_from"`
	FullMM         float64        `json:"full_radius_mm,omitempty"`
	Ratio          float64        `json:"counter_ratio,omitempty"`
	RatioWithin    float64        `json:"counter_ratio_within,omitempty"`
	Estimates      []estimateJSON `json:"estimates"`
	Ask            []string       `json:"ask"`
}

type estimateJSON struct {
	ThicknessUM float64 `json:"thickness_um"`
	WithinUM    float64 `json:"within_um"`
	From        string  `json:"from"`
	TellsFifth  bool    `json:"tells_a_fifth_apart"`
}

func measuredOf(m tape.Measured) measuredJSON {
	j := measuredJSON{
		Name: m.Tape.Name, SideS: round(m.Tape.Side.Seconds(), 1),
		LengthM: round(float64(m.Length.Value), 2), LengthWithinM: round(float64(m.Length.Within), 2), LengthFrom: m.Length.By, LengthTimed: m.Timed,
		ThicknessUM: round(float64(m.Thickness.Value), 2), ThickWithinUM: round(float64(m.Thickness.Within), 2), ThicknessFrom: m.Thickness.By, ThicknessKnown: m.Weighed,
		HubMM: round(float64(m.Hub.Value), 2), HubWithinMM: round(float64(m.Hub.Within), 2), HubFrom: m.Hub.By,
		Ratio: round(m.Ratio.Value, 4), RatioWithin: round(m.Ratio.Within, 4),
		Estimates: []estimateJSON{}, Ask: append([]string{}, m.Ask...),
	}
	if m.Tape.Length > 0 {
		j.FullMM = round(float64(m.Tape.FullRadius()), 2)
	}
	for _, e := range m.Estimates {
		j.Estimates = append(j.Estimates, estimateJSON{round(float64(e.Value), 2), round(float64(e.Within), 2), e.By, e.TellsFifth})
	}
	return j
}

// showMeasured prints what was found. The sign +- is written in two letters,
// which every terminal and pipe has.
func (a *app) showMeasured(m tape.Measured) {
	row := func(what, format string, args ...any) {
		a.wrap(a.paint(faint, pad(what, 11)), 12, fmt.Sprintf(format, args...))
	}
	name := m.Tape.Name
	if name == "" {
		name = "A tape without a name"
	}
	fmt.Fprintln(a.out, a.paint(strong, name)+"  (+- is how far off a figure may be, 19 times in 20)")
	if m.Length.Value > 0 {
		row("length", "%.1f m +- %.1f, %s at nominal speed: by %s", float64(m.Length.Value), float64(m.Length.Within), planner.Clock(m.Tape.Side), m.Length.By)
	}
	if m.Thickness.Value > 0 {
		row("thickness", "%.1f um +- %.1f: by %s", float64(m.Thickness.Value), float64(m.Thickness.Within), m.Thickness.By)
	}
	row("hub", "radius %.1f mm +- %.1f: %s", float64(m.Hub.Value), float64(m.Hub.Within), m.Hub.By)
	if m.Tape.Length > 0 && m.Tape.Thickness > 0 {
		row("full pack", "radius %.1f mm", float64(m.Tape.FullRadius()))
	}
	if m.Ratio.Value > 0 {
		row("counter", "%.3f counts a turn +- %.3f: by %s", m.Ratio.Value, m.Ratio.Within, m.Ratio.By)
	}
	if len(m.Estimates) > 1 {
		fmt.Fprintln(a.out, "\nThe other readings agree:")
		for _, e := range m.Estimates[1:] {
			a.wrap("  -", 4, fmt.Sprintf("%.1f um +- %.1f by %s", float64(e.Value), float64(e.Within), e.By))
		}
	}
	for _, e := range m.Estimates {
		if !e.TellsFifth {
			a.wrap("  -", 4, fmt.Sprintf("%s cannot tell two tapes a fifth apart in thickness from each other", e.By))
		}
	}
	if len(m.Ask) > 0 {
		fmt.Fprintln(a.out, "\nTo be surer:")
		for _, s := range m.Ask {
			a.wrap("  -", 4, s)
		}
	}
}
