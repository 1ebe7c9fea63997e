package verify

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
)

// Findings are what a capture of the test programme tells. Lists by channel are
// left and right, or the one channel of a mono capture; nil figures could not
// be measured, and Notes say why.
type Findings struct {
	Rate     int     `json:"rate_hz"`
	Channels int     `json:"channels"`
	StartS   float64 `json:"start_s"`  // of the programme, in the capture
	LengthS  float64 `json:"length_s"` // as it was played

	// ZeroDBFS is what 400 Hz at 0 dB came back at, peak, dB of full scale.
	ZeroDBFS []float64 `json:"zero_dbfs"`
	Polarity string    `json:"polarity"` // "kept", "inverted", "unclear"
	Swapped  bool      `json:"swapped"`  // left came back right
	OneSided string    `json:"missing,omitempty"`
	Alike    bool      `json:"channels_alike,omitempty"` // both channels hold the same sound: a mono deck or cable
	Inverted bool      `json:"one_channel_inverted,omitempty"`

	// Speed of playing against recording, + is fast. Where one deck did both its
	// mean error is in both and cancels. Within has the sound card's own clock in
	// it, 50 ppm (from memory, unverified).
	Speed      Figure  `json:"speed_pct"`
	Speed30s   float64 `json:"speed_worst_30s_pct"` // the mean over the 30 s that is furthest from nought
	Course     []Point `json:"-"`                   // speed over the minute of 3150 Hz: s, %
	Flutter    *Figure `json:"flutter_weighted_pct"`
	FlutterRaw *Figure `json:"flutter_unweighted_pct"` // 0.2 to 200 Hz
	Wobbles    []Point `json:"flutter_peaks"`          // Hz, peak % of speed; strongest first

	Response [][]Tone  `json:"response"`      // against 400 Hz, at -20 dB
	Bias     []*Figure `json:"treble_db"`     // 10 kHz against 400 Hz
	Steps    [][]Step  `json:"level_steps"`   // 315 Hz
	MOL      []*Figure `json:"mol_db"`        // level sent at which the third harmonic is 3 %
	MOLBound []string  `json:"mol_bound"`     // "over": not reached at the highest step; "under": over it at the lowest; "automatic"; ""
	NoiseTo  []float64 `json:"noise_full_db"` // the level that noise is told against, dB of the 0 dB tone: that of 3 %, else 0

	// Noise in the pause, as played, against NoiseTo.
	Noise468  []*Figure `json:"noise_468_db"`     // ITU-R BS.468-4, quasi-peak
	NoiseRMS  []*Figure `json:"noise_468_rms_db"` // the same weighting, root mean square
	NoiseA    []*Figure `json:"noise_a_db"`
	NoiseFlat []*Figure `json:"noise_unweighted_db"` // 22 Hz to 22 kHz

	Balance   *Figure     `json:"balance_db"`   // left against right, 400 Hz at 0 dB
	Crosstalk []Crosstalk `json:"crosstalk_db"` // of what the other channel holds alone
	Azimuth   *Figure     `json:"azimuth_us"`   // + is right later; recording and playing together

	DropOuts []DropOut `json:"dropouts"`
	Watched  float64   `json:"watched_s"` // how long tones were watched for drop-outs, a channel
	Echoes   []Echo    `json:"echoes"`
	// EchoFloor is the level against the marker that an echo must pass to be
	// seen; nil where the capture leaves no room to look.
	EchoFloor *float64 `json:"echo_floor_db"`
	// Markers are where they were sent, and FlutterS the middle of the minute of
	// 3150 Hz: s from the programme's beginning.
	Markers  []float64 `json:"markers_s"`
	FlutterS float64   `json:"flutter_at_s"`

	Clipped        int      `json:"clipped"`         // places where the capture is cut off flat
	AutoLevel      bool     `json:"automatic_level"` // an automatic record level was on
	NoiseReduction string   `json:"noise_reduction"` // "none seen", "on", "on one side"
	Notes          []string `json:"notes"`
}

// Point is a place on a curve.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Tone is one tone of the response.
type Tone struct {
	Hz float64 `json:"hz"`
	Figure
}

// Step is one level of the 315 Hz tone.
type Step struct {
	SentDB  float64 `json:"sent_db"`
	BackDB  float64 `json:"back_db"`   // against the 0 dB tone
	ThirdPc float64 `json:"third_pct"` // third harmonic against the tone
}

// Crosstalk is how far a channel's sound lies below, in the other.
type Crosstalk struct {
	From string  `json:"from"` // the channel that sounds
	Hz   float64 `json:"hz"`
	Figure
	Bound bool `json:"or_better,omitempty"` // noise hides what is lower
}

