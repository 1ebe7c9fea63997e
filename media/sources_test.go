package media

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"longside/media/cache"
	"longside/testdata/reftool"
)

func TestFolderOrder(t *testing.T) {
	w := wav(800)
	dir := put(t, map[string][]byte{
		"10.wav": w, "2.wav": w, "1.wav": w, "b/1.WAV": w, "a/10.wav": w, "a/9.wav": w, "B2.wav": w, "b1.wav": w,
		"cover.jpg": {0xFF, 0xD8}, "notes.txt": []byte("3:00 no"), "list.m3u": []byte("1.wav"), ".hidden.wav": w, ".trash/x.wav": w, "page.nfo": []byte("x"),
	})
	tracks, faults, err := Read(context.Background(), []string{dir}, Options{})
	if err != nil || len(faults) > 0 {
		t.Fatal(faults, err)
	}
	if got, want := names(dir, tracks), "1.wav 2.wav 10.wav a/9.wav a/10.wav b/1.WAV b1.wav B2.wav"; got != want {
		t.Errorf("by name: %s\nwant:    %s", got, want)
	}
	tagged := func(disc, number string) []byte {
		return append(id3v2(3, 0, frame("TPOS", "\x00"+disc), frame("TRCK", "\x00"+number)), mp3Frames(4)...)
	}
	dir = put(t, map[string][]byte{
		"a.mp3": tagged("2", "1"), "b.mp3": tagged("1", "10"), "c.mp3": tagged("1", "2"), "d.mp3": mp3Frames(4), "b/z.mp3": tagged("1", "1"), "b/y.mp3": tagged("1", "2"),
	})
	tracks, _, err = Read(context.Background(), []string{dir}, Options{By: ByTag})
	if got, want := names(dir, tracks), "c.mp3 b/z.mp3 b/y.mp3 b.mp3 a.mp3 d.mp3"; err != nil || got != want {
		t.Errorf("by tag: %s, want %s; %v", got, want, err)
	}
}

func TestMixedSources(t *testing.T) {
	w := wav(8000)
	dir := put(t, map[string][]byte{
		"one.wav": w, "folder/two.wav": w,
		"list.csv":  []byte("length,artist,title\n3:45,Crew,Fog\n"),
		"list.tsv":  []byte("title\tlength\nBell\t61.5\n"),
		"lines.txt": []byte("# radio\n1:02:03  Crew - Fog - live\n0:59 Bell\n"),
		"mix.m3u":   []byte("#EXTM3U\r\n#EXTINF:1,Crew - Named\r\none.wav\r\nfolder\\two.wav\r\n"),
		"mix.xspf": []byte(`<?xml version="1.0" encoding="UTF-8"?><playlist version="1" xmlns="http://xspf.org/ns/0/"><trackList>
<track><location>folder/two.wav</location><title>Two &amp; more</title></track>
<track><location>on%65.wav</location></track><track><title>Radio</title><creator>Crew</creator><duration>90500</duration></track></trackList></playlist>`),
	})
	at := func(s ...string) (paths []string) {
		for _, x := range s {
			paths = append(paths, filepath.Join(dir, x))
		}
		return paths
	}
	tracks, faults, err := Read(context.Background(), append(at("list.tsv", "one.wav", "mix.m3u", "folder", "mix.xspf", "list.csv", "lines.txt"), "-"),
		Options{Stdin: strings.NewReader("length,title\n10,Last\n")})
	if err != nil || len(faults) > 0 {
		t.Fatal(faults, err)
	}
	want := "(Bell) one.wav one.wav folder/two.wav folder/two.wav folder/two.wav one.wav (Radio) (Fog) (Fog - live) (Bell) (Last)"
	if got := names(dir, tracks); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	for i, w := range []struct {
		title, artist string
		length        time.Duration
		from          LengthFrom
	}{
		{"Bell", "", 61500 * time.Millisecond, Typed}, {"one", "", time.Second, Header},
		{"Named", "Crew", time.Second, Header}, // a playlist's word goes before the file's name
		{"two", "", time.Second, Header}, {"two", "", time.Second, Header},
		{"Two & more", "", time.Second, Header}, {"one", "", time.Second, Header},
		{"Radio", "Crew", 90500 * time.Millisecond, Typed},
		{"Fog", "Crew", 3*time.Minute + 45*time.Second, Typed},
		{"Fog - live", "Crew", time.Hour + 2*time.Minute + 3*time.Second, Typed},
		{"Bell", "", 59 * time.Second, Typed}, {"Last", "", 10 * time.Second, Typed},
	} {
		if got := tracks[i]; got.Title != w.title || got.Artist != w.artist || got.Length != w.length || got.LengthFrom != w.from {
			t.Errorf("%d: %+v, want %+v", i, got, w)
		}
	}
}

