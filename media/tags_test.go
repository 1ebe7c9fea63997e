package media

import (
	"context"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/mewkiz/flac"

	"longside/testdata/reftool"
)

// utf16le and utf16be are text as ID3v2 holds it, without an order mark.
func utf16le(s string) string { return utf16As(binary.LittleEndian, s) }
func utf16be(s string) string { return utf16As(binary.BigEndian, s) }

func utf16As(o binary.AppendByteOrder, s string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = o.AppendUint16(b, u)
	}
	return string(b)
}

func TestID3v2(t *testing.T) {
	picture := frame("APIC", "\x00image/png\x00\x03\x00"+strings.Repeat("\x89PNG", 5000))
	long := append([]byte("TIT2\x00\x00\x01\x40\x00\x00"), "\x03"+strings.Repeat("o", 191)...) // ID3v2.4: size 1*128+64 = 192
	plainSize := append([]byte("TIT2\x00\x00\x00\xC0\x00\x00"), "\x03"+strings.Repeat("o", 191)...)
	for _, c := range []struct {
		what  string
		tag   []byte
		title string
	}{
		{"Latin-1", id3v2(3, 0, frame("TIT2", "\x00Sm\xF8rrebr\xF8d")), "Smørrebrød"},
		{"UTF-8 that says it is Latin-1", id3v2(3, 0, frame("TIT2", "\x00Smørrebrød")), "Smørrebrød"},
		{"UTF-16, mark, little end", id3v2(3, 0, frame("TIT2", "\x01\xFF\xFE"+utf16le("Φάρος"))), "Φάρος"},
		{"UTF-16, mark, big end", id3v2(3, 0, frame("TIT2", "\x01\xFE\xFF"+utf16be("Φάρος"))), "Φάρος"},
		{"UTF-16 that lacks its mark, little end", id3v2(3, 0, frame("TIT2", "\x01"+utf16le("Fog"))), "Fog"},
		{"UTF-16 that lacks its mark, big end", id3v2(3, 0, frame("TIT2", "\x01"+utf16be("Fog"))), "Fog"},
		{"UTF-16 big end by declaration", id3v2(4, 0, frame("TIT2", "\x02"+utf16be("Паром"))), "Паром"},
		{"UTF-16 little end, declared big", id3v2(4, 0, frame("TIT2", "\x02"+utf16le("Fog Bell")+"\x00\x00")), "Fog Bell"},
		{"UTF-16 big end, its low byte zero", id3v2(4, 0, frame("TIT2", "\x02"+utf16be("一"))), "一"},
		{"UTF-16 big end, some low bytes zero", id3v2(4, 0, frame("TIT2", "\x02"+utf16be("一つ星"))), "一つ星"},
		{"UTF-16 with a byte too many", id3v2(3, 0, frame("TIT2", "\x01\xFF\xFE"+utf16le("Fog")+"\x00")), "Fog"},
		{"UTF-8", id3v2(4, 0, frame("TIT2", "\x03Ночь")), "Ночь"},
		{"beyond the basic plane", id3v2(3, 0, frame("TIT2", "\x01\xFF\xFE"+utf16le("𝄞"))), "𝄞"},
		{"code page 1252 in the gap of Latin-1", id3v2(3, 0, frame("TIT2", "\x00Captain\x92s")), "Captain’s"},
		{"version 2.2", id3v2(2, 0, frame("TT2", "\x00Fog")), "Fog"},
		{"a picture in front", id3v2(3, 0, picture, frame("TIT2", "\x00Fog")), "Fog"},
		{"an extended header, 2.3", id3v2(3, 0x40, []byte("\x00\x00\x00\x06\x00\x00\x00\x00\x00\x00"), frame("TIT2", "\x00Fog")), "Fog"},
		{"an extended header, 2.4", id3v2(4, 0x40, []byte("\x00\x00\x00\x06\x01\x00"), frame("TIT2", "\x00Fog")), "Fog"},
		{"size of seven bits a byte", id3v2(4, 0, long), strings.Repeat("o", 191)},
		{"a plain size where seven bits are due", id3v2(4, 0, plainSize, frame("TPE1", "\x03Crew")), strings.Repeat("o", 191)},
		{"several values", id3v2(4, 0, frame("TIT2", "\x03Fog\x00Bell")), "Fog / Bell"},
		{"control characters", id3v2(3, 0, frame("TIT2", "\x00Fog\x1B[31m\x07\nBell\x7F")), "Fog[31m Bell"},
		{"a direction override", id3v2(4, 0, frame("TIT2", "\x03Fog\u202Egnp")), "Foggnp"},
		{"padding", id3v2(3, 0, frame("TIT2", "\x00Fog"), make([]byte, 500)), "Fog"},
		{"compressed", id3v2(3, 0, append([]byte("TIT2\x00\x00\x00\x04\x00\x80"), "\x00Fog"...)), "x"},
		{"data length and unsynchronisation, 2.4", id3v2(4, 0, append([]byte("TIT2\x00\x00\x00\x0C\x00\x03\x00\x00\x00\x07"), "\x01\xFF\x00\xFE"+utf16le("Fo")...)), "Fo"},
		{"a frame longer than the tag", id3v2(3, 0, []byte("TIT2\x00\xFF\xFF\xFF\x00\x00\x00Fog")), "x"},
		{"an unknown version", id3v2(9, 0, frame("TIT2", "\x00Fog")), "x"},
	} {
		if got := one(t, "x.mp3", append(c.tag, mp3Frames(5)...)).Title; got != c.title {
			t.Errorf("%s: %q, want %q", c.what, got, c.title)
		}
	}
	// A tag that is unsynchronised as a whole: FF 00 FE stands for FF FE.
	body := frame("TIT2", "\x01\xFF\xFE"+utf16le("Fo"))
	wire := strings.ReplaceAll(string(body), "\xFF", "\xFF\x00")
	if got := one(t, "x.mp3", append(id3v2(3, 0x80, []byte(wire)), mp3Frames(5)...)).Title; got != "Fo" {
		t.Errorf("unsynchronised: %q", got)
	}
}

