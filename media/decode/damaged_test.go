package decode

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"longside/media/scan"
)

// small makes a short file of every format that is decoded here: name to bytes.
func small(t testing.TB, seconds float64) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	x := music(44100, 2, seconds)
	writeWAV(t, in("a.wav"), 44100, 2, 16, x)
	writeWAV(t, in("a24.wav"), 44100, 2, 24, x)
	tool(t, "flac", "-s", "-f", "-o", in("a.flac"), in("a.wav"))
	tool(t, "lame", "--quiet", "-m", "s", "-b", "64", "--resample", "44.1", in("a.wav"), in("a.mp3"))
	tool(t, "oggenc", "-Q", "-q", "0", "-o", in("a.ogg"), in("a.wav"))
	tool(t, "opusenc", "--quiet", "--bitrate", "48", in("a.wav"), in("a.opus"))
	tool(t, "sox", in("a.wav"), in("a.aiff"))
	out := map[string][]byte{}
	for _, name := range []string{"a.wav", "a24.wav", "a.flac", "a.mp3", "a.ogg", "a.opus", "a.aiff"} {
		b, err := os.ReadFile(in(name))
		if err != nil {
			t.Fatal(err)
		}
		out[name] = b
	}
	return out
}

// tryAll decodes bytes to the end and holds the stream to its laws: no more
// frames than the container says, fewer only with a note, no value that is no number.
func tryAll(t testing.TB, b []byte) (frames int64, notes []string, err error) {
	t.Helper()
	info, err := scan.Walk(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return 0, nil, err
	}
	s, err := New(bytes.NewReader(b), int64(len(b)), info)
	if err != nil {
		return 0, nil, err
	}
	defer s.Close()
	buf := make([]float32, 1000*s.Channels)
	for {
		n, err := s.Read(buf)
		for _, v := range buf[:n*s.Channels] {
			if v != v || math.IsInf(float64(v), 0) {
				t.Fatalf("%s gives %v", s.By, v)
			}
		}
		frames += int64(n)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s: Read gives %v, and only io.EOF ends a sound", s.By, err)
		}
		if n == 0 {
			t.Fatalf("%s: nothing and no error", s.By)
		}
	}
	if frames > info.Samples || frames < info.Samples && len(s.Notes()) == 0 || frames != s.Given() {
		t.Fatalf("%s gives %d of %d frames (says %d), notes %q", s.By, frames, info.Samples, s.Given(), s.Notes())
	}
	return frames, s.Notes(), nil
}

// A file that was cut off anywhere is decoded as far as it goes.
func TestTruncated(t *testing.T) {
	for name, b := range small(t, 0.4) {
		whole, notes, err := tryAll(t, b)
		if err != nil || len(notes) > 0 || whole < 17640 {
			t.Errorf("%s whole: %d frames, %q, %v", name, whole, notes, err)
		}
		for n := 0; n < len(b); n += 1 + len(b)/120 {
			frames, _, err := tryAll(t, b[:n])
			if err != nil && strings.Contains(err.Error(), "\n") {
				t.Errorf("%s cut at %d: %q is no single line", name, n, err)
			}
			if frames > whole {
				t.Errorf("%s cut at %d: %d frames, the whole has %d", name, n, frames, whole)
			}
		}
	}
}

// Damage in the middle is concealed or ends the track, with a note either way
// where the format has checksums.
func TestDamagedInTheMiddle(t *testing.T) {
	for name, b := range small(t, 4) { // some pages of Ogg
		d := bytes.Clone(b)
		for i := len(d) / 2; i < len(d)/2+40; i++ {
			d[i] ^= 0xA5
		}
		frames, notes, err := tryAll(t, d)
		if err != nil || frames == 0 {
			t.Errorf("%s: %d frames, %v", name, frames, err)
		}
		switch name {
		case "a.flac", "a.ogg", "a.opus":
			if len(notes) == 0 {
				t.Errorf("%s: damaged in the middle, and nothing is said", name)
			}
		}
	}
}

