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
		{"a C120 on a deck made for it", Facts{Tape: named("C120"), Deck: both}, "fair", Jam},
		{"a C120 on a deck with a lever", Facts{Tape: named("C120"), Deck: lever}, "careful", Jam},
		{"a C180", Facts{Tape: named("C180"), Deck: both}, "careful", Jam},
		{"a worn C60", Facts{Tape: named("C60"), Condition: Worn}, "fair", Uneven},
		{"an old sealed C120", Facts{Tape: named("C120"), Deck: both, Years: 30, Condition: Sealed}, "fair", Jam},
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
		}
		worse := f
		switch rapid.IntRange(0, 5).Draw(t, "what") {
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
		}
		a, b := Judge(f), Judge(worse)
		if b.Likely < a.Likely {
			t.Fatalf("%+v is judged %s, worse %+v %s", f, a.Word(), worse, b.Word())
		}
		for i, d := range b.Doubts {
			if len(d.Because) == 0 || len(d.Do) == 0 || i > 0 && d.Likely > b.Doubts[i-1].Likely {
				t.Fatalf("%+v", b.Doubts)
			}
		}
	})
}
