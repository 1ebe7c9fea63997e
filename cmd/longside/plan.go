package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"longside/planner"
	"longside/planner/inlay"
	"longside/planner/sheet"
)

// The files that plan writes into its folder.
const (
	planName     = "plan.json"
	cardName     = "inlay.pdf"
	sheetName    = "sheet.pdf"
	sheetTxtName = "sheet.txt"
)

// planWriting says where a plan goes, and how.
type planWriting struct {
	out      string
	page     string
	asJSON   bool
	force    bool
	leaveOut bool
	fonts    fontFlags
}

func (w *planWriting) add(fl *pflag.FlagSet) {
	w.page = "A4"
	fl.StringVar(&w.out, "out", "", "`FOLDER` to write into; made when it does not exist")
	fl.Var(oneOf(&w.page, "A4", "Letter"), "page", "paper size")
	w.fonts.add(fl)
	fl.BoolVar(&w.leaveOut, "leave-out", false, "when not everything fits, write the best part that does")
	fl.BoolVar(&w.force, "force", false, "replace files that exist")
	fl.BoolVar(&w.asJSON, "json", false, "print the plan as JSON")
}

// check asks for what cannot be guessed, before anything is read.
func (w *planWriting) check(ctx context.Context, a *app) error {
	if w.out == "" {
		return errors.New("where to? name a folder to write into with --out")
	}
	var paths []string
	for _, name := range []string{planName, cardName, sheetName, sheetTxtName} {
		paths = append(paths, filepath.Join(w.out, name))
	}
	return a.vacant(ctx, w.force, paths...)
}

// newPlan is the command that does the main job: a plan, a card and a run sheet.
func newPlan(a *app) *cobra.Command {
	var f requestFlags
	var w planWriting
	c := &cobra.Command{
		Use:   "plan SOURCES... --tape NAME --out DIR",
		Short: "Plan the tape, and write the card and the run sheet",
		Long: `Fit the tracks to the sides of a tape and write what you take to the deck:
plan.json, inlay.pdf (the card to print), sheet.pdf and sheet.txt (the run
sheet to lay beside the deck).

When not everything fits nothing is written, unless --leave-out accepts the
best part that does.`,
		Example: `  longside plan ~/music/crossing --tape C90 --title Crossing --out crossing
  longside plan radio.csv --tape C60 --type II --nr B --order free --out radio`,
		Args: someSources,
		RunE: func(c *cobra.Command, sources []string) error {
			if err := w.check(c.Context(), a); err != nil {
				return err
			}
			r, err := a.request(c, &f, sources)
			if err != nil {
				return err
			}
			p, err := planned(c.Context(), r, f.think)
			if err != nil {
				return err
			}
			if err := a.deliver(c.Context(), p, w); err != nil || !f.shelf.use {
				return err
			}
			if err := f.shelf.book(c.Context(), shelfOf(c), p); err != nil {
				return fmt.Errorf("the plan is written, but not booked on the shelf: %w", err)
			}
			for _, t := range p.Tapes {
				fmt.Fprintf(a.err, "longside: tape %q is booked for %q\n", t.Label, p.Title)
			}
			return nil
		},
	}
	s := f.add(c)
	fl := s.under("Writing")
	fl.StringVar(&f.req.Mix.Title, "title", "", "`NAME` of the tape (default: the album, the folder or the list)")
	fl.StringVar(&f.req.Mix.Note, "note", "", "`LINE` for the card, as a date or a place")
	w.add(fl)
	f.complete(s)
	c.MarkFlagDirname("out")
	return c
}

// deliver writes a plan with its card and sheet, unless the answer is no, and
// says what there is to see.
func (a *app) deliver(ctx context.Context, p planner.Plan, w planWriting) error {
	if err := ctx.Err(); err != nil {
		// Stopped in the search: the best so far is worth a look, not a file.
		a.showSides(p, false)
		a.showAnswer(p)
		return err
	}
	accepted := p
	accepted.Fits = p.Fits || w.leaveOut
	ok := recordable(accepted)
	var files []output
	if ok {
		var err error
		if p, err = besidePlan(p, w.out); err != nil {
			return err
		}
		if files, err = a.planFiles(p, w); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := a.writeAll(ctx, files, true, w.force); err != nil {
			return err
		}
	}
	if w.asJSON {
		if err := a.printPlan(p); err != nil {
			return err
		}
	} else {
		a.showSides(p, false)
		a.showAnswer(p)
		a.showWritten(files, ok)
	}
	if !ok {
		return errNo
	}
	return nil
}

// planFiles draws everything that plan writes; nothing touches the disk yet.
func (a *app) planFiles(p planner.Plan, w planWriting) ([]output, error) {
	plan, err := planner.Encode(p)
	if err != nil {
		return nil, err
	}
	fonts, err := w.fonts.load()
	if err != nil {
		return nil, err
	}
	card, cardNotes, err := inlay.Draw(p, inlay.Options{Page: w.page, Language: w.fonts.lang}, fonts)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", cardName, err)
	}
	said := cardWords(cardNotes)
	a.remarks(cardName, said)
	cardPDF, err := card.PDF()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", cardName, err)
	}
	run, sheetNotes, err := sheet.Draw(p, sheet.Options{Page: w.page, Language: w.fonts.lang}, fonts)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", sheetName, err)
	}
	// What the card's notes said already is not said again.
	notes := slices.DeleteFunc(sheetWords(sheetNotes), func(n string) bool { return slices.Contains(said, n) })
	a.remarks(sheetName, notes)
	runPDF, err := run.PDF()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", sheetName, err)
	}
	return []output{
		{filepath.Join(w.out, planName), plan},
		{filepath.Join(w.out, cardName), cardPDF},
		{filepath.Join(w.out, sheetName), runPDF},
		{filepath.Join(w.out, sheetTxtName), []byte(sheet.Text(p, 80))},
	}, nil
}

// besidePlan makes the paths of a plan relative to the folder of its file, so
// that the folder with the music and the plan can be moved together.
func besidePlan(p planner.Plan, dir string) (planner.Plan, error) {
	base, err := filepath.Abs(dir)
	if err != nil {
		return p, err
	}
	return p.WithPaths(func(path string) string {
		abs, err := filepath.Abs(path)
		if err != nil {
			return path
		}
		rel, err := filepath.Rel(base, abs)
		if err != nil {
			return abs // another drive
		}
		return filepath.ToSlash(rel)
	}), nil
}
