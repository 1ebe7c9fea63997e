package planner

import (
	"fmt"
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

// String is s as m:ss.
func (s Seconds) String() string { return Clock(time.Duration(s)) }