// TestLineEnds: lists and playlists of all three kinds of line ends hold the same.
func TestLineEnds(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r"} {
		files := map[string][]byte{"one.wav": wav(800), "two.wav": wav(800)}
		for name, text := range map[string]string{
			"a.txt": "# radio\n3:45 Fog\n0:59 Bell\n", "b.csv": "length,title\n3:45,Fog\n0:59,Bell\n", "c.m3u": "#EXTM3U\n#EXTINF:1,Fog\none.wav\ntwo.wav\n",
		} {
			files[name] = []byte(strings.ReplaceAll(text, "\n", end))
		}
		dir := put(t, files)
		for name, want := range map[string]string{"a.txt": "(Fog) (Bell)", "b.csv": "(Fog) (Bell)", "c.m3u": "one.wav two.wav"} {
			tracks, faults, err := Read(context.Background(), []string{filepath.Join(dir, name)}, Options{})
			if got := names(dir, tracks); got != want || len(faults) > 0 || err != nil {
				t.Errorf("%s with %q: %s, want %s; %v %v", name, end, got, want, faults, err)
			}
		}
	}
}

// TestEscapedPaths: a playlist's path with percent signs is a name first, and an
// escape (RFC 3986, 2.1) where no file has that name.
func TestEscapedPaths(t *testing.T) {
	w := wav(800)
	dir := put(t, map[string][]byte{
		"a b/x#1.wav": w, "100%25.wav": w, "100%.wav": w, "Sm\u00f8r.wav": w, "50%.wav": w, "sub/x.txt": nil,
		"list.m3u8": []byte("a%20b/x%231.wav\na%20b\\x%231.wav\n100%25.wav\nSm%C3%B8r.wav\nSm%F8r.wav\n50%.wav\ns%75b\nhttp%3A//ferry.example/x\nno%00ne.wav\n"),
	})
	tracks, faults, err := Read(context.Background(), []string{filepath.Join(dir, "list.m3u8")}, Options{})
	if got, want := names(dir, tracks), "a b/x#1.wav a b/x#1.wav 100%25.wav Sm\u00f8r.wav Sm\u00f8r.wav 50%.wav"; got != want || err != nil {
		t.Errorf("%s, want %s; %v", got, want, err)
	}
	if len(faults) != 3 || !strings.Contains(faults[0].Err.Error(), "is a folder") {
		t.Errorf("%v", faults)
	}
}

// TestRowsAndRemarks: a row that begins with # and holds a length is a track; a
// remark is one without, or one with a space behind its #.
func TestRowsAndRemarks(t *testing.T) {
	list := "# length, title\ntitle,length\n#1 in the galley,3:45\n#later: \"Fog, \"Bell\n# Fog,3:40\n#Fog,soon\n   # x\n\"#2 at the helm\",0:59\nBell,1:00,,\n"
	tracks, _, err := Read(context.Background(), []string{"-"}, Options{Stdin: strings.NewReader(list)})
	if got, want := names("", tracks), "(#1 in the galley) (#2 at the helm) (Bell)"; got != want || err != nil {
		t.Errorf("%s, want %s; %v", got, want, err)
	}
	// Small numbers in front of a column of numbers are seconds.
	tracks, _, err = Read(context.Background(), []string{"-"}, Options{Stdin: strings.NewReader("length,track,title\n3,45,Bell\n0:03,1,45\n")})
	if len(tracks) != 2 || err != nil || tracks[0].Length != 3*time.Second || tracks[0].Number != 45 {
		t.Errorf("%+v %v", tracks, err)
	}
}

