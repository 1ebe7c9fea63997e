package tape

import (
	"math"
	"time"
)

// ThinTailRatio is the ratio of take-up to supply radius that the thin tail
// asks for too. A shell wound full, R = 24.74 mm on an 11 mm hub, has 1.83 when
// its supply pack is down to 13 mm; a short tape on the same hub has less there,
// is under less strain and comes to the ratio later. Our own choice, no source.
const ThinTailRatio = 1.8

// Zone is a stretch of a side, in time at nominal speed.
type Zone struct{ From, To time.Duration }

// Empty says that nothing lies in z.
func (z Zone) Empty() bool { return z.To <= z.From }

// Tail is the end of a side where the supply pack is smaller than radius and
// the take-up pack at least ratio times as large as it: the supply hub turns
// fast there and pulls hardest on the tape. It is empty when the two never meet.
//
// The ratio is k from where r1^2 = k^2 r2^2. As r1^2 + r2^2 = 2 r0^2 + L t/pi = S
// at all times, that is where r2^2 = S / (1 + k^2). A ratio of 0 asks nothing.
func (t Tape) Tail(radius Millimetres, ratio float64) Zone {
	end := t.SupplyFallsTo(0)
	from := t.SupplyFallsTo(radius)
	if ratio > 0 {
		sum := float64(t.FullRadius()*t.FullRadius() + t.Hub*t.Hub)
		from = max(from, t.SupplyFallsTo(Millimetres(math.Sqrt(sum/(1+ratio*ratio)))))
	}
	return Zone{from, end}
}

// ThinTail is t's tail by the usual radius and ratio, on tape thin enough to
// need one (thinner than NoteThinner); on other tape it is empty.
func (t Tape) ThinTail() Zone {
	if !(t.Thickness < NoteThinner) {
		return Zone{}
	}
	return t.Tail(ThinTailRadius, ThinTailRatio)
}
