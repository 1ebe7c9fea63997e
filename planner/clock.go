package planner

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Clock writes a length of time as m:ss, rounded to the second; minutes run on
// past 59, as they do on a deck.
func Clock(d time.Duration) string {
	sign := ""
	if d < 0 {
		sign, d = "-", -d
	}
	n := int64(d.Round(time.Second) / time.Second)
	if n == 0 {
		sign = ""
	}
	return fmt.Sprintf("%s%d:%02d", sign, n/60, n%60)
}

// ExactClock is Clock with as many decimals as the milliseconds take.
func ExactClock(d time.Duration) string {
	d = d.Round(time.Millisecond)
	s := Clock(d.Truncate(time.Second))
	if ms := d % time.Second / time.Millisecond; ms != 0 {
		s += strings.TrimRight(fmt.Sprintf(".%03d", ms), "0")
	}
	return s
}

// String is s as m:ss.
func (s Seconds) String() string { return Clock(time.Duration(s)) }

// maxTime bounds a typed time; no tape and no record is as long.
const maxTime = 100 * time.Hour

// ParseTime reads a time that a person typed: m:ss, h:mm:ss, a number in the
// unit given, or 1m30s; with - before it, a negative one.
func ParseTime(s string, unit time.Duration) (time.Duration, error) {
	bad := errors.New("write a time as 4s, 1:30 or 90")
	text, neg := strings.CutPrefix(strings.TrimSpace(s), "-")
	var d time.Duration
	if parts := strings.Split(text, ":"); len(parts) > 1 && len(parts) <= 3 {
		var sec float64
		for i, p := range parts {
			f, err := strconv.ParseFloat(p, 64)
			last := i == len(parts)-1
			if err != nil || f < 0 || i > 0 && f >= 60 || !last && f != math.Trunc(f) || strings.ContainsAny(p, "eExXpP_+-") {
				return 0, bad
			}
			sec = sec*60 + f
		}
		if sec > maxTime.Seconds() {
			return 0, bad
		}
		d = time.Duration(math.Round(sec * float64(time.Second)))
	} else if f, err := strconv.ParseFloat(text, 64); err == nil {
		if !(f >= 0 && f*unit.Seconds() <= maxTime.Seconds()) {
			return 0, bad
		}
		d = time.Duration(math.Round(f * float64(unit)))
	} else if d, err = time.ParseDuration(text); err != nil || d < 0 || d > maxTime {
		return 0, bad
	}
	if neg {
		d = -d
	}
	return d, nil
}
