package media

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"

	mp3 "github.com/hajimehoshi/go-mp3"
	"github.com/mewkiz/flac"

	"longside/media/scan"
)

// count decodes a file, where there is a decoder that can be trusted with it,
// and compares the number of samples with the walk's. The length becomes counted.
func count(ctx context.Context, r io.ReaderAt, info scan.Info, t *Track) (err error) {
	// Both decoders are known to panic on a few damaged files.
	defer func() {
		if p := recover(); p != nil {
			err = errors.New("damaged: the decoder gave up on it")
		}
	}()
	var n int64
	var slack int64
	switch {
	case info.Format == "FLAC" && info.BitDepth <= 24: // 32 bits the library refuses
		n, err = countFLAC(ctx, r, info)
	case info.Codec == "MPEG-1 Layer III" && !info.MPEG.FreeFormat:
		n, err = countMP3(ctx, r, info)
		slack = int64(info.SamplesPerFrame)
	default:
		return nil // the frames were walked; PCM has nothing to decode
	}
	if err != nil {
		return fmt.Errorf("damaged: it cannot be decoded to its end: %w", err)
	}
	switch d := n - info.Samples; {
	case d >= -slack && d <= slack:
	case info.MPEG.Lost > maxFrame:
		// The decoder goes on where the walk did not: in frames of another rate, say,
		// which counted at this one would give a wrong time.
		t.Notes = append(t.Notes, fmt.Sprintf("damaged: a decoder makes %d samples of it, not all at %d Hz or not all in their place; the length is that of the %d samples in frames of one kind", n, info.Rate, info.Samples))
	default:
		t.Notes = append(t.Notes, fmt.Sprintf("damaged: %d samples are expected, %d can be decoded", info.Samples, n))
		t.Samples = n
		info.Samples = n
		t.Length = info.Length()
	}
	t.LengthFrom = Counted
	return nil
}

// maxFrame is the size in bytes of the largest layer III frame that has a stated
// bit rate: 320 kbit/s at 32 kHz. ref: ISO/IEC 11172-3, 2.4.3.1 (144 x 320000 / 32000, and a byte of padding).
const maxFrame = 1441

// countMP3 decodes with go-mp3, which is given just the frames, without a way to
// seek: tags and a second pass over the file confuse it.
func countMP3(ctx context.Context, r io.ReaderAt, info scan.Info) (int64, error) {
	sound := stoppable{ctx, io.NewSectionReader(r, info.MPEG.FirstFrame, info.End-info.MPEG.FirstFrame)}
	d, err := mp3.NewDecoder(bufio.NewReaderSize(sound, 64<<10))
	if err != nil {
		return 0, err
	}
	n, err := io.Copy(io.Discard, struct{ io.Reader }{d})
	const frame = 2 * 2 // it always gives two channels of 16 bits
	return n/frame - info.Delay - info.Padding, err
}

// countFLAC decodes with mewkiz/flac. It is given an open stream from the fLaC
// mark on: opened by name it would leave the file open.
func countFLAC(ctx context.Context, r io.ReaderAt, info scan.Info) (int64, error) {
	s, err := flac.New(stoppable{ctx, io.NewSectionReader(r, info.Head, info.End-info.Head)})
	if err != nil {
		return 0, err
	}
	var n int64
	for {
		f, err := s.ParseNext()
		if errors.Is(err, io.EOF) {
			return n, nil
		}
		if err != nil {
			if n >= info.Samples {
				return n, nil // what follows the last frame is no sound
			}
			return n, err
		}
		n += int64(f.BlockSize)
	}
}

// stoppable ends the reading of a long file when the person stops the run.
type stoppable struct {
	ctx context.Context
	io.Reader
}

func (s stoppable) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Reader.Read(b)
}

// stoppableAt does the same for what is read here and there.
type stoppableAt struct {
	ctx context.Context
	io.ReaderAt
}

func (s stoppableAt) ReadAt(b []byte, at int64) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.ReaderAt.ReadAt(b, at)
}
