package main

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"

	"longside/testdata/reftool"
)

// TestRunsOn: an album of files in each usual format, cut from one recording,
// is told to run on at each seam; the same cut with a pause at each seam, or
// faded out at each track's end, at none.
func TestRunsOn(t *testing.T) {
	sox, ffmpeg := reftool.Need(t, "sox"), reftool.Need(t, "ffmpeg")
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	tool := func(name string, args ...string) {
		t.Helper()
		if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s %q: %v %s", name, args, err, out)
		}
	}
	const tracks, long = 4, 3.217
	tool(sox, "-R", "-r", "44100", "-n", "-c", "2", "-b", "16", at("all.wav"), "synth", fmt.Sprint(tracks*long), "pinknoise", "synth", fmt.Sprint(tracks*long), "sine", "mix", "220-1500", "gain", "-n", "-9")
	for i := range tracks {
		piece := at(fmt.Sprintf("through%d.wav", i))
		tool(sox, at("all.wav"), piece, "trim", fmt.Sprint(long*float64(i)), fmt.Sprint(long))
		tool(sox, piece, at(fmt.Sprintf("pause%d.wav", i)), "pad", "0", "0.4")
		tool(sox, piece, at(fmt.Sprintf("fade%d.wav", i)), "fade", "t", "0", fmt.Sprint(long), "1.5")
	}
	for _, format := range []string{"flac", "mp3", "ogg", "opus", "m4a"} {
		for cut, want := range map[string]int{"through": tracks - 1, "pause": 0, "fade": 0} {
			args := []string{"levels", "--json", "--no-cache"}
			for i := range tracks {
				name := at(fmt.Sprintf("%s%d.%s", cut, i, format))
				codec := map[string][]string{"ogg": {"-c:a", "libvorbis", "-q:a", "5"}, "mp3": {"-b:a", "192k"}}[format]
				make := append([]string{"-v", "error", "-nostdin", "-i", at(fmt.Sprintf("%s%d.wav", cut, i)), "-metadata", "album=Night Ferry", "-metadata", fmt.Sprintf("track=%d", i+1)}, codec...)
				tool(ffmpeg, append(make, name)...)
				args = append(args, name)
			}
			status, out, errs := talk("", args...)
			var answer levelsJSON
			if err := json.Unmarshal([]byte(out), &answer); err != nil || status != exitDone || len(answer.Tracks) != tracks {
				t.Fatalf("status %d, %v: %s", status, err, errs)
			}
			got := 0
			for _, tr := range answer.Tracks {
				if tr.RunsOn {
					got++
				}
			}
			if got != want {
				t.Errorf("%s, %s: %d seams run on, want %d", format, cut, got, want)
			}
		}
	}
}
