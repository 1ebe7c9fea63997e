package scan

import (
	"fmt"
	"strconv"
	"strings"
)

// mp4 is what was gathered from the whole file.
type mp4 struct {
	tracks     []mp4Track
	fragments  map[uint32]int64    // by track: units in its fragments
	defaults   map[uint32]fragment // by track: what trex says
	timescale  int64               // units a second in mvhd
	smpb       string              // the iTunSMPB text, if there is one
	mdatStart  int64
	mdatEnd    int64
	overrun    bool // a box reaches past the end of the file
	fragmented bool
	chapters   bool // a list of chapters, or a track that refers to others
	tags       []Tag
}

// scanMP4 reads MPEG-4 audio files, plain and fragmented.
// ref: ISO/IEC 14496-12 (boxes), 14496-14 (mp4a, esds).
func scanMP4(s *source, start int64, walk bool) (Info, error) {
	info := Info{Format: "M4A", From: Header}
	m := mp4{fragments: map[uint32]int64{}, defaults: map[uint32]fragment{}}
	moov := false
	boxes(s, start, s.size, func(b box) bool {
		if b.end > s.size {
			m.overrun = true
		}
		switch b.name {
		case "moov":
			if !moov {
				moov = true
				m.readMoov(s, b)
			}
		case "moof":
			m.fragmented = true
			if b.end <= s.size { // one that is cut off has no sound behind it
				m.readMoof(s, b.start, b)
			}
		case "mdat":
			if m.mdatStart == 0 {
				m.mdatStart = b.off
			}
			m.mdatEnd = min(b.end, s.size)
		}
		return true
	})
	info.Tags, info.Chapters = m.tags, m.chapters
	if !moov {
		return info, fmt.Errorf("M4A file that is cut off: its index (the moov box) is missing: %w", ErrNoSound)
	}
	var t *mp4Track
	for i := range m.tracks {
		if m.tracks[i].sound {
			t = &m.tracks[i]
			break
		}
	}
	if t == nil {
		return info, fmt.Errorf("M4A file without a track of sound: %w", ErrNoSound)
	}
	info.Codec, info.Channels, info.BitDepth = t.codec, t.channels, t.depth
	info.Start, info.End = m.mdatStart, m.mdatEnd
	info.Rate = int(t.timescale)
	// Sound is timed in its own samples as a rule; a coarser clock is scaled up.
	scale := func(units int64) int64 { return units }
	if t.timescale < 8000 && t.rate >= 8000 && t.rate <= 768000 {
		info.Rate = t.rate
		scale = func(units int64) int64 { return mulDiv(units, int64(t.rate), t.timescale) }
	}
	if t.timescale <= 0 {
		return info, fmt.Errorf("%w: an M4A file whose track has no time scale", ErrNotAudio)
	}

	units := t.units + m.fragments[t.id]
	info.Frames = t.counted
	whole := !m.fragmented
	doubt, times := "", false
	if !m.fragmented { // there the fragments' own times are summed
		doubt, times = t.doubt()
	}
	if walk || m.overrun || doubt != "" || t.counted > 0 && !t.agrees(s) {
		held, frames := t.walk(s)
		info.From = Counted
		promised := t.units
		if t.packet.samples > 0 && t.counted > 0 && t.whole > t.counted {
			times = true
			doubt = fmt.Sprintf("contradicts itself: its table of times (stts) is for %d packets, its table of sizes for %d, which are counted", t.counted, t.whole)
		}
		if times { // what is timed wrong is counted by the packet
			frames = t.whole
			info.Rate = t.outRate()
			rate := int64(info.Rate)
			scale = func(units int64) int64 { return units }
			promised, held = t.packet.of(t.counted, rate), t.packet.of(frames, rate)
			if frames > 0 {
				held -= mulDiv(t.packet.samples-t.lastPacket(s), rate, t.packet.rate)
			}
		} else if doubt != "" && t.packet.samples == 0 {
			info.From = Estimated
		}
		if doubt != "" {
			info.Notes = append(info.Notes, doubt)
		}
		if frames < t.counted {
			whole = false
			promised, have := clocks(scale(promised), scale(held), info.Rate)
			info.Notes = append(info.Notes, fmt.Sprintf("cut off: the header promises %s, the file holds %s", promised, have))
		}
		units, info.Frames = held+m.fragments[t.id], frames
	}
	if m.fragmented {
		info.From, info.Frames = Counted, 0 // all fragments were gone through
	}
	info.Samples = scale(units)
	most := s.size * maxFLACBlock
	if units > most || info.Samples > most {
		return info, errTooMuch
	}
	pos := scale
	if times { // the track's clock, unless that is what is wrong
		per := t.packet.rate
		if t.timescale < 8000 || t.timescale == int64(info.Rate) {
			per = t.timescale
		}
		pos = func(at int64) int64 { return mulDiv(at, int64(info.Rate), per) }
	}
	edits := m.edits(s, t, &info, pos, most)
	edits.exact = edits.exact || times // it is the better of the two then
	if edits.played > most {
		return info, errTooMuch
	}
	if edits.parts == 0 && edits.silence > 0 {
		return info, fmt.Errorf("M4A file whose edit list plays none of its sound, only %.3f s of silence: %w", edits.quiet(info.Rate), ErrNoSound)
	}
	if delay, padding, n, ok := parseSMPB(m.smpb); ok && n <= info.Samples && info.Samples-n <= delay+padding+8192 && whole {
		info.Delay, info.Padding, info.Samples = delay, info.Samples-n-delay, n
		info.Padding, edits.exact = max(0, info.Padding), false
	} else if edits.first > 0 {
		info.Delay = edits.first
		info.Samples -= info.Delay
	} else if t.codec == "AAC" {
		info.Notes = append(info.Notes, "states no encoder delay: up to about 0.05 s of silence may be counted in")
	}
	edits.trim(&info)
	return info, nil
}

