package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// sections puts the flags of a command under headings, so that a long list can
// be read. Flags that take one of a few words complete to them.
type sections struct {
	c    *cobra.Command
	text strings.Builder
	last *pflag.FlagSet
	head string
}

// under begins a heading and gives the set to put its flags in.
func (s *sections) under(heading string) *pflag.FlagSet {
	s.close()
	s.head, s.last = heading, pflag.NewFlagSet(heading, pflag.ContinueOnError)
	s.last.SortFlags = false
	return s.last
}

func (s *sections) close() {
	if s.last == nil {
		return
	}
	s.text.WriteString("\n" + s.head + ":\n" + s.last.FlagUsagesWrapped(80))
	s.c.Flags().AddFlagSet(s.last)
	s.last = nil
}

// done shows the headings in the command's help, in the place of the one list.
func (s *sections) done() {
	s.close()
	s.c.Flags().VisitAll(func(f *pflag.Flag) {
		if v, ok := f.Value.(*parsedValue); ok && len(v.words) > 0 {
			s.c.RegisterFlagCompletionFunc(f.Name, cobra.FixedCompletions(v.words, cobra.ShellCompDirectiveNoFileComp))
		}
	})
	s.c.SetUsageTemplate("Usage:\n  {{.UseLine}}{{if .HasExample}}\n\nExamples:\n{{.Example}}{{end}}\n" +
		// The text goes through the template as a string: it may hold anything.
		"{{" + quoteForTemplate(s.text.String()) + "}}")
}

// quoteForTemplate writes s as a string of the template language.
func quoteForTemplate(s string) string { return "`" + strings.ReplaceAll(s, "`", "'") + "`" }
