package scan

import "math/bits"

// vorbis is a Vorbis stream. ref: xiph.org, Vorbis I specification, 4.2 and 4.3.
type vorbis struct {
	rate, channels int
	block          [2]int64 // samples in a short and a long block
	long           []bool   // by mode: does it use long blocks
	modeBits       int
	before         int64 // the block before; 0: none
	seen           int   // header packets
}

func newVorbis(b []byte) *vorbis {
	if len(b) < 30 {
		return nil
	}
	// packet type 1, "vorbis" 6, version 4, channels 1, rate 4, bit rates 3 x 4,
	// block sizes 4 + 4 bits as powers of two, framing 1
	v := &vorbis{channels: int(b[11]), rate: int(le(b[12:], 4))}
	v.block = [2]int64{1 << (b[28] & 15), 1 << (b[28] >> 4)}
	if le(b[7:], 4) != 0 || v.channels == 0 || v.rate == 0 || v.rate > 1<<24 || v.block[0] < 64 || v.block[1] > 8192 || v.block[0] > v.block[1] {
		return nil
	}
	return v
}

func (v *vorbis) about() (string, int, int, int, int64) { return "Vorbis", v.rate, v.channels, 0, 0 }

func (v *vorbis) header(p []byte) int {
	if v.seen++; v.seen == 2 && hasPrefix(p, "\x05vorbis") {
		v.readModes(p)
	}
	return -1
}

// readModes reads the end of the setup packet backwards: the framing bit, then
// the modes, each mapping 8 bits, transform type 16 (0), window type 16 (0),
// block flag 1; before them their number less one in 6 bits. All that comes
// earlier is code books, which need not be understood. ref: 4.2.4.
func (v *vorbis) readModes(p []byte) {
	total := len(p) * 8
	bit := func(i int) int { return int(p[i>>3]>>(i&7)) & 1 }
	field := func(at, n int) (x int) {
		for k := range n {
			x |= bit(at+k) << k
		}
		return x
	}
	i := total - 1
	for i > 0 && bit(i) == 0 { // the framing bit is the last one set
		i--
	}
	var flags []bool
	var best []bool
	at := i - 41
	for at >= 7*8+6 && len(flags) < 64 {
		if field(at+1, 32) != 0 || field(at+33, 8) > 63 {
			break
		}
		flags = append(flags, bit(at) == 1)
		// the number of modes stands right before the first one
		if field(at-6, 6)+1 == len(flags) {
			best = append([]bool(nil), flags...)
		}
		at -= 41
	}
	// read from the back: turn round
	for l, r := 0, len(best)-1; l < r; l, r = l+1, r-1 {
		best[l], best[r] = best[r], best[l]
	}
	v.long = best
	v.modeBits = bits.Len(uint(max(0, len(best)-1)))
}

// duration: a packet completes a quarter of its own block and one of the block
// before. ref: 4.3.8.
func (v *vorbis) duration(p []byte) int64 {
	if len(p) == 0 || p[0]&1 != 0 || len(v.long) == 0 { // bit 0: not sound
		return 0
	}
	mode := int(p[0]>>1) & (1<<v.modeBits - 1)
	if mode >= len(v.long) {
		return 0
	}
	b := v.block[0]
	if v.long[mode] {
		b = v.block[1]
	}
	d := int64(0)
	if v.before > 0 {
		d = v.before/4 + b/4
	}
	v.before = b
	return d
}

// opus is an Opus stream, always at 48 kHz. ref: RFC 7845 5.1, RFC 6716 3.1.
type opus struct {
	channels int
	skip     int64
}

func newOpus(b []byte) *opus {
	// "OpusHead" 8, version 1, channels 1, pre-skip 2, input rate 4, gain 2, mapping 1
	if len(b) < 19 || b[8]>>4 != 0 || b[9] == 0 {
		return nil
	}
	return &opus{channels: int(b[9]), skip: int64(le(b[10:], 2))}
}

func (o *opus) about() (string, int, int, int, int64) {
	return "Opus", 48000, o.channels, 0, o.skip
}
func (o *opus) header([]byte) int { return -1 }

// duration reads the TOC byte: configuration 5 bits, stereo 1, frame count code 2.
func (o *opus) duration(p []byte) int64 {
	if len(p) == 0 {
		return 0
	}
	config := p[0] >> 3
	var frame int64 // at 48 kHz
	switch {
	case config < 12: // SILK: 10, 20, 40, 60 ms
		frame = [4]int64{480, 960, 1920, 2880}[config&3]
	case config < 16: // hybrid: 10, 20 ms
		frame = [2]int64{480, 960}[config&1]
	default: // CELT: 2.5, 5, 10, 20 ms
		frame = [4]int64{120, 240, 480, 960}[config&3]
	}
	n := int64(2)
	switch p[0] & 3 {
	case 0:
		n = 1
	case 3: // the count is in the next byte's lower 6 bits
		n = 0
		if len(p) > 1 {
			n = int64(p[1] & 63)
		}
	}
	if frame*n > 5760 { // 120 ms is the most
		return 0
	}
	return frame * n
}

// oggFLAC is FLAC in Ogg. ref: RFC 9639 10.1.
type oggFLAC struct{ si streamInfo }

func newOggFLAC(b []byte) (*oggFLAC, int) {
	// 7F "FLAC" 5, version 1.0 2, number of header packets 2, "fLaC" 4, block header 4, STREAMINFO 34
	if len(b) < 51 || string(b[9:13]) != "fLaC" {
		return nil, 0
	}
	si, err := parseStreamInfo(b[17:])
	if err != nil {
		return nil, 0
	}
	n := int(be(b[7:], 2))
	if n == 0 { // unknown: the blocks themselves say which is the last
		n = 1 << 16
	}
	return &oggFLAC{si}, n
}

func (f *oggFLAC) about() (string, int, int, int, int64) {
	return "FLAC", f.si.rate, f.si.channels, f.si.bits, 0
}

func (f *oggFLAC) header(p []byte) int {
	if len(p) > 0 && p[0]&0x80 != 0 {
		return 0 // the last metadata block
	}
	return -1
}

func (f *oggFLAC) duration(p []byte) int64 {
	h, ok := parseFLACFrame(p, f.si)
	if !ok {
		return 0
	}
	return int64(h.block)
}
