package planner

import (
	"context"
	"strings"
	"testing"
	"time"

	"longside/fit"
)

func replanned(t *testing.T, p Plan, recorded string, change func(*Request)) Plan {
	t.Helper()
	done, err := ParseRecorded(recorded)
	if err != nil {
		t.Fatal(err)
	}
	q, err := Replan(context.Background(), p, done, change)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// What is recorded stays where it is; the rest is laid behind it. Sides of
// 1760 s: a + b = 1404, c would make 1908.
func TestReplanKeepsWhatIsRecorded(t *testing.T) {
	p := make1(t, request(t, "C60", mix(700, 700, 500, 340, 300)))
	if a, b := titlesOf(side(p, 0)), titlesOf(side(p, 1)); a != "ab" || b != "cde" {
		t.Fatalf("sides %s and %s", a, b)
	}
	// Free: d or e fits behind b (1404 + 4 + 340 = 1748).
	q := replanned(t, p, "A:2", func(r *Request) { r.Order = fit.Free })
	if a, b := titlesOf(side(q, 0)), titlesOf(side(q, 1)); a != "abd" || b != "ce" {
		t.Errorf("sides %s and %s, want abd and ce", a, b)
	}
	// 7 + 700 + 4 + 700 = 1411, + 4: d starts at 1415.
	if got := side(q, 0).Tracks[2].StartS.D(); got != 1415*time.Second {
		t.Errorf("d starts at %v, want 1415 s", got)
	}
	if side(q, 0).Tracks[0] != side(p, 0).Tracks[0] && side(q, 0).Tracks[0].StartS != side(p, 0).Tracks[0].StartS {
		t.Error("a recorded track moved")
	}
	// A whole side is closed: nothing more goes on it.
	q = replanned(t, p, "A", func(r *Request) { r.Order = fit.Free })
	if a := titlesOf(side(q, 0)); a != "ab" {
		t.Errorf("side A holds %s after it was recorded", a)
	}
	// Planning again with nothing recorded is the plan itself.
	q = replanned(t, p, "A:0", nil)
	if a, b := titlesOf(side(q, 0)), titlesOf(side(q, 1)); a != "ab" || b != "cde" {
		t.Errorf("from the beginning: sides %s and %s", a, b)
	}
}

func TestReplanRefuses(t *testing.T) {
	p := make1(t, request(t, "C60", mix(700, 700, 500)))
	for recorded, says := range map[string]string{"B": "everything is recorded", "A:3": "holds 2 tracks", "2A": "no side A of tape 2"} {
		done, err := ParseRecorded(recorded)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Replan(context.Background(), p, done, nil); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: error %v, want one with %q", recorded, err, says)
		}
	}
	for _, text := range []string{"", "C", "A:", "A:x", "A:-1", "0A", "-1A", "A7", ":7"} {
		if r, err := ParseRecorded(text); err == nil {
			t.Errorf("%q is read as %+v", text, r)
		}
	}
}
