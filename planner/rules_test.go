package planner

import (
	"context"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/media/meter"
)

// wishes sets what is wished of tracks, by their letter.
func wishes(m Mix, w map[string]Wish) Mix {
	for i := range m.Items {
		if x, ok := w[m.Items[i].Title]; ok {
			m.Items[i].Wish = x
		}
	}
	return m
}

func artists(m Mix, names string) Mix {
	for i, n := range strings.Fields(names) {
		m.Items[i].Artist = n
	}
	return m
}

func drive(d float64) Wish { return Wish{Drive: &d} }

// Each rule by itself, on a C60 (1760 s a side) in any order. what holds a
// sentence about the sides that must be true.
func TestRules(t *testing.T) {
	six := func() Mix { return mix(600, 500, 400, 300, 500, 400) }
	for name, c := range map[string]struct {
		mix  Mix
		set  func(*Request)
		what func(a, b string, p Plan) bool
	}{
		"opener of the whole": {wishes(six(), map[string]Wish{"d": {Opens: OfMix}}), nil,
			func(a, b string, _ Plan) bool { return a[0] == 'd' }},
		"closer of the whole": {wishes(six(), map[string]Wish{"a": {Closes: OfMix}}), nil,
			func(a, b string, _ Plan) bool { return b[len(b)-1] == 'a' }},
		"opener of a side": {wishes(six(), map[string]Wish{"f": {Opens: OfSide}}), nil,
			func(a, b string, _ Plan) bool { return a[0] == 'f' || b[0] == 'f' }},
		"pinned to side B": {wishes(six(), map[string]Wish{"a": {Side: "B"}, "b": {Side: "B"}}), nil,
			func(a, b string, _ Plan) bool { return strings.ContainsRune(b, 'a') && strings.ContainsRune(b, 'b') }},
		"artists apart": {artists(six(), "x x x y y z"), func(r *Request) { r.Apart = 1 },
			func(a, b string, p Plan) bool {
				for _, s := range p.Tapes[0].Sides {
					for i := 1; i < len(s.Tracks); i++ {
						if s.Tracks[i].Artist == s.Tracks[i-1].Artist {
							return false
						}
					}
				}
				return true
			}},
		"rising": {wishes(six(), map[string]Wish{"a": drive(9), "b": drive(2), "c": drive(7), "d": drive(1), "e": drive(5), "f": drive(3)}),
			func(r *Request) { r.SetArc("a", "rising") },
			func(a, b string, p Plan) bool {
				s := side(p, 0)
				for i := 1; i < len(s.Tracks); i++ {
					if *s.Tracks[i].Wish.Drive < *s.Tracks[i-1].Wish.Drive {
						return false
					}
				}
				return true
			}},
		"joined": {wishes(six(), map[string]Wish{"b": {Join: true}}), nil,
			func(a, b string, _ Plan) bool { return strings.Contains(a+"|"+b, "bc") }},
		// 1000 + 4 + 760 = 1764: four seconds too long, so c is faded and nothing is left out.
		"faded as the last resort": {wishes(mix(1000, 1700, 760), map[string]Wish{"c": {Fade: Seconds(10 * time.Second)}}), nil,
			func(a, b string, p Plan) bool {
				for _, s := range p.Tapes[0].Sides {
					for _, t := range s.Tracks {
						if t.Title == "c" {
							return p.Fits && t.FadeS.D() == 4*time.Second && t.LengthS.D() == 756*time.Second && s.SpareS == 0
						}
					}
				}
				return false
			}},
		// A reserve is left out before anything that is wanted.
		"reserve": {wishes(mix(1700, 1600, 900), map[string]Wish{"a": {Reserve: 1}}), nil,
			func(a, b string, p Plan) bool { return len(p.LeftOut) == 1 && p.LeftOut[0].Title == "a" }},
		"split": {wishes(mix(300, 3000), map[string]Wish{"b": {Split: Seconds(1400 * time.Second)}}), nil,
			func(a, b string, p Plan) bool {
				s, u := side(p, 0), side(p, 1)
				return p.Fits && s.Tracks[len(s.Tracks)-1].Title == "b (1 of 2)" && u.Tracks[0].Title == "b (2 of 2)" &&
					u.Tracks[0].FromS.D() == 1400*time.Second && u.Tracks[0].LengthS.D() == 1600*time.Second
			}},
	} {
		r := request(t, "C60", c.mix)
		r.Order = fit.Free
		if c.set != nil {
			c.set(&r)
		}
		p, err := Make(context.Background(), r)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if a, b := titlesOf(side(p, 0)), titlesOf(side(p, 1)); !c.what(a, b, p) {
			t.Errorf("%s: sides %s and %s, left out %d", name, a, b, len(p.LeftOut))
		}
	}
}

