// Package meter listens to a track: how loud it is, where it is loudest, how
// high its waveform rises between samples, how long it is blank at its ends,
// how much treble it asks of a tape, what a record meter will show of it, and
// how its loudness goes from one moment to the next.
//
// Make a Meter with New, Write interleaved samples in pieces of any size, and
// take the Result. Memory does not grow with length. Nothing here opens files.
//
// Loudness is ITU-R BS.1770: K-weighting, 400 ms blocks that overlap by three
// quarters, gates at -70 LUFS and 10 LU under the mean of what is left.
// Loudness range is EBU Tech 3342. The maxima of momentary (400 ms) and
// short-term (3 s) loudness are taken every 10 ms, not every 100 ms: on the
// coarse grid case 13 of EBU Tech 3341 reads half a decibel low.
//
// The meter takes channels as they come: one is one, as BS.1770 counts it. What
// is to be measured as it will lie on a stereo tape is written as two.
package meter

import (
	"fmt"
	"math"
	"slices"
	"time"
)

const (
	// MinRate and MaxRate bound the sample rates that can be measured, in Hz.
	// Under MinRate the K-weighting's shelf (near 1.7 kHz) has no room.
	MinRate = 4000
	MaxRate = 768000

	// MaxChannels bounds the channels: more have no place in BS.1770's table.
	MaxChannels = 8

	// SilenceLevel in dBFS: what stays under it at the start or end of a track
	// counts as blank. It lies under the noise of a good tape: DIN 45500 item 5
	// asks of a deck 56 dB from full level to weighted noise.
	SilenceLevel = -60.0

	// loudest sample value let in: +60 dBFS. A float file can hold anything.
	ceiling = 1000

	slotsPerSecond = 100 // the fine grid: 10 ms
	momentarySlots = 40  // 400 ms
	shortSlots     = 300 // 3 s
	gateStep       = 10  // BS.1770 blocks start every 100 ms
)

// Result is what the meter heard. Levels that cannot be given (silence, or a
// track shorter than the window) are -Inf.
type Result struct {
	Samples  int64 // a channel
	Rate     int   // Hz
	Channels int

	Integrated   float64       // LUFS, gated: the loudness of the whole
	Range        float64       // LU, 10th to 95th percentile of short-term loudness
	MomentaryMax float64       // LUFS over 400 ms
	ShortMax     float64       // LUFS over 3 s
	LoudestAt    time.Duration // where the loudest 400 ms begin: set the record level there

	TruePeak   float64       // dBTP, of the waveform between samples too
	TruePeakAt time.Duration // where
	SamplePeak float64       // dBFS

	Lead time.Duration // blank at the start: under SilenceLevel
	Tail time.Duration // blank at the end; of a silent track all of it is Lead

	// Treble is the energy from 8 to 16 kHz against 250 to 630 Hz over the
	// whole track, in dB; 0 means as much up there as in the middle.
	Treble float64
	// TrebleMax is the highest level of 8 to 16 kHz over 100 ms in one channel,
	// in dBFS (a sine of full scale is 0): what meets the tape's treble ceiling.
	TrebleMax float64

	// MeterMax is the highest that a peak programme meter (IEC 60268-10, Type I)
	// reads, of the louder channel, in dB; 0 is a held sine of full scale. The
	// record level is set by it.
	MeterMax   float64
	MeterMaxAt time.Duration // where, to 10 ms

	// Course is how loud it is from one moment to the next.
	Course Course

	Opens, Closes Edge // its very first and last samples
}

// Length is the measured length.
func (r Result) Length() time.Duration {
	if r.Rate == 0 {
		return 0
	}
	return span(r.Samples, r.Rate)
}

// Meter takes samples and keeps sums. It is not safe for concurrent use.
type Meter struct {
	rate, channels int
	ears           []ear
	n              int64 // samples a channel so far

	slot      int64 // slots done
	slotEnd   int64 // sample where the open slot ends
	slotStart int64 // sample where it began

	window    [shortSlots]reading // the last three seconds of slots
	gated     histogram           // 400 ms blocks, for integrated loudness
	spread    histogram           // 3 s blocks, for loudness range
	momentary float64             // greatest mean square
	short     float64
	loudSlot  int64 // where the loudest momentary window begins, in slots
	course    coursing
	edging    edging
}

// reading is one slot: weighted energy and samples.
type reading struct {
	energy  float64
	samples int64
}

// New gives a meter for interleaved samples. It fails when the rate or the
// number of channels is out of range, naming the value.
func New(rate, channels int) (*Meter, error) {
	if rate < MinRate || rate > MaxRate {
		return nil, fmt.Errorf("a sample rate of %d Hz cannot be measured (%d to %d Hz can)", rate, MinRate, MaxRate)
	}
	if channels < 1 || channels > MaxChannels {
		return nil, fmt.Errorf("%d channels cannot be measured (1 to %d can)", channels, MaxChannels)
	}
	m := &Meter{rate: rate, channels: channels, edging: newEdging(rate, channels)}
	for c := range channels {
		m.ears = append(m.ears, newEar(rate, weight(c, channels)))
	}
	m.slotEnd = m.endOf(0)
	return m, nil
}

// weight is BS.1770's G for a channel in the usual order of files (left,
// right, centre, low-frequency effects, surrounds): 1, or 1.41 for surrounds,
// and none for the effects channel. BS.1770-4 Table 3.
func weight(channel, channels int) float64 {
	const surround = 1.41
	switch {
	case channels == 4 && channel >= 2, channels == 5 && channel >= 3:
		return surround
	case channels >= 6 && channel == 3:
		return 0
	case channels >= 6 && channel >= 4:
		return surround
	}
	return 1
}