func TestParseLength(t *testing.T) {
	for _, c := range []struct {
		in   string
		want time.Duration
	}{
		{"3:45", 225 * time.Second}, {"0:07", 7 * time.Second}, {"1:02:03", 3723 * time.Second}, {"225", 225 * time.Second},
		{"225.25", 225250 * time.Millisecond}, {"3:45.5", 225500 * time.Millisecond}, {" 90 ", 90 * time.Second}, {"75:00", 75 * time.Minute}, {"24:00:00", 24 * time.Hour},
	} {
		if got, err := ParseLength(c.in); err != nil || got != c.want {
			t.Errorf("%q: %v, %v; want %v", c.in, got, err, c.want)
		}
	}
	for _, in := range []string{"", "0", "0:00", "3:60", "3:5", "3:075", "-3:00", "+3", "3m", "1:2:3:4", "3.", ".5", "1.5:00", "1e3", "24:00:01", "9999999", "3:00.0000000001", "٣:٤٥", "NaN", "1_000"} {
		if d, err := ParseLength(in); err == nil {
			t.Errorf("%q was read as %v", in, d)
		} else if !strings.Contains(err.Error(), "length") {
			t.Errorf("%q: %v", in, err)
		}
	}
}

func TestBadSources(t *testing.T) {
	dir := put(t, map[string][]byte{
		"empty/x.jpg": nil, "bad.txt": []byte("a text\n"), "empty.csv": nil, "none.m3u": []byte("#EXTM3U\n"), "binary.m3u": {'a', 0, 'b'},
		"broken.xspf": []byte("<playlist><trackList>"), "other.xspf": []byte("<html></html>"), "bomb.xspf": []byte(`<!DOCTYPE x [<!ENTITY a "aaaa">]><playlist>&a;</playlist>`),
	})
	for _, c := range []struct{ source, says string }{
		{"missing", "no such file or folder"}, {"empty", "no audio in this folder"}, {"bad.txt", "no length"}, {"empty.csv", "name the columns"}, {"none.m3u", "no tracks"},
		{"binary.m3u", "not a text file"}, {"broken.xspf", "not XML"}, {"other.xspf", "not an XSPF"}, {"bomb.xspf", "not XML"},
	} {
		tracks, faults, err := Read(context.Background(), []string{filepath.Join(dir, c.source)}, Options{})
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), c.source) || strings.Contains(err.Error(), "\n") || tracks != nil || faults != nil {
			t.Errorf("%s: %v %v %v", c.source, tracks, faults, err)
		}
	}
	if _, _, err := Read(context.Background(), nil, Options{}); err == nil {
		t.Error("nothing was read without a fault")
	}
	if _, _, err := Read(context.Background(), []string{"-"}, Options{}); err == nil {
		t.Error("no standard input, no fault")
	}
}