func TestTagFields(t *testing.T) {
	tag := id3v2(4, 0, frame("TIT2", "\x03Fog"), frame("TPE1", "\x03Crew"), frame("TALB", "\x03Night"), frame("TRCK", "\x037/12"),
		frame("TPOS", "\x032/2"), frame("TDRC", "\x032004-05-06T07:08"), frame("TCON", "\x0317"))
	got := one(t, "x.mp3", append(tag, mp3Frames(5)...))
	want := Track{Title: "Fog", Artist: "Crew", Album: "Night", Number: 7, Disc: 2, Year: 2004, Genre: "Rock"} // 17 is Rock in the list of ID3v1
	if got.Title != want.Title || got.Artist != want.Artist || got.Album != want.Album || got.Number != want.Number || got.Disc != want.Disc || got.Year != want.Year || got.Genre != want.Genre {
		t.Errorf("%+v", got)
	}
}

// TestGenres: ID3v2.3, 4.2.1: numbers of ID3v1 in round brackets, then a text that
// refines them and is shown for them; "((" stands for a bracket of the text.
func TestGenres(t *testing.T) {
	for in, want := range map[string]string{
		"(17)": "Rock", "17": "Rock", "(17)Rock": "Rock", "(4)Eurodisco": "Eurodisco", "(17)(8)Harbour": "Harbour",
		"(17)((Slow) Rock": "(Slow) Rock", "Rock": "Rock", "(Slow) Rock": "(Slow) Rock",
	} {
		if got := one(t, "x.mp3", append(id3v2(3, 0, frame("TCON", "\x00"+in)), mp3Frames(5)...)).Genre; got != want {
			t.Errorf("%s: %q, want %q", in, got, want)
		}
	}
}