// endOf is the sample where a slot ends. Rates that 100 does not divide get
// slots of two sizes, so the grid never drifts.
func (m *Meter) endOf(slot int64) int64 {
	return (slot + 1) * int64(m.rate) / slotsPerSecond
}

// Write takes interleaved samples, full scale being 1. A value that is no
// number counts as 0. Samples beyond a whole number of frames are left out.
func (m *Meter) Write(pcm []float32) {
	m.edging.take(pcm[:len(pcm)-len(pcm)%m.channels])
	for frames := len(pcm) / m.channels; frames > 0; {
		k := min(frames, chunk)
		m.write(pcm[:k*m.channels])
		pcm = pcm[k*m.channels:]
		frames -= k
	}
}

// write takes at most a chunk of frames: first whatever wants the bare
// waveform, then the filters, slot by slot.
func (m *Meter) write(pcm []float32) {
	frames := len(pcm) / m.channels
	for c := range m.ears {
		e := &m.ears[c]
		e.take(pcm, c, m.channels)
		e.edges(m.n)
		e.peak.scan(e.buf[:history+frames], m.n)
		e.middle()
	}
	for done := 0; done < frames; {
		k := min(frames-done, int(m.slotEnd-m.n))
		for c := range m.ears {
			e := &m.ears[c]
			e.filter(e.buf[history+done : history+done+k])
		}
		done += k
		m.n += int64(k)
		if m.n == m.slotEnd {
			m.endSlot()
		}
	}
	for c := range m.ears {
		m.ears[c].keep(frames)
	}
}

// endSlot closes 10 ms and moves every window on.
func (m *Meter) endSlot() {
	var energy float64
	for c := range m.ears {
		energy += m.ears[c].endSlot(m.slot)
	}
	m.window[m.slot%shortSlots] = reading{energy, m.n - m.slotStart}
	m.slot++
	m.slotStart, m.slotEnd = m.n, m.endOf(m.slot)

	if m.slot%gateStep == 0 {
		m.course.add(m.mean(gateStep))
		for c := range m.ears {
			m.ears[c].endTreble()
		}
	}
	if m.slot < momentarySlots {
		return
	}
	z := m.mean(momentarySlots)
	if z > m.momentary {
		m.momentary, m.loudSlot = z, m.slot-momentarySlots
	}
	if m.slot%gateStep == 0 {
		m.gated.add(z)
	}
	if m.slot < shortSlots {
		return
	}
	z = m.mean(shortSlots)
	m.short = max(m.short, z)
	if m.slot%gateStep == 0 {
		m.spread.add(z)
	}
}

// mean is the weighted mean square of the last k slots. It is summed afresh
// each time: a running sum would carry the rounding of a loud passage into
// the silence after it.
func (m *Meter) mean(k int64) float64 {
	var e float64
	var n int64
	for i := m.slot - k; i < m.slot; i++ {
		r := &m.window[i%shortSlots]
		e += r.energy
		n += r.samples
	}
	return e / float64(n)
}

// Result is what was heard so far. The meter can go on afterwards.
func (m *Meter) Result() Result {
	r := Result{
		Samples: m.n, Rate: m.rate, Channels: m.channels,
		Integrated:   m.gated.integrated(),
		Range:        m.spread.rangeLU(),
		MomentaryMax: loudness(m.momentary),
		ShortMax:     loudness(m.short),
		LoudestAt:    time.Duration(m.loudSlot) * time.Second / slotsPerSecond,
	}
	r.Course = Course{m.course.Step, slices.Clone(m.course.Levels)}
	r.MeterMax = math.Inf(-1)
	r.Opens, r.Closes = m.edging.edges(m.rate)

	var true64, sample float64
	var lowEnergy, highEnergy, highMax float64
	first, last := m.n, int64(-1)
	for c := range m.ears {
		e := &m.ears[c]
		p, at := e.peak.finish(e.buf[:history], m.n)
		if p > true64 {
			true64, r.TruePeakAt = p, span(at, m.rate)
		}
		sample = max(sample, e.peak.sample)
		lowEnergy += e.low.sum * e.low.scale * e.thin.size
		highEnergy += e.highSum
		highMax = max(highMax, e.highMax)
		if v, slot := e.meter.reading(m.slot); v > r.MeterMax {
			r.MeterMax, r.MeterMaxAt = v, time.Duration(slot)*time.Second/slotsPerSecond
		}
		if e.last >= 0 {
			first, last = min(first, e.first), max(last, e.last)
		}
	}
	r.TruePeak, r.SamplePeak = decibels(true64), decibels(sample)
	r.Lead = span(first, m.rate)
	if last >= 0 {
		r.Tail = span(m.n-1-last, m.rate)
	}
	r.Treble = math.Inf(-1)
	if lowEnergy > 0 && highEnergy > 0 {
		r.Treble = 10 * math.Log10(highEnergy/lowEnergy)
	}
	// A sine of full scale has a mean square of 1/2 and is called 0 dBFS.
	r.TrebleMax = 10 * math.Log10(2*highMax/(float64(m.rate)/10))
	return r
}

// span is a number of samples as time.
func span(samples int64, rate int) time.Duration {
	s := samples / int64(rate)
	rest := samples % int64(rate)
	return time.Duration(s)*time.Second + time.Duration(rest)*time.Second/time.Duration(rate)
}

// decibels is an amplitude in dB of full scale; -Inf for 0.
func decibels(a float64) float64 { return 20 * math.Log10(a) }

// loudness is a weighted mean square in LUFS (BS.1770-4 equation 2).
func loudness(z float64) float64 { return -0.691 + 10*math.Log10(z) }