// DropOut is a short loss of level in a steady tone.
type DropOut struct {
	AtS     float64 `json:"at_s"` // in the capture
	SentS   float64 `json:"from_start_s"`
	LongS   float64 `json:"length_s"`
	DB      float64 `json:"depth_db"` // how far the level fell
	Channel string  `json:"channel"`
	Hz      float64 `json:"hz"`
}

// Echo is a marker heard a second time.
type Echo struct {
	Marker int     `json:"marker"`  // 1 or 2
	DelayS float64 `json:"delay_s"` // less than 0: before it
	Figure         // dB against the marker
}

// A drop-out is a fall of DropOutDB or more for DropOutLong or longer: our own
// choice; no standard's figures for audio cassettes were found.
const (
	DropOutDB   = 6.0
	DropOutLong = 0.010 // s
)

// cardClock is how far a sound card's clock may be off: from memory, unverified.
const cardClock = 50e-6

// ThirdHarmonic is the distortion that full level is told by: 3 % (DIN 45 500,
// tape machines, item 4).
const ThirdHarmonic = 3.0

// mostTest bounds the capture that is looked through.
const mostTest = 4 * 3600.0 // s

// guard is left out at both ends of each tone, in s: where it may begin.
const guard = 0.1

// tester measures one capture.
type tester struct {
	c     Capture
	f     *Findings
	rate  float64
	speed float64
	mark  [2]found
	place func(p float64) float64 // s in the programme to s in the capture
	order []int                   // channels of the capture as left and right

	zero   []Figure // 400 Hz at 0 dB, dB of full scale, by channel
	ref    []Figure // 400 Hz at -20 dB
	drift  []float64
	first  []Figure
	third  [][]Figure // of each level step, dB of the tone
	back   [][]Figure // of each level step, dB of full scale
	tones  [][]Tone   // response, dB of full scale
	low    [][]Figure // 400 and 4000 Hz at -40 dB
	bands  [2][]float64
	alone  [2][2]Figure // level of both while one sounds
	phases []phase
	wobble float64     // scatter of a tone's level by halves of a second, dB
	noise  [][4]Figure // 468 quasi-peak, 468 rms, A, unweighted: dB of full scale, rms
}

type phase struct{ hz, angle, within float64 }

// Test measures a capture of the test programme. ErrNoTest says that there is
// none in it; other errors are those of reading. It reads the capture three
// times.
func Test(ctx context.Context, c Capture, progress func(done, total float64)) (Findings, error) {
	if err := c.check(); err != nil {
		return Findings{}, err
	}
	if c.Seconds() > mostTest {
		return Findings{}, fmt.Errorf("it lasts over %.0f hours: cut the test out of it", mostTest/3600)
	}
	if progress == nil {
		progress = func(float64, float64) {}
	}
	r, err := look(ctx, c)
	if err != nil {
		return Findings{}, err
	}
	progress(1, 4)
	t := &tester{c: c, rate: float64(c.Rate), f: &Findings{Rate: c.Rate, Channels: c.Channels}}
	if err := t.markers(ctx, r); err != nil {
		return Findings{}, err
	}
	progress(2, 4)
	if r.clips.runs > 2 {
		t.f.Clipped = r.clips.runs
		t.note("the capture is cut off at full scale in %d places: lower its level and capture again; levels, distortion and noise below are not to be trusted", r.clips.runs)
	}
	if err := t.measure(ctx); err != nil {
		return Findings{}, err
	}
	t.conclude()
	progress(4, 4)
	return *t.f, nil
}

func (t *tester) note(format string, args ...any) {
	t.f.Notes = append(t.f.Notes, fmt.Sprintf(format, args...))
}

