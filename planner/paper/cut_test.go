package paper

import (
	"strings"
	"testing"
)

// A text from right to left is cut after a whole word, and the dots stand where
// the reading ends: left of the last letter. Where such words stand in a line
// from left to right, the dots stand left of them and right of what is before.
func TestCutRightToLeft(t *testing.T) {
	f := testFonts(t)
	for _, c := range []struct {
		text  string
		width float64
		want  string // what is kept
		rtl   bool
		left  string // the letter that stands just right of the dots
	}{
		{"אור רחוק על המים השקטים של הלילה", 24, "אור רחוק על המים…", true, "ם"},
		{"ضوء بعيد على الماء الهادئ في الليل", 24, "ضوء بعيد على الماء…", true, "ء"},
		{"אור 12 על המים 250 מטר מן החוף", 27, "אור 12 על המים 250…", true, "2"},
		{"Radio אור רחוק על המים השקטים", 26, "Radio אור רחוק על…", false, "ל"},
		{"לילה Night Crossing וגשם", 24, "לילה Night…", true, "ה"}, // within the Latin words the reading ends at their right,
	} {
		l, cut := f.Fit(c.text, Regular, 8, c.width)
		if !cut || l.Text() != c.want || l.RightToLeft() != c.rtl {
			t.Errorf("%q in %g mm: %q, cut %v, right to left %v; want %q", c.text, c.width, l.Text(), cut, l.RightToLeft(), c.want)
			continue
		}
		dots, next := -1.0, glyph{x: 1e9}
		for _, g := range l.glyphs {
			if g.text == "…" {
				dots = g.x
			}
		}
		for _, g := range l.glyphs {
			if g.x > dots && g.x < next.x && strings.TrimSpace(g.text) != "" {
				next = g
			}
		}
		if next.text != c.left {
			t.Errorf("%q: right of the dots stands %q, want %q", c.want, next.text, c.left)
		}
	}
}

// Every line of a text has the direction of the whole: a line of Latin letters
// within Hebrew begins at the right, and its full stop stands at its left end.
func TestWrapKeepsDirection(t *testing.T) {
	f := testFonts(t)
	lines, cut := f.Wrap("אור רחוק על המים Night Crossing. וגשם", Regular, 8, 27, 3)
	if cut || len(lines) < 2 {
		t.Fatalf("%d lines, cut %v", len(lines), cut)
	}
	for i, l := range lines {
		if !l.RightToLeft() {
			t.Errorf("line %d, %q, runs from left to right", i+1, l.Text())
		}
	}
	stop, n := -1.0, -1.0
	for _, l := range lines {
		for _, g := range l.glyphs {
			switch g.text {
			case ".":
				stop = g.x
			case "N":
				n = g.x
			}
		}
	}
	if stop < 0 || stop > n {
		t.Errorf("the full stop stands at %.0f, the N of its sentence at %.0f", stop, n)
	}
}