// On a C100 (11 um) the thin tail begins at 45:17 of 50:00; 2950 s of tracks
// reach into it.
func TestThinTail(t *testing.T) {
	in := func(p Plan, title string) bool {
		for _, s := range p.Tapes[0].Sides {
			for _, tr := range s.Tracks {
				if tr.Title == title {
					return tr.EndS() > s.ThinFromS
				}
			}
		}
		return false
	}
	m := func() Mix { return mix(900, 1000, 1000, 900, 950, 800) }
	r := request(t, "C100", m())
	r.Order, r.ThinTail = fit.Free, BlankTail
	for _, s := range make1(t, r).Tapes[0].Sides {
		for _, tr := range s.Tracks {
			if tr.EndS() > s.ThinFromS {
				t.Errorf("blank: %s ends at %s, in the tail from %s", tr.Title, tr.EndS(), s.ThinFromS)
			}
		}
	}
	r.ThinTail = RuggedTail
	r.Mix = wishes(m(), map[string]Wish{"a": {Rugged: true}, "d": {Rugged: true}})
	p := make1(t, r)
	if !p.Fits {
		t.Fatal("rugged: not everything fits")
	}
	for _, title := range []string{"b", "c", "e", "f"} {
		if in(p, title) {
			t.Errorf("rugged: %s, which is not, lies in the tail", title)
		}
	}
	r.ThinTail = WarnTail
	r.Mix = wishes(m(), map[string]Wish{"c": {NotThin: true}})
	if p := make1(t, r); in(p, "c") {
		t.Error("c lies in the tail against its wish")
	}
}

// A piece with chapters is split where one ends, the nearest to the middle first,
// before any quiet place; or it is offered as its chapters.
func TestSplitAtChapters(t *testing.T) {
	offered := func(seconds float64, chapters ...time.Duration) string {
		m := mix(seconds, 100)
		m.Items[0].Quiet = 1400 * time.Second
		m.Items[0].Chapters = chapters
		r := request(t, "C60", m)
		says := ""
		for _, s := range Suggest(context.Background(), r, make1(t, r)) {
			if s.About == "split" {
				says += s.Says + "\n"
			}
		}
		return says
	}
	const s = time.Second
	for _, c := range []struct {
		seconds  float64
		chapters []time.Duration
		says     string
	}{
		{3000, []time.Duration{0, 300 * s, 1300 * s, 1555*s + 345*time.Millisecond, 2000 * s}, "split it over both at 25:55.345, where a chapter ends (any place from 22:25 to 29:19 will do), and everything fits\ntake the 5 chapters of “a” as tracks\n"},
		{3000, []time.Duration{0, 300 * s, 2000 * s}, "at 23:20, where it is quietest (any place from 22:25 to 29:19 will do), and everything fits\ntake the 3 chapters of “a” as tracks\n"},
		{9000, []time.Duration{0, 300 * s, 2000 * s}, "it needs 6 parts, on 6 sides; list each part as a track of its own\ntake the 3 chapters of “a” as tracks\n"},
	} {
		if got := offered(c.seconds, c.chapters...); !strings.Contains(got, c.says) {
			t.Errorf("%v: %q, want %q", c.chapters, got, c.says)
		}
	}
}

