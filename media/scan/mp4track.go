package scan

import "strings"

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
		switch version { // older forms have more fields
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
