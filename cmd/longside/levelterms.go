package main

import (
	"errors"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"longside/media"
	"longside/planner"
)

// addLevelTerms adds the flags for bringing tracks together in level.
func addLevelTerms(fl *pflag.FlagSet, t *planner.LevelTerms) {
	t.HeadroomDB = planner.DefaultHeadroom
	decibels := func(s, unit string) (float64, error) {
		s = strings.Replace(strings.ToLower(strings.TrimSpace(s)), "\u2212", "-", 1)
		return strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(s, unit)), 64)
	}
	fl.Var(&parsedValue{text: "middle", kind: "LUFS|middle|none", set: func(s string) error {
		t.AsTheyAre, t.LoudnessLUFS = strings.EqualFold(s, "none"), nil
		if t.AsTheyAre || strings.EqualFold(s, "middle") {
			return nil
		}
		v, err := decibels(s, "lufs")
		if err != nil || !(v >= -40 && v <= 0) {
			return errors.New("write a loudness from -40 to 0 LUFS, as -16, or middle or none")
		}
		t.LoudnessLUFS = &v
		return nil
	}}, "loudness", "what the trims bring the tracks to: a figure as -16, the middle track's loudness, or none for no trims")
	fl.Var(&parsedValue{text: "1dB", kind: "dB", set: func(s string) error {
		v, err := decibels(s, "db")
		if err != nil || !(v >= 0 && v <= 20) {
			return errors.New("write 0 to 20 dB, as 1dB")
		}
		t.HeadroomDB = v
		return nil
	}}, "headroom", "what the highest true peak, trimmed, keeps to full scale; the whole mix is lowered for it")
	fl.Var(among("", "160|200|250", func(s string) error {
		switch s {
		case "160", "200", "250":
			t.MeterZero, _ = strconv.Atoi(s)
			return nil
		}
		return errors.New("write 160, 200 or 250 (nWb/m)")
	}), "meter-zero", "flux at your meter's 0 dB in nWb/m")
}

// levelsOf are the levels of what was heard, as a plan keeps them.
func levelsOf(heard []media.Heard) []*planner.TrackLevel {
	var ls []*planner.TrackLevel
	for _, h := range heard {
		ls = append(ls, planner.LevelOf(&h.Result))
	}
	return ls
}
