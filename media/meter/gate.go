package meter

import "math"

const (
	absoluteGate = -70.0 // LUFS, BS.1770-4
	relativeGate = -10.0 // LU under the mean, BS.1770-4
	rangeGate    = -20.0 // LU under the mean, EBU Tech 3342
	rangeLow     = 0.10  // percentiles of EBU Tech 3342
	rangeHigh    = 0.95

	binsPerLU = 100
	topBin    = 100 // LUFS: beyond what the ceiling lets through
	bins      = (topBin - absoluteGate) * binsPerLU
)

// histogram keeps loudness blocks in bins of 0.01 LU above the absolute gate,
// with the energy of each bin, so that a day of sound takes no more memory
// than a minute. Only which side of a relative gate a block falls on is
// rounded; the energies add up exactly.
type histogram struct {
	count  []int64
	energy []float64
	total  int64
	sum    float64
}

// add takes one block by its weighted mean square.
func (h *histogram) add(z float64) {
	l := loudness(z)
	if !(l >= absoluteGate) {
		return
	}
	if h.count == nil {
		h.count, h.energy = make([]int64, bins), make([]float64, bins)
	}
	b := min(int((l-absoluteGate)*binsPerLU), bins-1)
	h.count[b]++
	h.energy[b] += z
	h.total++
	h.sum += z
}

// above is the first bin wholly or partly at or over a relative gate.
func (h *histogram) above(gate float64) int {
	g := loudness(h.sum/float64(h.total)) + gate
	return max(0, int(math.Round((g-absoluteGate)*binsPerLU)))
}

// integrated is the gated loudness in LUFS; -Inf when all is silent.
func (h *histogram) integrated() float64 {
	if h.total == 0 {
		return math.Inf(-1)
	}
	var n int64
	var e float64
	for b := h.above(relativeGate); b < bins; b++ {
		n += h.count[b]
		e += h.energy[b]
	}
	return loudness(e / float64(n))
}

// rangeLU is the loudness range in LU; 0 when there is nothing to compare.
func (h *histogram) rangeLU() float64 {
	if h.total == 0 {
		return 0
	}
	from := h.above(rangeGate)
	var n int64
	for b := from; b < bins; b++ {
		n += h.count[b]
	}
	at := func(share float64) float64 {
		rank := int64(math.Round(share * float64(n-1)))
		for b := from; b < bins; b++ {
			if rank -= h.count[b]; rank < 0 {
				return float64(b) / binsPerLU
			}
		}
		return 0
	}
	return at(rangeHigh) - at(rangeLow)
}
