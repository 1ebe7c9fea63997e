package shelf

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"longside/planner/tape"
)

var today = Date{Year: 2026, Month: 11, Day: 25}

// crew is the shelf of a night ferry's crew.
func crew() Shelf {
	return Shelf{Tapes: []Entry{
		{Label: "Mole 1", Name: "C90", Type: "I", Year: 1994, Condition: tape.Sealed},
		{Label: "Mole 2", Name: "C90", Type: "II", Year: 1991, Condition: tape.Used,
			Side: 46*time.Minute + 12300*time.Millisecond, Thickness: 11.6, Hub: 11.1,
			Calibrations: []Calibration{{Deck: "galley deck", Date: today, Level400: -0.5, Bias10k: 0.3, Shortfall: 3, Note: "control at its end"}},
			Recorded:     []Recording{{Title: "Fog Signals", Side: "A", Date: today}}},
		{Label: "Long one", Name: "C120", Type: "I", Condition: tape.Sealed},
		{Label: "Greasy", Name: "C60", Type: "I", Condition: tape.Worn},
		{Label: "Kept", Name: "C60", Booked: &Booking{For: "The Crossing", Date: today}},
	}}
}

func TestRoundTrip(t *testing.T) {
	data, err := crew().TOML()
	if err != nil {
		t.Fatal(err)
	}
	got, err := Parse(data)
	if err != nil {
		t.Fatalf("%v\n%s", err, data)
	}
	if !reflect.DeepEqual(got, crew()) {
		t.Errorf("read back\n%+v\nwrote\n%+v\n%s", got, crew(), data)
	}
	for _, says := range []string{"measured_side = '46:12.3'", "date = 2026-11-25", "for = 'The Crossing'", "[[tape.recorded]]"} {
		if !strings.Contains(string(data), says) {
			t.Errorf("the file does not hold %s:\n%s", says, data)
		}
	}
}

// Law: a shelf that passes its check is read back as it was written.
func TestRoundTripLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Shelf
		for range rapid.IntRange(0, 5).Draw(t, "tapes") {
			e := Entry{
				Label:     rapid.String().Draw(t, "label"),
				Name:      rapid.SampledFrom([]string{"C46", "C60", "C90", "C120"}).Draw(t, "name"),
				Type:      rapid.SampledFrom([]string{"", "I", "II", "IV"}).Draw(t, "type"),
				Condition: rapid.SampledFrom([]tape.Condition{"", "sealed", "used", "worn"}).Draw(t, "condition"),
				Side:      time.Duration(rapid.IntRange(0, 700).Draw(t, "side")) * 100 * time.Millisecond,
				Thickness: tape.Micrometres(float64(rapid.IntRange(0, 1000).Draw(t, "um")) / 100),
			}
			if rapid.Bool().Draw(t, "booked") {
				e.Booked = &Booking{For: rapid.String().Draw(t, "for"), Date: today}
			}
			_ = s.Add(e) // a label that will not do is refused: that is Check's part
		}
		data, err := s.TOML()
		if err != nil {
			t.Fatal(err)
		}
		got, err := Parse(data)
		if err != nil {
			t.Fatalf("%v\n%s", err, data)
		}
		if !reflect.DeepEqual(got, s) {
			t.Fatalf("read back\n%+v\nwrote\n%+v", got, s)
		}
	})
}

func TestParseRefuses(t *testing.T) {
	head := "format = 'longside shelf'\nversion = 1\n"
	one := head + "[[tape]]\nlabel = 'Mole 1'\nname = 'C90'\n"
	for _, c := range []struct{ what, file, says string }{
		{"empty", "", "no shelf"},
		{"half a file", one[:len(one)-4], "line 5"},
		{"a plan", "format = 'longside plan'\nversion = 1", "no shelf"},
		{"newer", "format = 'longside shelf'\nversion = 2\n[new]", "version 2"},
		{"unknown field", one + "colour = 'red'", `line 6: "tape.colour"`},
		{"wrong kind", one + "year = 'old'", "line 6"},
		{"no label", head + "[[tape]]\nname = 'C90'", "its label is empty"},
		{"no name", head + "[[tape]]\nlabel = 'x'", `"" is no tape length`},
		{"two alike", one + "[[tape]]\nlabel = 'mole  1'\nname = 'C60'", "two have this label"},
		{"no such type", one + "type = '2'", "I, II, III or IV"},
		{"no such condition", one + "condition = 'mint'", "sealed, used or worn"},
		{"before there were any", one + "year = 1900", "year 1900"},
		{"a wrong unit", one + "measured_thickness_um = 0.012", "4 to 25 um"},
		{"swapped", one + "measured_hub_radius_mm = 22", "radius, not the diameter"},
		{"negative", one + "measured_thickness_um = -12", "4 to 25 um"},
		{"no side", one + "measured_side = '46'", "minutes and seconds"},
		{"a short side", one + "measured_side = '0:01'", "a side of 0:01"},
		{"99 seconds", one + "measured_side = '46:99'", "minutes and seconds"},
		{"no such day", one + "[tape.booked]\nfor = 'x'\ndate = 2026-02-30", "impossible date"},
		{"no day", one + "[tape.booked]\nfor = 'x'", "no date"},
		{"absurd offset", one + "[[tape.calibration]]\ndate = 2026-11-25\nlevel_400hz_db = 300", "300 dB"},
		{"no number", one + "[[tape.calibration]]\ndate = 2026-11-25\nlevel_400hz_db = nan", "NaN dB"},
		{"bell", one + "[tape.booked]\nfor = \"\\u0007\"\ndate = 2026-11-25", "cannot be printed"},
	} {
		s, err := Parse([]byte(c.file))
		if err == nil {
			t.Errorf("%s: taken as %+v", c.what, s)
		} else if !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "struct") {
			t.Errorf("%s: %q does not say %q", c.what, err, c.says)
		}
	}
}

