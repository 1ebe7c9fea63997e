package planner

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"time"

	"longside/media"
)

// Exact is a length of time that is written as seconds to the nanosecond, for
// places within a file, which must be right to the sample. Times along the tape
// are Seconds.
type Exact time.Duration

// D is e as a time.Duration.
func (e Exact) D() time.Duration { return time.Duration(e) }

// MarshalJSON writes seconds with as many decimals as it takes.
func (e Exact) MarshalJSON() ([]byte, error) {
	return strconv.AppendFloat(nil, time.Duration(e).Seconds(), 'f', -1, 64), nil
}

// UnmarshalJSON reads seconds; what no file could hold is refused.
func (e *Exact) UnmarshalJSON(b []byte) error {
	var f float64
	if err := json.Unmarshal(b, &f); err != nil {
		return fmt.Errorf("%s is no number of seconds", b)
	}
	// Within these bounds a float64 tells nanoseconds apart to a hundredth or so.
	if !(f >= 0 && f <= maxSeconds) {
		return fmt.Errorf("%s s is out of range", b)
	}
	*e = Exact(math.Round(f * float64(time.Second)))
	return nil
}

// Stretch is a part of a file; of length 0, all of it.
type Stretch struct {
	FromS   Exact `json:"from_s,omitempty"`
	LengthS Exact `json:"length_s,omitempty"`
}

// Place says which sound was heard for the track's level: the piece's, where
// the track is one of the parts of a piece that was split over two sides.
func (t Track) Place() media.Place {
	switch {
	case t.SplitOf != nil:
		return media.Place{Path: t.Path, From: t.SplitOf.FromS.D(), Length: t.SplitOf.LengthS.D()}
	case t.Part && t.PartS > 0:
		return media.Place{Path: t.Path, From: t.FromS.D(), Length: t.PartS.D()}
	}
	return media.Place{Path: t.Path}
}

// inPlace is where the track begins in its Place.
func (t Track) inPlace() Seconds {
	if t.Part {
		return Seconds(t.FromS.D() - t.Place().From)
	}
	return 0
}

// place is Track.Place of an item.
func (it Item) place() media.Place {
	if s := it.splitOf; s != nil {
		return media.Place{Path: it.Path, From: s.FromS.D(), Length: s.LengthS.D()}
	}
	return it.Track.Place()
}
