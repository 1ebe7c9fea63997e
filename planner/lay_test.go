package planner

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/media"
	"longside/planner/tape"
)

// byHand is an arrangement from words: sides are parted by /, tapes by |, tracks
// are their letters. A letter and digits is faded by so many seconds.
func byHand(words string) Arrangement {
	var a Arrangement
	for _, t := range strings.Split(words, "|") {
		var ht HandTape
		for s, side := range strings.Split(t, "/") {
			for _, w := range strings.Fields(side) {
				spot := Spot{Item: int(w[0] - 'a')}
				if len(w) > 1 {
					var f float64
					fmt.Sscan(w[1:], &f)
					spot.Fade = Seconds(f * float64(time.Second))
				}
				ht.Sides[s] = append(ht.Sides[s], spot)
			}
		}
		a = append(a, ht)
	}
	return a
}

func lay(t *testing.T, r Request, words string) Laid {
	t.Helper()
	l, err := Lay(r, byHand(words))
	if err != nil {
		t.Fatalf("%s: %v", words, err)
	}
	return l
}

// What is broken, on C60s (1760 s a side), told by wish, place, tracks and seconds.
func TestLayTellsWhatIsBroken(t *testing.T) {
	for name, c := range map[string]struct {
		mix    Mix
		set    func(*Request)
		laid   string
		broken []string
	}{
		"nothing": {mix(600, 600, 600, 600), nil, "a b/c d", nil},
		// 1000 + 4 + 800 = 1804.
		"over":           {mix(1000, 800, 300), nil, "a b/c", []string{"room 1A by 44"}},
		"over on both":   {mix(1000, 800, 1770), nil, "a b/c", []string{"room 1A by 44", "room 1B by 10"}},
		"order":          {mix(300, 300, 300), nil, "b a/c", []string{"order #2"}},
		"order over all": {mix(300, 300, 300), nil, "c/a b", []string{"order #3"}},
		"near may move":  {mix(300, 300, 300), func(r *Request) { r.Order = fit.Near }, "c/a b", nil},
		"tapes":          {mix(300, 300, 300), nil, "a/b|c/", []string{"tapes"}},
		"two tapes":      {mix(300, 300, 300), func(r *Request) { r.MaxTapes = 2 }, "a/b|c/", nil},
		"stock": {mix(300, 300, 300), func(r *Request) { r.MaxTapes, r.Tapes[0].Stock = 2, 1 }, "a/b|c/",
			[]string{"stock"}},
		"side": {wishes(mix(300, 300, 300), map[string]Wish{"a": {Side: "A"}, "b": {Side: "B"}}), nil, "a b/c",
			[]string{"side 1A #2"}},
		"side of the second tape": {wishes(mix(300, 300, 300), map[string]Wish{"b": {Side: "2A"}}),
			func(r *Request) { r.MaxTapes = 2 }, "a b/|c/", []string{"side 1A #2"}},
		"opens its side": {wishes(mix(300, 300, 300), map[string]Wish{"b": {Opens: OfSide}}), nil, "a b/c",
			[]string{"opens 1A #2"}},
		"opens side B":       {wishes(mix(300, 300, 300), map[string]Wish{"c": {Opens: OfSide}}), nil, "a b/c", nil},
		"opens the tape":     {wishes(mix(300, 300, 300), map[string]Wish{"c": {Opens: OfMix}}), nil, "a b/c", []string{"opens 1B #3"}},
		"opens an empty one": {wishes(mix(300, 300, 300), map[string]Wish{"a": {Opens: OfMix}}), nil, "/a b c", nil},
		"closes its side": {wishes(mix(300, 300, 300), map[string]Wish{"a": {Closes: OfSide}}), nil, "a b/c",
			[]string{"closes 1A #1"}},
		"closes the tape": {wishes(mix(300, 300, 300), map[string]Wish{"b": {Closes: OfMix}}), nil, "a b/c",
			[]string{"closes 1A #2"}},
		"no closer":       {wishes(mix(300, 300, 300), map[string]Wish{"b": {Closes: OfMix}}), nil, "a/c", []string{"must #2"}},
		"joined":          {wishes(mix(300, 300, 300), map[string]Wish{"a": {Join: true}}), nil, "a b/c", nil},
		"torn":            {wishes(mix(300, 300, 300), map[string]Wish{"a": {Join: true}}), nil, "a/b c", []string{"join 1A #1 #2"}},
		"half left out":   {wishes(mix(300, 300, 300), map[string]Wish{"a": {Join: true}}), nil, "a/c", []string{"join 1A #1 #2"}},
		"half laid":       {wishes(mix(300, 300, 300), map[string]Wish{"a": {Join: true}}), nil, "b/c", []string{"join 1A #1 #2"}},
		"both left out":   {wishes(mix(300, 300, 300), map[string]Wish{"a": {Join: true}}), nil, "c/", nil},
		"joined to none":  {wishes(mix(300, 300), map[string]Wish{"b": {Join: true}}), nil, "a/b", nil},
		"neighbours":      {artists(mix(300, 300, 300, 300), "x x y x"), func(r *Request) { r.Apart = 1 }, "a b/c d", []string{"apart 1A #2"}},
		"two between":     {artists(mix(300, 300, 300, 300), "x y X y"), func(r *Request) { r.Apart = 2 }, "a b c/d", []string{"apart 1A #3"}},
		"sides are apart": {artists(mix(300, 300, 300, 300), "x y y x"), func(r *Request) { r.Apart = 3 }, "a b/c d", nil},
		"a joined row": {artists(wishes(mix(300, 300, 300, 300), map[string]Wish{"a": {Join: true}}), "x x x y"),
			func(r *Request) { r.Apart = 1 }, "a b c/d", []string{"apart 1A #3"}},
		"faded": {wishes(mix(1000, 760), map[string]Wish{"b": {Fade: Seconds(5 * time.Second)}}), nil, "a b4/", nil},
		"faded too much": {wishes(mix(1000, 760), map[string]Wish{"b": {Fade: Seconds(3 * time.Second)}}), nil, "a b4/",
			[]string{"fade 1A #2 by 1"}},
		"faded, unasked": {mix(1000, 760), nil, "a b4/", []string{"fade 1A #2 by 4"}},
		// On a C100 the pack falls under 13 mm when (13^2 - 11^2) pi/0.011 = 13709 mm are left,
		// 287.85 s of 3000: at 2712.152 s, 7 of them lead-in. 2000 + 4 + 900 are 198.85 s more.
		"thin": {wishes(mix(2000, 900), map[string]Wish{"b": {NotThin: true}}), on("C100"), "a b/",
			[]string{"not_thin 1A #2 by 198.849"}},
		"thin tail blank": {mix(2000, 900), func(r *Request) { on("C100")(r); r.ThinTail = BlankTail }, "a b/",
			[]string{"room 1A by 198.849"}},
		"split":           {wishes(mix(300, 2400), map[string]Wish{"b": {Split: Seconds(1000 * time.Second)}}), nil, "a b/b", nil},
		"split, not last": {wishes(mix(300, 2400), map[string]Wish{"b": {Split: Seconds(1000 * time.Second)}}), nil, "b a/b", []string{"closes 1A #2", "order #2"}},
		"split, one side": {wishes(mix(300, 1400), map[string]Wish{"b": {Split: Seconds(1000 * time.Second)}}), nil, "a b b/",
			[]string{"closes 1A #2", "opens 1A #2", "side 1A #2"}},
		"half a split": {wishes(mix(300, 2400), map[string]Wish{"b": {Split: Seconds(1000 * time.Second)}}), nil, "a b/", []string{"split 1A #2"}},
		// Each typed length may be half a second too short.
		"typed": {typed(mix(878, 878)), nil, "a b/", []string{"room 1A by 1"}},
		// b is 5 s long: 3 s of it overlap what is before, 4 s what is behind.
		"overlaps": {wishes(mix(600, 5, 600), map[string]Wish{"a": gap(-3), "b": gap(-4)}), nil, "a b c/",
			[]string{"overlap 1A #2 by 2"}},
	} {
		r := request(t, "C60", c.mix)
		if c.set != nil {
			c.set(&r)
		}
		l := lay(t, r, c.laid)
		var got []string
		room := false
		for _, b := range l.Broken {
			line := b.Wish
			if b.Tape > 0 {
				line += fmt.Sprint(" ", b.Tape, b.Side)
			}
			for _, n := range b.Tracks {
				line += fmt.Sprint(" #", n)
			}
			if b.ByS > 0 {
				line += fmt.Sprint(" by ", b.ByS.D().Seconds())
			}
			got = append(got, line)
			room = room || b.Wish == "room"
			if b.Says == "" || strings.ContainsAny(b.Says, "\n") {
				t.Errorf("%s: %q is no sentence", name, b.Says)
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, c.broken) {
			t.Errorf("%s: broken %q, want %q; %+v", name, got, c.broken, l.Broken)
		}
		if fits := len(l.Plan.LeftOut) == 0 && !room; l.Plan.Fits != fits {
			t.Errorf("%s: fits %v, want %v", name, l.Plan.Fits, fits)
		}
	}
}

func on(name string) func(*Request) {
	return func(r *Request) {
		k, err := tape.Named(name)
		if err != nil {
			panic(err)
		}
		r.Tapes = []Choice{{Tape: k}}
	}
}

func typed(m Mix) Mix {
	for i := range m.Items {
		m.Items[i].LengthFrom = media.Typed
	}
	return m
}

func gap(seconds float64) Wish {
	g := Seconds(seconds * float64(time.Second))
	return Wish{Gap: &g}
}

// Start times by hand: lead-in 7 s, gaps 4 s; b is joined to c and faded by 5 s.
// a 7 to 307, b 311 to 711 and c from there to 1006 (300 less 5), d at 1010.
func TestLayStartTimes(t *testing.T) {
	l := lay(t, request(t, "C60", wishes(mix(300, 400, 300, 100), map[string]Wish{"b": {Join: true}, "c": {Fade: Seconds(5 * time.Second)}})), "a b c5 d/")
	for i, want := range []float64{7, 311, 711, 1010} {
		if got := side(l.Plan, 0).Tracks[i].StartS.D().Seconds(); got != want {
			t.Errorf("track %d starts at %g s, want %g", i+1, got, want)
		}
	}
	if s := side(l.Plan, 0); s.UsedS.D() != 1103*time.Second || s.SpareS.D() != 657*time.Second {
		t.Errorf("used %v, spare %v", s.UsedS.D(), s.SpareS.D())
	}
	if s := side(l.Plan, 0).Tracks[2]; s.FadeS.D() != 5*time.Second || s.LengthS.D() != 295*time.Second {
		t.Errorf("c is faded by %v and lasts %v", s.FadeS, s.LengthS)
	}
}

func TestLayRefuses(t *testing.T) {
	for words, says := range map[string]string{
		"a a/": "“a” (#1) lies there twice",
		"z/":   "no track #26",
		"a300": "cannot be shortened",
	} {
		if _, err := Lay(request(t, "C60", mix(300, 300)), byHand(words)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: error %v, want %q", words, err, says)
		}
	}
	if _, err := Lay(request(t, "C60", mix(300)), Arrangement{{Choice: 1}}); err == nil {
		t.Error("a tape that there is not is laid")
	}
}

// What Make planned and Lay lays is the same plan, and breaks nothing: Make's
// answers keep all wishes, and are judged here by what shares no rule with fit.
func TestLayAgreesWithMake(t *testing.T) {
	for seed := range seeds(300) {
		r := anyRequest(t, seed)
		p, err := Make(context.Background(), r)
		if err != nil {
			continue // its wishes contradict each other
		}
		var a Arrangement
		for _, pt := range p.Tapes {
			ht := HandTape{Choice: slices.IndexFunc(r.Tapes, func(c Choice) bool { return c.Tape.Name == pt.Name })}
			for s, ps := range pt.Sides {
				for _, k := range ps.Tracks {
					i := slices.IndexFunc(r.Mix.Items, func(it Item) bool { return it.Path == k.Path })
					ht.Sides[s] = append(ht.Sides[s], Spot{Item: i, Fade: k.FadeS})
				}
			}
			a = append(a, ht)
		}
		l, err := Lay(r, a)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if len(l.Broken) > 0 {
			t.Errorf("seed %d: broken %+v", seed, l.Broken)
		}
		if d := l.Plan.Behind(p); d.Songs != 0 || d.TimeS != 0 {
			t.Errorf("seed %d: behind itself by %+v", seed, d)
		}
		if l.Plan.Fits != p.Fits {
			t.Errorf("seed %d: fits %v, want %v", seed, l.Plan.Fits, p.Fits)
		}
		// What was solved is not in what was laid, nor what only a solver says.
		p.Proved, p.WithinS, p.Cut, p.AtLeast, p.MovedAtLeast, p.Warnings = false, 0, false, 0, 0, nil
		l.Plan.Warnings = nil
		want, _ := json.MarshalIndent(p, "", " ")
		got, _ := json.MarshalIndent(l.Plan, "", " ")
		if w, g := firstDifference(string(want), string(got)); w != g {
			t.Errorf("seed %d: laid anew %q, planned %q", seed, g, w)
		}
	}
}

// firstDifference is the first line in which two texts differ.
func firstDifference(a, b string) (string, string) {
	as, bs := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(as), len(bs)) {
		if as[i] != bs[i] {
			return as[i], bs[i]
		}
	}
	return fmt.Sprint(len(as), " lines"), fmt.Sprint(len(bs), " lines")
}

