package planner

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"longside/fit"
)

// Wishes that contradict each other are named, all of them and no others, in one
// line. Sides are of a C60: 1760 s.
func TestContradictions(t *testing.T) {
	pair := "two wishes cannot both be kept: that "
	these := "these wishes cannot all be kept: that "
	for name, c := range map[string]struct {
		wish map[string]Wish
		set  func(*Request)
		says string // empty: they can be kept
	}{
		"two open the tape": {map[string]Wish{"a": {Opens: OfMix}, "c": {Opens: OfMix}}, free,
			pair + "“a” (#1) opens the tape, and that “c” (#3) opens the tape; drop one of them"},
		"two close the tape": {map[string]Wish{"a": {Closes: OfMix}, "c": {Closes: OfMix}}, nil,
			pair + "“a” (#1) closes the tape, and that “c” (#3) closes the tape; drop one of them"},
		"opener behind closer": {map[string]Wish{"b": {Opens: OfMix}, "a": {Closes: OfMix}}, nil,
			these + "“a” (#1) closes the tape, that “b” (#2) opens the tape, and that the given order is kept; drop one of them"},
		"opener behind closer, free": {map[string]Wish{"b": {Opens: OfMix}, "a": {Closes: OfMix}}, free, ""},
		"opener and closer": {map[string]Wish{"a": {Opens: OfMix, Closes: OfMix}}, nil,
			pair + "“a” (#1) opens the tape and closes the tape; drop one of them"},
		"opener and closer, and a must": {map[string]Wish{"a": {Opens: OfMix, Closes: OfMix}, "b": {Must: true}}, free,
			pair + "“a” (#1) opens the tape and closes the tape; drop one of them"},
		"opener and closer, all that is wanted": {map[string]Wish{"a": {Opens: OfMix, Closes: OfMix}, "b": {Reserve: 1}, "c": {Reserve: 2}}, nil, ""},
		"opener joined to closer": {map[string]Wish{"a": {Opens: OfMix, Join: true}, "b": {Closes: OfMix}}, nil,
			these + "“a” (#1) opens the tape and is joined to “b”, and that “b” (#2) closes the tape; drop one of them"},
		"opener on B, another on A": {map[string]Wish{"a": {Opens: OfMix, Side: "B"}, "b": {Must: true, Side: "A"}}, free,
			these + "“a” (#1) is on side B and opens the tape, and that “b” (#2) is on side A and is not left out; drop one of them"},
		"side 2A of one tape": {map[string]Wish{"a": {Side: "2A"}}, nil,
			pair + "“a” (#1) is on side 2A, and that no more than 1 tape is used; drop one of them"},
		"side 2A of two tapes": {map[string]Wish{"c": {Side: "2A"}}, func(r *Request) { r.MaxTapes = 2 }, ""},
		"side 2A of a shelf's one": {map[string]Wish{"c": {Side: "2A"}}, func(r *Request) { r.MaxTapes, r.Tapes[0].Stock = 2, 1 },
			pair + "“c” (#3) is on side 2A, and that no more than 1 tape is used; drop one of them"},
		"two open side B": {map[string]Wish{"a": {Side: "B", Opens: OfSide}, "b": {Side: "B", Opens: OfSide}}, nil,
			these + "“a” (#1) is on side B and opens its side, and that “b” (#2) is on side B and opens its side; drop one of them"},
		"two close side A": {map[string]Wish{"a": {Side: "A", Closes: OfSide}, "b": {Side: "A", Closes: OfMix}}, nil,
			these + "“a” (#1) is on side A and closes its side, and that “b” (#2) is on side A and closes the tape; drop one of them"},
		"joined on two sides": {map[string]Wish{"a": {Side: "A", Join: true}, "b": {Join: true}, "c": {Side: "B"}}, nil,
			these + "“a” (#1) is on side A and is joined to “b”, that “b” (#2) is joined to “c”, and that “c” (#3) is on side B; drop one of them"},
		"opens behind a join": {map[string]Wish{"a": {Join: true}, "b": {Opens: OfMix}}, nil,
			pair + "“a” (#1) is joined to “b”, and that “b” (#2) opens the tape; drop one of them"},
		"closes before a join": {map[string]Wish{"a": {Join: true, Closes: OfSide}, "b": {}}, nil,
			pair + "“a” (#1) closes its side and is joined to “b”; drop one of them"},
		"two splits": {map[string]Wish{"a": {Split: Seconds(time.Minute)}, "b": {Split: Seconds(time.Minute)}}, nil,
			pair + "“a” (#1) is split over both sides at 1:00, and that “b” (#2) is split over both sides at 1:00; drop one of them"},
		"a split on one side": {map[string]Wish{"a": {Split: Seconds(time.Minute), Side: "B"}}, nil,
			pair + "“a” (#1) is on side B and is split over both sides at 1:00; drop one of them"},
		"a split joined to side A": {map[string]Wish{"a": {Split: Seconds(time.Minute), Join: true}, "b": {Side: "A"}}, nil,
			these + "“a” (#1) is split over both sides at 1:00 and is joined to “b”, and that “b” (#2) is on side A; drop one of them"},
		"a split and a closer of A": {map[string]Wish{"a": {Side: "A", Closes: OfSide}, "b": {Split: Seconds(time.Minute)}}, nil,
			these + "“a” (#1) is on side A and closes its side, and that “b” (#2) is split over both sides at 1:00; drop one of them"},
		"must and reserve": {map[string]Wish{"a": {Must: true, Reserve: 1}}, nil,
			pair + "“a” (#1) is not left out and is a reserve; drop one of them"},
		"an opener longer than a side": {map[string]Wish{"a": {Opens: OfMix}}, func(r *Request) { r.Mix.Items[0].Length = time.Hour },
			"a wish cannot be kept: that “a” (#1) opens the tape on sides of 29:20; drop it, or take a longer tape"},
		"each opens its own side":   {map[string]Wish{"a": {Side: "A", Opens: OfSide}, "b": {Side: "B", Opens: OfSide}}, nil, ""},
		"opens and closes one side": {map[string]Wish{"a": {Side: "A", Opens: OfSide}, "b": {Side: "A", Closes: OfSide}}, nil, ""},
		"joined on one side":        {map[string]Wish{"a": {Side: "A", Join: true}, "b": {Side: "A"}}, nil, ""},
		"two musts apart": {map[string]Wish{"a": {Must: true, Side: "A"}, "b": {Must: true, Side: "A"}}, func(r *Request) {
			free(r)
			r.Apart = 2
			artists(r.Mix, "x x y")
		}, these + "“a” (#1) is on side A and is not left out, that “b” (#2) is on side A and is not left out, and that tracks of one artist have 2 others between them; drop one of them"},
	} {
		r := request(t, "C60", wishes(mix(300, 300, 300), c.wish))
		if c.set != nil {
			c.set(&r)
		}
		p, err := Make(context.Background(), r)
		if len(p.mustLost) > 0 {
			_, says, _ := strings.Cut(p.mustLost[0].Says, "has no place: ")
			err = errors.New(says)
		}
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != c.says {
			t.Errorf("%s: %q, want %q", name, got, c.says)
		}
	}
}

