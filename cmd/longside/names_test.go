package main

import (
	"strings"
	"testing"

	"longside/planner"
)

// TestOddNames: a file whose name holds a line break, or is not UTF-8, takes one
// line of a playlist, in percent signs; and no side's name leads out of a folder.
func TestOddNames(t *testing.T) {
	s := planner.Side{Side: "A", Tracks: []planner.Track{
		{Path: "/m/a\nb.mp3", Title: "Fog"}, {Path: "/m/caf\xe9.mp3", Title: "Rope"}, {Title: "a record"},
	}}
	text, sounds := playlist(s, "/m")
	if !sounds || !strings.Contains(text, "\na%0Ab.mp3\n") || !strings.Contains(text, "\ncaf%E9.mp3\n") {
		t.Errorf("%q, %v", text, sounds)
	}
	for want, p := range map[string]planner.Plan{"side-A.wav": {Tapes: make([]planner.Tape, 1)}, "tape1-side-A.wav": {Tapes: make([]planner.Tape, 2)}} {
		if got := fileOf(p, 0, "side-A", ".wav"); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := fileOf(planner.Plan{}, 0, "side-/../../x", ".wav"); strings.ContainsAny(got, "/\\") {
		t.Errorf("%q", got)
	}
}