func TestOtherTags(t *testing.T) {
	id3v1 := make([]byte, 128)
	copy(id3v1, "TAG")
	copy(id3v1[3:], "Sm\xF8rrebr\xF8d")
	copy(id3v1[33:], "Crew")
	copy(id3v1[93:], "1999")
	id3v1[126], id3v1[127] = 4, 17
	got := one(t, "x.mp3", append(mp3Frames(5), id3v1...))
	if got.Title != "Smørrebrød" || got.Artist != "Crew" || got.Year != 1999 || got.Number != 4 || got.Genre != "Rock" {
		t.Errorf("ID3v1: %+v", got)
	}
	// ID3v2 goes first, ID3v1 fills what it leaves open.
	got = one(t, "x.mp3", append(append(id3v2(3, 0, frame("TIT2", "\x00Fog")), mp3Frames(5)...), id3v1...))
	if got.Title != "Fog" || got.Artist != "Crew" {
		t.Errorf("both: %+v", got)
	}
	item := func(key, value string) string {
		return string(binary.LittleEndian.AppendUint32(nil, uint32(len(value)))) + "\x00\x00\x00\x00" + key + "\x00" + value
	}
	ape := item("Title", "Φάρος") + item("Artist", "One\x00Two") + item("Track", "3/9") + item("Year", "2001")
	foot := "APETAGEX\xD0\x07\x00\x00" + string(binary.LittleEndian.AppendUint32(nil, uint32(len(ape)+32))) + "\x04\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00"
	got = one(t, "x.mp3", append(mp3Frames(5), ape+foot...))
	if got.Title != "Φάρος" || got.Artist != "One / Two" || got.Number != 3 || got.Year != 2001 {
		t.Errorf("APE: %+v", got)
	}
	info := "INFOINAM\x04\x00\x00\x00Fog\x00IART\x05\x00\x00\x00Crew\x00\x00ICRD\x04\x00\x00\x002003ITRK\x01\x00\x00\x006\x00"
	list := "LIST" + string(binary.LittleEndian.AppendUint32(nil, uint32(len(info)))) + info
	got = one(t, "x.wav", wav(8000, []byte(list)))
	if got.Title != "Fog" || got.Artist != "Crew" || got.Year != 2003 || got.Number != 6 {
		t.Errorf("RIFF INFO: %+v", got)
	}
	tag := id3v2(3, 0, frame("TIT2", "\x00Bell"))
	chunk := append(append([]byte("id3 "), binary.LittleEndian.AppendUint32(nil, uint32(len(tag)))...), tag...)
	if got = one(t, "x.wav", wav(8000, chunk)); got.Title != "Bell" {
		t.Errorf("ID3 in WAV: %+v", got)
	}
	aiff := "FORM\x00\x00\x00\x00AIFFCOMM\x00\x00\x00\x12\x00\x01\x00\x00\x00\x04\x00\x10\x40\x0E\xAC\x44\x00\x00\x00\x00\x00\x00NAME\x00\x00\x00\x03Fog\x00AUTH\x00\x00\x00\x04CrewSSND\x00\x00\x00\x10" + strings.Repeat("\x00", 16)
	if got = one(t, "x.aiff", []byte(aiff)); got.Title != "Fog" || got.Artist != "Crew" || got.Samples != 4 {
		t.Errorf("AIFF: %+v", got)
	}
}

func TestVorbisComments(t *testing.T) {
	encoder := reftool.Need(t, "flac")
	dir := put(t, map[string][]byte{"a.wav": wav(8000)})
	out := filepath.Join(dir, "a.flac")
	cmd := exec.Command(encoder, "-s", "-o", out, "-T", "TITLE=Φάρος", "-T", "ARTIST=One", "-T", "artist=Two", "-T", "DATE=2004-03", "-T", "TRACKNUMBER=3/12", "-T", "DISCNUMBER=2", "-T", "GENRE=Dub", filepath.Join(dir, "a.wav"))
	if b, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	// An ID3v2 tag in front must not hide the comments.
	for what, b := range map[string][]byte{"plain": b, "behind an ID3v2 tag": append(id3v2(3, 0, frame("TIT2", "\x00Not this")), b...)} {
		got := one(t, "x.flac", b)
		if got.Title != "Φάρος" || got.Artist != "One / Two" || got.Year != 2004 || got.Number != 3 || got.Disc != 2 || got.Genre != "Dub" || got.Samples != 8000 {
			t.Errorf("%s: %+v", what, got)
		}
	}
}

