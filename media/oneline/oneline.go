// Package oneline makes fit for one line of a terminal, a list or a page what
// comes from elsewhere: texts of tags and lists, names of files, errors of the
// system. It is the one place that says which characters may not be printed;
// every room of the project may use it.
//
// Text is for what a person reads, Shown for what a person must find again: a
// name of a file, which loses nothing.
package oneline

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxMarks is how many marks one letter keeps: more than any script's spelling
// needs, few enough to stay on their line.
const maxMarks = 4

// Joiners that print nothing but shape what stands beside them: Persian words
// and families of pictographs are spelt with them.
const (
	nonJoiner = '\u200C'
	joiner    = '\u200D'
)

// Text makes a text fit for one line. Blanks of every kind become single spaces.
// Control characters, those that turn the direction of a line around, those that
// print nothing (zero-width spaces, tags, fillers), what is not UTF-8 or no
// character, private ones and marks beyond the fourth on one letter are taken
// out. A text of which nothing prints is empty.
func Text(s string) string {
	if isPlain(s) {
		return s
	}
	var b strings.Builder
	b.Grow(len(s))
	blank, marks, prints := false, 0, false
	for _, r := range s {
		switch {
		case unicode.IsSpace(r):
			blank = b.Len() > 0
			continue
		case Unfit(r): // what stood on either side of it now stands together
			continue
		case !unicode.In(r, unicode.Mn, unicode.Me):
			marks = 0
		case blank:
			marks = 1
		default:
			if marks++; marks > maxMarks {
				continue
			}
		}
		if blank {
			b.WriteByte(' ')
			blank = false
		}
		b.WriteRune(r)
		prints = prints || r != joiner && r != nonJoiner
	}
	if !prints {
		return ""
	}
	return b.String()
}

// isPlain tells quickly of a usual text that nothing need be done to it: single
// spaces between printing ASCII.
func isPlain(s string) bool {
	blank := true // one in front is too much
	for i := range len(s) {
		c := s[i]
		if c < ' ' || c >= 0x7F || c == ' ' && blank {
			return false
		}
		blank = c == ' '
	}
	return !blank || s == ""
}

// Unfit tells whether a character may not stand in a line of text, blanks aside.
// ref: Unicode 15, chapter 23 (special areas and format characters); UAX #9 for
// the direction's; DerivedCoreProperties, Default_Ignorable_Code_Point.
func Unfit(r rune) bool {
	switch {
	case r < 0x7F:
		return r < ' '
	case r == joiner, r == nonJoiner:
		return false
	case r == utf8.RuneError, r&0xFFFE == 0xFFFE, r >= 0xFDD0 && r <= 0xFDEF: // not UTF-8, no characters
		return true
	case unicode.Is(unicode.Cf, r): // format: direction, zero width, tags; but for those that print
		return !unicode.Is(unicode.Prepended_Concatenation_Mark, r)
	}
	return unicode.In(r, unicode.Cc, unicode.Co, unicode.Cs, unicode.Zl, unicode.Zp, unicode.Other_Default_Ignorable_Code_Point)
}

// Cut shortens a text to n characters, of which the last is an ellipsis where
// something is lost.
func Cut(s string, n int) string {
	if len(s) <= n || utf8.RuneCountInString(s) <= n {
		return s
	}
	at, left := 0, n-1
	for at = range s {
		if left == 0 {
			break
		}
		left--
	}
	return strings.TrimRight(s[:at], " \u200C\u200D") + "…"
}

// Shown gives a name that may hold anything so that it can be told in one line:
// what is unfit is written as in a Go string (\n, \x1b, \xe6, \u202e), all else
// stays as it is.
func Shown(s string) string {
	odd := func(r rune) bool { return Unfit(r) || r != ' ' && unicode.IsSpace(r) && r != '\u3000' && r != '\u00A0' }
	if strings.IndexFunc(s, odd) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, s[0])
		case odd(r):
			q := fmt.Sprintf("%+q", string(r))
			b.WriteString(q[1 : len(q)-1])
		default:
			b.WriteString(s[:n])
		}
		s = s[n:]
	}
	return b.String()
}

// Error takes the path and the system call's name out of an error, since the
// line names the file already, and tells the usual cases in plain words: for a
// file that is missing the same everywhere. The error itself is wrapped.
func Error(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		err = path.Err
	case errors.As(err, &link):
		err = link.Err
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return said{"no such file or folder", err}
	case errors.Is(err, fs.ErrPermission):
		return said{"permission denied", err}
	case errors.Is(err, io.ErrUnexpectedEOF):
		return said{"ends too early", err}
	}
	return err
}

// said is an error in other words.
type said struct {
	says string
	err  error
}

func (s said) Error() string { return s.says }
func (s said) Unwrap() error { return s.err }
