// Package corpus makes sound files of known lengths for tests, in every
// container that the program reads, by public encoders.
package corpus

import (
	_ "embed"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"longside/testdata/reftool"
)

//go:embed make.sh
var script string

// Sound is a file of the corpus.
type Sound struct {
	Name    string // in the corpus folder
	Rate    int    // Hz
	Samples int64  // a channel, of the sound that went into the encoder
}

// Make runs make.sh into dir, which must exist, and lists what it made. The test
// is skipped where an encoder is missing (under CI it fails).
func Make(t testing.TB, dir string) []Sound {
	t.Helper()
	for _, tool := range []string{"sh", "sox", "flac", "lame", "oggenc", "opusenc", "ffmpeg"} {
		reftool.Need(t, tool)
	}
	cmd := exec.Command("sh", "-s", dir)
	cmd.Stdin = strings.NewReader(script)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("make.sh: %v\n%s", err, out)
	}
	list, err := os.ReadFile(filepath.Join(dir, "corpus.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	var sounds []Sound
	for line := range strings.Lines(string(list)) {
		f := strings.Fields(line)
		rate, _ := strconv.Atoi(f[1])
		samples, _ := strconv.ParseInt(f[2], 10, 64)
		sounds = append(sounds, Sound{f[0], rate, samples})
	}
	if len(sounds) < 100 {
		t.Fatalf("make.sh made %d files; 100 or more were wanted", len(sounds))
	}
	return sounds
}
