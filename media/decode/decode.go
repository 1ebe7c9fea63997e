// Package decode gives the samples of an audio file, as a listener gets them:
// the encoder's delay and padding are out.
//
// Open is the call for a file, New for bytes that package scan has looked at.
// Read a Stream to io.EOF, then ask for its Notes: what was damaged, and what
// was done about it. A damaged place is silenced or ends the track; it never
// ends the program.
//
// Each format has a file of its own. What no decoder here can be trusted with
// (AAC, ALAC, MPEG-2.5, intensity stereo and some more: see choose) is handed
// to the ffmpeg program when it is on PATH, and is refused with one clear line
// when not.
package decode

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"longside/media/oneline"
	"longside/media/scan"
)

// MaxChannels is the most that a file may have.
const MaxChannels = 8

// Stream is the sound of one file. It is not safe for concurrent use.
type Stream struct {
	Info scan.Info // what the container says; its Samples are what Read will give of an undamaged file

	Rate     int // Hz
	Channels int
	Mask     uint32 // which speakers they are for, as in WAVEFORMATEXTENSIBLE; 0: the usual ones
	// Bits is how many bits hold every sample exactly; 0 when the samples are no
	// integers (floats, and the output of most lossy decoders).
	Bits int
	// By names the decoder: "mp3", "flac", "pcm", "vorbis", "opus" or "ffmpeg".
	By string

	src    source
	closer io.Closer
	skip   int64 // frames still to drop at the front
	left   int64 // frames still to give
	given  int64
	slack  int64 // frames that may lack at the end and are given as zeros
	pad    int64 // frames of zeros still to give
	done   error
	notes  []string
	note   string // holds when the sound is go-mp3's
}

// source is one format's decoder. read fills pcm with whole frames of
// interleaved samples and gives how many; at the end io.EOF, with or without
// frames. It may give none without an error, though not for ever.
type source interface {
	read(pcm []float32) (frames int, err error)
}

// noter is a source that has something to say of the file.
type noter interface{ said() []string }

// closing is a source that holds something open.
type closing interface{ close() error }

// Open opens the file at path. The error names no file; it is one line.
func Open(ctx context.Context, path string) (*Stream, error) {
	f, size, err := openFile(path)
	if err != nil {
		return nil, err
	}
	info, err := look(f, size)
	if err != nil {
		f.Close()
		return nil, err
	}
	s, err := newStream(ctx, f, size, path, info)
	if err != nil {
		f.Close()
		return nil, err
	}
	s.closer = f
	return s, nil
}

// Look gives what the container of a file says, with MPEG audio walked frame by
// frame, and decodes nothing. The error names no file; it is one line.
func Look(path string) (scan.Info, error) {
	f, size, err := openFile(path)
	if err != nil {
		return scan.Info{}, err
	}
	defer f.Close()
	return look(f, size)
}

func openFile(path string) (*os.File, int64, error) {
	// Looked at before it is opened: opening a pipe would wait for its other end.
	st, err := os.Stat(path)
	if err == nil && !st.Mode().IsRegular() {
		err = errors.New("not a regular file")
	}
	if err != nil {
		return nil, 0, oneline.Error(err)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, oneline.Error(err)
	}
	return f, st.Size(), nil
}

// look scans a file. MPEG audio is walked frame by frame: only so are the
// things known that a decoder gets wrong without an error.
func look(r io.ReaderAt, size int64) (scan.Info, error) {
	info, err := scan.File(r, size)
	if err == nil && info.MPEG.Layer == 3 && !info.MPEG.Walked {
		return scan.Walk(r, size)
	}
	return info, err
}

// New decodes bytes with a decoder of this package; info is what scan.Walk made
// of them. What only ffmpeg can decode is refused: it wants a file.
func New(r io.ReaderAt, size int64, info scan.Info) (*Stream, error) {
	return newStream(context.Background(), r, size, "", info)
}

func newStream(ctx context.Context, r io.ReaderAt, size int64, path string, info scan.Info) (s *Stream, err error) {
	switch {
	case info.Channels < 1 || info.Channels > MaxChannels:
		return nil, fmt.Errorf("%d channels: files of 1 to %d channels can be decoded", info.Channels, MaxChannels)
	case info.Rate < 1 || info.Rate > 768000:
		return nil, fmt.Errorf("a sample rate of %d Hz: it cannot be right", info.Rate)
	case info.Samples < 1:
		return nil, errors.New("there is no sound in it")
	case info.Start < 0 || info.End > size || info.Start >= info.End:
		return nil, errors.New("its sound lies outside the file")
	}
	s = &Stream{Info: info, Rate: info.Rate, Channels: info.Channels, left: info.Samples}
	if info.MPEG.Lost > 0 { // the decoders pass over it in silence
		for _, n := range info.Notes {
			if strings.HasPrefix(n, "damaged") {
				s.notes = append(s.notes, n)
			}
		}
	}
	open, why := choose(info)
	switch {
	case open == nil && path == "":
		return nil, errors.New(why)
	case open == nil, s.misplaces(r) && path != "" && haveFFmpeg():
		open = func(s *Stream, _ io.ReaderAt) error { return openFFmpeg(ctx, s, path, why) }
	}
	// The decoders panic on a few damaged files, at their start too.
	defer func() {
		if p := recover(); p != nil {
			s, err = nil, errors.New("damaged: the decoder gave up at its start")
		}
	}()
	if err := open(s, r); err != nil {
		return nil, err
	}
	return s, nil
}

