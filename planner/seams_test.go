package planner

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"longside/media"
	"longside/media/meter"
)

const seamRate = 44100

// player makes music by a seed: chords with their overtones, drums, a crowd, in
// shares of its own, in stereo, as loud as asked.
type player struct {
	r      *rand.Rand
	rms    float64
	shares [3]float64 // chords, drums, crowd
	notes  []float64
	tempo  float64 // beats a second
	crowd  [2]float64
	drum   float64
}

func newPlayer(r *rand.Rand) *player {
	p := &player{r: r, rms: math.Pow(10, -(8+22*r.Float64())/20), tempo: 1 + 2*r.Float64()}
	for i := range p.shares {
		if p.shares[i] = r.Float64(); r.IntN(3) == 0 {
			p.shares[i] = 0
		}
	}
	if p.shares == [3]float64{} {
		p.shares[r.IntN(3)] = 1
	}
	for range 3 + r.IntN(4) {
		p.notes = append(p.notes, 60*math.Pow(2, 4*r.Float64()))
	}
	return p
}

// play makes n frames from the place at on.
func (p *player) play(at, n int) [][2]float64 {
	out := make([][2]float64, n)
	var sum float64
	for i := range out {
		t := float64(at+i) / seamRate
		var c float64
		for k, f := range p.notes {
			f *= 1 + 0.003*math.Sin(2*math.Pi*(4+float64(k))*t)/(2*math.Pi*4)
			for h := 1; h <= 5; h++ {
				c += math.Sin(2*math.Pi*f*float64(h)*t+float64(k*h)) / float64(h*len(p.notes))
			}
		}
		beat := math.Mod(t*p.tempo, 1) / p.tempo
		p.drum = 0.6*p.drum + 0.4*(2*p.r.Float64()-1)
		d := 2 * math.Exp(-beat*12) * (math.Sin(2*math.Pi*70*beat) + p.drum)
		for c := range p.crowd {
			p.crowd[c] = 0.8*p.crowd[c] + 0.2*(2*p.r.Float64()-1)
		}
		for ch := range 2 {
			v := p.shares[0]*c*(1-0.2*float64(ch)) + p.shares[1]*d + 3*p.shares[2]*p.crowd[ch]
			out[i][ch] = v
			sum += v * v
		}
	}
	g := p.rms / math.Sqrt(sum/float64(2*n))
	for i := range out {
		out[i][0] *= g
		out[i][1] *= g
	}
	return out
}

// song is some music with a given end and beginning.
func song(r *rand.Rand, n int) [][2]float64 { return newPlayer(r).play(r.IntN(1<<20), n) }

// heardAs is what the meter makes of a track of which only the ends matter, kept in 16 bits.
func heardAs(t testing.TB, sound [][2]float64) meter.Result {
	t.Helper()
	m, err := meter.New(seamRate, 2)
	if err != nil {
		t.Fatal(err)
	}
	pcm := make([]float32, 0, 2*len(sound))
	for _, f := range sound {
		for _, v := range f {
			pcm = append(pcm, float32(math.Round(max(-1, min(1, v))*32767)/32768))
		}
	}
	m.Write(pcm)
	return m.Result()
}

// noise puts a floor of noise under a sound, at a level in dBFS.
func noise(r *rand.Rand, x [][2]float64, db float64) {
	a := math.Pow(10, db/20) * math.Sqrt(3)
	for i := range x {
		x[i][0] += a * (2*r.Float64() - 1)
		x[i][1] += a * (2*r.Float64() - 1)
	}
}

const outer = seamRate / 4 // what of a track's ends is made

// runThrough is a place in one recording: the end of a track, and the beginning of the next.
func runThrough(r *rand.Rand) (a, b [][2]float64) {
	x := song(r, 2*outer)
	noise(r, x, -90)
	return x[:outer], x[outer:]
}

