package scan

import (
	"io"
	"time"
)

// Chapter is a stretch of a file that the file itself names.
type Chapter struct {
	Start, End time.Duration // on the clock of what a listener gets; End 0: not stated
	Title      []byte        // text as it stands there; may be empty
}

// MaxChapters is the most chapters that are read of a file: a book of a few
// hundred is long.
const MaxChapters = 5000

// maxChapterTitle is how much of a title is read, in bytes.
const maxChapterTitle = 1 << 10

// MP4Chapters gives the chapters of an MPEG-4 audio file, in no special order:
// those of its chapter track or of its list (chpl), whichever holds more. What
// is damaged of them is left out.
//
// ref: QuickTime File Format, "Chapter lists", and "Text sample data" for the
// titles; ISO/IEC 14496-12 8.3.3 (tref) and 8.5 to 8.7 (sample tables). chpl: no
// standard; as two open readers of it say: version and flags 4, in version 1
// reserved 4, of which the last may belong to the count; count 1; then each start
// 8 in 100 ns, length of title 1, title.
func MP4Chapters(r io.ReaderAt, size int64) []Chapter {
	s := newSource(r, size)
	defer s.free()
	start, _ := skipID3v2(s, 0, size)
	var list []Chapter
	var sound, texts []chapterTrack
	var movie int64
	boxes(s, start, size, func(b box) bool {
		if b.name != "moov" {
			return true
		}
		boxes(s, b.off, min(b.end, size), func(b box) bool {
			switch b.name {
			case "mvhd":
				movie, _ = mp4Clock(s, b)
			case "trak":
				t := readChapterTrack(s, b)
				switch {
				case t.sound:
					sound = append(sound, t)
				case len(texts) < 64 && (t.handler == "text" || t.handler == "sbtl" || t.handler == "subt"):
					texts = append(texts, t)
				}
			case "udta":
				boxes(s, b.off, min(b.end, size), func(b box) bool {
					if b.name == "chpl" && list == nil {
						list = readChapterList(s, b)
					}
					return true
				})
			}
			return true
		})
		return false
	})
	if len(sound) == 0 {
		return nil
	}
	for _, id := range sound[0].chapters {
		for _, t := range texts {
			if t.id == id {
				if of := t.read(s, movie); len(of) >= len(list) {
					list = of
				}
			}
		}
	}
	return list
}

// chapterTrack is a trak box as far as chapters go.
type chapterTrack struct {
	mp4Track
	handler  string
	chapters []uint32 // tracks that hold the chapters of this one
}

func readChapterTrack(s *source, trak box) chapterTrack {
	t := chapterTrack{mp4Track: readTrak(s, trak)}
	boxes(s, trak.off, min(trak.end, s.size), func(b box) bool {
		switch b.name {
		case "tref":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				for off := b.off; b.name == "chap" && off+4 <= min(b.end, s.size) && len(t.chapters) < 16; off += 4 {
					if d := s.at(off, 4); len(d) == 4 {
						t.chapters = append(t.chapters, uint32(be(d, 4)))
					}
				}
				return true
			})
		case "mdia":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				if b.name == "hdlr" { // version and flags 4, pre_defined 4, handler_type 4
					t.handler = string(s.at(b.off+8, 4))
				}
				return true
			})
		}
		return true
	})
	return t
}

// read gives a chapter for each sample of the track.
func (t *chapterTrack) read(s *source, movie int64) (list []Chapter) {
	if t.timescale <= 0 {
		return nil
	}
	type place struct{ off, size int64 }
	var places []place
	t.eachPacket(s, func(at, size int64) bool {
		places = append(places, place{at, size})
		return len(places) < MaxChapters
	})
	at := t.delay(s, movie)
	clock := func(units int64) time.Duration {
		d := Info{Samples: units, Rate: int(t.timescale)}.Length()
		return min(max(0, d), 1<<62)
	}
	t.eachTime(s, func(count, delta int64) bool {
		for range count {
			if len(list) == len(places) {
				return false
			}
			p := places[len(list)]
			c := Chapter{Start: clock(at), End: clock(addMul(at, 1, delta))}
			// length of the text 2, text, then atoms on how to show it
			if d := s.at(p.off, 2); len(d) == 2 && p.size >= 2 {
				n := min(int64(be(d, 2)), p.size-2, maxChapterTitle)
				c.Title = append([]byte(nil), s.at(p.off+2, int(n))...)
			}
			list = append(list, c)
			at = addMul(at, 1, delta)
		}
		return true
	})
	return list
}

// delay is where the track's first sample begins by its edit list, in its units:
// empty edits put it off, and one that begins later in the media brings it forward.
func (t *chapterTrack) delay(s *source, movie int64) int64 {
	d := s.at(t.edits.off, 8) // version and flags 4, entry_count 4
	if len(d) < 8 || movie <= 0 {
		return 0
	}
	wide, n := d[0] == 1, min(int64(be(d[4:], 4)), 16)
	var at int64
	for i := range n {
		// segment_duration 4 or 8, media_time 4 or 8, rate 4
		e := s.at(t.edits.off+8+i*12, 8)
		if wide {
			e = s.at(t.edits.off+8+i*20, 16)
		}
		if len(e) < 8 || wide && len(e) < 16 {
			return 0
		}
		long, media := int64(be(e, 4)), int64(int32(be(e[4:], 4)))
		if wide {
			long, media = int64(be(e, 8)), int64(be(e[8:], 8))
		}
		if media >= 0 {
			return at - min(media, 1<<61)
		}
		if long < 0 || long > 1<<61 {
			return 0
		}
		at = addMul(at, 1, mulDiv(long, t.timescale, movie))
	}
	return at
}

// readChapterList reads a chpl box.
func readChapterList(s *source, chpl box) (list []Chapter) {
	end := min(chpl.end, s.size)
	d := s.at(chpl.off, 9)
	if len(d) < 9 {
		return nil
	}
	n, off := int(d[4]), chpl.off+5
	if d[0] > 0 {
		n, off = int(be(d[5:], 4)), chpl.off+9
	}
	for range min(n, MaxChapters) {
		d := s.at(off, 9)
		if len(d) < 9 || off+9 > end {
			break
		}
		units, size := int64(be(d, 8)), int64(d[8])
		if units < 0 || units > int64(1<<62)/100 || off+9+size > end {
			break
		}
		list = append(list, Chapter{Start: time.Duration(units) * 100, Title: append([]byte(nil), s.at(off+9, int(size))...)})
		off += 9 + size
	}
	return list
}
