package tape

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestJudge(t *testing.T) {
	named := func(n string) Tape { tp, _ := Named(n); return tp }
	both, lever := Deck{AutoStop: StopBothHubs, LongestTape: "C120"}, Deck{AutoStop: StopLever}
	for _, c := range []struct {
		what  string
		f     Facts
		word  string
		first Risk // "" for none
	}{
		{"a new C90", Facts{Tape: named("C90")}, "good", ""},
		{"a sealed C60 on any deck", Facts{Tape: named("C60"), Deck: lever, Condition: Sealed}, "good", ""},
		{"a C110 on a deck made for it", Facts{Tape: named("C110"), Deck: both}, "good", Jam},
		{"a C120 on a deck made for it", Facts{Tape: named("C120"), Deck: both}, "fair", Uneven},
		// As the owner of a deck with three heads tried it: nothing held against the tape.
		{"a C120 into its tail on a sound deck", Facts{Tape: named("C120"), Deck: Deck{AutoStop: StopBothHubs, Heads: 3}, Ends: 59 * time.Minute}, "fair", Jam},
		{"a C120 into its tail on a deck unknown", Facts{Tape: named("C120"), Ends: 59 * time.Minute}, "fair", Jam},
		{"a C110 on a sound deck", Facts{Tape: named("C110"), Deck: Deck{AutoStop: StopBothHubs, Heads: 3}, Years: 30}, "fair", Uneven},
		{"a C110 known to work", Facts{Tape: named("C110"), Deck: Deck{AutoStop: StopBothHubs, Heads: 3}, Years: 30, Condition: Used, Wound: true, PlayedWell: true, Calibrates: true}, "good", Jam},
		{"a C120 known to work", Facts{Tape: named("C120"), Deck: Deck{AutoStop: StopBothHubs, Heads: 3, LongestTape: "C120"}, Wound: true, PlayedWell: true, Calibrates: true}, "fair", Print},
		{"a C120 on a deck with a lever", Facts{Tape: named("C120"), Deck: lever}, "careful", Jam},
		{"a C180", Facts{Tape: named("C180"), Deck: both}, "careful", Jam},
		{"a worn C60", Facts{Tape: named("C60"), Condition: Worn}, "fair", Uneven},
		{"an old sealed C120", Facts{Tape: named("C120"), Deck: both, Years: 30, Condition: Sealed}, "fair", Uneven},
		{"a C60 that falls 3 dB short", Facts{Tape: named("C60"), Shortfall: 3}, "fair", Output},
	} {
		j := Judge(c.f)
		var first Risk
		if len(j.Doubts) > 0 {
			first = j.Doubts[0].Risk
		}
		if j.Word() != c.word || first != c.first {
			t.Errorf("%s: %s, first %q; want %s, %q", c.what, j.Word(), first, c.word, c.first)
		}
	}
	// A C90 timed at 46:12 is no longer tape to the deck's manual.
	long := named("C90").OfSide(46*time.Minute + 12*time.Second)
	if j := Judge(Facts{Tape: long, Deck: Deck{LongestTape: "C90"}}); len(j.Doubts) > 0 {
		t.Errorf("a C90 of 46:12 is doubted: %+v", j.Doubts)
	}
	j := Judge(Facts{Tape: named("C120")})
	for _, d := range j.Doubts {
		if d.Risk == Stretch && !strings.Contains(d.Do[0], "last 5:52") {
			t.Errorf("%q does not say how much to leave blank (351.8 s of a C120)", d.Do[0])
		}
	}
}

// Law: worse facts never give a better judgement, and no doubt is without
// reason and remedy.
func TestJudgeIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := []string{"C60", "C90", "C100", "C110", "C120", "C150", "C180"}
		tp, _ := Named(rapid.SampledFrom(names).Draw(t, "tape"))
		f := Facts{
			Tape: tp, Years: rapid.IntRange(0, 50).Draw(t, "years"),
			Condition: rapid.SampledFrom([]Condition{Unsaid, Sealed, Used, Worn}).Draw(t, "condition"),
			Deck: Deck{AutoStop: rapid.SampledFrom([]AutoStop{StopUnknown, StopNone, StopLever, StopBothHubs}).Draw(t, "stop"),
				LongestTape: rapid.SampledFrom([]string{"", "C60", "C90", "C120"}).Draw(t, "longest")},
			Shortfall: rapid.Float64Range(0, 6).Draw(t, "short"),
			Ends:      time.Duration(rapid.Int64Range(0, int64(tp.Side)).Draw(t, "ends")),
			Wound:     rapid.Bool().Draw(t, "wound"), PlayedWell: rapid.Bool().Draw(t, "played"), Calibrates: rapid.Bool().Draw(t, "calibrates"),
		}
		f.Deck.Heads = rapid.SampledFrom([]int{0, 2, 3}).Draw(t, "heads")
		worse := f
		switch rapid.IntRange(0, 9).Draw(t, "what") {
		case 0:
			worse.Years += 20
		case 1:
			worse.Condition = Worn
		case 2:
			worse.Deck.AutoStop = StopLever
		case 3:
			worse.Deck.LongestTape = "C46"
		case 4:
			worse.Shortfall += 1
		case 5:
			worse.Ends = tp.Side
		case 6:
			worse.Wound = false
		case 7:
			worse.PlayedWell = false
		case 8:
			worse.Calibrates = false
		case 9:
			worse.Deck.Heads = 2
		}
		a, b := Judge(f), Judge(worse)
		if b.Likely < a.Likely {
			t.Fatalf("%+v is judged %s, worse %+v %s", f, a.Word(), worse, b.Word())
		}
		// Probable is kept for the worn, the weak, the very thin, and a simple stop.
		grave := f.Condition == Worn || f.Shortfall >= WeakOutput || tp.Thickness < VeryThin || f.Deck.AutoStop == StopLever || f.Deck.AutoStop == StopNone
		if a.Likely == Probable && !grave {
			t.Fatalf("%+v is judged %s", f, a.Word())
		}
		for i, d := range b.Doubts {
			if len(d.Because) == 0 || len(d.Do) == 0 || i > 0 && d.Likely > b.Doubts[i-1].Likely {
				t.Fatalf("%+v", b.Doubts)
			}
		}
	})
}
