package scan

import "fmt"

// adtsRates by sampling_frequency_index. ref: ISO/IEC 14496-3 table 1.18.
var adtsRates = [...]int{96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350}

type adtsHeader struct {
	bits     uint32 // the fixed header's first 28 bits, which do not change
	rate     int    // Hz
	channels int
	size     int64 // bytes, header included
	samples  int64
}

// parseADTS reads the header of a raw AAC frame. ref: ISO/IEC 14496-3 1.A.3.2.
func parseADTS(b []byte) (h adtsHeader, ok bool) {
	if len(b) < 7 || b[0] != 0xFF || b[1]&0xF6 != 0xF0 { // 12 bits syncword, 1 ID, 2 layer (always 0), 1 protection_absent
		return h, false
	}
	rate := int(b[2] >> 2 & 15) // 2 bits profile, then 4 sampling_frequency_index
	if rate >= len(adtsRates) {
		return h, false
	}
	h.rate = adtsRates[rate]
	h.channels = int(b[2]&1)<<2 | int(b[3]>>6)                   // 1 private bit, then 3 channel_configuration
	h.size = int64(b[3]&3)<<11 | int64(b[4])<<3 | int64(b[5]>>5) // 13 bits aac_frame_length
	h.samples = 1024 * (int64(b[6]&3) + 1)                       // 11 bits buffer fullness, then 2: raw data blocks - 1
	h.bits = uint32(be(b, 4)) & 0xFFFEFDC0                       // without protection, private bit, and what varies
	if h.channels == 7 {
		h.channels = 8
	}
	head := int64(7)
	if b[1]&1 == 0 { // a CRC follows
		head = 9
	}
	return h, h.size > head
}

// scanADTS counts the frames of raw AAC. There is no header with a length, and
// no word on encoder delay: what is counted is what a decoder gives.
func scanADTS(s *source, start, end int64) (Info, error) {
	end, tags := cutTrailers(s, start, end)
	info := Info{Format: "AAC", Codec: "AAC", From: Counted, Start: start, SamplesPerFrame: 1024, Tags: tags}
	first, ok := parseADTS(s.at(start, 7))
	if !ok {
		return info, fmt.Errorf("%w: no AAC frame", ErrNotAudio)
	}
	info.Rate, info.Channels = first.rate, first.channels
	s.large()
	off := start
	var lost int64
	for off+7 <= end {
		h, ok := parseADTS(s.at(off, 7))
		if !ok || h.bits != first.bits || off+h.size > end {
			off++
			lost++
			continue
		}
		info.Frames++
		info.Samples += h.samples
		off += h.size
	}
	lost += max(0, end-off)
	info.End = end
	if lost > 0 {
		info.Notes = append(info.Notes, fmt.Sprintf("damaged or cut off: %d bytes belong to no whole frame and are not counted", lost))
	}
	return info, nil
}

// isADTS tells whether raw AAC begins here: three frames in a row, or fewer that
// end with the file.
func isADTS(s *source, off, end int64) bool {
	first, ok := parseADTS(s.at(off, 7))
	if !ok {
		return false
	}
	for n := 1; n < 3; n++ {
		h, ok := parseADTS(s.at(off, 7))
		if !ok || h.bits != first.bits {
			return false
		}
		off += h.size
		if off >= end-6 {
			return n > 1 || off == end
		}
	}
	return true
}
