package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/planner"
	"longside/planner/tape"
)

// tapeFlags are what is known of a tape besides its name.
type tapeFlags struct {
	at        time.Duration
	side      time.Duration
	thickness float64 // um
	hub       float64 // mm
	ratio     float64
	thin      float64 // mm
	thinRatio float64
	deck      string
	out       string
	dpi       float64
	force     bool
	asJSON    bool
}

// newTape is the command that tells of a tape as a physical thing.
func newTape(a *app) *cobra.Command {
	f := tapeFlags{ratio: tape.DefaultCounterRatio, thin: float64(tape.ThinTailRadius), thinRatio: tape.ThinTailRatio, dpi: 200}
	c := &cobra.Command{
		Use:   "tape [NAME]",
		Short: "Tell what a tape is: length, thickness, pack, counter, echo, trust",
		Long: `Tell what a tape is as a physical thing: how long and thick, how large its
pack winds, what the counter shows at its end, how far an echo lies, and how
far a long thin tape can be trusted. Without a name, list the usual lengths.

-o draws both packs at a moment of the side, at their own size.
"longside tape measure" finds length and thickness of the tape in your hand.`,
		Example: `  longside tape C120
  longside tape C90 --thickness 11.2 --at 20:00 -o pack.pdf`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, names []string) error {
			if len(names) == 0 {
				if f.out != "" {
					return fmt.Errorf("-o %s: which tape? name it, as in longside tape C90 -o %s", f.out, f.out)
				}
				return a.listTapes(f)
			}
			return a.tellTape(c, f, names[0])
		},
		ValidArgsFunction: completeTapes,
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.Var(timeValue{&f.at, time.Minute}, "at", "the moment to show, from the start of the side at nominal speed (default: its middle)")
	fl.Var(timeValue{&f.side, time.Minute}, "side", "a side timed leader to leader at nominal speed, as 46:12")
	fl.Float64Var(&f.thickness, "thickness", 0, "measured thickness of the tape in `UM` (micrometres)")
	fl.Float64Var(&f.hub, "hub", 0, "measured radius of the empty hub in `MM`")
	fl.Float64Var(&f.ratio, "counter-ratio", f.ratio, "`COUNTS` for one turn of the take-up hub")
	fl.Float64Var(&f.thin, "thin-radius", f.thin, "the end of thin tape begins where the supply pack is under `MM`")
	fl.Float64Var(&f.thinRatio, "thin-ratio", f.thinRatio, "and the take-up pack is `TIMES` as large")
	fl.StringVar(&f.deck, "deck", "", "the deck's profile, a `FILE` that longside deck makes")
	fl.StringVarP(&f.out, "output", "o", "", "draw the packs to a `FILE`: .svg, .png or .pdf")
	fl.Float64Var(&f.dpi, "dpi", f.dpi, "`DOTS` per inch of a .png")
	fl.BoolVar(&f.force, "force", false, "replace a file that exists")
	fl.BoolVar(&f.asJSON, "json", false, "answer as JSON")
	c.RegisterFlagCompletionFunc("deck", cobra.FixedCompletions([]string{"toml"}, cobra.ShellCompDirectiveFilterFileExt))
	c.AddCommand(newMeasure(a))
	return c
}

// tapeCard is the answer as JSON; fields may be added, none changes its meaning.
type tapeCard struct {
	Name            string   `json:"name"`
	MinutesPerSide  float64  `json:"minutes_per_side"`
	LengthM         float64  `json:"length_m"`
	ThicknessUM     float64  `json:"thickness_um"`
	ThinnestUM      float64  `json:"thinnest_in_print_um"`
	ThickestUM      float64  `json:"thickest_in_print_um"`
	ThicknessSource string   `json:"thickness_source"`
	HubMM           float64  `json:"hub_radius_mm"`
	FullMM          float64  `json:"full_radius_mm"`
	Turns           float64  `json:"turns"`
	CounterRatio    float64  `json:"counter_ratio"`
	CounterFull     *float64 `json:"counter_full"` // null: the deck counts time
	EchoHubS        float64  `json:"echo_hub_s"`
	EchoFullS       float64  `json:"echo_full_s"`
	PrintHz         float64  `json:"print_hz"`
	ThinFromS       *float64 `json:"thin_from_s"` // null: no thin end
	ThinUnderMM     float64  `json:"thin_under_mm"`

	At     tapeMoment  `json:"at"`
	Trust  string      `json:"trust"`
	Doubts []tapeDoubt `json:"doubts"`
}

