package main

import "math"

// A piece is a list of notes over a four-chord round in the keynote's scale.
// Notes are a sine and an overtone under an envelope; that is enough to be
// pleasant at 8 kHz, and it packs well.
type note struct {
	at, length  float64 // seconds
	hz          float64
	level       float64 // 0 to 1, before the shape
	attack      float64 // seconds
	decay       float64 // time constant in seconds; 0: held to the end
	overtone    float64 // level of the octave
	pan, wobble float64 // -1 left to 1 right; depth of a slow tremolo
}

// The round, in semitones above the keynote: i, VI, III, VII of a minor scale.
var round = [4][3]int{{0, 3, 7}, {-4, 0, 3}, {3, 7, 10}, {-2, 2, 5}}

// synthesise gives the sound, a slice a channel, its loudest sample at the
// track's peak and its edges silent.
func synthesise(t track) [][]float64 {
	n := t.Samples
	ch := make([][]float64, t.Channels)
	for i := range ch {
		ch[i] = make([]float64, n)
	}
	length := float64(n) / float64(t.Rate)
	for _, v := range score(t, length-t.Head-t.Tail) {
		v.at += t.Head
		v.length = min(v.length, length-t.Tail-v.at)
		v.level *= math.Pow(10, shapeAt(t.Shape, (v.at-t.Head)/(length-t.Head-t.Tail))/20)
		play(ch, t.Rate, v)
	}
	loudest := 0.0
	for _, c := range ch {
		for _, x := range c {
			loudest = max(loudest, math.Abs(x))
		}
	}
	gain := math.Pow(10, t.Peak/20) / loudest
	for _, c := range ch {
		for i := range c {
			c[i] *= gain
		}
	}
	return ch
}

// shapeAt is the shape's level in dB at x (0 to 1), straight between its points.
func shapeAt(shape []float64, x float64) float64 {
	p := min(max(x, 0), 0.9999) * float64(len(shape)-1)
	i := int(p)
	return shape[i] + (shape[i+1]-shape[i])*(p-float64(i))
}

// score writes the notes of a track that plays for so many seconds. A small
// generator seeded by the track's number picks among the chord's notes.
func score(t track, length float64) []note {
	seed := uint32(t.Number)*2654435761 + 1
	pick := func(n int) int {
		seed = seed*1664525 + 1013904223
		return int(seed>>16) % n
	}
	hz := func(semitones int) float64 { return t.Root * math.Pow(2, float64(semitones)/12) }
	beats := 4
	if t.Sound == "waltz" {
		beats = 3
	}
	bar := t.Beat * float64(beats)
	var out []note
	for b := 0; float64(b)*bar < length; b++ {
		at := float64(b) * bar
		chord := round[b%4]
		switch t.Sound {
		case "pads":
			for i, s := range chord {
				out = append(out, note{at: at, length: bar * 1.02, hz: hz(s + 12), level: 0.5, attack: bar / 4, overtone: 0.25, pan: float64(i-1) / 2, wobble: 0.3})
			}
			if b%2 == 1 {
				out = append(out, note{at: at + t.Beat*2, length: 2 * t.Beat, hz: hz(chord[pick(3)] + 24), level: 0.6, attack: 0.02, decay: 0.6, overtone: 0.3})
			}
		case "bells":
			for q := range beats {
				if pick(5) < 3 {
					out = append(out, note{at: at + float64(q)*t.Beat, length: 0.8, hz: hz(chord[pick(3)] + 12*(1+pick(2))), level: 0.7, attack: 0.004, decay: 0.18, overtone: 0.2, pan: float64(q%3-1) / 2})
				}
			}
			if b%2 == 0 {
				out = append(out, note{at: at, length: 1, hz: hz(chord[0]), level: 1, attack: 0.01, decay: 0.3, overtone: 0.2})
			}
		case "waltz":
			out = append(out, note{at: at, length: t.Beat, hz: hz(chord[0]), level: 1, attack: 0.01, decay: 0.25, overtone: 0.4, pan: -0.2})
			for q := 1; q < 3; q++ {
				for _, s := range chord[1:] {
					out = append(out, note{at: at + float64(q)*t.Beat, length: 0.5 * t.Beat, hz: hz(s + 12), level: 0.4, attack: 0.01, decay: 0.12, overtone: 0.2, pan: 0.3})
				}
			}
			if b%4 > 0 {
				out = append(out, note{at: at, length: 2 * t.Beat, hz: hz(chord[pick(3)] + 24), level: 0.5, attack: 0.02, decay: 0.4, overtone: 0.1})
			}
		case "pulse":
			for q := range 2 * beats {
				out = append(out, note{at: at + float64(q)*t.Beat/2, length: t.Beat * 0.45, hz: hz(chord[pick(3)] + 12), level: 0.6, attack: 0.004, decay: 0.1, overtone: 0.5, pan: float64(q%2)*1.2 - 0.6})
			}
			for q := 0; q < beats; q += 2 {
				out = append(out, note{at: at + float64(q)*t.Beat, length: t.Beat * 0.9, hz: hz(chord[0] - 12), level: 1, attack: 0.004, decay: 0.15, overtone: 0.3})
			}
		case "buoy":
			// A bell that the swell strikes, never quite in time.
			for range 1 + pick(2) {
				out = append(out, note{at: at + float64(pick(100))/40, length: 4, hz: hz(19 + 5*pick(2)), level: 0.6 + float64(pick(4))/10, attack: 0.003, decay: 1.1, overtone: 0.4})
			}
		}
	}
	return out
}

// play adds one note to the channels.
func play(ch [][]float64, rate int, v note) {
	from, count := int(v.at*float64(rate)), int(v.length*float64(rate))
	// A release of 20 ms keeps the end from clicking.
	const release = 0.02
	for i := range count {
		if from+i >= len(ch[0]) {
			return
		}
		t := float64(i) / float64(rate)
		e := v.level * min(1, t/v.attack) * min(1, (v.length-t)/release)
		if v.decay > 0 {
			e *= math.Exp(-t / v.decay)
		}
		w := 2 * math.Pi * v.hz * t
		x := e * (1 - v.wobble*(0.5-0.5*math.Cos(w/80))) * (math.Sin(w) + v.overtone*math.Sin(2*w))
		if len(ch) == 1 {
			ch[0][from+i] += x
			continue
		}
		ch[0][from+i] += x * (1 - v.pan) / 2
		ch[1][from+i] += x * (1 + v.pan) / 2
	}
}

// quantise rounds to whole numbers of the given width, channels interleaved.
// Coarse rounds to 8 bits first: the low bits are then all zero, which FLAC
// leaves out, and the end of a quiet note becomes true silence.
func quantise(ch [][]float64, bits int, coarse bool) []int {
	full := math.Exp2(float64(bits - 1))
	step := 1.0
	if coarse {
		step = full / 128
	}
	out := make([]int, 0, len(ch[0])*len(ch))
	for i := range ch[0] {
		for _, c := range ch {
			v := math.Round(c[i]*full/step) * step
			out = append(out, int(min(max(v, -full), full-1)))
		}
	}
	return out
}
