package media

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"longside/media/scan"
)

// reads keeps which stretches of a file are asked for.
type reads struct {
	io.ReaderAt
	spans []span
}

type span struct {
	off int64
	n   int
}

func (r *reads) ReadAt(p []byte, off int64) (int, error) {
	n, err := r.ReaderAt.ReadAt(p, off)
	if n > 0 {
		r.spans = append(r.spans, span{off, n})
	}
	return n, err
}

// BenchmarkCold reads files that are not in memory: ours, and a bare loop that
// opens each and reads just the same stretches.
func BenchmarkCold(b *testing.B) {
	_, songs := collection(b)
	dir, err := os.MkdirTemp(collected.dir, "cold")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { os.RemoveAll(dir) })
	const n = 300
	var paths []string
	spans := map[string][]span{}
	for i := range n {
		data, err := os.ReadFile(songs[i%len(songs)])
		if err != nil {
			b.Fatal(err)
		}
		if strings.HasSuffix(songs[i%len(songs)], ".wav") {
			data = data[:1<<20] // large, and read at both ends only
		}
		path := filepath.Join(dir, fmt.Sprintf("%05d%s", i, filepath.Ext(songs[i%len(songs)])))
		f, err := os.Create(path)
		if err != nil {
			b.Fatal(err)
		}
		f.Write(data)
		f.Sync() // what is not on disk yet cannot be dropped from memory
		f.Close()
		paths = append(paths, path)
		spans[path] = spansOf(b, path)
	}
	forget := func() {
		for _, p := range paths {
			if f, err := os.Open(p); err == nil {
				_ = unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED)
				f.Close()
			}
		}
	}
	b.Run("ours", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			forget()
			b.StartTimer()
			readFolder(b, dir, n, Options{})
		}
		filesASecond(b, n)
	})
	b.Run("bare", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			forget()
			b.StartTimer()
			allCores(paths, func(path string) error {
				f, err := os.Open(path)
				if err != nil {
					return err
				}
				defer f.Close()
				buf := make([]byte, 128<<10)
				for _, s := range spans[path] {
					if _, err := f.ReadAt(buf[:s.n], s.off); err != nil {
						return err
					}
				}
				return nil
			})
		}
		filesASecond(b, n)
	})
}

func spansOf(b *testing.B, path string) []span {
	f, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		b.Fatal(err)
	}
	r := &reads{ReaderAt: f}
	info, err := scan.File(r, st.Size())
	if err != nil {
		b.Fatal(err)
	}
	var t Track
	readTags(r, info, &t)
	return r.spans
}
