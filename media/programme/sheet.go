package programme

import "longside/media/cue"

// Sheet is a cue sheet of the file that is written under a name: a track for
// each cue with a title, so that a player or an editor can jump to it. A track
// begins with the frame of 1/75 s in which its first sample lies, never behind
// it; what is silent before it is its pause. The format numbers tracks up to 99:
// those beyond are left out.
func (l *Layout) Sheet(title, file string) cue.Sheet {
	// Whole frames up to a sample, and up to the end of one.
	frame := func(sample int64) cue.Time { return cue.Time(sample * cue.FramesPerSecond / int64(l.Rate)) }
	after := func(sample int64) cue.Time {
		return cue.Time(ceilDiv(sample*cue.FramesPerSecond, int64(l.Rate)))
	}
	f := cue.File{Name: file, Type: "WAVE"}
	last := cue.Time(-1)
	var end int64 // of what sounds before
	for _, s := range l.Spans {
		if start := frame(s.From); s.Title != "" && start > last && len(f.Tracks) < 99 {
			t := cue.Track{Number: len(f.Tracks) + 1, Title: s.Title, Performer: s.Performer, Start: start}
			if before := after(end); before < start && before > last {
				t.Pause = start - before
			}
			f.Tracks = append(f.Tracks, t)
			last = start
		}
		end = max(end, s.To)
	}
	return cue.Sheet{Title: title, Files: []cue.File{f}}
}
