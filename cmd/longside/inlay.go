package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"longside/planner/inlay"
)

// newInlay is the command that draws the card again, another way.
func newInlay(a *app) *cobra.Command {
	var (
		o            inlay.Options
		ff           fontFlags
		out, picture string
		title, note  string
		parts        []string
		dpi          float64
		folds        int
		force        bool
	)
	o.Page = "A4"
	c := &cobra.Command{
		Use:   "inlay PLAN",
		Short: "Draw the card, shell labels or a spine strip from a plan",
		Long: `Draw the card from a plan.json, or from the folder that holds it.

The ending of -o chooses PDF, SVG or PNG. Designs: wound (the tape's pack, each
track a ring), line (both sides as one strip, the flip at its turn), plain
(type only, for long lists), ruled (lines to write the titles on by hand), auto
(the first of wound, line and plain that prints every title whole). Fold-out
panels are added as the list needs them. The cards of a set are numbered on one
scale of shades, and the part "box" is a label for their box. A picture over the
panel takes the whole front, the title on it where it can be read.`,
		Example: `  longside inlay crossing --design line --ink rust --stock dawn -o card.pdf
  longside inlay crossing --part labels,spine --page Letter -o labels.pdf
  longside inlay crossing --picture deck.jpg --picture-over panel -o card.pdf`,
		Args: onePlan,
		RunE: func(c *cobra.Command, args []string) error {
			switch strings.ToLower(filepath.Ext(out)) {
			case ".pdf", ".svg", ".png":
			default:
				return fmt.Errorf("-o %s: draws to a name that ends in .pdf, .svg or .png", out)
			}
			p, err := loadPlan(args[0])
			if err != nil {
				return err
			}
			if c.Flags().Changed("title") {
				p.Title = title
			}
			if c.Flags().Changed("note") {
				p.Note = note
			}
			if picture != "" {
				if o.Picture, err = readPicture(picture); err != nil {
					return err
				}
			}
			f, err := ff.load()
			if err != nil {
				return err
			}
			for i := range parts {
				parts[i] = strings.ToLower(strings.TrimSpace(parts[i]))
			}
			o.Parts, o.Language = parts, ff.lang
			switch o.Folds = folds; {
			case folds < 0 || folds > inlay.MostFolds:
				return fmt.Errorf("--folds %d: give 0 to %d", folds, inlay.MostFolds)
			case folds == 0:
				o.Folds = -1 // none; 0 stands for the default
			}
			doc, notes, err := inlay.Draw(p, o, f)
			if err != nil {
				return err
			}
			files, err := drawnAs(doc, out, dpi)
			if err != nil {
				return err
			}
			if err := a.writeAll(c.Context(), files, false, force); err != nil {
				return err
			}
			a.remarks(filepath.Base(out), cardWords(notes))
			a.showDrawn(files)
			return nil
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVarP(&out, "output", "o", cardName, "file to write; .pdf, .svg or .png")
	fl.StringSliceVar(&parts, "part", nil, "what to draw: card, labels, spine, box (default card)")
	o.Design, o.Ink, o.Stock = inlay.Designs[0], inlay.Inks()[0], inlay.Stocks()[0]
	fl.Var(oneOf(&o.Design, inlay.Designs...), "design", "what the card shows")
	fl.Var(oneOf(&o.Ink, inlay.Inks()...), "ink", "colour of type and picture")
	fl.Var(oneOf(&o.Stock, inlay.Stocks()...), "stock", "tint of the card; bare prints none")
	fl.StringVar(&picture, "picture", "", "your own JPEG or PNG on the front, in place of the design's picture")
	o.PictureOver = inlay.PicturePlaces[0]
	fl.Var(oneOf(&o.PictureOver, inlay.PicturePlaces...), "picture-over", "the design's place, or the whole front panel")
	fl.BoolVar(&o.Duplex, "duplex", false, "print the list on both sides")
	fl.IntVar(&folds, "folds", inlay.DefaultFolds, "most fold-out panels, 0 to 8")
	fl.StringVar(&title, "title", "", "another title than the plan's")
	fl.StringVar(&note, "note", "", "another line under the title")
	fl.Var(oneOf(&o.Page, "A4", "Letter"), "page", "paper size")
	ff.add(fl)
	for _, l := range []struct {
		v     *float64
		name  string
		def   float64
		about string
	}{
		{&o.Front, "front", inlay.DefaultFront, "width of the front panel, mm"},
		{&o.Spine, "spine", inlay.DefaultSpine, "width of the spine, mm"},
		{&o.Flap, "flap", inlay.DefaultFlap, "width of the flap, mm (from memory, unverified)"},
		{&o.Height, "height", inlay.DefaultHeight, "height of the card, mm"},
		{&o.Fold, "fold", inlay.DefaultFold, "width of a fold-out panel, mm"},
		{&o.LabelWidth, "label-width", inlay.DefaultLabelWidth, "shell label, mm (from memory, unverified, as the next three)"},
		{&o.LabelHeight, "label-height", inlay.DefaultLabelHeight, "shell label, mm"},
		{&o.WindowWidth, "window-width", inlay.DefaultWindowWidth, "window in the label, mm"},
		{&o.WindowHeight, "window-height", inlay.DefaultWindowHeight, "window in the label, mm"},
		{&o.BoxWidth, "box-width", inlay.DefaultBoxWidth, "label for the box of a set, mm"},
		{&o.BoxHeight, "box-height", inlay.DefaultBoxHeight, "label for the box of a set, mm"},
	} {
		fl.Float64Var(l.v, l.name, l.def, l.about)
	}
	fl.Float64Var(&dpi, "dpi", 300, "dots an inch of a PNG")
	fl.BoolVar(&force, "force", false, "replace files that exist")
	for name, words := range map[string][]string{"design": inlay.Designs, "ink": inlay.Inks(), "stock": inlay.Stocks(), "part": inlay.Parts, "picture-over": inlay.PicturePlaces, "page": {"A4", "Letter"}} {
		c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
	}
	return c
}

// onePlan asks for a plan.
func onePlan(c *cobra.Command, args []string) error {
	switch len(args) {
	case 0:
		return fmt.Errorf("which plan? name a plan.json or the folder that holds it; see %q", c.CommandPath()+" --help")
	case 1:
		return nil
	}
	return errors.New("one plan at a time: name one plan.json or folder")
}

// showDrawn says what was written.
func (a *app) showDrawn(files []output) {
	for _, f := range files {
		fmt.Fprintf(a.out, "wrote %s\n", plain(f.path))
	}
}
