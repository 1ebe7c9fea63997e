package media_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"longside/media"
	"longside/media/cache"
	"longside/testdata/reftool"
)

// album is a cue sheet of four tracks of a file of 12 s; the third has a pause.
const album = `PERFORMER "The Deckhands"
TITLE "Night Ferry"
REM DATE 2004
FILE "%s" WAVE
  TRACK 01 AUDIO
    TITLE "Casting Off"
    INDEX 01 00:00:00
  TRACK 02 AUDIO
    TITLE "Fog"
    PERFORMER "Pilot"
    INDEX 01 00:03:10
  TRACK 03 AUDIO
    TITLE "Bell"
    INDEX 00 00:05:70
    INDEX 01 00:07:01
  TRACK 04 AUDIO
    INDEX 01 00:09:74
`

// albumTracks are its tracks.
const albumTracks = "1 The Deckhands - Casting Off 0+138180, 2 Pilot - Fog 138180+171108, 3 The Deckhands - Bell 309288+131124, 4 The Deckhands - Track 4 440412+88788"

// fileNames puts files into a fresh folder.
func fileNames(t testing.TB, files map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range files {
		path := filepath.Join(dir, name)
		os.MkdirAll(filepath.Dir(path), 0o777)
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
		os.Chtimes(path, time.Unix(1_000_000_000, 0), time.Unix(1_000_000_000, 0))
	}
	return dir
}

// parts are tracks with the sample that each begins at and how many it has.
func parts(tracks []media.Track) string {
	var list []string
	for _, t := range tracks {
		from := int64(t.From.Seconds()*float64(t.SampleRate) + 0.5)
		s := fmt.Sprintf("%d %s - %s %d+%d", t.Number, t.Artist, t.Title, from, t.Samples)
		if !t.Part {
			s += " whole"
		}
		list = append(list, s)
	}
	return strings.Join(list, ", ")
}

func read(t testing.TB, o media.Options, sources ...string) []media.Track {
	t.Helper()
	tracks, faults, err := media.Read(context.Background(), sources, o)
	if err != nil || len(faults) > 0 {
		t.Fatal(faults, err)
	}
	return tracks
}

// TestSheetBeside: an album in one file with a cue sheet beside it is its tracks,
// named as the sheet or as the folder, and found under another ending or letter
// case; a sheet whose files are gone is passed over where the album was cut up.
func TestSheetBeside(t *testing.T) {
	sound := stereoWAV(roar(12 * 44100))
	small := stereoWAV(roar(44100))
	sheet := func(file string) []byte { return fmt.Appendf(nil, album, file) }
	latin := []byte("FILE \"a.wav\" WAVE\nTRACK 01 AUDIO\nTITLE \"\xD6resund\"\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 00:00:30")
	for name, c := range map[string]struct {
		files map[string][]byte
		src   string
		want  string
	}{
		"the sheet":          {map[string][]byte{"album.wav": sound, "album.cue": sheet("album.wav")}, "album.cue", albumTracks},
		"the folder":         {map[string][]byte{"album.wav": sound, "album.cue": sheet("album.wav")}, "", albumTracks},
		"another ending":     {map[string][]byte{"Album.WAV": sound, "x.cue": sheet("album.ape")}, "x.cue", albumTracks},
		"another system":     {map[string][]byte{"album.wav": sound, "x.cue": sheet(`C:\Music\album.wav`)}, "x.cue", albumTracks},
		"a folder below":     {map[string][]byte{"disc/album.wav": sound, "a.cue": sheet("disc/album.wav")}, "", albumTracks},
		"two sheets of one":  {map[string][]byte{"album.wav": sound, "a.cue": sheet("album.wav"), "b.cue": sheet("album.wav")}, "", albumTracks},
		"cut up since":       {map[string][]byte{"1.wav": small, "2.wav": small, "a.cue": sheet("album.wav")}, "", "0  - 1 0+44100 whole, 0  - 2 0+44100 whole"},
		"hidden from folder": {map[string][]byte{"1.wav": small, ".album.cue": sheet("1.wav")}, "", "0  - 1 0+44100 whole"},
		"old letters":        {map[string][]byte{"a.wav": small, "a.cue": latin}, "", "1  - Öresund 0+17640, 2  - Track 2 17640+26460"},
		"a file a track": {map[string][]byte{"1.wav": small, "2.wav": small, "a.cue": []byte("PERFORMER Crew\nFILE 2.wav WAVE\nTRACK 01 AUDIO\nTITLE Fog\nINDEX 01 00:00:00\nFILE 1.wav WAVE\nTRACK 02 AUDIO\nTITLE Bell")}, "",
			"1 Crew - Fog 0+44100 whole, 2 Crew - Bell 0+44100 whole"},
		"gaps at the files' ends": {map[string][]byte{"1.wav": small, "2.wav": small, "a.cue": []byte("FILE 1.wav WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 00 00:00:40\nFILE 2.wav WAVE\nINDEX 01 00:00:00")}, "a.cue",
			"1  - Track 1 0+44100 whole, 2  - Track 2 0+44100 whole"},
		"hidden track": {map[string][]byte{"album.wav": sound, "a.cue": []byte("FILE album.wav WAVE\nTRACK 01 AUDIO\nTITLE Fog\nINDEX 00 00:00:00\nINDEX 01 00:04:00")}, "a.cue", "1  - Fog 176400+352800"},
	} {
		dir := fileNames(t, c.files)
		if got := parts(read(t, media.Options{}, filepath.Join(dir, c.src))); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", name, got, c.want)
		}
	}
	dir := fileNames(t, map[string][]byte{"album.wav": sound, "a.cue": []byte("FILE album.wav WAVE\nTRACK 01 AUDIO\nINDEX 01 00:04:00")})
	if tr := read(t, media.Options{}, dir); len(tr[0].Notes) != 1 || !strings.Contains(tr[0].Notes[0], "0:04.00 of sound lie before it") {
		t.Errorf("%+v", tr[0].Notes)
	}
}

