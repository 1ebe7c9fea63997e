package decode

import (
	"fmt"
	"io"
	"log"
	"math"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"

	"longside/media/scan"
)

// The flac library writes a line through the standard logger for each frame at
// two sample rates that its tests lack. Nothing else here uses that logger.
func init() { log.SetOutput(io.Discard) }

// lossless decodes native FLAC with mewkiz/flac.
type lossless struct {
	r     *byteFeed
	file  io.ReaderAt
	info  scan.Info
	chans int
	rate  int
	bits  int
	scale float32
	open  [][]int32 // the channels of the open frame
	at    int       // next sample of it
}

// openFLAC hands over an open stream from the fLaC mark on: opened by name the
// library would leave the file open, and a tag in front would confuse it.
func openFLAC(s *Stream, r io.ReaderAt) error {
	info := s.Info
	st, err := flac.New(io.NewSectionReader(r, info.Head, info.End-info.Head))
	if err != nil {
		return err
	}
	frames := &byteFeed{r: io.NewSectionReader(r, info.Start, info.End-info.Start), buf: make([]byte, 64<<10)}
	src := &lossless{r: frames, file: r, info: info, chans: s.Channels, rate: s.Rate, bits: int(st.Info.BitsPerSample)}
	if src.bits < 4 || src.bits > 24 || int(st.Info.NChannels) != s.Channels {
		return fmt.Errorf("damaged: its header speaks of %d channels of %d bits", st.Info.NChannels, src.bits)
	}
	src.scale = float32(math.Ldexp(1, 1-src.bits))
	s.src, s.By, s.Bits = src, "flac", src.bits
	return nil
}

func (l *lossless) read(pcm []float32) (int, error) {
	if l.open == nil || l.at == len(l.open[0]) {
		if err := l.next(); err != nil {
			return 0, err
		}
	}
	n := min(len(pcm)/l.chans, len(l.open[0])-l.at)
	for c, x := range l.open {
		out := pcm[c:]
		for i, v := range x[l.at : l.at+n] {
			out[i*l.chans] = float32(v) * l.scale
		}
	}
	l.at += n
	return n, nil
}

func (l *lossless) next() error {
	f, err := frame.Parse(l.r)
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
	l.open, l.at = l.open[:0], 0
	for _, sub := range f.Subframes {
		if len(sub.Samples) == 0 || len(l.open) > 0 && len(sub.Samples) != len(l.open[0]) {
			return fmt.Errorf("a frame's channels differ in length")
		}
		l.open = append(l.open, sub.Samples)
	}
	return nil
}

// byteFeed is a buffered reader for the bit reader of the flac library, which
// asks for a byte or two at a time, through two layers, for every sample. It is
// small enough to be inlined there (see cmd/longside/default.pgo).
type byteFeed struct {
	r       io.Reader
	buf     []byte
	at, end int // what of buf is still to be given
}

func (b *byteFeed) Read(p []byte) (int, error) {
	if b.at == b.end {
		if err := b.fill(); err != nil {
			return 0, err
		}
	}
	n := copy(p, b.buf[b.at:b.end])
	b.at += n
	return n, nil
}

func (b *byteFeed) fill() error {
	for {
		n, err := b.r.Read(b.buf)
		if n > 0 {
			b.at, b.end = 0, n
			return nil
		}
		if err != nil {
			return err
		}
	}
}
