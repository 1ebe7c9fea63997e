package decode

import (
	"encoding/binary"
	"errors"
	"io"
	"math"

	"github.com/pion/opus"
)

// maxOpusFrames is the longest packet: 120 ms at 48 kHz (RFC 6716 section 3.2.5).
const maxOpusFrames = 5760

// opusSource decodes Ogg Opus with pion/opus. ref: RFC 7845.
type opusSource struct {
	ogg   *oggReader
	d     opus.Decoder
	chans int
	gain  float32
	buf   []float32
	have  []float32 // decoded and not given yet
	skip  int       // frames of pre-skip left
	given int64     // frames of this stream, pre-skip among them
}

func openOpus(s *Stream, r io.ReaderAt) error {
	o := &opusSource{ogg: newOggReader(io.NewSectionReader(r, s.Info.Start, s.Info.End-s.Info.Start)), chans: s.Channels}
	o.buf = make([]float32, maxOpusFrames*s.Channels)
	p, _, err := o.ogg.packet()
	if err != nil {
		return err
	}
	if err := o.head(p); err != nil {
		return err
	}
	if s.Rate != 48000 {
		return errors.New("damaged: Opus is always 48000 Hz")
	}
	s.src, s.By = o, "opus"
	s.slack = 960 // one usual packet
	return nil
}

// head reads the identification header, then passes over the comment header.
func (o *opusSource) head(p []byte) (err error) {
	// 8 bytes "OpusHead"; 1 version, whose upper half must be 0; 1 channel count;
	// 2 pre-skip; 4 input sample rate; 2 output gain, in 1/256 dB; 1 mapping family.
	if len(p) < 19 || string(p[:8]) != "OpusHead" || p[8] > 15 {
		return errors.New("damaged: no Opus header")
	}
	if int(p[9]) != o.chans {
		return errors.New("it changes its number of channels")
	}
	o.given = 0
	o.skip = int(binary.LittleEndian.Uint16(p[10:]))
	o.gain = float32(math.Pow(10, float64(int16(binary.LittleEndian.Uint16(p[16:])))/256/20))
	if o.d, err = opus.NewDecoderWithOutput(48000, o.chans); err != nil {
		return err
	}
	if p, _, err = o.ogg.packet(); err != nil {
		return err
	}
	if len(p) < 8 || string(p[:8]) != "OpusTags" {
		return errors.New("damaged: no Opus comment header")
	}
	return nil
}

func (o *opusSource) read(pcm []float32) (int, error) {
	for len(o.have) == 0 {
		p, begins, err := o.ogg.packet()
		if err != nil {
			return 0, err
		}
		if begins { // a chained stream
			if err := o.head(p); err != nil {
				return 0, err
			}
			continue
		}
		// The granule position counts the pre-skip too (RFC 7845 section 4).
		o.have = o.ogg.cut(o.decode(p), o.chans, o.given, o.ogg.granule)
		o.given += int64(len(o.have) / o.chans)
		if d := min(o.skip, len(o.have)/o.chans); d > 0 {
			o.skip -= d
			o.have = o.have[d*o.chans:]
		}
	}
	n := copy(pcm[:len(pcm)/o.chans*o.chans], o.have)
	o.have = o.have[n:]
	return n / o.chans, nil
}

// decode decodes one packet; silence as long takes the place of a damaged one.
func (o *opusSource) decode(p []byte) (out []float32) {
	defer func() {
		if r := recover(); r != nil {
			o.ogg.lost++
			out = o.silence(p)
			o.d, _ = opus.NewDecoderWithOutput(48000, o.chans)
		}
	}()
	n, err := o.d.DecodeToFloat32(p, o.buf)
	if err != nil {
		o.ogg.lost++
		return o.silence(p)
	}
	out = o.buf[:n*o.chans]
	if o.gain != 1 {
		for i := range out {
			out[i] *= o.gain
		}
	}
	return o.ogg.finite(out)
}

func (o *opusSource) silence(p []byte) []float32 {
	out := o.buf[:opusFrames(p)*o.chans]
	clear(out)
	return out
}

// opusFrames is how long a packet plays, by its first bytes: RFC 6716 section
// 3.1, table 2 and the frame count code.
func opusFrames(p []byte) int {
	if len(p) == 0 {
		return 0
	}
	config := p[0] >> 3
	var frame int // samples at 48 kHz
	switch {
	case config < 12: // SILK: 10, 20, 40, 60 ms
		frame = [4]int{480, 960, 1920, 2880}[config&3]
	case config < 16: // hybrid: 10, 20 ms
		frame = [2]int{480, 960}[config&1]
	default: // CELT: 2.5, 5, 10, 20 ms
		frame = 120 << (config & 3)
	}
	count := 1
	switch p[0] & 3 {
	case 1, 2:
		count = 2
	case 3:
		if len(p) < 2 {
			return 0
		}
		count = int(p[1] & 0x3F)
	}
	return min(frame*count, maxOpusFrames)
}

func (o *opusSource) said() []string { return o.ogg.said() }
