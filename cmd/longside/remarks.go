package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/go-text/typesetting/fontscan"

	"longside/planner/inlay"
	"longside/planner/paper"
)

// remarks puts what a drawing could not do on standard error, a line each.
func (a *app) remarks(name string, notes []string) {
	for _, n := range notes {
		fmt.Fprintf(a.err, "longside: %s: %s\n", name, plain(n))
	}
}

// cardWords and sheetWords put the flags that help to what a drawing says of itself.
func cardWords(notes []inlay.Note) (out []string) {
	for _, n := range notes {
		s := n.Says + flagsFor(n.Help)
		if len(n.Ways) > 0 {
			var ways []string
			for _, w := range n.Ways {
				ways = append(ways, wayFlags(w))
			}
			s += " (longside inlay: " + strings.Join(ways, "; or ") + ")"
		}
		out = append(out, s)
	}
	return out
}

func sheetWords(notes []paper.Note) (out []string) {
	for _, n := range notes {
		out = append(out, n.Says+flagsFor(n.Help))
	}
	return out
}

func flagsFor(h paper.Help) string {
	switch h {
	case paper.HelpFont:
		where := "this system has no folder of fonts"
		if dirs := fontFolders(); len(dirs) > 0 {
			where = "looked in " + strings.Join(dirs, ", ")
		}
		return "; " + where + "; install one there, or name its file with --font"
	case inlay.HelpTitle:
		return " (--title)"
	case inlay.HelpLabels:
		return "; --label-width, --label-height, --window-width and --window-height change them"
	case inlay.HelpBox:
		return " (--box-height)"
	}
	return ""
}

func wayFlags(w inlay.Way) string {
	var flags []string
	if w.Design != "" {
		flags = append(flags, "--design "+w.Design)
	}
	if w.Folds > 0 {
		flags = append(flags, fmt.Sprintf("--folds %d", w.Folds))
	}
	if w.Duplex {
		flags = append(flags, "--duplex")
	}
	return strings.Join(flags, " ")
}

// fontFolders are the folders of fonts on this system that exist.
func fontFolders() []string {
	dirs, err := fontscan.DefaultFontDirectories(quiet{})
	if err != nil {
		return nil
	}
	return slices.DeleteFunc(dirs, func(dir string) bool {
		st, err := os.Stat(dir)
		return err != nil || !st.IsDir()
	})
}
