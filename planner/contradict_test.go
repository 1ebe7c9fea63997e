package planner

import (
	"context"
	"strings"
	"testing"
	"time"
)

// Wishes that speak of one place are refused, and both tracks are named.
func TestOnePlaceForOne(t *testing.T) {
	for name, c := range map[string]struct {
		wish map[string]Wish
		ok   bool
	}{
		"two open side B":           {map[string]Wish{"a": {Side: "B", Opens: OfSide}, "b": {Side: "B", Opens: OfSide}}, false},
		"two close side A":          {map[string]Wish{"a": {Side: "A", Closes: OfSide}, "b": {Side: "A", Closes: OfSide}}, false},
		"joined on two sides":       {map[string]Wish{"a": {Side: "A", Join: true}, "b": {Side: "B"}}, false},
		"opens behind a join":       {map[string]Wish{"a": {Join: true}, "b": {Opens: OfMix}}, false},
		"closes before a join":      {map[string]Wish{"a": {Join: true, Closes: OfSide}, "b": {}}, false},
		"each opens its own side":   {map[string]Wish{"a": {Side: "A", Opens: OfSide}, "b": {Side: "B", Opens: OfSide}}, true},
		"opens and closes one side": {map[string]Wish{"a": {Side: "A", Opens: OfSide}, "b": {Side: "A", Closes: OfSide}}, true},
		"joined on one side":        {map[string]Wish{"a": {Side: "A", Join: true}, "b": {Side: "A"}}, true},
	} {
		_, err := Make(context.Background(), request(t, "C60", wishes(mix(300, 300, 300), c.wish)))
		switch {
		case c.ok && err != nil:
			t.Errorf("%s: %v", name, err)
		case !c.ok && (err == nil || !strings.Contains(err.Error(), "“a” (#1)") || !strings.Contains(err.Error(), "“b” (#2)")):
			t.Errorf("%s: error %v, want one that names both", name, err)
		}
	}
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