// A piece longer than a side is offered a split, never dropped in silence: at
// its middle, or where it is quietest when that was looked for. On a C60 (1760 s)
// 3000 s can be split from 1240 to 1760 s, the middle is 1500 s.
func TestSplitIsOffered(t *testing.T) {
	offered := func(quiet time.Duration, seconds float64) string {
		m := mix(seconds, 100)
		m.Items[0].Quiet = quiet
		r := request(t, "C60", m)
		for _, s := range Suggest(context.Background(), r, make1(t, r)) {
			if s.About == "split" {
				return s.Says
			}
		}
		return ""
	}
	for _, c := range []struct {
		quiet   time.Duration
		seconds float64
		says    string
	}{
		{0, 3000, `split it over both at 25:00`},
		{1400 * time.Second, 3000, `split it over both at 23:20, where it is quietest`},
		{100 * time.Second, 3000, `split it over both at 25:00`}, // no part of 100 s leaves one that fits
	} {
		if says := offered(c.quiet, c.seconds); !strings.Contains(says, c.says) {
			t.Errorf("quiet at %v: %q lacks %s", c.quiet, says, c.says)
		}
	}
	// 3600 s is more than two sides of 1760 s; 5400 s is 3.07 sides.
	for seconds, parts := range map[float64]string{3600: "needs 3 parts", 5400: "needs 4 parts"} {
		if says := offered(0, seconds); !strings.Contains(says, parts) || strings.Contains(says, "split it") {
			t.Errorf("%g s: %q, want that it %s", seconds, says, parts)
		}
	}
}

// Heard tracks with little treble are rugged where none was named: of four of
// 1400 s on a C100, two a side, the second reaches the thin tail. In the given
// order b, the brightest, would be one of these.
func TestDullTracksBearTheTail(t *testing.T) {
	m := mix(1400, 1400, 1400, 1400)
	for i, treble := range []float64{-20, -4, -18, -5} {
		m.Items[i].Heard = &meter.Result{Treble: treble, Integrated: -20, TruePeak: -3, Rate: 44100, Samples: 44100, Channels: 2}
	}
	r := request(t, "C100", m)
	r.Order, r.ThinTail = fit.Free, RuggedTail
	p := make1(t, r)
	for _, s := range p.Tapes[0].Sides {
		last := s.Tracks[len(s.Tracks)-1]
		if len(s.Tracks) != 2 || last.EndS() <= s.ThinFromS || last.Title == "b" {
			t.Errorf("side %s: %s, the last to %s, thin from %s", s.Side, titlesOf(s), last.EndS(), s.ThinFromS)
		}
	}
	// A search that is stopped still answers, and says that it was cut.
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var long []float64
	for i := range 60 {
		long = append(long, 100+float64(i*37%211)+float64(i)/7)
	}
	r = request(t, "C90", mix(long...))
	r.Order, r.MaxTapes = fit.Free, 3
	if p, err := Make(ctx, r); err == nil && !p.Cut {
		t.Error("an answer of a stopped search is not marked as cut")
	}
}

// 1000 + 4 + 700 = 1704 fits a C60's 1760 s, 1000 + 4 + 1000 does not: b and c
// have to change places.
func TestSwapIsSuggested(t *testing.T) {
	r := request(t, "C60", mix(1000, 1000, 700, 700))
	for _, s := range Suggest(context.Background(), r, make1(t, r)) {
		if s.About != "swap" {
			continue
		}
		swapped := mix(1000, 1000, 700, 700)
		i, errI := swapped.Find(s.Tracks[0])
		j, errJ := swapped.Find(s.Tracks[1])
		if errI != nil || errJ != nil {
			t.Fatal(errI, errJ)
		}
		swapped.Items[i], swapped.Items[j] = swapped.Items[j], swapped.Items[i]
		if p := make1(t, request(t, "C60", swapped)); !p.Fits {
			t.Errorf("%s, but it does not fit then", s.Says)
		}
		return
	}
	t.Error("no swap is suggested")
}
