package verify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"longside/media/decode"
)

// Sound gives samples, interleaved, full scale being 1, as decode.Stream does:
// io.EOF at the end.
type Sound interface {
	Read(pcm []float32) (frames int, err error)
	Close() error
}

// Capture is a recording of a deck's output that can be read more than once.
type Capture struct {
	Rate     int   // Hz
	Channels int   // 1 or 2
	Frames   int64 // samples a channel, as its file says
	Open     func(context.Context) (Sound, error)
}

// Rates that a capture may have.
const lowestRate, highestRate = 44100, 192000

// File is the capture in a file. The error names no file; it is one line.
func File(path string) (Capture, error) {
	info, err := decode.Look(path)
	if err != nil {
		return Capture{}, err
	}
	c := Capture{Rate: info.Rate, Channels: info.Channels, Frames: info.Samples,
		Open: func(ctx context.Context) (Sound, error) { return decode.Open(ctx, path) }}
	return c, c.check()
}

func (c Capture) check() error {
	switch {
	case c.Channels < 1 || c.Channels > 2:
		return fmt.Errorf("%d channels: give the one or two that the deck was connected to", c.Channels)
	case c.Rate < lowestRate || c.Rate > highestRate:
		return fmt.Errorf("%d samples a second: capture with 44100 to 192000", c.Rate)
	}
	return nil
}

// Seconds is how long the capture plays.
func (c Capture) Seconds() float64 { return float64(c.Frames) / float64(c.Rate) }

// blocks reads the whole capture in blocks of n frames a channel, the last one
// filled up with silence, and hands each to f with the number of its first
// frame. The slices are good until f returns.
func (c Capture) blocks(ctx context.Context, n int, f func(first int64, x [][]float32) error) error {
	s, err := c.Open(ctx)
	if err != nil {
		return err
	}
	defer s.Close()
	pcm := make([]float32, n*c.Channels)
	x := make([][]float32, c.Channels)
	for i := range x {
		x[i] = make([]float32, n)
	}
	for first := int64(0); ; first += int64(n) {
		if err := ctx.Err(); err != nil {
			return err
		}
		have := 0
		for have < n {
			k, err := s.Read(pcm[have*c.Channels:])
			have += k
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				return err
			}
		}
		if have == 0 {
			return nil
		}
		for ch, y := range x {
			for i := range have {
				y[i] = pcm[i*c.Channels+ch]
			}
			clear(y[have:])
		}
		if err := f(first, x); err != nil {
			return err
		}
		if have < n {
			return nil
		}
	}
}

// stretch is a part of the capture, in frames.
type stretch struct{ from, to int64 }

// stretches reads parts of the capture, which may overlap and are in the order
// of their beginnings, and hands each to f as soon as it is whole. What lies
// outside of the capture is silence.
func (c Capture) stretches(ctx context.Context, all []stretch, f func(i int, x [][]float32) error) error {
	const n = 1 << 14
	held := map[int][][]float32{}
	next, done := 0, 0
	give := func(i int) error {
		x := held[i]
		delete(held, i)
		done++
		return f(i, x)
	}
	start := func(until int64) {
		for ; next < len(all) && all[next].from < until; next++ {
			x := make([][]float32, c.Channels)
			for ch := range x {
				x[ch] = make([]float32, max(all[next].to-all[next].from, 0))
			}
			held[next] = x
		}
	}
	errAll := errors.New("all read")
	err := c.blocks(ctx, n, func(first int64, x [][]float32) error {
		end := first + n
		start(end)
		for i := done; i < next; i++ {
			h, ok := held[i]
			if !ok {
				continue
			}
			from, to := max(all[i].from, first), min(all[i].to, end)
			if from < to {
				for ch := range h {
					copy(h[ch][from-all[i].from:to-all[i].from], x[ch][from-first:to-first])
				}
			}
		}
		// In order: f may lean on it.
		for done < next && all[done].to <= end {
			if err := give(done); err != nil {
				return err
			}
		}
		if done == len(all) {
			return errAll
		}
		return nil
	})
	if err != nil && !errors.Is(err, errAll) {
		return err
	}
	start(math.MaxInt64)
	for done < len(all) {
		if err := give(done); err != nil {
			return err
		}
	}
	return nil
}
