package meter

import "math"

// The peak meter of IEC 60268-10, Type I: what a person sees on a deck's meter
// is neither loudness nor the highest sample, but a peak that has lasted for
// some milliseconds. A burst of 5 kHz as long as the integration time, 5 ms,
// reads 2 dB under the same tone held; the reading then falls by 20 dB in 1.7 s
// (both: a table from a handbook of audio technology that a page on meters
// quotes). Type II, of 10 ms, reads less on all that is short.
//
// A capacitor that a rectifier charges behaves so. Its rate is set for the 5 ms;
// other bursts then read what the standard's table asks for, within its
// tolerances (see the test).
const (
	meterCharge = 742.0    // 1/s
	meterFall   = 20 / 1.7 // dB a second
)

// quasiPeak follows one channel.
type quasiPeak struct {
	charge float64 // share of what is missing that a sample adds
	fall   float64 // factor of a slot of the fine grid
	held   float64 // what a held sine of amplitude 1 reads

	now, most float64
	at        int64 // slot of most
}

func newQuasiPeak(rate int) quasiPeak {
	q := quasiPeak{charge: 1 - math.Exp(-meterCharge/float64(rate)), fall: math.Pow(10, -meterFall/20/slotsPerSecond)}
	// Charging stops while the rectified sine is under the charge, so that even
	// a held tone stays a little under its peak: 0.2 dB, measured here once.
	x := make([]float64, rate/slotsPerSecond)
	for slot := range slotsPerSecond {
		for i := range x {
			n := slot*len(x) + i
			x[i] = math.Sin(2 * math.Pi * 1000 * float64(n) / float64(rate))
		}
		q.take(x)
		q.endSlot(0)
	}
	q.held, q.now, q.most = q.most, 0, 0
	return q
}

// take lets samples charge it; it falls when the slot is over.
func (q *quasiPeak) take(x []float64) {
	now := q.now
	for _, v := range x {
		if v = math.Abs(v); v > now {
			now += q.charge * (v - now)
		}
	}
	q.now = now
}

func (q *quasiPeak) endSlot(slot int64) {
	if q.now > q.most {
		q.most, q.at = q.now, slot
	}
	q.now *= q.fall
}

// reading is the highest reading in dB, 0 being a held sine of full scale, and
// the slot of the fine grid where it was; -Inf for silence. slot is the open one.
func (q *quasiPeak) reading(slot int64) (db float64, at int64) {
	if q.now > q.most {
		return decibels(q.now / q.held), slot
	}
	return decibels(q.most / q.held), q.at
}