func free(r *Request) { r.Order = fit.Free }

// without is the request without one wish, by code of its own.
func without(r Request, l Lift) Request {
	r.Mix.Items = slices.Clone(r.Mix.Items)
	if l.Track == 0 {
		switch l.Wish {
		case "apart":
			r.Apart = 0
		case "thin_tail":
			r.ThinTail = WarnTail
		case "order":
			r.Order = fit.Free
		case "tapes":
			r.MaxTapes = 8
		case "room":
			r.Tapes = []Choice{{Tape: r.Tapes[0].Tape.OfSide(3 * time.Hour)}}
		}
		return r
	}
	w := &r.Mix.Items[l.Track-1].Wish
	old := *w
	*w = Wish{Join: w.Join, Gap: w.Gap, Side: w.Side, Opens: w.Opens, Closes: w.Closes, Must: w.Must, Reserve: w.Reserve, NotThin: w.NotThin, Split: w.Split}
	switch l.Wish {
	case "join":
		w.Join = false
	case "gap":
		w.Gap = nil
	case "side":
		w.Side = ""
	case "opens":
		w.Opens = Anywhere
	case "closes":
		w.Closes = Anywhere
	case "must":
		w.Must = false
	case "reserve":
		w.Reserve = 0
	case "not_thin":
		w.NotThin = false
	case "split":
		w.Split = 0
	}
	w.Rugged, w.Fade, w.Drive = old.Rugged, old.Fade, old.Drive
	return r
}