// TestSheetFaults: a sheet that is broken, or lies, is one line that names it.
func TestSheetFaults(t *testing.T) {
	sound := stereoWAV(roar(44100))
	long := fmt.Sprintf(album, "a.wav")
	for name, c := range map[string]struct {
		files map[string][]byte
		src   string
		want  string
	}{
		"out of order":           {map[string][]byte{"a.cue": []byte("FILE a.wav WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:30\nTRACK 02 AUDIO\nINDEX 01 00:00:10"), "a.wav": sound}, "a.cue", `a.cue:5: INDEX 01 at 00:00:10 comes before the INDEX above it, at 00:00:30`},
		"out of order, a folder": {map[string][]byte{"a.cue": []byte("FILE a.wav WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:99"), "b.mp3": nil}, "", `a.cue: line 3: INDEX 01 at "00:00:99"`},
		"beyond the file":        {map[string][]byte{"a.cue": []byte(long), "a.wav": sound}, "a.cue", `a.wav: "Fog" begins at 0:03.13, but the sound ends at 0:01.00`},
		"at its very end":        {map[string][]byte{"a.cue": []byte("FILE a.wav WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 00:01:00"), "a.wav": sound}, "a.cue", `"Track 2" begins at 0:01.00`},
		"a file missing":         {map[string][]byte{"a.cue": []byte(long)}, "a.cue", `a.wav: no such file or folder`},
		"a file missing, named":  {map[string][]byte{"a.cue": []byte(long)}, "", `a.cue:4)`},
		"a disc image":           {map[string][]byte{"a.cue": []byte("FILE a.bin BINARY\nTRACK 01 AUDIO\nINDEX 01 00:00:00"), "a.bin": sound}, "a.cue", `a raw disc image`},
		"nothing":                {map[string][]byte{"a.cue": nil}, "a.cue", `a.cue:1: no track of sound`},
		"a list as sound":        {map[string][]byte{"a.cue": []byte("FILE b.m3u WAVE\nTRACK 01 AUDIO"), "b.m3u": []byte("x")}, "a.cue", `is a playlist within a playlist`},
	} {
		dir := fileNames(t, c.files)
		tracks, faults, err := media.Read(context.Background(), []string{filepath.Join(dir, c.src)}, media.Options{})
		var lines []string
		for _, f := range faults {
			lines = append(lines, f.Path+": "+f.Err.Error())
		}
		if err != nil {
			lines = append(lines, err.Error())
		}
		if len(tracks) > 0 || !strings.Contains(strings.Join(lines, "\n"), c.want) || len(lines) > 2 || strings.Contains(lines[0], "\n") {
			t.Errorf("%s: %d tracks, said %q, want %q", name, len(tracks), lines, c.want)
		}
	}
}

