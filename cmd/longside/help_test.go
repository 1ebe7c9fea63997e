package main

import (
	"bytes"
	"io"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// dry is a set of streams for a run inside a test.
func dry(out io.Writer) *streams {
	return &streams{in: strings.NewReader(""), out: out, err: out, width: 80}
}

// everyCommand visits the commands that a person can type, cobra's own left out.
func everyCommand(c *cobra.Command, visit func(*cobra.Command)) {
	if c.Name() == "completion" || c.Name() == "help" {
		return
	}
	visit(c)
	for _, sub := range c.Commands() {
		everyCommand(sub, visit)
	}
}

// TestHelp: each command has two examples or more, of itself, with flags that
// it knows; and its help keeps to 80 columns.
func TestHelp(t *testing.T) {
	root := newRoot(&app{streams: dry(io.Discard)})
	n := 0
	everyCommand(root, func(c *cobra.Command) {
		n++
		path := strings.Fields(c.CommandPath())
		t.Run(strings.Join(path, " "), func(t *testing.T) {
			var out bytes.Buffer
			if code := run(append(path[1:], "--help"), dry(&out)); code != exitDone {
				t.Fatalf("exit status %d: %s", code, &out)
			}
			for line := range strings.Lines(out.String()) {
				if line = strings.TrimSuffix(line, "\n"); columns(line) > 80 {
					t.Errorf("%d columns: %q", columns(line), line)
				}
			}
			examples := 0
			for line := range strings.Lines(c.Example) {
				line = strings.TrimSpace(line)
				if i := strings.Index(line, "longside "); i > 0 {
					line = line[i:] // behind a pipe
				}
				if !strings.HasPrefix(line, "longside ") {
					continue
				}
				examples++
				words := shellWords(line)
				// A tree of its own: parsing leaves values behind.
				got, rest, err := newRoot(&app{streams: dry(io.Discard)}).Find(words[1:])
				if err != nil {
					t.Errorf("%q: %v", line, err)
					continue
				}
				if c != root && !strings.HasPrefix(got.CommandPath(), c.CommandPath()) {
					t.Errorf("%q is an example of %q", line, got.CommandPath())
				}
				if err := got.ParseFlags(rest); err != nil {
					t.Errorf("%q: %v", line, err)
				}
				if err := got.ValidateArgs(got.Flags().Args()); err != nil {
					t.Errorf("%q: %v", line, err)
				}
			}
			if examples < 2 {
				t.Errorf("%d examples, want 2 or more", examples)
			}
		})
	})
	if n < 3 {
		t.Errorf("only %d commands were seen", n)
	}
}

var word = regexp.MustCompile(`"[^"]*"|'[^']*'|\S+`)

// shellWords splits an example as a shell would, up to a pipe or a redirection.
func shellWords(line string) []string {
	var words []string
	for _, w := range word.FindAllString(line, -1) {
		if strings.ContainsAny(w[:1], "|<>") {
			break
		}
		words = append(words, strings.Trim(w, `"'`))
	}
	return words
}

// TestColour: colour changes no word of an answer, and is there when asked for.
func TestColour(t *testing.T) {
	for _, args := range [][]string{
		{"check", "../../testdata/night-ferry", "--tape", "C60"},
		{"check", "../../testdata/night-ferry", "--tape", "C46"},
		{"check", "../../testdata/night-ferry.csv", "--tape", "C120"},
	} {
		var plainOut, colourOut bytes.Buffer
		run(args, dry(&plainOut))
		s := dry(&colourOut)
		s.colour = true
		run(args, s)
		if colours.ReplaceAllString(colourOut.String(), "") != plainOut.String() {
			t.Errorf("%v: not the same words with colour and without", args)
		}
		if !strings.Contains(colourOut.String(), "\x1b[") || strings.Contains(plainOut.String(), "\x1b") {
			t.Errorf("%v: colour where none was asked for, or none where it was", args)
		}
	}
}
