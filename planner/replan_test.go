package planner

import (
	"context"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/media/meter"
	"longside/planner/tape"
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

// What was heard travels in the plan: after a mishap every track has its level
// and trim still, the sheet its level line, and the places of echo are those of
// the new order. A plan read back from its file says the same.
func TestReplanKeepsLevels(t *testing.T) {
	r := request(t, "C60", mix(700, 700, 500, 340, 300))
	for i := range r.Mix.Items {
		h := heardAt(-12-float64(i), -1)
		h.Course = meter.Course{Step: 100 * time.Millisecond}
		h.Course.Levels, _ = courseOf(r.Mix.Items[i].Length, func(int) float64 { return -12 })
		r.Mix.Items[i].Heard = &h
	}
	r.Stored = tape.Played
	p := make1(t, r)
	data, err := Encode(p)
	if err != nil {
		t.Fatal(err)
	}
	if p, err = Decode(data); err != nil {
		t.Fatal(err)
	}
	about := func(p Plan, what string) (n int) {
		for _, w := range p.Warnings {
			if w.About == what {
				n++
			}
		}
		return n
	}
	for _, recorded := range []string{"A:0", "A:1", "A"} {
		q := replanned(t, p, recorded, func(r *Request) { r.Order = fit.Free })
		trims := map[string]float64{}
		for _, tr := range p.tracks() {
			trims[tr.Title] = tr.Level.TrimDB
		}
		for _, tr := range q.tracks() {
			if tr.Level == nil || tr.Level.TrimDB != trims[tr.Title] || len(tr.Level.Course) == 0 {
				t.Errorf("%s: %s has lost its level: %+v", recorded, tr.Title, tr.Level)
			}
		}
		if about(q, "level") != about(p, "level") || about(q, "level") != 1 || about(q, "echo") != 2 {
			t.Errorf("%s: notes lost: %+v", recorded, q.Warnings)
		}
		if q.Terms.Stored != tape.Played || len(q.Echoes) < 8 {
			t.Errorf("%s: stored %v, %d echoes", recorded, q.Terms.Stored, len(q.Echoes))
		}
	}
}
