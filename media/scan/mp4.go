package scan

import (
	"fmt"
	"math/bits"
	"strconv"
	"strings"
)

// box is a box of an ISO base media file. ref: ISO/IEC 14496-12 4.2.
type box struct {
	name  string
	start int64
	off   int64 // of its contents
	end   int64 // where it says that it ends, which may lie past the file
}

// boxes calls f for each box between off and end until f says to stop. It
// returns where the last box ended.
func boxes(s *source, off, end int64, f func(box) bool) int64 {
	for off+8 <= end {
		// 32 bits size, 4 letters type; size 1: 64 bits size follow; size 0: to the end
		b := s.at(off, 16)
		if len(b) < 8 {
			return off
		}
		n, head := int64(be(b, 4)), int64(8)
		name := string(b[4:8])
		switch {
		case n == 1 && len(b) == 16:
			n, head = int64(be(b[8:], 8)), 16
		case n == 0:
			n = end - off
		}
		if n < head || n > 1<<62 {
			return off
		}
		if !f(box{name, off, off + head, off + n}) {
			return off + n
		}
		off += n
	}
	return off
}

// mp4Track is what a trak box says of a track of sound.
type mp4Track struct {
	id        uint32
	sound     bool
	timescale int64 // units a second
	units     int64 // sum of stts, in timescale
	counted   int64 // samples (here: packets) in stts
	mediaTime int64 // where the edit list says to begin, in timescale
	codec     string
	rate      int
	channels  int
	depth     int
	sizes     box // stsz
	chunks    box // stco or co64
	wide      bool
	toChunk   box // stsc
	times     box // stts
}

// mp4 is what was gathered from the whole file.
type mp4 struct {
	tracks     []mp4Track
	fragments  map[uint32]int64    // by track: units in its fragments
	defaults   map[uint32]fragment // by track: what trex says
	smpb       string              // the iTunSMPB text, if there is one
	mdatStart  int64
	mdatEnd    int64
	overrun    bool // a box reaches past the end of the file
	fragmented bool
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
	info.Tags = m.tags
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
	if t.timescale < 8000 && t.rate >= 8000 {
		info.Rate = t.rate
		scale = func(units int64) int64 { return mulDiv(units, int64(t.rate), t.timescale) }
	}
	if t.timescale <= 0 {
		return info, fmt.Errorf("%w: an M4A file whose track has no time scale", ErrNotAudio)
	}

	units := t.units + m.fragments[t.id]
	info.Frames = t.counted
	whole := !m.fragmented
	if walk || m.overrun || t.counted > 0 && !t.agrees(s) {
		held, frames := t.walk(s)
		info.From = Counted
		if held < t.units {
			whole = false
			promised, have := clocks(scale(t.units), scale(held), info.Rate)
			info.Notes = append(info.Notes, fmt.Sprintf("cut off: the header promises %s, the file holds %s", promised, have))
		}
		units, info.Frames = held+m.fragments[t.id], frames
	}
	if m.fragmented {
		info.From, info.Frames = Counted, 0 // all fragments were gone through
	}
	if most := s.size * maxFLACBlock; units > most {
		return info, fmt.Errorf("%w: an M4A file that states more sound than it has room for", ErrNotAudio)
	}
	info.Samples = scale(units)
	if delay, padding, n, ok := parseSMPB(m.smpb); ok && n <= info.Samples && info.Samples-n <= delay+padding+8192 && whole {
		info.Delay, info.Padding, info.Samples = delay, info.Samples-n-delay, n
		info.Padding = max(0, info.Padding)
	} else if t.mediaTime > 0 {
		info.Delay = min(scale(t.mediaTime), info.Samples)
		info.Samples -= info.Delay
	} else if t.codec == "AAC" {
		info.Notes = append(info.Notes, "states no encoder delay: up to about 0.05 s of silence may be counted in")
	}
	return info, nil
}

