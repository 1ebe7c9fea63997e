package programme

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"
)

// File is where a programme is written: parts of it at once, each at its place.
type File interface {
	io.WriterAt
	Truncate(size int64) error
}

// Text is what the file says of itself.
type Text struct {
	Title   string
	Comment string // a caution, the date of the plan: any length
}

// Write makes the whole file. What it gives are notes on damaged files and
// clipped samples, one sentence each. When ctx ends it stops within a block;
// the file is then not whole and must be thrown away.
func (l *Layout) Write(ctx context.Context, f File, t Text, o Options) (notes []string, err error) {
	w := newWAV(l)
	if err := f.Truncate(w.size(l, t)); err != nil {
		return nil, err
	}
	if err := w.header(f); err != nil {
		return nil, err
	}
	units := l.units()
	total := int64(0)
	for _, u := range units {
		total += u.to() - u.from()
	}
	var mu sync.Mutex
	done := int64(0)
	step := func(n int) {
		mu.Lock()
		defer mu.Unlock()
		done += int64(n)
		if o.Progress != nil {
			o.Progress(done, total)
		}
	}
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(workers)
	said := make([][]string, len(units))
	for i, u := range units {
		g.Go(func() (err error) {
			said[i], err = u.write(ctx, f, w, uint64(i), step)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	for _, s := range said {
		notes = append(notes, s...)
	}
	return notes, w.trailer(f, l, t)
}

// unit is a stretch without silence: voices that overlap or touch. Units are
// made apart from each other.
type unit struct {
	l      *Layout
	voices []*voice
}

func (u *unit) from() int64 { return u.voices[0].from }

func (u *unit) to() int64 {
	var end int64
	for _, v := range u.voices {
		end = max(end, v.to)
	}
	return end
}

// units groups the spans. Spans of silence are left out: the file is silent
// where nothing is written.
func (l *Layout) units() []*unit {
	var units []*unit
	var last *Span
	for i := range l.Spans {
		s := &l.Spans[i]
		if s.Path == "" && s.Tone == nil || s.From == s.To {
			last = nil
			continue
		}
		switch {
		case last != nil && s.stream(last):
			u := units[len(units)-1]
			u.voices[len(u.voices)-1].join(*s)
		case last != nil && s.From < last.To:
			u := units[len(units)-1]
			u.voices = append(u.voices, newVoice(*s, l))
		default:
			units = append(units, &unit{l: l, voices: []*voice{newVoice(*s, l)}})
		}
		last = s
	}
	return units
}

// write makes one unit, block after block.
func (u *unit) write(ctx context.Context, f File, w *wav, seed uint64, step func(int)) (notes []string, err error) {
	defer func() {
		for _, v := range u.voices {
			v.close()
		}
	}()
	q := newQuantizer(u.l.Bits, seed)
	frame := int64(w.frame())
	out := make([]byte, block*frame)
	sum, one := make([]float64, 2*block), make([]float64, 2*block)
	name := u.voices[0].spans[0].name()
	for at, end := u.from(), u.to(); at < end; {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		// A block ends where a voice begins or ends.
		n := min(end-at, block)
		active := 0
		for _, v := range u.voices {
			switch {
			case at < v.from:
				n = min(n, v.from-at)
			case at < v.to:
				n = min(n, v.to-at)
				active++
			}
		}
		alone := active == 1
		b := out[:n*frame]
		clear(b)
		clear(sum[:2*n])
		for _, v := range u.voices {
			if at < v.from || at >= v.to {
				continue
			}
			for have := int64(0); have < n; {
				k, ex, err := v.read(ctx, one[:2*(n-have)])
				if err != nil {
					return nil, err
				}
				if k == 0 {
					break // a hair short, by the rounding of rates: silence
				}
				if alone { // a track may begin here that is exact, or one that is not
					q.convert(b[have*frame:], one[:2*k], ex)
				} else {
					for i, x := range one[:2*k] {
						sum[2*have+int64(i)] += x
					}
				}
				have += int64(k)
			}
		}
		if !alone {
			q.convert(b, sum[:2*n], false)
		}
		if _, err := f.WriteAt(b, w.at(at)); err != nil {
			return nil, err
		}
		at += n
		step(int(n))
	}
	for _, v := range u.voices {
		if v.cur != nil {
			v.next()
		}
		notes = append(notes, v.notes...)
	}
	if q.clipped > 0 {
		notes = append(notes, fmt.Sprintf("%s: %d samples were over full scale and are clipped; lower its gain, or let --trims keep headroom", name, q.clipped))
	}
	return notes, nil
}

// quantizer turns samples into whole numbers.
type quantizer struct {
	bits    int
	rng     *rand.PCG
	clipped int64
}

func newQuantizer(bits int, seed uint64) *quantizer {
	// The same seed each time: the same input gives the same file.
	return &quantizer{bits: bits, rng: rand.NewPCG(seed, 0)}
}

// convert writes stereo samples little-endian. Those that are not exact get
// triangular dither of two steps in all, which leaves no trace of the signal in
// the error.
func (q *quantizer) convert(b []byte, x []float64, exact bool) {
	scale := math.Ldexp(1, q.bits-1)
	high, shift := scale-1, 2*scale
	width := q.bits / 8
	var dice uint64
	for i, v := range x {
		v *= scale
		// What only the dither takes over the edge is cut off there, and no loss.
		if !(v <= high+0.5 && v >= -scale-0.5) {
			q.clipped++
		}
		if !exact {
			// The difference of two even random numbers from 0 to 1, of 16 bits each;
			// one draw is enough for both channels.
			if i&1 == 0 {
				dice = q.rng.Uint64()
			}
			v += float64(int32(dice&0xFFFF)-int32(dice>>16&0xFFFF)) / (1 << 16)
			dice >>= 32
		}
		if !(v <= high) {
			v = high
		} else if v < -scale {
			v = -scale
		}
		// The nearest whole number: shifted up by more than the samples reach, so
		// that cutting off is rounding down for negative ones too.
		n := int32(v+shift+0.5) - int32(shift)
		if width == 2 {
			b[2*i], b[2*i+1] = byte(n), byte(n>>8)
		} else {
			b[3*i], b[3*i+1], b[3*i+2] = byte(n), byte(n>>8), byte(n>>16)
		}
	}
}