type tapeMoment struct {
	AtS           float64  `json:"at_s"`
	SupplyMM      float64  `json:"supply_radius_mm"`
	TakeUpMM      float64  `json:"takeup_radius_mm"`
	SupplyLayerMM float64  `json:"supply_layer_mm"` // length of the outermost turn
	TakeUpLayerMM float64  `json:"takeup_layer_mm"`
	SupplyLayers  float64  `json:"supply_layers"` // turns on the hub
	TakeUpLayers  float64  `json:"takeup_layers"`
	SupplyRPM     float64  `json:"supply_turns_a_minute"`
	TakeUpRPM     float64  `json:"takeup_turns_a_minute"`
	Counter       *float64 `json:"counter"`
}

type tapeDoubt struct {
	Risk    string   `json:"risk"`
	Likely  string   `json:"likely"`
	Because []string `json:"because"`
	But     []string `json:"but,omitempty"` // what speaks against it
	Do      []string `json:"do"`
}

// round keeps n decimals, so that no digit is printed that means nothing.
func round(x float64, n int) float64 {
	p := math.Pow10(n)
	return math.Round(x*p) / p
}

func cardOf(t tape.Tape, at time.Duration, d tape.Deck, ratio float64, tail tape.Zone) tapeCard {
	from, to := t.ThicknessRange()
	s, u := t.SupplyWind(at), t.TakeUpWind(at)
	c := tapeCard{
		Name: t.Name, MinutesPerSide: round(t.Side.Minutes(), 3), LengthM: round(float64(t.Length), 2),
		ThicknessUM: round(float64(t.Thickness), 2), ThinnestUM: float64(from), ThickestUM: float64(to), ThicknessSource: t.ThicknessSource(),
		HubMM: round(float64(t.Hub), 2), FullMM: round(float64(t.FullRadius()), 2), Turns: round(t.Turns(), 1),
		CounterRatio: ratio, EchoHubS: round(tape.TurnTime(t.Hub).Seconds(), 2), EchoFullS: round(tape.TurnTime(t.FullRadius()).Seconds(), 2),
		PrintHz: round(t.PrintFrequency(), 0),
		At: tapeMoment{AtS: round(at.Seconds(), 3), SupplyMM: round(float64(s.Radius), 2), TakeUpMM: round(float64(u.Radius), 2),
			SupplyLayerMM: round(float64(s.Layer), 1), TakeUpLayerMM: round(float64(u.Layer), 1),
			SupplyLayers: round(s.Layers, 1), TakeUpLayers: round(u.Layers, 1),
			SupplyRPM: round(s.RPM, 1), TakeUpRPM: round(u.RPM, 1)},
	}
	if ratio > 0 {
		full, now := round(t.Counter(t.Side, ratio), 1), round(t.Counter(at, ratio), 1)
		c.CounterFull, c.At.Counter = &full, &now
	}
	if !tail.Empty() {
		x := round(tail.From.Seconds(), 1)
		c.ThinFromS = &x
	}
	trust := tape.Judge(tape.Facts{Tape: t, Deck: d})
	c.Trust, c.Doubts = trust.Word(), doubtsOf(trust)
	return c
}

func doubtsOf(t tape.Trust) []tapeDoubt {
	all := []tapeDoubt{}
	for _, x := range t.Doubts {
		all = append(all, tapeDoubt{string(x.Risk), x.Likely.String(), x.Because, x.But, x.Do})
	}
	return all
}

// known is the tape of a name with what the flags say of it, and the deck.
func (f tapeFlags) known(c *cobra.Command, name string) (tape.Tape, tape.Deck, float64, error) {
	var d tape.Deck
	t, err := tape.Named(name)
	if err != nil {
		return t, d, 0, err
	}
	set := c.Flags().Changed
	if set("side") {
		t = t.OfSide(f.side)
	}
	if set("thickness") {
		t.Thickness = tape.Micrometres(f.thickness)
	}
	if set("hub") {
		t.Hub = tape.Millimetres(f.hub)
	}
	if err := t.Check(); err != nil {
		return t, d, 0, err
	}
	ratio := f.ratio
	if f.deck != "" {
		if d, err = loadDeck(f.deck); err != nil {
			return t, d, 0, err
		}
		if !set("counter-ratio") {
			ratio, _ = d.CounterRatio()
		}
	}
	if !(ratio >= 0 && ratio <= 10) {
		return t, d, 0, fmt.Errorf("--counter-ratio %g: a counter makes about half a count a turn, never more than 10; 0: the deck counts time", ratio)
	}
	if !(f.dpi >= 20 && f.dpi <= 1200) {
		return t, d, 0, fmt.Errorf("--dpi %g: give 20 to 1200", f.dpi)
	}
	return t, d, ratio, nil
}

