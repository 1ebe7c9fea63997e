package verify

import (
	"math"
	"slices"
)

// conclude makes the findings from what was measured.
func (t *tester) conclude() {
	f, n := t.f, t.c.Channels
	t.order = t.sides()
	ch := func(i int) int { return t.order[i] }
	f.Response, f.Steps = make([][]Tone, n), make([][]Step, n)
	f.Bias, f.MOL, f.MOLBound, f.NoiseTo = make([]*Figure, n), make([]*Figure, n), make([]string, n), make([]float64, n)
	f.Noise468, f.NoiseRMS, f.NoiseA, f.NoiseFlat = make([]*Figure, n), make([]*Figure, n), make([]*Figure, n), make([]*Figure, n)
	for i := range n {
		c := ch(i)
		f.ZeroDBFS = append(f.ZeroDBFS, t.zero[c].Value)
		if t.silent(c) {
			f.MOLBound[i] = "missing"
			continue
		}
		t.automatic(c)
		t.response(i, c)
		t.distortion(i, c)
		t.quietness(i, c)
	}
	t.noiseReduction()
	if n == 2 && f.OneSided == "" {
		b := t.zero[ch(0)].less(t.zero[ch(1)])
		f.Balance = &b
		t.azimuth()
	}
	for i, e := range f.Echoes {
		// Marker and echo lie on two places of the tape, each with its own level.
		f.Echoes[i].Within = and(e.Within, 2*math.Sqrt2*t.wobble, echoWithin)
	}
	names := []string{"left", "right"}
	if n == 1 {
		names = []string{"mono"}
	}
	for i, d := range f.DropOuts {
		c := slices.Index(t.order, int(d.Channel[0]-'0'))
		f.DropOuts[i].Channel = names[c]
	}
	slices.SortStableFunc(f.DropOuts, func(a, b DropOut) int {
		switch {
		case a.AtS < b.AtS:
			return -1
		case a.AtS > b.AtS:
			return 1
		}
		return 0
	})
	if f.OneSided != "" || f.Alike {
		f.Crosstalk = nil
	}
	for c := range n {
		if !t.silent(c) && t.noise[c][3].Value < digital {
			t.note("the pause is digital silence: this is the file itself, or a capture of nothing, and no tape")
			break
		}
	}
	f.tidy()
	if f.DropOuts == nil {
		f.DropOuts = []DropOut{}
	}
	if f.Echoes == nil {
		f.Echoes = []Echo{}
	}
	if f.Notes == nil {
		f.Notes = []string{}
	}
	if f.Wobbles == nil {
		f.Wobbles = []Point{}
	}
	if f.Crosstalk == nil {
		f.Crosstalk = []Crosstalk{}
	}
}

// digital is the noise under which nothing analogue was there, dB of full scale:
// a converter of 24 bits has some 20 dB more.
const digital = -140

// mostWithin stands for an uncertainty that cannot be told.
const mostWithin = 99

