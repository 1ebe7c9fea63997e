package scan

import (
	"bytes"
	"fmt"
)

// streamInfo is the STREAMINFO block of FLAC. ref: RFC 9639 8.2.
type streamInfo struct {
	minBlock, maxBlock int // samples
	maxFrame           int // bytes; 0: unknown
	rate               int // Hz
	channels           int
	bits               int   // a sample
	total              int64 // samples a channel; 0: unknown
}

func parseStreamInfo(b []byte) (si streamInfo, err error) {
	if len(b) < 34 {
		return si, fmt.Errorf("%w: its FLAC header is cut off", ErrNotAudio)
	}
	si.minBlock = int(be(b, 2))          // 16 bits: minimum block size
	si.maxBlock = int(be(b[2:], 2))      // 16 bits: maximum block size
	si.maxFrame = int(be(b[7:], 3))      // 24 bits minimum, then 24 bits maximum frame size
	v := be(b[10:], 8)                   // the next 64 bits hold
	si.rate = int(v >> 44)               // 20 bits: sample rate
	si.channels = int(v>>41&7) + 1       // 3 bits: channels - 1
	si.bits = int(v>>36&31) + 1          // 5 bits: bits per sample - 1
	si.total = int64(v & (1<<36 - 1))    // 36 bits: total samples
	if si.rate == 0 || si.maxBlock < 1 { // then 128 bits: MD5 of the sound
		return si, fmt.Errorf("%w: its FLAC header states no sample rate or block size", ErrNotAudio)
	}
	return si, nil
}

// holds tells whether so many samples can take so many bytes, by the largest
// frame that the header states. Copies of one stream, joined, take more.
func (si streamInfo) holds(samples, bytes int64) bool {
	if si.maxFrame == 0 || si.minBlock < 1 {
		return true
	}
	frames := samples/int64(si.minBlock) + 1
	return bytes <= frames*int64(si.maxFrame)
}

// scanFLAC reads a native FLAC stream that begins at start. ref: RFC 9639 6.
func scanFLAC(s *source, start int64, walk bool) (Info, error) {
	info := Info{Format: "FLAC", Codec: "FLAC"}
	var si streamInfo
	off := start + 4
	for first := true; ; first = false {
		// Metadata block header: 1 bit last, 7 bits type, 24 bits size (8.1).
		b := s.at(off, 4+34)
		if len(b) < 4 {
			return info, fmt.Errorf("%w: it ends within its FLAC header", ErrNotAudio)
		}
		last, kind, n := b[0]&0x80 != 0, b[0]&0x7F, int64(be(b[1:], 3))
		if kind == 127 || first && (kind != 0 || n < 34) {
			return info, fmt.Errorf("%w: its FLAC header is damaged", ErrNotAudio)
		}
		if first {
			var err error
			if si, err = parseStreamInfo(b[4:]); err != nil {
				return info, err
			}
		}
		if kind == 5 && off+4+n <= s.size && len(info.Tags) < 8 {
			info.Tags = append(info.Tags, Tag{FLACCueSheet, off + 4, n})
		}
		if kind == 4 && off+4+n <= s.size && len(info.Tags) < 8 {
			info.Tags = append(info.Tags, Tag{VorbisComment, off + 4, n})
		}
		off += 4 + n
		if last {
			break
		}
	}
	end, tags := cutTrailers(s, min(off, s.size), s.size)
	info.Tags = append(info.Tags, tags...)
	info.Rate, info.Channels, info.BitDepth = si.rate, si.channels, si.bits
	if si.minBlock == si.maxBlock {
		info.SamplesPerFrame = si.maxBlock
	}

	// The first frame may lie behind junk that a tagger left.
	f, first, ok := nextFLACFrame(s, off, min(end, off+maxJunk), si, nil)
	if !ok {
		return info, fmt.Errorf("FLAC file: no frame after its header: %w", ErrNoSound)
	}
	info.Start, info.End = first, end
	if first > off {
		info.Notes = append(info.Notes, fmt.Sprintf("%d bytes before the first frame are no sound", first-off))
	}
	begins := f.sample(f.block)
	if !walk && end-first > walkWindow { // a small file is soon walked
		if last, ok := lastFLACFrame(s, first, end, si, f); ok {
			n := last.sample(f.block) + int64(last.block) - begins
			room := (end-first)/minFLACFrame + 1
			if n > 0 && n <= room*maxFLACBlock && (n == si.total || si.total == 0) && si.holds(n, end-first) && evenFLAC(s, first, end, si, f, n) {
				info.Samples, info.From = n, Header
				if si.total == 0 {
					info.Notes = append(info.Notes, "the header states no length; the last frame does")
				}
				return info, nil
			}
		}
	}
	w := walkFLAC(s, first, end, si, f)
	info.Samples, info.Frames, info.From = w.samples, w.frames, Counted
	promised, held := clocks(si.total, w.samples, si.rate)
	switch {
	case w.frames == 0:
		return info, fmt.Errorf("FLAC file: not one whole frame: %w", ErrNoSound)
	case w.cut && si.total > w.samples:
		info.Notes = append(info.Notes, fmt.Sprintf("cut off: the header promises %s, the file holds %s", promised, held))
	case si.total != 0 && si.total != w.samples:
		info.Notes = append(info.Notes, fmt.Sprintf("the header is wrong: it states %s, the file holds %s", promised, held))
	}
	if w.lost > 0 && !(w.cut && w.gaps == 0) {
		info.Notes = append(info.Notes, fmt.Sprintf("damaged: %d bytes belong to no whole frame and are not counted", w.lost))
	}
	return info, nil
}

