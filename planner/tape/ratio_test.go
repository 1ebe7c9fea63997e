package tape

import (
	"math"
	"strings"
	"testing"
	"time"
)

// Full sides of the published table at 0.525: C60 401, C90 601, C120 802.
func TestLearnRatio(t *testing.T) {
	at := func(name string, d time.Duration, c float64) Past {
		tp, _ := Named(name)
		return Past{tp, d, c}
	}
	l, err := LearnRatio([]Past{
		at("C60", 30*time.Minute, 401), at("C90", 45*time.Minute, 601), at("C120", time.Hour, 802),
	}, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ratio", l.Ratio, 0.525, 0.0005)
	for _, off := range l.Off {
		near(t, "residual", off, 0, 0.7)
	}
	if !(l.Within > 0 && l.Within < 0.05) {
		t.Errorf("within %g", l.Within)
	}
	// One reading is enough, and a fast deck has run more tape by the same clock.
	one, err := LearnRatio([]Past{at("C90", 10*time.Minute, 174)}, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "one reading", one.Ratio, 174/347.555, 1e-5)
	fast, _ := LearnRatio([]Past{at("C90", 10*time.Minute, 174)}, 0.02)
	if !(fast.Ratio < one.Ratio) {
		t.Errorf("on a fast deck the same count means a smaller ratio: %g, %g", fast.Ratio, one.Ratio)
	}
	for _, c := range []struct {
		what string
		past []Past
		says string
	}{
		{"none", nil, "no counter reading"},
		{"zero time", []Past{at("C90", 0, 10)}, "on the side"},
		{"after the end", []Past{at("C60", time.Hour, 500)}, "on the side"},
		{"zero count", []Past{at("C60", time.Minute, 0)}, "above zero"},
		{"no number", []Past{at("C60", time.Minute, math.NaN())}, "above zero"},
		{"too many counts", []Past{at("C60", time.Minute, 900)}, "counts a turn"},
		{"no tape", []Past{{Tape{}, time.Minute, 9}}, "a side of 0:00"},
		{"a slip", []Past{at("C90", 10*time.Minute, 174), at("C90", 20*time.Minute, 308), at("C90", 40*time.Minute, 250)}, "the count 250 at 40:00 of a C90 contradicts"},
		{"a slip of two", []Past{at("C90", 10*time.Minute, 174), at("C90", 40*time.Minute, 420)}, "174 at 10:00 of a C90 and the count 420 at 40:00"},
	} {
		if l, err := LearnRatio(c.past, 0); err == nil {
			t.Errorf("%s: taken as %+v", c.what, l)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.what, err, c.says)
		}
	}
}
