package planner

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"longside/fit"
	"longside/media"
)

// TestExact: every sample's time, at every usual rate, comes back from the plan
// file as the same sample, and frames of 1/75 s do too.
func TestExact(t *testing.T) {
	for _, rate := range []int64{75, 8000, 44100, 48000, 96000, 192000} {
		for _, n := range []int64{0, 1, 2, 12345, 3600*rate + 7, 86399 * rate} {
			d := time.Duration(n/rate)*time.Second + time.Duration(n%rate)*time.Second/time.Duration(rate)
			b, err := json.Marshal(Exact(d))
			var e Exact
			if err == nil {
				err = json.Unmarshal(b, &e)
			}
			if err != nil || e.D() != d {
				t.Errorf("sample %d at %d: %v became %v by way of %s, %v", n, rate, d, e.D(), b, err)
			}
		}
	}
	for _, bad := range []string{"-1", "1e12", `"x"`, "null1"} {
		var e Exact
		if json.Unmarshal([]byte(bad), &e) == nil {
			t.Errorf("%s was read as %v", bad, e.D())
		}
	}
}

// TestPartsOfAFile: tracks that are parts of one file go through plan, plan file
// and replan with their places whole, and reach the cue list so that they meet.
func TestPartsOfAFile(t *testing.T) {
	frames := []time.Duration{0, 15001, 30017, 44999, 60000} // 1/75 s: 3:20.013 and so on
	var m Mix
	for i := range len(frames) - 1 {
		from, to := frames[i]*time.Second/75, frames[i+1]*time.Second/75
		m.Items = append(m.Items, Item{Track: media.Track{Path: "album.flac", Title: string(rune('a' + i)), Part: true, From: from, Length: to - from, LengthFrom: media.Header}})
	}
	m.Items[0].Wish.Join = true
	m.Items[2].Wish.Split = Seconds(90 * time.Second)
	r := request(t, "C46", m)
	r.Order = fit.Free
	p, err := Make(context.Background(), r)
	if err != nil || !p.Fits {
		t.Fatal(p.LeftOut, err)
	}
	for _, w := range p.Warnings {
		if w.About == "twice" {
			t.Errorf("parts of one file: %s", w.Says)
		}
	}
	check := func(what string, p Plan) {
		seen := map[string]bool{}
		for _, s := range p.Tapes[0].Sides {
			cues := s.Cues(nil)
			for i, tr := range s.Tracks {
				seen[tr.Title] = true
				c := cues[i]
				n := int(tr.Title[0] - 'a')
				from, to := frames[n]*time.Second/75, frames[n+1]*time.Second/75
				if tr.SplitOf != nil {
					if tr.Place() != (media.Place{Path: "album.flac", From: from, Length: to - from}) {
						t.Errorf("%s: the level of %q is that of %+v", what, tr.Title, tr.Place())
					}
					if tr.Title == "c (1 of 2)" {
						to = from + 90*time.Second
					} else {
						from += 90 * time.Second
					}
				}
				if c.Skip != from || c.Skip+c.Length != to {
					t.Errorf("%s: %s plays %v to %v, not %v to %v", what, tr.Title, c.Skip, c.Skip+c.Length, from, to)
				}
			}
		}
		if len(seen) != 5 {
			t.Errorf("%s: %v", what, seen)
		}
	}
	check("plan", p)
	data, err := Encode(p)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	check("plan file", again)
	done, err := ParseRecorded("A:1")
	if err != nil {
		t.Fatal(err)
	}
	q, err := Replan(context.Background(), again, done, nil)
	if err != nil || !q.Fits {
		t.Fatal(q.LeftOut, err)
	}
	check("replan", q)
}