// Streams chained one behind the other in one Ogg file are one sound.
func TestChained(t *testing.T) {
	short, long := small(t, 0.4), small(t, 1)
	for _, name := range []string{"a.ogg", "a.opus"} {
		one, _, err1 := tryAll(t, short[name])
		two, _, err2 := tryAll(t, long[name])
		both, notes, err := tryAll(t, append(bytes.Clone(short[name]), long[name]...))
		if err1 != nil || err2 != nil || err != nil || both != one+two || len(notes) > 0 {
			t.Errorf("%s: %d and %d frames, %d chained; notes %q, %v %v %v", name, one, two, both, notes, err1, err2, err)
		}
	}
}

// A file that changes its rate or its channels in the middle is decoded to
// there (of MP3 the scanner says what is lost); files of one kind joined are
// decoded whole.
func TestChangesInTheMiddle(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	for _, s := range []struct {
		name           string
		rate, channels int
	}{{"44", 44100, 2}, {"48", 48000, 2}, {"mono", 44100, 1}} {
		writeWAV(t, in(s.name+".wav"), s.rate, s.channels, 16, music(s.rate, s.channels, 1))
		tool(t, "lame", "--quiet", "-m", map[int]string{1: "m", 2: "s"}[s.channels], "-t", "-b", "128", in(s.name+".wav"), in(s.name+".mp3"))
		tool(t, "oggenc", "-Q", "-o", in(s.name+".ogg"), in(s.name+".wav"))
	}
	read := func(name string) []byte {
		b, err := os.ReadFile(in(name))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	for _, c := range []struct{ a, b, ext string }{
		{"44", "48", ".mp3"}, {"44", "44", ".mp3"}, {"44", "48", ".ogg"}, {"44", "mono", ".ogg"},
	} {
		first, _, _ := tryAll(t, read(c.a+c.ext))
		frames, notes, err := tryAll(t, append(read(c.a+c.ext), read(c.b+c.ext)...))
		if frames < first-2304 {
			t.Errorf("%s + %s%s: %d frames, the first alone has %d; %q, %v", c.a, c.b, c.ext, frames, first, notes, err)
		}
		if c.ext == ".ogg" && (frames != first || len(notes) != 1) {
			t.Errorf("%s + %s%s: %d frames, want the first's %d and a note; %q", c.a, c.b, c.ext, frames, first, notes)
		}
	}
}

func TestRefusals(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o666); err != nil {
			t.Fatal(err)
		}
		return p
	}
	header := func(channels int, rate uint32, bits int, data int) []byte {
		p := filepath.Join(dir, "h.wav")
		writeWAV(t, p, 8000, 1, 16, make([]float64, data/2))
		b, _ := os.ReadFile(p)
		binary.LittleEndian.PutUint16(b[22:], uint16(channels))
		binary.LittleEndian.PutUint32(b[24:], rate)
		binary.LittleEndian.PutUint16(b[32:], uint16(channels*bits/8))
		binary.LittleEndian.PutUint16(b[34:], uint16(bits))
		return b
	}
	for _, c := range []struct{ name, path, want string }{
		{"empty", write("empty.mp3", nil), "empty"},
		{"text", write("text.mp3", []byte("not music at all, whatever its name says\n")), "text"},
		{"header only", write("head.wav", header(2, 44100, 16, 0)), "no sound"},
		{"200 channels", write("200.wav", header(200, 44100, 16, 8000)), "200 channels"},
		{"absurd rate", write("rate.wav", header(1, 4000000000, 16, 8000)), "sample rate"},
		{"folder", dir, "not a regular file"},
		{"missing", filepath.Join(dir, "none.mp3"), "no such file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Open(context.Background(), c.path)
			if err == nil {
				s.Close()
				t.Fatal("opened")
			}
			if !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") || strings.Contains(err.Error(), dir) {
				t.Errorf("%q, want one line with %q and no path", err, c.want)
			}
		})
	}
}

