package sheet

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/mattn/go-runewidth"
	"golang.org/x/text/unicode/bidi"

	"longside/planner"
)

// leastName is how many columns a name needs beside its figures.
const leastName = 12

// least is the narrowest sheet that can be set, in columns.
const least = 40

// Text is the run sheet as plain text, no line wider than width columns (80
// where width is 0; 40 at the least). Wide letters count as two columns.
func Text(p planner.Plan, width int) string {
	if width == 0 {
		width = 80
	}
	s := Of(p)
	t := &text{width: max(width, least)}
	t.line(strings.ToUpper(s.Title))
	if s.Note != "" {
		t.wrap("", "", s.Note)
	}
	t.rule('=')
	label := 0
	for _, f := range s.Facts {
		label = max(label, len(f.Label)+2)
	}
	for _, f := range s.Facts {
		t.wrap(pad(f.Label, label), strings.Repeat(" ", label), f.Value)
	}
	for _, c := range s.Care {
		t.wrap("! ", "  ", c)
	}
	t.head("Before you start")
	t.steps(s.Before)
	for _, p := range s.Parts {
		t.part(p)
	}
	t.head("After")
	t.steps(s.After)
	return t.b.String()
}

type text struct {
	b     strings.Builder
	width int
}

func (t *text) line(s string) {
	t.b.WriteString(strings.TrimRight(runewidth.Truncate(s, t.width, "…"), " ") + "\n")
}

func (t *text) rule(r rune) { t.line(strings.Repeat(string(r), t.width)) }

func (t *text) head(s string) {
	t.line("")
	t.line(s)
	t.rule('-')
}

// wrap sets words in the width, the first line behind first and the others behind next.
func (t *text) wrap(first, next, s string) {
	line, at := first, runewidth.StringWidth(first)
	empty := true
	for _, w := range strings.Fields(s) {
		n := runewidth.StringWidth(w)
		if !empty && at+1+n > t.width {
			open := t.isolate(line)
			line, at, empty = next, runewidth.StringWidth(next), true
			if open { // an isolated name runs on into this line
				line += isolate
			}
		}
		if !empty {
			line += " "
			at++
		}
		line += w
		at += n
		empty = false
	}
	t.isolate(line)
}

// isolate sets a line that may hold part of an isolated name: each line is a
// paragraph of its own to a terminal, so what is open at its end, or was cut off
// with it, is closed there. It tells whether the name goes on.
func (t *text) isolate(line string) bool {
	goesOn := strings.LastIndex(line, isolate) > strings.LastIndex(line, popped)
	line = runewidth.Truncate(line, t.width, "…")
	if strings.LastIndex(line, isolate) > strings.LastIndex(line, popped) {
		line = strings.TrimRight(line, " ") + popped
	}
	t.line(line)
	return goesOn
}

func (t *text) steps(steps []Step) {
	for _, s := range steps {
		t.wrap("[ ] ", "    ", strings.TrimSpace(s.Do+" "+s.How))
		for _, w := range s.Write {
			t.wrap("        ", "        ", w+" "+strings.Repeat("_", 8))
		}
	}
}

