package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/media/verify"
	"longside/planner"
	"longside/planner/report"
	"longside/planner/tape"
)

// verifyFlags are what is known of a capture.
type verifyFlags struct {
	tape       string
	at         time.Duration
	deck       string
	recordedOn string
	plan       string
	of         string
	changed    bool
	asJSON     bool
	out        string
	page       string
	dpi        float64
	force      bool
	fonts      fontFlags
}

// newVerify is the command that measures what a deck plays back.
func newVerify(a *app) *cobra.Command {
	f := verifyFlags{recordedOn: "this", page: "A4", dpi: 150}
	c := &cobra.Command{
		Use:   "verify CAPTURE",
		Short: "Measure deck and tape by what comes back",
		Long: `Measure what a deck plays back. CAPTURE is a sound file of its output.

"longside tones --test" makes a test programme and tells how to record and
capture it. verify finds it in the capture, at whatever level, speed and start,
and gives speed, flutter, response, the level of 3 % distortion, noise,
crosstalk, azimuth, drop-outs and echo, each with its uncertainty (95 in 100)
and the published limit. A deck that plays its own recording cancels its own
mean speed; --recorded-on says when another deck or a test tape was used.

With --plan and --of the capture is laid against a side that was recorded: is
each track there and whole, where does it begin, what dropped out? Exit status
0: it is all there, 1: it is not, 2: it is no capture of this side.`,
		Example: `  longside verify take.wav --tape C90 --at 0:00
  longside verify take.flac --deck galley.toml --json
  longside verify side-a.wav --plan crossing --of 1A`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("which capture? name one sound file; see %q", c.CommandPath()+" --help")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if (f.plan == "") != (f.of == "") {
				return errors.New("--plan and --of go together: --plan crossing --of 1A")
			}
			if f.plan == "" {
				return a.verifyTest(c.Context(), args[0], f)
			}
			for _, name := range []string{"tape", "at", "deck", "recorded-on", "output"} {
				if c.Flags().Changed(name) {
					return fmt.Errorf("--%s is for the test: with --plan the plan knows", name)
				}
			}
			return a.verifySide(c.Context(), args[0], f)
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.tape, "tape", "", "the tape, as C90: names what turns, and where its echo lies")
	fl.Var(timeValue{&f.at, time.Minute}, "at", "where on the side the test begins, at nominal speed")
	fl.StringVar(&f.deck, "deck", "", "the deck's profile, a `FILE` that longside deck makes")
	fl.Var(oneOf(&f.recordedOn, "this", "other", "test-tape"), "recorded-on", "the deck that recorded")
	fl.StringVar(&f.plan, "plan", "", "plan.json, or the folder that holds it: lay the capture against it")
	fl.StringVar(&f.of, "of", "", "which side of the plan, as 1A or B")
	fl.BoolVar(&f.changed, "changed", false, "go on though files changed since the plan was made")
	fl.StringVarP(&f.out, "output", "o", "", "draw the test's page with its curves to a `FILE`: .pdf, .svg or .png")
	fl.Var(oneOf(&f.page, "A4", "Letter"), "page", "paper size")
	f.fonts.add(fl)
	fl.Float64Var(&f.dpi, "dpi", f.dpi, "dots an inch of a PNG")
	fl.BoolVar(&f.force, "force", false, "replace files that exist")
	fl.BoolVar(&f.asJSON, "json", false, "answer as JSON")
	c.RegisterFlagCompletionFunc("deck", cobra.FixedCompletions([]string{"toml"}, cobra.ShellCompDirectiveFilterFileExt))
	c.RegisterFlagCompletionFunc("tape", completeTapes)
	return c
}

// terms is what the flags say of tape and deck.
func (f verifyFlags) terms() (planner.TestTerms, error) {
	t := planner.TestTerms{At: f.at, Other: f.recordedOn != "this"}
	if f.tape != "" {
		named, err := tape.Named(f.tape)
		if err != nil {
			return t, fmt.Errorf("--tape: %w", err)
		}
		if f.at < 0 || f.at+verify.Length() > named.Side {
			return t, fmt.Errorf("--at %s: the test does not fit there on a side of %s", planner.Clock(f.at), planner.Clock(named.Side))
		}
		t.Tape = &named
	}
	if f.deck != "" {
		d, err := loadDeck(f.deck)
		if err != nil {
			return t, err
		}
		t.Heads = d.Heads
	}
	return t, nil
}

