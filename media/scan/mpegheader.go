package scan

// mpegHeader is the 32-bit header of an MPEG audio frame.
// ref: ISO/IEC 11172-3 2.4.1.3 and 2.4.2.3; ISO/IEC 13818-3 2.4.2.3 for the low
// sampling rates. MPEG-2.5 is a maker's extension that players commonly read.
type mpegHeader struct {
	bits    uint32
	version int // 10, 20 or 25
	layer   int // 1, 2 or 3
	bitrate int // bits a second; 0 in free format
	rate    int // Hz
	padding int // 0 or 1 slot
	mode    int // 0 stereo, 1 joint, 2 dual, 3 single channel
	ext     int // mode extension; in Layer III bit 0 is intensity stereo
	crc     bool
}

// sameStream are the header bits that do not change within a stream: sync,
// version, layer, sampling rate.
const sameStream = 0xFFFE0C00

// kbit/s by bitrate index. ref: ISO/IEC 11172-3 table "bitrate_index" and
// ISO/IEC 13818-3 2.4.2.3, columns layer I, II, III, then low rates I, II and III.
var mpegBitrates = [5][15]int{
	{0, 32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448},
	{0, 32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384},
	{0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320},
	{0, 32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256},
	{0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160},
}

// parseMPEG reads a frame header. ok is false when a field holds a value that
// the standard forbids or reserves.
func parseMPEG(b []byte) (h mpegHeader, ok bool) {
	if len(b) < 4 || b[0] != 0xFF || b[1]&0xE0 != 0xE0 { // syncword: 11 bits with MPEG-2.5
		return h, false
	}
	h.bits = uint32(be(b, 4))
	version := h.bits >> 19 & 3 // ID, with the syncword's twelfth bit
	layer := h.bits >> 17 & 3
	bitrate := h.bits >> 12 & 15
	rate := h.bits >> 10 & 3
	if version == 1 || layer == 0 || bitrate == 15 || rate == 3 || h.bits&3 == 2 { // the last: emphasis
		return h, false
	}
	h.layer = int(4 - layer)
	h.crc = h.bits>>16&1 == 0 // protection_bit is 0 when a CRC follows
	h.padding = int(h.bits >> 9 & 1)
	h.mode = int(h.bits >> 6 & 3)
	h.ext = int(h.bits >> 4 & 3)
	h.rate = [3]int{44100, 48000, 32000}[rate]
	row := h.layer - 1
	switch version {
	case 3:
		h.version = 10
	case 2:
		h.version, h.rate = 20, h.rate/2
	case 0:
		h.version, h.rate = 25, h.rate/4
	}
	if h.version != 10 {
		row = 3
		if h.layer > 1 {
			row = 4
		}
	}
	h.bitrate = mpegBitrates[row][bitrate] * 1000
	return h, true
}

// samples of one channel in a frame. ref: ISO/IEC 11172-3 2.4.2.1 (384 in layer I,
// 1152 in II and III); ISO/IEC 13818-3 2.4.2.1 (576 in layer III at low rates).
func (h mpegHeader) samples() int {
	switch {
	case h.layer == 1:
		return 384
	case h.layer == 3 && h.version != 10:
		return 576
	}
	return 1152
}

// slots gives N, the frame's length in slots without the padding slot (whole
// numbers first), and the bytes of a slot.
// ref: ISO/IEC 11172-3 2.4.3.1: N = 12 bitrate/rate in layer I with slots of four
// bytes, 144 bitrate/rate in layers II and III with slots of one.
func (h mpegHeader) slots() (n, slot int) {
	if h.layer == 1 {
		return 12 * h.bitrate / h.rate, 4
	}
	return h.samples() / 8 * h.bitrate / h.rate, 1
}

// size of the frame in bytes; 0 in free format.
func (h mpegHeader) size() int {
	if h.bitrate == 0 {
		return 0
	}
	n, slot := h.slots()
	return (n + h.padding) * slot
}

// minSize is the smallest frame that a stream with this version, layer and rate
// can have.
func (h mpegHeader) minSize() int {
	h.padding, h.bitrate = 0, 32000
	if h.version != 10 && h.layer > 1 {
		h.bitrate = 8000
	}
	return h.size()
}

func (h mpegHeader) channels() int {
	if h.mode == 3 {
		return 1
	}
	return 2
}

// sideInfo is the size of Layer III side information.
// ref: ISO/IEC 11172-3 2.4.1.7 (17 or 32 bytes), ISO/IEC 13818-3 2.4.1.7 (9 or 17).
func (h mpegHeader) sideInfo() int {
	mono := h.mode == 3
	switch {
	case h.version == 10 && mono:
		return 17
	case h.version == 10:
		return 32
	case mono:
		return 9
	}
	return 17
}

// paddingTrap: MPEG-2 layer III frames that carry a padding slot where the low
// rates' 144 bitrate/rate is even. One decoder sizes these wrongly, without an error.
func (h mpegHeader) paddingTrap() bool {
	return h.version == 20 && h.layer == 3 && h.padding == 1 && 144*h.bitrate/h.rate%2 == 0
}

// intensity: a joint stereo frame of layer III that uses intensity stereo.
func (h mpegHeader) intensity() bool { return h.layer == 3 && h.mode == 1 && h.ext&1 != 0 }
