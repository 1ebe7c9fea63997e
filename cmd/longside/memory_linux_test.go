//go:build !race

package main

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"longside/media"
)

// -worst makes the files as large as the limits let them be.
var worstFiles = flag.Bool("worst", false, "try the worst files at their full size")

// mostMemory is what the program may take for the worst file that a person can
// name, in bytes, as the system counts its pages.
const mostMemory = 200 << 20

// worst is a file made to cost as much as it can: head, then unit as often as
// size bytes have room for, then tail.
type worst struct {
	name             string
	head, unit, tail string
	size             int
}

func init() { programs["weighed"] = weighed }

// TestMemoryOfWorstFiles runs the program on each in a process of its own and
// looks at the most memory that the process had, as Linux counts it (proc(5), VmHWM).
func TestMemoryOfWorstFiles(t *testing.T) {
	const mb = 1 << 20
	room := 6 * mb // enough to tell what grows with the file
	if *worstFiles {
		room = 128 * mb
	}
	mix := "format = \"longside mix\"\nversion = 1\n"
	plan := `{"format":"longside plan","version":1,`
	deck := "format = \"longside deck\"\nversion = 1\n"
	xspf := "<playlist><trackList>"
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 7900, 8000))); err != nil {
		t.Fatal(err)
	}
	files := []worst{
		{"letters.txt", "", "a\n", "", 12*mb - 1},
		{"songs.txt", "", "3:10 Crew - Fog\n", "", 12*mb - 1},
		{"songs.csv", "length,artist,title\n", "3:10,Crew,Fog\n", "", 12*mb - 1},
		{"longsongs.csv", "length,artist,title\n", "3:10,Crew," + strings.Repeat("Fog ", 300) + "\n", "", 12*mb - 1},
		{"most.csv", "length,artist,title\n", "", strings.Repeat("3:10,The Crew of the Night Ferry,Fog Bell at Four in the Morning\n", media.MaxTracks), 0},
		{"most.txt", "", "", strings.Repeat("3:10 The Crew of the Night Ferry - Fog Bell at Four in the Morning\n", media.MaxTracks), 0},
		{"most.m3u", "", "", strings.Repeat("#EXTINF:1,The Crew of the Night Ferry - Fog Bell at Four in the Morning\nfog bell/fog bell.mp3\n", media.MaxTracks), 0},
		{"head.csv", "length", ",", "\n", 12*mb - 1},
		{"commas.csv", "length,title\n3:10", ",", "\n", 12*mb - 1},
		{"wide.csv", "length,title\n", "3:10" + strings.Repeat(",", 250_000) + "\n", "", 12*mb - 1},
		{"quotes.csv", "length,title\n", "\"\n\",", "\n", 12*mb - 1},
		{"oneline.txt", "3:10 ", "\xe6", "\n", 12*mb - 1},
		{"order mark.txt", "\xff\xfe", "3\x00:\x001\x000\x00 \x00a\x00\n\x00", "", 12*mb - 1},
		{"remarks.m3u", "", "#EXTINF:1,a\n", "", 12*mb - 1},
		{"letters.m3u", "", "a\n", "", 12*mb - 1},
		{"longlines.m3u", "", strings.Repeat("a", 32_000) + "\n", "", 12*mb - 1},
		{"tracks.xspf", xspf, "<track/>", "</trackList></playlist>", 12*mb - 1},
		{"titles.xspf", xspf, "<track><title>" + strings.Repeat("x", 900_000) + "</title></track>", "</trackList></playlist>", 12*mb - 1},
		{"deep.xspf", "<playlist>", "<a>", "", 12*mb - 1},
		{"marks.xspf", "<playlist ", `b="" `, "/>", 12*mb - 1},
		{"places.xspf", xspf + "<track>", "<location/>", "</track></trackList></playlist>", 12*mb - 1},
		{"text.xspf", `<?xml version="1.0" encoding="ISO-8859-1"?>` + xspf + "<track><title>", "\xe6", "</title></track></trackList></playlist>", 12*mb - 1},
		{"sheet.cue", "FILE \"a.wav\" WAVE\n", "TRACK 01 AUDIO\nINDEX 01 00:00:00\n", "", 12*mb - 1},
		{"tracks.toml", mix, "[[track]]\n", "", 8*mb - 1},
		{"inline.toml", mix + "track = [", "{},", "]\n", 8*mb - 1},
		{"numbers.toml", mix + "x = [", "1,", "]\n", 8*mb - 1},
		{"keys.toml", mix, "a=1\n", "", 8*mb - 1},
		{"title.toml", mix + `title = "`, "x", "\"\n", 8*mb - 1},
		{"deep.toml", mix + "x = ", "[", "", 8*mb - 1},
		{"words.toml", mix, "title.", "x = 1\n", 8*mb - 1},
		{"tapes.json", plan + `"tapes":[`, "{},", "{}]}", 32*mb - 1},
		{"tracks.json", plan + `"tapes":[{"sides":[{"tracks":[`, "{},", "{}]}]}]}", 32*mb - 1},
		{"title.json", plan + `"title":"`, "x", `"}`, 32*mb - 1},
		{"deep.json", plan + `"x":`, "[", "", 32*mb - 1},
		{"deck.deck", deck, "a=1\n", "", mb - 1},
		{"picture.png", picture.String(), "\x00", "", 24*mb - 1},
		{"font.ttf", "\x00\x01\x00\x00\x00\x01", "\x00", "", 120 * mb},
	}
	dir := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	longside := func(args ...string) (peak int64, says []byte) {
		cmd := exec.Command(self, args...)
		cmd.Args[0] = "weighed" // TestMain makes the program of it
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "XDG_CACHE_HOME="+filepath.Join(dir, "cache"), "XDG_DATA_HOME="+filepath.Join(dir, "data"), "HOME="+dir, "WEIGHT="+filepath.Join(dir, "weight"))
		out, _ := cmd.CombinedOutput()
		b, _ := os.ReadFile(filepath.Join(dir, "weight"))
		os.Remove(filepath.Join(dir, "weight"))
		fmt.Sscan(string(b), &peak)
		return peak, out
	}
	put := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	put("songs3.txt", "3:10 a\n3:20 b\n3:30 c\n")
	if _, says := longside("plan", "songs3.txt", "--tape", "C60", "--out", "plan"); bytes.Contains(says, []byte("longside: ")) {
		t.Fatalf("%s", says)
	}
	for _, w := range files {
		name := filepath.Join(dir, w.name)
		w.size = min(w.size, room)
		if err := fill(name, w); err != nil {
			t.Fatal(err)
		}
		args := []string{"lengths", "--no-cache", "--json", w.name}
		switch filepath.Ext(w.name) {
		case ".toml":
			args = []string{"check", w.name, "--tape", "C90"}
		case ".json":
			args = []string{"sheet", w.name, "-o", "x.txt"}
		case ".deck":
			args = []string{"check", "songs3.txt", "--tape", "C90", "--deck", w.name}
		case ".png":
			args = []string{"inlay", "plan", "--picture", w.name, "-o", "x.pdf", "--force"}
		case ".ttf":
			args = []string{"inlay", "plan", "--font", w.name, "-o", "x.pdf", "--force"}
		}
		begin := time.Now()
		peak, says := longside(args...)
		os.Remove(name)
		t.Logf("%-15s %3d MB, %.1f s: %.90s", w.name, peak>>20, time.Since(begin).Seconds(), says)
		if peak > mostMemory || peak == 0 {
			t.Errorf("%s: %d MB of memory", w.name, peak>>20)
		}
		if bytes.Contains(says, []byte("goroutine ")) {
			t.Errorf("%s: %.2000s", w.name, says)
		}
	}
}

// weighed is the program, which at its end writes the most memory that it had
// into the file that WEIGHT names. What the system tells of a child that has
// ended counts the memory of its parent, too.
func weighed() {
	status := run(os.Args[1:], osStreams())
	b, _ := os.ReadFile("/proc/self/status")
	_, rest, _ := strings.Cut(string(b), "VmHWM:")
	var kb int64
	fmt.Sscan(rest, &kb)
	os.WriteFile(os.Getenv("WEIGHT"), fmt.Append(nil, kb<<10), 0o666)
	os.Exit(status)
}

// fill writes a file of the worst kind.
func fill(name string, w worst) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	unit := strings.Repeat(w.unit, max(1, 1<<16/max(1, len(w.unit))))
	n := max(0, w.size-len(w.head)-len(w.tail)) / max(1, len(unit))
	_, err = io.WriteString(f, w.head)
	for range n {
		if err == nil {
			_, err = io.WriteString(f, unit)
		}
	}
	if err == nil {
		_, err = io.WriteString(f, w.tail)
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}
