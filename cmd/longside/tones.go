package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"longside/media/programme"
	"longside/planner"
)

// newTones is the command that makes the tones a deck lacks.
func newTones(a *app) *cobra.Command {
	zero, each := -12.0, programme.ToneTime
	b := bitsAndRate{bits: 16, rate: "44100"}
	var out, dir string
	var force, test bool
	c := &cobra.Command{
		Use:   "tones",
		Short: "Make the tones for level, bias, speed and channels as WAV",
		Long: `Make test tones for a deck without a generator: 400 Hz at 0 dB for the record
level, 10 kHz at -15 and -20 dB for bias, a round of all three, 315 Hz, 1 kHz,
3150 Hz for speed, and a check of left and right.

-o FILE makes one file with marked sections, --out DIR one file for each; the
list of what is where is printed, with the order in which to work.

--test makes the test programme instead: four minutes to record, play back and
capture, from which "longside verify" measures deck and tape.

0 dB is --zero below full scale: turn your deck's input until its meter reads
0 dB there. Turn the monitor down before you play tones: they are continuous
and near full level, and can hurt ears and loudspeakers.`,
		Example: `  longside tones -o tones.wav
  longside tones --out tones --zero -14dBFS --bits 24
  longside tones --test -o test.wav`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if (out == "") == (dir == "") {
				return errors.New("where to? give -o tones.wav for one file, or --out DIR for a file each")
			}
			if out != "" && !strings.EqualFold(filepath.Ext(out), ".wav") {
				return fmt.Errorf("-o %s: tones are written as WAV; give a name that ends in .wav", out)
			}
			o, err := b.options()
			if err != nil {
				return err
			}
			if test && c.Flags().Changed("tone-time") {
				return errors.New("--tone-time does not go with --test: its tones have their lengths")
			}
			if test {
				return a.writeTest(c.Context(), testFile{out: out, dir: dir, zero: zero, force: force, o: o})
			}
			if err := checkToneTime(each); err != nil {
				return err
			}
			sections := programme.Tones(zero, each)
			text := func(title string) programme.Text {
				return programme.Text{Title: title, Comment: fmt.Sprintf("%s 0 dB is %g dBFS.", programme.Caution, zero)}
			}
			var files []soundFile
			var list []string
			if out != "" {
				l, err := programme.Lay(c.Context(), oneAfterAnother(sections), 0, o)
				if err != nil {
					return err
				}
				files = []soundFile{{out, l, text("tones for setting a deck up")}}
				list = tonesList(sections, zero)
			} else {
				for i, s := range sections {
					l, err := programme.Lay(c.Context(), s.Cues, 0, o)
					if err != nil {
						return err
					}
					name := fmt.Sprintf("%d-%s.wav", i+1, s.Name)
					files = append(files, soundFile{filepath.Join(dir, name), l, text(s.Title)})
					list = append(list, fmt.Sprintf("%-24s %s", name, s.Title), "    "+s.What)
				}
			}
			lines := append(list, "")
			for _, heads := range []bool{true, false} {
				lines = append(lines, map[bool]string{true: "With three heads (the deck plays while it records):", false: "With two heads (record, wind back, compare):"}[heads])
				for i, step := range programme.Routine(heads) {
					lines = append(lines, fmt.Sprintf("  %d. %s", i+1, step))
				}
				lines = append(lines, "")
			}
			var others []output
			if dir != "" {
				head := fmt.Sprintf("CAUTION: %s\n0 dB is %g dBFS.\n\n", programme.Caution, zero)
				others = []output{{path: filepath.Join(dir, "tones.txt"), data: []byte(head + strings.Join(lines, "\n"))}}
			}
			if _, err := a.writeSounds(c.Context(), files, others, dir != "", force, o); err != nil {
				return err
			}
			a.wrap(a.paint(danger, "caution:"), 9, programme.Caution)
			fmt.Fprintln(a.out)
			for _, l := range lines {
				a.hang(l)
			}
			return nil
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVarP(&out, "output", "o", "", "one file with marked sections")
	fl.StringVar(&dir, "out", "", "folder for a file each, and the list as tones.txt")
	fl.BoolVar(&test, "test", false, "make the test programme that longside verify measures")
	fl.Var(dBFSValue{&zero}, "zero", "level of a tone at 0 dB")
	fl.Var(timeValue{&each, time.Second}, "tone-time", "how long each tone for level and bias lasts")
	fl.IntVar(&b.bits, "bits", b.bits, "16 or 24 bits a sample")
	fl.StringVar(&b.rate, "rate", b.rate, "44100 or 48000 samples a second")
	fl.BoolVar(&force, "force", false, "replace files that exist")
	c.RegisterFlagCompletionFunc("rate", cobra.FixedCompletions([]string{"44100", "48000"}, cobra.ShellCompDirectiveNoFileComp))
	c.RegisterFlagCompletionFunc("bits", cobra.FixedCompletions([]string{"16", "24"}, cobra.ShellCompDirectiveNoFileComp))
	return c
}

// checkToneTime refuses what is no time to turn a knob in.
func checkToneTime(d time.Duration) error {
	if d < time.Second || d > 10*time.Minute {
		return fmt.Errorf("--tone-time %s: give 1 s to 10 minutes", planner.Clock(d))
	}
	return nil
}

// hang prints a line, broken to the width behind its own indent.
func (a *app) hang(line string) {
	if columns(line) < a.width {
		fmt.Fprintln(a.out, line)
		return
	}
	text := strings.TrimLeft(line, " ")
	indent := len(line) - len(text)
	if number, rest, ok := strings.Cut(text, ". "); ok && len(number) == 1 { // a numbered step
		a.wrap(line[:indent]+number+".", indent+3, rest)
		return
	}
	a.wrap(strings.Repeat(" ", max(0, indent-1)), indent, text)
}

// betweenSections is the silence that tells sections of one file apart.
const betweenSections = 2 * time.Second

// oneAfterAnother puts sections into one list of cues.
func oneAfterAnother(sections []programme.Section) []programme.Cue {
	var cues []programme.Cue
	var at time.Duration
	for _, s := range sections {
		for i, c := range s.Cues {
			if i == 0 && len(s.Cues) > 1 {
				c.Title = s.Title + ": " + c.Title
			}
			c.Start += at
			cues = append(cues, c)
		}
		at += s.Length() + betweenSections
	}
	return cues
}

// tonesList says where each section of one file begins and what it is for.
func tonesList(sections []programme.Section, zero float64) []string {
	list := []string{fmt.Sprintf("0 dB is %g dBFS.", zero)}
	var at time.Duration
	for _, s := range sections {
		list = append(list, fmt.Sprintf("%6s  %s", planner.Clock(at), s.Title), "        "+s.What)
		at += s.Length() + betweenSections
	}
	return list
}
