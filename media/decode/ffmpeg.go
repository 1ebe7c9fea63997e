package decode

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// ffmpeg reads raw floats from an ffmpeg process.
type ffmpeg struct {
	cmd    *exec.Cmd
	cancel context.CancelFunc
	ctx    context.Context
	out    *bufio.Reader
	errs   tail
	chans  int
	buf    []byte
	waited bool
}

func haveFFmpeg() bool {
	_, err := exec.LookPath("ffmpeg")
	return err == nil
}

// openFFmpeg starts the program on a file that nothing here can decode; what
// names the reason.
func openFFmpeg(ctx context.Context, s *Stream, path, what string) error {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		return fmt.Errorf("%s cannot be decoded here: install ffmpeg, or convert the file to FLAC or WAV", what)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	child, cancel := context.WithCancel(ctx)
	// Only the file itself may be opened, whatever it names inside; its first
	// sound, at the rate that the container states. Containers are often wrong
	// about the channels (MP4 says two of whatever it holds): they come as they
	// are, in a WAV stream whose header says how many and for which speakers.
	cmd := exec.CommandContext(child, program, "-v", "error", "-nostdin", "-protocol_whitelist", "file,pipe",
		"-i", "file:"+abs, "-map", "0:a:0", "-map_metadata", "-1",
		"-f", "wav", "-c:a", "pcm_f32le", "-ar", strconv.Itoa(s.Rate), "-")
	f := &ffmpeg{cmd: cmd, cancel: cancel, ctx: ctx}
	cmd.Stderr = &f.errs
	cmd.WaitDelay = time.Second
	pipe, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		cancel()
		return fmt.Errorf("ffmpeg cannot be started: %w", err)
	}
	// What stands under that name may be a script whose own child outlives it and
	// holds the pipe: a run that is stopped waits for neither.
	context.AfterFunc(child, func() { pipe.Close() })
	f.out = bufio.NewReaderSize(pipe, 1<<16)
	if s.Info.MPEG.VBRI { // it leaves out what other headers state as delay
		s.skip = s.Info.Delay + decoderDelay
	}
	if err := f.header(s); err != nil {
		f.close()
		if errors.Is(err, io.EOF) {
			err = errors.New("ffmpeg gives no sound of it")
		}
		return err
	}
	s.src, s.By = f, "ffmpeg"
	// It leaves out or adds part of a codec's frame at the end.
	s.slack = int64(max(s.Info.SamplesPerFrame, 2048))
	return nil
}

// header reads what the WAV stream says of its channels, up to its samples.
func (f *ffmpeg) header(s *Stream) error {
	const tooLong = 1 << 20 // no chunk in front of the samples is so long
	var head [12]byte
	var at int
	if _, err := io.ReadFull(f.out, head[:]); err != nil {
		return f.failed(err)
	}
	for {
		if _, err := io.ReadFull(f.out, head[:8]); err != nil {
			return f.failed(err)
		}
		size := int(binary.LittleEndian.Uint32(head[4:8]))
		if string(head[:4]) == "data" {
			break
		}
		if size > tooLong {
			return errors.New("ffmpeg gives no sound of it")
		}
		chunk := make([]byte, size+size&1)
		if _, err := io.ReadFull(f.out, chunk); err != nil {
			return f.failed(err)
		}
		if string(head[:4]) == "fmt " && size >= 16 {
			at = int(binary.LittleEndian.Uint16(chunk[2:]))
			if size >= 24 {
				s.Mask = binary.LittleEndian.Uint32(chunk[20:])
			}
		}
	}
	if at < 1 || at > MaxChannels {
		return fmt.Errorf("%d channels: files of 1 to %d channels can be decoded", at, MaxChannels)
	}
	s.Channels, f.chans, f.buf = at, at, make([]byte, 4096*4*at)
	return nil
}

// failed is why the program ended before it gave what was asked for.
func (f *ffmpeg) failed(err error) error {
	if f.ctx.Err() != nil {
		return stoppedError{f.ctx.Err()}
	}
	if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return err
	}
	f.waited = true
	if err := f.cmd.Wait(); err != nil {
		if f.ctx.Err() != nil {
			return stoppedError{f.ctx.Err()}
		}
		return fmt.Errorf("ffmpeg: %s", f.errs.line(err))
	}
	return io.EOF
}

func (f *ffmpeg) read(pcm []float32) (int, error) {
	frames := min(len(pcm)/f.chans, len(f.buf)/(4*f.chans))
	b := f.buf[:frames*4*f.chans]
	n, err := io.ReadFull(f.out, b)
	frames = n / (4 * f.chans)
	for i := range frames * f.chans {
		v := math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
		if v != v || math.IsInf(float64(v), 0) {
			v = 0
		}
		pcm[i] = v
	}
	if err == nil {
		return frames, nil
	}
	return frames, f.failed(err)
}

// close ends the process: it may not have been read to its end.
func (f *ffmpeg) close() error {
	f.cancel()
	if !f.waited {
		f.waited = true
		f.cmd.Wait() // killed: its error says nothing new
	}
	return nil
}

// tail keeps the end of what a program says.
type tail struct{ buf bytes.Buffer }

func (t *tail) Write(p []byte) (int, error) {
	if t.buf.Len() > 4096 {
		t.buf.Reset()
	}
	t.buf.Write(p[max(0, len(p)-4096):])
	return len(p), nil
}

// line is the last line said, without the addresses that ffmpeg puts in front.
func (t *tail) line(err error) string {
	lines := strings.Split(strings.TrimSpace(t.buf.String()), "\n")
	last := strings.TrimSpace(lines[len(lines)-1])
	if i := strings.LastIndex(last, "] "); i >= 0 {
		last = last[i+2:]
	}
	if last == "" {
		return err.Error()
	}
	return last
}
