// Package planner turns what a person wants to hear (a Mix), the tapes that may
// be used and the deck they are recorded on into a Plan: which track goes on
// which side, in what order and when, what is left out, and what to beware of.
//
// Make is the one call that plans; Suggest answers what would help when a mix
// does not fit, or fits badly; Lay lays what a person arranged by hand, at once
// and without solving; Encode and Decode are the plan file. The package
// takes values and returns values: it opens no file, asks no clock and prints
// nothing, so the same request always gives the same plan.
//
// All times are time.Duration, or Seconds where they are written to a file.
// Clock times count from pressing record on a tape wound fully back.
package planner
