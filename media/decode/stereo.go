package decode

import (
	"context"
	"math"
	"math/bits"

	"longside/media/scan"
)

// Stereo is a file's sound as it goes on a stereo tape: one channel on both
// tracks, two as they are, more folded down.
//
// The fold-down is that of ITU-R BS.775 (its table for two channels): centre
// and surrounds 3 dB down, a surround in the middle 6, the effects channel not
// at all; and all of it lowered by the sum of what one side is given, so that it
// cannot clip: of five channels by 1/2.414, 7.7 dB. It is the same for every
// decoder, and whoever measures a track and whoever records it read it here.
type Stereo struct {
	*Stream
	mix [][2]float64 // what each channel gives to left and right; nil: one or two channels
	pcm []float32
}

// OpenStereo opens a file as Open does.
func OpenStereo(ctx context.Context, path string) (*Stereo, error) {
	s, err := Open(ctx, path)
	if err != nil {
		return nil, err
	}
	return &Stereo{Stream: s, mix: foldDown(s.Channels, s.Mask)}, nil
}

// Read fills left and right in turn and gives how many frames; what it gives at
// the end is what Stream.Read gives.
func (s *Stereo) Read(stereo []float32) (int, error) {
	frames := len(stereo) / 2
	if s.Channels == 2 {
		return s.Stream.Read(stereo[:2*frames])
	}
	if need := frames * s.Channels; cap(s.pcm) < need {
		s.pcm = make([]float32, need)
	}
	n, err := s.Stream.Read(s.pcm[:frames*s.Channels])
	if s.Channels == 1 {
		for i, v := range s.pcm[:n] {
			stereo[2*i], stereo[2*i+1] = v, v
		}
		return n, err
	}
	for i := range n {
		var l, r float64
		frame := s.pcm[i*s.Channels : (i+1)*s.Channels]
		for j, m := range s.mix {
			v := float64(frame[j])
			l += m[0] * v
			r += m[1] * v
		}
		stereo[2*i], stereo[2*i+1] = float32(l), float32(r)
	}
	return n, err
}

// OnBoth tells whether a file is known to have one channel, before it is opened:
// what ffmpeg decodes may hold two where its container says one.
func OnBoth(info scan.Info) bool {
	own, _ := choose(info)
	return info.Channels == 1 && own != nil
}

// What a speaker gives to left and right, in the order of the bits of the
// channel mask of WAVEFORMATEXTENSIBLE: channels lie in that order.
var speakers = [...][2]float64{
	{1, 0}, {0, 1}, // front left, right
	{half, half},         // front centre
	{0, 0},               // effects
	{half, 0}, {0, half}, // back left, right
	{1, 0}, {0, 1}, // left and right of centre
	{0.5, 0.5},           // back centre
	{half, 0}, {0, half}, // side left, right
}

const half = math.Sqrt2 / 2

// usualMask is what a file of so many channels holds that does not say it: the
// orders of FLAC (RFC 9639, section 9.1.3), which are those of WAV.
var usualMask = [MaxChannels + 1]uint32{3: 0x7, 4: 0x33, 5: 0x37, 6: 0x3F, 7: 0x70F, 8: 0x63F}

// foldDown is what each of more than two channels gives to left and right; mask
// says which speakers they are for, 0 that the file does not say it.
func foldDown(channels int, mask uint32) [][2]float64 {
	if channels <= 2 {
		return nil
	}
	if bits.OnesCount32(mask) < channels {
		mask = usualMask[channels]
	}
	var mix [][2]float64
	var left, right float64
	for len(mix) < channels {
		m := [2]float64{0.5, 0.5} // above: somewhere in the room
		if n := bits.TrailingZeros32(mask); n < len(speakers) {
			m = speakers[n]
		}
		mask &= mask - 1
		mix = append(mix, m)
		left, right = left+m[0], right+m[1]
	}
	for i := range mix {
		mix[i][0] /= max(left, right)
		mix[i][1] /= max(left, right)
	}
	return mix
}