func TestFaults(t *testing.T) {
	dir := put(t, map[string][]byte{
		"good.wav": wav(800), "text.mp3": []byte("not music\n"), "empty.flac": nil, "cut.wav": wav(800)[:40],
		"list.m3u": []byte("good.wav\nhttp://ferry.example/live\nmissing.mp3\nfolder\nother.m3u\n"), "folder/x.txt": nil, "other.m3u": nil,
	})
	tracks, faults, err := Read(context.Background(), []string{dir, filepath.Join(dir, "list.m3u")}, Options{})
	if err != nil || len(tracks) != 2 {
		t.Fatalf("%+v %v", tracks, err)
	}
	says := map[string]string{
		"text.mp3": "it is a text file", "empty.flac": "empty", "cut.wav": "no sound", "live": "an address on a network", "missing.mp3": "no such file or folder (", "folder": "is a folder", "other.m3u": "playlist within",
	}
	for _, f := range faults {
		want := says[filepath.Base(f.Path)]
		delete(says, filepath.Base(f.Path))
		if want == "" || !strings.Contains(f.Err.Error(), want) || strings.Contains(f.Err.Error(), "\n") {
			t.Errorf("%s: %v; want %q", f.Path, f.Err, want)
		}
	}
	if len(says) > 0 {
		t.Errorf("not told: %v", says)
	}
}

func TestCount(t *testing.T) {
	lame, encoder := reftool.Need(t, "lame"), reftool.Need(t, "flac")
	dir := put(t, map[string][]byte{"a.wav": wav(80000)})
	run := func(args ...string) {
		t.Helper()
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %v %s", args, err, out)
		}
	}
	run(lame, "--silent", "--resample", "44.1", "-b", "64", "a.wav", "b.mp3")
	run(encoder, "-s", "a.wav", "-o", "c.flac")
	run(encoder, "-s", "-0", "a.wav", "-o", "hurt.flac")
	// A byte in the middle of the sound changed: the frame's checksum fails.
	name := filepath.Join(dir, "hurt.flac")
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	b[len(b)-40] ^= 0x55
	os.WriteFile(name, b, 0o666)

	tracks, faults, err := Read(context.Background(), []string{dir}, Options{Count: true})
	if err != nil || len(faults) != 1 || filepath.Base(faults[0].Path) != "hurt.flac" || !strings.Contains(faults[0].Err.Error(), "decoded") {
		t.Fatal(tracks, faults, err)
	}
	// 80000 samples at 8 kHz are 10 s: 441000 samples at 44.1 kHz, where the
	// encoder's resampler may be one off.
	for i, want := range []int64{80000, 441000, 80000} {
		got := tracks[i]
		if d := got.Samples - want; d < -1 || d > 1 || got.LengthFrom != Counted || len(got.Notes) > 0 {
			t.Errorf("%+v, want %d samples", got, want)
		}
	}
}

// TestCountRates: an MP3 that goes on at another rate is as long as the frames of
// the first, counted or not, and who listens to it is told. 100 frames of 1152
// samples at 44.1 kHz; the 48 kHz frames behind them are 144 x 128000 / 48000 = 384 bytes.
func TestCountRates(t *testing.T) {
	other := bytes.Repeat(append([]byte{0xFF, 0xFB, 0x94, 0x00}, make([]byte, 380)...), 50)
	path := filepath.Join(put(t, map[string][]byte{"two rates.mp3": append(mp3Frames(100), other...)}), "two rates.mp3")
	for _, count := range []bool{false, true} {
		tracks, faults, err := Read(context.Background(), []string{path}, Options{Count: count})
		if err != nil || len(tracks) != 1 {
			t.Fatal(tracks, faults, err)
		}
		if got := tracks[0]; got.Samples != 115200 || len(got.Notes) == 0 || !strings.Contains(got.Notes[0], "19200 bytes") {
			t.Errorf("count %v: %+v", count, got)
		}
		heard, faults, err := Listen(context.Background(), tracks, Options{})
		if err != nil || len(heard) != 1 {
			t.Fatal(heard, faults, err)
		}
		if said := heard[0].Said; len(said) == 0 || !strings.Contains(said[0], "19200 bytes") {
			t.Errorf("heard, and said only %q", said)
		}
	}
}

