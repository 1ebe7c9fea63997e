package programme

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"longside/media/decode"
)

// block is how many frames are made at once.
const block = 4096

// voice is one stream of sound in the output: a tone, a track, or joined tracks
// of one rate, which go through one resampler so that nothing is heard of the
// joint.
type voice struct {
	spans    []Span // still to come, the open one first
	from, to int64  // in the output
	rate     int    // of the output
	bits     int

	cur    *player // the open span
	rs     *resampler
	dry    bool      // the last span has been fed
	raw    []float64 // source frames, stereo
	notes  []string
	closed bool
}

func newVoice(s Span, l *Layout) *voice {
	return &voice{spans: []Span{s}, from: s.From, to: s.To, rate: l.Rate, bits: l.Bits}
}

// join adds a span that goes on in this stream.
func (v *voice) join(s Span) {
	v.spans = append(v.spans, s)
	v.to = s.To
}

// read fills out with stereo frames at the output's rate and gives how many,
// fewer than asked for at the end of a span; exact says that the output holds
// them as they are. At the end of the voice it gives 0.
func (v *voice) read(ctx context.Context, out []float64) (n int, exact bool, err error) {
	if v.rs == nil && v.spans[0].rate != v.rate {
		mono := true
		for _, s := range v.spans {
			mono = mono && s.mono
		}
		v.rs = newResampler(v.spans[0].rate, v.rate, mono)
	}
	if v.rs == nil {
		return v.source(ctx, out)
	}
	for {
		if n = v.rs.read(out); n > 0 || v.dry {
			return n, false, nil
		}
		if v.raw == nil {
			v.raw = make([]float64, 2*block)
		}
		n, _, err := v.source(ctx, v.raw)
		if err != nil {
			return 0, false, err
		}
		v.rs.feed(v.raw[:2*n])
		if n == 0 {
			v.rs.drain()
			v.dry = true
		}
	}
}

// source reads frames at the source's rate, span after span.
func (v *voice) source(ctx context.Context, out []float64) (n int, exact bool, err error) {
	for len(v.spans) > 0 && !v.closed {
		if v.cur == nil {
			if v.cur, err = openPlayer(ctx, v.spans[0], v.bits, v.rate); err != nil {
				return 0, false, fmt.Errorf("%s: %w", v.spans[0].name(), err)
			}
		}
		n, err = v.cur.read(out)
		if err != nil {
			return 0, false, fmt.Errorf("%s: %w", v.spans[0].name(), err)
		}
		if n > 0 {
			return n, v.cur.exact, nil
		}
		v.next()
	}
	return 0, true, nil
}

// next goes on to the following span.
func (v *voice) next() {
	v.notes = append(v.notes, v.cur.close()...)
	v.cur = nil
	if len(v.spans) > 1 {
		v.spans = v.spans[1:]
	} else {
		v.closed = true
	}
}

func (v *voice) close() {
	if v.cur != nil {
		v.cur.close()
		v.cur = nil
	}
}

// player gives the frames of one span in stereo, with its gain and fades.
type player struct {
	Span
	exact  bool
	amp    float64
	tone   *toneSource
	stream *decode.Stereo
	pcm    []float32
	n      int64
	ended  bool
}

func openPlayer(ctx context.Context, s Span, bits, rate int) (*player, error) {
	p := &player{Span: s, amp: math.Pow(10, s.Gain/20)}
	if s.Tone != nil {
		p.tone = newToneSource(*s.Tone, s.rate, s.source)
		return p, nil
	}
	if s.Path == "" {
		p.exact, p.ended = true, true // silence
		return p, nil
	}
	st, err := decode.OpenStereo(ctx, s.Path)
	if err != nil {
		return nil, err
	}
	if st.Rate != s.rate {
		st.Close()
		return nil, errors.New("it changed while it was being read")
	}
	p.stream = st
	p.pcm = make([]float32, 2*block)
	p.exact = st.Bits > 0 && st.Bits <= bits && s.rate == rate && s.Gain == 0 &&
		s.fadeIn == 0 && s.fadeOut == 0 && s.quietEnd == 0 && st.Channels <= 2
	if err := st.Skip(ctx, s.skip); errors.Is(err, io.EOF) {
		p.ended = true
	} else if err != nil {
		st.Close()
		return nil, err
	}
	return p, nil
}

// read gives the next frames of the span: as many as its layout says, silence
// standing in for what a damaged file lacks.
func (p *player) read(out []float64) (int, error) {
	want := int(min(int64(len(out)/2), p.source-p.n, block))
	if want <= 0 {
		return 0, nil
	}
	n := 0
	switch {
	case p.tone != nil:
		n = p.tone.read(out[:2*want])
	case !p.ended:
		k, err := p.stream.Read(p.pcm[:2*want])
		if errors.Is(err, io.EOF) {
			p.ended = true
		} else if err != nil {
			return 0, err
		}
		for i, v := range p.pcm[:2*k] {
			out[i] = float64(v)
		}
		n = k
	}
	if p.ended {
		clear(out[2*n : 2*want])
		n = want
	}
	p.shape(out[:2*n])
	p.n += int64(n)
	return n, nil
}

// shape puts gain and fades on frames.
func (p *player) shape(stereo []float64) {
	k := int64(len(stereo) / 2)
	if p.n >= p.fadeIn && p.source-p.n-k >= max(p.fadeOut, p.quietEnd) {
		if p.amp != 1 {
			for i := range stereo {
				stereo[i] *= p.amp
			}
		}
		return
	}
	for i := range k {
		g := p.amp * p.envelope(p.n+i)
		stereo[2*i] *= g
		stereo[2*i+1] *= g
	}
}

// envelope is the amplitude at a frame: an overlap fades at equal power (the
// squares of both sides add up to 1), a track cut short as a cosine.
func (p *player) envelope(n int64) float64 {
	g := 1.0
	if n < p.fadeIn {
		g *= math.Sin(math.Pi / 2 * (float64(n) + 0.5) / float64(p.fadeIn))
	}
	left := p.source - n
	if left <= p.fadeOut {
		g *= math.Sin(math.Pi / 2 * (float64(left) - 0.5) / float64(p.fadeOut))
	}
	if left <= p.quietEnd {
		g *= 0.5 - 0.5*math.Cos(math.Pi*(float64(left)-0.5)/float64(p.quietEnd))
	}
	return g
}

// close frees the file and gives what is to be said of it.
func (p *player) close() (notes []string) {
	if p.stream == nil {
		return nil
	}
	for _, n := range p.stream.Notes() {
		notes = append(notes, p.Path+": "+n)
	}
	if c := p.stream.Caveat(); c != "" {
		notes = append(notes, p.Path+": "+c)
	}
	p.stream.Close()
	return notes
}
