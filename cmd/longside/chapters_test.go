package main

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestChapters: a long recording is offered as its chapters, split where one
// ends, and taken as them.
func TestChapters(t *testing.T) {
	// 3000 s of silence, 8 bits at 1000 Hz, behind an ID3v2 tag with chapters at 0,
	// 10:00, 25:55.345 and 40:00 (ID3v2 Chapter Frame Addendum 3.1).
	var tag []byte
	starts := []uint32{0, 600_000, 1_555_345, 2_400_000, 3_000_000}
	for i, name := range []string{"Casting Off", "Fog", "Bell", "Harbour"} {
		b := append([]byte{'c', byte('0' + i), 0}, binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, starts[i]), starts[i+1])...)
		b = append(b, "\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFFTIT2\x00\x00\x00"+string(rune(len(name)+1))+"\x00\x00\x03"+name...)
		tag = append(append(tag, 'C', 'H', 'A', 'P', 0, 0, 0, byte(len(b)), 0, 0), b...)
	}
	file := append([]byte{'I', 'D', '3', 4, 0, 0, 0, 0, byte(len(tag) >> 7), byte(len(tag) & 0x7F)}, tag...)
	const n = 3_000_000
	file = append(file, "RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\xE8\x03\x00\x00\xE8\x03\x00\x00\x01\x00\x08\x00data"...)
	file = binary.LittleEndian.AppendUint32(file, n)
	file = append(file, make([]byte, n)...)
	dir := t.TempDir()
	path := filepath.Join(dir, "log.wav")
	if err := os.WriteFile(path, file, 0o666); err != nil {
		t.Fatal(err)
	}
	run := func(want int, args ...string) string {
		status, out, errs := talk("", args...)
		if status != want {
			t.Fatalf("%q: status %d, want %d: %s", args, status, want, errs)
		}
		return strings.Join(strings.Fields(out), " ")
	}
	says := func(out string, words ...string) {
		for _, w := range words {
			if !strings.Contains(out, w) {
				t.Errorf("no %q in %s", w, out)
			}
		}
	}
	says(run(exitDone, "lengths", path), "note: 4 chapters are in it: --chapters takes them as tracks")
	says(run(exitDone, "lengths", path, "--chapters"), "2 15:55.345 header WAV Fog", "4 tracks")
	says(run(exitNo, "check", path, "--tape", "C60"), "split it over both at 25:55.345, where a chapter ends", `and everything fits: --split "log=25:55.345"`, "take the 4 chapters of “log” as tracks: --chapters")
	says(run(exitDone, "check", path, "--tape", "C60", "--split", "log=25:55.345"), "log (2 of 2)")
	out := filepath.Join(dir, "out")
	says(run(exitDone, "plan", path, "--tape", "C60", "--chapters", "--gap", "0", "--order", "free", "--out", out), "all 4 tracks have a place")
	plan, err := os.ReadFile(filepath.Join(out, "plan.json"))
	if err != nil {
		t.Fatal(err)
	}
	says(string(plan), `"from_s": 1555.345`, `"part_s": 844.655`)
}
