package scan

import (
	"fmt"
	"math"
)

// scanAIFF reads AIFF and AIFC.
// ref: "Audio Interchange File Format AIFF", version 1.3, and its AIFF-C
// draft of 1991-08-26.
func scanAIFF(s *source, start int64, walk bool) (Info, error) {
	info := Info{Format: "AIFF", From: Header}
	if string(s.at(start+8, 4)) == "AIFC" {
		info.Format = "AIFC"
	}
	var c aiffCommon
	dataOff, dataSize := int64(-1), int64(0)
	off := start + 12
	for range maxChunks {
		// Chunk: 4 bytes id, 4 bytes size big-endian, contents, a byte of padding when odd.
		b := s.at(off, 8)
		if len(b) < 8 || !printable(b[:4]) {
			break
		}
		id, n, body := string(b[:4]), int64(be(b[4:], 4)), off+8
		switch id {
		case "COMM":
			c = parseAIFFCommon(s.at(body, int(min(n, 22))))
		case "SSND": // 4 bytes offset to the first sample, 4 bytes block size
			if d := s.at(body, 8); len(d) == 8 && dataOff < 0 {
				dataOff, dataSize = body+8+int64(be(d, 4)), n-8-int64(be(d, 4))
			}
		case "NAME", "AUTH":
			if len(info.Tags) < 8 && body+n <= s.size {
				info.Tags = append(info.Tags, Tag{AIFFText, off, 8 + n})
			}
		case "ID3 ", "id3 ":
			if _, t := skipID3v2(s, body, min(s.size, body+n)); len(t) > 0 && len(info.Tags) < 8 {
				info.Tags = append(info.Tags, t[0])
			}
		}
		if n > s.size-body {
			break
		}
		off = body + n + n&1
	}
	switch {
	case c.channels < 1 || c.bits < 1 || c.bits > 64:
		return info, fmt.Errorf("%w: an AIFF file without a usable COMM chunk", ErrNotAudio)
	case dataOff < 0:
		return info, fmt.Errorf("AIFF file without a sound chunk: %w", ErrNoSound)
	case c.rate < 1 || c.rate > math.MaxInt32:
		return info, fmt.Errorf("%w: an AIFF file with a sample rate of %g Hz", ErrNotAudio, c.rate)
	}
	info.Rate, info.Channels, info.BitDepth = int(math.Round(c.rate)), c.channels, c.bits
	align, per, err := c.layout(&info)
	if err != nil {
		return info, err
	}
	room := max(0, s.size-dataOff)
	streamed := dataSize <= 0 || dataSize >= 0x7FFFF000-8
	held := min(dataSize, room)
	if streamed {
		held = room
	}
	info.Start = dataOff
	blocks := held / align
	info.Samples = blocks * per
	info.End = dataOff + blocks*align
	promised, have := clocks(c.frames*per, info.Samples, info.Rate)
	switch {
	case walk:
		info.From = Counted
	case streamed:
		info.From = Counted
		info.Notes = append(info.Notes, "the header states no length (a streamed file); the file's size does")
	}
	if !streamed && c.frames != blocks {
		info.From = Counted
		say := "the header is wrong: it states %s, the file holds %s"
		if dataSize > room {
			say = "cut off: the header promises %s, the file holds %s"
		}
		info.Notes = append(info.Notes, fmt.Sprintf(say, promised, have))
	}
	// The FORM's size counts what follows it; another FORM behind it is another recording.
	form := int64(be(s.at(start+4, 4), 4))
	if next := start + 8 + form + form&1; form > 0 && string(s.at(next, 4)) == "FORM" {
		info.Notes = append(info.Notes, "more than one recording joined: only the first is counted, and played")
	}
	return info, nil
}

// aiffCommon is the COMM chunk.
type aiffCommon struct {
	channels int
	frames   int64 // sample frames; packets when compressed
	bits     int   // a sample
	rate     float64
	kind     string // AIFC: compression type; empty: none
}

func parseAIFFCommon(b []byte) (c aiffCommon) {
	if len(b) < 18 {
		return c
	}
	c.channels = int(be(b, 2))     // 2 bytes: numChannels
	c.frames = int64(be(b[2:], 4)) // 4: numSampleFrames
	c.bits = int(be(b[6:], 2))     // 2: sampleSize
	c.rate = extended(b[8:])       // 10: sampleRate
	if len(b) >= 22 {              // AIFC
		c.kind = string(b[18:22]) // 4: compressionType
	}
	return c
}

// extended reads an 80-bit IEEE 754 extended number.
func extended(b []byte) float64 {
	exponent, mantissa := int(be(b, 2)), be(b[2:], 8)
	if exponent&0x8000 != 0 {
		return 0 // a negative rate is none
	}
	return math.Ldexp(float64(mantissa), exponent-16383-63)
}

// layout gives the bytes of a block of all channels and the samples in it.
func (c aiffCommon) layout(info *Info) (align, per int64, err error) {
	bytes := (c.bits + 7) / 8
	p := PCM{BytesPerSample: bytes, BigEndian: true, Signed: true}
	info.Codec = "PCM"
	switch c.kind {
	case "", "NONE", "twos", "in24", "in32":
		if c.kind == "in24" {
			p.BytesPerSample = 3
		} else if c.kind == "in32" {
			p.BytesPerSample = 4
		}
	case "sowt":
		p.BigEndian = false
	case "raw ":
		p.Signed = false
	case "fl32", "FL32":
		info.Codec, p.Float, p.BytesPerSample = "float", true, 4
	case "fl64", "FL64":
		info.Codec, p.Float, p.BytesPerSample = "float", true, 8
	case "alaw", "ALAW", "ulaw", "ULAW":
		info.Codec = "A-law"
		if c.kind[0]|0x20 == 'u' {
			info.Codec = "mu-law"
		}
		p.Law, p.BytesPerSample, p.Signed = info.Codec, 1, false
	case "ima4": // packets of 34 bytes a channel hold 64 samples
		info.Codec, info.SamplesPerFrame, info.BitDepth = "IMA4 ADPCM", 64, 4
		return 34 * int64(c.channels), 64, nil
	default:
		return 0, 0, fmt.Errorf("%w: AIFC with compression %q", ErrNotAudio, c.kind)
	}
	info.PCM = p
	return int64(p.BytesPerSample * c.channels), 1, nil
}
