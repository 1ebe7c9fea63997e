package verify_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"sort"
	"testing"

	"longside/media/verify"
)

var decks = flag.Int("decks", 1, "modelled decks to measure; 120 for the long run by hand")
var firstDeck = flag.Uint64("first", 1, "seed of the first")

// score counts how often a figure held what was put in.
type score struct {
	total, held int
	off         []float64 // distance in parts of Within
	worst       string
}

type scores map[string]*score

func (s scores) add(name string, seed uint64, f verify.Figure, truth float64) {
	x := s[name]
	if x == nil {
		x = &score{}
		s[name] = x
	}
	x.total++
	part := math.Abs(f.Value-truth) / f.Within
	if math.IsNaN(part) {
		part = math.Inf(1)
	}
	if part <= 1 {
		x.held++
	}
	if len(x.off) == 0 || part > slices.Max(x.off) {
		x.worst = fmt.Sprintf("deck %d: %.4f within %.4f, put in %.4f", seed, f.Value, f.Within, truth)
	}
	x.off = append(x.off, part)
}

// Random decks: every figure lies within its stated uncertainty of what was put
// in, as often as stated (95 in 100).
func TestModelledDecks(t *testing.T) {
	if testing.Short() {
		t.Skip("modelling a deck takes seconds")
	}
	all := scores{}
	falseDrops, falseEchoes, missedDrops, missedEchoes, drops, echoes := 0, 0, 0, 0, 0, 0
	for seed := *firstDeck; seed < *firstDeck+uint64(*decks); seed++ {
		d := anyDeck(seed)
		cues, long, err := verify.Programme(d.zero)
		if err != nil {
			t.Fatal(err)
		}
		x := d.play(cues, long.Seconds())
		f, err := verify.Test(context.Background(), captured(d.rate, x), nil)
		if err != nil {
			t.Errorf("deck %d: %v", seed, err)
			continue
		}
		d.compare(t, seed, f, all)
		a, b, c := d.compareDrops(t, seed, f)
		drops, missedDrops, falseDrops = drops+a, missedDrops+b, falseDrops+c
		a, b, c = d.compareEchoes(t, seed, f, all)
		echoes, missedEchoes, falseEchoes = echoes+a, missedEchoes+b, falseEchoes+c
	}
	var names []string
	for n := range all {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		s := all[n]
		p := float64(s.held) / float64(s.total)
		sort.Float64s(s.off)
		half := s.off[len(s.off)/2]
		t.Logf("%-22s %4d of %4d (%.1f %%), half of them within %.2f of it; worst %s", n, s.held, s.total, 100*p, half, s.worst)
		if allow := 0.95 - 2.5*math.Sqrt(0.95*0.05/float64(s.total)) - 0.5/float64(s.total); p < allow {
			t.Errorf("%s: within its uncertainty in %d of %d", n, s.held, s.total)
		}
	}
	t.Logf("drop-outs: %d put in where tones are watched, %d missed, %d told that were not there; echoes: %d over the floor, %d missed, %d not there", drops, missedDrops, falseDrops, echoes, missedEchoes, falseEchoes)
	if missedDrops > 0 || falseDrops > 0 || missedEchoes > 0 || falseEchoes > 0 {
		t.Errorf("drop-outs or echoes missed or made up")
	}
}

