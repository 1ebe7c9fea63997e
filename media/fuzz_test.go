package media

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"longside/media/scan"
)

// printable checks what every text of a Track must be.
func printable(t *testing.T, what, s string) {
	t.Helper()
	if !utf8.ValidString(s) || utf8.RuneCountInString(s) > maxTitle || strings.TrimSpace(s) != s {
		t.Fatalf("%s: %q", what, s)
	}
	for _, r := range s {
		if unicode.IsControl(r) || r >= '\u202A' && r <= '\u202E' || r >= '\u2066' && r <= '\u2069' {
			t.Fatalf("%s holds %U: %q", what, r, s)
		}
	}
}

func lawfulTrack(t *testing.T, tr Track) {
	t.Helper()
	for what, s := range map[string]string{"title": tr.Title, "artist": tr.Artist, "album": tr.Album, "genre": tr.Genre} {
		printable(t, what, s)
	}
	if tr.Year < 0 || tr.Number < 0 || tr.Disc < 0 || tr.Year > 9999 || tr.Number > 9999 || tr.Disc > 9999 {
		t.Fatalf("numbers: %+v", tr)
	}
}

// FuzzTags: whatever a tag holds, what comes of it can be printed.
func FuzzTags(f *testing.F) {
	samples, err := filepath.Glob("scan/testdata/tiny/*")
	if err != nil || len(samples) == 0 {
		f.Fatal("no files in scan/testdata/tiny")
	}
	for _, name := range samples {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add(append(id3v2(3, 0, frame("TIT2", "\x01\xFF\xFE"+utf16le("Fog")), frame("APIC", "\x00image/png\x00\x03\x00...")), mp3Frames(3)...))
	f.Add(append(id3v2(4, 0x40, []byte("\x00\x00\x00\x06\x01\x00"), frame("TCON", "\x03(17)(4)")), mp3Frames(3)...))
	f.Add(append(id3v2(2, 0x80, frame("TT2", "\x00Fog")), mp3Frames(3)...))
	f.Fuzz(func(t *testing.T, b []byte) {
		r := bytes.NewReader(b)
		info, err := scan.File(r, int64(len(b)))
		if err != nil {
			// Tags are looked for all the same, wherever they are said to be.
			info.Tags = nil
			for _, kind := range tagOrder {
				info.Tags = append(info.Tags, scan.Tag{Kind: kind, Off: int64(len(b) / 3), Size: int64(len(b) - len(b)/3)}, scan.Tag{Kind: kind, Size: int64(len(b))})
			}
		}
		tr := Track{Path: "x.mp3"}
		readTags(r, info, &tr)
		lawfulTrack(t, tr)
		if tr.Title == "" {
			nameTitle(&tr)
		}
		if tr.Title == "" {
			t.Fatal("no title")
		}
	})
}

// FuzzList: every track of a list has a title and a length; a fault is in one line each.
func FuzzList(f *testing.F) {
	for _, s := range []string{"length,artist,title\n3:45,Crew,Fog\n", "title\tlength\nBell\t61.5\n", "3:45  Crew - Fog\n# x\n0:59 Bell\n", "length;title\n1:00;\"a;b\"\n", "length,title,file\n,Fog,a.flac#t=1,2\n1:00,Bell,\n", "\xFF\xFE3\x00:\x004\x005\x00"} {
		f.Add([]byte(s), ".csv")
		f.Add([]byte(s), ".txt")
	}
	f.Fuzz(func(t *testing.T, b []byte, ext string) {
		items, err := readList(bytes.NewReader(b), "list", ext, ".")
		if err != nil {
			if items != nil {
				t.Fatal("tracks beside a fault")
			}
			for line := range strings.Lines(err.Error()) {
				if !strings.HasPrefix(line, "list") || len(line) > 100_000 {
					t.Fatalf("%q", line)
				}
			}
			return
		}
		for _, it := range items {
			lawfulTrack(t, it.track)
			if len(it.parts) == 1 { // a row that names a file
				lawfulTrack(t, it.parts[0])
				continue
			}
			if it.track.Title == "" || it.track.Length <= 0 || it.track.Length > longest || it.track.LengthFrom != Typed || it.err != nil || !it.known {
				t.Fatalf("%+v", it)
			}
		}
	})
}

// FuzzPlaylist: an entry has a place or is told of; its texts can be printed. No
// file is looked for.
func FuzzPlaylist(f *testing.F) {
	f.Add([]byte("#EXTM3U\n#EXTINF:12,Crew - Fog\nfog.mp3\n"), false)
	f.Add([]byte(`<playlist><trackList><track><location>a%20b</location><duration>1000</duration></track></trackList></playlist>`), true)
	f.Add([]byte(`<?xml version="1.0" encoding="ISO-8859-1"?><playlist><trackList><track><title>`+"\xE6"+`</title></track></trackList></playlist>`), true)
	f.Fuzz(func(t *testing.T, b []byte, isXML bool) {
		parse := parseM3U
		if isXML {
			parse = parseXSPF
		}
		entries, err := parse(bytes.NewReader(b), "list")
		if err != nil {
			if entries != nil || strings.Contains(err.Error(), "\n") {
				t.Fatalf("%q, %d entries", err, len(entries))
			}
			return
		}
		if len(entries) > len(b) {
			t.Fatalf("%d entries in %d bytes", len(entries), len(b))
		}
		for _, e := range entries {
			lawfulTrack(t, e.hint)
			if len(e.places) == 0 {
				it := e.typed()
				if (it.err == nil) == (it.track.Length <= 0) || it.track.Length > longest {
					t.Fatalf("%+v", it)
				}
			}
		}
	})
}

// lawfulParts checks what becomes of a file that is cut: parts in their bounds.
func lawfulParts(t *testing.T, file Track, parts []Track) {
	t.Helper()
	tracks, err := cut(file, parts)
	if err != nil {
		if len(tracks) > 0 || strings.Contains(err.Error(), "\n") {
			t.Fatalf("%d tracks beside %q", len(tracks), err)
		}
		return
	}
	for _, tr := range tracks {
		lawfulTrack(t, tr)
		if tr.Title == "" || tr.From < 0 || tr.Length <= 0 || tr.From+tr.Length > file.Length || tr.Part != (tr.Length < file.Length) {
			t.Fatalf("%+v of a file of %v", tr, file.Length)
		}
	}
}

// FuzzInside: whatever a file claims of parts within it, they lie within it.
func FuzzInside(f *testing.F) {
	block := make([]byte, 396+2*36+2*12)
	block[395] = 2
	block[396+8], block[396+35] = 1, 1
	block[396+36+8] = 1
	block[396+48+8] = 170
	f.Add(block, int64(44100))
	f.Add([]byte("\x00\x00\x00\x00\x01\x00\x00\x00\x58\x00\x00\x00CUESHEET=FILE x WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 00:02:00"), int64(900000))
	chap := func(id, title string, at byte) []byte {
		return frame("CHAP", id+"\x00\x00\x00"+string(at)+"\x00\x00\x00"+string(at+1)+"\x00\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF"+string(frame("TIT2", "\x03"+title)))
	}
	f.Add(id3v2(3, 0, frame("CTOC", "toc\x00\x03\x02a\x00b\x00"), chap("a", "Fog", 0), chap("b", "Bell", 9), chap("c", "Bell", 12)), int64(900000))
	f.Add([]byte("\x00\x00\x00\x00\x02\x00\x00\x00\x17\x00\x00\x00CHAPTER001=00:00:01.500\x17\x00\x00\x00CHAPTER002=00:00:03.000"), int64(900000))
	f.Fuzz(func(t *testing.T, b []byte, samples int64) {
		info := scan.Info{Rate: 44100, Samples: max(1, samples)}
		for _, kind := range []scan.TagKind{scan.FLACCueSheet, scan.VorbisComment, scan.ID3v2} {
			info.Tags = []scan.Tag{{Kind: kind, Off: 0, Size: int64(len(b))}}
			file := Track{Path: "x", Title: "x", Length: info.Length(), Samples: info.Samples, SampleRate: info.Rate}
			in := lookInside(bytes.NewReader(b), int64(len(b)), info, &file)
			lawfulTrack(t, file)
			lawfulParts(t, file, in.Sheet)
			lawfulParts(t, file, in.Chapters)
		}
	})
}
