package scan

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// Copies of one file one after another have the same serial number, page numbers
// that begin again, and one length on every last page: each must be counted.
func TestChainsOfOneFile(t *testing.T) {
	dir, sounds := soundFiles(t)
	for _, s := range sounds {
		switch s.Name {
		case "vorbis-q0.ogg", "vorbis-q10.ogg", "vorbis-long.ogg", "vorbis-tiny.ogg", "opus-16.opus", "opus-160.opus", "opus-long.opus", "opus-tiny.opus", "flac.oga", "flac-long.oga", "tiny.oga":
		default:
			continue
		}
		b, err := os.ReadFile(filepath.Join(dir, s.Name))
		if err != nil {
			t.Fatal(err)
		}
		for k := 1; k <= 13; k++ {
			all := bytes.Repeat(b, k)
			info, err := File(bytes.NewReader(all), int64(len(all)))
			if want := s.Samples * int64(k); err != nil || info.Samples != want {
				t.Errorf("%d of %s: %d samples, %v; want %d", k, s.Name, info.Samples, err, want)
			}
		}
	}
}

// FLAC streams joined end to end are no valid file, but must not pass for one of
// them: all whole frames are counted, but for the one before each joint, whose end
// a header hides.
func TestJoinedFLAC(t *testing.T) {
	dir, sounds := soundFiles(t)
	for _, s := range sounds {
		if s.Name != "flac-5.flac" && s.Name != "flac-mono.flac" && s.Name != "tiny.flac" && s.Name != "flac-long.flac" {
			continue
		}
		b, err := os.ReadFile(filepath.Join(dir, s.Name))
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range []int{2, 3, 4, 7} { // of 7 a frame at a half or a third is numbered as of one
			all := bytes.Repeat(b, k)
			info, err := File(bytes.NewReader(all), int64(len(all)))
			least := (s.Samples - 4096) * int64(k)
			if err != nil || info.Samples < least || info.Samples > s.Samples*int64(k) || info.From != Counted || len(info.Notes) == 0 {
				t.Errorf("%d of %s: %d samples, %s, %q, %v; want %d or a little less", k, s.Name, info.Samples, info.From, info.Notes, err, s.Samples*int64(k))
			}
		}
	}
}
