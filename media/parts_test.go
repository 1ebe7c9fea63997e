package media_test

import (
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"longside/media"
	"longside/media/cache"
)

// roar is a sound of n samples a channel, 44,100 Hz, 16 bits, stereo, that is
// louder and higher with every second.
func roar(n int) []byte {
	data := make([]byte, 0, 4*n)
	for i := range n {
		s := float64(i) / 44100
		v := int16(3000 * (1 + s/4) * math.Sin(2*math.Pi*(200+20*s)*s))
		data = binary.LittleEndian.AppendUint16(data, uint16(v))
		data = binary.LittleEndian.AppendUint16(data, uint16(-v/2))
	}
	return data
}

// stereoWAV puts a header before 16-bit stereo at 44,100 Hz.
func stereoWAV(data []byte) []byte {
	h := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x02\x00\x44\xac\x00\x00\x10\xb1\x02\x00\x04\x00\x10\x00data")
	h = binary.LittleEndian.AppendUint32(h, uint32(len(data)))
	binary.LittleEndian.PutUint32(h[4:], uint32(len(h)-8+len(data)))
	return append(h, data...)
}

// TestListenToParts: a part of a file is heard just as a file that holds only
// that part, whatever else of the file is wanted, with and without the cache.
func TestListenToParts(t *testing.T) {
	dir := t.TempDir()
	sound := roar(12 * 44100)
	write := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, stereoWAV(data), 0o666); err != nil {
			t.Fatal(err)
		}
		os.Chtimes(path, time.Unix(1_000_000_000, 0), time.Unix(1_000_000_000, 0))
		return path
	}
	whole := write("whole.wav", sound)
	frame := time.Second / 75
	ask := []media.Track{{Path: whole, Title: "all", Length: 12 * time.Second}}
	alone := []media.Track{{Path: whole, Title: "all", Length: 12 * time.Second}}
	// In any order, and overlapping: from and to in frames of 588 samples.
	for i, p := range [][2]int{{600, 900}, {0, 75}, {75, 620}, {899, 900}} {
		ask = append(ask, media.Track{Path: whole, Part: true, From: time.Duration(p[0]) * time.Second / 75, Length: time.Duration(p[1])*time.Second/75 - time.Duration(p[0])*time.Second/75})
		alone = append(alone, media.Track{Path: write(string(rune('a'+i))+".wav", sound[p[0]*588*4:p[1]*588*4]), Length: time.Duration(p[1]-p[0]) * frame})
	}
	want, faults, err := media.Listen(context.Background(), alone, media.Options{})
	if err != nil || len(faults) > 0 || len(want) != len(alone) {
		t.Fatal(len(want), faults, err)
	}
	store := t.TempDir()
	for range 2 {
		c, err := cache.Open(store)
		if err != nil {
			t.Fatal(err)
		}
		got, faults, err := media.Listen(context.Background(), ask, media.Options{Cache: c})
		if err != nil || len(faults) > 0 || len(got) != len(want) {
			t.Fatal(len(got), faults, err)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		for i := range got {
			g, w := got[i].Result, want[i].Result
			if g.Samples != w.Samples || g.Integrated != w.Integrated || g.TruePeak != w.TruePeak || g.LoudestAt != w.LoudestAt || g.Lead != w.Lead || g.Tail != w.Tail {
				t.Errorf("part %d: heard %+v, alone %+v", i, g, w)
			}
		}
	}
}

func TestPlace(t *testing.T) {
	whole := media.Track{Path: "a", Length: 10}
	part := media.Track{Path: "a", Length: 10, Part: true}
	if whole.Place() == part.Place() || part.Place() != (media.Place{Path: "a", Length: 10}) {
		t.Errorf("%+v, %+v", whole.Place(), part.Place())
	}
}