func TestStop(t *testing.T) {
	files := map[string][]byte{}
	for i := range 200 {
		files[string(rune('a'+i%26))+strings.Repeat("x", i/26)+".wav"] = wav(10)
	}
	dir := put(t, files)
	ctx, cancel := context.WithCancel(context.Background())
	tracks, faults, err := Read(ctx, []string{dir}, Options{Workers: 1, Progress: func(done, total int) {
		if done == 10 {
			cancel()
		}
		if total != 200 || done > 200 {
			t.Errorf("%d of %d", done, total)
		}
	}})
	if !errors.Is(err, context.Canceled) || tracks != nil || faults != nil {
		t.Errorf("%d tracks, %v, %v", len(tracks), faults, err)
	}
}

func TestCacheIsAsGoodAsReading(t *testing.T) {
	dir := put(t, map[string][]byte{"01 Fog.wav": wav(800), "b.mp3": append(id3v2(3, 0, frame("TIT2", "\x00Bell")), mp3Frames(9)...), "cut.wav": wav(800)[:100]})
	old := time.Now().Add(-time.Hour)
	for _, n := range []string{"01 Fog.wav", "b.mp3", "cut.wav"} {
		os.Chtimes(filepath.Join(dir, n), old, old)
	}
	store := t.TempDir()
	read := func() []Track {
		t.Helper()
		c, err := cache.Open(store)
		if err != nil {
			t.Fatal(err)
		}
		tracks, faults, err := Read(context.Background(), []string{dir}, Options{Cache: c})
		if err != nil || len(faults) > 0 {
			t.Fatal(faults, err)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		return tracks
	}
	first, second := read(), read()
	for i := range first {
		if !sameTrack(first[i], second[i]) {
			t.Errorf("%+v\nand %+v", first[i], second[i])
		}
	}
	// It really is the cache: other bytes of the same size and time are not seen.
	b, _ := os.ReadFile(filepath.Join(dir, "b.mp3"))
	copy(b[21:], "Gong")
	os.WriteFile(filepath.Join(dir, "b.mp3"), b, 0o666)
	os.Chtimes(filepath.Join(dir, "b.mp3"), old, old)
	if third := read(); third[1].Title != "Bell" {
		t.Errorf("read anew: %q", third[1].Title)
	}
	os.Chtimes(filepath.Join(dir, "b.mp3"), old, old.Add(time.Second))
	if fourth := read(); fourth[1].Title != "Gong" {
		t.Errorf("not read anew: %q", fourth[1].Title)
	}
}

func sameTrack(a, b Track) bool {
	notes := strings.Join(a.Notes, ";") == strings.Join(b.Notes, ";")
	timed := a.ModTime.Equal(b.ModTime)
	a.Notes, b.Notes, a.ModTime, b.ModTime = nil, nil, time.Time{}, time.Time{}
	return notes && timed && a.Path == b.Path && a.Title == b.Title && a.Artist == b.Artist && a.Length == b.Length &&
		a.LengthFrom == b.LengthFrom && a.Samples == b.Samples && a.Number == b.Number && a.Size == b.Size && a.Format == b.Format && a.Channels == b.Channels
}

// Folders that all link to one another are read once each, not in every order.
func TestLinksDoNotMultiply(t *testing.T) {
	files := map[string][]byte{}
	for i := range 12 {
		files[string(rune('a'+i))+"/x.wav"] = wav(10)
	}
	outside := put(t, files)
	dir := put(t, map[string][]byte{"here/y.wav": wav(10)})
	for i := range 12 {
		for j := range 12 {
			os.Symlink(filepath.Join(outside, string(rune('a'+j))), filepath.Join(outside, string(rune('a'+i)), "to-"+string(rune('a'+j))))
		}
		if err := os.Symlink(filepath.Join(outside, string(rune('a'+i))), filepath.Join(dir, "out-"+string(rune('a'+i)))); err != nil {
			t.Skip(err)
		}
	}
	tracks, faults, err := Read(context.Background(), []string{dir}, Options{})
	if err != nil || len(faults) > 0 || len(tracks) != 13 {
		t.Errorf("%d tracks, %v, %v; want each of 13 once", len(tracks), faults, err)
	}
}
