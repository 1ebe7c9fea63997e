package cue_test

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"longside/media/cue"
	"longside/testdata/reftool"
)

// flat is a sheet on one line: files, and of each track number, title,
// performer, beginning and pause.
func flat(s cue.Sheet) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s|%s|%s|%d|%d", s.Title, s.Performer, s.Genre, s.Year, s.Disc)
	for _, f := range s.Files {
		fmt.Fprintf(&b, " [%s %s", f.Name, f.Type)
		for _, t := range f.Tracks {
			fmt.Fprintf(&b, " %d=%s/%s@%s", t.Number, t.Title, t.Performer, t.Start)
			if t.Pause > 0 {
				fmt.Fprintf(&b, "-%s", t.Pause)
			}
		}
		b.WriteString("]")
	}
	return b.String()
}

// The commands and their places by the CUE sheet format appendix of the GNU
// ccd2cue manual; sheets with the gap at the end of the file before, unquoted
// names, TRACK without a time, and REM fields are common practice.
func TestParse(t *testing.T) {
	for name, c := range map[string]struct{ sheet, want string }{
		"one file": {`REM GENRE "Sea Songs"
REM DATE 2004
REM DISCNUMBER 2
PERFORMER "The Deckhands"
TITLE "Night Ferry"
FILE "ferry.wav" WAVE
  TRACK 01 AUDIO
    TITLE "Casting Off"
    INDEX 01 00:00:00
  TRACK 02 AUDIO
    TITLE "Fog"
    PERFORMER "Pilot"
    FLAGS DCP
    ISRC XXAAA0000001
    INDEX 00 03:10:74
    INDEX 01 03:12:10
    INDEX 02 04:00:00
  TRACK 03 AUDIO
    INDEX 01 100:00:00
`, "Night Ferry|The Deckhands|Sea Songs|2004|2 [ferry.wav WAVE 1=Casting Off/@00:00:00 2=Fog/Pilot@03:12:10-00:01:11 3=/@100:00:00]"},
		"gap at the end of the file before": {`FILE "01.wav" WAVE
TRACK 01 AUDIO
INDEX 01 00:00:00
TRACK 02 AUDIO
INDEX 00 03:00:00
FILE "02.wav" WAVE
INDEX 01 00:00:00
TRACK 03 AUDIO
INDEX 00 02:58:00
FILE "03.wav" WAVE
INDEX 01 00:00:00
`, "|||0|0 [01.wav WAVE 1=/@00:00:00] [02.wav WAVE 2=/@00:00:00] [03.wav WAVE 3=/@00:00:00]"},
		"the same file named again": {"FILE a WAVE\nTRACK 1 AUDIO\nINDEX 1 0:0:0\nFILE a WAVE\nTRACK 2 AUDIO\nINDEX 1 1:2:3\n",
			"|||0|0 [a WAVE 1=/@00:00:00 2=/@01:02:03]"},
		"no times": {"FILE \"a.mp3\" MP3\nTRACK 01 AUDIO\nTITLE Fog\nFILE \"b.mp3\" MP3\nTRACK 02 AUDIO\nTITLE Bell\n",
			"|||0|0 [a.mp3 MP3 1=Fog/@00:00:00] [b.mp3 MP3 2=Bell/@00:00:00]"},
		"texts after the times, small letters, old line ends": {"\uFEFFfile \"a b.flac\" wave\rtrack 01 audio\rindex 01 00:00:00\rtitle \"Say \"Fog\" twice\"\r",
			`|||0|0 [a b.flac WAVE 1=Say "Fog" twice/@00:00:00]`},
		"unquoted name with blanks": {"FILE night ferry.wav WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00",
			"|||0|0 [night ferry.wav WAVE 1=/@00:00:00]"},
		"data track": {"FILE a.bin BINARY\nTRACK 01 MODE1/2352\nINDEX 01 00:00:00\nFILE b.wav WAVE\nTRACK 02 AUDIO\nPREGAP 00:02:00\nINDEX 01 00:00:00",
			"|||0|0 [b.wav WAVE 2=/@00:00:00]"},
		"hidden before the first": {"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 00 00:00:00\nINDEX 01 01:23:18",
			"|||0|0 [a WAVE 1=/@01:23:18-01:23:18]"},
		"unknown commands": {"CATALOG 1\nWHATEVER x\nFILE a WAVE\n\n  ;\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nSONGWRITER x",
			"|||0|0 [a WAVE 1=/@00:00:00]"},
	} {
		s, err := cue.Parse(c.sheet)
		if err != nil || flat(s) != c.want {
			t.Errorf("%s:\n got %s, %v\nwant %s", name, flat(s), err, c.want)
		}
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		sheet string
		line  int
		says  string
	}{
		{"", 1, "no track of sound"},
		{"FILE a WAVE", 1, "no track of sound"},
		{"TRACK 01 AUDIO", 1, "before any FILE"},
		{"FILE a WAVE\nINDEX 01 00:00:00", 2, "before any TRACK"},
		{"FILE a WAVE\nTRACK x AUDIO", 2, "no number"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX x 00:00:00", 3, "from 00 to 99"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 00:60:00", 3, "mm:ss:ff"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:75", 3, "mm:ss:ff"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 0:00", 3, "mm:ss:ff"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 -1:00:00", 3, "mm:ss:ff"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 2001:00:00", 3, "mm:ss:ff"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 03:00:00\nTRACK 02 AUDIO\nINDEX 01 02:59:74", 5, "before the INDEX above it, at 03:00:00"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 03:00:00\nTRACK 02 AUDIO\nINDEX 01 03:00:00", 5, "no later than the track above"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 00 03:00:00\nINDEX 01 02:00:00", 4, "before the INDEX above"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 02 00:00:00", 3, "before its INDEX 01"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nTITLE x", 4, "TRACK 02 has no INDEX 01"},
		{"FILE a WAVE\nTRACK 01 AUDIO\nINDEX 00 00:00:00\nTRACK 02 AUDIO\nINDEX 01 00:02:00", 2, "TRACK 01 has no INDEX 01"},
		{"FILE \"a WAVE", 1, "not closed"},
		{"FILE \"\" WAVE", 1, "names no file"},
		{"FILE a WAVE\nTRACK 01 AUDIO\x00", 2, "not a text"},
		{strings.Repeat("x", cue.MaxBytes+1), 1, "longer than"},
		{"FILE a WAVE" + strings.Repeat("\nTRACK 01 AUDIO\nINDEX 01 ", 1) + "00:00:00" + func() string {
			var b strings.Builder
			for i := range cue.MaxTracks {
				fmt.Fprintf(&b, "\nTRACK 01 AUDIO\nINDEX 01 %s", cue.Time(i+1))
			}
			return b.String()
		}(), 2 + 2*cue.MaxTracks, "more than 999 tracks"},
	} {
		s, err := cue.Parse(c.sheet)
		var e *cue.Error
		if !errors.As(err, &e) || e.Line != c.line || !strings.Contains(e.Says, c.says) || strings.Contains(e.Says, "\n") || len(s.Files) > 0 {
			t.Errorf("%.60q: %v, want line %d: %s", c.sheet, err, c.line, c.says)
		}
	}
}

func TestTimes(t *testing.T) {
	for n := range cue.Time(200_000) {
		d := n.D()
		if cue.At(d) != n || cue.At(d+6*time.Millisecond) != n || cue.At(d-6*time.Millisecond) != n && n > 0 {
			t.Fatalf("%s is %v, and that is %s", n, d, cue.At(d))
		}
		// 588 samples at 44,100 Hz, to the sample: Red Book, by the FLAC format's text on it (RFC 9639, 8.7).
		if s := int64(d)*44100/1e9 + 1; s-1 > int64(n)*588 || s+1 < int64(n)*588 {
			t.Fatalf("%s is %v: sample %d", n, d, s)
		}
	}
	if got := cue.Time(74 + 75*(59+60*102)).String(); got != "102:59:74" {
		t.Error(got)
	}
}

var written = cue.Sheet{
	Title: "Night Ferry", Performer: "Die Möwen", Genre: "Sea", Year: 2004, Disc: 1,
	Files: []cue.File{
		{Name: "side-A.wav", Type: "WAVE", Tracks: []cue.Track{
			{Number: 1, Title: "Casting Off", Start: 0},
			{Number: 2, Title: "Fog, and “Bell”", Performer: "Pilot", Start: 14410, Pause: 150},
			{Number: 3, Title: "Harbour", Start: 30013},
		}},
	},
}

func TestRoundTrip(t *testing.T) {
	s, err := cue.Parse(string(written.Encode()))
	if err != nil || flat(s) != flat(written) {
		t.Errorf("%s, %v\nof %s", flat(s), err, flat(written))
	}
	hostile := cue.Sheet{Title: "a\"b\r\nFILE \"x\" WAVE\u0085", Files: []cue.File{{Name: "q\"\n.wav", Type: "WAVE", Tracks: []cue.Track{{Number: 1, Title: "\x00\"\"", Start: 0}}}}}
	if s, err := cue.Parse(string(hostile.Encode())); err != nil || s.Title != "a'b  FILE 'x' WAVE" || len(s.Files) != 1 || s.Files[0].Name != "q' .wav" {
		t.Errorf("%+v, %v", s, err)
	}
}

// Another program reads what is written: cuebreakpoints and cueprint of cuetools.
func TestWrittenForOthers(t *testing.T) {
	breakpoints, print := reftool.Need(t, "cuebreakpoints"), reftool.Need(t, "cueprint")
	path := filepath.Join(t.TempDir(), "side.cue")
	if err := os.WriteFile(path, written.Encode(), 0o666); err != nil {
		t.Fatal(err)
	}
	run := func(name string, args ...string) string {
		out, err := exec.Command(name, args...).CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v %s", name, err, out)
		}
		return strings.Join(strings.Fields(string(out)), " ")
	}
	// It gives where to cut, with the gaps left at the end of the track before.
	if got := run(breakpoints, "--append-gaps", path); got != "3:12.10 6:40.13" {
		t.Errorf("cuts at %q", got)
	}
	if got := run(breakpoints, "--prepend-gaps", path); got != "3:10.10 6:40.13" {
		t.Errorf("with the gaps before: %q", got)
	}
	if got := run(print, "-d", "%P %T %N ", "-t", "%n:%t:%p ", path); got != "Die Möwen Night Ferry 3 1:Casting Off: 2:Fog, and “Bell”:Pilot 3:Harbour:" {
		t.Errorf("texts %q", got)
	}
}

