package verify_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"longside/media/verify"
)

var sides = flag.Int("sides", 3, "modelled sides to judge; 100 for the long run by hand")

// tune is a made-up piece: notes of a few voices at places between the channels,
// with rests, over a beat. No two are alike.
func tune(rate int, long float64, seed uint64) [][]float32 {
	rng := rand.New(rand.NewPCG(seed, 99))
	n := int(long * float64(rate))
	x := [][]float32{make([]float32, n), make([]float32, n)}
	beat := 0.17 + 0.2*rng.Float64()
	for voice := range 4 {
		pan := rng.Float64()
		for at := 0.0; at < long; {
			step := beat * float64(1+rng.IntN(4))
			if rng.IntN(5) > 0 {
				hz := 110 * math.Pow(2, float64(voice)*0.9+float64(rng.IntN(14))/12)
				loud := 0.03 + 0.12*rng.Float64()
				fall := 0.08 + 0.5*rng.Float64()
				rich := rng.Float64()
				for i := int(at * float64(rate)); i < min(n, int((at+step*0.95)*float64(rate))); i++ {
					t := float64(i)/float64(rate) - at
					e := loud * math.Exp(-t/fall) * min(1, t/0.004)
					p := 2 * math.Pi * hz * t
					v := e * (math.Sin(p) + 0.5*rich*math.Sin(2*p+1) + 0.3*rich*math.Sin(3.01*p))
					x[0][i] += float32(v * math.Sqrt(1-pan))
					x[1][i] += float32(v * math.Sqrt(pan))
				}
			}
			at += step
		}
	}
	return x
}

// recording is a side as it was sent and what a deck made of it.
type recording struct {
	rng    *rand.Rand
	rate   int
	sent   []verify.Sent
	tracks [][][]float32

	before, speed, drift float64
	noise                float64
	gain                 [2]float64
	swap                 bool
	left                 int       // track that was not recorded; -1: none
	late                 []float64 // of each track, s
	cutAt                float64   // of the last track: it ends so early; 0: whole
	hole                 [2]float64
	holeIn               int
	drops                []dropOut // at: in the tape's time
}

// play makes the capture: what lies on the tape, read at a changing speed.
func (r *recording) play() [][]float32 {
	end := 0.0
	for i, s := range r.sent {
		end = max(end, s.Start+s.Length+r.late[i])
	}
	rate := float64(r.rate)
	n := int((r.before + end/r.speed + 3) * rate)
	out := [][]float32{make([]float32, n), make([]float32, n)}
	for i := range n {
		t := float64(i)/rate - r.before
		p := (t + r.drift*t*t/2 + 0.0004/(2*math.Pi*0.7)*math.Sin(2*math.Pi*0.7*t)) * r.speed
		var v [2]float64
		for k, s := range r.sent {
			at := p - s.Start - r.late[k]
			if at < 0 || at >= s.Length || k == r.left {
				continue
			}
			if k == len(r.sent)-1 && r.cutAt > 0 && at > r.cutAt {
				continue
			}
			if k == r.holeIn && at > r.hole[0] && at < r.hole[1] {
				continue
			}
			q := at * rate
			j := int(q)
			x := r.tracks[k]
			if j+1 >= len(x[0]) {
				continue
			}
			for c := range v {
				a, b := float64(x[c][j]), float64(x[c][j+1])
				v[c] = a + (b-a)*(q-float64(j))
			}
		}
		for _, d := range r.drops {
			if p > d.at && p < d.at+d.long {
				for c := range v {
					if d.channel == c || d.channel == 2 {
						v[c] *= math.Pow(10, -d.depth/20)
					}
				}
			}
		}
		for c := range v {
			to := c
			if r.swap {
				to = 1 - c
			}
			out[to][i] = float32(v[c]*r.gain[c] + r.noise*r.rng.NormFloat64())
		}
	}
	return out
}

func anySide(seed uint64) *recording {
	rng := rand.New(rand.NewPCG(seed, 7))
	u := func(from, to float64) float64 { return from + (to-from)*rng.Float64() }
	r := &recording{rng: rng, rate: 44100, before: u(0, 15), speed: 1 + u(-0.025, 0.025), drift: u(-1e-5, 1e-5),
		noise: math.Pow(10, u(-72, -60)/20), swap: rng.IntN(4) == 0, left: -1, holeIn: -1}
	level := u(-12, 0)
	for c := range r.gain {
		r.gain[c] = math.Pow(10, (level+u(-1, 1))/20)
	}
	at := 7.0
	for k := range 3 {
		long := u(18, 26)
		x := tune(r.rate, long, seed*10+uint64(k))
		source := captured(r.rate, x)
		r.sent = append(r.sent, verify.Sent{Title: fmt.Sprint("piece ", k+1), Start: at, Length: long, Source: &source})
		r.tracks = append(r.tracks, x)
		r.late = append(r.late, 0)
		at += long + 4
	}
	return r
}