func (m *mp4) readMoov(s *source, moov box) {
	boxes(s, moov.off, min(moov.end, s.size), func(b box) bool {
		switch b.name {
		case "trak":
			if len(m.tracks) < 64 {
				m.tracks = append(m.tracks, readTrak(s, b))
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
				if b.name == "meta" {
					m.readMeta(s, b)
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

func readTrak(s *source, trak box) (t mp4Track) {
	boxes(s, trak.off, min(trak.end, s.size), func(b box) bool {
		switch b.name {
		case "tkhd": // version 1, flags 3, times 4+4 or 8+8, track_ID 4
			if d := s.at(b.off, 24); len(d) == 24 {
				t.id = uint32(be(d[12:], 4))
				if d[0] == 1 {
					t.id = uint32(be(d[20:], 4))
				}
			}
		case "edts":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				if b.name == "elst" {
					t.mediaTime = readEdits(s, b)
				}
				return true
			})
		case "mdia":
			readMdia(s, b, &t)
		}
		return true
	})
	return t
}

// readEdits gives the media time of the first edit that is not empty. The
// edits' durations are in the movie's coarse time and so not used.
// ref: ISO/IEC 14496-12 8.6.6.
func readEdits(s *source, b box) int64 {
	d := s.at(b.off, 8) // version and flags 4, entry_count 4
	if len(d) < 8 {
		return 0
	}
	version, count := d[0], int64(be(d[4:], 4))
	size := int64(12) // duration 4, media_time 4, rate 4
	if version == 1 {
		size = 20 // duration 8, media_time 8, rate 4
	}
	for i := range min(count, 16) {
		e := s.at(b.off+8+i*size, int(size))
		if int64(len(e)) < size {
			break
		}
		at := int64(int32(be(e[4:], 4)))
		if version == 1 {
			at = int64(be(e[8:], 8))
		}
		if at >= 0 { // -1: an empty edit
			return at
		}
	}
	return 0
}

func readMdia(s *source, mdia box, t *mp4Track) {
	boxes(s, mdia.off, min(mdia.end, s.size), func(b box) bool {
		switch b.name {
		case "mdhd": // version 1, flags 3, times 4+4 or 8+8, timescale 4
			if d := s.at(b.off, 24); len(d) == 24 {
				t.timescale = int64(be(d[12:], 4))
				if d[0] == 1 {
					t.timescale = int64(be(d[20:], 4))
				}
			}
		case "hdlr": // version and flags 4, pre_defined 4, handler_type 4
			t.sound = string(s.at(b.off+8, 4)) == "soun"
		case "minf":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				if b.name == "stbl" {
					readStbl(s, b, t)
				}
				return true
			})
		}
		return true
	})
}

func readStbl(s *source, stbl box, t *mp4Track) {
	boxes(s, stbl.off, min(stbl.end, s.size), func(b box) bool {
		switch b.name {
		case "stsd":
			readSampleEntry(s, b, t)
		case "stts":
			t.times = b
			t.eachTime(s, func(count, delta int64) bool {
				t.counted += count
				t.units = addMul(t.units, count, delta)
				return true
			})
		case "stsz":
			t.sizes = b
		case "stco", "co64":
			t.chunks, t.wide = b, b.name == "co64"
		case "stsc":
			t.toChunk = b
		}
		return true
	})
}

// eachTime goes through stts: version and flags 4, entry_count 4, then
// (sample_count 4, sample_delta 4) each. ref: ISO/IEC 14496-12 8.6.1.2.
func (t *mp4Track) eachTime(s *source, f func(count, delta int64) bool) {
	d := s.at(t.times.off+4, 4)
	if len(d) < 4 {
		return
	}
	n := min(int64(be(d, 4)), max(0, min(t.times.end, s.size)-t.times.off-8)/8)
	for i := range n {
		e := s.at(t.times.off+8+i*8, 8)
		if len(e) < 8 || !f(int64(be(e, 4)), int64(be(e[4:], 4))) {
			return
		}
	}
}

// addMul is a + b*c, held at a size that no file can have.
func addMul(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(b), uint64(c))
	if hi != 0 || lo > 1<<61 || a > 1<<61 {
		return 1 << 61
	}
	return a + int64(lo)
}

// mulDiv is a*b/c, rounded to the nearest.
func mulDiv(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	lo, carry := bits.Add64(lo, uint64(c/2), 0)
	hi += carry
	if hi >= uint64(c) {
		return 0
	}
	q, _ := bits.Div64(hi, lo, uint64(c))
	if q > 1<<62 {
		return 0
	}
	return int64(q)
}

// readSampleEntry reads the first entry of stsd: what the sound is coded in.
func readSampleEntry(s *source, stsd box, t *mp4Track) {
	end := min(stsd.end, s.size)
	boxes(s, stsd.off+8, end, func(b box) bool {
		d := s.at(b.off, 28)
		if len(d) < 28 {
			return false
		}
		// reserved 6, data_reference_index 2, version 2, reserved 6, channelcount 2,
		// samplesize 2, pre_defined 2, reserved 2, samplerate 4 as 16.16
		version := be(d[8:], 2)
		t.channels, t.depth = int(be(d[16:], 2)), int(be(d[18:], 2))
		t.rate = int(be(d[24:], 4) >> 16)
		inner := b.off + 28
		switch version { // the older QuickTime forms have more fields
		case 1:
			inner += 16
		case 2:
			inner += 36
		}
		switch b.name {
		case "mp4a":
			t.codec, t.depth = "AAC", 0
			boxes(s, inner, min(b.end, end), func(e box) bool {
				if e.name == "esds" {
					if c := esdsCodec(s, e); c != "" {
						t.codec = c
					}
				}
				return true
			})
		case "alac":
			t.codec = "ALAC"
			boxes(s, inner, min(b.end, end), func(e box) bool {
				// version and flags 4, frameLength 4, compatibleVersion 1, bitDepth 1, tuning 3, numChannels 1, maxRun 2, maxFrameBytes 4, avgBitRate 4, sampleRate 4
				if c := s.at(e.off, 28); e.name == "alac" && len(c) == 28 {
					t.depth, t.channels, t.rate = int(c[9]), int(c[13]), int(be(c[24:], 4))
				}
				return true
			})
		case "Opus":
			t.codec, t.depth = "Opus", 0
		case "fLaC":
			t.codec = "FLAC"
		case "sowt", "twos", "lpcm", "in24", "in32", "fl32", "fl64", "ipcm", "fpcm":
			t.codec = "PCM"
		default:
			t.codec, t.depth = strings.TrimSpace(strings.ToValidUTF8(b.name, "?")), 0
		}
		return false
	})
}

// esdsCodec finds the objectTypeIndication among the descriptors.
// ref: ISO/IEC 14496-1 7.2.6.5 and 7.2.6.6.
func esdsCodec(s *source, e box) string {
	b := s.at(e.off, int(min(128, max(0, e.end-e.off))))
	i := 4 // version and flags
	for range 4 {
		if i+2 > len(b) {
			return ""
		}
		tag := b[i]
		i++
		for range 4 { // length in groups of seven bits
			if i >= len(b) {
				return ""
			}
			c := b[i]
			i++
			if c&0x80 == 0 {
				break
			}
		}
		switch tag {
		case 3: // ES_Descriptor: ES_ID 2, flags 1
			i += 3
		case 4: // DecoderConfigDescriptor: objectTypeIndication 1
			if i >= len(b) {
				return ""
			}
			switch b[i] {
			case 0x40, 0x66, 0x67, 0x68:
				return "AAC"
			case 0x69, 0x6B:
				return "MPEG audio"
			}
			return ""
		default:
			return ""
		}
	}
	return ""
}

// agrees is the spot check: the table of sizes has as many entries as that of
// times, and the last chunk begins within the file.
func (t *mp4Track) agrees(s *source) bool {
	d := s.at(t.sizes.off, 12) // version and flags 4, sample_size 4, sample_count 4
	if t.sizes.off == 0 || len(d) < 12 || int64(be(d[8:], 4)) != t.counted {
		return false
	}
	n := t.chunkCount(s)
	if n == 0 {
		return false
	}
	at, ok := t.chunkOffset(s, n-1)
	return ok && at < s.size
}

func (t *mp4Track) chunkCount(s *source) int64 {
	d := s.at(t.chunks.off+4, 4)
	if t.chunks.off == 0 || len(d) < 4 {
		return 0
	}
	size := int64(4)
	if t.wide {
		size = 8
	}
	return min(int64(be(d, 4)), max(0, min(t.chunks.end, s.size)-t.chunks.off-8)/size)
}

func (t *mp4Track) chunkOffset(s *source, i int64) (int64, bool) {
	size := int64(4)
	if t.wide {
		size = 8
	}
	b := s.at(t.chunks.off+8+i*size, int(size))
	if int64(len(b)) < size {
		return 0, false
	}
	v := be(b, int(size))
	return int64(v), v < 1<<62
}

// walk counts the packets that lie whole within the file, chunk by chunk, and
// sums their times.
func (t *mp4Track) walk(s *source) (units, packets int64) {
	whole := t.wholePackets(s)
	left := whole
	t.eachTime(s, func(count, delta int64) bool {
		n := min(count, left)
		units = addMul(units, n, delta)
		left -= n
		packets += n
		return left > 0
	})
	return units, packets
}

// wholePackets is how many packets, from the first on, lie within the file.
// Three tables are read side by side, each through its own small buffer.
func (t *mp4Track) wholePackets(s *source) int64 {
	sizes, chunks, toChunk := newSource(s.r, s.size), newSource(s.r, s.size), newSource(s.r, s.size)
	defer func() {
		for _, x := range []*source{sizes, chunks, toChunk} {
			if s.err == nil {
				s.err = x.err
			}
			x.free()
		}
	}()
	d := sizes.at(t.sizes.off, 12)
	if t.sizes.off == 0 || len(d) < 12 || t.toChunk.off == 0 {
		return 0
	}
	same, total := int64(be(d[4:], 4)), int64(be(d[8:], 4))
	if same == 0 {
		total = min(total, max(0, min(t.sizes.end, s.size)-t.sizes.off-12)/4)
	} else {
		total = min(total, s.size/same+1)
	}
	d = toChunk.at(t.toChunk.off+4, 4)
	if len(d) < 4 {
		return 0
	}
	runs := min(int64(be(d, 4)), max(0, min(t.toChunk.end, s.size)-t.toChunk.off-8)/12)
	n := t.chunkCount(chunks)
	var done int64
	var run, per int64
	for c := range n {
		// stsc: (first_chunk 4, samples_per_chunk 4, description 4) each
		for run < runs {
			e := toChunk.at(t.toChunk.off+8+run*12, 12)
			if len(e) < 12 || int64(be(e, 4)) > c+1 {
				break
			}
			per = int64(be(e[4:], 4))
			run++
		}
		at, ok := t.chunkOffset(chunks, c)
		if !ok || per == 0 {
			return done
		}
		for range per {
			if done >= total {
				return done
			}
			size := same
			if same == 0 {
				b := sizes.at(t.sizes.off+12+done*4, 4)
				if len(b) < 4 {
					return done
				}
				size = int64(be(b, 4))
			}
			if at > s.size-size {
				return done
			}
			at += size
			done++
		}
	}
	return done
}

// readMoof sums the durations of a fragment's packets, track by track, as far as
// the packets lie within the file. ref: ISO/IEC 14496-12 8.8.
func (m *mp4) readMoof(s *source, start int64, moof box) {
	boxes(s, moof.off, moof.end, func(traf box) bool {
		if traf.name != "traf" {
			return true
		}
		f := fragment{base: start}
		var id uint32
		boxes(s, traf.off, min(traf.end, moof.end), func(b box) bool {
			switch b.name {
			case "tfhd": // version 1, flags 3, track_ID 4, then by flags: base offset 8, description 4, default duration 4, default size 4
				d := s.at(b.off, 28)
				if len(d) < 8 {
					return true
				}
				flags := be(d, 4)
				id = uint32(be(d[4:], 4))
				f.duration, f.size = m.defaults[id].duration, m.defaults[id].size
				at := 8
				for _, field := range []struct {
					bit  uint64
					size int
					into *int64
				}{{0x1, 8, &f.base}, {0x2, 4, nil}, {0x8, 4, &f.duration}, {0x10, 4, &f.size}} {
					if flags&field.bit == 0 || at+field.size > len(d) {
						continue
					}
					if field.into != nil {
						*field.into = int64(be(d[at:], field.size))
					}
					at += field.size
				}
				f.at = f.base
			case "trun":
				if _, known := m.fragments[id]; known || len(m.fragments) < 64 {
					m.fragments[id] = min(1<<61, m.fragments[id]+f.run(s, b))
				}
			}
			return true
		})
		return true
	})
}

// fragment is what the runs of a traf box share.
type fragment struct {
	base, at       int64 // bytes: where offsets count from; where the next run begins
	duration, size int64 // of a packet, where a run does not say
}

// run sums a trun box: version 1, flags 3, sample_count 4, by flags data offset 4
// and first sample flags 4, then for each sample by flags duration, size, flags
// and time offset of 4 bytes.
func (f *fragment) run(s *source, b box) (units int64) {
	d := s.at(b.off, 12)
	if len(d) < 8 {
		return 0
	}
	flags, count := be(d, 4), int64(be(d[4:], 4))
	if flags&0x1 != 0 && len(d) == 12 {
		f.at = f.base + int64(int32(be(d[8:], 4)))
	}
	off := b.off + 8 + 4*int64(bits.OnesCount64(flags&0x5))
	each := 4 * int64(bits.OnesCount64(flags&0xF00))
	if each > 0 {
		count = min(count, max(0, min(b.end, s.size)-off)/each)
	}
	for i := range min(count, s.size) { // a packet is a byte at least
		duration, size := f.duration, f.size
		if each > 0 {
			e := s.at(off+i*each, int(each))
			if int64(len(e)) < each {
				break
			}
			if flags&0x100 != 0 {
				duration, e = int64(be(e, 4)), e[4:]
			}
			if flags&0x200 != 0 {
				size = int64(be(e, 4))
			}
		}
		if f.at < 0 || size <= 0 || f.at > s.size-size {
			break
		}
		f.at += size
		units = addMul(units, 1, duration)
	}
	return units
}
