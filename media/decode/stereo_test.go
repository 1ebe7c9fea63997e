package decode

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"testing"

	"longside/media/scan"
)

// stereoOf reads a file as it goes on a tape.
func stereoOf(t testing.TB, path string) []float32 {
	t.Helper()
	s, err := OpenStereo(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var out []float32
	pcm := make([]float32, 2*1777)
	for {
		n, err := s.Read(pcm)
		out = append(out, pcm[:2*n]...)
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// What a channel alone gives to left and right, by ITU-R BS.775 table 2 (also
// the appendix of a monitor controller's manual: L + 0.707 C + 0.707 SL + 0.707
// BL), over what one side is given in all: 1 + 0.7071 + 0.7071 = 2.414 of 5.1.
func TestFoldDown(t *testing.T) {
	const h = 0.70711
	for _, c := range []struct {
		name     string
		channels int
		mask     uint32
		sum      float64
		left     []float64
		right    []float64
	}{
		{"5.1", 6, 0x3F, 2.41421, []float64{1, 0, h, 0, h, 0}, []float64{0, 1, h, 0, 0, h}},
		{"5.1 with side surrounds", 6, 0x60F, 2.41421, []float64{1, 0, h, 0, h, 0}, []float64{0, 1, h, 0, 0, h}},
		{"6 channels unsaid", 6, 0, 2.41421, []float64{1, 0, h, 0, h, 0}, []float64{0, 1, h, 0, 0, h}},
		{"5.0", 5, 0x37, 2.41421, []float64{1, 0, h, h, 0}, []float64{0, 1, h, 0, h}},
		{"quadraphony", 4, 0x33, 1.70711, []float64{1, 0, h, 0}, []float64{0, 1, 0, h}},
		{"front, centre and a surround in the middle", 4, 0x107, 2.20711, []float64{1, 0, h, 0.5}, []float64{0, 1, h, 0.5}},
		{"three", 3, 0x7, 1.70711, []float64{1, 0, h}, []float64{0, 1, h}},
		{"two and effects", 3, 0xB, 1, []float64{1, 0, 0}, []float64{0, 1, 0}},
		{"7.1", 8, 0, 3.12132, []float64{1, 0, h, 0, h, 0, h, 0}, []float64{0, 1, h, 0, 0, h, 0, h}},
		{"a mask of too few", 4, 0x3, 1.70711, []float64{1, 0, h, 0}, []float64{0, 1, 0, h}},
	} {
		mix := foldDown(c.channels, c.mask)
		for i := range c.channels {
			if l, r := c.left[i]/c.sum, c.right[i]/c.sum; math.Abs(mix[i][0]-l) > 1e-5 || math.Abs(mix[i][1]-r) > 1e-5 {
				t.Errorf("%s, channel %d: %.5f, want %.5f %.5f", c.name, i, mix[i], l, r)
			}
		}
	}
}

// Six channels fold down alike from every decoder, and never clip.
func TestFoldDownFromEveryDecoder(t *testing.T) {
	dir := t.TempDir()
	wav := filepath.Join(dir, "six.wav")
	const rate, seconds = 48000, 3
	x := make([]float64, 6*rate*seconds)
	for i := range rate * seconds {
		for c, hz := range []float64{300, 400, 500, 60, 700, 800} {
			x[6*i+c] = 0.9 * math.Sin(2*math.Pi*hz*float64(i)/rate)
		}
	}
	writeWAV(t, wav, rate, 6, 16, x)
	// The level of each channel's own tone, left and right.
	tones := func(y []float32) (out [2][6]float64) {
		for c, hz := range []float64{300, 400, 500, 60, 700, 800} {
			for side := range 2 {
				var re, im float64
				for i := rate / 2; i < rate/2+rate; i++ { // whole periods
					s, k := math.Sincos(2 * math.Pi * hz * float64(i) / rate)
					re += float64(y[2*i+side]) * k
					im += float64(y[2*i+side]) * s
				}
				out[side][c] = 2 * math.Hypot(re, im) / rate
			}
		}
		return out
	}
	const one, h = 0.9 / 2.41421, 0.9 * 0.70711 / 2.41421
	want := [2][6]float64{{one, 0, h, 0, h, 0}, {0, one, h, 0, 0, h}}
	for _, kind := range [][]string{{"wav"}, {"flac"}, {"m4a", "-c:a", "aac", "-b:a", "512k"}, {"ogg", "-c:a", "libvorbis", "-q:a", "8"}, {"ac3", "-b:a", "640k"}} {
		path := filepath.Join(dir, "six."+kind[0])
		if len(kind) > 1 || kind[0] != "wav" {
			args := append([]string{"-v", "error", "-y", "-channel_layout", "5.1", "-i", wav}, kind[1:]...)
			tool(t, "ffmpeg", append(args, path)...)
		}
		info, err := Look(path)
		if err != nil && kind[0] == "ac3" {
			continue // not a format that is read
		}
		if err != nil {
			t.Fatal(err)
		}
		got := tones(stereoOf(t, path))
		for side := range 2 {
			for c := range 6 {
				if d := got[side][c] - want[side][c]; math.Abs(d) > 0.02 { // lossy coders miss by 0.4 dB
					t.Errorf("%s (its header says %d channels): channel %d is %.3f of side %d, want %.3f", kind[0], info.Channels, c, got[side][c], side, want[side][c])
				}
			}
		}
	}
	// All at full scale together: at full scale, not over it.
	for i := range x {
		x[i] = 1 - 1.0/32768
	}
	writeWAV(t, wav, rate, 6, 16, x)
	for i, v := range stereoOf(t, wav) {
		if v > 1 {
			t.Fatalf("value %d is %v", i, v)
		}
	}
}

// One channel lies on both tracks; two are as they are.
func TestStereoOfMono(t *testing.T) {
	dir := t.TempDir()
	for _, channels := range []int{1, 2} {
		path := filepath.Join(dir, fmt.Sprint(channels, ".wav"))
		x := music(8000, channels, 0.5)
		writeWAV(t, path, 8000, channels, 16, x)
		_, bare := decodeAll(t, path)
		y := stereoOf(t, path)
		if len(y) != 2*len(x)/channels {
			t.Fatalf("%d channels: %d values", channels, len(y))
		}
		for i, v := range y {
			if v != bare[i*channels/2] {
				t.Fatalf("%d channels: value %d is %v, want %v", channels, i, v, bare[i*channels/2])
			}
		}
	}
	// The header says that the third of these is the effects channel.
	low := filepath.Join(dir, "low.wav")
	tool(t, "ffmpeg", "-v", "error", "-i", filepath.Join(dir, "1.wav"), "-af", "pan=2.1|c0=c0|c1=c0|c2=c0", low)
	_, bare := decodeAll(t, filepath.Join(dir, "1.wav"))
	for i, v := range stereoOf(t, low) {
		if v != bare[i/2] {
			t.Fatalf("two channels and effects: value %d is %v, want %v", i, v, bare[i/2])
		}
	}
	if !OnBoth(scan.Info{Channels: 1, PCM: scan.PCM{BytesPerSample: 2}}) || OnBoth(scan.Info{Channels: 1, Codec: "AAC"}) || OnBoth(scan.Info{Channels: 2, PCM: scan.PCM{BytesPerSample: 2}}) {
		t.Error("only one channel that is decoded here is sure to be one")
	}
}
