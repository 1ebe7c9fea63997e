package planner

import "math"

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
