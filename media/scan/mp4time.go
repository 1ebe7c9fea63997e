package scan

import "fmt"

// packetTime tells the playing time of packets without the tables: each holds
// so many samples, at the rate that the decoder is set up for. samples is 0
// where a codec's packets do not say, or differ.
type packetTime struct{ samples, rate int64 }

// of is the length of n packets in samples at the given rate.
func (p packetTime) of(n, rate int64) int64 { return mulDiv(addMul(0, n, p.samples), rate, p.rate) }

// outRate is the rate that is heard: of the decoder, or twice it where the
// sample entry tells of spectral band replication.
func (t *mp4Track) outRate() int {
	if r := t.packet.rate; int64(t.rate) != 2*r {
		return int(r)
	}
	return t.rate
}

// doubt is how the statements on a track's time contradict each other, in one
// sentence; empty when they agree to about two packets. times tells that the
// table of times (stts) is the wrong one, or its clock, by what the packets hold.
func (t *mp4Track) doubt() (note string, times bool) {
	if t.counted == 0 || t.timescale <= 0 {
		return "", false
	}
	const says = "contradicts itself: by its %s %s, by its %s %s, which %s"
	far := func(a, b, most int64) bool { return max(a-b, b-a) > most }
	taken, so := "table of times (stts)", "is taken"
	if t.packet.samples > 0 {
		held, most := t.packet.of(t.counted, t.timescale), t.packet.of(2, t.timescale)+2
		if t.timescale%t.packet.rate != 0 {
			most += t.counted / 2 // a coarse clock rounds each packet's time
		}
		if far(t.units, held, most) {
			a, b := clocks(t.units, held, int(t.timescale))
			return fmt.Sprintf(says, "table of times (stts) and clock", a, "packets", b, "are counted"), true
		}
		taken, so = "table of times (stts) and packets", "are counted"
	}
	if t.duration > 0 && far(t.duration, t.units, 2*t.units/t.counted+t.timescale/10) {
		a, b := clocks(t.duration, t.units, int(t.timescale))
		return fmt.Sprintf(says, "media header (mdhd)", a, taken, b, so), false
	}
	return "", false
}

// lastPacket is how many samples the last of n packets holds: an ALAC packet
// says so itself when it is not full. Layout from memory, checked with files of
// ffmpeg: element 3 bits, instance 4, unused 12, partial frame 1, shift 2,
// verbatim 1, then the number of samples 32.
func (t *mp4Track) lastPacket(s *source) int64 {
	if b := s.at(t.lastAt, 7); t.codec == "ALAC" && t.lastAt > 0 && len(b) == 7 && b[2]&0x10 != 0 {
		if n := int64(be(b, 7) >> 1 & 0xFFFFFFFF); n <= t.packet.samples {
			return n
		}
	}
	return t.packet.samples
}

// aacRates are the sampling_frequency_index. ref: ISO/IEC 14496-3 table 1.18.
var aacRates = [...]int64{96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350}

// aacTime reads an AudioSpecificConfig: the rate of the core decoder, which
// spectral band replication may double later, and the samples of its frame. It
// knows the object types of plain AAC only. ref: ISO/IEC 14496-3 1.6.2.1, 4.4.1.
func aacTime(b []byte) (p packetTime) {
	at := 0
	bits := func(n int) (v int64) {
		for range n {
			if at/8 >= len(b) {
				return -1
			}
			v = v<<1 | int64(b[at/8]>>(7-at%8)&1)
			at++
		}
		return v
	}
	rate := func() int64 {
		i := bits(4)
		switch {
		case i == 15:
			return bits(24)
		case i < 0 || int(i) >= len(aacRates):
			return 0
		}
		return aacRates[i]
	}
	kind, hz := bits(5), rate() // audioObjectType 5, samplingFrequencyIndex 4 (15: samplingFrequency 24)
	bits(4)                     // channelConfiguration
	if kind == 5 || kind == 29 {
		rate() // extensionSamplingFrequencyIndex
		kind = bits(5)
	}
	if kind < 1 || kind > 4 || hz < 1000 || hz > 192000 {
		return p
	}
	switch bits(1) { // frameLengthFlag
	case 0:
		return packetTime{1024, hz}
	case 1:
		return packetTime{960, hz}
	}
	return p
}
