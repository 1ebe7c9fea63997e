package fit

import "time"

// Millis is a length of time in whole milliseconds: the unit of everything in
// this package. Lengths are rounded up to it and capacities down, so that a
// plan never fits by rounding.
type Millis int64

// Up rounds a length up to whole milliseconds.
func Up(d time.Duration) Millis {
	m := Millis(d / time.Millisecond)
	if d%time.Millisecond > 0 {
		m++
	}
	return m
}

// Down rounds a capacity down to whole milliseconds.
func Down(d time.Duration) Millis {
	m := Millis(d / time.Millisecond)
	if d%time.Millisecond < 0 {
		m--
	}
	return m
}

// Duration is m as a time.Duration.
func (m Millis) Duration() time.Duration { return time.Duration(m) * time.Millisecond }