// tidy rounds figures to what they can mean, and bounds what is printed.
func (f *Findings) tidy() {
	round := func(x float64, to float64) float64 { return math.Round(x/to)*to + 0 }
	tidied := func(g Figure, to float64) Figure {
		if !(g.Within < mostWithin) {
			g.Within = mostWithin
		}
		g.Value = math.Min(math.Max(g.Value, -300), 300)
		return Figure{round(g.Value, to), max(round(g.Within, to), to)}
	}
	figure := func(g *Figure, to float64) {
		if g != nil {
			*g = tidied(*g, to)
		}
	}
	figure(&f.Speed, 1e-4)
	f.Speed30s = round(f.Speed30s, 1e-4)
	figure(f.Flutter, 1e-4)
	figure(f.FlutterRaw, 1e-4)
	for i, w := range f.Wobbles {
		f.Wobbles[i] = Point{round(w.X, 1e-3), round(w.Y, 1e-4)}
	}
	for _, all := range [][]*Figure{f.Bias, f.MOL, f.Noise468, f.NoiseRMS, f.NoiseA, f.NoiseFlat, {f.Balance}, {f.Azimuth}} {
		for _, g := range all {
			figure(g, 1e-3)
		}
	}
	for i, tones := range f.Response {
		for k, r := range tones {
			f.Response[i][k].Figure = tidied(r.Figure, 1e-3)
		}
	}
	for i, steps := range f.Steps {
		for k, s := range steps {
			f.Steps[i][k] = Step{s.SentDB, round(s.BackDB, 1e-3), round(s.ThirdPc, 1e-4)}
		}
	}
	for i, x := range f.Crosstalk {
		f.Crosstalk[i].Figure = tidied(x.Figure, 1e-2)
	}
	for i, d := range f.DropOuts {
		d.AtS, d.SentS, d.LongS, d.DB = round(d.AtS, 1e-3), round(d.SentS, 1e-3), round(d.LongS, 1e-3), round(d.DB, 0.1)
		f.DropOuts[i] = d
	}
	for i, e := range f.Echoes {
		f.Echoes[i] = Echo{e.Marker, round(e.DelayS, 1e-3), tidied(e.Figure, 1e-2)}
	}
	for i := range f.ZeroDBFS {
		f.ZeroDBFS[i], f.NoiseTo[i] = round(f.ZeroDBFS[i], 1e-2), round(f.NoiseTo[i], 1e-2)
	}
	if f.EchoFloor != nil {
		*f.EchoFloor = round(*f.EchoFloor, 0.1)
	}
	f.StartS, f.LengthS, f.Watched = round(f.StartS, 1e-3), round(f.LengthS, 1e-3), round(f.Watched, 0.1)
	for i, m := range f.Markers {
		f.Markers[i] = round(m, 1e-3)
	}
	f.FlutterS = round(f.FlutterS, 1e-3)
}

// echoWithin is what flutter between a marker and its echo takes from either: our
// own estimate, from modelled decks.
const echoWithin = 0.5 // dB

// Levels that tell channels apart, in dB.
const (
	missingBy = 40 // a channel that is so much weaker is not connected
	swappedBy = 6  // the other channel is so much louder while one sounds alone
)

// silent tells that nothing came back in a channel of the capture.
func (t *tester) silent(c int) bool {
	loudest := math.Inf(-1)
	for _, z := range t.zero {
		loudest = max(loudest, z.Value)
	}
	return t.zero[c].Value < loudest-missingBy
}

// sides finds which channel of the capture is left.
func (t *tester) sides() []int {
	if t.c.Channels == 1 {
		return []int{0}
	}
	straight := []int{0, 1}
	l, r := t.alone[0], t.alone[1]
	// While left sounds alone: the first channel against the second.
	first := l[0].Value - l[1].Value
	second := r[1].Value - r[0].Value
	switch {
	case t.silent(0) || t.silent(1):
		// One channel came back: which one it is, is told by when it sounds.
		there := 0
		if t.silent(0) {
			there = 1
		}
		if l[there].Value < r[there].Value-swappedBy && there == 0 || r[there].Value < l[there].Value-swappedBy && there == 1 {
			t.f.Swapped = true
		}
		isLeft := (there == 0) != t.f.Swapped
		t.f.OneSided = "right"
		if !isLeft {
			t.f.OneSided = "left"
		}
		t.note("the %s channel did not come back: look at plugs, cable and heads", t.f.OneSided)
	case first < -swappedBy && second < -swappedBy:
		t.f.Swapped = true
	case math.Abs(first) < swappedBy && math.Abs(second) < swappedBy && math.Abs(l[0].Value-t.zero[0].Value) < 10:
		t.f.Alike = true
		t.note("left alone came back in both channels: a mono deck, head or cable; channel figures are left out")
	}
	if t.f.Swapped {
		t.note("left and right are swapped")
		return []int{1, 0}
	}
	return straight
}

// automatic tells an automatic level: it brings what is 20 dB lower nearly back up.
func (t *tester) automatic(c int) {
	if t.zero[c].Value-t.ref[c].Value < 17 && !t.f.AutoLevel {
		t.f.AutoLevel = true
		t.note("an automatic level was on, in recording or in the capture: switch it off; levels, distortion and noise mean nothing with it")
	}
}