// Without ffmpeg, what only ffmpeg decodes is refused with what would help.
func TestWithoutFFmpeg(t *testing.T) {
	dir := t.TempDir()
	wav, m4a := filepath.Join(dir, "a.wav"), filepath.Join(dir, "a.m4a")
	writeWAV(t, wav, 44100, 2, 16, music(44100, 2, 0.5))
	tool(t, "ffmpeg", "-v", "error", "-i", wav, m4a)
	t.Setenv("PATH", dir)
	_, err := Open(context.Background(), m4a)
	if err == nil || !strings.Contains(err.Error(), "AAC") || !strings.Contains(err.Error(), "ffmpeg") {
		t.Errorf("%v: want the format's name and the way out", err)
	}
}

func TestNoNumbers(t *testing.T) {
	dir := t.TempDir()
	var data []byte
	for i := range 1000 {
		v := float32(math.Sin(float64(i) / 10))
		switch i {
		case 100:
			v = float32(math.NaN())
		case 101:
			v = float32(math.Inf(-1))
		}
		data = binary.LittleEndian.AppendUint32(data, math.Float32bits(v))
	}
	p := filepath.Join(dir, "nan.wav")
	writeWAV(t, p, 44100, 1, 16, make([]float64, 2000))
	b, _ := os.ReadFile(p)
	binary.LittleEndian.PutUint16(b[20:], 3) // IEEE float
	binary.LittleEndian.PutUint16(b[34:], 32)
	binary.LittleEndian.PutUint16(b[32:], 4)
	copy(b[44:], data)
	frames, notes, err := tryAll(t, b)
	if frames != 1000 || err != nil || len(notes) != 1 || !strings.Contains(notes[0], "2 samples") {
		t.Errorf("%d frames, notes %q, %v", frames, notes, err)
	}
}