func (d *deck) compare(t *testing.T, seed uint64, f verify.Findings, all scores) {
	rate := float64(d.rate)
	// Where a drop-out meets a tone, that tone is not judged but for its uncertainty.
	meanSpeed, weighted, raw := d.flutter()
	all.add("speed", seed, f.Speed, 100*(meanSpeed/d.clock-1)) // its own clock is the card's, not the world's
	all.add("flutter weighted", seed, *f.Flutter, weighted)
	all.add("flutter unweighted", seed, *f.FlutterRaw, raw)
	if f.Swapped != d.swap {
		t.Errorf("deck %d: swapped %v, put in %v", seed, f.Swapped, d.swap)
	}
	if want := d.before / d.clock; math.Abs(f.StartS-want) > 0.005 {
		t.Errorf("deck %d: starts at %.4f, put in %.4f", seed, f.StartS, want)
	}
	l := d.side[0]
	first := 0
	if d.swap {
		first = 1
	}
	if want := map[bool]string{true: "inverted", false: "kept"}[d.side[first].gain < 0]; f.Polarity != want && f.Polarity != "unclear" {
		t.Errorf("deck %d: polarity %s, put in %s", seed, f.Polarity, want)
	}
	if f.Inverted != (l.gain*d.side[1].gain < 0) {
		t.Errorf("deck %d: one channel inverted %v", seed, f.Inverted)
	}
	if f.AutoLevel || f.NoiseReduction != "none seen" || f.Clipped > 0 || f.Alike || f.OneSided != "" {
		t.Errorf("deck %d: said to have what it has not: %+v", seed, f.Notes)
	}
	// How strong a tone comes back, 0 dB being 1.
	back := func(c int, hz, a float64) float64 {
		s := d.side[c]
		// The other channel's part of the same tone comes with it.
		return math.Abs(s.gain) * cmplx.Abs(s.response(hz*meanSpeed, rate)) * s.harmonic(a*(1+s.from), 1)
	}
	for c := range 2 {
		s := d.side[c]
		ref := back(c, 400, 0.1)
		for _, r := range f.Response[c] {
			if r.Hz != 400 {
				all.add(fmt.Sprintf("response %5g Hz", r.Hz), seed, r.Figure, db(back(c, r.Hz, 0.1)/ref))
			}
		}
		all.add("treble for bias", seed, *f.Bias[c], db(back(c, 10000, 0.1)/ref))
		third := func(level float64) float64 {
			a := math.Pow(10, level/20) * (1 + s.from)
			return math.Abs(s.harmonic(a, 3)) * cmplx.Abs(s.response(945*meanSpeed, rate)) / (s.harmonic(a, 1) * cmplx.Abs(s.response(315*meanSpeed, rate)))
		}
		full := 0.0
		switch {
		case third(8) < 0.03:
			if f.MOLBound[c] != "over" && third(8) < 0.029 {
				t.Errorf("deck %d: level of 3 %% is %q %v, third harmonic at 8 dB put in %.4f", seed, f.MOLBound[c], f.MOL[c], third(8))
			}
		case third(-6) > 0.03:
			if f.MOLBound[c] != "under" && third(-6) > 0.031 {
				t.Errorf("deck %d: level of 3 %% is %q", seed, f.MOLBound[c])
			}
		default:
			lo, hi := -6.0, 8.0
			for range 60 {
				if m := (lo + hi) / 2; third(m) < 0.03 {
					lo = m
				} else {
					hi = m
				}
			}
			if f.MOL[c] == nil {
				t.Errorf("deck %d: no level of 3 %%, put in %.2f dB (%q)", seed, lo, f.MOLBound[c])
				continue
			}
			all.add("level of 3 %", seed, *f.MOL[c], lo)
			full = db(back(c, 315, math.Pow(10, lo/20)) / back(c, 400, 1))
		}
		if f.MOL[c] == nil {
			full = 0
		}
		to := db(back(c, 400, 1)/math.Sqrt2) + full
		weigh := func(of func(hz float64) float64) float64 {
			// Noise is white before the filters: its power over frequency.
			const step = 5.0
			var p float64
			for hz := step / 2; hz < rate/2; hz += step {
				w := cmplx.Abs(s.response(hz, rate)) * math.Pow(10, of(hz)/20)
				p += w * w * step
			}
			p *= s.noise * s.noise / (rate / 2)
			w := math.Pow(10, of(50)/20)
			p += s.hum * s.hum / 2 * w * w
			return db(math.Abs(s.gain)) + 10*math.Log10(p) - to
		}
		all.add("noise A", seed, *f.NoiseA[c], weigh(tabled(tableA)))
		all.add("noise 468 rms", seed, *f.NoiseRMS[c], weigh(tabled(table468)))
		all.add("noise unweighted", seed, *f.NoiseFlat[c], weigh(func(hz float64) float64 {
			if hz < 22.4 || hz > 22400 {
				return -300
			}
			return 0
		}))
	}
	all.add("balance", seed, *f.Balance, db(back(0, 400, 1)/back(1, 400, 1)))
	if f.Azimuth == nil {
		t.Errorf("deck %d: no azimuth", seed)
	} else {
		all.add("azimuth", seed, *f.Azimuth, 1e6*(d.side[1].delay-d.side[0].delay))
	}
	for _, x := range f.Crosstalk {
		from := 0
		if x.From == "right" {
			from = 1
		}
		a := 1.0
		if x.Hz == 6300 {
			a = math.Pow(10, -0.5)
		}
		s, o := d.side[from], d.side[1-from]
		w := cmplx.Abs(o.response(x.Hz*meanSpeed, rate)) / cmplx.Abs(s.response(x.Hz*meanSpeed, rate))
		truth := db(math.Abs(s.gain)*s.harmonic(a, 1)) - db(math.Abs(o.gain)*o.harmonic(a*o.from, 1)*w)
		if x.Bound {
			if truth < x.Value-3 {
				t.Errorf("deck %d: crosstalk from %s at %g Hz is said to be %.1f dB or better, put in %.1f", seed, x.From, x.Hz, x.Value, truth)
			}
			continue
		}
		all.add("crosstalk", seed, x.Figure, truth)
	}
}

