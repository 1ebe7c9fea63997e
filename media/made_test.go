package media

import (
	"bytes"
	"context"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// wav is a WAV file of n samples, mono, 16 bits, 8 kHz, with chunks after the sound.
func wav(n int, after ...[]byte) []byte {
	b := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1F\x00\x00\x80\x3E\x00\x00\x02\x00\x10\x00data")
	b = binary.LittleEndian.AppendUint32(b, uint32(2*n))
	b = append(b, make([]byte, 2*n)...)
	return append(b, bytes.Join(after, nil)...)
}

// mp3Frames is n frames of digital silence: 128 kbit/s at 44.1 kHz, no tag.
func mp3Frames(n int) []byte {
	return bytes.Repeat(append([]byte{0xFF, 0xFB, 0x90, 0x00}, make([]byte, 413)...), n)
}

// id3v2 makes a tag of a version from frames as they are.
func id3v2(version, flags byte, frames ...[]byte) []byte {
	body := bytes.Join(frames, nil)
	n := len(body)
	return append([]byte{'I', 'D', '3', version, 0, flags, byte(n >> 21 & 0x7F), byte(n >> 14 & 0x7F), byte(n >> 7 & 0x7F), byte(n & 0x7F)}, body...)
}

// frame makes a frame for ID3v2.3 (and 2.4 while it is short) or, with a name of
// three letters, ID3v2.2.
func frame(name, body string) []byte {
	n := len(body)
	if len(name) == 3 {
		return append([]byte(name), append([]byte{byte(n >> 16), byte(n >> 8), byte(n)}, body...)...)
	}
	return append([]byte(name), append([]byte{byte(n >> 24), byte(n >> 16), byte(n >> 8), byte(n), 0, 0}, body...)...)
}

// put writes files into a fresh folder.
func put(t testing.TB, files map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// one reads a single file that must be good.
func one(t testing.TB, name string, b []byte) Track {
	t.Helper()
	dir := put(t, map[string][]byte{name: b})
	tracks, faults, err := Read(context.Background(), []string{filepath.Join(dir, name)}, Options{})
	if err != nil || len(faults) > 0 || len(tracks) != 1 {
		t.Fatalf("%s: %v %v %v", name, tracks, faults, err)
	}
	return tracks[0]
}

// names are the files of tracks, for comparing orders.
func names(root string, tracks []Track) string {
	var s []string
	for _, t := range tracks {
		rel, err := filepath.Rel(root, t.Path)
		if err != nil || t.Path == "" {
			rel = "(" + t.Title + ")"
		}
		s = append(s, filepath.ToSlash(rel))
	}
	return strings.Join(s, " ")
}