// atSilence cuts two songs with a pause between them: somewhere in the pause, at
// its very beginning or its very end.
func atSilence(r *rand.Rand) (a, b [][2]float64) {
	floor := []float64{-200, -90, -75, -65, -58}[r.IntN(5)]
	x, y := song(r, outer), song(r, outer)
	// The first dies away as a string or a hall does; the second begins at once or softly.
	decay := float64(seamRate) * (0.02 + 0.3*r.Float64())
	for i := range x {
		g := math.Exp(-float64(i) / decay * 3)
		x[i][0] *= g
		x[i][1] *= g
	}
	if attack := seamRate / 10 * r.IntN(2); attack > 0 {
		for i := range attack {
			g := float64(i) / float64(attack)
			y[i][0] *= g
			y[i][1] *= g
		}
	}
	pause := int(float64(seamRate) * (0.2 + 2*r.Float64()))
	all := append(append(x, make([][2]float64, pause)...), y...)
	noise(r, all, floor)
	cut := outer + pause*[]int{0, 1, 2, 4}[r.IntN(4)]/4
	if cut == outer { // where it has died away
		cut += seamRate / 20
	}
	return all[cut-outer : cut], all[cut:min(len(all), cut+outer)]
}

// byFading ends the first song by fading it out, in a straight line, as a cosine
// or in dB, and begins the second at once or by fading in.
func byFading(r *rand.Rand) (a, b [][2]float64) {
	x, y := song(r, outer), song(r, outer)
	long := float64(seamRate) * (0.5 + 9*r.Float64())
	kind := r.IntN(3)
	for i := range x {
		left := float64(len(x)-i) / long // share of the fade still to come
		g := min(1, left)
		switch kind {
		case 1:
			g = 0.5 - 0.5*math.Cos(math.Pi*g)
		case 2:
			g = math.Pow(10, -3*(1-g))
		}
		x[i][0] *= g
		x[i][1] *= g
	}
	if in := int(float64(seamRate)*0.2*r.Float64()) * r.IntN(2); in > 0 {
		for i := range min(in, len(y)) {
			y[i][0] *= float64(i) / float64(in)
			y[i][1] *= float64(i) / float64(in)
		}
	}
	noise(r, x, -96)
	noise(r, y, -96)
	return x, y
}

// cutHard ends one song at its loudest and begins another at once.
func cutHard(r *rand.Rand) (a, b [][2]float64) {
	x, y := song(r, outer), song(r, outer)
	noise(r, x, -90)
	noise(r, y, -90)
	return x, y
}

// TestAlbumsJoined: albums cut by a program from one recording, cut at silence,
// and faded, eight tracks each. Not one false join among the latter two; SEAMS
// says how many albums of each (by default a few: CI's time).
func TestAlbumsJoined(t *testing.T) {
	albums := 6
	if s := os.Getenv("SEAMS"); s != "" {
		albums, _ = strconv.Atoi(s)
	}
	const seams = 7 // of an album of eight tracks
	count := func(cut func(*rand.Rand) (a, b [][2]float64), format string) (joined, of int) {
		for album := range albums {
			r := rand.New(rand.NewPCG(uint64(album), 18))
			for n := range seams {
				a, b := cut(r)
				x := media.Track{Album: "Night Ferry", Number: n + 1, Format: format}
				y := media.Track{Album: "night ferry", Number: n + 2, Format: format}
				if of++; RunsOn(x, y, heardAs(t, a), heardAs(t, b)) {
					joined++
				}
			}
		}
		return joined, of
	}
	for _, format := range []string{"FLAC", "MP3"} {
		for name, cut := range map[string]func(*rand.Rand) (a, b [][2]float64){"at silence": atSilence, "by fading": byFading} {
			if n, of := count(cut, format); n > 0 {
				t.Errorf("%s, %s: %d of %d seams are joined", format, name, n, of)
			}
		}
		// What is missed are seams in passages as quiet as a pause.
		n, of := count(runThrough, format)
		if n*100 < of*95 {
			t.Errorf("%s, from one recording: only %d of %d seams are joined", format, n, of)
		}
		hard, _ := count(cutHard, format)
		t.Logf("%s: %d of %d seams of one recording; of songs that end at their loudest and are followed at once %d", format, n, of, hard)
	}
}

