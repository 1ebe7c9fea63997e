package decode

import (
	"bufio"
	"encoding/binary"
	"io"

	mp3 "github.com/hajimehoshi/go-mp3"
)

// decoderDelay is what a layer III decoder adds in front: 528 samples of the
// hybrid filter bank and one more. Encoders that state their delay leave it out.
const decoderDelay = 529

// mpeg decodes MPEG-1 and MPEG-2 layer III with go-mp3, whose output is clipped
// to 16 bits and always has two channels.
type mpeg struct {
	d    *mp3.Decoder
	mono bool
	buf  []byte
	have int // bytes in buf that were not used yet: less than a frame
}

// openMP3 feeds the decoder just the frames of sound, without a way to seek:
// tags and a first pass over the file confuse it.
func openMP3(s *Stream, r io.ReaderAt) error {
	info := s.Info
	sound := io.NewSectionReader(r, info.MPEG.FirstFrame, info.End-info.MPEG.FirstFrame)
	d, err := mp3.NewDecoder(bufio.NewReaderSize(sound, 64<<10))
	if err != nil {
		return err
	}
	s.src, s.By = &mpeg{d: d, mono: s.Channels == 1, buf: make([]byte, 4*4096)}, "mp3"
	s.Bits = 16
	s.slack = int64(info.SamplesPerFrame)
	// With a stated delay the music begins that and the decoder's own delay in,
	// and its end may come 529 samples short where the padding is less.
	if info.Delay > 0 || info.Padding > 0 {
		s.skip = info.Delay + decoderDelay
	}
	return nil
}

func (m *mpeg) read(pcm []float32) (int, error) {
	frames := len(pcm)
	if !m.mono {
		frames /= 2
	}
	b := m.buf[:min(len(m.buf), 4*frames)]
	n, err := m.d.Read(b[m.have:])
	n += m.have
	whole := n / 4
	for i := range whole {
		left := float32(int16(binary.LittleEndian.Uint16(b[4*i:]))) / (1 << 15)
		if m.mono {
			pcm[i] = left
			continue
		}
		pcm[2*i] = left
		pcm[2*i+1] = float32(int16(binary.LittleEndian.Uint16(b[4*i+2:]))) / (1 << 15)
	}
	m.have = copy(b, b[4*whole:n])
	return whole, err
}