// anyRequest makes a small request with all kinds of wishes.
func anyRequest(t testing.TB, seed uint64) Request {
	rng := rand.New(rand.NewPCG(seed, 11))
	odd := func(of int) bool { return rng.IntN(of) == 0 }
	var lengths []float64
	for range 3 + rng.IntN(5) {
		lengths = append(lengths, float64(150+rng.IntN(900)))
	}
	m := mix(lengths...)
	for i := range m.Items {
		it := &m.Items[i]
		it.Artist = string(rune('x' + rng.IntN(3)))
		w := &it.Wish
		if odd(3) {
			it.LengthFrom = media.Typed
		}
		w.Join = odd(9)
		w.NotThin = odd(9)
		w.Rugged = odd(9)
		switch {
		case odd(9):
			w.Side = []string{"A", "B", "2A"}[rng.IntN(3)]
		case odd(12):
			w.Opens = []Where{OfSide, OfMix}[rng.IntN(2)]
		case odd(12):
			w.Closes = []Where{OfSide, OfMix}[rng.IntN(2)]
		}
		if odd(6) {
			w.Reserve = 1 + rng.IntN(2)
		}
		if odd(9) {
			w.Gap = gap(float64(rng.IntN(12) - 3)).Gap
		}
		if odd(9) {
			w.Fade = Seconds(time.Duration(rng.IntN(20)) * time.Second)
		}
		if odd(12) && it.Length > 300*time.Second {
			w.Split = Seconds(it.Length / 2)
		}
	}
	r := request(t, []string{"C46", "C60", "C100"}[rng.IntN(3)], m)
	r.Order = fit.Order(rng.IntN(3))
	r.Spare = fit.Spare(rng.IntN(3))
	if odd(3) && !slices.ContainsFunc(m.Items, func(it Item) bool { return it.Wish.Join }) {
		r.Apart = 1 + rng.IntN(2)
	}
	if odd(4) {
		r.MaxTapes = 2
	}
	if odd(4) {
		r.ThinTail = []ThinTail{BlankTail, RuggedTail}[rng.IntN(2)]
	}
	return r
}

