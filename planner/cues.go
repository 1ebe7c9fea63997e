package planner

import (
	"time"

	"longside/media/programme"
)

// fadeLength is how long the end of a track fades that the plan shortens:
// common practice, no source.
const fadeLength = 6 * time.Second

// Trims are the gains of the side's tracks in dB, by their order; 0 of a track
// that was not listened to.
func (s Side) Trims() []float64 {
	g := make([]float64, len(s.Tracks))
	for i, t := range s.Tracks {
		if t.Level != nil {
			g[i] = t.Level.TrimDB
		}
	}
	return g
}

// Cues is the side as a list of cues for media/programme, times from pressing
// record. trims are gains in dB by the tracks' order on the side; nil for none.
// A track that comes from no file is timed silence with a marker.
func (s Side) Cues(trims []float64) []programme.Cue {
	var cues []programme.Cue
	for i, t := range s.Tracks {
		c := programme.Cue{
			Title: t.Title, Performer: t.Artist,
			Path:  t.Path,
			Start: t.StartS.D(),
			Skip:  t.FromS.D(),
		}
		if i < len(trims) {
			c.Gain = trims[i]
		}
		// The plan's times are whole milliseconds, a track's length is not: played
		// to its end where nothing shortens it, no sample is lost and joined
		// tracks meet.
		switch {
		case t.Part && t.PartS > 0:
			c.Length = max(1, t.PartS.D()-t.FadeS.D())
		case t.Path == "" || t.FadeS > 0 || t.Part:
			c.Length = t.LengthS.D()
		}
		if t.FadeS > 0 {
			c.Fade = min(max(fadeLength, t.FadeS.D()), t.LengthS.D())
		}
		c.Joined = i > 0 && s.Tracks[i-1].Joined
		cues = append(cues, c)
	}
	return cues
}
