package main

import (
	"github.com/spf13/cobra"

	"longside/fit"
	"longside/planner"
)

// newReplan is the command for the evening on which something went wrong.
func newReplan(a *app) *cobra.Command {
	var (
		order    fit.Order
		w        planWriting
		recorded planner.Recorded
	)
	c := &cobra.Command{
		Use:   "replan PLAN --recorded A:7 --out DIR",
		Short: "After a mishap, keep what is recorded and plan the rest anew",
		Long: `Keep what is on the tape and fit the rest to what is left of it.

PLAN is a plan.json, or the folder that holds it. --recorded says how far the
recording came: A is all of side A, A:7 its first seven tracks, 2B:3 the first
three of side B of the second tape; every side before it is taken as recorded.`,
		Example: `  longside replan crossing --recorded A --out crossing-again
  longside replan crossing --recorded A:7 --order free --out crossing-again`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := w.check(c.Context(), a); err != nil {
				return err
			}
			p, err := loadPlan(args[0])
			if err != nil {
				return err
			}
			var change func(*planner.Request)
			if c.Flags().Changed("order") {
				change = func(r *planner.Request) { r.Order = order }
			}
			q, err := planner.Replan(c.Context(), p, recorded, change)
			if err != nil {
				return err
			}
			return a.deliver(c.Context(), q, w)
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.Var(&parsedValue{kind: "side", set: func(s string) (err error) { recorded, err = planner.ParseRecorded(s); return }}, "recorded", "how far the recording came, as A, A:7 or 2B:3")
	fl.Var(among("", "keep|near|free", func(s string) (err error) { order, err = planner.ParseOrder(s); return }), "order", "another order for the rest")
	w.add(fl)
	c.MarkFlagDirname("out")
	c.MarkFlagRequired("recorded")
	return c
}