// flutter is the mean speed while 3150 Hz is heard, by the capture's clock, and
// the readings in per cent: what is not passed in 95.45 % of the time.
func (d *deck) flutter() (speed, reading, raw float64) {
	cues, _, _ := verify.Programme(d.zero)
	for _, c := range cues {
		if c.Tone != nil && c.Tone.Hz == 3150 {
			// When it is heard: by halving.
			when := func(p float64) float64 {
				lo, hi := 0.0, 400.0
				for range 60 {
					if m := (lo + hi) / 2; d.tape(m) < p {
						lo = m
					} else {
						hi = m
					}
				}
				return lo
			}
			from, to := when(c.Start.Seconds()), when((c.Start + c.Length).Seconds())
			speed = c.Length.Seconds() / (to - from)
			var all, flat []float64
			const places = 200000
			for i := range places {
				t := (from+(to-from)*float64(i)/places)*d.clock - d.before
				var v, u float64
				for _, w := range d.wobbles {
					u += w.part * math.Sin(2*math.Pi*w.hz*t+w.phase)
					for _, r := range aes6Rows {
						if r[0] == w.hz {
							v += w.part * math.Pow(10, r[1]/20) * math.Sin(2*math.Pi*w.hz*t+w.phase)
						}
					}
				}
				all, flat = append(all, math.Abs(v)), append(flat, math.Abs(u))
			}
			sort.Float64s(all)
			sort.Float64s(flat)
			reading, raw = 100*all[int(0.9545*places)], 100*flat[int(0.9545*places)]
		}
	}
	return speed, reading, raw
}

// watched tells whether tones are watched for drop-outs all through a stretch of
// the programme.
func (d *deck) watched(from, to float64) bool {
	cues, _, _ := verify.Programme(d.zero)
	for _, c := range cues {
		a, b := c.Start.Seconds()+0.2, (c.Start+c.Length).Seconds()-0.2
		if c.Tone == nil || c.Tone.ToHz > 0 || !c.Tone.Left || !c.Tone.Right || c.Tone.Hz < 250 || c.Tone.Level < d.zero-25 {
			continue
		}
		if c.Tone.Hz == 3150 {
			b -= 3
		}
		if d.tape(from) > a && d.tape(to) < b {
			return true
		}
	}
	return false
}

func (d *deck) compareDrops(t *testing.T, seed uint64, f verify.Findings) (put, missed, made int) {
	used := map[int]bool{}
	for _, o := range d.dropOuts {
		for c, name := range []string{"left", "right"} {
			if o.channel != 2 && o.channel != c {
				continue
			}
			hit := false
			for i, x := range f.DropOuts {
				if x.Channel == name && math.Abs(x.AtS-o.at) < 0.03 {
					hit, used[i] = true, true
					if d.watched(o.at, o.at+o.long) && (o.long > 0.04 && o.depth < 15 && math.Abs(x.DB-o.depth) > 3 || math.Abs(x.LongS-o.long) > 0.015) {
						t.Errorf("deck %d: a drop-out of %.0f ms and %.1f dB is told as %.0f ms and %.1f dB", seed, 1000*o.long, o.depth, 1000*x.LongS, x.DB)
					}
				}
			}
			if d.watched(o.at, o.at+o.long) {
				put++
				if !hit {
					missed++
					t.Logf("deck %d: drop-out missed: %.2f s (programme %.2f), %.0f ms, %.1f dB, %s", seed, o.at, d.tape(o.at), 1000*o.long, o.depth, name)
				}
			}
		}
	}
	for i, x := range f.DropOuts {
		if !used[i] {
			made++
			t.Logf("deck %d: no such drop-out: %+v", seed, x)
		}
	}
	return put, missed, made
}