func (t *tester) response(i, c int) {
	ref := Figure{t.ref[c].Value, and(t.ref[c].Within, t.drift[c]/2)}
	out := []Tone{}
	for _, tone := range t.tones[c] {
		r := tone.less(ref)
		out = append(out, Tone{tone.Hz, r})
		if tone.Hz == 10000 {
			t.f.Bias[i] = &r
		}
	}
	out = append(out, Tone{referenceHz, Figure{0, 0}})
	slices.SortFunc(out, func(a, b Tone) int { return int(a.Hz - b.Hz) })
	t.f.Response[i] = out
}

// distortion finds the level at which the third harmonic passes 3 %.
func (t *tester) distortion(i, c int) {
	limit := dB(ThirdHarmonic / 100)
	third, back, zero := t.third[c], t.back[c], t.zero[c]
	for k, db := range levelSteps {
		t.f.Steps[i] = append(t.f.Steps[i], Step{db, back[k].Value - zero.Value, 100 * amplitude(third[k].Value)})
	}
	switch {
	case t.f.AutoLevel:
		t.f.MOLBound[i] = "automatic"
		return
	case third[0].Value > limit:
		t.f.MOLBound[i] = "under"
		t.f.NoiseTo[i] = 0
		return
	}
	for k := 1; k < len(third); k++ {
		a, b := third[k-1], third[k]
		if b.Value < limit {
			continue
		}
		part := (limit - a.Value) / (b.Value - a.Value)
		wide := levelSteps[k] - levelSteps[k-1]
		slope := (b.Value - a.Value) / wide
		at := levelSteps[k-1] + part*wide
		// The harmonic grows about 2 dB a dB; between steps a straight line is off
		// by some hundredths of the step squared.
		t.f.MOL[i] = &Figure{at, and(and((1-part)*a.Within, part*b.Within)/slope, 0.04*wide*wide)}
		t.f.NoiseTo[i] = back[k-1].Value + part*(back[k].Value-back[k-1].Value) - zero.Value
		return
	}
	t.f.MOLBound[i] = "over"
}

// quietness tells noise against full level.
func (t *tester) quietness(i, c int) {
	full := t.zero[c]
	full.Value += t.f.NoiseTo[i] - dB(math.Sqrt2) // rms of the tone
	if m := t.f.MOL[i]; m != nil {
		full.Within = and(full.Within, m.Within)
	}
	for k, to := range []*[]*Figure{&t.f.Noise468, &t.f.NoiseRMS, &t.f.NoiseA, &t.f.NoiseFlat} {
		v := t.noise[c][k].less(full)
		(*to)[i] = &v
	}
}

// What tells a noise reduction, in dB: our own choice, between what it does (10
// dB at 4 kHz and more for type B, by a retailer's sheet) and what tape does.
const (
	trackingOff = 1.5 // 4 kHz against 400 Hz, at -40 dB against at -20 dB
	noiseRises  = 5.0 // noise of 2 to 3 kHz under a loud tone of 10 kHz against the pause

	noiseFrom, noiseTo = 2000, 3000
)

// noiseReduction looks for its two marks. On one side only, or with levels that
// do not match, quiet treble comes back at another strength than loud treble. On
// both sides it lets noise rise where treble is loud.
func (t *tester) noiseReduction() {
	t.f.NoiseReduction = "none seen"
	if t.f.AutoLevel {
		t.f.NoiseReduction = "not judged"
		return
	}
	for c := range t.c.Channels {
		if t.silent(c) || len(t.low[c]) < 2 {
			continue
		}
		var loud Figure
		for _, tone := range t.tones[c] {
			if tone.Hz == 4000 {
				loud = tone.less(t.ref[c])
			}
		}
		off := t.low[c][1].less(t.low[c][0]).less(loud)
		rise := 10 * math.Log10((t.bands[0][c]+1e-30)/(t.bands[1][c]+1e-30))
		if math.Abs(off.Value) > trackingOff+off.Within {
			t.f.NoiseReduction = "on one side"
			t.note("a noise reduction was on for recording or for playing alone, or does not track: quiet treble came back %+.1f dB against loud treble; switch it off and make the test again", off.Value)
			return
		}
		if rise > noiseRises && t.bands[1][c] > 1e-14 {
			t.f.NoiseReduction = "on"
			t.note("a noise reduction was on: noise rises by %.0f dB where treble is loud; switch it off and make the test again, for the figures of the tape itself", rise)
			return
		}
	}
}

