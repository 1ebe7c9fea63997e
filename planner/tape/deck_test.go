package tape

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// 3165 Hz from a tone of 3150 is 15/3150 = +0.476 %; 2985 from 3000 is -0.5 %.
// Ten minutes done in 9:54 is 600/594 - 1 = +1.01 %.
func TestSpeed(t *testing.T) {
	s, err := SpeedFromTone(ToneIEC, 3165, 3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "fast", s.Error, 0.00476, 0.00001)
	near(t, "within", s.Within, math.Hypot(3.0/3150, 0.002), 1e-9)
	s, err = SpeedFromTone(ToneService, 2985, 3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slow", s.Error, -0.005, 1e-9)
	s, err = SpeedFromLength(10*time.Minute, 594*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "timed", s.Error, 0.0101, 0.0001)
	near(t, "timed within", s.Within, 1.0/594, 1e-9)
	for _, bad := range []struct{ tone, read, within float64 }{
		{3150, 0, 5}, {3150, math.NaN(), 5}, {440, 440, 1}, {3150, 3150, -1}, {3150, 3150, math.Inf(1)}, {3150, 315, 5},
	} {
		if s, err := SpeedFromTone(bad.tone, bad.read, bad.within); err == nil {
			t.Errorf("%v taken as %+v", bad, s)
		}
	}
	for _, bad := range [][2]time.Duration{{0, 0}, {time.Hour, 50 * time.Minute}, {-time.Hour, time.Hour}, {time.Second, time.Second}, {math.MaxInt64, math.MaxInt64}} {
		if s, err := SpeedFromLength(bad[0], bad[1]); err == nil {
			t.Errorf("%v taken as %+v", bad, s)
		}
	}
}

// 200 nWb/m against 250: 20 log10(200/250) = -1.94 dB, and by the DIN method
// 20 log10(218/250) = -1.19 dB; both are in print. 160: -3.88 and -3.13.
func TestMeterOffset(t *testing.T) {
	for _, c := range []struct {
		zero         int
		printed, din float64
	}{{160, -3.88, -3.13}, {200, -1.94, -1.19}, {250, 0, 0}} {
		p, d, known := Deck{MeterZero: c.zero}.MeterOffset()
		near(t, "printed", p, c.printed, 0.005)
		near(t, "din", d, c.din, 0.005)
		if !known {
			t.Errorf("%d is not known", c.zero)
		}
	}
	if _, _, known := (Deck{}).MeterOffset(); known {
		t.Error("nothing said, but known")
	}
}

func TestDeckFile(t *testing.T) {
	head := "format = \"longside deck\"\nversion = 1\n"
	for _, c := range []struct{ what, file, says string }{
		{"empty", "", "no deck profile"},
		{"no TOML", "a = [[[", "line 1"},
		{"another format", "format = \"longside plan\"\nversion = 1", "no deck profile"},
		{"newer", "format = \"longside deck\"\nversion = 2\nnew = 1", "version 2"},
		{"older than any", "format = \"longside deck\"", "version 0"},
		{"unknown field", head + "heads = 3\nspeeed = 1", `line 4: "speeed"`},
		{"wrong kind", head + "heads = \"three\"", `line 3: "heads" cannot be of kind string`},
		{"swapped unit", head + "speed_error_pct = 101", "within 10 %"},
		{"no number", head + "speed_error_pct = nan", "within 10 %"},
		{"heads", head + "heads = 4", "4 heads"},
		{"stop", head + "auto_stop = \"yes\"", "none, lever or both hubs"},
		{"meter", head + "meter_zero_nwb_m = 320", "160, 200 or 250"},
		{"tape", head + "longest_tape = \"C900\"", "longest tape"},
		{"turn round", head + "auto_reverse = true\nturn_round_s = 600", "0 to 60"},
		{"one-way turn round", head + "turn_round_s = 1", "without auto-reverse"},
		{"counter of both", head + "counter = \"time\"\ncounter_ratio = 0.5", "counter of time"},
		{"huge", strings.Repeat("#", mostDeckFile+1), "too large"},
		{"a name that moves the cursor", head + "name = \"a\\u001b[31mb\"", "name that cannot be printed"},
		{"control", head + "noise_reduction = [\"B\\u0007\"]", "noise reduction"},
	} {
		if d, err := ParseDeck([]byte(c.file)); err == nil {
			t.Errorf("%s: taken as %+v", c.what, d)
		} else if !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "struct") {
			t.Errorf("%s: %q does not say %q", c.what, err, c.says)
		}
	}
	d, err := ParseDeck([]byte(head + "speed_error_pct = -0.4\ncounter_ratio = 0.512\nauto_stop = 'both hubs'"))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "speed", d.SpeedError, -0.004, 1e-12)
	if r, known := d.CounterRatio(); r != 0.512 || !known || d.AutoStop != StopBothHubs {
		t.Errorf("%+v", d)
	}
	if r, known := (Deck{}).CounterRatio(); r != 0.5 || known {
		t.Errorf("default ratio %g, known %v", r, known)
	}
	if r, _ := (Deck{Counting: CountsTime}).CounterRatio(); r != 0 {
		t.Errorf("a counter of time has the ratio %g", r)
	}
}