// A plan file is laid anew before it is believed.
func TestDecodeLaysAnew(t *testing.T) {
	good := func() Plan {
		m := wishes(mix(2000, 500, 1000, 600, 800), map[string]Wish{"b": {Join: true}, "e": {Fade: Seconds(9 * time.Second)}})
		return make1(t, request(t, "C90", m))
	}
	for says, spoil := range map[string]func(*Plan){
		"": func(p *Plan) { p.Title = "Middle watch" },
		"is over by": func(p *Plan) {
			s := &p.Tapes[0].Sides[0]
			s.Tracks = s.Tracks[:1]
			s.Tracks[0].LengthS, s.UsedS, s.SpareS = Seconds(9000*time.Second), Seconds(9000*time.Second), s.UsableS-Seconds(9000*time.Second)
			s.Tracks[0].GapS = 0
		},
		"usable_s of": func(p *Plan) {
			s := &p.Tapes[0].Sides[0]
			s.SpareS += 10 * Seconds(time.Second)
			s.UsableS += 10 * Seconds(time.Second)
		},
		"track 2 starts at": func(p *Plan) { p.Tapes[0].Sides[1].Tracks[1].StartS += Seconds(time.Second) },
	} {
		p := good()
		spoil(&p)
		data, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Decode(data); says == "" && err != nil || says != "" && (err == nil || !strings.Contains(err.Error(), says)) {
			t.Errorf("%q: error %v", says, err)
		}
	}
}

