//go:build unix

package media

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

func TestStrangeFiles(t *testing.T) {
	dir := put(t, map[string][]byte{"good.wav": wav(800), "sub/inner.wav": wav(800), "\xE6\xF8\xE5.wav": wav(800), "new\nline.wav": wav(800)})
	// links: to a file, up the tree, to itself, to nothing
	for from, to := range map[string]string{"z-link.wav": "good.wav", "sub/up": "..", "sub/around": "../sub", "self.wav": "self.wav", "gone.wav": "nowhere"} {
		if err := os.Symlink(to, filepath.Join(dir, from)); err != nil {
			t.Skip(err)
		}
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe.wav"), 0o666); err != nil {
		t.Skip(err)
	}
	os.Symlink("/dev/zero", filepath.Join(dir, "zero.wav"))
	done := make(chan struct{})
	go func() {
		defer close(done)
		tracks, faults, err := Read(context.Background(), []string{dir}, Options{})
		if err != nil {
			t.Error(err)
		}
		if got, want := names(dir, tracks), "good.wav new\nline.wav sub/inner.wav z-link.wav \xE6\xF8\xE5.wav"; got != want {
			t.Errorf("%q, want %q", got, want)
		}
		var bad []string
		for _, f := range faults {
			bad = append(bad, filepath.Base(f.Path))
		}
		if got := strings.Join(bad, " "); got != "gone.wav pipe.wav self.wav zero.wav" {
			t.Errorf("faults: %s", got)
		}
		// named outright, too
		for _, name := range []string{"pipe.wav", "zero.wav", "self.wav"} {
			_, faults, err := Read(context.Background(), []string{filepath.Join(dir, name)}, Options{})
			if err == nil && len(faults) != 1 {
				t.Errorf("%s was read", name)
			}
		}
	}()
	select {
	case <-done:
	case <-time.After(20 * time.Second):
		t.Fatal("it waits for a pipe or goes round in links")
	}
}
