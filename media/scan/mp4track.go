package scan

import "strings"

// mp4Track is what a trak box says of a track of sound.
type mp4Track struct {
	id        uint32
	sound     bool
	refers    bool  // to other tracks (tref), as to one of chapters
	timescale int64 // units a second
	units     int64 // sum of stts, in timescale
	counted   int64 // samples (here: packets) in stts
	duration  int64 // what mdhd says, in timescale; 0: not known
	edits     box   // elst
	packet    packetTime
	codec     string
	rate      int
	channels  int
	depth     int
	sizes     box // stsz
	chunks    box // stco or co64
	wide      bool
	toChunk   box   // stsc
	times     box   // stts
	whole     int64 // packets that lie within the file, once they were walked
	lastAt    int64 // byte of the last whole packet, once they were walked
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
		case "tref":
			t.refers = true
		case "edts":
			boxes(s, b.off, min(b.end, s.size), func(b box) bool {
				if b.name == "elst" {
					t.edits = b
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

// mp4Clock reads the start of mvhd and mdhd: version 1, flags 3, times 4+4 or
// 8+8, timescale 4, duration 4 or 8, which is 0 here when it is not known.
func mp4Clock(s *source, b box) (timescale, duration int64) {
	d := s.at(b.off, 32)
	switch {
	case len(d) >= 20 && d[0] != 1:
		timescale, duration = int64(be(d[12:], 4)), int64(be(d[16:], 4))
		if duration == 1<<32-1 { // all ones: not known
			duration = 0
		}
	case len(d) == 32:
		timescale, duration = int64(be(d[20:], 4)), int64(be(d[24:], 8))
	}
	if duration < 0 || duration > 1<<61 {
		duration = 0
	}
	return timescale, duration
}

func readMdia(s *source, mdia box, t *mp4Track) {
	boxes(s, mdia.off, min(mdia.end, s.size), func(b box) bool {
		switch b.name {
		case "mdhd":
			t.timescale, t.duration = mp4Clock(s, b)
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
					if c, p := readESDS(s, e); c != "" {
						t.codec, t.packet = c, p
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
					if n := int64(be(c[4:], 4)); n > 0 && n <= maxFLACBlock && t.rate >= 1000 && t.rate <= 768000 {
						t.packet = packetTime{n, int64(t.rate)}
					}
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

// readESDS finds the objectTypeIndication among the descriptors, and the
// decoder's set-up behind it. ref: ISO/IEC 14496-1 7.2.6.5 to 7.2.6.7.
func readESDS(s *source, e box) (codec string, p packetTime) {
	b := s.at(e.off, int(min(128, max(0, e.end-e.off))))
	i := 4 // version and flags
	for range 4 {
		if i+2 > len(b) {
			break
		}
		tag := b[i]
		i++
		n := 0
		for range 4 { // length in groups of seven bits
			if i >= len(b) {
				return codec, p
			}
			c := b[i]
			n = n<<7 | int(c&0x7F)
			i++
			if c&0x80 == 0 {
				break
			}
		}
		switch {
		case tag == 3: // ES_Descriptor: ES_ID 2, flags 1
			i += 3
		case tag == 4 && i < len(b): // DecoderConfigDescriptor: objectTypeIndication 1, types 1, buffer 3, bit rates 4+4
			switch b[i] {
			case 0x40, 0x66, 0x67, 0x68:
				codec = "AAC"
			case 0x69, 0x6B:
				codec = "MPEG audio"
			}
			i += 13
		case tag == 5 && codec == "AAC" && i <= len(b): // DecoderSpecificInfo
			return codec, aacTime(b[i:min(len(b), i+n)])
		default:
			return codec, p
		}
	}
	return codec, p
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
	t.whole = t.wholePackets(s)
	left := t.whole
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
func (t *mp4Track) wholePackets(s *source) int64 {
	return t.eachPacket(s, func(at, _ int64) bool { t.lastAt = at; return true })
}

// eachPacket calls f with the place and size of each packet that lies within the
// file, until it says to stop, and gives how many there were. Three tables are
// read side by side, each through its own small buffer.
func (t *mp4Track) eachPacket(s *source, f func(at, size int64) bool) int64 {
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
			if at > s.size-size || !f(at, size) {
				return done
			}
			at += size
			done++
		}
	}
	return done
}