func TestPick(t *testing.T) {
	for _, c := range []struct {
		what string
		w    Want
		want string // labels in order
	}{
		{"any that is good", Want{}, "Mole 1"},
		{"some doubt is fine", Want{AtMost: tape.Possible, Deck: tape.Deck{LongestTape: "C120"}}, "Mole 1, Long one"},
		{"doubt on a deck with a lever", Want{AtMost: tape.Possible, Deck: tape.Deck{AutoStop: tape.StopLever}}, "Mole 1"},
		{"one length", Want{Names: []string{"c60"}, For: "The Crossing"}, "Kept"},
		{"booked for another", Want{Names: []string{"C60"}, For: "The Return"}, ""},
		{"type II with its recording", Want{Types: []string{"II"}, Reuse: true, AtMost: tape.Probable}, "Mole 2"},
		{"type II without", Want{Types: []string{"II"}, AtMost: tape.Probable}, ""},
		{"worn by name", Want{Conditions: []tape.Condition{tape.Worn}, AtMost: tape.Probable}, "Greasy"},
	} {
		offers, refused := crew().Pick(c.w)
		var got []string
		for _, o := range offers {
			got = append(got, o.Entry.Label)
		}
		if s := strings.Join(got, ", "); s != c.want {
			t.Errorf("%s: %s, want %s (refused %v)", c.what, s, c.want, refused)
		}
		if len(offers)+len(refused) != len(crew().Tapes) {
			t.Errorf("%s: a tape is neither offered nor refused", c.what)
		}
		for _, r := range refused {
			if r.Why == "" {
				t.Errorf("%s: %s is refused without a reason", c.what, r.Label)
			}
		}
	}
	// A used tape keeps its own limits: what was timed and measured of it.
	offers, _ := crew().Pick(Want{Names: []string{"C90"}, Reuse: true, AtMost: tape.Probable})
	if o := offers[len(offers)-1]; o.Timed != 2772300*time.Millisecond || o.Tape.Thickness != 11.6 || !o.Used {
		t.Errorf("%+v", o)
	}
}

func TestBook(t *testing.T) {
	s := crew()
	for _, c := range []struct {
		label, title string
		reuse        bool
		says         string
	}{
		{"mole 1", "The Return", false, ""},
		{"MOLE 1", "The Return", false, ""}, // again: the same booking
		{"Mole 1", "Another", false, "booked for"},
		{"Mole 2", "The Return", false, "would be lost"},
		{"Mole 2", "The Return", true, ""},
		{"Mole 9", "The Return", false, "no tape"},
		{"Long one", "", false, "empty"},
	} {
		err := s.Book(c.label, c.title, today, c.reuse)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%s for %q: %v, want %q", c.label, c.title, err, c.says)
		}
	}
	if err := s.Remove("greasy"); err != nil || len(s.Tapes) != 4 {
		t.Errorf("%v, %d tapes left", err, len(s.Tapes))
	}
	if err := s.Add(Entry{Label: "MOLE 2", Name: "C60"}); err == nil {
		t.Error("a second Mole 2 was put on the shelf")
	}
}

// Law: what Parse takes passes its check, and is the same after writing it.
func FuzzParse(f *testing.F) {
	data, err := crew().TOML()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte("format = 'longside shelf'\nversion = 1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse(data)
		if err != nil {
			return
		}
		again, err := s.TOML()
		if err != nil {
			t.Fatal(err)
		}
		got, err := Parse(again)
		if err != nil {
			t.Fatalf("%v\n%s", err, again)
		}
		if len(got.Tapes) != len(s.Tapes) {
			t.Fatalf("%d tapes, want %d", len(got.Tapes), len(s.Tapes))
		}
	})
}