// What is named cannot be kept by itself, and can once any one of it is not
// asked: of hundreds of small mixes with wishes that are far too many.
func TestContradictionsNameJustThese(t *testing.T) {
	ctx := context.Background()
	kept := func(r Request) bool {
		p, err := Make(ctx, r)
		return err == nil && len(p.mustLost) == 0
	}
	kinds := map[string]int{}
	count := 0
	for seed := range seeds(250) {
		r := demanding(t, seed)
		_, err := Make(ctx, r)
		var c *Contradiction
		if err == nil {
			continue
		}
		if !errors.As(err, &c) {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		count++
		// Without all other wishes it is as impossible.
		only := r
		for _, wish := range append(r.wishes(), Lift{Wish: "room"}) {
			if !slices.Contains(c.Wishes, wish) {
				only = without(only, wish)
			} else {
				kinds[wish.Wish]++
			}
		}
		if kept(only) {
			t.Errorf("seed %d: %v, and these alone can be kept", seed, err)
		}
		for _, wish := range c.Wishes {
			if !kept(without(only, wish)) {
				t.Errorf("seed %d: %v, but without %v they cannot be kept either", seed, err, wish)
			}
		}
		// No way to lay the tracks keeps them, whatever else is left out.
		brute := only
		brute.Mix.Items = slices.Clone(only.Mix.Items)
		ends := 0
		for i := range brute.Mix.Items {
			named := slices.ContainsFunc(c.Wishes, func(l Lift) bool { return l.Track == i+1 && l.Wish != "reserve" })
			named = named || slices.Contains(c.Wishes, Lift{i, "join"})
			w := &brute.Mix.Items[i].Wish
			if ends += truth(w.Opens == OfMix) + truth(w.Closes == OfMix); !named {
				w.Reserve = 1
			}
		}
		if len(brute.Mix.Items) <= 3 && ends < 2 && !bothSplitAndSide(c.Wishes) && !slices.Contains(c.Wishes, Lift{Wish: "tapes"}) {
			if !slices.ContainsFunc(c.Wishes, func(l Lift) bool { return l.Wish == "reserve" }) {
				brute.MaxTapes = min(brute.MaxTapes, 2)
				if fitsSomehow(brute) {
					t.Errorf("seed %d: %v, but there is a way to lay it", seed, err)
				}
			}
		}
	}
	t.Logf("%d contradictions, of %v", count, kinds)
	if count < 100 {
		t.Errorf("only %d contradictions", count)
	}
}

// bothSplitAndSide: that a split goes over both sides is all that Lay asks of it.
func bothSplitAndSide(ls []Lift) bool {
	return slices.ContainsFunc(ls, func(l Lift) bool {
		return l.Wish == "split" && slices.Contains(ls, Lift{l.Track, "side"})
	})
}

// demanding makes a small request with many wishes.
func demanding(t testing.TB, seed uint64) Request {
	rng := rand.New(rand.NewPCG(seed, 17))
	odd := func(of int) bool { return rng.IntN(of) == 0 }
	var lengths []float64
	for range 2 + rng.IntN(4) {
		lengths = append(lengths, float64(100+rng.IntN(900)))
	}
	m := mix(lengths...)
	for i := range m.Items {
		m.Items[i].Artist = string(rune('x' + rng.IntN(2)))
		w := &m.Items[i].Wish
		w.Must = odd(3)
		w.Join = odd(6)
		w.NotThin = odd(6)
		if odd(3) {
			w.Side = []string{"A", "B", "2A", "2B", "3A"}[rng.IntN(5)]
		}
		if odd(4) {
			w.Opens = []Where{OfSide, OfMix}[rng.IntN(2)]
		}
		if odd(4) {
			w.Closes = []Where{OfSide, OfMix}[rng.IntN(2)]
		}
		if odd(9) {
			w.Reserve = 1
		}
		if odd(9) {
			w.Split = Seconds(50 * time.Second)
		}
		if odd(9) {
			w.Gap = gap(9).Gap
		}
	}
	r := request(t, []string{"C10", "C46", "C100"}[rng.IntN(3)], m)
	r.Order = fit.Order(rng.IntN(3))
	r.MaxTapes = 1 + rng.IntN(2)
	if odd(3) {
		r.Apart = 1 + rng.IntN(2)
	}
	if odd(4) {
		r.ThinTail = BlankTail
	}
	return r
}

// What no tape could mean is told in the units that it is written in.
func TestRangesAreTold(t *testing.T) {
	for want, set := range map[string]func(*Request){
		"lead-in of 40:00: give 0:00 to 10:00": func(r *Request) { r.LeadIn = 40 * time.Minute },
		"--apart":                              func(r *Request) { r.Apart = -1 },
		"give 0 to 1000":                       func(r *Request) { r.Apart = 1001 },
	} {
		r := request(t, "C60", mix(300))
		set(&r)
		if _, err := Make(context.Background(), r); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q in it", err, want)
		}
	}
}
