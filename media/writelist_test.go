package media_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"longside/media"
)

// TestWrittenLists: a list that is written of what was read, read again, is the
// same tracks: parts of files, files with odd names and tracks from no file (in a
// table alone), wherever the list lies. What a table says of a file goes before
// its tags.
func TestWrittenLists(t *testing.T) {
	sound := stereoWAV(roar(44100))
	files := map[string][]byte{
		"in/album.wav": stereoWAV(roar(12 * 44100)), "in/album.cue": fmt.Appendf(nil, album, "album.wav"),
		"in/a, \"b\" & c.wav": sound, "in/#1.wav": sound, "in/50%25.wav": sound, "in/50%41\tx.wav": sound, "in/odd#t=1,2.wav": sound,
		"in/nl\nx.wav": sound, "in/tail .wav": sound, "in/old \xE6.wav": sound, "in/ lead.wav": sound, "in/漁 火.wav": sound,
		"in/typed.csv": []byte("length,artist,title\n3:45.5,The Deckhands,\"Fog, and Bell\"\n75:00,,#2\n"),
	}
	if os.PathSeparator != '/' {
		t.Skip("names as these are of no file here")
	}
	dir := fileNames(t, files)
	in := filepath.Join(dir, "in")
	tracks := read(t, media.Options{}, in, filepath.Join(in, "typed.csv"))
	if len(tracks) != 16 {
		t.Fatalf("%d tracks", len(tracks))
	}
	show := func(tracks []media.Track, text bool) string {
		var b strings.Builder
		for _, tr := range tracks {
			fmt.Fprintf(&b, "%s %v+%v %d %s", tr.Path, tr.From, tr.Length, tr.Samples, tr.LengthFrom)
			if text {
				fmt.Fprintf(&b, " %s/%s/%s", tr.Artist, tr.Title, tr.Album)
			}
			b.WriteString("\n")
		}
		return b.String()
	}
	for _, place := range []string{"in/list", "list", "other/list"} {
		path := filepath.Join(dir, place)
		os.MkdirAll(filepath.Dir(path), 0o777)
		text, left := media.EncodeM3U(tracks, filepath.Dir(path))
		if left != 2 {
			t.Errorf("%d left out of a playlist", left)
		}
		os.WriteFile(path+".m3u8", text, 0o666)
		if got, want := show(read(t, media.Options{}, path+".m3u8"), false), show(tracks[:14], false); got != want {
			t.Errorf("%s.m3u8:\n%s\ngave\n%s\nof\n%s", place, text, got, want)
		}
		table := media.EncodeCSV(tracks, filepath.Dir(path))
		os.WriteFile(path+".csv", table, 0o666)
		if got, want := show(read(t, media.Options{}, path+".csv"), true), show(tracks, true); got != want {
			t.Errorf("%s.csv:\n%s\ngave\n%s\nof\n%s", place, table, got, want)
		}
	}
	edited := filepath.Join(in, "edited.csv")
	os.WriteFile(edited, []byte("file,length,title,artist\nalbum.wav#t=1,2.5,,Half a Bell,\nalbum.wav,9:99,,\n,0:30,Talk,Pilot\ngone.wav,,x,\n"), 0o666)
	if _, _, err := media.Read(context.Background(), []string{edited}, media.Options{}); err == nil || !strings.Contains(err.Error(), `edited.csv:2: 5 fields`) && !strings.Contains(err.Error(), `edited.csv:3: "9:99"`) {
		t.Error(err)
	}
	os.WriteFile(edited, []byte("file,length,title,artist\n\"album.wav#t=1,2.5\",,Half a Bell,\nalbum.wav,,,\n,0:30,Talk,Pilot\ngone.wav,,x,\n"), 0o666)
	got, faults, err := media.Read(context.Background(), []string{edited}, media.Options{})
	if err != nil || len(faults) != 1 || !strings.Contains(faults[0].Err.Error(), "edited.csv:5") {
		t.Fatal(faults, err)
	}
	if p := parts(got); p != "0  - Half a Bell 44100+66150, 0  - album 0+529200 whole, 0 Pilot - Talk 0+0 whole" {
		t.Error(p)
	}
}
