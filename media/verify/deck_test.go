package verify_test

import (
	"context"
	"io"
	"math"
	"math/rand/v2"

	"longside/media/programme"
	"longside/media/verify"
)

// A modelled deck and tape. It shares nothing with the measuring but the cues of
// the programme: what is sent is reckoned anew at every moment of the capture,
// so that speed, delays and echoes are exact.
type deck struct {
	rate int
	rng  *rand.Rand

	before, after float64 // s of tape noise round the programme
	zero          float64 // dBFS of 0 dB in the file that is recorded

	speed   float64 // of playing against recording
	clock   float64 // the sound card's, as a factor
	drift   float64 // change of speed a second
	wobbles []wobble

	side [2]side
	// Echo: copies of what is on the tape, before and after, at turns of the pack.
	echoes []print

	dropOuts []dropOut

	swap, mono bool
	automatic  bool
	reduction  string // "", "both", "record", "play"
	clip       float64
}

type wobble struct{ hz, part, phase float64 }

// side is one channel.
type side struct {
	gain     float64 // of 0 dB at the capture, as an amplitude; less than 0: inverted
	delay    float64 // s
	bend     float64 // the amplitude at which the tape saturates, 0 dB being 1
	treble   float64 // Hz, where its treble is 3 dB down
	bass     float64 // Hz, where its bass is 3 dB down
	shelf    float64 // gain of what is far above 3 kHz: bias
	noise    float64 // rms, 0 dB being an amplitude of 1
	hum      float64 // amplitude of 50 Hz
	grain    float64 // slow wobble of level, as a part
	rough    float64 // modulation noise, as a part
	from     float64 // crosstalk: part of the other channel
	off      bool    // not connected
	lp, hp   onePole
	sh       onePole
	slow     float64
	fast     float64
	loudness float64
	shelf2   float64
	before   onePole
	behind   onePole
}

type print struct{ delay, part float64 }

type dropOut struct {
	at, long, depth float64 // s in the capture, s, dB
	channel         int     // 2: both
}

// onePole is y += k (x - y); its response is known in closed form.
type onePole struct{ k, y float64 }

func poleAt(hz, rate float64) onePole { return onePole{k: -math.Expm1(-2 * math.Pi * hz / rate)} }

func (p *onePole) low(x float64) float64 { p.y += p.k * (x - p.y); return p.y }

// response is k / (1 - (1-k) z^-1).
func (p onePole) response(hz, rate float64) complex128 {
	s, c := math.Sincos(-2 * math.Pi * hz / rate)
	return complex(p.k, 0) / (1 - complex(1-p.k, 0)*complex(c, s))
}

func (s *side) make(rate float64) {
	s.lp, s.hp, s.sh = poleAt(s.treble, rate), poleAt(s.bass, rate), poleAt(3000, rate)
}

// response is what the channel does to a tone of a frequency as it is played.
func (s side) response(hz, rate float64) complex128 {
	low := s.sh.response(hz, rate)
	h := s.lp.response(hz, rate) * (1 - s.hp.response(hz, rate)) * (low + complex(s.shelf, 0)*(1-low))
	return h
}

// saturate is the tape: straight at first, bent towards a limit.
func (s side) saturate(x float64) float64 {
	if s.bend == 0 {
		return x
	}
	return x / math.Sqrt(1+x*x/(s.bend*s.bend))
}

// harmonic is the amplitude of the n-th harmonic of a sine of amplitude a behind
// saturate: the Fourier integral, by 512 places of a period.
func (s side) harmonic(a float64, n int) float64 {
	var sum float64
	for i := range 512 {
		p := 2 * math.Pi * (float64(i) + 0.5) / 512
		sum += s.saturate(a*math.Sin(p)) * math.Sin(float64(n)*p)
	}
	return sum / 256
}

// sender gives what is in the file at a moment of it.
type sender struct {
	cues []programme.Cue
	from []float64
	to   []float64
	amp  []float64
	at   int
}

func newSender(cues []programme.Cue, zero float64) *sender {
	s := &sender{}
	for _, c := range cues {
		if c.Tone == nil {
			continue
		}
		s.cues = append(s.cues, c)
		s.from = append(s.from, c.Start.Seconds())
		s.to = append(s.to, (c.Start + c.Length).Seconds())
		s.amp = append(s.amp, math.Pow(10, (c.Tone.Level-zero)/20))
	}
	return s
}

// value is left and right at p seconds.
func (s *sender) value(p float64) (l, r float64) {
	for s.at > 0 && p < s.from[s.at] {
		s.at--
	}
	for s.at+1 < len(s.cues) && p >= s.from[s.at+1] {
		s.at++
	}
	i := s.at
	if p < s.from[i] || p >= s.to[i] {
		return 0, 0
	}
	t, tone := p-s.from[i], s.cues[i].Tone
	long := s.to[i] - s.from[i]
	cycles := tone.Hz * t
	if tone.ToHz > 0 {
		// f = Hz (ToHz/Hz)^(t/long); its integral.
		ratio := tone.ToHz / tone.Hz
		cycles = tone.Hz * long / math.Log(ratio) * (math.Pow(ratio, t/long) - 1)
	}
	v := s.amp[i] * math.Sin(2*math.Pi*(cycles-math.Floor(cycles)))
	if edge := min(t, long-t); edge < 0.01 {
		v *= 0.5 - 0.5*math.Cos(math.Pi*edge/0.01)
	}
	if tone.Left {
		l = v
	}
	if tone.Right {
		r = v
	}
	return l, r
}