// A file that claims much must not take much: what a sparse file of 10 GB and a
// header of a few bytes cost is measured.
func TestMemory(t *testing.T) {
	dir := t.TempDir()
	p := filepath.Join(dir, "big.wav")
	writeWAV(t, p, 44100, 2, 16, make([]float64, 100))
	b, _ := os.ReadFile(p)
	binary.LittleEndian.PutUint32(b[40:], 0xFFFFFFFF)
	binary.LittleEndian.PutUint32(b[4:], 0xFFFFFFFF)
	if err := os.WriteFile(p, b, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(p, 10<<30); err != nil {
		t.Skipf("no sparse files here: %v", err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	s, err := Open(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	buf := make([]float32, 8192)
	for range 2000 {
		if _, err := s.Read(buf); err != nil {
			t.Fatal(err)
		}
	}
	runtime.ReadMemStats(&after)
	if n := after.TotalAlloc - before.TotalAlloc; n > 4<<20 {
		t.Errorf("%d bytes taken for 2000 reads", n)
	}
}

// The check of the setup header passes what an encoder writes, and refuses what
// the decoder would hang on or take gigabytes for.
func TestVorbisSetup(t *testing.T) {
	// bits builds a setup header, low bit first.
	var out []byte
	var at int
	put := func(v uint64, n int) {
		for i := range n {
			if at>>3 == len(out) {
				out = append(out, 0)
			}
			out[at>>3] |= byte(v>>i&1) << (at & 7)
			at++
		}
	}
	// rest ends a header: a transform, a floor, a residue.
	rest := func(begin, end, classbook uint64) {
		put(0, 6)
		put(0, 16) // transform
		put(0, 6)
		put(1, 16) // floor of type 1
		put(0, 5)  // without partitions
		put(0, 3)
		put(0, 2)
		put(0, 8)
		put(0, 2)
		put(0, 4)
		put(0, 6)
		put(2, 16) // residue
		put(begin, 24)
		put(end, 24)
		put(7, 24)
		put(0, 6)
		put(classbook, 8)
		put(0, 4) // one class without books
	}
	residue := func(begin, end, classbook uint64) []byte {
		out, at = nil, 0
		put(0, 8)
		put(0x564342, 24)
		put(1, 16)
		put(1, 24)
		put(0, 2)
		put(0, 5)
		put(0, 4)
		rest(begin, end, classbook)
		return out
	}
	book := func(dimensions, entries uint64, lengths ...uint64) []byte {
		out, at = nil, 0
		put(0, 8)
		put(0x564342, 24)
		put(dimensions, 16)
		put(entries, 24)
		put(0, 1) // not ordered
		put(0, 1) // not sparse
		for _, l := range lengths {
			put(l-1, 5)
		}
		put(0, 4) // no lookup
		rest(0, 10, 0)
		return out
	}
	ordered := func() []byte {
		out, at = nil, 0
		put(0, 8)
		put(0x564342, 24)
		put(1, 16)
		put(8, 24)
		put(1, 1) // ordered, and then nothing: no entry ever gets a length
		return out
	}
	for _, c := range []struct {
		name  string
		setup []byte
		ok    bool
	}{
		{"a full tree", book(1, 3, 1, 2, 2), true},
		{"a single word", book(1, 1, 1), true},
		{"a tree with a hole", book(1, 2, 1, 2), false},
		{"too many words", book(1, 3, 1, 1, 1), false},
		{"no dimensions", book(0, 2, 1, 1), false},
		{"a million entries", book(1, 1<<20), false},
		{"gigabytes of values", book(65535, 60000), false},
		{"ordered for ever", ordered(), false},
		{"cut off", book(1, 3, 1, 2, 2)[:8], false},
		{"a residue", residue(0, 128, 0), true},
		{"a residue that ends before it begins", residue(128, 64, 0), false},
		{"a residue of a book that is not there", residue(0, 128, 1), false},
		{"nothing", nil, false},
	} {
		if err := checkSetup(c.setup); (err == nil) != c.ok {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// fuzzDecoder holds one decoder to the laws of tryAll, and to giving the same
// sound twice (tried on an eighth of the inputs).
func fuzzDecoder(f *testing.F, names ...string) {
	files := small(f, 0.05)
	for _, name := range names {
		f.Add(files[name])
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1<<15 {
			return
		}
		b = mended(b)
		n, notes, err := tryAll(t, b)
		if crc32.ChecksumIEEE(b)%8 != 0 {
			return
		}
		m, again, err2 := tryAll(t, b)
		if n != m || len(notes) != len(again) || (err == nil) != (err2 == nil) {
			t.Fatalf("twice the same bytes: %d frames %q %v, then %d frames %q %v", n, notes, err, m, again, err2)
		}
	})
}

// mended gives Ogg pages right checksums again: without that nearly all that is
// changed in one is passed over, and the decoder behind is never tried.
func mended(b []byte) []byte {
	b = bytes.Clone(b)
	for at := 0; ; {
		i := bytes.Index(b[at:], oggPattern)
		if i < 0 || at+i+27 > len(b) {
			return b
		}
		page := b[at+i:]
		size := 27 + int(page[26])
		if size > len(page) {
			return b
		}
		for _, n := range page[27:size] {
			size += int(n)
		}
		if size > len(page) {
			return b
		}
		binary.LittleEndian.PutUint32(page[22:], oggChecksum(page[:size]))
		at += i + size
	}
}

func FuzzPCM(f *testing.F)    { fuzzDecoder(f, "a.wav", "a24.wav", "a.aiff") }
func FuzzMP3(f *testing.F)    { fuzzDecoder(f, "a.mp3") }
func FuzzFLAC(f *testing.F)   { fuzzDecoder(f, "a.flac") }
func FuzzVorbis(f *testing.F) { fuzzDecoder(f, "a.ogg") }
func FuzzOpus(f *testing.F)   { fuzzDecoder(f, "a.opus") }
