package tape

import (
	"fmt"
	"time"
)

// The bounds of what can be a cassette's tape at all. Outside them a figure is
// a slip of the pen or a wrong unit, and is refused.
const (
	// The thinnest sold, in a C180, is 6 um, the thickest 18; the bounds leave
	// room for what was never printed.
	leastThickness, mostThickness Micrometres = 4, 25
	// Hubs are 11 mm; larger ones are sold in short tapes (a collectors' forum).
	leastHub, mostHub Millimetres = 8, 20
	// LargestPack is what a shell takes: about 25 mm, from memory, unverified.
	// The two millimetres above it are for air in the pack and worn rulers.
	LargestPack Millimetres = 25
	mostPack    Millimetres = LargestPack + 2
	// Half a minute is a leader check, two hours is no cassette.
	leastSide, mostSide = 30 * time.Second, 2*time.Hour + 10*time.Minute
)

// Check refuses a tape that no shell holds, in one line that names the figure.
func (t Tape) Check() error {
	switch {
	case t.Side < leastSide || t.Side > mostSide:
		return fmt.Errorf("a side of %s: no cassette has one; give m:ss, 0:30 to 130:00", clock(t.Side))
	case !(t.Thickness >= leastThickness && t.Thickness <= mostThickness):
		return fmt.Errorf("a thickness of %.4g um: cassette tape has 4 to 25 um, base and coating together", float64(t.Thickness))
	case !(t.Hub >= leastHub && t.Hub <= mostHub):
		return fmt.Errorf("a hub radius of %.4g mm: a cassette's hub has 8 to 20 mm (give the radius, not the diameter)", float64(t.Hub))
	case !(t.Length > 0 && t.Length <= passed(mostSide)):
		return fmt.Errorf("a length of %.4g m: no cassette holds it", float64(t.Length))
	case t.FullRadius() > mostPack:
		return fmt.Errorf("%.4g m of %.4g um on a hub of %.4g mm winds to %.1f mm: a shell takes about %.0f; one of the three is wrong",
			float64(t.Length), float64(t.Thickness), float64(t.Hub), float64(t.FullRadius()), float64(LargestPack))
	}
	return nil
}

// clock writes a time as m:ss, to the second.
func clock(d time.Duration) string {
	sign := ""
	if d < 0 {
		sign, d = "-", -d
	}
	s := int64((d + time.Second/2) / time.Second)
	return fmt.Sprintf("%s%d:%02d", sign, s/60, s%60)
}

// The shell, for drawings.
const (
	HubDistance  Millimetres = 42.5 // between the hubs' middles: from memory, unverified (IEC 60094-7)
	ShellWidth   Millimetres = 102  // an encyclopedia, one source
	ShellHeight  Millimetres = 63.5 // the same
	WindowWidth  Millimetres = 42   // the hole in the label: from memory, unverified
	WindowHeight Millimetres = 12   // the same
)
