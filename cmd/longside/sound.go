package main

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"strings"

	"longside/media/programme"
	"longside/media/stage"
	"longside/planner"
)

// soundFile is a WAV file to write.
type soundFile struct {
	path   string
	layout *programme.Layout
	text   programme.Text
}

// writeSounds writes WAV files, and others with them, all or none, with a
// progress line in seconds of sound. The notes are on damaged or clipped sound.
func (a *app) writeSounds(ctx context.Context, files []soundFile, others []output, mkdir, force bool, o programme.Options) (notes []string, err error) {
	step, end := a.progress("making, seconds of sound")
	defer end()
	var before, total int64
	for _, f := range files {
		total += f.layout.Sounding() / int64(f.layout.Rate)
	}
	var all []stage.File
	for _, f := range files {
		all = append(all, stage.File{Path: f.path, Fill: func(w *os.File) error {
			o.Progress = func(done, _ int64) {
				step(int(before+done/int64(f.layout.Rate)), int(total))
			}
			said, err := f.layout.Write(ctx, w, f.text, o)
			notes = append(notes, said...)
			before += f.layout.Sounding() / int64(f.layout.Rate)
			return err
		}})
	}
	err = a.fillAll(ctx, append(all, held(others)...), mkdir, force)
	return notes, err
}

// dBFSValue is a flag that takes a level in dBFS: -12, -12dBFS, -12 dB.
type dBFSValue struct{ db *float64 }

func (v dBFSValue) String() string {
	if v.db == nil {
		return ""
	}
	return strconv.FormatFloat(*v.db, 'g', 6, 64) + "dBFS"
}
func (v dBFSValue) Type() string { return "level" }
func (v dBFSValue) Set(s string) error {
	text := strings.ToLower(strings.Replace(strings.TrimSpace(s), "\u2212", "-", 1))
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(text, "dbfs"), "db"))
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || !(f <= 0 && f >= -40) {
		return fmt.Errorf("write a level from -40 to 0 dBFS, as -12dBFS")
	}
	*v.db = f
	return nil
}

// bitsAndRate are the flags of both commands that write sound.
type bitsAndRate struct {
	bits int
	rate string
}

func (b bitsAndRate) options() (o programme.Options, err error) {
	o.Bits = b.bits
	if b.bits != 16 && b.bits != 24 {
		return o, fmt.Errorf("--bits %d: write 16 or 24", b.bits)
	}
	switch strings.ToLower(b.rate) {
	case "auto":
	case "44100", "48000":
		o.Rate, _ = strconv.Atoi(b.rate)
	default:
		return o, fmt.Errorf("--rate %s: write 44100 or 48000", b.rate)
	}
	return o, nil
}

// listSpans prints where each cue begins.
func listSpans(l *programme.Layout) []string {
	var lines []string
	for _, s := range l.Spans {
		if s.Title != "" {
			lines = append(lines, fmt.Sprintf("%7s  %s", planner.Clock(l.Start(s)), plain(s.Label())))
		}
	}
	return lines
}