// markers finds both markers and from them where everything lies.
func (t *tester) markers(ctx context.Context, r rough) error {
	all, long := steps()
	var at []step
	var middle float64
	for _, s := range all {
		switch s.job {
		case marker:
			at = append(at, s)
		case flutter:
			middle = s.at + s.long/2
		}
	}
	var parts []stretch
	var starts []float64
	for _, m := range at {
		// The speed of one minute tells the place of the rest to some 0.3 %.
		p := r.middle + (m.at-middle)/r.speed
		reach := 0.5 + 0.003*math.Abs(m.at-middle)
		// Silence on both sides, less where the search may begin too early.
		from := p - (ahead - 0.1)
		to := p + (markerLength+ahead-0.1)/r.speed
		if from < 0 && p+reach > 0 {
			from = 0
		}
		starts = append(starts, math.Floor(from*t.rate)/t.rate)
		parts = append(parts, stretch{int64(math.Floor(from * t.rate)), int64(to * t.rate)})
	}
	got := make([]bool, len(at))
	err := t.c.stretches(ctx, parts, func(i int, x [][]float32) error {
		for _, y := range x {
			m, ok := findMarker(y, t.rate, starts[i], r.speed)
			if ok && (!got[i] || len(m.echoes) > len(t.mark[i].echoes)) {
				if got[i] {
					m.at = t.mark[i].at
				}
				t.mark[i], got[i] = m, true
			}
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case !got[0] && !got[1]:
		return ErrNoTest
	case !got[0]:
		return errors.New("the test's beginning is missing: start the capture before you press play, and capture the whole test")
	case !got[1]:
		return errors.New("the test's end is missing: capture until the second marker and five seconds more")
	}
	span := at[1].at - at[0].at
	t.speed = span / (t.mark[1].at - t.mark[0].at)
	if math.Abs(t.speed/r.speed-1) > 0.01 {
		return errors.New("the test is not whole: its markers lie too far apart or too near; record and capture it in one go")
	}
	t.place = func(p float64) float64 { return t.mark[0].at + (p-at[0].at)/t.speed }
	t.f.Markers = []float64{at[0].at, at[1].at}
	t.f.FlutterS = middle
	t.f.StartS = t.place(0)
	t.f.LengthS = long / t.speed
	t.f.Polarity = "unclear"
	one, two := polarity(t.mark[0].phase), polarity(t.mark[1].phase)
	if one == two && one != "" {
		t.f.Polarity = one
	}
	floor := math.Inf(-1)
	for i, m := range t.mark {
		floor = max(floor, m.floor)
		for _, e := range m.echoes {
			t.f.Echoes = append(t.f.Echoes, Echo{i + 1, e.delay * t.speed, Figure{e.db, e.within}})
		}
	}
	if !math.IsInf(floor, 0) {
		t.f.EchoFloor = &floor
	}
	return nil
}

// polarity is told by a marker's phase; heads and amplifiers turn it a little.
func polarity(phase float64) string {
	switch a := math.Abs(phase); {
	case a < math.Pi/3:
		return "kept"
	case a > 2*math.Pi/3:
		return "inverted"
	}
	return ""
}

// measure reads each step's stretch and measures it. The channels alone come
// late in the programme, but their order must be known first: it is found in a
// reading of just these.
func (t *tester) measure(ctx context.Context) error {
	all, _ := steps()
	n := t.c.Channels
	t.order = []int{0, 1}[:n]
	t.zero, t.ref, t.first, t.drift = make([]Figure, n), make([]Figure, n), make([]Figure, n), make([]float64, n)
	t.third, t.back, t.tones, t.low = make([][]Figure, n), make([][]Figure, n), make([][]Tone, n), make([][]Figure, n)
	t.noise = make([][4]Figure, n)
	var parts []stretch
	var jobs []step
	for _, s := range all {
		if s.job == marker {
			continue
		}
		jobs = append(jobs, s)
		parts = append(parts, stretch{int64((t.place(s.at) + guard) * t.rate), int64((t.place(s.at+s.long) - guard) * t.rate)})
	}
	return t.c.stretches(ctx, parts, func(i int, x [][]float32) error {
		s := jobs[i]
		from := float64(parts[i].from) / t.rate
		switch s.job {
		case flutter:
			return t.flutter(ctx, s, from, x)
		case pause:
			for ch, y := range x {
				t.noise[ch] = noise(y, t.rate)
				t.bands[1] = append(t.bands[1], band(spectrumOf(y, t.rate), noiseFrom, noiseTo))
			}
			return nil
		}
		sp := make([]spectrum, n)
		for ch, y := range x {
			sp[ch] = spectrumOf(y, t.rate)
		}
		t.tone(s, from, sp)
		return nil
	})
}

// half is how far around a tone its side bands are taken in: flutter spreads
// them in proportion to its frequency.
func half(hz float64) float64 { return min(max(15, 0.03*hz), 400) }

// size is the level of a tone in a stretch, dB of full scale (peak), by the
// scatter of tenths of a second.
func size(sp spectrum, hz, half float64) Figure {
	v := sp.around(hz, half).trimmed(1 / half)
	p := make([]float64, len(v.z))
	for i, z := range v.z {
		p[i] = real(z)*real(z) + imag(z)*imag(z)
	}
	p = inBlocks(p, int(0.1*v.rate))
	for i, v := range p {
		p[i] = 10 * math.Log10(max(v, 1e-30))
	}
	f := mean(p)
	f.Within = and(f.Within, 0.01)
	return f
}

// power is the mean power of what lies within half hertz of a frequency, as the
// amplitude of a sine squared.
func power(sp spectrum, hz, half float64) float64 {
	v := sp.around(hz, half).trimmed(1 / half)
	var p float64
	for _, z := range v.z {
		p += real(z)*real(z) + imag(z)*imag(z)
	}
	return p / float64(max(len(v.z), 1))
}

// band is the power between two frequencies, a Hz.
func band(sp spectrum, from, to float64) float64 {
	if sp.n == 0 {
		return 0
	}
	var p float64
	lo, hi := int(from/sp.step()), int(to/sp.step())
	for _, c := range sp.c[lo : hi+1] {
		p += real(c)*real(c) + imag(c)*imag(c)
	}
	return p / float64(hi-lo+1) / float64(sp.n) / sp.rate
}

func (t *tester) tone(s step, from float64, sp []spectrum) {
	hz := s.hz * t.speed
	if hz > 0.47*t.rate {
		return
	}
	for ch, x := range sp {
		switch s.job {
		case reference:
			t.zero[ch] = size(x, hz, half(hz))
		case level:
			a := size(x, hz, half(hz))
			// The harmonic, less the noise beside it, by halves of a second so that
			// its scatter is known.
			h := x.around(3*hz, 12).trimmed(1. / 12)
			beside := (power(x, 3*hz+70, 12) + power(x, 3*hz-70, 12)) / 2
			var p []float64
			for _, z := range h.z {
				p = append(p, real(z)*real(z)+imag(z)*imag(z))
			}
			e := mean(inBlocks(p, int(0.2*h.rate)))
			net := max(e.Value-beside, 1e-2*beside, 1e-30)
			third := Figure{10*math.Log10(net) - a.Value, and(10*math.Log10(1+e.Within/net), a.Within)}
			t.back[ch] = append(t.back[ch], a)
			t.third[ch] = append(t.third[ch], third)
		case response:
			a := size(x, hz, half(hz))
			switch {
			case s.first:
				t.first[ch] = a
			case s.again:
				t.ref[ch] = Figure{(t.first[ch].Value + a.Value) / 2, and(t.first[ch].Within, a.Within) / 2}
				t.drift[ch] = math.Abs(t.first[ch].Value - a.Value)
			default:
				t.tones[ch] = append(t.tones[ch], Tone{s.hz, a})
			}
		case quiet:
			t.low[ch] = append(t.low[ch], size(x, hz, half(hz)))
		case treble:
			t.bands[0] = append(t.bands[0], band(x, noiseFrom, noiseTo))
		}
	}
	if s.job == left || s.job == right {
		t.channelAlone(s, hz, sp)
	}
	if len(sp) == 2 && s.left && s.right && s.db <= responseDB+1 && s.job == response || s.job == reference && len(sp) == 2 {
		t.angle(hz, sp)
	}
	if s.left && s.right && s.job != quiet && s.hz >= 250 {
		t.dropOuts(s, from+0.02, hz, sp)
	}
}

// channelAlone measures how much of one channel is in the other.
func (t *tester) channelAlone(s step, hz float64, sp []spectrum) {
	if len(sp) < 2 {
		return
	}
	w := max(8, 0.01*hz)
	loud, name := 0, "left"
	if s.job == right {
		loud, name = 1, "right"
	}
	a, b := size(sp[0], hz, half(hz)), size(sp[1], hz, half(hz))
	if s.hz == 1000 {
		t.alone[loud] = [2]Figure{a, b}
	}
	here := size(sp[loud], hz, half(hz))
	other := 1 - loud
	// By the order of the file; turned round at the end if they are swapped.
	if here.Value < max(a.Value, b.Value) {
		other, here = loud, size(sp[1-loud], hz, half(hz))
	}
	p := power(sp[other], hz, w)
	beside := (power(sp[other], hz+8*w, w) + power(sp[other], hz-6*w, w)) / 2
	x := Crosstalk{From: name, Hz: s.hz}
	net := p - beside
	if net < beside {
		net, x.Bound = max(p, beside), true
	}
	blocks := size(sp[other], hz, w)
	x.Figure = Figure{here.Value - 10*math.Log10(max(net, 1e-30)), and(here.Within, blocks.Within, dB(1+0.7*math.Sqrt(beside/max(net, 1e-30))))}
	t.f.Crosstalk = append(t.f.Crosstalk, x)
}

// angle keeps the phase of right against left.
func (t *tester) angle(hz float64, sp []spectrum) {
	l := sp[0].around(hz, half(hz)).trimmed(1 / half(hz))
	r := sp[1].around(hz, half(hz)).trimmed(1 / half(hz))
	var sum complex128
	cross := make([]complex128, len(l.z))
	for i, z := range l.z {
		cross[i] = z * cmplx.Conj(r.z[i])
		sum += cross[i]
	}
	if sum == 0 {
		return
	}
	middle := cmplx.Phase(sum)
	turn := cmplx.Rect(1, -middle)
	d := make([]float64, len(cross))
	size := cmplx.Abs(sum) / float64(len(cross))
	for i, z := range cross {
		d[i] = imag(z*turn) / size
	}
	m := mean(inBlocks(d, int(0.1*l.rate)))
	if m.Within < 1 {
		t.phases = append(t.phases, phase{hz, middle, max(m.Within, 1e-4)})
	}
}

// dropOuts watches the level of a steady tone.
func (t *tester) dropOuts(s step, from, hz float64, sp []spectrum) {
	width := min(150, 0.35*hz)
	for ch, x := range sp {
		v := x.around(hz, width)
		const edge = 0.02
		from := float64(int(math.Ceil(edge*v.rate))) / v.rate
		v = v.trimmed(edge)
		t.watch(s, ch, v, t.at(s)+from, hz)
	}
}

// at is where the stretch of a step begins in the capture.
func (t *tester) at(s step) float64 {
	return math.Floor((t.place(s.at)+guard)*t.rate) / t.rate
}

// watch looks for drop-outs in a tone's vector that begins at from.
func (t *tester) watch(s step, ch int, v vector, from, hz float64) {
	e := make([]float64, len(v.z))
	for i, z := range v.z {
		e[i] = dB(cmplx.Abs(z))
	}
	sorted := slices.Clone(e)
	usual := median(sorted)
	// Where noise alone makes the level fall by half now and then, a drop-out
	// cannot be told.
	if usual-quantile(sorted, 0.2) > DropOutDB/4 || usual < -90 {
		return
	}
	t.f.Watched += float64(len(e)) / v.rate / float64(t.c.Channels)
	for i := 0; i < len(e); {
		if e[i] > usual-DropOutDB {
			i++
			continue
		}
		j, deepest := i, e[i]
		for j < len(e) && e[j] <= usual-DropOutDB {
			deepest = min(deepest, e[j])
			j++
		}
		if long := float64(j-i) / v.rate; long >= DropOutLong {
			at := from + float64(i)/v.rate
			t.f.DropOuts = append(t.f.DropOuts, DropOut{AtS: at, SentS: (at - t.f.StartS) * t.speed, LongS: long, DB: usual - deepest, Channel: fmt.Sprint(ch), Hz: s.hz})
		}
		i = j
	}
}

// noise is the four readings of a pause, dB of full scale, rms.
func noise(x []float32, rate float64) (out [4]Figure) {
	s := spectrumOf(x, rate)
	if s.n == 0 {
		return
	}
	edge := int(0.2 * rate)
	rms := func(y []float64) Figure {
		y = y[edge : len(y)-edge]
		for i, v := range y {
			y[i] = v * v
		}
		p := inBlocks(y, int(0.25*rate))
		m := mean(p)
		m.Value = max(m.Value, 1e-30)
		return Figure{10 * math.Log10(m.Value), 10 * math.Log10(1+m.Within/m.Value)}
	}
	weighted := s.through(weight468)
	q := newQuasiPeak(rate)
	var seen []float64
	for i, v := range weighted {
		shown := q.read(v)
		if i > int(1.5*rate) && i%int(0.1*rate) == 0 {
			seen = append(seen, shown)
		}
	}
	m := mean(seen)
	out[0] = Figure{dB(m.Value), and(dB(1+m.Within/max(m.Value, 1e-15)), networkWithin, quasiPeakWithin)}
	out[1] = rms(weighted)
	out[1].Within = and(out[1].Within, networkWithin)
	out[2] = rms(s.through(aWeight))
	out[3] = rms(s.through(unweighted))
	return out
}

// networkWithin is how far the ladder of BS.468-4 lies from its table, over noise.
const networkWithin = 0.15 // dB

// quasiPeakWithin is how far our quasi-peak meter may be from another that keeps
// to the recommendation's tables, on noise: our own estimate.
const quasiPeakWithin = 0.5 // dB
