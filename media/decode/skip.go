package decode

import (
	"context"
	"errors"
	"io"

	"longside/media/scan"
)

// skipper is a source that can go on from a later place without decoding what
// lies before it: it gives how many frames it passed over, n at the most. It has
// read nothing yet.
type skipper interface{ skip(n int64) int64 }

// Skip passes over frames, quickly where the format allows. It gives io.EOF when
// the sound ends before.
func (s *Stream) Skip(ctx context.Context, n int64) error {
	if k, ok := s.src.(skipper); ok && s.given == 0 && s.skip == 0 && s.done == nil {
		passed := k.skip(min(n, s.left))
		s.left -= passed
		s.given += passed
		n -= passed
	}
	pcm := make([]float32, 4096*s.Channels)
	for n > 0 {
		if err := ctx.Err(); err != nil {
			return err
		}
		k, err := s.Read(pcm[:min(n, 4096)*int64(s.Channels)])
		if n -= int64(k); err != nil && (n > 0 || !errors.Is(err, io.EOF)) {
			return err
		}
	}
	return nil
}

func (p *pcm) skip(n int64) int64 {
	if _, err := p.sound.Seek(n*int64(p.width), io.SeekStart); err != nil {
		return 0
	}
	p.r.Reset(p.sound)
	return n
}

func (l *lossless) skip(n int64) int64 {
	off, sample, ok := scan.FLACFrame(l.file, l.info.End, l.info, n)
	if !ok {
		return 0
	}
	l.r = &byteFeed{r: io.NewSectionReader(l.file, off, l.info.End-off), buf: l.r.buf}
	return sample
}
