package decode

import (
	"bufio"
	"fmt"
	"io"
	"log"
	"math"

	"github.com/mewkiz/flac"
)

// The flac library writes a line through the standard logger for each frame at
// two sample rates that its tests lack. Nothing else here uses that logger.
func init() { log.SetOutput(io.Discard) }

// lossless decodes native FLAC with mewkiz/flac.
type lossless struct {
	s     *flac.Stream
	chans int
	rate  int
	bits  int
	scale float32
	frame [][]int32 // the channels of the open frame
	at    int       // next sample of it
}

// openFLAC hands over an open stream from the fLaC mark on: opened by name the
// library would leave the file open, and a tag in front would confuse it.
func openFLAC(s *Stream, r io.ReaderAt) error {
	info := s.Info
	st, err := flac.New(bufio.NewReaderSize(io.NewSectionReader(r, info.Head, info.End-info.Head), 64<<10))
	if err != nil {
		return err
	}
	src := &lossless{s: st, chans: s.Channels, rate: s.Rate, bits: int(st.Info.BitsPerSample)}
	if src.bits < 4 || src.bits > 24 || int(st.Info.NChannels) != s.Channels {
		return fmt.Errorf("damaged: its header speaks of %d channels of %d bits", st.Info.NChannels, src.bits)
	}
	src.scale = float32(math.Ldexp(1, 1-src.bits))
	s.src, s.By, s.Bits = src, "flac", src.bits
	return nil
}

func (l *lossless) read(pcm []float32) (int, error) {
	if l.frame == nil || l.at == len(l.frame[0]) {
		if err := l.next(); err != nil {
			return 0, err
		}
	}
	n := min(len(pcm)/l.chans, len(l.frame[0])-l.at)
	for c, x := range l.frame {
		out := pcm[c:]
		for i, v := range x[l.at : l.at+n] {
			out[i*l.chans] = float32(v) * l.scale
		}
	}
	l.at += n
	return n, nil
}

func (l *lossless) next() error {
	f, err := l.s.ParseNext()
	if err != nil {
		return err
	}
	// A frame may state its own form; 0 means that of the file.
	switch {
	case len(f.Subframes) != l.chans:
		return fmt.Errorf("it changes to %d channels", len(f.Subframes))
	case f.SampleRate != 0 && int(f.SampleRate) != l.rate:
		return fmt.Errorf("it changes to %d Hz", f.SampleRate)
	case f.BitsPerSample != 0 && int(f.BitsPerSample) != l.bits:
		return fmt.Errorf("it changes to %d bits", f.BitsPerSample)
	}
	l.frame, l.at = l.frame[:0], 0
	for _, sub := range f.Subframes {
		if len(sub.Samples) == 0 || len(l.frame) > 0 && len(sub.Samples) != len(l.frame[0]) {
			return fmt.Errorf("a frame's channels differ in length")
		}
		l.frame = append(l.frame, sub.Samples)
	}
	return nil
}
