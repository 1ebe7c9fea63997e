package decode

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// TestSkip: what follows a place that was skipped to is what follows it in a
// decoding of the whole, in every format, and in FLAC with frames of every size.
func TestSkip(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	tool(t, "sox", "-R", "-r", "44100", "-n", "-c", "2", "-b", "16", in("a.wav"), "synth", "14.3", "pinknoise", "synth", "14.3", "sine", "amod", "0.1", "synth", "14.3", "sine", "mix", "300", "gain", "-n", "-6")
	tool(t, "sox", in("a.wav"), "-b", "24", in("24.wav"))
	tool(t, "flac", "-s", "-5", "-o", in("5.flac"), in("a.wav"))
	tool(t, "flac", "-s", "-0", "-b", "1152", "-o", in("0.flac"), in("a.wav"))
	tool(t, "flac", "-s", "-8", "-b", "16384", "--lax", "-o", in("large.flac"), in("24.wav"))
	tool(t, "oggenc", "-Q", "-o", in("a.ogg"), in("a.wav"))
	tool(t, "lame", "--quiet", "-m", "s", in("a.wav"), in("a.mp3"))
	r := rand.New(rand.NewPCG(3, 4))
	for _, name := range []string{"a.wav", "24.wav", "5.flac", "0.flac", "large.flac", "a.ogg", "a.mp3"} {
		_, whole := decodeAll(t, in(name))
		n := int64(len(whole) / 2)
		places := []int64{0, 1, 4095, n - 1, n, n + 1}
		for range 8 {
			places = append(places, r.Int64N(n))
		}
		start := time.Now()
		for _, at := range places {
			s, err := Open(context.Background(), in(name))
			if err != nil {
				t.Fatal(err)
			}
			err = s.Skip(context.Background(), at)
			if want := at > n; want != errors.Is(err, io.EOF) || err != nil && !want {
				t.Errorf("%s: to %d of %d: %v", name, at, n, err)
			}
			pcm := make([]float32, 2*3000)
			var got []float32
			for len(got) < 2*3000 {
				k, err := s.Read(pcm[:6000-len(got)])
				got = append(got, pcm[:2*k]...)
				if err != nil {
					break
				}
			}
			want := whole[2*min(at, n) : 2*min(at+3000, n)]
			if !slices.Equal(got, want) {
				t.Errorf("%s: from %d of %d other samples, %d of %d", name, at, n, len(got), len(want))
			}
			s.Close()
		}
		t.Logf("%s: %v a place", name, time.Since(start)/time.Duration(len(places)))
	}
}
