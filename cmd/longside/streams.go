package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/mattn/go-runewidth"
	"golang.org/x/term"

	"longside/planner"
)

// streams are where a command reads and writes, and what is known of the
// terminal. Results go to out; progress, warnings of the run and errors to err.
type streams struct {
	in       io.Reader
	out, err io.Writer
	width    int  // columns of out; 80 where it is no terminal
	colour   bool // out is a terminal that takes colours, and NO_COLOR is not set
	drawn    bool // out is a terminal: bars may be drawn with block characters
	live     bool // err is a terminal: a progress line may be redrawn
	ask      bool // in is a terminal: a person can be asked
}

// kept is a writer that keeps its first error, so that printing need not look
// at each line's: a full disk is told once, at the end.
type kept struct {
	io.Writer
	err error
}

func (k *kept) Write(b []byte) (int, error) {
	n, err := k.Writer.Write(b)
	if k.err == nil {
		k.err = err
	}
	return n, err
}

// osStreams are the process's own.
func osStreams() *streams {
	s := &streams{in: os.Stdin, out: os.Stdout, err: os.Stderr, width: 80}
	if fd := int(os.Stdout.Fd()); term.IsTerminal(fd) {
		if w, _, err := term.GetSize(fd); err == nil && w >= 40 {
			s.width = w
		}
		s.drawn = os.Getenv("TERM") != "dumb"
		// no-color.org: any non-empty value turns colour off.
		s.colour = s.drawn && os.Getenv("NO_COLOR") == ""
	}
	s.live = term.IsTerminal(int(os.Stderr.Fd())) && os.Getenv("TERM") != "dumb"
	s.ask = term.IsTerminal(int(os.Stdin.Fd()))
	return s
}

// Colours by what they mean, not by what they are. Each is a pair of SGR
// sequences (ECMA-48, 8.3.117).
type style string

const (
	strong  style = "1"
	faint   style = "2"
	good    style = "32"
	care    style = "33"
	danger  style = "31"
	sideInk style = "36"
)

// paint puts s in a style where the terminal takes colours.
func (s *streams) paint(st style, text string) string {
	if !s.colour || text == "" {
		return text
	}
	return "\x1b[" + string(st) + "m" + text + "\x1b[0m"
}

// clip shortens text to w columns, with an ellipsis where something is lost.
func clip(text string, w int) string {
	return runewidth.Truncate(text, w, "…")
}

// pad brings text to just w columns: clipped, or filled with blanks behind it.
func pad(text string, w int) string {
	return runewidth.FillRight(clip(text, w), w)
}

// progress draws one line on standard error, not before a second has passed
// and only on a terminal: done of total, rate and time left. The function that
// it gives may be called as often as wanted; end takes the line away.
func (s *streams) progress(what string) (step func(done, total int), end func()) {
	var mu sync.Mutex
	start := time.Now()
	var last time.Time
	shown := false
	step = func(done, total int) {
		mu.Lock()
		defer mu.Unlock()
		now := time.Now()
		if !s.live || now.Sub(start) < time.Second || now.Sub(last) < 100*time.Millisecond {
			return
		}
		last, shown = now, true
		gone := now.Sub(start)
		line := fmt.Sprintf("%s: %d of %d", what, done, total)
		if done > 0 {
			left := time.Duration(float64(gone) / float64(done) * float64(total-done))
			line += fmt.Sprintf(", %.0f a second, about %s left", float64(done)/gone.Seconds(), planner.Clock(left))
		}
		fmt.Fprintf(s.err, "\r\x1b[K%s", clip(line, 79))
	}
	end = func() {
		mu.Lock()
		defer mu.Unlock()
		if shown {
			fmt.Fprint(s.err, "\r\x1b[K")
		}
	}
	return step, end
}

// columns is how wide text is on a terminal.
func columns(text string) int { return runewidth.StringWidth(text) }
