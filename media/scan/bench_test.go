package scan

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkFile reads one small file of each format a turn, from memory.
func BenchmarkFile(b *testing.B) {
	files, names := smallFiles(b)
	for i, f := range files {
		b.Run(filepath.Base(names[i]), func(b *testing.B) {
			for b.Loop() {
				if _, err := quick(bytes.NewReader(f), int64(len(f))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkWalk counts every frame, from memory.
func BenchmarkWalk(b *testing.B) {
	dir, _ := soundFiles(b)
	flac, err := os.ReadFile(filepath.Join(dir, "flac-long.flac"))
	if err != nil {
		b.Fatal(err)
	}
	ogg, err := os.ReadFile(filepath.Join(dir, "vorbis-long.ogg"))
	if err != nil {
		b.Fatal(err)
	}
	for name, f := range map[string][]byte{"MP3": mp3Bytes(10000), "FLAC": flac, "Vorbis": ogg} {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(f)))
			for b.Loop() {
				if _, err := walked1(bytes.NewReader(f), int64(len(f))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