var errTooMuch = fmt.Errorf("%w: an M4A file that states more sound than it has room for", ErrNotAudio)

// edits reads a track's edit list; pos brings its times to samples.
func (m *mp4) edits(s *source, t *mp4Track, info *Info, pos func(int64) int64, most int64) editList {
	rate := int64(info.Rate)
	clock := func(d int64) int64 { // from the movie's time, that of the durations
		if m.timescale <= 0 {
			return 0
		}
		if d < 0 || d/m.timescale > most/rate {
			return most
		}
		return mulDiv(d, rate, m.timescale)
	}
	l := readEdits(s, t.edits, info.Samples, most, pos, clock)
	if m.fragmented || m.timescale <= 0 { // there the durations tell nothing of the fragments
		l.parts, l.played = 1, info.Samples-l.first
		return l
	}
	l.exact = m.timescale%rate == 0
	if t.counted > 0 {
		l.slack = 2*info.Samples/t.counted + rate/m.timescale + 2
	}
	return l
}

func (m *mp4) readMoov(s *source, moov box) {
	boxes(s, moov.off, min(moov.end, s.size), func(b box) bool {
		switch b.name {
		case "mvhd":
			m.timescale, _ = mp4Clock(s, b)
		case "trak":
			if len(m.tracks) < 64 {
				m.tracks = append(m.tracks, readTrak(s, b))
				m.chapters = m.chapters || m.tracks[len(m.tracks)-1].refers
			}
		case "mvex":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				// trex: version and flags 4, track_ID 4, default description 4, duration 4, size 4
				if d := s.at(b.off, 20); b.name == "trex" && len(d) == 20 && len(m.defaults) < 64 {
					m.defaults[uint32(be(d[4:], 4))] = fragment{duration: int64(be(d[12:], 4)), size: int64(be(d[16:], 4))}
				}
				return true
			})
		case "udta":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				switch b.name {
				case "meta":
					m.readMeta(s, b)
				case "chpl":
					m.chapters = true
				}
				return true
			})
		case "meta":
			m.readMeta(s, b)
		}
		return true
	})
}

// readMeta looks for the item list, which holds the tags and iTunSMPB.
func (m *mp4) readMeta(s *source, meta box) {
	off := meta.off + 4 // version and flags
	if b := s.at(meta.off, 8); len(b) == 8 && string(b[4:]) == "hdlr" {
		off = meta.off // the older form is no full box
	}
	boxes(s, off, min(meta.end, s.size), func(b box) bool {
		if b.name != "ilst" || b.end > s.size {
			return true
		}
		if len(m.tags) < 4 {
			m.tags = append(m.tags, Tag{ItemList, b.off - 8, b.end - b.off + 8})
		}
		boxes(s, b.off, b.end, func(item box) bool {
			if item.name == "----" && m.smpb == "" {
				smpb, text := false, ""
				boxes(s, item.off, min(item.end, b.end), func(p box) bool {
					d := s.at(p.off, int(min(200, max(0, p.end-p.off))))
					switch {
					case p.name == "name" && len(d) >= 4: // version and flags, then the name
						smpb = string(d[4:]) == "iTunSMPB"
					case p.name == "data" && len(d) >= 8: // type 4, locale 4, then the value
						text = string(d[8:])
					}
					return true
				})
				if smpb {
					m.smpb = text
				}
			}
			return true
		})
		return true
	})
}

// parseSMPB reads the gapless note of some encoders: hexadecimal words: 0,
// delay, padding, samples (common practice, no source).
func parseSMPB(text string) (delay, padding, samples int64, ok bool) {
	f := strings.Fields(text)
	if len(f) < 4 {
		return 0, 0, 0, false
	}
	var v [3]int64
	for i := range v {
		n, err := strconv.ParseInt(f[i+1], 16, 63)
		if err != nil || n < 0 {
			return 0, 0, 0, false
		}
		v[i] = n
	}
	return v[0], v[1], v[2], v[2] > 0 && v[0] < 1<<20 && v[1] < 1<<20
}
