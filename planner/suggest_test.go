package planner

import (
	"context"
	"strings"
	"testing"
	"time"

	"longside/fit"
)

// TestMoreTapes: eight tracks of 1,700 s on C60s. A side of 1,760 s holds one,
// a side of a C180 (5400 x 0.985 - 13 = 5306 s) three: no one tape holds all,
// four C60s do. By time alone it is 13,600 / 3,520 = 3.9 tapes.
func TestMoreTapes(t *testing.T) {
	r := request(t, "C60", mix(1700, 1700, 1700, 1700, 1700, 1700, 1700, 1700))
	says := func(r Request) string {
		for _, s := range Suggest(context.Background(), r, make1(t, r)) {
			if s.About == "tape" {
				return s.Says
			}
		}
		return ""
	}
	if got := says(r); !strings.Contains(got, "but 4 C60 would hold everything") {
		t.Errorf("suggested %q, want 4 tapes", got)
	}
	r.MaxTapes = 4
	if !make1(t, r).Fits {
		t.Error("they do not fit on the 4 tapes that were suggested")
	}
	// One track that no side holds: more tapes are no help, and none are suggested.
	if got := says(request(t, "C60", mix(6000, 100))); strings.Contains(got, "C60 would") {
		t.Errorf("suggested %q for a track that no side holds", got)
	}
}

// TestReservesAreNotMissed: a reserve that finds no time is no reason to say
// that the list does not fit. Two tracks of 1,700 s fill a C60's sides.
func TestReservesAreNotMissed(t *testing.T) {
	r := request(t, "C60", mix(1700, 1700, 900))
	r.Mix.Items[2].Wish.Reserve = 1
	p := make1(t, r)
	if !p.Fits || len(p.LeftOut) != 1 || len(p.Lacks()) != 0 {
		t.Errorf("fits %t, left out %d, lacks %d; want true, 1, 0", p.Fits, len(p.LeftOut), len(p.Lacks()))
	}
	r.Mix.Items[2].Wish.Reserve = 0
	if p = make1(t, r); p.Fits || len(p.Lacks()) != 1 {
		t.Errorf("fits %t, lacks %d; want false, 1", p.Fits, len(p.Lacks()))
	}
}

// TestSplitHolds: the split that is offered for a lone track of 2100 s on a C60
// (1760 s a side), done, fits; and to leave out all there is is no advice.
func TestSplitHolds(t *testing.T) {
	r := request(t, "C60", mix(2100))
	var says string
	for _, s := range Suggest(context.Background(), r, make1(t, r)) {
		if s.About == "drop" {
			t.Errorf("suggested %q of the only track", s.Says)
		}
		if s.About == "split" {
			says = s.Says
		}
	}
	_, at, _ := strings.Cut(says, "at ")
	cut, err := ParseTime(strings.Fields(at)[0], time.Second)
	if err != nil || !strings.HasSuffix(says, "and everything fits") {
		t.Fatalf("suggested %q: %v", says, err)
	}
	r.Mix.Items[0].Wish.Split = Seconds(cut)
	if p := make1(t, r); !p.Fits {
		t.Errorf("it does not fit when split at %s", Clock(cut))
	}
}

// TestFreeOrderIsNoFalseHope: what the rule of artists keeps off the tape is
// not promised a place in another order; what the order keeps off is.
func TestFreeOrderIsNoFalseHope(t *testing.T) {
	blank := func(r Request) (all string) {
		for _, w := range make1(t, r).Warnings {
			if w.About == "blank" {
				all += w.Says + "\n"
			}
		}
		return all
	}
	r := request(t, "C60", artists(mix(225, 225, 225, 200), "x x x y"))
	r.Apart = 5
	for _, r.Order = range []fit.Order{fit.Keep, fit.Near, fit.Free} {
		if says := blank(r); says == "" || strings.Contains(says, "--order free") {
			t.Errorf("order %v: %q", r.Order, says)
		}
	}
	// In the given order 1000 s and 1000 s do not share a side of 1760 s.
	r = request(t, "C60", mix(1000, 1000, 700, 700))
	says := blank(r)
	r.Order = fit.Free
	if strings.Contains(says, "--order free") && !make1(t, r).Fits {
		t.Errorf("%q, but it does not fit then", says)
	}
	if !strings.Contains(says, "--order free") {
		t.Errorf("%q: a free order, which holds all, is not named", says)
	}
}