// Limits of a frame: RFC 9639 9.1 allows blocks of 1 to 65535 samples; the
// smallest frame is a header of 6 bytes, a constant subframe of 2 and a CRC of 2.
const (
	maxFLACBlock = 65535
	minFLACFrame = 10
)

// flacFrame is a frame header. ref: RFC 9639 9.1.
type flacFrame struct {
	size     int   // bytes of the header, its CRC-8 included
	block    int   // samples a channel
	variable bool  // the number counts samples, not frames
	number   int64 // of the first sample or of the frame
}

// sample is the number of the frame's first sample. block is the size of the
// stream's first frame, which all but the last have where the size is fixed.
func (f flacFrame) sample(block int) int64 {
	if f.variable {
		return f.number
	}
	return f.number * int64(block)
}

// maxFLACHeader: 4 bytes, number up to 7, block size 2, rate 2, CRC 1.
const maxFLACHeader = 16

func parseFLACFrame(b []byte, si streamInfo) (f flacFrame, ok bool) {
	if len(b) < 6 || b[0] != 0xFF || b[1]&0xFE != 0xF8 { // 15 bits sync code
		return f, false
	}
	f.variable = b[1]&1 != 0 // 1 bit: blocking strategy
	block := int(b[2] >> 4)  // 4 bits: block size
	rate := int(b[2] & 15)   // 4 bits: sample rate
	ch := int(b[3] >> 4)     // 4 bits: channels
	depth := int(b[3] >> 1 & 7)
	if block == 0 || rate == 15 || ch > 10 || depth == 3 || b[3]&1 != 0 {
		return f, false
	}
	if ch < 8 && ch+1 != si.channels || ch >= 8 && si.channels != 2 {
		return f, false
	}
	if d := [8]int{0, 8, 12, 0, 16, 20, 24, 32}[depth]; d != 0 && d != si.bits {
		return f, false
	}
	// 1 to 7 bytes: coded number, in the manner of UTF-8
	n, used := codedNumber(b[4:])
	if used == 0 {
		return f, false
	}
	f.number, f.size = n, 4+used
	switch {
	case block == 1:
		f.block = 192
	case block <= 5:
		f.block = 144 << block
	case block >= 8:
		f.block = 1 << block
	default:
		extra := block - 5 // 6: 8 bits, 7: 16 bits, less one
		if len(b) < f.size+extra {
			return f, false
		}
		f.block = int(be(b[f.size:], extra)) + 1
		f.size += extra
	}
	if rate >= 12 {
		extra := 2
		if rate == 12 {
			extra = 1
		}
		f.size += extra
	}
	if len(b) < f.size+1 || f.block > si.maxBlock {
		return f, false
	}
	if crc8(b[:f.size]) != b[f.size] { // 8 bits: CRC of the header
		return f, false
	}
	f.size++
	return f, true
}