// choose picks a decoder by what the file holds, or says why there is none.
func choose(info scan.Info) (open func(*Stream, io.ReaderAt) error, why string) {
	m := info.MPEG
	switch {
	case info.PCM.BytesPerSample > 0:
		return openPCM, ""
	case info.Format == "FLAC" && info.BitDepth <= 24:
		return openFLAC, ""
	case info.Format == "FLAC":
		return nil, "32-bit FLAC"
	case info.Codec == "Vorbis" && info.Channels <= 2:
		return openVorbis, ""
	case info.Codec == "Opus" && info.Channels <= 2:
		return openOpus, ""
	case m.Layer == 0:
		return nil, info.Codec
	// The rest is go-mp3's: each guard is a kind of file that it decodes wrong
	// without an error, found by comparing with two other decoders.
	case m.Layer != 3:
		return nil, info.Codec
	case m.Version == "2.5":
		return nil, "MPEG-2.5"
	case m.FreeFormat:
		return nil, "free-format MP3"
	case m.Intensity:
		return nil, "MP3 with intensity stereo"
	case m.PaddingTrap:
		return nil, "MPEG-2 MP3 with this padding"
	}
	return openMP3, ""
}

// misplaces tells whether go-mp3 would decode the file a little wrong: where M/S
// stereo meets short blocks (sharp attacks) it leaves some treble in the wrong
// channel, by up to -25 dBFS for a hundredth of a second. That is no ground to
// refuse the file; it is one to ask ffmpeg first, and to say so if there is none.
func (s *Stream) misplaces(r io.ReaderAt) bool {
	if s.Info.MPEG.Layer != 3 || s.Rate == 24000 { // there ffmpeg 5.1 is further off
		return false
	}
	n := scan.ShortJoint(r, s.Info)
	if n > 0 {
		s.note = fmt.Sprintf("treble of %d sharp attacks may lie in the wrong channel: with ffmpeg installed it would not", n)
	}
	return n > 0
}

// Read fills pcm with interleaved samples, full scale being 1, and gives the
// number of frames (samples a channel). At the end it gives io.EOF: for damaged
// files too, which Notes then tells. pcm must hold a frame at least.
func (s *Stream) Read(pcm []float32) (int, error) {
	room := int64(len(pcm) / s.Channels)
	for s.done == nil && room > 0 {
		n, err := s.readSource(pcm[:min(room, max(s.left+s.skip, 1))*int64(s.Channels)])
		// What is to be dropped lies in front.
		if d := min(s.skip, int64(n)); d > 0 {
			s.skip -= d
			n -= int(d)
			copy(pcm, pcm[int(d)*s.Channels:(int(d)+n)*s.Channels])
		}
		n = int(min(int64(n), s.left))
		s.left -= int64(n)
		s.given += int64(n)
		if err != nil {
			s.end(err)
		} else if s.left == 0 {
			s.end(io.EOF)
		}
		if n > 0 {
			return n, nil
		}
	}
	if s.pad > 0 && room > 0 {
		n := min(s.pad, room)
		clear(pcm[:n*int64(s.Channels)])
		s.pad -= n
		s.given += n
		return int(n), nil
	}
	return 0, s.done
}

// readSource reads once, and turns a panic and an endless trickle of nothing
// into errors.
func (s *Stream) readSource(pcm []float32) (n int, err error) {
	defer func() {
		if p := recover(); p != nil {
			n, err = 0, errors.New("the decoder gave up")
		}
	}()
	for range 1000 {
		n, err = s.src.read(pcm)
		if n != 0 || err != nil {
			return n, err
		}
	}
	return 0, errors.New("nothing more can be decoded")
}

// end settles how the stream ends: whole, short by less than a frame of the
// codec (zeros take its place), or damaged. A reader always sees io.EOF.
func (s *Stream) end(err error) {
	s.done = io.EOF
	var stopped stoppedError
	switch {
	case errors.As(err, &stopped):
		s.done = stopped.error
	case s.left == 0:
	case s.left <= s.slack && errors.Is(err, io.EOF):
		s.pad = s.left
	case errors.Is(err, io.EOF) && s.given == 0: // which of the two, nobody here can tell
		s.notes = append(s.notes, fmt.Sprintf("none of its %s can be decoded: it is damaged, or %s does not know its kind", s.clock(s.left), s.By))
	case errors.Is(err, io.EOF):
		s.notes = append(s.notes, fmt.Sprintf("damaged: %s of %s can be decoded", s.clock(s.given), s.clock(s.given+s.left)))
	default:
		s.notes = append(s.notes, fmt.Sprintf("damaged at %s of %s, and ends there: %v", s.clock(s.given), s.clock(s.given+s.left), err))
	}
	s.left = 0
}

// stoppedError is an end that is no fault of the file: the person stopped the
// run, or the ffmpeg program failed. Read passes it on.
type stoppedError struct{ error }

func (s *Stream) clock(samples int64) string {
	sec := float64(samples) / float64(s.Rate)
	m := int64(sec) / 60
	return fmt.Sprintf("%d:%04.1f", m, sec-float64(60*m))
}

// Given is how many frames Read has given so far.
func (s *Stream) Given() int64 { return s.given }

// Notes are what a person should know of this file's sound, one sentence each;
// complete once Read has given io.EOF.
func (s *Stream) Notes() []string {
	notes := s.notes
	if n, ok := s.src.(noter); ok {
		notes = append(notes[:len(notes):len(notes)], n.said()...)
	}
	return notes
}

// Caveat is one sentence on what the decoder itself may get a little wrong, too
// little to matter to a meter; empty when nothing.
func (s *Stream) Caveat() string {
	if s.By != "mp3" {
		return ""
	}
	return s.note
}

// Close frees what the stream holds.
func (s *Stream) Close() error {
	var err error
	if c, ok := s.src.(closing); ok {
		err = c.close()
	}
	if s.closer != nil {
		err = errors.Join(err, s.closer.Close())
	}
	return err
}