// tail is the thin end by the flags: on tape thin enough to have one.
func (f tapeFlags) tail(t tape.Tape) (tape.Zone, error) {
	if !(f.thin > 0 && f.thin <= 30) {
		return tape.Zone{}, fmt.Errorf("--thin-radius %g: a pack is between its hub, 11 mm, and about 25 mm", f.thin)
	}
	if !(f.thinRatio >= 0 && f.thinRatio <= 5) {
		return tape.Zone{}, fmt.Errorf("--thin-ratio %g: the packs differ by up to 2.3 times; 0 asks nothing", f.thinRatio)
	}
	if t.Thickness >= tape.NoteThinner {
		return tape.Zone{}, nil
	}
	return t.Tail(tape.Millimetres(f.thin), f.thinRatio), nil
}

// tapeView is a tape at a moment, with its thin end.
type tapeView struct {
	tape tape.Tape
	at   time.Duration
	tail tape.Zone
	thin tape.Millimetres // radius that the thin end goes by
}

func (a *app) tellTape(c *cobra.Command, f tapeFlags, name string) error {
	t, d, ratio, err := f.known(c, name)
	if err != nil {
		return err
	}
	at := t.Side / 2
	if c.Flags().Changed("at") {
		if at = f.at; at < 0 || at > t.Side {
			return fmt.Errorf("--at %s: a side of this tape runs from 0:00 to %s", planner.Clock(at), planner.Clock(t.Side))
		}
	}
	tail, err := f.tail(t)
	if err != nil {
		return err
	}
	card := cardOf(t, at, d, ratio, tail)
	card.ThinUnderMM = f.thin
	if f.out != "" {
		data, err := drawTape(tapeView{t, at, tail, tape.Millimetres(f.thin)}, f.out, f.dpi)
		if err != nil {
			return err
		}
		if err := a.writeAll(c.Context(), []output{{f.out, data}}, false, f.force); err != nil {
			return err
		}
	}
	if f.asJSON {
		return a.printJSON(card)
	}
	a.showTape(tapeView{t, at, tail, tape.Millimetres(f.thin)}, card, c.Flags().Changed("counter-ratio") || d.Ratio > 0)
	if f.out != "" {
		fmt.Fprintf(a.out, "\n%s  both packs at %s, at their own size\n", f.out, planner.Clock(at))
	}
	return nil
}

// showTape prints a tape's card.
func (a *app) showTape(v tapeView, c tapeCard, ratioKnown bool) {
	t, at := v.tape, v.at
	row := func(what, format string, args ...any) {
		a.wrap(a.paint(faint, pad(what, 15)), 16, fmt.Sprintf(format, args...))
	}
	fmt.Fprintln(a.out, a.paint(strong, c.Name)+fmt.Sprintf("  a side of %s", planner.Clock(t.Side)))
	row("length", "%.1f m", c.LengthM)
	how := c.ThicknessSource
	if c.ThinnestUM != c.ThickestUM {
		how += fmt.Sprintf("; in print: %g to %g um", c.ThinnestUM, c.ThickestUM)
	}
	row("thickness", "%g um (%s)", c.ThicknessUM, how)
	row("full pack", "radius %.2f mm on a hub of %.2f mm radius", c.FullMM, c.HubMM)
	row("turns", "%.0f a side, the same for both hubs", c.Turns)
	switch {
	case c.CounterFull == nil:
		row("counter", "the deck counts time")
	case ratioKnown:
		row("counter", "%.0f at the end of a side, at %g counts a turn", *c.CounterFull, c.CounterRatio)
	default:
		row("counter", "about %.0f at the end of a side, at %g counts a turn (from memory, unverified; longside deck learns yours)", *c.CounterFull, c.CounterRatio)
	}
	row("one turn", "%.2f s at the hub, %.2f s at the full pack: so far an echo lies", c.EchoHubS, c.EchoFullS)
	row("print-through", "worst at %.0f Hz", c.PrintHz)
	if z := v.tail; !z.Empty() {
		source := ""
		if v.thin == tape.ThinTailRadius {
			source = " (common practice, no source)"
		}
		row("thin end", "from %s, the last %s of a side: the supply pack is under %g mm%s", planner.Clock(z.From), planner.Clock(z.To-z.From), float64(v.thin), source)
	}
	fmt.Fprintln(a.out)
	if a.drawn {
		for _, line := range packsInText(t, at, min(a.width, 80)-2) {
			fmt.Fprintln(a.out, " "+a.paint(sideInk, line))
		}
	}
	count := ""
	if c.At.Counter != nil {
		count = fmt.Sprintf(", counter %.0f", *c.At.Counter)
	}
	row("at "+planner.Clock(at), "supply pack %.1f mm, %.0f turns a minute; take-up pack %.1f mm, %.0f; outer layers %.0f and %.0f mm long%s", c.At.SupplyMM, c.At.SupplyRPM, c.At.TakeUpMM, c.At.TakeUpRPM, c.At.SupplyLayerMM, c.At.TakeUpLayerMM, count)
	fmt.Fprintln(a.out)
	a.showTrust(c.Trust, c.Doubts)
}

