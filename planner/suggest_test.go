package planner

import (
	"context"
	"strings"
	"testing"
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
	if got := says(r); !strings.Contains(got, "4 tapes do: plan with --tapes 4") {
		t.Errorf("suggested %q, want 4 tapes", got)
	}
	r.MaxTapes = 4
	if !make1(t, r).Fits {
		t.Error("they do not fit on the 4 tapes that were suggested")
	}
	// One track that no side holds: more tapes are no help, and none are suggested.
	if got := says(request(t, "C60", mix(6000, 100))); strings.Contains(got, "--tapes") {
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
