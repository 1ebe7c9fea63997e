package verify

import (
	"context"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/dsp/fourier"
)

// The course of a sound: the power of six octaves, a hundred times a second, by
// channel. It is small (an hour of stereo is 17 MB), and two recordings of one
// sound have nearly the same.
const (
	perSecond = 100
	octaves   = 6
	lowest    = 100.0 // Hz, where the first octave begins
)

// course holds octaves values for each hundredth of a second.
type course struct {
	n int
	p [][]float32 // by channel
}

// seconds that are looked at together.
const chunk = 10

// listen makes the course of a stretch of a sound, long 0 being to its end.
func listen(ctx context.Context, c Capture, from, long float64, progress func(frames int64)) (course, error) {
	rate := float64(c.Rate)
	window := 256
	for float64(window) < 0.0213*rate {
		window *= 2
	}
	first := int64(math.Round(from * rate))
	last := int64(math.MaxInt64)
	if long > 0 {
		last = first + int64(math.Round(long*rate))
	}
	channels := min(c.Channels, 2)
	hop := rate / perSecond
	each := chunk * perSecond
	var parts [][][]float32 // by chunk, by channel
	g, gctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0) + 1)
	held := make([][]float32, channels)
	begin := int64(0) // of held, counted from first
	send := func(whole bool) {
		// The chunk's frames, each from its rounded beginning on.
		k := len(parts)
		have := int64(len(held[0]))
		n := each
		if whole {
			n = 0
			for n < each && int64(math.Round(float64(k*each+n)*hop))-begin+int64(window)/2 <= have {
				n++
			}
		}
		if n == 0 {
			return
		}
		x := make([][]float32, channels)
		for ch := range x {
			x[ch] = slices.Clone(held[ch])
		}
		out := make([][]float32, channels)
		parts = append(parts, out)
		start := begin
		g.Go(func() error {
			for ch := range x {
				out[ch] = powers(x[ch], rate, window, n, func(i int) int { return int(int64(math.Round(float64(k*each+i)*hop)) - start) })
			}
			return nil
		})
		begin = int64(math.Round(float64((k+1)*each) * hop))
		for ch := range held {
			held[ch] = slices.Delete(held[ch], 0, int(min(begin-start, have)))
		}
	}
	err := c.blocks(gctx, int(rate), func(at int64, x [][]float32) error {
		if progress != nil {
			progress(int64(len(x[0])))
		}
		lo, hi := max(first-at, 0), min(last-at, int64(len(x[0])))
		if hi <= 0 {
			return errDone
		}
		if lo >= hi {
			return nil
		}
		for ch := range held {
			held[ch] = append(held[ch], x[ch][lo:hi]...)
		}
		// All that the next chunk's last frame needs.
		if need := int64(math.Round(float64((len(parts)+1)*each)*hop)) - begin + int64(window); int64(len(held[0])) >= need {
			send(false)
		}
		return nil
	})
	if err == errDone {
		err = nil
	}
	if err == nil {
		for before := -1; len(parts) != before; {
			before = len(parts)
			send(true)
		}
	}
	if e := g.Wait(); err == nil {
		err = e
	}
	if err != nil {
		return course{}, err
	}
	all := course{p: make([][]float32, channels)}
	for _, part := range parts {
		for ch := range all.p {
			all.p[ch] = append(all.p[ch], part[ch]...)
		}
	}
	all.n = len(all.p[0]) / octaves
	return all, nil
}

type doneError struct{}

func (doneError) Error() string { return "all is read" }

var errDone error = doneError{}