// azimuth is the delay of the right channel, from the phases of tones that rise
// in steps small enough to count whole periods.
func (t *tester) azimuth() {
	p := slices.Clone(t.phases)
	slices.SortFunc(p, func(a, b phase) int { return int(a.hz - b.hz) })
	if t.f.Alike {
		return
	}
	sign := 1.0
	if t.f.Swapped {
		sign = -1
	}
	// One channel inverted turns every phase by half a period; the low tones,
	// which no azimuth turns by a quarter, tell.
	var low complex128
	for _, x := range p {
		if x.hz < 200 {
			low += complex(math.Cos(x.angle), math.Sin(x.angle))
		}
	}
	turn := 0.0
	if real(low) < 0 {
		t.f.Inverted, turn = true, math.Pi
		t.note("one channel is inverted against the other: bass is lost in mono")
	}
	delay, within, ok := fit(p, func(x phase) float64 { return sign*x.angle - turn })
	if !ok {
		return
	}
	// Where treble differs between the channels, so do their phases: by Bode's
	// law about a quarter turn for each 6 dB an octave. What that makes is taken
	// out, and most of it is doubted.
	straight, within2, ok := fit(p, func(x phase) float64 { return sign*x.angle - turn - sign*t.bode(x.hz) })
	if !ok {
		straight, within2 = delay, within
	}
	t.f.Azimuth = &Figure{1e6 * straight, and(1e6*max(within, within2), 0.7e6*math.Abs(delay-straight), azimuthWithin)}
}

// azimuthWithin is what unequal channels can pass for, in us: our own estimate,
// from modelled decks. At 10 kHz it is a hundredth of a period.
const azimuthWithin = 1.0

// bode is how much the right channel of the file lags the left one at a
// frequency, in radians, by how their levels differ around it.
func (t *tester) bode(hz float64) float64 {
	type at struct{ x, y float64 }
	all := []at{{math.Log(referenceHz), 0}}
	for k, a := range t.tones[0] {
		b := t.tones[1][k]
		all = append(all, at{math.Log(a.Hz), ((b.Value - t.ref[1].Value) - (a.Value - t.ref[0].Value)) / (20 / math.Ln10)})
	}
	slices.SortFunc(all, func(a, b at) int {
		if a.x < b.x {
			return -1
		}
		return 1
	})
	// The slope over some two thirds of an octave to both sides.
	x := math.Log(hz / t.speed)
	var sx, sy, sxx, sxy, n float64
	for _, p := range all {
		if math.Abs(p.x-x) < 0.5 {
			sx, sy, sxx, sxy, n = sx+p.x, sy+p.y, sxx+p.x*p.x, sxy+p.x*p.y, n+1
		}
	}
	if n < 2 || n*sxx-sx*sx < 1e-9 {
		return 0
	}
	return -math.Pi / 2 * (n*sxy - sx*sy) / (n*sxx - sx*sx)
}

// fit is the delay in seconds that phases speak for, which rise with frequency;
// each is counted on from the ones before it.
func fit(p []phase, angle func(phase) float64) (delay, within float64, ok bool) {
	var weights, square float64
	var used []phase
	for _, x := range p {
		w := 2 * math.Pi * x.hz
		if x.hz < 90 {
			continue
		}
		expected := w * delay
		a := expected + math.Remainder(angle(x)-expected, 2*math.Pi)
		if x.hz > 5000 && math.Abs(a-expected) > 2 {
			break // too far off to count periods on
		}
		g := w / x.within
		square += g * g
		weights += g * a / x.within
		delay = weights / square
		used = append(used, phase{x.hz, a, x.within})
	}
	if len(used) < 4 {
		return 0, 0, false
	}
	var chi float64
	for _, x := range used {
		off := (x.angle - 2*math.Pi*x.hz*delay) / x.within
		chi += off * off
	}
	return delay, 1 / math.Sqrt(square) * max(1, 2*math.Sqrt(chi/float64(len(used)-1))), true
}
