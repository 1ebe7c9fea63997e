package decode

import (
	"errors"
	"fmt"
	"io"

	"github.com/jfreymuth/vorbis"
)

// vorbisSource decodes Ogg Vorbis with jfreymuth/vorbis, from packets that were
// looked at first: some headers would make it wait for ever or take gigabytes.
type vorbisSource struct {
	ogg   *oggReader
	d     *vorbis.Decoder
	rate  int
	chans int
	buf   []float32
	have  []float32 // decoded and not given yet
	given int64     // frames of this stream
}

func openVorbis(s *Stream, r io.ReaderAt) error {
	v := &vorbisSource{ogg: newOggReader(io.NewSectionReader(r, s.Info.Start, s.Info.End-s.Info.Start)), rate: s.Rate, chans: s.Channels}
	p, _, err := v.ogg.packet()
	if err != nil {
		return err
	}
	if err := v.head(p); err != nil {
		return err
	}
	s.src, s.By = v, "vorbis"
	// The stream's first samples may be cut by its first granule position; what
	// the last page leaves out comes to less than a block.
	s.slack = int64(v.d.BufferSize())
	return nil
}

// head reads the three headers of a stream. The comment header is left to the
// reader of tags: the decoder trusts the counts in it.
func (v *vorbisSource) head(p []byte) error {
	d := new(vorbis.Decoder)
	// Identification header, after "\x01vorbis": 4 bytes version, 1 channels,
	// 4 sample rate, 12 bit rates, 1 block sizes as two powers of 2, 1 framing.
	if len(p) < 30 || p[0] != 1 || !vorbis.IsHeader(p) {
		return errors.New("damaged: no Vorbis header")
	}
	if short, long := p[28]&15, p[28]>>4; short < 6 || long > 13 || short > long {
		return errors.New("damaged: its Vorbis block sizes are out of range")
	}
	if err := d.ReadHeader(p); err != nil {
		return err
	}
	if d.SampleRate() != v.rate || d.Channels() != v.chans {
		return fmt.Errorf("it changes to %d channels at %d Hz", d.Channels(), d.SampleRate())
	}
	p, _, err := v.ogg.packet()
	if err != nil {
		return err
	}
	if len(p) == 0 || p[0] != 3 || !vorbis.IsHeader(p) {
		return errors.New("damaged: no Vorbis comment header")
	}
	if p, _, err = v.ogg.packet(); err != nil {
		return err
	}
	if len(p) == 0 || p[0] != 5 || !vorbis.IsHeader(p) {
		return errors.New("damaged: no Vorbis setup header")
	}
	if err := checkSetup(p[7:]); err != nil {
		return err
	}
	if err := d.ReadHeader(p); err != nil {
		return err
	}
	v.d, v.given = d, 0
	v.buf = make([]float32, d.BufferSize())
	return nil
}

func (v *vorbisSource) read(pcm []float32) (int, error) {
	for len(v.have) == 0 {
		p, begins, err := v.ogg.packet()
		if err != nil {
			return 0, err
		}
		if begins { // a chained stream
			if err := v.head(p); err != nil {
				return 0, err
			}
			continue
		}
		v.have = v.ogg.cut(v.decode(p), v.chans, v.given, v.ogg.granule)
		v.given += int64(len(v.have) / v.chans)
	}
	n := copy(pcm[:len(pcm)/v.chans*v.chans], v.have)
	v.have = v.have[n:]
	return n / v.chans, nil
}

// decode decodes one packet. A damaged one is left out: the blocks on both its
// sides fade into each other there.
func (v *vorbisSource) decode(p []byte) (out []float32) {
	defer func() {
		if r := recover(); r != nil {
			v.ogg.lost++
			v.d.Clear()
			out = nil
		}
	}()
	if len(p) == 0 {
		return nil
	}
	out, err := v.d.DecodeInto(p, v.buf)
	if err != nil {
		v.ogg.lost++
		return nil
	}
	return v.ogg.finite(out)
}

func (v *vorbisSource) said() []string { return v.ogg.said() }