// powers is the power of each octave in n frames; at says where each begins.
func powers(x []float32, rate float64, window, n int, at func(i int) int) []float32 {
	fft := fourier.NewFFT(window)
	shape := make([]float64, window)
	var area float64
	for i := range shape {
		shape[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(window))
		area += shape[i] * shape[i]
	}
	scale := 2 / (area * float64(window))
	edge := make([]int, octaves+1)
	for b := range edge {
		edge[b] = min(int(math.Ceil(lowest*math.Exp2(float64(b))/rate*float64(window))), window/2)
	}
	edge[0] = max(edge[0], 1)
	v, c := make([]float64, window), make([]complex128, window/2+1)
	out := make([]float32, n*octaves)
	for i := range n {
		from := at(i)
		for k := range v {
			v[k] = 0
			if j := from + k; j < len(x) {
				v[k] = float64(x[j]) * shape[k]
			}
		}
		c = fft.Coefficients(c, v)
		for b := range octaves {
			var p float64
			for _, z := range c[edge[b]:edge[b+1]] {
				p += real(z)*real(z) + imag(z)*imag(z)
			}
			out[i*octaves+b] = float32(p * scale)
		}
	}
	return out
}

// level is the power of 200 to 3200 Hz in a channel at a frame, in dB; outside of
// the course it is silence. There tape and deck are flat enough.
func (c course) level(ch, i int) float64 {
	if i < 0 || i >= c.n {
		return -200
	}
	v := c.p[ch][i*octaves : (i+1)*octaves]
	return 10 * math.Log10(float64(v[1]+v[2]+v[3]+v[4])+1e-20)
}

// shape is the part of a course that two recordings of one sound share, whatever
// their level and response: how each octave's level moves within a second. Each
// value stands for by hundredths.
type shape struct {
	n    int
	v    []float32
	sums []float64 // of squares, up to each value
}

// shaped makes the shape of a course, by frames of it to a value.
func (c course) shaped(by int) shape {
	n := c.n / by
	s := shape{n: n, v: make([]float32, n*octaves), sums: make([]float64, n+1)}
	reach := perSecond / 2 / by
	col := make([]float64, n)
	for b := range octaves {
		for i := range n {
			var p float64
			for k := range by {
				for ch := range c.p {
					p += float64(c.p[ch][(i*by+k)*octaves+b])
				}
			}
			col[i] = p
		}
		// Noise must not make the quiet look busy.
		top := quantile(slices.Clone(col), 0.95)
		floor := top*3e-4 + 1e-18
		var sum float64
		for i := range col {
			col[i] = math.Log10(col[i] + floor)
		}
		count := 0.0
		for i := -reach; i < n; i++ {
			if j := i + reach; j < n {
				sum += col[j]
				count++
			}
			if j := i - reach - 1; j >= 0 {
				sum -= col[j]
				count--
			}
			if i >= 0 {
				s.v[i*octaves+b] = float32(col[i] - sum/count)
			}
		}
	}
	for i := range n {
		var e float64
		for _, v := range s.v[i*octaves : (i+1)*octaves] {
			e += float64(v) * float64(v)
		}
		s.sums[i+1] = s.sums[i] + e
	}
	return s
}

// busy is how much a stretch moves, a value.
func (s shape) busy(from, to int) float64 {
	from, to = max(from, 0), min(to, s.n)
	if to <= from {
		return 0
	}
	return (s.sums[to] - s.sums[from]) / float64(to-from)
}

// alike is how alike a stretch of s and one of c are, 1 being the same; at says
// which value of c belongs to which of s.
func (s shape) alike(from, long int, c shape, at []int, shift int) float64 {
	var dot, e float64
	for j := range long {
		k := shift + at[j]
		if k < 0 || k >= c.n {
			continue
		}
		a, b := s.v[(from+j)*octaves:(from+j+1)*octaves], c.v[k*octaves:(k+1)*octaves]
		dot += float64(a[0]*b[0] + a[1]*b[1] + a[2]*b[2] + a[3]*b[3] + a[4]*b[4] + a[5]*b[5])
		e += c.sums[k+1] - c.sums[k]
	}
	f := s.sums[from+long] - s.sums[from]
	if e <= 0 || f <= 0 {
		return 0
	}
	return dot / math.Sqrt(e*f)
}

// stretched are the places of long values played at a speed.
func stretched(long int, speed float64) []int {
	at := make([]int, long)
	for j := range at {
		at[j] = int(math.Round(float64(j) / speed))
	}
	return at
}