// measured is the answer as JSON: the findings, and what they mean.
type measured struct {
	Capture string `json:"capture"`
	verify.Findings
	Judged []planner.Judged `json:"judged"`
}

// testOf finds and measures the test in a capture.
func (a *app) testOf(ctx context.Context, path string) (verify.Findings, error) {
	capture, err := verify.File(path)
	if err != nil {
		return verify.Findings{}, fmt.Errorf("%s: %w", path, err)
	}
	step, end := a.progress("measuring, in per cent")
	defer end()
	f, err := verify.Test(ctx, capture, func(done, total float64) { step(int(100*done/total), 100) })
	if errors.Is(err, context.Canceled) {
		return f, err
	}
	if err != nil {
		return f, fmt.Errorf("%s: %w", path, err)
	}
	return f, nil
}

func (a *app) verifyTest(ctx context.Context, path string, f verifyFlags) error {
	terms, err := f.terms()
	if err != nil {
		return err
	}
	if f.out != "" { // before a minute's work
		switch strings.ToLower(filepath.Ext(f.out)) {
		case ".pdf", ".svg", ".png":
		default:
			return fmt.Errorf("-o %s: writes to a name that ends in .pdf, .svg or .png", f.out)
		}
		if err := a.vacant(ctx, f.force, f.out); err != nil {
			return err
		}
	}
	found, err := a.testOf(ctx, path)
	if err != nil {
		return err
	}
	judged := planner.JudgeTest(found, terms)
	drawn, err := f.draw(path, found, judged)
	if err != nil {
		return err
	}
	if err := a.writeAll(ctx, drawn, false, f.force); err != nil {
		return err
	}
	if f.asJSON {
		return a.printJSON(measured{path, found, judged})
	}
	a.showTest(path, found, judged)
	if drawn != nil {
		fmt.Fprintln(a.out)
		a.showDrawn(drawn)
	}
	return nil
}

// draw is the page, where one is asked for.
func (f verifyFlags) draw(path string, found verify.Findings, judged []planner.Judged) ([]output, error) {
	if f.out == "" {
		return nil, nil
	}
	fonts, err := f.fonts.load()
	if err != nil {
		return nil, err
	}
	of := plain(filepath.Base(path))
	if f.tape != "" {
		of += ", " + f.tape
	}
	doc, err := report.Draw(found, judged, report.Options{Of: of, Page: f.page, Language: f.fonts.lang}, fonts)
	if err != nil {
		return nil, err
	}
	return drawnAs(doc, f.out, f.dpi)
}

// showTest prints the findings, a figure a paragraph.
func (a *app) showTest(path string, f verify.Findings, judged []planner.Judged) {
	polarity := map[string]string{"kept": "polarity kept", "inverted": "polarity inverted", "unclear": "polarity unclear"}[f.Polarity]
	a.wrap(a.paint(strong, plain(path)), columns(plain(path))+1, fmt.Sprintf("the test begins at %s, 0 dB is %.1f dBFS, %s", planner.Clock(secondsOf(f.StartS)), f.ZeroDBFS[0], polarity))
	const label = 25
	row := func(st style, what, text string) {
		a.wrap(a.paint(st, pad(what, label-1)), label, text)
	}
	for _, j := range judged {
		row(strong, j.What, j.Says)
		if j.Limit != "" {
			text, st := j.Limit, faint
			if j.Source != "" {
				text += " (" + j.Source + ")"
			}
			if j.Keeps != nil {
				st = good
				word := "kept: "
				if !*j.Keeps {
					st, word = danger, "not kept: "
				}
				text = word + text
			}
			row(st, "", a.paint(st, text))
		}
		if j.Advice != "" {
			row(faint, "", j.Advice)
		}
	}
	for _, n := range f.Notes {
		a.wrap(a.paint(care, "note:"), 6, n)
	}
	a.hang("Each ± holds in 95 of 100 takes. The sound card's own response and noise are in all of it.")
}

// secondsOf is a number of seconds as a time.
func secondsOf(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
