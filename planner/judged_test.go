package planner

import (
	"strings"
	"testing"
	"time"

	"longside/media/verify"
	"longside/planner/tape"
)

func figureOf(v float64) *verify.Figure { return &verify.Figure{Value: v, Within: 0.01} }

// Each limit of DIN 45 500 is kept just inside it and not kept just outside.
func TestLimits(t *testing.T) {
	base := func() verify.Findings {
		return verify.Findings{Channels: 1, Flutter: figureOf(0.1), FlutterRaw: figureOf(0.2), Bias: []*verify.Figure{figureOf(0)}, MOL: []*verify.Figure{figureOf(4)},
			MOLBound: []string{""}, NoiseTo: []float64{4}, Noise468: []*verify.Figure{figureOf(-40)}, NoiseA: []*verify.Figure{figureOf(-50)}, NoiseFlat: []*verify.Figure{figureOf(-47)},
			Response: [][]verify.Tone{{{Hz: 40, Figure: *figureOf(-6.9)}, {Hz: 400, Figure: *figureOf(0)}, {Hz: 6300, Figure: *figureOf(-4.9)}, {Hz: 12500, Figure: *figureOf(-6.9)}, {Hz: 16000, Figure: *figureOf(-20)}}},
			Balance:  figureOf(1.9), Crosstalk: []verify.Crosstalk{{From: "left", Hz: 1000, Figure: *figureOf(20.1)}, {From: "left", Hz: 6300, Figure: *figureOf(15.1)}}}
	}
	for _, c := range []struct {
		what   string
		change func(*verify.Findings)
	}{
		{"speed", func(f *verify.Findings) { f.Speed30s = -1.6 }},
		{"flutter, weighted", func(f *verify.Findings) { f.Flutter.Value = 0.21 }},
		{"response at -20 dB", func(f *verify.Findings) { f.Response[0][0].Value = -7.1 }},
		{"response at -20 dB", func(f *verify.Findings) { f.Response[0][2].Value = -5.1 }},
		{"response at -20 dB", func(f *verify.Findings) { f.Response[0][3].Value = -7.1 }},
		{"noise, unweighted", func(f *verify.Findings) { f.NoiseFlat[0].Value = -45.9 }},
		{"balance", func(f *verify.Findings) { f.Balance.Value = -2.1 }},
		{"crosstalk", func(f *verify.Findings) { f.Crosstalk[0].Value = 19.9 }},
		{"crosstalk", func(f *verify.Findings) { f.Crosstalk[1].Value = 14.9 }},
	} {
		keeps := func(f verify.Findings) *bool {
			for _, j := range JudgeTest(f, TestTerms{}) {
				if j.What == c.what {
					return j.Keeps
				}
			}
			return nil
		}
		f := base()
		if k := keeps(f); k == nil || !*k {
			t.Errorf("%s: not kept, just inside", c.what)
		}
		c.change(&f)
		if k := keeps(f); k == nil || *k {
			t.Errorf("%s: kept, just outside", c.what)
		}
	}
	// 16 kHz is outside of the field.
	for want, db := range map[string]float64{"a little more bias": 1.2, "a little less bias": -1.2, "suits": 0.8} {
		f := base()
		f.Bias[0].Value = db
		found := false
		for _, j := range JudgeTest(f, TestTerms{}) {
			found = found || strings.Contains(j.Advice, want)
		}
		if !found {
			t.Errorf("10 kHz at %+.1f dB: no word of %q", db, want)
		}
	}
}

// What one deck cancels is said, and an echo is the pack's only where a turn is.
func TestWhatCannotBeKnown(t *testing.T) {
	c90, err := tape.Named("C90")
	if err != nil {
		t.Fatal(err)
	}
	floor := -70.0
	turn, _, _ := c90.PrintDelay(10*time.Minute, true, false)
	f := verify.Findings{Channels: 2, Azimuth: figureOf(10), Markers: []float64{0, 0}, EchoFloor: &floor,
		Echoes: []verify.Echo{{Marker: 1, DelayS: turn.Seconds(), Figure: *figureOf(-50)}, {Marker: 1, DelayS: 1.2 * turn.Seconds(), Figure: *figureOf(-50)}}}
	say := func(terms TestTerms) string {
		var all []string
		for _, j := range JudgeTest(f, terms) {
			all = append(all, j.Says+" "+j.Advice)
		}
		return strings.Join(all, "\n")
	}
	same := say(TestTerms{Heads: 2, Tape: &c90, At: 10 * time.Minute})
	for _, want := range []string{"nothing of its true speed", "its own slant cancels", "a turn of the pack is", "not the pack's"} {
		if !strings.Contains(same, want) {
			t.Errorf("not said: %q in\n%s", want, same)
		}
	}
	if other := say(TestTerms{Other: true}); strings.Contains(other, "cancels") {
		t.Errorf("another deck cancels nothing:\n%s", other)
	}
}

// A deck that plays fast is through with a side sooner: only a capture that lacks
// some of it is said to end too early.
func TestCaptureEndsByTheDecksClock(t *testing.T) {
	p := Plan{Tapes: []Tape{{Sides: []Side{{Side: "A", Tracks: []Track{
		{Title: "Lamp", StartS: Seconds(7 * time.Second), LengthS: Seconds(3000 * time.Second)}}}}}}}
	for _, c := range []struct {
		speed, length float64 // %, s of the capture from pressing record
		early         bool
	}{
		{0, 3007, false}, {0, 3005, true},
		{2, 3007 / 1.02, false}, {2, 3004 / 1.02, true},
		{-2, 3007 / 0.98, false}, {-2, 3007, true},
	} {
		v := JudgeSide(verify.SideFindings{Channels: 2, RecordS: 4, LengthS: 4 + c.length, Speed: figureOf(c.speed),
			Tracks: []verify.Heard{{Title: "Lamp", Judged: true, Found: true, Whole: true, Speed: figureOf(c.speed)}}}, p, 0, 0)
		if early := strings.Contains(strings.Join(v.Notes, " "), "capture all of it"); early != c.early {
			t.Errorf("%+v: %q", c, v.Notes)
		}
	}
}
