package oneline

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

func TestText(t *testing.T) {
	for _, c := range [][2]string{
		{"", ""},
		{" \t\n ", ""},
		{"Bell  Buoy\r\n(live) ", "Bell Buoy (live)"},
		{"a\x00b\x1b[31mc", "ab[31mc"},
		{"a\u0085b\u2028c\u2029d\u00a0e\u3000f", "a b c d e f"},
		{"\u202Eevil\u202C \u2066x\u2069\u200F\u200E\u061C", "evil x"}, // direction: UAX #9, table 4
		{"a\u200Bb\uFEFFc\u2060d\u00ADe\u180Ef", "abcdef"},             // zero width, soft hyphen
		{"x\U000E0041\U000E007F\U000E0001y", "xy"},                     // tags
		{"\u3164\u115F\uFFA0\u034F", ""},                               // fillers
		{"\u200D\u200C", ""},                                           // joiners alone
		{"می\u200Cخواهم", "می\u200Cخواهم"},                             // Persian is spelt with one
		{"👩\u200D🚀", "👩\u200D🚀"},
		{"\xff\xfea\uFFFD\uFFFE\uFDD0\U0001FFFFb", "ab"}, // not UTF-8, no characters
		{"\uE000\U000F0000\U0010FFFDz", "z"},             // private
		{"\u0600\u0661", "\u0600\u0661"},                 // a format character that prints: the Arabic number sign
		{"e\u0301", "e\u0301"},
		{"e" + strings.Repeat("\u0301", 50) + "x\u0301", "e\u0301\u0301\u0301\u0301x\u0301"},
		{"辻\U000E0100", "辻\U000E0100"}, // a variant of a sign in names
		{"<b>&\"'\\", "<b>&\"'\\"},     // text, not markup: escaping is the writers' part
	} {
		if got := Text(c[0]); got != c[1] {
			t.Errorf("Text(%+q) = %+q, want %+q", c[0], got, c[1])
		}
		if got := Text(c[1]); got != c[1] {
			t.Errorf("Text(%+q) = %+q: clean text changes", c[1], got)
		}
	}
}

// TestEveryCharacter holds Text and Shown to what Unicode's own tables in the
// standard library say of each code point.
func TestEveryCharacter(t *testing.T) {
	kept := 0
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if r >= 0xD800 && r <= 0xDFFF {
			continue
		}
		got := Text("a" + string(r) + "b")
		// strconv knows the printing ones (letters, marks, numbers, punctuation,
		// symbols); what it does not know to print must go, but for joiners, the
		// signs that Unicode counts as format and yet print, and what is not assigned
		// in its version.
		bad := unicode.In(r, unicode.Cc, unicode.Co, unicode.Bidi_Control, unicode.Noncharacter_Code_Point) ||
			r >= 0xE0000 && r <= 0xE00FF || r == 0x200B || r == 0xFEFF || r == 0xFFFD
		if bad && !unicode.IsSpace(r) && got != "ab" {
			t.Errorf("%U stays: %+q", r, got)
		}
		if strconv.IsGraphic(r) && !unicode.IsSpace(r) && r != 0xFFFD && !unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) {
			kept++
			if got != "a"+string(r)+"b" {
				t.Errorf("%U goes: %+q", r, got)
			}
		}
		s := Shown("a" + string(r) + "b")
		if strings.ContainsFunc(s, func(r rune) bool { return Unfit(r) || r == '\n' || r == '\t' }) {
			t.Errorf("Shown of %U: %+q", r, s)
		}
		if back, err := strconv.Unquote(`"` + strings.ReplaceAll(s, `"`, `\"`) + `"`); r != '\\' && r != '"' && (err != nil || back != "a"+string(r)+"b") {
			t.Errorf("Shown of %U does not tell what it is: %+q", r, s)
		}
	}
	if kept < 100_000 {
		t.Errorf("only %d characters were tried that print", kept)
	}
}

func TestCut(t *testing.T) {
	for _, c := range []struct {
		in   string
		n    int
		want string
	}{
		{"abc", 3, "abc"}, {"abcd", 3, "ab…"}, {"夜行船旅", 4, "夜行船旅"}, {"夜行船旅", 3, "夜行…"}, {"a bcd", 3, "a…"}, {"", 1, ""}, {"ab", 1, "…"}, {"👩\u200D🚀x", 3, "👩…"},
	} {
		if got := Cut(c.in, c.n); got != c.want {
			t.Errorf("Cut(%q, %d) = %q, want %q", c.in, c.n, got, c.want)
		}
	}
}

func TestShown(t *testing.T) {
	for _, c := range [][2]string{
		{"side b/03 Fog Bell.mp3", "side b/03 Fog Bell.mp3"}, {`C:\new\tide.wav`, `C:\new\tide.wav`}, {"  two  blanks ", "  two  blanks "},
		{"new\nline.wav", `new\nline.wav`}, {"\xe6\xf8.wav", `\xe6\xf8.wav`}, {"a\x1b[2J", `a\x1b[2J`}, {"\u202Egpj", `\u202egpj`}, {"ø夜.wav", "ø夜.wav"}, {"x\uFFFDy", `x\ufffdy`},
	} {
		if got := Shown(c[0]); got != c[1] {
			t.Errorf("Shown(%+q) = %q, want %q", c[0], got, c[1])
		}
	}
}

// TestError: a missing file is told in one way, however it was looked for, and
// the cause can still be asked for.
func TestError(t *testing.T) {
	_, open := os.Open("there is no such file")
	_, list := os.ReadDir("there is no such file")
	move := os.Rename("there is no such file", "nor this")
	for _, err := range []error{open, list, move, fs.ErrNotExist, fmt.Errorf("outer: %w", open)} {
		got := Error(err)
		if got.Error() != "no such file or folder" || !errors.Is(got, fs.ErrNotExist) {
			t.Errorf("%v is told as %q", err, got)
		}
	}
	other := errors.New("something else")
	if Error(other) != other {
		t.Error("an unknown error was changed")
	}
}

func FuzzText(f *testing.F) {
	for _, s := range []string{"Fog Bell", "a\u202Eb", "\xff", "e\u0301\u0301\u0301\u0301\u0301", "\u0301\u0301\u0301\u0301\xcf\u0301", "\u200D", "x\U000E0041"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c := Text(s)
		if !utf8.ValidString(c) || Text(c) != c || strings.TrimSpace(c) != c || strings.Contains(c, "  ") || strings.ContainsFunc(c, Unfit) {
			t.Fatalf("%+q became %+q", s, c)
		}
		if short := Cut(c, 10); utf8.RuneCountInString(short) > 10 {
			t.Fatalf("%+q was cut to %+q", c, short)
		}
		if strings.ContainsFunc(Shown(s), Unfit) {
			t.Fatalf("%+q is shown as %+q", s, Shown(s))
		}
	})
}
