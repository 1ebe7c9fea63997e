package media

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
)

// TestNoPermission reads as nobody. The superuser, who may read everything, puts
// the rights down for one thread, on which all the reading is then done.
func TestNoPermission(t *testing.T) {
	dir := put(t, map[string][]byte{"good.wav": wav(800), "shut.wav": wav(800), "closed/x.wav": wav(800)})
	for dir := dir; dir != os.TempDir() && dir != "/"; dir = filepath.Dir(dir) {
		os.Chmod(dir, 0o755)
	}
	os.Chmod(filepath.Join(dir, "shut.wav"), 0)
	os.Chmod(filepath.Join(dir, "closed"), 0)
	t.Cleanup(func() { os.Chmod(filepath.Join(dir, "closed"), 0o700) })
	if os.Geteuid() == 0 {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		if err := syscall.Setfsuid(65534); err != nil {
			t.Skip(err)
		}
		defer syscall.Setfsuid(0)
	}
	items, err := expandFolder(context.Background(), dir)
	if err != nil || len(items) != 3 {
		t.Fatalf("%+v, %v", items, err)
	}
	for i := range items {
		it := &items[i]
		if !it.known {
			it.read(context.Background(), Options{})
		}
		switch name := filepath.Base(it.track.Path); name {
		case "good.wav":
			if it.err != nil {
				t.Errorf("%s: %v", name, it.err)
			}
		default:
			if !errors.Is(it.err, os.ErrPermission) || it.err.Error() != "permission denied" {
				t.Errorf("%s: %v", name, it.err)
			}
		}
	}
}