// Random sides by random decks: whole ones are whole, without a drop-out; what
// lacks is told, with its track and place.
func TestModelledSides(t *testing.T) {
	t.Parallel()
	count := *sides
	if underRace {
		count = 1
	}
	for seed := uint64(1); seed <= uint64(count); seed++ {
		r := anySide(seed)
		kind := []string{"whole", "damaged", "track missing"}[seed%3]
		switch kind {
		case "damaged":
			r.cutAt = 12
			r.holeIn, r.hole = 0, [2]float64{6, 7.5}
			for k := range 2 {
				r.drops = append(r.drops, dropOut{at: r.sent[1].Start + 5 + 6*float64(k), long: 0.12, depth: 40, channel: 2})
			}
		case "track missing":
			r.left = 1
			r.late[2] = 2.5
		}
		x := r.play()
		f, err := verify.Side(context.Background(), captured(r.rate, x), r.sent, nil)
		if err != nil {
			t.Errorf("side %d, %s: %v", seed, kind, err)
			continue
		}
		if f.Swapped != r.swap || f.OneSided != "" || f.Alike {
			t.Errorf("side %d: swapped %v, put in %v; %q", seed, f.Swapped, r.swap, f.Notes)
		}
		anchor := 0.0
		for i, h := range f.Tracks {
			if h.Found != (i != r.left) {
				t.Errorf("side %d, %s: track %d found: %v", seed, kind, i+1, h.Found)
			}
			if !h.Found {
				continue
			}
			// When it begins, by halving; its speed there.
			when := func(p float64) float64 {
				lo, hi := 0.0, 1000.0
				for range 60 {
					m := (lo + hi) / 2
					s := m - r.before
					if (s+r.drift*s*s/2+0.0004/(2*math.Pi*0.7)*math.Sin(2*math.Pi*0.7*s))*r.speed < p {
						lo = m
					} else {
						hi = m
					}
				}
				return lo
			}
			start, end := when(r.sent[i].Start+r.late[i]), when(r.sent[i].Start+r.late[i]+r.sent[i].Length)
			if math.Abs(h.StartS-start) > 0.02 {
				t.Errorf("side %d: track %d begins at %.3f, put in %.3f", seed, i+1, h.StartS, start)
			}
			if anchor == 0 {
				anchor = h.LateS
			}
			if math.Abs(h.LateS-r.late[i]) > 0.1 {
				t.Errorf("side %d: track %d is %.2f s late, put in %.2f", seed, i+1, h.LateS, r.late[i])
			}
			if h.Speed != nil && kind == "whole" {
				want := 100 * (r.sent[i].Length/(end-start) - 1)
				if math.Abs(h.Speed.Value-want) > 2*h.Speed.Within+0.002 {
					t.Errorf("side %d: speed of track %d %.4f within %.4f, put in %.4f", seed, i+1, h.Speed.Value, h.Speed.Within, want)
				}
			}
			whole := kind != "damaged" || i == 1
			if h.Whole != whole {
				t.Errorf("side %d, %s: track %d whole: %v, %+v", seed, kind, i+1, h.Whole, h.Holes)
			}
			if drops := len(h.DropOuts); kind == "damaged" && i == 1 {
				if drops < 2 || drops > 4 {
					t.Errorf("side %d: %d drop-outs of 2 in both channels: %+v", seed, drops, h.DropOuts)
				}
				for _, d := range h.DropOuts {
					if math.Abs(d.TrackS-5) > 0.15 && math.Abs(d.TrackS-11) > 0.15 {
						t.Errorf("side %d: no drop-out was put in at %.2f", seed, d.TrackS)
					}
				}
			} else if drops > 0 {
				t.Errorf("side %d, %s: track %d has drop-outs that were not put in: %+v", seed, kind, i+1, h.DropOuts)
			}
			if kind == "damaged" && i == 2 && (len(h.Holes) != 1 || !h.Holes[0].ToEnd || math.Abs(h.Holes[0].FromS-12) > 0.5) {
				t.Errorf("side %d: cut at 12 s: %+v", seed, h.Holes)
			}
			if kind == "damaged" && i == 0 && (len(h.Holes) != 1 || h.Holes[0].ToEnd || math.Abs(h.Holes[0].FromS-6) > 0.4 || math.Abs(h.Holes[0].ToS-7.5) > 0.4) {
				t.Errorf("side %d: a hole from 6 to 7.5 s: %+v", seed, h.Holes)
			}
		}
	}
}

// Another side's capture is none of this one's, and a track from no file is not judged.
func TestNotThisSide(t *testing.T) {
	t.Parallel()
	r := anySide(101)
	other := anySide(202)
	x := other.play()
	if _, err := verify.Side(context.Background(), captured(r.rate, x), r.sent, nil); !errors.Is(err, verify.ErrNotSide) {
		t.Errorf("another side: %v", err)
	}
	if underRace {
		return
	}
	r.sent[1].Source = nil
	f, err := verify.Side(context.Background(), captured(r.rate, r.play()), r.sent, nil)
	if err != nil || f.Tracks[1].Judged || f.Tracks[1].Found || !f.Tracks[2].Whole {
		t.Errorf("%v %+v", err, f)
	}
}

// BenchmarkSide lays an hour at 48 kHz against its tracks, the sources' samples
// being at hand.
func BenchmarkSide(b *testing.B) {
	r := &recording{rng: rand.New(rand.NewPCG(1, 1)), rate: 48000, left: -1, holeIn: -1}
	const long = 200.0
	piece := tune(r.rate, long, 1)
	var whole [2][]float32
	for k := range 18 {
		x := piece
		if k > 0 {
			x = tune(r.rate, long, uint64(k+1))
		}
		source := captured(r.rate, x)
		r.sent = append(r.sent, verify.Sent{Title: fmt.Sprint(k), Start: float64(k) * long, Length: long, Source: &source})
		for c := range whole {
			whole[c] = append(whole[c], x[c]...)
		}
	}
	c := captured(r.rate, whole[:])
	b.ResetTimer()
	for b.Loop() {
		began := time.Now()
		f, err := verify.Side(context.Background(), c, r.sent, nil)
		if err != nil || !f.Tracks[17].Whole {
			b.Fatal(err)
		}
		b.ReportMetric(c.Seconds()/time.Since(began).Seconds(), "x-real-time")
	}
}