// tape is how far the programme has played at t seconds of the capture (by the
// card's clock), and its course of speed.
func (d *deck) tape(t float64) float64 {
	t = t*d.clock - d.before
	p := t + d.drift*t*t/2
	for _, w := range d.wobbles {
		p += w.part / (2 * math.Pi * w.hz) * (math.Cos(w.phase) - math.Cos(2*math.Pi*w.hz*t+w.phase))
	}
	return p * d.speed
}

// play makes the capture.
func (d *deck) play(cues []programme.Cue, long float64) [][]float32 {
	n := int((d.before + long/d.speed + d.after) * float64(d.rate))
	out := [][]float32{make([]float32, n), make([]float32, n)}
	rate := float64(d.rate)
	send := [8]*sender{}
	for i := range send {
		send[i] = newSender(cues, d.zero)
	}
	for c := range d.side {
		d.side[c].make(rate)
	}
	gain := 1.0
	for i := range n {
		t := float64(i) / rate
		var x [2]float64
		p := d.tape(t)
		for c := range 2 {
			q := p
			if s := d.side[c].delay; s != 0 {
				q = p - s*d.speed
			}
			l, r := send[c].value(q)
			v := l + d.side[0].from*r
			if c == 1 {
				v = r + d.side[1].from*l
			}
			x[c] = d.side[c].saturate(v)
			for k, e := range d.echoes {
				l, r := send[2+2*k+c].value(q - e.delay)
				if c == 0 {
					l, r = r, l
				}
				x[c] += e.part * d.side[c].saturate(r)
			}
		}
		if d.automatic {
			// A level that is held: fast down, slow up.
			level := max(math.Abs(x[0]), math.Abs(x[1])) * gain
			if level > 0.5 {
				gain *= 1 - 100/rate
			} else if gain < 10 {
				gain *= 1 + 1/rate
			}
			x[0] *= gain
			x[1] *= gain
		}
		for c := range 2 {
			s := &d.side[c]
			v := x[c]
			// Level wobbles of the coating: 0.15 s slow, and fast as modulation noise.
			s.slow += (d.rng.NormFloat64()*math.Sqrt(2*0.15*rate) - s.slow) / (0.15 * rate)
			s.fast += (d.rng.NormFloat64()*math.Sqrt(2*0.0004*rate) - s.fast) / (0.0004 * rate)
			v *= 1 + s.grain*s.slow + s.rough*s.fast
			for _, o := range d.dropOuts {
				if o.channel == c || o.channel == 2 {
					v *= o.at1(t)
				}
			}
			v = d.encode(s, v)
			v += s.noise * d.rng.NormFloat64()
			v = d.decode(s, v)
			v = s.lp.low(v)
			v -= s.hp.low(v)
			low := s.sh.low(v)
			v = low + s.shelf*(v-low)
			v += s.hum * math.Sin(2*math.Pi*50*t)
			v *= s.gain
			if s.off {
				v = 1e-5 * d.rng.NormFloat64()
			}
			if d.clip > 0 {
				v = min(max(v, -d.clip), d.clip)
			}
			to := c
			if d.swap {
				to = 1 - c
			}
			out[to][i] = float32(v)
		}
	}
	if d.mono {
		return out[:1]
	}
	return out
}

// encode and decode are a noise reduction, very much simplified: before the tape
// quiet treble is raised by up to 10 dB, behind it lowered by as much, both by
// the level that the treble had at first.
func (d *deck) encode(s *side, v float64) float64 {
	if d.reduction == "" {
		return v
	}
	s.before.k = 0.095 // from some 700 Hz
	low := s.before.low(v)
	high := v - low
	s.loudness += (math.Abs(high) - s.loudness) * 200 / float64(d.rate)
	open := s.loudness / (s.loudness + 0.03) // 1: loud treble
	s.shelf2 = 0.32 + 0.68*open
	if d.reduction == "play" {
		return v
	}
	return low + high/s.shelf2
}

func (d *deck) decode(s *side, v float64) float64 {
	if d.reduction == "" || d.reduction == "record" {
		return v
	}
	// What encode would have made this of: its two lines solved for what went in.
	k, g, l := s.before.k, s.shelf2, s.behind.y
	x := (v - (1-1/g)*(1-k)*l) / ((1-1/g)*k + 1/g)
	s.behind.y = l + k*(x-l)
	return x
}

func (o dropOut) at1(t float64) float64 {
	if t < o.at || t > o.at+o.long {
		return 1
	}
	const edge = 0.002
	g := math.Pow(10, -o.depth/20)
	e := min(t-o.at, o.at+o.long-t)
	if e > edge {
		return g
	}
	return 1 - (1-g)*(0.5-0.5*math.Cos(math.Pi*e/edge))
}

