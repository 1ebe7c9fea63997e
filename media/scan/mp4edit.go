package scan

import "fmt"

// editList is what an elst box asks for, in samples of the sound.
type editList struct {
	parts   int64 // stretches of the sound that are played
	first   int64 // where the first of them begins
	played  int64 // length of all of them
	silence int64 // length of the empty edits before, between and behind them
	// The durations are in the movie's time, as a rule milliseconds: exact tells
	// that it is fine enough to count samples by. slack is how far they may fall
	// short for no reason but rounding and whole packets.
	exact bool
	slack int64
}

// readEdits reads the edit list against a track of so many samples; pos brings
// a time of the track, clock one of the movie, to samples. Of an edit that
// reaches past the end only what is there is played, and no edit list plays
// more than most in all. ref: ISO/IEC 14496-12 8.6.6.
func readEdits(s *source, b box, total, most int64, pos, clock func(int64) int64) (l editList) {
	d := s.at(b.off, 8) // version and flags 4, entry_count 4
	if b.off == 0 || len(d) < 8 {
		return l
	}
	half := 4 // segment_duration and media_time, each of 4 bytes, or of 8 in version 1; rate 4
	if d[0] == 1 {
		half = 8
	}
	size := int64(2*half + 4)
	n := min(int64(be(d[4:], 4)), max(0, min(b.end, s.size)-b.off-8)/size)
	for i := range n {
		e := s.at(b.off+8+i*size, int(size))
		if int64(len(e)) < size {
			break
		}
		length, at := int64(be(e, half)), int64(be(e[half:], half))
		if half == 4 {
			at = int64(int32(at))
		}
		length = clock(length)
		if at < 0 { // -1: an empty edit
			l.silence = min(most, l.silence+max(0, length))
			continue
		}
		at = min(pos(at), total)
		if length <= 0 || length > total-at { // 0: as far as there is sound
			length = total - at
		}
		if l.parts == 0 {
			l.first = at
		}
		l.parts++
		if l.played += length; l.played > most {
			break
		}
	}
	return l
}

// trim takes off what the edit list does not play.
func (l editList) trim(info *Info) {
	played, of := clocks(l.played, info.Samples, info.Rate)
	switch short := info.Samples - l.played; {
	case l.parts > 1 && max(short, -short) <= l.slack:
		info.Samples = l.played
		info.Notes = append(info.Notes, fmt.Sprintf("is played in %d parts, as its edit list says", l.parts))
	case l.parts > 1:
		info.Samples = l.played
		info.Notes = append(info.Notes, fmt.Sprintf("is played in %d parts, as its edit list says: %s of its %s in all", l.parts, played, of))
	case l.parts == 1 && short > l.slack:
		info.Samples = l.played
		info.Notes = append(info.Notes, fmt.Sprintf("its edit list plays %s of its %s", played, of))
	case l.parts == 1 && short > 0 && l.exact:
		info.Samples = l.played
		info.Padding += short
	}
	if l.silence > 0 {
		info.Notes = append(info.Notes, fmt.Sprintf("its edit list adds %.3f s of silence, which some players leave out: it is not counted in", l.quiet(info.Rate)))
	}
}

// quiet is the empty edits' length in seconds.
func (l editList) quiet(rate int) float64 { return float64(l.silence) / float64(rate) }