// TestWhatFollows: only neighbours of one album, in its order, can run on.
func TestWhatFollows(t *testing.T) {
	loud := meter.Result{Opens: meter.Edge{Level: -20}, Closes: meter.Edge{Level: -20}}
	a := media.Track{Path: "a", Album: "Night Ferry", Disc: 1, Number: 3, Format: "MP3"}
	next := func(change func(*media.Track)) media.Track {
		b := a
		b.Path, b.Number = "b", 4
		change(&b)
		return b
	}
	part := func(from, length time.Duration) media.Track {
		return media.Track{Path: "x.flac", Format: "FLAC", Part: true, From: from, Length: length}
	}
	for name, c := range map[string]struct {
		a, b media.Track
		want bool
	}{
		"the next":              {a, next(func(*media.Track) {}), true},
		"the one after":         {a, next(func(b *media.Track) { b.Number = 5 }), false},
		"the one before":        {a, next(func(b *media.Track) { b.Number = 2 }), false},
		"of another album":      {a, next(func(b *media.Track) { b.Album = "Other" }), false},
		"of another disc":       {a, next(func(b *media.Track) { b.Disc = 2 }), false},
		"without a waveform":    {a, next(func(b *media.Track) { b.Format = "FLAC" }), true},
		"parts that meet":       {part(0, 100*time.Second), part(100*time.Second, 50*time.Second), true},
		"parts with a hole":     {part(0, 100*time.Second), part(102*time.Second, 50*time.Second), false},
		"parts turned round":    {part(100*time.Second, 50*time.Second), part(0, 100*time.Second), false},
		"of no album":           {media.Track{Number: 1}, media.Track{Number: 2}, false},
		"lossless, no waveform": {func() media.Track { f := a; f.Format = "FLAC"; return f }(), next(func(b *media.Track) { b.Format = "FLAC" }), false},
	} {
		if got := RunsOn(c.a, c.b, loud, loud); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// TestJoinRunOns: what runs on is named with what to do, joined when asked, but
// not against a wish, and not into a row that no side can hold.
func TestJoinRunOns(t *testing.T) {
	loud := meter.Result{Opens: meter.Edge{Level: -20}, Closes: meter.Edge{Level: -20}}
	quiet := meter.Result{Opens: meter.Edge{Level: -70}, Closes: meter.Edge{Level: -70}}
	album := func(seconds ...float64) Request {
		m := mix(seconds...)
		for i := range m.Items {
			m.Items[i].Album, m.Items[i].Track.Number, m.Items[i].Heard = "Night Ferry", i+1, &loud
		}
		return request(t, "C60", m)
	}
	r := album(300, 300, 300, 300)
	r.Mix.Items[2].Heard = &quiet
	p := make1(t, r)
	if !has(p.Warnings, "seam", Caution, `end of “a” into “b”: silence there is heard as a hole; join them with --join "a", or all such with --join auto`) || has(p.Warnings, "seam", Caution, `“c”`) {
		t.Errorf("%+v", p.Warnings)
	}
	r.JoinRunOns()
	if p = make1(t, r); !has(p.Warnings, "seam", Remark, `“a” runs on into “b”, and is joined to it`) || !side(p, 0).Tracks[0].Joined || side(p, 0).Tracks[1].Joined {
		t.Errorf("%+v", p.Warnings)
	}
	joined := func(r Request) (s string) {
		r.JoinRunOns()
		for _, it := range r.Mix.Items {
			if it.Wish.Join {
				s += it.Title
			}
		}
		return s
	}
	long := album(600, 600, 600, 600, 600) // a side holds 1760 s
	if got := joined(long); got != "ac" {
		t.Errorf("rows of %q", got)
	}
	long.JoinRunOns()
	if p = make1(t, long); !has(p.Warnings, "seam", Caution, `“b” into “c”, and joined they are longer than a side`) {
		t.Errorf("%+v", p.Warnings)
	}
	wished := album(100, 100, 100, 100)
	gap := Seconds(2 * time.Second)
	wished.Mix.Items[0].Wish.Gap = &gap
	wished.Mix.Items[2].Wish.Closes = OfSide
	if got := joined(wished); got != "b" {
		t.Errorf("against wishes: %q", got)
	}
}
