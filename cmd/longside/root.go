package main

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"

	"longside/media/oneline"

	"github.com/spf13/cobra"
)

// Exit statuses, the whole list. A script may rely on them.
const (
	exitDone  = 0 // it fits, or the work is done
	exitNo    = 1 // the answer is no: it does not fit, or the plan must not be recorded
	exitWrong = 2 // the request or the input was wrong, or the run was stopped
)

// errNo ends a command whose answer is no and has been printed already.
var errNo = errors.New("the answer is no")

// app is what every command is handed: the streams and what is known of them.
type app struct {
	*streams
	wrote []string // the files that the command has written so far
}

// run is the whole program: main calls it, and so do the tests.
func run(args []string, s *streams) int {
	ctx, end := untilStopped()
	defer end()
	checked := *s
	checked.in = stoppable{ctx, s.in}
	checked.err = &breakable{ctx: ctx, to: s.err}
	out := &kept{Writer: &breakable{ctx: ctx, to: s.out}}
	checked.out = out
	s = &checked
	a := &app{streams: s}
	root := newRoot(a)
	root.SetArgs(args)
	root.SetIn(s.in)
	root.SetOut(out)
	root.SetErr(s.err)
	err := root.ExecuteContext(ctx)
	if out.err != nil && (err == nil || errors.Is(err, errNo)) {
		// An answer that nobody could read is no answer.
		err = fmt.Errorf("standard output: %w", bare(out.err))
	}
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errNo):
		return exitNo
	case ctx.Err() != nil:
		fmt.Fprintln(s.err, "longside: stopped; "+a.left(err))
		return exitWrong
	}
	for line := range strings.Lines(err.Error()) {
		if line = strings.TrimSpace(line); line != "" {
			fmt.Fprintln(s.err, "longside: "+plain(line))
		}
	}
	return exitWrong
}

// left says what a command that was stopped has left on the disk.
func (a *app) left(err error) string {
	if len(a.wrote) == 0 {
		return "nothing was written"
	}
	if says := strings.TrimSuffix(err.Error(), ": "+context.Canceled.Error()); says != context.Canceled.Error() {
		return plain(says)
	}
	return fmt.Sprintf("before that, %s %s written whole", plain(strings.Join(a.wrote, ", ")), plural(len(a.wrote), "was", "were"))
}

// newRoot lists the commands, in the order in which a person needs them.
func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "longside",
		Short: "plan long mixtapes for compact cassettes",
		Long: `longside reads the exact lengths of your tracks, fits them to the sides of a
tape with leader and tolerance allowed for, warns of what can go wrong, and
writes an inlay card and a run sheet to lay beside the deck.

Exit status: 0 it fits or the work is done, 1 the answer is no,
2 the request or a file was wrong (one line on standard error for each fault).`,
		Example: `  longside check ~/music/crossing --tape C90
  longside plan ~/music/crossing --tape C90 --title Crossing --out crossing`,
		Version:       version(),
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fmt.Errorf("%w; see %q", err, c.CommandPath()+" --help")
	})
	// Cobra's own layout, with the flags broken to a terminal's width.
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), ".FlagUsages ", ".FlagUsagesWrapped 80 "))
	cobra.EnableCommandSorting = false // in the order of an evening
	for _, g := range []struct {
		title string
		list  []*cobra.Command
	}{
		{"Plan:", []*cobra.Command{newCheck(a), newPlan(a), newReplan(a)}},
		{"Print:", []*cobra.Command{newInlay(a), newSheet(a)}},
		{"Listen and feed the deck:", []*cobra.Command{newLengths(a), newLevels(a), newTones(a), newProgramme(a)}},
		{"Know your tapes and your deck:", []*cobra.Command{newTape(a), newDeck(a), newShelf(a), newVerify(a)}},
	} {
		root.AddGroup(&cobra.Group{ID: g.title, Title: g.title})
		for _, c := range g.list {
			c.GroupID = g.title
			root.AddCommand(c)
		}
	}
	return root
}

// someSources asks for at least one source.
func someSources(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return fmt.Errorf("what shall be recorded? name a folder, audio files or a typed list; see %q", c.CommandPath()+" --help")
	}
	return nil
}

// version is the build's own account of itself; it is typed nowhere.
func version() string {
	if b, ok := debug.ReadBuildInfo(); ok && b.Main.Version != "" {
		return b.Main.Version
	}
	return "unknown"
}

// plain makes a text, a name of a file among them, safe for one line of a terminal.
func plain(s string) string { return oneline.Shown(s) }