// FuzzParse: what is read is in order and small, and writes back as itself.
func FuzzParse(f *testing.F) {
	f.Add(string(written.Encode()))
	f.Add("FILE a WAVE\nTRACK 01 AUDIO\nINDEX 00 0:0:0\nINDEX 01 0:2:0\nTRACK 2 AUDIO\nINDEX 0 1:0:0\nFILE b MP3\nINDEX 1 0:0:0")
	f.Add("REM DATE 1x\nTITLE \"\nFILE \"a\"b\" X\nTRACK 1 MODE1\nINDEX 1 0:0:0\nTRACK 2\nINDEX 1 0:0:0\nINDEX 2 0:0:0")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := cue.Parse(text)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") || !reflect.DeepEqual(s, cue.Sheet{}) {
				t.Fatalf("%+v beside %q", s, err)
			}
			return
		}
		n := 0
		for _, file := range s.Files {
			last := cue.Time(-1)
			for _, tr := range file.Tracks {
				if n++; tr.Start <= last || tr.Pause < 0 || tr.Pause > tr.Start || n > cue.MaxTracks {
					t.Fatalf("%+v", file)
				}
				last = tr.Start
			}
			if last < 0 {
				t.Fatalf("a file without a track: %+v", file)
			}
		}
		again, err := cue.Parse(string(s.Encode()))
		if err != nil {
			// Quotation marks that became apostrophes can make two names one.
			if strings.Contains(text, `"`) || strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r >= 0x7F && r < 0xA0 }) {
				return
			}
			t.Fatalf("%v in\n%s", err, s.Encode())
		}
		if third, err := cue.Parse(string(again.Encode())); err != nil || flat(third) != flat(again) {
			t.Fatalf("%s, %v\nthen %s", flat(third), err, flat(again))
		}
	})
}