// codedNumber reads a number of up to 36 bits in the manner of UTF-8. used is 0
// when the bytes are no such number.
func codedNumber(b []byte) (n int64, used int) {
	if len(b) == 0 {
		return 0, 0
	}
	lead := b[0]
	if lead < 0x80 {
		return int64(lead), 1
	}
	used = 0
	for m := lead; m&0x80 != 0; m <<= 1 {
		used++
	}
	if used == 1 || used > 7 || len(b) < used {
		return 0, 0
	}
	n = int64(lead) & (1<<(7-used) - 1)
	if used == 7 {
		n = 0
	}
	for _, c := range b[1:used] {
		if c&0xC0 != 0x80 {
			return 0, 0
		}
		n = n<<6 | int64(c&0x3F)
	}
	return n, used
}

// nextFLACFrame finds the first frame header in [off, end). like, when given, is
// a frame of the same stream.
func nextFLACFrame(s *source, off, end int64, si streamInfo, like *flacFrame) (flacFrame, int64, bool) {
	for off < end {
		b := s.at(off, int(min(512, s.size-off)))
		if len(b) < 6 {
			break
		}
		i := indexSync(b, 0xFE, 0xF8)
		if i+maxFLACHeader > len(b) && i > 0 {
			off += int64(i)
			continue
		}
		if f, ok := parseFLACFrame(b[i:], si); ok && off+int64(i) < end && (like == nil || like.variable == f.variable) {
			return f, off + int64(i), true
		}
		off += int64(i) + 1
	}
	return flacFrame{}, 0, false
}

// tails are the stretches before the end that are searched for the last frame.
var tails = [...]int64{16 << 10, 64 << 10, walkWindow}

// lastFLACFrame finds the frame that ends with the section: the checks of both
// its header (CRC-8) and its whole (CRC-16) must hold.
func lastFLACFrame(s *source, first, end int64, si streamInfo, like flacFrame) (flacFrame, bool) {
	tries := 32 // the last frame is the first one found from the back, but for chance
	for _, tail := range tails {
		from := max(first, end-tail)
		b := s.at(from, int(end-from))
		for i := len(b) - minFLACFrame + 1; ; {
			if i = bytes.LastIndexByte(b[:max(0, i)], 0xFF); i < 0 {
				break
			}
			f, ok := parseFLACFrame(b[i:], si)
			if !ok || f.variable != like.variable {
				continue
			}
			if crc16(0, b[i:]) == 0 { // the CRC of data with its own CRC behind
				return f, true
			}
			if tries--; tries == 0 {
				return flacFrame{}, false
			}
		}
		if from == first {
			break
		}
	}
	return flacFrame{}, false
}

// evenFLAC looks at a half and a third of the way: the frames there must be
// numbered about so. In streams joined to one they are not; in one that is half
// silence they need not be either, which a walk then shows to be sound.
func evenFLAC(s *source, first, end int64, si streamInfo, like flacFrame, samples int64) bool {
	for _, part := range []int64{2, 3} {
		at := first + (end-first)/part
		f, off, ok := nextFLACFrame(s, at, min(end, at+walkWindow), si, &like)
		if !ok {
			return false
		}
		bytes := float64(off-first) / float64(end-first)
		share := float64(f.sample(like.block)-like.sample(like.block)) / float64(samples)
		if share < bytes-0.25 || share > bytes+0.25 {
			return false
		}
	}
	return true
}

type walkedFLAC struct {
	samples, frames int64
	lost            int64 // bytes in no whole frame
	gaps            int64 // places in the middle where bytes are lost
	cut             bool  // the file ends within a frame
}

