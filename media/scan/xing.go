package scan

import "bytes"

// xing is the frame that encoders put in front of layer III streams: "Xing" for
// variable rate, "Info" for constant, "VBRI" from one encoder. No standard body
// published any of them; the fields are as commonly read, and checked in the
// tests against streams from lame and ffmpeg.
type xing struct {
	kind     string // "Xing", "Info", "VBRI"; empty: none
	frames   int64  // frames of sound, this one not among them; 0: not stated
	bytes    int64  // of the stream, this frame included; 0: not stated
	hasDelay bool   // delay and padding are stated
	delay    int64  // samples that the encoder put in front
	padding  int64  // samples that fill the last frame
	// vbriDelay is what "VBRI" states: samples before the music, counted from this
	// frame on and with the decoder's own delay in them. No standard says so; it is
	// how a player reads it that plays such files without gaps, and the delays of 2353
	// and 3505 samples that are met are just a frame apart.
	vbriDelay int64
	sealed    bool // the encoder's checksum over this frame agrees
}

// readXing looks for it in the frame of size bytes at off.
func readXing(s *source, off int64, size int, h mpegHeader) (x xing) {
	b := s.at(off, size)
	if len(b) < size {
		return x
	}
	// After header and side information; some writers put the CRC in between.
	at := 4 + h.sideInfo()
	for _, skip := range []int{0, 2} {
		if at+skip+8 > size || (skip == 2 && !h.crc) {
			break
		}
		id := string(b[at+skip:][:4])
		if id == "Xing" || id == "Info" {
			x.kind = id
			x.readFields(b, at+skip+4)
			return x
		}
	}
	// VBRI: always 32 bytes after the header: id 4, version 2, delay 2, quality 2, bytes 4, frames 4.
	if v := 36; v+18 <= size && string(b[v:][:4]) == "VBRI" {
		x.kind = "VBRI"
		if be(b[v+4:], 2) == 1 {
			x.vbriDelay = int64(be(b[v+6:], 2))
		}
		x.bytes = int64(be(b[v+10:], 4))
		x.frames = int64(be(b[v+14:], 4))
	}
	return x
}

// readFields reads what follows "Xing" or "Info" in the frame b.
func (x *xing) readFields(b []byte, at int) {
	flags := be(b[at:], 4)
	at += 4
	for _, f := range []struct {
		bit  uint64
		size int
		into *int64
	}{
		{1, 4, &x.frames}, // number of frames
		{2, 4, &x.bytes},  // number of bytes
		{4, 100, nil},     // table of contents: 100 places, a 256th of the file each
		{8, 4, nil},       // quality
	} {
		if flags&f.bit == 0 {
			continue
		}
		if at+f.size > len(b) {
			return
		}
		if f.into != nil {
			*f.into = int64(be(b[at:], 4))
		}
		at += f.size
	}
	// The encoder's extension: 9 bytes encoder name, 1 revision and method,
	// 1 lowpass, 8 replay gain, 1 flags, 1 bit rate, 3 delay and padding of 12 bits
	// each, 1 misc, 1 gain, 2 preset, 4 music length, 2 music CRC, 2 CRC of the frame so far.
	const extension = 36
	if at+extension > len(b) || b[at] < 0x20 || b[at] > 0x7E {
		return
	}
	x.hasDelay = true
	x.delay = int64(be(b[at+21:], 3) >> 12)
	x.padding = int64(be(b[at+21:], 3) & 0xFFF)
	x.sealed = crc16ARC(b[:at+34]) == uint16(be(b[at+34:], 2))
}

// trusted tells whether the stated length can stand without a walk: the
// encoder's checksum holds, the byte count is exactly the file's, a frame begins
// after the tag, a frame ends where the file does, and so many frames fill it.
func (x xing) trusted(s *source, first, end int64, h mpegHeader) bool {
	if !x.sealed || h.bitrate == 0 || x.frames <= 0 || x.bytes != end-first {
		return false
	}
	spf := int64(h.samples())
	if x.frames*spf <= x.delay+x.padding {
		return false
	}
	// The first frame of sound; the tag's own may have another bit rate.
	at, tag := first+int64(h.size()), h
	h, ok := parseMPEG(s.at(at, 4))
	if !ok || h.bitrate == 0 || h.bits&sameStream != tag.bits&sameStream {
		return false
	}
	room, least, most := end-at, int64(h.minSize()), int64(longestFrame)
	if x.kind == "Info" { // constant rate: each frame as long as this one, but for a slot
		n, slot := h.slots()
		least, most = int64(n*slot), int64((n+1)*slot)
	}
	if x.frames*least > room || x.frames*most < room {
		return false
	}
	return endsWithFrame(s, first, end, h) && x.usual(s, at, end, h)
}

// usual tells whether frames from all over the file are about as long as the
// stated number of them makes the mean: a number that is twice or half the true
// one was written by a program that is wrong, or after the file was changed.
func (x xing) usual(s *source, at, end int64, h mpegHeader) bool {
	const places, tolerance = 3, 1.5
	var bytes, frames int64
	for k := range int64(places) {
		from := at + (end-at)*(2*k+1)/(2*places)
		to := min(end, from+window) // one read
		for off := resync(s, from, to, h, 0); off+4 <= to; {
			f, ok := parseMPEG(s.at(off, 4))
			if !ok || f.bitrate == 0 || f.bits&sameStream != h.bits&sameStream {
				break
			}
			bytes += int64(f.size())
			frames++
			off += int64(f.size())
		}
	}
	mean := float64(end-at) / float64(x.frames)
	here := float64(bytes) / float64(frames)
	return frames > 0 && here < mean*tolerance && mean < here*tolerance
}

// cutOff tells whether the stream was longer when this frame was written: it has
// lost frames, and bytes or its end with them. Some writers count their tags among
// the bytes, so that these alone prove nothing.
func (x xing) cutOff(bytes int64, w walked) bool {
	if x.frames == 0 {
		return x.bytes > bytes
	}
	return w.frames < x.frames && (x.bytes > bytes || x.bytes == bytes && w.tail > 0)
}

// joined tells whether another stream follows the one that this frame speaks of.
func (x xing) joined(bytes int64, w walked) bool {
	return x.bytes != 0 && x.bytes < bytes && x.frames != 0 && w.frames > x.frames
}

// longestFrame of layer III: 320 kbit/s at 32 kHz, or 160 kbit/s at 8 kHz, padded.
const longestFrame = 1441

// endsWithFrame looks for a frame of this kind whose last byte is the section's.
func endsWithFrame(s *source, first, end int64, kind mpegHeader) bool {
	from := max(first, end-longestFrame)
	b := s.at(from, int(end-from))
	for i := len(b) - 3; ; {
		if i = bytes.LastIndexByte(b[:max(0, i)], 0xFF); i < 0 {
			return false
		}
		h, ok := parseMPEG(b[i:])
		if ok && h.bits&sameStream == kind.bits&sameStream && from+int64(i)+int64(h.size()) == end {
			return true
		}
	}
}

// crc16ARC is the checksum of the encoder's extension: polynomial 8005, bits
// reflected, start 0.
func crc16ARC(b []byte) uint16 {
	var crc uint16
	for _, c := range b {
		crc = crc>>8 ^ arcTable[byte(crc)^c]
	}
	return crc
}

var arcTable = func() (t [256]uint16) {
	for i := range t {
		c := uint16(i)
		for range 8 {
			if c&1 != 0 {
				c = c>>1 ^ 0xA001
			} else {
				c >>= 1
			}
		}
		t[i] = c
	}
	return t
}()
