// Package programme makes the side of a tape into one sound file that a deck is
// fed from: silence, tracks and tones, each at its sample, so that recording is
// to press both buttons.
//
// Lay looks at the files of a list of cues and gives a Layout: where each cue
// begins and ends, in samples. Layout.Write decodes, converts and writes. What
// lies between the cues is silence and costs nothing; cues that do not touch
// are made on all cores at once, each at its own place in the file. Memory does
// not grow with length.
//
// Samples that need no change (same rate, no gain, no fade, whole numbers that
// the output holds) are written as they are; all others are dithered.
package programme

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"longside/media/decode"
	"longside/media/scan"
)

// Cue is one thing that is heard: a track, a stretch of silence with a name
// (for what comes from no file: a record, the radio), or a tone.
type Cue struct {
	Title     string // for the marker; may be empty
	Performer string // may be empty
	Path      string // the sound file; empty: silence, or the tone
	Tone      *Tone

	Start  time.Duration // in the file that is written
	Joined bool          // begins where the cue before it ends, to the sample; Start is not used
	Skip   time.Duration // left out at the track's beginning
	Length time.Duration // how much is heard; 0: all of the file
	Gain   float64       // dB
	Fade   time.Duration // the last part fades out
}

// Tone is a sine, or one that glides.
type Tone struct {
	Hz    float64
	ToHz  float64 // it glides there, as many octaves in each second; 0: it stays
	Level float64 // peak, dBFS: a sine of full scale is 0
	Left  bool    // in the left channel
	Right bool    // in the right channel
}

// Options say what is written. The zero value is 16 bits at 44,100 Hz.
type Options struct {
	Rate    int // 44100 or 48000
	Bits    int // 16 or 24
	Workers int // 0: all cores
	// Progress is told how many samples of how many are made; may be nil. It is
	// called from several goroutines, one at a time.
	Progress func(done, total int64)
}

// rounding is how far a plan's times, kept in milliseconds, may disagree: two
// cues that overlap by no more are butted.
const rounding = 2 * time.Millisecond

// Layout is where everything lies.
type Layout struct {
	Rate, Bits int
	Frames     int64 // samples a channel of the whole file
	Spans      []Span
	// Notes are what a person should know before it is made, one sentence each.
	Notes []string

	looked map[string]scan.Info // by path: several cues may be parts of one file
}

// Span is a cue at its place.
type Span struct {
	Cue
	From, To int64 // samples a channel: first, and first after it

	rate     int   // of its source
	mono     bool  // its source has one channel
	skip     int64 // source frames left out in front
	source   int64 // source frames heard
	fadeIn   int64 // source frames that fade in, of an overlap
	fadeOut  int64 // source frames that fade out, of an overlap
	quietEnd int64 // source frames that fade out, of a track cut short
}

// Start is where the span begins, as time.
func (l *Layout) Start(s Span) time.Duration { return l.at(s.From) }

// Length is how long the whole file plays.
func (l *Layout) Length() time.Duration { return l.at(l.Frames) }

func (l *Layout) at(frames int64) time.Duration {
	rate := int64(l.Rate)
	return time.Duration(frames/rate)*time.Second + time.Duration(frames%rate)*time.Second/time.Duration(l.Rate)
}

