package planner

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/media"
	"longside/planner/tape"
)

// mix makes a mix of tracks named a, b, c ... of the given seconds.
func mix(seconds ...float64) Mix {
	var m Mix
	for i, s := range seconds {
		m.Items = append(m.Items, Item{Track: media.Track{
			Title: string(rune('a' + i)), Path: fmt.Sprintf("/music/%02d.flac", i),
			Length: time.Duration(s * float64(time.Second)), LengthFrom: media.Header,
		}})
	}
	return m
}

// request is a request with the defaults of the command.
func request(t testing.TB, name string, m Mix) Request {
	t.Helper()
	k, err := tape.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	return Request{
		Mix: m, Tapes: []Choice{{Tape: k}}, Gap: 4 * time.Second, Limit: ShortLimit,
		Tolerance: tape.DefaultTolerance, LeadIn: tape.DefaultLeadIn, EndLeader: tape.DefaultEndLeader,
		CounterRatio: tape.DefaultCounterRatio,
		DeckLimit:    DeckSays{Name: "C90", Side: 45 * time.Minute},
	}
}

func make1(t testing.TB, r Request) Plan {
	t.Helper()
	p, err := Make(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func side(p Plan, i int) Side { return p.Tapes[0].Sides[i] }

func titlesOf(s Side) string {
	var b strings.Builder
	for _, t := range s.Tracks {
		b.WriteString(t.Title)
	}
	return b.String()
}

// Usable time. DIN 45500 (tape machines), item 1: mean speed within 1.5 %.
// C60: 1800 x 0.985 - 7 - 6 = 1760.0 s; C90: 2700 x 0.985 - 13 = 2646.5 s.
// A deck 1 % fast: 2700 / 1.01 = 2673.267 s, x 0.985 = 2633.168, - 13 = 2620.168.
func TestUsable(t *testing.T) {
	for _, c := range []struct {
		tape    string
		limit   Limit
		deck    float64
		timed   time.Duration
		want    time.Duration
		measure time.Duration
	}{
		{"C60", ShortLimit, 0, 0, 1760 * time.Second, 0},
		{"C90", ShortLimit, 0, 0, 2646500 * time.Millisecond, 0},
		{"C90", NominalLimit, 0, 0, 2687 * time.Second, 0},
		{"C90", ShortLimit, 0.01, 0, 2620168 * time.Millisecond, 0},
		// 46:10 timed: 2770 x 0.997 - 13 = 2748.69 s.
		{"C90", MeasuredLimit, 0, 2770 * time.Second, 2748690 * time.Millisecond, 2748690 * time.Millisecond},
	} {
		r := request(t, c.tape, mix(100, 100))
		r.Limit, r.DeckError, r.Tapes[0].Timed = c.limit, c.deck, c.timed
		s := side(make1(t, r), 0)
		// Within a millisecond: limits are written rounded up to one.
		if d := s.UsableS.D() - c.want; d < -time.Millisecond || d > time.Millisecond {
			t.Errorf("%s %s, deck %+.0f %%: usable %v, want %v", c.tape, c.limit, c.deck*100, s.UsableS.D(), c.want)
		}
		if d := s.MeasuredS.D() - c.measure; d < -time.Millisecond || d > time.Millisecond {
			t.Errorf("%s: measured %v, want %v", c.tape, s.MeasuredS.D(), c.measure)
		}
	}
}

// A side laid by hand: lead-in 7 s, gaps 4 s, the last gap given back.
// a 0:07 + 600 = 607, + 4 = 611; b 611 + 900.5 = 1511.5, + 4 = 1515.5; c to 1715.5.
func TestLay(t *testing.T) {
	p := make1(t, request(t, "C60", mix(600, 900.5, 200, 1000)))
	if !p.Fits || !p.Proved {
		t.Fatalf("fits %v, proved %v", p.Fits, p.Proved)
	}
	s := side(p, 0)
	if got := titlesOf(s); got != "abc" {
		t.Fatalf("side A holds %s, want abc", got)
	}
	for i, want := range []float64{7, 611, 1515.5} {
		if got := s.Tracks[i].StartS.D().Seconds(); got != want {
			t.Errorf("track %d starts at %v s, want %v", i+1, got, want)
		}
	}
	// 600 + 4 + 900.5 + 4 + 200 = 1708.5; 1760 - 1708.5 = 51.5.
	if s.UsedS.D() != 1708500*time.Millisecond || s.SpareS.D() != 51500*time.Millisecond {
		t.Errorf("used %v, spare %v", s.UsedS.D(), s.SpareS.D())
	}
	if s.Tracks[2].GapS != 0 || s.Tracks[1].GapS.D() != 4*time.Second {
		t.Errorf("gaps %v, %v: want 4 s and none after the last", s.Tracks[1].GapS, s.Tracks[2].GapS)
	}
	// Counter: C = f (sqrt((r0/t)^2 + v T/(pi t)) - r0/t), trade formula derived in a
	// published counter note; r0 11 mm, t 18 um, f 0.5, v 47.625 mm/s, T = 611 s:
	// r0/t = 611.111; v T/(pi t) = 29098.9/(0.0565487) = 514581; sqrt(373457 + 514581) = 942.36;
	// 0.5 x (942.36 - 611.11) = 165.6.
	if c := s.Tracks[1].Counter; c == nil || *c != 165 {
		t.Errorf("counter at 611 s is %v, want 165", c)
	}
}

// A deck that runs fast uses more tape in the same time, so its counter is ahead.
func TestCounterFollowsTheDeck(t *testing.T) {
	r := request(t, "C60", mix(600, 600, 500, 500))
	slow := *side(make1(t, r), 0).Tracks[1].Counter
	r.DeckError = 0.02
	fast := *side(make1(t, r), 0).Tracks[1].Counter
	if fast <= slow {
		t.Errorf("counter %d on a deck 2 %% fast, %d at speed", fast, slow)
	}
	r.CounterRatio = 0
	if c := side(make1(t, r), 0).Tracks[1].Counter; c != nil {
		t.Errorf("a deck that counts time shows %d", *c)
	}
}

// Joined tracks stand next to each other with nothing between, on one side.
func TestJoined(t *testing.T) {
	m := mix(1000, 700, 300, 1200)
	m.Items[1].Wish.Join = true
	p := make1(t, request(t, "C60", m))
	if a, b := titlesOf(side(p, 0)), titlesOf(side(p, 1)); a != "a" || b != "bc" {
		// b and c are 1000 s: they do not fit behind a (2004 s), d does not fit behind them.
		if len(p.LeftOut) == 0 {
			t.Errorf("sides %s and %s", a, b)
		}
	}
	for _, s := range p.Tapes[0].Sides {
		for i, tr := range s.Tracks {
			if tr.Title == "b" && (!tr.Joined || s.Tracks[i+1].Title != "c" || s.Tracks[i+1].StartS != tr.EndS()) {
				t.Errorf("c does not follow b without a gap")
			}
		}
	}
}

// Half a second for each typed length lies in the margin, not in the used time.
func TestTypedMargin(t *testing.T) {
	m := mix(1760)
	r := request(t, "C60", m)
	if p := make1(t, r); !p.Fits {
		t.Error("1760.0 s do not fit 1760.0 s")
	}
	m.Items[0].LengthFrom = media.Typed
	if p := make1(t, request(t, "C60", m)); p.Fits {
		t.Error("a typed 29:20 fits 1760.0 s: no half second is kept for it")
	}
	m.Items[0].Length -= 500 * time.Millisecond
	if p := make1(t, request(t, "C60", m)); !p.Fits || side(p, 0).UsedS.D() != m.Items[0].Length {
		t.Error("a typed 1759.5 s does not fit 1760.0 s")
	}
}

func has(ws []Warning, about string, sev Severity, part string) bool {
	return slices.ContainsFunc(ws, func(w Warning) bool {
		return w.About == about && w.Severity == sev && strings.Contains(w.Says, part)
	})
}

func TestWarnings(t *testing.T) {
	// Supply radius at time T: r^2 = 121 + (L - vT) t/pi. On a C120 (9 um) it is 13 mm when
	// (169 - 121) pi/0.009 = 16755 mm are left: 16755/47.625 = 351.8 s before the end, at 54:08.
	for _, c := range []struct {
		name  string
		tape  string
		mix   Mix
		set   func(*Request)
		about string
		sev   Severity
		part  string
	}{
		{"tail on 9 um", "C120", mix(3400), nil, "tail", Caution, "54:08"},
		{"tail on 11 um", "C100", mix(2900), nil, "tail", Remark, "11 um"},
		{"long tape", "C120", mix(100), nil, "deck", Caution, "common practice"},
		{"manual forbids", "C90", mix(100), func(r *Request) { r.DeckLimit = DeckSays{"C60", 30 * time.Minute, true} }, "deck", Caution, "your deck's manual allows up to C60"},
		{"past the short limit", "C60", mix(1780), func(r *Request) { r.Limit = NominalLimit }, "short", Caution, "29:47"},
		{"timed shorter", "C60", mix(1760), func(r *Request) { r.Tapes[0].Timed = 29 * time.Minute }, "short", Stop, "--limit measured"},
		{"long blank", "C60", mix(600, 600), nil, "blank", Remark, "blank tape"},
		{"estimated", "C60", Mix{Items: []Item{{Track: media.Track{Title: "a", Length: time.Minute, LengthFrom: media.Estimated}}}}, nil, "length", Caution, "estimate"},
		{"a cut-off file", "C60", Mix{Items: []Item{{Track: media.Track{Title: "a", Length: time.Minute, LengthFrom: media.Counted,
			Notes: []string{"cut off: the header promises 2:41, the file holds 1:00"}}}}}, nil, "file", Caution, "get the file anew"},
		{"twice by path", "C60", Mix{Items: append(mix(60, 70).Items, mix(60).Items...)}, nil, "twice", Remark, "#1 and #3"},
		{"skipped", "C60", Mix{Items: mix(60).Items, Skipped: []Skipped{{"x.mp3", "no frame"}}}, nil, "skipped", Caution, "x.mp3 (no frame)"},
	} {
		r := request(t, c.tape, c.mix)
		if c.set != nil {
			c.set(&r)
		}
		if p := make1(t, r); !has(p.Warnings, c.about, c.sev, c.part) {
			t.Errorf("%s: no %s of %s with %q in %+v", c.name, c.sev, c.about, c.part, p.Warnings)
		}
	}
}

// A long tape on a deck that watches both hubs and has three heads: one caution,
// one sentence, of this deck and this tape; nothing is probable, and nothing is
// asked for that the profile has answered.
func TestSoundTapeOnASoundDeck(t *testing.T) {
	r := request(t, "C120", mix(3400))
	if err := r.SetDeck(tape.Deck{Name: "galley", Heads: 3, AutoStop: tape.StopBothHubs}); err != nil {
		t.Fatal(err)
	}
	say := func(p Plan) (all []string) {
		for _, w := range p.Warnings {
			if w.About == "deck" || w.About == "trust" {
				if w.Severity != Remark {
					t.Errorf("%s: %s", w.Severity, w.Says)
				}
				all = append(all, w.Says)
			}
		}
		return all
	}
	says := say(make1(t, r))
	if len(says) != 1 || !strings.HasPrefix(says[0], "C120 (9 um) on galley: ") || !strings.Contains(says[0], "are possible, as") ||
		!strings.Contains(says[0], "though both hubs are watched and you can listen off the tape") || strings.Contains(says[0], "probable") || strings.Contains(says[0], "auto-stop") {
		t.Errorf("%q", says)
	}
	// What is known of the tape counts for it, and survives a mishap.
	r.Tapes[0].Known = Known{Wound: true, PlayedWell: true, Calibration: &tape.Calibration{}}
	r.DeckLimit = DeckSays{"C120", time.Hour, true}
	p := make1(t, r)
	if k := replanned(t, p, "A:0", nil).Tapes[0].Known; k == nil || !k.Same(r.Tapes[0].Known) {
		t.Errorf("%+v", k)
	}
	if says = say(p); len(says) > 1 || len(says) == 1 && strings.Contains(says[0], "jam") {
		t.Errorf("%q", says)
	}
	// A track that was called rugged belongs on the thin tail.
	r.Mix.Items[0].Wish.Rugged = true
	for _, w := range make1(t, r).Warnings {
		if w.About == "tail" {
			t.Errorf("of a rugged track: %s", w.Says)
		}
	}
}

// What is in order is not warned of.
func TestNoFalseAlarm(t *testing.T) {
	for _, c := range []struct {
		tape string
		mix  Mix
	}{
		{"C60", mix(1700, 1700)},
		{"C60", Mix{Items: []Item{
			{Track: media.Track{Title: "Reprise", Length: 800 * time.Second, LengthFrom: media.Header}},
			{Track: media.Track{Title: "Reprise", Length: 900 * time.Second, LengthFrom: media.Header}},
			{Track: media.Track{Title: "Reprise", Artist: "other", Length: 900 * time.Second, LengthFrom: media.Header}},
		}}}, // one name is not one track
		{"C90", mix(2600, 2600)},          // 12 um is not thinner than 12 um
		{"C100", mix(2600, 2600, 30, 30)}, // ends before the thin tail, which begins at 45:17
	} {
		for _, w := range make1(t, request(t, c.tape, c.mix)).Warnings {
			if w.About != "deck" && w.About != "blank" {
				t.Errorf("%s: %s", c.tape, w.Says)
			}
		}
	}
}

func TestSuggest(t *testing.T) {
	r := request(t, "C60", mix(1000, 900, 1000, 700, 300))
	p := make1(t, r)
	if p.Fits {
		t.Fatal("3900 s fit a C60")
	}
	var about []string
	for _, s := range Suggest(context.Background(), r, p) {
		about = append(about, s.About)
		if s.About == "tape" && s.Change.Tapes == 0 && s.Tape != "C74" {
			// 3900 + 12 s of gaps in two sides of 2220 x 0.985 - 13 = 2173.7 s: abc is 2908, ab is 1904
			// and cde is 2008, which fits; a C60 side is 1760 s.
			t.Errorf("the shortest tape is said to be %s, want C74", s.Tape)
		}
		// One track must go, and one will do: without b, a + e and c + d are 1304 and 1704 ...
		// in the given order a (1000) | c d (1704) needs e gone, too, or a b-less break a c | d e.
		if s.About == "drop" && len(s.Tracks) == 0 {
			t.Error("no track named to leave out")
		}
	}
	if !slices.Contains(about, "drop") || !slices.Contains(about, "tape") {
		t.Errorf("suggestions of %v, want drop and tape", about)
	}
	// A C46 (2 x 1346.3 s) holds what a C90 leaves half blank.
	r = request(t, "C90", mix(1200, 1200))
	s := Suggest(context.Background(), r, make1(t, r))
	if len(s) != 1 || s[0].Tape != "C46" {
		t.Errorf("suggested %+v, want a C46", s)
	}
}

// 2 x 2900 s on a C100, whose thin tail begins at 45:17, must reach into it;
// 4 x 1200 s need not, once each side takes two.
func TestSuggestOffTail(t *testing.T) {
	for _, c := range []struct {
		mix  Mix
		want bool
	}{{mix(2900, 2800), false}, {mix(900, 900, 900, 800, 300), true}} {
		r := request(t, "C100", c.mix)
		p := make1(t, r)
		got := slices.ContainsFunc(Suggest(context.Background(), r, p), func(s Suggestion) bool { return s.About == "tail" })
		if !has(p.Warnings, "tail", Remark, "11 um") || got != c.want {
			t.Errorf("suggested %v, want %v; %+v", got, c.want, p.Warnings)
		}
	}
}

func TestRefused(t *testing.T) {
	for name, set := range map[string]func(*Request){
		"no track":        func(r *Request) { r.Mix = Mix{} },
		"no tape":         func(r *Request) { r.Tapes = nil },
		"gap":             func(r *Request) { r.Gap = time.Hour },
		"tolerance":       func(r *Request) { r.Tolerance = 0.5 },
		"deck speed":      func(r *Request) { r.DeckError = -1 },
		"lead-in":         func(r *Request) { r.LeadIn = -1 },
		"not timed":       func(r *Request) { r.Limit = MeasuredLimit },
		"longer than all": func(r *Request) { r.LeadIn = time.Hour },
	} {
		r := request(t, "C60", mix(100))
		set(&r)
		if _, err := Make(context.Background(), r); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %v, want one line", name, err)
		}
	}
}

func TestFreeOrder(t *testing.T) {
	r := request(t, "C60", mix(1000, 1000, 700, 700))
	if p := make1(t, r); p.Fits {
		t.Error("fits in the given order: 2004 s on a side of 1760 s")
	}
	r.Order = fit.Free
	p := make1(t, r)
	if !p.Fits || !p.Proved || len(side(p, 0).Tracks) != 2 || len(side(p, 1).Tracks) != 2 {
		t.Errorf("free order: %s / %s", titlesOf(side(p, 0)), titlesOf(side(p, 1)))
	}
}