// showTrust prints the judgement: a line a risk, what speaks for it and what helps.
func (a *app) showTrust(word string, doubts []tapeDoubt) {
	st := map[string]style{"good": good, "fair": care, "careful": danger}[word]
	says := map[string]string{
		"good":    "nothing known speaks against it",
		"fair":    "use it with care",
		"careful": "only for what may be lost, or not at all",
	}[word]
	fmt.Fprintf(a.out, "Trust: %s (%s)\n", a.paint(st, word), says)
	seen := map[string]bool{}
	for _, d := range doubts {
		because := strings.Join(d.Because, "; ")
		if seen[because] && len(d.Because) > 0 {
			because = "for the same reason"
			if len(d.Because) > 1 {
				because = "for the same reasons"
			}
		}
		seen[strings.Join(d.Because, "; ")] = true
		if len(d.But) > 0 {
			because += "; but " + strings.Join(d.But, ", and ")
		}
		a.item("  ", a.paint(strong, d.Risk)+",", len(d.Risk)+1, d.Likely+": "+because)
		for _, do := range d.Do {
			a.wrap("     -", 7, do)
		}
	}
}

// item prints a head and a sentence behind it, the lines that follow set in by four.
func (a *app) item(indent, head string, headWidth int, text string) {
	first := head + " "
	room := a.width - 1 - len(indent)
	line, used := "", headWidth+1
	for _, w := range strings.Fields(text) {
		if line != "" && used+columns(line)+1+columns(w) > room {
			fmt.Fprintln(a.out, indent+first+line)
			indent, first, line, used = "    ", "", "", 0
			room = a.width - 1 - len(indent)
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	fmt.Fprintln(a.out, indent+first+line)
}

// listTapes prints the usual lengths, a row each.
func (a *app) listTapes(f tapeFlags) error {
	if !(f.ratio > 0 && f.ratio <= 10) {
		return fmt.Errorf("--counter-ratio %g: a counter makes about half a count a turn, never more than 10", f.ratio)
	}
	cards := []tapeCard{}
	for _, t := range tape.Standard() {
		cards = append(cards, cardOf(t, t.Side/2, tape.Deck{}, f.ratio, t.ThinTail()))
	}
	if f.asJSON {
		return a.printJSON(map[string][]tapeCard{"tapes": cards})
	}
	fmt.Fprintln(a.out, a.paint(faint, "name   a side    length    thick   full pack  turns  counter   echo s      print"))
	for _, c := range cards {
		mark := " "
		if c.ThicknessSource == tape.Remembered {
			mark = "*"
		}
		fmt.Fprintf(a.out, "%-5s %7s  %6.1f m  %4g um%s  %6.2f mm  %5.0f  %7.0f  %4.2f-%4.2f  %4.0f Hz\n",
			c.Name, planner.Clock(time.Duration(c.MinutesPerSide*float64(time.Minute))), c.LengthM, c.ThicknessUM, mark, c.FullMM, c.Turns, *c.CounterFull, c.EchoHubS, c.EchoFullS, c.PrintHz)
	}
	a.wrap("*", 2, fmt.Sprintf("from memory, unverified. Lengths are nominal; the counter is at %g counts a turn. longside tape NAME says more.", f.ratio))
	return nil
}
