package planner

import (
	"math"

	"longside/media"
	"longside/media/meter"
)

// withLevels adds what was heard of the tracks, when any was: levels, trims,
// where to set the record level, treble, and places of echo.
func (r *Request) withLevels(p Plan) Plan {
	found := map[media.Place]meter.Result{}
	for _, it := range r.Mix.Items {
		if it.Heard != nil {
			found[it.place()] = *it.Heard
		}
	}
	if len(found) == 0 {
		return p
	}
	levels := func(t Track) (meter.Result, bool) {
		m, ok := found[t.Place()]
		return m, ok && t.Path != ""
	}
	p = p.WithLevels(levels)
	p.Echoes = Echoes(p, levels, r.Stored)
	p.Warnings = append(p.Warnings, EchoWarnings(p, p.Echoes, r.Stored)...)
	return p
}

// loudnessSpan is the loudness of the quietest and of the loudest track heard, LUFS.
func (r *Request) loudnessSpan() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, it := range r.Mix.Items {
		if it.Heard != nil && !math.IsInf(it.Heard.Integrated, 0) {
			low, high = min(low, it.Heard.Integrated), max(high, it.Heard.Integrated)
		}
	}
	return low, high
}