// TestSheetInFLAC: the cue sheet inside a FLAC file, as its own block (imported by
// metaflac) or as a tag, with flac's own cutting as the judge of where the tracks
// lie. ref: RFC 9639 8.7; the tag CUESHEET is common practice.
func TestSheetInFLAC(t *testing.T) {
	flac, metaflac := reftool.Need(t, "flac"), reftool.Need(t, "metaflac")
	sound := roar(12 * 44100)
	dir := fileNames(t, map[string][]byte{"album.wav": stereoWAV(sound), "album.cue": fmt.Appendf(nil, album, "album.wav")})
	at := func(name string) string { return filepath.Join(dir, name) }
	run := func(name string, args ...string) []byte {
		var errs bytes.Buffer
		cmd := exec.Command(name, args...)
		cmd.Stderr = &errs
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s %q: %v %s", name, args, err, &errs)
		}
		return out
	}
	run(flac, "-s", "-T", "ALBUM=Night Ferry", "-T", "ARTIST=Crew", "-T", "TRACKNUMBER=9", at("album.wav"), "-o", at("block.flac"))
	run(metaflac, "--import-cuesheet-from="+at("album.cue"), at("block.flac"))
	run(flac, "-s", "-T", "ARTIST=Crew", at("album.wav"), "-o", at("tag.flac"))
	run(metaflac, "--set-tag-from-file=CUESHEET="+at("album.cue"), at("tag.flac"))
	os.Remove(at("album.cue"))

	untitled := "1 Crew - Track 1 0+138180, 2 Crew - Track 2 138180+171108, 3 Crew - Track 3 309288+131124, 4 Crew - Track 4 440412+88788"
	block := read(t, media.Options{}, at("block.flac"))
	if got := parts(block); got != untitled || block[2].Album != "Night Ferry" {
		t.Errorf("block: %s of %q\nwant %s", got, block[2].Album, untitled)
	}
	if got := parts(read(t, media.Options{Count: true}, at("tag.flac"))); got != albumTracks {
		t.Errorf("tag: %s", got)
	}
	// Both: the tag has titles.
	run(metaflac, "--set-tag-from-file=CUESHEET="+fileNames(t, map[string][]byte{"c": fmt.Appendf(nil, album, "x")})+"/c", at("block.flac"))
	if got := parts(read(t, media.Options{}, at("block.flac"))); got != albumTracks {
		t.Errorf("both: %s", got)
	}
	for i, tr := range block {
		end := fmt.Sprintf("%d.1", i+2)
		if i == len(block)-1 {
			end = ""
		}
		raw := run(flac, "-s", "-d", "-c", "--force-raw-format", "--endian=little", "--sign=signed", fmt.Sprintf("--cue=%d.1-%s", i+1, end), at("block.flac"))
		from := int64(tr.From.Seconds()*44100+0.5) * 4
		if int64(len(raw)) != tr.Samples*4 || !bytes.Equal(raw, sound[from:from+tr.Samples*4]) {
			t.Errorf("track %d: flac cuts %d samples, we have %d from %d", i+1, len(raw)/4, tr.Samples, from/4)
		}
	}
	// A sheet that lies is not used, and said so.
	run(metaflac, "--remove-tag=CUESHEET", "--set-tag=CUESHEET=FILE x WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 01:00:00", at("tag.flac"))
	tr := read(t, media.Options{}, at("tag.flac"))
	if len(tr) != 1 || tr[0].Part || len(tr[0].Notes) != 1 || !strings.Contains(tr[0].Notes[0], `its cue sheet is wrong and not used: "Track 2" begins at 1:00.00`) {
		t.Errorf("%s %q", parts(tr), tr[0].Notes)
	}
}