// Lay finds the place of every cue, in order, and makes the file last at least
// until end (0: until the last cue is over). It opens each file for its exact
// length and decodes nothing. The error names the file or the cue.
func Lay(ctx context.Context, cues []Cue, end time.Duration, o Options) (*Layout, error) {
	if o.Rate == 0 {
		o.Rate = 44100
	}
	if o.Bits == 0 {
		o.Bits = 16
	}
	if o.Rate != 44100 && o.Rate != 48000 {
		return nil, fmt.Errorf("a rate of %d Hz: write 44100 or 48000", o.Rate)
	}
	if o.Bits != 16 && o.Bits != 24 {
		return nil, fmt.Errorf("%d bits: write 16 or 24", o.Bits)
	}
	l := &Layout{Rate: o.Rate, Bits: o.Bits, looked: map[string]scan.Info{}}
	for i, c := range cues {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s, err := l.span(c)
		if err != nil {
			name := c.Path
			if name == "" {
				name = fmt.Sprintf("cue %d (%q)", i+1, c.Title)
			}
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if err := l.place(&s); err != nil {
			return nil, err
		}
		l.Spans = append(l.Spans, s)
		l.Frames = max(l.Frames, s.To)
	}
	l.Frames = max(l.Frames, scan.Samples(end, o.Rate))
	if l.Frames == 0 {
		return nil, errors.New("there is nothing to write: no cue has a length")
	}
	return l, nil
}

// most bounds times and gains: no tape is longer, no trim larger.
const (
	mostTime = 100 * time.Hour
	mostGain = 60 // dB
)

// span looks at a cue's source.
func (l *Layout) span(c Cue) (s Span, err error) {
	for _, d := range []time.Duration{c.Start, c.Skip, c.Length, c.Fade} {
		if d < 0 || d > mostTime {
			return s, fmt.Errorf("a time of %v is out of range", d)
		}
	}
	if !(math.Abs(c.Gain) <= mostGain) {
		return s, fmt.Errorf("a gain of %g dB: give %d dB at the most", c.Gain, mostGain)
	}
	s = Span{Cue: c}
	if c.Path == "" {
		if c.Length == 0 {
			return s, errors.New("it has no file and no length")
		}
		if c.Tone != nil {
			if err := c.Tone.check(l.Rate); err != nil {
				return s, err
			}
		}
		s.rate, s.source = l.Rate, scan.Samples(c.Length, l.Rate)
		return s, nil
	}
	info, ok := l.looked[c.Path]
	if !ok {
		if info, err = decode.Look(c.Path); err != nil {
			return s, err
		}
		l.looked[c.Path] = info
	}
	s.rate, s.mono = info.Rate, decode.OnBoth(info)
	s.skip = min(scan.Samples(c.Skip, info.Rate), info.Samples)
	s.source = info.Samples - s.skip
	if c.Length > 0 {
		// Reckoned by its end, so that parts of one file meet to the sample.
		want := scan.Samples(c.Skip+c.Length, info.Rate) - scan.Samples(c.Skip, info.Rate)
		if want > s.source+scan.Samples(rounding, info.Rate) {
			l.Notes = append(l.Notes, fmt.Sprintf("%s: %.1f s shorter than it should be; silence follows it", c.Path, float64(want-s.source)/float64(info.Rate)))
		}
		s.source = min(s.source, want)
	}
	s.quietEnd = min(scan.Samples(c.Fade, info.Rate), s.source)
	return s, nil
}

// place puts a span behind the ones before it.
func (l *Layout) place(s *Span) error {
	var before *Span
	if n := len(l.Spans); n > 0 {
		before = &l.Spans[n-1]
	}
	length := ceilDiv(s.source*int64(l.Rate), int64(s.rate))
	s.From = scan.Samples(s.Start, l.Rate)
	switch {
	case before == nil:
	case s.Joined:
		s.From = before.To
		// Joined tracks of one rate are one stream: its end is reckoned from its
		// beginning, so that no rounding adds up.
		if s.stream(before) {
			first := l.streamStart(len(l.Spans) - 1)
			total := s.source
			for _, b := range l.Spans[first:] {
				total += b.source
			}
			s.To = l.Spans[first].From + ceilDiv(total*int64(l.Rate), int64(s.rate))
			return nil
		}
	case s.From < before.To:
		over := before.To - s.From
		if over <= scan.Samples(rounding, l.Rate) {
			s.From = before.To
			break
		}
		earliest := before.From
		if before.fadeIn > 0 {
			earliest += before.fadeIn * int64(l.Rate) / int64(before.rate)
		}
		if s.From < earliest || over > length {
			return fmt.Errorf("%s: it overlaps more than the track before it can give; shorten the overlap", s.name())
		}
		before.fadeOut = over * int64(before.rate) / int64(l.Rate)
		s.fadeIn = over * int64(s.rate) / int64(l.Rate)
	}
	s.To = s.From + length
	return nil
}

// stream tells whether s goes on in the stream of the span before it.
func (s *Span) stream(before *Span) bool {
	return s.Joined && s.rate == before.rate && s.Path != "" && before.Path != ""
}

// streamStart is the first span of the stream that i is part of.
func (l *Layout) streamStart(i int) int {
	for i > 0 && l.Spans[i].stream(&l.Spans[i-1]) {
		i--
	}
	return i
}

func (s *Span) name() string {
	if s.Path != "" {
		return s.Path
	}
	return s.Label()
}

// Label is the cue's title with its performer, for markers and lists; empty for
// one without a title.
func (c Cue) Label() string {
	if c.Performer == "" || c.Title == "" {
		return c.Title
	}
	return c.Performer + " - " + c.Title
}

func ceilDiv(a, b int64) int64 { return (a + b - 1) / b }

// Sounding is how many samples a channel have to be made: all but the silence.
func (l *Layout) Sounding() int64 {
	var n int64
	for _, u := range l.units() {
		n += u.to() - u.from()
	}
	return n
}
