package main

import (
	"github.com/spf13/cobra"

	"longside/planner"
)

// newCheck is the command that answers whether a list fits a tape.
func newCheck(a *app) *cobra.Command {
	var f requestFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "check SOURCES... --tape NAME",
		Short: "Say whether the tracks fit the tape, and what would help",
		Long: `Say whether the tracks fit the sides of a tape, by how much, and when they do
not: the fewest tracks to leave out and the shortest tape that holds them all.

A source is a folder, an audio file, or a typed list (CSV with the header
length,artist,title, or lines "m:ss  Artist - Title"; - reads it from standard
input), so that records and radio shows can be planned, too. Lines of a list
that begin with # and a space are left out.

Exit status: 0 it fits, 1 it does not, 2 something was wrong.`,
		Example: `  longside check ~/music/crossing --tape C90
  longside check records.csv --tape C60 --order free --json`,
		Args: someSources,
		RunE: func(c *cobra.Command, sources []string) error {
			r, err := a.request(c, &f, sources)
			if err != nil {
				return err
			}
			p, err := planned(c.Context(), r, f.think)
			if err != nil {
				return err
			}
			if asJSON {
				err = a.printPlan(p)
			} else {
				a.showSides(p, true)
				a.showAnswer(p)
			}
			if err == nil {
				err = c.Context().Err() // what was shown is the best so far
			}
			if err == nil && !recordable(p) {
				err = errNo
			}
			return err
		},
	}
	s := f.add(c)
	fl := s.under("Answering")
	fl.StringVar(&f.req.Mix.Title, "title", "", "`NAME` of the tape (default: the album, the folder or the list)")
	fl.BoolVar(&asJSON, "json", false, "answer as JSON, in the form of the plan file")
	f.complete(s)
	return c
}

// recordable says that everything has a place and nothing says stop.
func recordable(p planner.Plan) bool {
	for _, w := range p.Warnings {
		if w.Severity == planner.Stop {
			return false
		}
	}
	return p.Fits
}