// TestStretches: a name that ends in #t= means a part of a file, as a source, in
// playlists and in XSPF. ref: W3C Media Fragments URI 1.0 (basic), 4.2.1.
func TestStretches(t *testing.T) {
	dir := fileNames(t, map[string][]byte{
		"a b.wav": stereoWAV(roar(12 * 44100)),
		"odd#t=1": stereoWAV(roar(44100)),
		"l.m3u":   []byte("#EXTINF:3,Crew - Fog\na b.wav#t=1.5,4\n#EXTINF:3,Crew - Bell\na b.wav#t=npt:0:04\nodd#t=1\n"),
		"l.xspf":  []byte(`<playlist xmlns="http://xspf.org/ns/0/"><trackList><track><location>a%20b.wav#t=,2</location><title>Fog</title></track></trackList></playlist>`),
	})
	at := func(name string) string { return filepath.Join(dir, name) }
	for src, want := range map[string]string{
		"a b.wav#t=0,12":        "0  - a b 0+529200 whole",
		"a b.wav#t=0:02,0:03.5": "0  - a b 88200+66150",
		"a b.wav#t=,99":         "0  - a b 0+529200 whole",
		"a b.wav#t=11":          "0  - a b 485100+44100",
		"odd#t=1":               "0  - odd#t=1 0+44100 whole",
		"l.m3u":                 "0 Crew - Fog 66150+110250, 0 Crew - Bell 176400+352800, 0  - odd#t=1 0+44100 whole",
		"l.xspf":                "0  - Fog 0+88200",
	} {
		if got := parts(read(t, media.Options{}, at(src))); got != want {
			t.Errorf("%s: %s, want %s", src, got, want)
		}
	}
	for _, bad := range []string{"a b.wav#t=4,2", "a b.wav#t=x", "a b.wav#t=", "a b.wav#t=,", "no.wav#t=1,2", "a b.wav#t=13"} {
		if tracks, faults, err := media.Read(context.Background(), []string{at(bad)}, media.Options{}); err == nil && len(faults) == 0 {
			t.Errorf("%s: %s", bad, parts(tracks))
		}
	}
}

// What the cache remembers of a file with several tracks is what reading gives.
func TestSheetsAreRemembered(t *testing.T) {
	flac, metaflac := reftool.Need(t, "flac"), reftool.Need(t, "metaflac")
	dir := fileNames(t, map[string][]byte{"a.wav": stereoWAV(roar(12 * 44100)), "c": fmt.Appendf(nil, album, "x")})
	for _, cmd := range []*exec.Cmd{
		exec.Command(flac, "-s", "--delete-input-file", filepath.Join(dir, "a.wav")),
		exec.Command(metaflac, "--set-tag-from-file=CUESHEET="+filepath.Join(dir, "c"), filepath.Join(dir, "a.flac")),
	} {
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, out)
		}
	}
	old := time.Unix(1_000_000_000, 0)
	os.Chtimes(filepath.Join(dir, "a.flac"), old, old)
	store := t.TempDir()
	var got [2]string
	for i := range got {
		c, err := cache.Open(store)
		if err != nil {
			t.Fatal(err)
		}
		got[i] = parts(read(t, media.Options{Cache: c}, dir))
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if got[0] != albumTracks || got[1] != got[0] {
		t.Errorf("%s\nthen %s", got[0], got[1])
	}
}

// TestTooManyParts: few small files that claim many tracks are refused before
// they cost memory.
func TestTooManyParts(t *testing.T) {
	var sheet strings.Builder
	for i := range 999 {
		fmt.Fprintf(&sheet, "TRACK %02d AUDIO\nINDEX 01 %02d:%02d:%02d\n", i%99+1, i/75/60, i/75%60, i%75)
	}
	files := map[string][]byte{}
	sound := stereoWAV(make([]byte, 4*44100*14))
	var sheets []string
	for i := range 31 {
		files[fmt.Sprintf("%d.cue", i)] = []byte(fmt.Sprintf("FILE %d.wav WAVE\n", i) + sheet.String())
		files[fmt.Sprintf("%d.wav", i)] = sound
	}
	dir := fileNames(t, files)
	for i := range 31 {
		sheets = append(sheets, filepath.Join(dir, fmt.Sprintf("%d.cue", i)))
	}
	if got := read(t, media.Options{}, sheets[0]); len(got) != 999 {
		t.Fatalf("%d tracks of a sheet of 999", len(got))
	}
	for what, sources := range map[string][]string{"a folder": {dir}, "sheets": sheets} {
		if tracks, _, err := media.Read(context.Background(), sources, media.Options{}); err == nil || !strings.Contains(err.Error(), "more than 30000 tracks") || tracks != nil {
			t.Errorf("%s: %d tracks, %v", what, len(tracks), err)
		}
	}
}