// moduleDir finds a dependency's own folder, with its test data.
func moduleDir(t *testing.T, module string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", module).Output()
	dir := strings.TrimSpace(string(out))
	if err != nil || dir == "" {
		t.Skipf("the module cache does not hold %s", module)
	}
	return dir
}

// The test data of dhowden/tag holds the same tags in each format.
func TestTagLibrarysOwnSamples(t *testing.T) {
	dir := filepath.Join(moduleDir(t, "github.com/dhowden/tag"), "testdata", "with_tags")
	tracks, faults, err := Read(context.Background(), []string{dir}, Options{})
	if err != nil || len(faults) != 1 || filepath.Base(faults[0].Path) != "sample.dsf" { // the one format that we do not read
		t.Fatal(faults, err)
	}
	if len(tracks) < 8 {
		t.Fatalf("only %d files", len(tracks))
	}
	for _, got := range tracks {
		name := filepath.Base(got.Path)
		disc := 2
		if name == "sample.id3v11.mp3" {
			disc = 0 // it has no place for one
		}
		if got.Title != "Test Title" || got.Artist != "Test Artist" || got.Album != "Test Album" || got.Genre != "Jazz" || got.Year != 2000 || got.Number != 3 || got.Disc != disc {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// The test data of mewkiz/flac: our length is the number of samples that it decodes.
func TestFLACLibrarysOwnSamples(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(moduleDir(t, "github.com/mewkiz/flac"), "testdata", "*.flac"))
	if len(files) < 10 {
		t.Fatalf("only %d files", len(files))
	}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := flac.New(f)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			f.Close()
			continue
		}
		var n int64
		for {
			fr, err := s.ParseNext()
			if err != nil {
				break
			}
			n += int64(fr.BlockSize)
		}
		f.Close()
		for _, o := range []Options{{}, {Count: true}} {
			tracks, faults, err := Read(context.Background(), []string{name}, o)
			whole := filepath.Base(name) != "id3.flac" // which is the beginning of a longer file
			if err != nil || len(faults) > 0 || tracks[0].Samples != n || len(tracks[0].Notes) > 0 == whole {
				t.Errorf("%s (%+v): %d samples are decoded; %+v %v %v", filepath.Base(name), o, n, tracks, faults, err)
			}
		}
	}
}

func TestTitleFromName(t *testing.T) {
	for _, c := range []struct {
		name, artist, title string
		number, disc        int
	}{
		{"Fog.wav", "", "Fog", 0, 0},
		{"03 Fog.wav", "", "Fog", 3, 0},
		{"3. Fog.wav", "", "Fog", 3, 0},
		{"12 - Crew - Fog.wav", "Crew", "Fog", 12, 0},
		{"2-07 Fog.wav", "", "Fog", 7, 2},
		{"99 Lanterns.wav", "", "99 Lanterns", 0, 0},
		{"7.wav", "", "7", 0, 0},
		{"night_bell_buoy.wav", "", "night bell buoy", 0, 0},
		{"Crew - Fog - Part 2.wav", "Crew", "Fog - Part 2", 0, 0},
		{"Fog.Bell.wav", "", "Fog.Bell", 0, 0},
		{"Sm\xF8r.wav", "", "Smør", 0, 0},
		{"a\x1B[2Jb.wav", "", "a[2Jb", 0, 0},
	} {
		got := one(t, c.name, wav(800))
		if got.Title != c.title || got.Artist != c.artist || got.Number != c.number || got.Disc != c.disc {
			t.Errorf("%q: %q by %q, number %d of disc %d", c.name, got.Title, got.Artist, got.Number, got.Disc)
		}
		if filepath.Base(got.Path) != c.name {
			t.Errorf("%q: its path became %q", c.name, got.Path)
		}
	}
}
