package programme

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum is the amplitude of each whole frequency in one second of sound: all
// tones here are whole frequencies, so that each falls into one bin.
func spectrum(x []float64) []float64 {
	c := fourier.NewFFT(len(x)).Coefficients(nil, x)
	out := make([]float64, len(c))
	for i, v := range c {
		out[i] = 2 * cmplx.Abs(v) / float64(len(x))
	}
	return out
}

func channel(x []int32, c, from, n, bits int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = float64(x[2*(from+i)+c]) / math.Ldexp(1, bits-1)
	}
	return out
}

// Every tone has its frequency and its level, in its channels and no other, and
// nothing else is in the file but noise of the last bit.
func TestTonesByFFT(t *testing.T) {
	for _, o := range []Options{{Rate: 44100, Bits: 16}, {Rate: 48000, Bits: 24}} {
		sections := Tones(-12, 30*time.Second)
		if o.Bits == 24 {
			sections = sections[:3]
		}
		for _, s := range sections {
			t.Run(fmt.Sprint(s.Name, " ", o.Rate, " ", o.Bits), func(t *testing.T) {
				l, x, _ := makeIt(t, s.Cues, 0, o)
				for i, c := range s.Cues {
					from := int(l.Spans[i].From) + o.Rate // a second in
					for ch, sounds := range []bool{c.Tone.Left, c.Tone.Right} {
						f := spectrum(channel(x, ch, from, o.Rate, o.Bits))
						hz := int(c.Tone.Hz)
						rest, at := 0.0, 0
						for k, v := range f {
							if k != hz && v > rest {
								rest, at = v, k
							}
						}
						if rest > math.Pow(10, -110.0/20) {
							t.Errorf("%s: %.1f dBFS of %d Hz in channel %d", c.Title, db(rest), at, ch)
						}
						switch {
						case sounds && math.Abs(db(f[hz])-c.Tone.Level) > 0.001:
							t.Errorf("%s: %.4f dBFS, want %g", c.Title, db(f[hz]), c.Tone.Level)
						case !sounds && f[hz] > 1e-6:
							t.Errorf("%s: %.1f dBFS in the silent channel", c.Title, db(f[hz]))
						}
					}
				}
			})
		}
	}
}

// A tone rises and falls without a step: its steepest sample is that of a
// steady sine.
func TestTonesDoNotClick(t *testing.T) {
	_, x, _ := makeIt(t, []Cue{{Start: time.Second, Length: time.Second, Tone: &Tone{Hz: 400, Level: 0, Left: true, Right: true}}}, 3*time.Second, Options{Bits: 24})
	full := math.Ldexp(1, 23)
	steepest := full * 2 * math.Pi * 400 / 44100
	bend := full * math.Pow(2*math.Pi*400/44100, 2) // second difference
	for i := 2; i < len(x)/2; i++ {
		d := float64(x[2*i] - x[2*i-2])
		dd := float64(x[2*i] - 2*x[2*i-2] + x[2*i-4])
		if math.Abs(d) > steepest*1.02 || math.Abs(dd) > bend*1.1 {
			t.Fatalf("a step of %.0f, a bend of %.0f at frame %d; a steady sine has %.0f and %.0f", d, dd, i, steepest, bend)
		}
	}
}

// The sections are what is promised: both heads' routines, each tone as long
// as asked for, levels relative to zero.
func TestToneSections(t *testing.T) {
	for _, s := range Tones(-14, time.Minute) {
		if s.Name == "" || strings.ContainsAny(s.Name, " /\\") || s.What == "" || s.Length() == 0 {
			t.Errorf("section %+v", s)
		}
		if s.Name == "round" && s.Length() != 3*time.Minute+time.Second {
			t.Errorf("the round lasts %v", s.Length())
		}
		for _, c := range s.Cues {
			if c.Tone.Level > -14 {
				t.Errorf("%s is over 0 dB", c.Title)
			}
		}
	}
	c := Calibration(-9.5, 45*time.Second, BiasLow)
	if len(c) != 2 || c[0].Tone.Level != -9.5 || c[0].Tone.Hz != 400 || c[1].Tone.Level != -29.5 || c[1].Tone.Hz != 10000 || c[1].Length != 45*time.Second || c[1].Start < 45*time.Second {
		t.Errorf("%+v", c)
	}
	if len(Routine(true)) < 4 || len(Routine(false)) < 4 {
		t.Error("a routine is too short to be one")
	}
}
