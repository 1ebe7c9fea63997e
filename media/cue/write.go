package cue

import (
	"cmp"
	"fmt"
	"strings"
)

// Encode writes the sheet as UTF-8 text with the line ends of its origin, CR LF.
// Where a text holds a quotation mark, which the format has no way to write, an
// apostrophe takes its place; control characters become blanks.
func (s Sheet) Encode() []byte {
	var b strings.Builder
	line := func(indent, format string, a ...any) {
		b.WriteString(indent)
		fmt.Fprintf(&b, format, a...)
		b.WriteString("\r\n")
	}
	said := func(indent, command, text string) {
		if text != "" {
			line(indent, "%s %s", command, quoted(text))
		}
	}
	said("", "REM GENRE", s.Genre)
	if s.Year > 0 {
		line("", "REM DATE %d", s.Year)
	}
	if s.Disc > 0 {
		line("", "REM DISCNUMBER %d", s.Disc)
	}
	said("", "PERFORMER", s.Performer)
	said("", "TITLE", s.Title)
	for _, f := range s.Files {
		line("", "FILE %s %s", quoted(f.Name), cmp.Or(f.Type, "WAVE"))
		for _, t := range f.Tracks {
			line("  ", "TRACK %02d AUDIO", t.Number)
			said("    ", "TITLE", t.Title)
			said("    ", "PERFORMER", t.Performer)
			if t.Pause > 0 && t.Pause <= t.Start {
				line("    ", "INDEX 00 %s", t.Start-t.Pause)
			}
			line("    ", "INDEX 01 %s", t.Start)
		}
	}
	return []byte(b.String())
}

func quoted(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '"':
			return '\''
		case r < ' ' || r == 0x7F || r >= 0x80 && r < 0xA0:
			return ' '
		}
		return r
	}, s)
	return `"` + strings.TrimSpace(s) + `"`
}