// captured is samples as a capture.
func captured(rate int, x [][]float32) verify.Capture {
	return verify.Capture{Rate: rate, Channels: len(x), Frames: int64(len(x[0])), Open: func(context.Context) (verify.Sound, error) {
		return &held{x: x}, nil
	}}
}

type held struct {
	x  [][]float32
	at int
}

func (h *held) Read(pcm []float32) (int, error) {
	n := min(len(pcm)/len(h.x), len(h.x[0])-h.at)
	if n == 0 {
		return 0, io.EOF
	}
	for c, y := range h.x {
		for i := range n {
			pcm[i*len(h.x)+c] = y[h.at+i]
		}
	}
	h.at += n
	return n, nil
}

func (h *held) Close() error { return nil }

func db(x float64) float64 { return 20 * math.Log10(x) }

func length() float64 { return verify.Length().Seconds() }

// anyDeck is a deck and a tape by chance.
func anyDeck(seed uint64) *deck {
	rng := rand.New(rand.NewPCG(seed, 15))
	u := func(from, to float64) float64 { return from + (to-from)*rng.Float64() }
	d := &deck{
		rate: []int{44100, 48000, 48000}[rng.IntN(3)], rng: rng,
		before: u(0.5, 12), after: u(0.3, 5), zero: -12,
		speed: 1 + u(-0.03, 0.03), clock: 1 + u(-50e-6, 50e-6), drift: u(-2e-6, 2e-6),
		swap: rng.IntN(4) == 0,
	}
	// At rows of AES6's table, so that their weight is known without a curve.
	rows := rng.Perm(len(aes6Rows) - 4)
	for _, r := range rows[:1+rng.IntN(4)] {
		d.wobbles = append(d.wobbles, wobble{aes6Rows[r+3][0], math.Pow(10, u(-4.3, -3)), u(0, 6)})
	}
	inverted := rng.IntN(3) == 0
	level := math.Pow(10, u(-26, -14)/20)
	for c := range d.side {
		s := side{
			gain: level * math.Pow(10, u(-1, 1)/20), bend: u(1.5, 6), treble: u(9000, 19000), bass: u(8, 35), shelf: u(0.8, 1.25),
			noise: math.Pow(10, u(-58, -44)/20), hum: math.Pow(10, u(-80, -60)/20),
			grain: u(0.002, 0.02), rough: math.Pow(10, u(-55, -44)/20), from: math.Pow(10, u(-55, -25)/20),
		}
		if inverted {
			s.gain = -s.gain
		}
		d.side[c] = s
	}
	if rng.IntN(5) == 0 {
		d.side[1].gain = -d.side[1].gain
	}
	d.side[rng.IntN(2)].delay = u(0, 150e-6)
	if rng.IntN(2) == 0 {
		back, on := math.Pow(10, u(-60, -42)/20), math.Pow(10, u(-60, -42)/20)
		turn := u(1.45, 3.2)
		d.echoes = []print{{turn * 1.001, back}, {-turn, on}}
	}
	for range rng.IntN(4) {
		d.dropOuts = append(d.dropOuts, dropOut{d.before + u(13, length()-8)/d.speed, u(0.03, 0.12), u(10, 30), rng.IntN(3)})
	}
	return d
}

var aes6Rows = [][2]float64{
	{0.1, -48}, {0.2, -30.6}, {0.315, -19.7}, {0.4, -15}, {0.63, -8.4}, {0.8, -6}, {1, -4.2}, {1.6, -1.8}, {2, -0.9}, {4, 0},
	{6.3, -0.9}, {10, -2.1}, {20, -5.9}, {40, -10.4}, {63, -14.2}, {100, -17.3}, {200, -23},
}

// anEvening is the deck and tape of the README's page: a fair deck with a C90,
// its bias a little low, an old place on the tape, and an echo at the turn of the
// pack, a minute into the side.
func anEvening() *deck {
	d := &deck{rate: 44100, rng: rand.New(rand.NewPCG(90, 1)), before: 3, after: 3, zero: -12,
		speed: 1.0021, clock: 1.00001, drift: -3e-6,
		wobbles:  []wobble{{0.31, 0.00035, 1}, {0.62, 0.0001, 2}, {6.3, 0.00045, 0.3}, {12.6, 0.00015, 2}},
		echoes:   []print{{3.22, 0.0022}, {-3.22, 0.0034}},
		dropOuts: []dropOut{{130, 0.06, 14, 0}, {151.4, 0.04, 22, 2}}}
	for c := range d.side {
		d.side[c] = side{gain: 0.2 * (1 - 0.06*float64(c)), bend: 2.7 - 0.2*float64(c), treble: 15500 - 2500*float64(c), bass: 24, shelf: 1.22,
			noise: 0.0042, hum: 0.0009, grain: 0.006, rough: 0.005, from: 0.016}
	}
	d.side[1].delay = 14e-6
	return d
}
