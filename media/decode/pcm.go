package decode

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"longside/media/scan"
)

// pcm reads uncompressed samples, of WAV and of AIFF: 8 to 32 bits, floats of
// 32 and 64, either byte order, A-law and mu-law.
type pcm struct {
	r     *bufio.Reader
	sound *io.SectionReader // what r reads
	form  scan.PCM
	width int // bytes of a frame
	chans int
	buf   []byte
	value func([]byte) float64 // one sample; nil for the common kinds that have a loop of their own
	odd   int64                // values that were no numbers
}

const pcmFrames = 4096 // frames read at once

func openPCM(s *Stream, r io.ReaderAt) error {
	p := s.Info.PCM
	src := &pcm{form: p, width: p.BytesPerSample * s.Channels, chans: s.Channels}
	if p.BytesPerSample > 8 || p.Float && p.BytesPerSample != 4 && p.BytesPerSample != 8 {
		return fmt.Errorf("samples of %d bytes cannot be decoded", p.BytesPerSample)
	}
	src.value = sampleReader(p)
	src.buf = make([]byte, pcmFrames*src.width)
	src.sound = io.NewSectionReader(r, s.Info.Start, s.Info.End-s.Info.Start)
	src.r = bufio.NewReaderSize(src.sound, 64<<10)
	s.src, s.By, s.Mask = src, "pcm", p.Mask
	if p.Law != "" {
		s.Bits = 16 // 14 and 13 bits by G.711, on the grid of 16
	} else if !p.Float {
		s.Bits = min(8*p.BytesPerSample, 24)
	}
	return nil
}

// sampleReader gives the reading of one sample, for kinds that are too rare for
// a loop of their own.
func sampleReader(p scan.PCM) func([]byte) float64 {
	var order binary.ByteOrder = binary.LittleEndian
	if p.BigEndian {
		order = binary.BigEndian
	}
	n := p.BytesPerSample
	switch {
	case p.Law == "A-law":
		return func(b []byte) float64 { return aLaw(b[0]) }
	case p.Law == "mu-law":
		return func(b []byte) float64 { return muLaw(b[0]) }
	case p.Float && n == 8:
		return func(b []byte) float64 { return math.Float64frombits(order.Uint64(b)) }
	case p.Float:
		return func(b []byte) float64 { return float64(math.Float32frombits(order.Uint32(b))) }
	case !p.Signed: // 8 bits of WAV: 128 is zero
		return func(b []byte) float64 { return float64(int(b[0])-128) / 128 }
	case !p.BigEndian && n <= 3:
		return nil
	}
	scale := math.Ldexp(1, 1-8*n)
	return func(b []byte) float64 {
		var v uint64
		for i := range n {
			k := i
			if !p.BigEndian {
				k = n - 1 - i
			}
			v = v<<8 | uint64(b[k])
		}
		shift := 64 - 8*n
		return float64(int64(v<<shift)>>shift) * scale
	}
}

func (p *pcm) read(out []float32) (int, error) {
	frames := min(len(out)/p.chans, pcmFrames)
	b := p.buf[:frames*p.width]
	n, err := io.ReadFull(p.r, b)
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = io.EOF
	}
	frames = n / p.width
	p.convert(out[:frames*p.chans], b)
	return frames, err
}

// convert turns bytes into samples; out says how many.
func (p *pcm) convert(out []float32, b []byte) {
	n := p.form.BytesPerSample
	switch {
	case p.value != nil:
		for i := range out {
			v := p.value(b[i*n:])
			if !(v >= -math.MaxFloat32 && v <= math.MaxFloat32) {
				v = 0
				p.odd++
			}
			out[i] = float32(v)
		}
	case n == 1:
		for i := range out {
			out[i] = float32(int8(b[i])) / (1 << 7)
		}
	case n == 2:
		b = b[:2*len(out)]
		for i := range out {
			out[i] = float32(int16(binary.LittleEndian.Uint16(b[2*i:]))) / (1 << 15)
		}
	case n == 3:
		b = b[:3*len(out)]
		for i := range out {
			v := int32(uint32(b[3*i])<<8|uint32(b[3*i+1])<<16|uint32(b[3*i+2])<<24) >> 8
			out[i] = float32(v) / (1 << 23)
		}
	}
}

func (p *pcm) said() []string {
	if p.odd == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%d samples are no numbers and were silenced", p.odd)}
}

// aLaw expands one byte: ITU-T G.711, table 1a, scaled so that 1 is full scale.
func aLaw(b byte) float64 {
	b ^= 0x55
	v := int(b&0x0F)<<4 + 8
	if seg := int(b>>4) & 7; seg > 0 {
		v = (v + 0x100) << (seg - 1)
	}
	if b&0x80 == 0 {
		v = -v
	}
	return float64(v) / (1 << 15)
}

// muLaw expands one byte: ITU-T G.711, table 2a, scaled so that 1 is full scale.
func muLaw(b byte) float64 {
	b = ^b
	v := (int(b&0x0F)<<3+0x84)<<(b>>4&7) - 0x84
	if b&0x80 != 0 {
		v = -v
	}
	return float64(v) / (1 << 15)
}
