package scan

import "fmt"

// clocks writes two counts of samples as m:ss for a note that sets one against
// the other; with milliseconds where they would read the same, or as they are.
func clocks(a, b int64, rate int) (string, string) {
	if rate <= 0 {
		rate = 1
	}
	r := int64(rate)
	x, y := clock(a/r), clock(b/r)
	if x == y {
		x += fmt.Sprintf(".%03d", a%r*1000/r)
		y += fmt.Sprintf(".%03d", b%r*1000/r)
	}
	if x == y {
		x, y = fmt.Sprint(a, " samples"), fmt.Sprint(b, " samples")
	}
	return x, y
}

func clock(seconds int64) string { return fmt.Sprintf("%d:%02d", seconds/60, seconds%60) }
