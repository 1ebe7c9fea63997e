package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"longside/media/programme"
	"longside/media/verify"
	"longside/planner"
)

// testFile says where the test programme goes.
type testFile struct {
	out, dir string
	zero     float64 // dBFS of 0 dB
	force    bool
	o        programme.Options
}

// writeTest makes the test programme and prints the page that goes with it; in a
// folder the page is a file, too.
func (a *app) writeTest(ctx context.Context, f testFile) error {
	cues, long, err := verify.Programme(f.zero)
	if err != nil {
		return fmt.Errorf("--zero: %w", err)
	}
	l, err := programme.Lay(ctx, cues, long, f.o)
	if err != nil {
		return err
	}
	path := f.out
	var others []output
	page := testPage(f.zero)
	if f.dir != "" {
		path = filepath.Join(f.dir, "test.wav")
		text := "CAUTION: " + programme.Caution + "\n\n" + strings.Join(page, "\n") + "\n"
		others = []output{{path: filepath.Join(f.dir, "test.txt"), data: []byte(text)}}
	}
	sound := soundFile{path, l, programme.Text{Title: "test programme", Comment: fmt.Sprintf("%s 0 dB is %g dBFS.", programme.Caution, f.zero)}}
	if _, err := a.writeSounds(ctx, []soundFile{sound}, others, f.dir != "", f.force, f.o); err != nil {
		return err
	}
	a.wrap(a.paint(danger, "caution:"), 9, programme.Caution)
	fmt.Fprintln(a.out)
	for _, line := range page {
		a.hang(line)
	}
	return nil
}

// testPage says what is in the test and how to record and capture it.
func testPage(zero float64) []string {
	lines := []string{fmt.Sprintf("The test programme, %s. 0 dB is %g dBFS; the loudest tone is 8 dB over it.", planner.Clock(verify.Length()), zero), ""}
	reference := ""
	for _, p := range verify.Parts() {
		lines = append(lines, fmt.Sprintf("%6s  %s", planner.Clock(p.At), p.What))
		if reference == "" && strings.HasPrefix(p.What, "400 Hz at 0 dB") {
			reference = planner.Clock(p.At)
		}
	}
	steps := func(head string, list ...string) {
		lines = append(lines, "", head)
		for i, s := range list {
			lines = append(lines, fmt.Sprintf("  %d. %s", i+1, s))
		}
	}
	steps("Record it:",
		"Noise reduction off, filters off, automatic level off; the tape's type set. Heads clean.",
		fmt.Sprintf("Play the file at %s, 400 Hz, with the deck in record pause: turn the record level until its meter reads 0 dB. Do not touch it afterwards.", reference),
		"Start the recording, then play the whole file from its beginning. Let it run to its end and five seconds more.")
	steps("Capture it:",
		"Wind back. Connect the deck's output to the computer, or to any recorder that makes a WAV or FLAC file; 24 bits at 48000 Hz is best, 44100 to 192000 will do. Its automatic level and effects off.",
		"Play the 400 Hz and set the level of the capture to some -12 dBFS, with room for 8 dB more. Wind back to before the test.",
		"Start the capture, then press play. Stop five seconds after the second marker.",
		"With three heads you may capture while you record, with the monitor on the tape.")
	return append(lines, "", "Then: longside verify take.wav")
}
