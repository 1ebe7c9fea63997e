package main

import (
	"os"
	"testing"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/fontscan"

	"longside/planner/paper"
)

// The better font comes first: the language's own, then by weight, then upright,
// proportional and without serifs.
func TestFontRank(t *testing.T) {
	plain := font.Aspect{Style: font.StyleNormal, Weight: font.WeightNormal}
	bold := font.Aspect{Style: font.StyleNormal, Weight: font.WeightBold}
	for _, c := range []struct {
		better, worse fontscan.Footprint
		weight        paper.Weight
		lang          string
	}{
		{fontscan.Footprint{Family: "anysanscjkjp", Aspect: plain}, fontscan.Footprint{Family: "anysanscjksc", Aspect: plain}, paper.Regular, "ja"},
		{fontscan.Footprint{Family: "anysanscjksc", Aspect: plain}, fontscan.Footprint{Family: "anysanscjkjp", Aspect: plain}, paper.Regular, "zh-Hans"},
		{fontscan.Footprint{Family: "anysanscjktc", Aspect: plain}, fontscan.Footprint{Family: "anysanscjksc", Aspect: plain}, paper.Regular, "zh-Hant"},
		{fontscan.Footprint{Family: "anysanscjkhk", Aspect: plain}, fontscan.Footprint{Family: "anysanscjktc", Aspect: plain}, paper.Regular, "zh-HK"},
		{fontscan.Footprint{Family: "anysanscjkkr", Aspect: bold}, fontscan.Footprint{Family: "anysanscjksc", Aspect: plain}, paper.Regular, "ko-KR"},
		{fontscan.Footprint{Family: "any", Aspect: plain}, fontscan.Footprint{Family: "any", Aspect: bold}, paper.Regular, ""},
		{fontscan.Footprint{Family: "any", Aspect: bold}, fontscan.Footprint{Family: "any", Aspect: plain}, paper.Bold, ""},
		{fontscan.Footprint{Family: "any", Aspect: plain}, fontscan.Footprint{Family: "anymono", Aspect: plain}, paper.Regular, ""},
		{fontscan.Footprint{Family: "anysans", Aspect: plain}, fontscan.Footprint{Family: "anyserif", Aspect: plain}, paper.Regular, ""},
	} {
		if a, b := fontRank(c.better, c.weight, c.lang), fontRank(c.worse, c.weight, c.lang); a >= b {
			t.Errorf("%s %d for %q: rank %d, %s has %d", c.better.Family, c.weight, c.lang, a, c.worse.Family, b)
		}
	}
}

// A letter that the built-in face lacks comes from the system where a font there
// holds it, with an outline; what none holds is said.
func TestSystemFonts(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	ff := fontFlags{lang: "ja"}
	f, err := ff.load()
	if err != nil {
		t.Fatal(err)
	}
	l := f.Line("夜の港", paper.Regular)
	if len(l.Missing()) > 0 {
		if os.Getenv("CI") != "" {
			t.Fatalf("no font on this system holds %q: .ci/run must install one", string(l.Missing()))
		}
		t.Skipf("no font on this system holds %q: this test is skipped", string(l.Missing()))
	}
	d := &paper.Document{}
	d.Add(40, 20).Text(5, 10, l, 12, paper.Black, paper.Left)
	if boxes := d.Pages[0].Texts(); len(boxes) != 1 || boxes[0].W < 9 || boxes[0].W > 13 {
		t.Errorf("three full-width letters at 12 pt are 12.7 mm wide at the most, drawn as %+v", boxes)
	}
	if got := f.Line("\U000E0FFF\uFFFF\U0010FFFD", paper.Regular).Missing(); len(got) > 0 {
		t.Errorf("what is no letter is missed: %q", got)
	}
}