func (t *text) part(p Part) {
	t.head(p.Name + " - " + p.Tape)
	for _, s := range p.First {
		t.wrap("[ ] ", "    ", s)
	}
	t.strip(p)
	if len(p.Courses) > 0 {
		t.wrap("    ", "    ", fmt.Sprintf("(the digits are loudness: so many times %d LU over %d LUFS; ^ is the loudest place)", courseStep, courseLow))
	}
	t.line("")
	head := "     no  start  "
	if p.Counter {
		head += "counter  read  "
	}
	head += "length  "
	if p.Trims {
		head += " trim  "
	}
	head += "level  "
	t.line(head + "title")
	for _, r := range p.Rows {
		lead := "[ ] "
		if r.Recorded {
			lead = "[x] "
		}
		lead += left(r.Number) + "  " + pad6(r.Start) + "  "
		if p.Counter {
			lead += pad(r.Counter, 7) + "  " + blank(r, 4) + "  "
		}
		lead += pad6(r.Length) + "  "
		if p.Trims {
			lead += runewidth.FillLeft(r.Trim, 5) + "  "
		}
		lead += blank(r, 5) + "  "
		name := isolated(r.Title)
		if r.Artist != "" {
			name += " - " + isolated(r.Artist)
		}
		next := strings.Repeat(" ", runewidth.StringWidth(lead))
		if t.width-len(next) < leastName { // the name has a line of its own
			t.line(lead)
			lead, next = "        ", "        "
		}
		t.wrap(lead, next, name)
		for _, n := range []string{r.Note, r.Gap} {
			if n != "" {
				t.wrap(next+"(", next+" ", n+")")
			}
		}
	}
	t.line("")
	for _, s := range p.Tail {
		t.wrap("    ", "    ", s)
	}
	for _, c := range p.Care {
		t.wrap("  ! ", "    ", c)
	}
	if len(p.Then) > 0 {
		t.line("")
		t.steps(p.Then)
	}
}

// blank is a place to write a figure into, or nothing where that is past.
func blank(r Row, columns int) string {
	if r.Recorded {
		return strings.Repeat(" ", columns)
	}
	return strings.Repeat("_", columns)
}

// strip draws the side to scale: # and = are tracks by turns, . is blank tape,
// v above marks an echo, V a strong one, and ~ below the thin zone. Then come the
// loudness as a digit for each column, and ^ under the loudest place.
func (t *text) strip(p Part) {
	run := p.Side.RunS.D().Seconds()
	if run <= 0 {
		return
	}
	n := t.width - 4
	at := func(sec float64) int { return min(max(int(sec/run*float64(n)), 0), n) }
	bar, over, under := bytes.Repeat([]byte{'.'}, n), bytes.Repeat([]byte{' '}, n), bytes.Repeat([]byte{' '}, n)
	for i, tr := range p.Side.Tracks {
		for c := at(tr.StartS.D().Seconds()); c < at(tr.EndS().D().Seconds()); c++ {
			bar[c] = "#="[i%2]
		}
	}
	for _, e := range p.Echoes {
		c := min(at(e.AtS.D().Seconds()), n-1)
		if e.Strength() >= 0.5 {
			over[c] = 'V'
		} else if over[c] != 'V' {
			over[c] = 'v'
		}
	}
	if v := p.Side.ThinFromS.D().Seconds(); v > 0 {
		for c := at(v); c < n; c++ {
			under[c] = '~'
		}
	}
	rows := [][]byte{over, bar, under}
	if len(p.Courses) > 0 {
		loud, mark := bytes.Repeat([]byte{' '}, n), bytes.Repeat([]byte{' '}, n)
		for i, v := range p.course().Tops(n) {
			if v > courseLow {
				loud[i] = '0' + byte(min((v-courseLow)/courseStep, 9))
			}
		}
		if p.Loudest {
			mark[min(at(p.LoudestAt.D().Seconds()), n-1)] = '^'
		}
		rows = append(rows, loud, mark)
	}
	t.line("")
	for _, row := range rows {
		if s := strings.TrimRight(string(row), " "); s != "" {
			t.line("    " + s)
		}
	}
}

func left(n int) string {
	s := []byte("   ")
	for i := len(s) - 1; i >= 0 && n > 0; i-- {
		s[i] = byte('0' + n%10)
		n /= 10
	}
	return string(s)
}

func pad(s string, w int) string { return runewidth.FillRight(s, w) }

// pad6 sets a clock time right in six columns.
func pad6(s string) string { return runewidth.FillLeft(s, 6) }

// First strong isolate and pop directional isolate (UAX #9, 2.4 and 2.5).
const (
	isolate = "\u2068"
	popped  = "\u2069"
)

// isolated puts a name that holds right-to-left letters between two marks, so
// that it does not turn round what stands beside it.
func isolated(s string) string {
	for _, r := range s {
		if p, _ := bidi.LookupRune(r); p.Class() == bidi.R || p.Class() == bidi.AL {
			return isolate + s + popped
		}
	}
	return s
}
