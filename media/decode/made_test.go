package decode

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"longside/testdata/reftool"
)

// music is a test sound: tones that come and go, a sweep, and noise with a
// rhythm, different in each channel, at about -12 dBFS.
func music(rate, channels int, seconds float64) []float64 {
	n := int(seconds * float64(rate))
	rng := rand.New(rand.NewPCG(7, uint64(rate)))
	out := make([]float64, 0, n*channels)
	sweep := 0.0
	for i := range n {
		t := float64(i) / float64(rate)
		sweep += 2 * math.Pi * (200 + 300*t) / float64(rate)
		beat := math.Exp(-12 * math.Mod(t, 0.5))
		for c := range channels {
			v := 0.12*math.Sin(2*math.Pi*(220+60*float64(c))*t) + 0.06*math.Sin(sweep+float64(c))
			v += beat * 0.08 * rng.NormFloat64()
			out = append(out, v)
		}
	}
	return out
}

// writeWAV writes samples as a plain WAV file with 16 or 24 bits.
func writeWAV(t testing.TB, path string, rate, channels, bits int, x []float64) {
	t.Helper()
	width := bits / 8
	var data []byte
	for _, v := range x {
		s := int32(math.Round(math.Max(-1, math.Min(1, v)) * (math.Ldexp(1, bits-1) - 1)))
		for k := range width {
			data = append(data, byte(s>>(8*k)))
		}
	}
	h := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00")
	h = binary.LittleEndian.AppendUint16(h, uint16(channels))
	h = binary.LittleEndian.AppendUint32(h, uint32(rate))
	h = binary.LittleEndian.AppendUint32(h, uint32(rate*channels*width))
	h = binary.LittleEndian.AppendUint16(h, uint16(channels*width))
	h = binary.LittleEndian.AppendUint16(h, uint16(bits))
	h = append(h, "data"...)
	h = binary.LittleEndian.AppendUint32(h, uint32(len(data)))
	binary.LittleEndian.PutUint32(h[4:], uint32(len(h)-8+len(data)))
	if err := os.WriteFile(path, append(h, data...), 0o666); err != nil {
		t.Fatal(err)
	}
}

// tool runs an outside program, which must be there and succeed.
func tool(t testing.TB, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(reftool.Need(t, name), args...)
	out, err := cmd.Output()
	if err != nil {
		var e *exec.ExitError
		if errors.As(err, &e) {
			t.Fatalf("%s %q: %v\n%s", name, args, err, e.Stderr)
		}
		t.Fatalf("%s %q: %v", name, args, err)
	}
	return out
}

// byFFmpeg is the sound of a file as ffmpeg decodes it, in floats.
func byFFmpeg(t testing.TB, path string) []float32 {
	t.Helper()
	return floats(tool(t, "ffmpeg", "-v", "error", "-i", path, "-f", "f32le", "-"))
}

func floats(b []byte) []float32 {
	out := make([]float32, len(b)/4)
	for i := range out {
		out[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return out
}

// decodeAll reads a file to its end, in pieces of an odd size.
func decodeAll(t testing.TB, path string) (*Stream, []float32) {
	t.Helper()
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatalf("%s: %v", filepath.Base(path), err)
	}
	t.Cleanup(func() { s.Close() })
	return s, readAll(t, s)
}

func readAll(t testing.TB, s *Stream) []float32 {
	t.Helper()
	var out []float32
	buf := make([]float32, 777*s.Channels)
	for {
		n, err := s.Read(buf)
		out = append(out, buf[:n*s.Channels]...)
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// errorOf is how far got lies from want: RMS and the greatest, in dBFS.
func errorOf(got, want []float32) (rms, most float64) {
	var sum float64
	n := min(len(got), len(want))
	for i := range n {
		d := math.Abs(float64(got[i]) - float64(want[i]))
		sum += d * d
		most = max(most, d)
	}
	return 10 * math.Log10(sum/float64(n)), 20 * math.Log10(most)
}

// Where nothing comes out nobody can tell whether the file or the decoder is at
// fault, and neither is blamed alone; where something does, the file is cut off.
func TestWhoIsBlamed(t *testing.T) {
	for given, want := range map[int64]string{0: "ffmpeg does not know its kind", 4000: "damaged: 0:00.5 of"} {
		s := &Stream{Rate: 8000, Channels: 1, By: "ffmpeg", given: given, left: 8000}
		s.end(io.EOF)
		if len(s.notes) != 1 || !strings.Contains(s.notes[0], want) {
			t.Errorf("after %d samples: %q", given, s.notes)
		}
	}
}