func BenchmarkLay(b *testing.B) {
	var lengths []float64
	var a Arrangement
	for i := range 300 {
		lengths = append(lengths, 150+float64(i*37%200))
		if i%20 == 0 {
			a = append(a, HandTape{})
		}
		s := &a[len(a)-1].Sides[i%20/10]
		*s = append(*s, Spot{Item: i})
	}
	m := mix(lengths...)
	r := request(b, "C90", m)
	r.Apart, r.MaxTapes = 2, 15
	for b.Loop() {
		if _, err := Lay(r, a); err != nil {
			b.Fatal(err)
		}
	}
}

// On a tape that was begun what is recorded stays, and counts: it opens its
// side, takes room, and is a neighbour. Sides of 1760 s.
func TestLayBehindWhatIsRecorded(t *testing.T) {
	r := request(t, "C60", artists(wishes(mix(700, 600, 400, 500, 300), map[string]Wish{"c": {Opens: OfSide}}), "x y x z z"))
	p := make1(t, r)
	var left Request
	replanned(t, p, "A:1", func(r *Request) { left = *r })
	left.Apart, left.Order = 1, fit.Free
	first := side(p, 0).Tracks[0]
	at := func(title string) Spot {
		return Spot{Item: slices.IndexFunc(left.Mix.Items, func(it Item) bool { return it.Title == title })}
	}
	a := Arrangement{{Sides: [2][]Spot{{at("c"), at("b"), at("d")}, {at("e")}}}}
	l, err := Lay(left, a)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, b := range l.Broken {
		got = append(got, fmt.Sprint(b.Wish, " ", b.ByS.D().Seconds()))
	}
	// 700 + 400 + 600 + 500 and three gaps of 4 s are 2212, 452 over.
	if want := []string{"opens 0", "apart 0", "room 452"}; !slices.Equal(got, want) {
		t.Errorf("broken %q, want %q", got, want)
	}
	if s := side(l.Plan, 0); titlesOf(s) != "acbd" || s.Tracks[1].StartS != first.EndS()+Seconds(4*time.Second) {
		t.Errorf("side A holds %s, the second from %s", titlesOf(s), s.Tracks[1].StartS)
	}
}
