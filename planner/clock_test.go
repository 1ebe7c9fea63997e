package planner

import (
	"testing"
	"time"
)

func TestClock(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0:00", 7 * time.Second: "0:07", 59600 * time.Millisecond: "1:00", 2646500 * time.Millisecond: "44:07",
		-90 * time.Second: "-1:30", -100 * time.Millisecond: "0:00", 61*time.Minute + time.Second: "61:01",
	} {
		if got := Clock(d); got != want {
			t.Errorf("%v reads %s, want %s", d, got, want)
		}
	}
}

func TestParseTime(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"4s": 4 * time.Second, "4": 4 * time.Second, "0": 0, "1:30": 90 * time.Second, "1:02:03": 3723 * time.Second,
		"0:04.5": 4500 * time.Millisecond, "1m30s": 90 * time.Second, "-2": -2 * time.Second, " 3.25 ": 3250 * time.Millisecond,
	} {
		if got, err := ParseTime(text, time.Second); err != nil || got != want {
			t.Errorf("%q reads %v, %v, want %v", text, got, err, want)
		}
	}
	if got, err := ParseTime("46.2", time.Minute); err != nil || got != 2772*time.Second {
		t.Errorf("46.2 minutes read %v, %v", got, err)
	}
	for _, text := range []string{"", "x", "1:60", "1:2:3:4", "1.5:00", "--4", "NaN", "inf", "1e300", "4 s s", "1:+3", ":", "1:", "999999999h"} {
		if got, err := ParseTime(text, time.Second); err == nil {
			t.Errorf("%q reads %v, want an error", text, got)
		}
	}
}