// Law: a profile that is written is read back the same, to a thousandth.
func TestDeckRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		thousandths := func(name string, most int) float64 {
			return float64(rapid.IntRange(0, most*1000).Draw(t, name)) / 1000
		}
		d := Deck{
			Name:       rapid.StringMatching(`\PC{0,200}`).Draw(t, "name"),
			SpeedError: thousandths("speed", 10) / 100, SpeedWithin: thousandths("within", 10) / 100,
			Counting: CountsTurns, Ratio: thousandths("ratio", 10), RatioWithin: thousandths("ratio within", 1),
			LongestTape: rapid.SampledFrom([]string{"", "C60", "C90"}).Draw(t, "longest"),
			Heads:       rapid.SampledFrom([]int{0, 2, 3}).Draw(t, "heads"),
			AutoStop:    rapid.SampledFrom([]AutoStop{StopUnknown, StopNone, StopLever, StopBothHubs}).Draw(t, "stop"),
			AutoReverse: true, TurnRound: time.Duration(rapid.IntRange(0, 60000).Draw(t, "turn")) * time.Millisecond,
			Noise:     rapid.SampledFrom([][]string{nil, {"B"}, {"B", "C"}}).Draw(t, "noise"),
			MeterZero: rapid.SampledFrom([]int{0, 160, 200, 250}).Draw(t, "meter"),
		}
		file, err := d.TOML()
		if err != nil {
			t.Fatal(err)
		}
		got, err := ParseDeck(file)
		if err != nil {
			t.Fatalf("%v\n%s", err, file)
		}
		if math.Abs(got.SpeedError-d.SpeedError) > 1e-12 || math.Abs(got.SpeedWithin-d.SpeedWithin) > 1e-12 {
			t.Fatalf("%+v, want %+v", got, d)
		}
		got.SpeedError, got.SpeedWithin = d.SpeedError, d.SpeedWithin
		if !reflect.DeepEqual(got, d) {
			t.Fatalf("%+v, want %+v", got, d)
		}
	})
}

// Law: a file that is taken is a deck that passes its check and can be written.
func FuzzParseDeck(f *testing.F) {
	f.Add([]byte("format = \"longside deck\"\nversion = 1\nheads = 3\n"))
	f.Add([]byte("format = \"longside deck\"\nversion = 1\ncounter_ratio = 0.5\nnoise_reduction = ['B']\n"))
	f.Fuzz(func(t *testing.T, file []byte) {
		d, err := ParseDeck(file)
		if err != nil {
			return
		}
		if err := d.Check(); err != nil {
			t.Fatal(err)
		}
		again, err := d.TOML()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ParseDeck(again); err != nil {
			t.Fatalf("%v\n%s", err, again)
		}
	})
}
