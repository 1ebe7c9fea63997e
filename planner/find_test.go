package planner

import (
	"strings"
	"testing"

	"longside/media"
)

func TestFind(t *testing.T) {
	m := Mix{Items: []Item{
		{Track: media.Track{Title: "Lights", Path: "/m/01 Lights of the Mole.mp3"}},
		{Track: media.Track{Title: "Bell Buoy", Path: "/m/02.flac"}},
		{Track: media.Track{Title: "Bell Tower"}},
		{Track: media.Track{Title: "Φάρος", Path: "/m/bell.wav"}},
		{Track: media.Track{Title: "7"}},
	}}
	for name, want := range map[string]int{
		"lights": 0, "#2": 1, "BUOY": 1, "bell tower": 2, "φάρος": 3, "bell.wav": 3, "bell": 3, "02": 1, "mole": 0, "7": 4,
	} {
		if got, err := m.Find(name); err != nil || got != want {
			t.Errorf("%q finds %d, %v, want %d", name, got, err, want)
		}
	}
	for name, says := range map[string]string{"": "no track is named", "#9": "there are 5", "#0": "there are 5", "el": "could be", "xyz": "no track is named"} {
		if got, err := m.Find(name); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q finds %d, %v, want an error with %q", name, got, err, says)
		}
	}
}
