package paper

import (
	"slices"
	"testing"
)

// One sentence a script, naming where the letters stand and a font that holds
// them. Scripts and blocks are those of the Unicode standard's tables.
func TestLetters(t *testing.T) {
	f := testFonts(t)
	for _, c := range []struct {
		lang, text, want string
	}{
		{"", "ทะเล", "Thai letters print as boxes, in A1: no font found holds ท (U+0E17), ะ (U+0E30), เ (U+0E40) and ล (U+0E25) as an outline; Noto Sans Thai does"},
		{"", "नाव", "Devanagari letters print as boxes, in A1: no font found holds न (U+0928), U+093E and व (U+0935) as an outline; Noto Sans Devanagari does"},
		{"", "🌊🚢", "emoji print as boxes, in A1: no font found holds 🌊 (U+1F30A) and 🚢 (U+1F6A2) as an outline; Noto Emoji (a colour font has no outlines to print) does"},
		{"", "夜", "Han letters print as boxes, in A1: no font found holds 夜 (U+591C) as an outline; Noto Sans CJK (JP, KR, SC or TC, by the language of the titles) does"},
		{"ja", "夜", "Han letters print as boxes, in A1: no font found holds 夜 (U+591C) as an outline; Noto Sans CJK JP does"},
		{"zh-Hant", "夜", "Han letters print as boxes, in A1: no font found holds 夜 (U+591C) as an outline; Noto Sans CJK TC does"},
		{"", "བོད", "Tibetan letters print as boxes, in A1: no font found holds བ (U+0F56), U+0F7C and ད (U+0F51) as an outline; Noto Serif Tibetan does"},
		{"", "夜港灯船波浪海", "Han letters print as boxes, in A1: no font found holds 夜 (U+591C), 港 (U+6E2F), 灯 (U+706F), 船 (U+8239), 波 (U+6CE2), 浪 (U+6D6A) and 1 more as an outline; Noto Sans CJK (JP, KR, SC or TC, by the language of the titles) does"},
		{"", "Bell Buoy", ""},
	} {
		f.SetLanguage(c.lang)
		l := f.Letters()
		l.Look("A1", f.Line(c.text, Regular))
		got := ""
		for _, n := range l.Notes() {
			got += n.Says
			if n.Help != HelpFont {
				t.Errorf("%q: help %q", c.text, n.Help)
			}
		}
		if got != c.want {
			t.Errorf("%q, language %q:\n%s, want\n%s", c.text, c.lang, got, c.want)
		}
	}
	l := f.Letters()
	l.Look("the title", f.Line("ทะเล 夜", Regular))
	for _, where := range []string{"A1", "A2", "A3", "A4", "A5", "A6", "B1"} {
		l.Look(where, f.Line("นาวา", Bold), f.Line("ว", Bold))
	}
	notes := l.Notes()
	if len(notes) != 2 || !slices.ContainsFunc(notes, func(n Note) bool {
		return n.Says[:85] == "Thai letters print as boxes, in the title, A1, A2, A3, A4, A5 and 2 more: no font fou"
	}) {
		t.Errorf("%+v", notes)
	}
}
