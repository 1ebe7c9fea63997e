package media_test

import (
	"bytes"
	"cmp"
	"context"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"
	"time"

	"longside/media"
	"longside/media/cache"
	"longside/testdata/reftool"
)

// demoSound are the demo's tracks, the shortest first: listening takes time.
func demoSound(t testing.TB) []media.Track {
	t.Helper()
	tracks, faults, err := media.Read(context.Background(), []string{"../testdata/night-ferry"}, media.Options{})
	if err != nil || len(faults) > 0 || len(tracks) < 16 {
		t.Fatalf("%d tracks, %v, %v", len(tracks), faults, err)
	}
	slices.SortStableFunc(tracks, func(a, b media.Track) int { return cmp.Compare(a.Length, b.Length) })
	return tracks
}

// The demo's real files through ffmpeg's ebur128 filter: loudness to 0.1 LU,
// range to 0.3 LU (its grid is ten times coarser), peaks to 0.2 dB.
func TestListenAgainstFFmpeg(t *testing.T) {
	ffmpeg := reftool.Need(t, "ffmpeg")
	tracks := demoSound(t)
	var some []media.Track
	seen := map[string]int{}
	for _, tr := range tracks { // one of each format
		if seen[tr.Format]++; seen[tr.Format] == 1 {
			some = append(some, tr)
		}
	}
	heard, faults, err := media.Listen(context.Background(), some, media.Options{})
	if err != nil || len(faults) > 0 || len(heard) != len(some) {
		t.Fatalf("%d heard, %v, %v", len(heard), faults, err)
	}
	for i, h := range heard {
		if h.Path != some[i].Path {
			t.Fatalf("track %d is %s", i, h.Path)
		}
		filter := "ebur128=peak=true+sample:dualmono=true" // one channel lies on both tracks
		if h.Rate < 32000 {
			// At low rates that filter is itself 0.2 LU off what it says of the same
			// sound at 48 kHz; a higher rate leaves no peak between the samples.
			filter = "aresample=48000,ebur128=peak=true:dualmono=true"
		}
		out, err := exec.Command(ffmpeg, "-nostats", "-hide_banner", "-i", h.Path, "-map", "0:a:0", "-af", filter, "-f", "null", "-").CombinedOutput()
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			what   string
			re     string
			got    float64
			within float64
		}{
			{"integrated", `I:\s+(-?[\d.]+) LUFS`, h.Integrated, 0.1},
			{"range", `LRA:\s+(-?[\d.]+) LU`, h.Range, 0.3},
			{"true peak", `True peak:\s+Peak:\s+(-?[\d.]+) dBFS`, h.TruePeak, 0.2},
			{"sample peak", `Sample peak:\s+Peak:\s+(-?[\d.]+) dBFS`, h.SamplePeak, 0.2},
		} {
			// The last of each is the summary's.
			if c.what == "sample peak" && h.Rate < 32000 {
				continue
			}
			all := regexp.MustCompile(c.re).FindAllSubmatch(out, -1)
			if len(all) == 0 {
				t.Fatalf("%s: no %s in what ffmpeg says", filepath.Base(h.Path), c.what)
			}
			want, _ := strconv.ParseFloat(string(all[len(all)-1][1]), 64)
			// It prints tenths: half of one is rounding.
			if math.Abs(c.got-want) > c.within+0.05 {
				t.Errorf("%s: %s %.2f, ffmpeg says %.1f", filepath.Base(h.Path), c.what, c.got, want)
			}
		}
		if d := (h.Result.Length() - h.Track.Length).Abs(); d > time.Millisecond {
			t.Errorf("%s: %v heard of %v", filepath.Base(h.Path), h.Result.Length(), h.Track.Length)
		}
	}
}

// What was heard once is not decoded again, and is the same to the last bit;
// the tracks' order is kept.
func TestListenRemembers(t *testing.T) {
	tracks := demoSound(t)[:2]
	tracks = append(tracks, media.Track{Title: "a record", Length: time.Minute})
	dir := t.TempDir()
	run := func() []media.Heard {
		c, err := cache.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		heard, faults, err := media.Listen(context.Background(), tracks, media.Options{Cache: c})
		if err != nil || len(faults) > 0 {
			t.Fatal(faults, err)
		}
		return heard
	}
	first := run()
	start := time.Now()
	second := run()
	t.Logf("the second time: %v", time.Since(start))
	if len(first) != 2 || len(second) != 2 {
		t.Fatalf("%d and %d tracks heard; the record has no file", len(first), len(second))
	}
	for i := range first {
		a, b := first[i].Result, second[i].Result
		if a.Integrated != b.Integrated || a.TruePeak != b.TruePeak || a.LoudestAt != b.LoudestAt || a.MeterMax != b.MeterMax || !bytes.Equal(a.Course.Levels, b.Course.Levels) || a.Samples != b.Samples {
			t.Errorf("track %d: %+v, then %+v", i, a, b)
		}
	}
}

func TestListenStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if heard, _, err := media.Listen(ctx, demoSound(t), media.Options{}); err == nil || heard != nil {
		t.Error("a stopped run gave an answer")
	}
}