func (d *deck) compareEchoes(t *testing.T, seed uint64, f verify.Findings, all scores) (put, missed, made int) {
	if f.EchoFloor == nil {
		t.Errorf("deck %d: no room to look for echoes", seed)
		return
	}
	used := map[int]bool{}
	for _, e := range d.echoes {
		for marker := 1; marker <= 2; marker++ {
			hit := false
			for i, x := range f.Echoes {
				if x.Marker == marker && math.Abs(x.DelayS-e.delay) < 0.02 {
					hit, used[i] = true, true
					all.add("echo level", seed, x.Figure, db(e.part))
				}
			}
			room := marker != 1 || e.delay > 0 || d.before > 4.5
			if db(e.part) > *f.EchoFloor+3 && room {
				put++
				if !hit {
					missed++
					t.Logf("deck %d: echo missed: %.2f s, %.1f dB, marker %d; floor %.1f dB", seed, e.delay, db(e.part), marker, *f.EchoFloor)
				}
			}
		}
	}
	for i, x := range f.Echoes {
		if !used[i] {
			made++
			t.Logf("deck %d: no such echo: %+v; floor %.1f", seed, x, *f.EchoFloor)
		}
	}
	return put, missed, made
}

// ITU-R BS.468-4, table 1 (31.5 Hz to 31.5 kHz); read in public source text that quotes it.
var table468 = [][2]float64{
	{31.5, -29.9}, {63, -23.9}, {100, -19.8}, {200, -13.8}, {400, -7.8}, {800, -1.9}, {1000, 0}, {2000, 5.6}, {3150, 9}, {4000, 10.5},
	{5000, 11.7}, {6300, 12.2}, {7100, 12}, {8000, 11.4}, {9000, 10.1}, {10000, 8.1}, {12500, 0}, {14000, -5.3}, {16000, -11.7},
	{20000, -22.2}, {31500, -42.7},
}

// IEC 61672-1, table of the A-weighting at nominal frequencies; from memory, and
// checked against its formula here.
var tableA = [][2]float64{
	{10, -70.4}, {20, -50.5}, {31.5, -39.4}, {50, -30.2}, {63, -26.2}, {80, -22.5}, {100, -19.1}, {125, -16.1}, {160, -13.4}, {200, -10.9},
	{250, -8.6}, {315, -6.6}, {400, -4.8}, {500, -3.2}, {630, -1.9}, {800, -0.8}, {1000, 0}, {1250, 0.6}, {1600, 1}, {2000, 1.2}, {2500, 1.3},
	{3150, 1.2}, {4000, 1}, {5000, 0.5}, {6300, -0.1}, {8000, -1.1}, {10000, -2.5}, {12500, -4.3}, {16000, -6.6}, {20000, -9.3},
}

// tabled is a curve through a table's rows.
func tabled(rows [][2]float64) func(hz float64) float64 {
	return func(hz float64) float64 {
		if hz <= rows[0][0] {
			return rows[0][1] - 60*math.Log10(rows[0][0]/hz)
		}
		for i := 1; i < len(rows); i++ {
			if a, b := rows[i-1], rows[i]; hz <= b[0] {
				return a[1] + (b[1]-a[1])*math.Log(hz/a[0])/math.Log(b[0]/a[0])
			}
		}
		a, b := rows[len(rows)-2], rows[len(rows)-1]
		return b[1] + (b[1]-a[1])*math.Log(hz/b[0])/math.Log(b[0]/a[0])
	}
}