// walkFLAC counts the frames whose CRC-16 holds. Frames state no size: each ends
// where the next one begins, which the checksum proves.
func walkFLAC(s *source, off, end int64, si streamInfo, f flacFrame) (w walkedFLAC) {
	s.large()
	// A frame is not larger than its samples stored plainly, with room for headers.
	limit := int64(si.maxBlock)*int64(si.channels)*int64(si.bits+1)/8 + 256
	like := f
	// Bytes that may be looked at. A sound file needs little more than its size; a
	// file made of frame headers only would otherwise be searched for ever.
	budget := 4*(end-off) + limit
	for {
		start := off
		if budget < 0 {
			w.lost += end - start
			w.cut = true
			return w
		}
		var crc uint16
		next, at := flacFrame{}, start
		found := false
		pos := start // bytes [start, pos) are in crc
		scan := start + 1
		for scan < end && scan-start <= limit {
			g, where, ok := nextFLACFrame(s, scan, end, si, &like)
			if !ok {
				break
			}
			budget -= where - pos
			crc, pos = crcTo(s, crc, pos, where)
			if crc == 0 {
				next, at, found = g, where, true
				break
			}
			scan = where + 1
		}
		if !found { // the last frame, or the file is damaged here
			if end-start <= limit {
				budget -= end - pos
				crc, _ = crcTo(s, crc, pos, end)
				if crc == 0 && end-start >= minFLACFrame {
					w.frames++
					w.samples += int64(f.block)
					return w
				}
			}
			g, where, ok := nextFLACFrame(s, start+1, end, si, &like)
			if !ok {
				w.lost += end - start
				w.cut = true
				return w
			}
			w.lost += where - start
			w.gaps++
			f, off = g, where
			continue
		}
		w.frames++
		w.samples += int64(f.block)
		f, off = next, at
	}
}

// crcTo carries a CRC-16 on from byte pos to byte to.
func crcTo(s *source, crc uint16, pos, to int64) (uint16, int64) {
	for pos < to {
		b := s.at(pos, int(min(walkWindow, to-pos)))
		if len(b) == 0 {
			return 1, to // unreadable: no match
		}
		crc = crc16(crc, b)
		pos += int64(len(b))
	}
	return crc, pos
}

// crc8 is the frame header's checksum: polynomial 07, start 0. ref: RFC 9639 9.1.8.
func crc8(b []byte) (crc byte) {
	for _, c := range b {
		crc = crc8Table[crc^c]
	}
	return crc
}

// crc16 is the frame's checksum: polynomial 8005, start 0. ref: RFC 9639 9.3.
// Eight bytes a turn: each table gives what a byte comes to, so many bytes later.
func crc16(crc uint16, b []byte) uint16 {
	for len(b) >= 8 {
		crc ^= uint16(b[0])<<8 | uint16(b[1])
		crc = crc16Table[7][crc>>8] ^ crc16Table[6][crc&0xFF] ^
			crc16Table[5][b[2]] ^ crc16Table[4][b[3]] ^ crc16Table[3][b[4]] ^
			crc16Table[2][b[5]] ^ crc16Table[1][b[6]] ^ crc16Table[0][b[7]]
		b = b[8:]
	}
	for _, c := range b {
		crc = crc<<8 ^ crc16Table[0][byte(crc>>8)^c]
	}
	return crc
}

var crc8Table = func() (t [256]byte) {
	for i := range t {
		c := byte(i)
		for range 8 {
			if c&0x80 != 0 {
				c = c<<1 ^ 0x07
			} else {
				c <<= 1
			}
		}
		t[i] = c
	}
	return t
}()

var crc16Table = func() (t [8][256]uint16) {
	for i := range t[0] {
		c := uint16(i) << 8
		for range 8 {
			if c&0x8000 != 0 {
				c = c<<1 ^ 0x8005
			} else {
				c <<= 1
			}
		}
		t[0][i] = c
	}
	for k := 1; k < len(t); k++ {
		for i, c := range t[k-1] {
			t[k][i] = c<<8 ^ t[0][c>>8]
		}
	}
	return t
}()
