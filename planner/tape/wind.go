package tape

import (
	"math"
	"time"
)

// Wind is one of the two packs at a moment of the side.
type Wind struct {
	Radius Millimetres
	Layers float64       // turns of tape on the hub
	Layer  Millimetres   // length of the outermost layer, 2 pi r
	Turn   time.Duration // time of one turn at nominal speed, 2 pi r / v
	RPM    float64       // turns a minute at nominal speed
}

// SupplyWind is the pack that gives tape, after the tape has run for at.
func (t Tape) SupplyWind(at time.Duration) Wind { return t.wind(max(t.Length, 0) - t.onTakeUp(at)) }

// TakeUpWind is the pack that takes it.
func (t Tape) TakeUpWind(at time.Duration) Wind { return t.wind(t.onTakeUp(at)) }

func (t Tape) wind(length Metres) Wind {
	r := t.wound(length)
	w := Wind{Radius: r, Layers: t.turns(length), Layer: 2 * math.Pi * r, Turn: TurnTime(r)}
	if r > 0 {
		w.RPM = 60 * float64(Speed) / float64(w.Layer)
	}
	return w
}

// TurnTime is how long one turn of a pack of radius r takes at nominal speed:
// 1.45 s at an 11 mm hub, about 3.3 s at a full pack. It is also how far, in
// time, a sound lies from the sound wound on top of it.
func TurnTime(r Millimetres) time.Duration {
	return duration(2 * math.Pi * float64(r) / float64(Speed))
}

// PrintFrequency is the frequency, in Hz, that prints through most: the one
// whose wavelength on the tape is 2 pi times the whole thickness (an
// archivists' list post that corrects a maker's bulletin and cites the JAES of
// October 1980). 0 for a tape of no thickness.
func (t Tape) PrintFrequency() float64 {
	if !(t.Thickness > 0) {
		return 0
	}
	return float64(Speed) * 1000 / (2 * math.Pi * float64(t.Thickness))
}

// ThicknessRange is the range of thickness seen in print for tapes of t's
// name; for a name outside the table both ends are the figure of the rule.
func (t Tape) ThicknessRange() (from, to Micrometres) {
	_, from, to, _ = t.usual()
	return from, to
}

// ThicknessSource says where the thickness of t's name comes from, in words
// that can stand beside the figure; "measured" when t has another.
func (t Tape) ThicknessSource() string {
	um, _, _, how := t.usual()
	if t.Thickness != um {
		return "measured"
	}
	return how
}

func (t Tape) usual() (um, from, to Micrometres, how string) {
	named, err := Named(t.Name)
	if err != nil {
		return t.Thickness, t.Thickness, t.Thickness, "as given"
	}
	return usualThickness(int(2*named.Side/time.Minute), named.Length)
}
