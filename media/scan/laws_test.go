package scan

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// laws checks what holds for any bytes at all.
func laws(t testing.TB, b []byte) (q Info, qerr error) {
	for k, scan := range []func(*bytes.Reader, int64) (Info, error){quick, walked1} {
		info, err := scan(bytes.NewReader(b), int64(len(b)))
		if k == 0 {
			q, qerr = info, err
		}
		if err != nil {
			if !reflect.DeepEqual(info, Info{}) {
				t.Fatalf("an answer beside the error %v: %+v", err, info)
			}
			if s := err.Error(); strings.ContainsAny(s, "\n\r") || s == "" {
				t.Fatalf("not one line: %q", s)
			}
			continue
		}
		size := int64(len(b))
		if info.Samples <= 0 || info.Rate <= 0 || info.Length() < 0 {
			t.Fatalf("%d samples at %d Hz", info.Samples, info.Rate)
		}
		if most := mostSamples(info, size); info.Samples > most {
			t.Fatalf("%s, %s: %d samples in %d bytes; %d could be held", info.Format, info.Codec, info.Samples, size, most)
		}
		if info.Start < 0 || info.End < info.Start && info.Codec == "" || info.End > size {
			t.Fatalf("audio from %d to %d in %d bytes", info.Start, info.End, size)
		}
		if len(info.Tags) > 40 || len(info.Notes) > 20 {
			t.Fatalf("%d tags, %d notes", len(info.Tags), len(info.Notes))
		}
		again, _ := scan(bytes.NewReader(b), size)
		if !reflect.DeepEqual(info, again) {
			t.Fatalf("two answers: %+v and %+v", info, again)
		}
	}
	return q, qerr
}

// mostSamples is how many samples of one channel so many bytes can hold.
func mostSamples(i Info, size int64) int64 {
	switch {
	case i.PCM.BytesPerSample > 0:
		return size / int64(i.PCM.BytesPerSample)
	case i.MPEG.Version != "":
		// 24 bytes for 576 at 8 kbit/s and 24 kHz (see TestFrameSizes); in free
		// format no less than 32 for 1152 are looked for.
		return size * 1152 / 32
	case i.Format == "AAC":
		return size / 8 * 4096 // a header and a byte; four blocks
	case strings.Contains(i.Codec, "ADPCM"):
		return size * 8
	}
	return size * 65535 // FLAC's largest block in the smallest packet
}

// smallFiles are the shortest files of each format.
func smallFiles(t testing.TB) (files [][]byte, names []string) {
	names, _ = filepath.Glob("testdata/tiny/*")
	if len(names) < 18 {
		t.Fatalf("testdata/tiny holds %d files; 18 or more are wanted", len(names))
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, b)
	}
	return files, names
}

func TestCutAtEveryByte(t *testing.T) {
	files, names := smallFiles(t)
	for k, b := range files {
		before := int64(0)
		for n := range len(b) + 1 {
			info, err := laws(t, b[:n])
			// More bytes never make it shorter, but by the trims that the end brings.
			if err == nil {
				if info.Samples < before-4096 {
					t.Errorf("%s: %d samples in %d bytes, %d in fewer", names[k], info.Samples, n, before)
				}
				before = info.Samples
			}
		}
		if before == 0 {
			t.Errorf("%s: no length even of all of it", names[k])
		}
	}
}

func TestEachByteChanged(t *testing.T) {
	files, _ := smallFiles(t)
	for _, b := range files {
		b = bytes.Clone(b[:min(len(b), 1500)])
		for i := range b {
			was := b[i]
			for _, v := range []byte{0, 0xFF, was + 1} {
				b[i] = v
				laws(t, b)
			}
			b[i] = was
		}
	}
}

func FuzzFile(f *testing.F) {
	files, _ := smallFiles(f)
	files = append(files, wavBytes(100), mp3Bytes(6), []byte("fLaC"), []byte("FORM\x00\x00\x00\x00AIFF"), []byte("OggS\x00\x02"), []byte("\x00\x00\x00\x08ftypM4A "))
	for _, b := range files {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) { laws(t, b) })
}

// wavBytes is a WAV file of n samples, mono, 16 bits.
func wavBytes(n int) []byte {
	b := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x44\xAC\x00\x00\x88\x58\x01\x00\x02\x00\x10\x00data")
	b = append(b, byte(2*n), byte(2*n>>8), byte(2*n>>16), byte(2*n>>24))
	return append(b, make([]byte, 2*n)...)
}

// mp3Bytes is n frames of silence, 128 kbit/s at 44.1 kHz, without a tag.
func mp3Bytes(n int) []byte {
	frame := append(header(3, 1, 9, 0, 0, 0, 0), make([]byte, 413)...)
	return bytes.Repeat(frame, n)
}

// freeFrame is a frame of layer III that states no bit rate.
func freeFrame(padding uint32) []byte {
	return append(header(3, 1, 0, 0, padding, 0, 0), make([]byte, 996+int(padding))...)
}

func TestByHand(t *testing.T) {
	for _, c := range []struct {
		what    string
		b       []byte
		samples int64
		from    Known
		note    string
	}{
		{"six frames", mp3Bytes(6), 6 * 1152, Counted, ""},
		{"one frame", mp3Bytes(1), 1152, Counted, ""},
		{"frames and half of one", append(mp3Bytes(6), mp3Bytes(1)[:200]...), 6 * 1152, Counted, "last frame is not whole"},
		{"a hole", append(append(mp3Bytes(6), make([]byte, 50)...), mp3Bytes(5)...), 11 * 1152, Counted, "50 bytes in 1 places"},
		{"junk in front", append(make([]byte, 999), mp3Bytes(6)...), 6 * 1152, Counted, "999 bytes before"},
		// Layer I, 384 kbit/s at 44.1 kHz: 104 slots of four bytes (ISO/IEC 11172-3 2.4.3.1)
		{"layer I", bytes.Repeat(append(header(3, 3, 12, 0, 0, 0, 0), make([]byte, 412)...), 5), 5 * 384, Counted, ""},
		// free format: frames of 1000 bytes, a padded one of 1001 among them
		{"free format", slices.Concat(freeFrame(0), freeFrame(1), freeFrame(0), freeFrame(0), freeFrame(1)), 5 * 1152, Counted, ""},
		{"plain WAV", wavBytes(100), 100, Header, ""},
		{"WAV cut off", wavBytes(100)[:44+50], 25, Counted, "cut off"},
	} {
		info, err := quick(bytes.NewReader(c.b), int64(len(c.b)))
		if err != nil || info.Samples != c.samples || info.From != c.from {
			t.Errorf("%s: %d samples, %s, %v; want %d, %s", c.what, info.Samples, info.From, err, c.samples, c.from)
		}
		if notes := strings.Join(info.Notes, "; "); !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
			t.Errorf("%s: notes %q", c.what, notes)
		}
	}
}

func TestNotAudio(t *testing.T) {
	for _, c := range []struct {
		what, in, says string
		is             error
	}{
		{"empty", "", "empty", ErrNotAudio},
		{"text", "Dear crew,\nthe ferry is late.\n", "it is a text file", ErrNotAudio},
		{"a picture", "\x89PNG\r\n\x1a\n", "a PNG picture", ErrNotAudio},
		{"zeros", strings.Repeat("\x00", 5000), "no MPEG audio frames", ErrNotAudio},
		{"WAV without sound", string(wavBytes(0)), "no sound in it", ErrNoSound},
		{"an M4A without its index", "\x00\x00\x00\x08ftypM4A \x00\x00", "index", ErrNoSound},
		{"an unknown WAV", strings.Replace(string(wavBytes(9)), "\x01\x00\x01\x00\x44", "\x61\x01\x01\x00\x44", 1), "format tag 0x0161", ErrNotAudio},
	} {
		_, err := quick(bytes.NewReader([]byte(c.in)), int64(len(c.in)))
		if !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}

// sparse is a huge file of zeros with some bytes at places.
type sparse struct {
	size int64
	at   map[int64]string
}

func (s sparse) ReadAt(p []byte, off int64) (int, error) {
	clear(p)
	for at, text := range s.at {
		for i := range len(text) {
			if k := at + int64(i) - off; k >= 0 && k < int64(len(p)) {
				p[k] = text[i]
			}
		}
	}
	if off+int64(len(p)) > s.size {
		return int(max(0, s.size-off)), io.EOF
	}
	return len(p), nil
}

// EBU Tech 3306: beyond 4 GB the sizes are in the ds64 chunk.
func TestLargerThan4GB(t *testing.T) {
	const frames = 1_500_000_000 // 4 bytes each: 6 GB, 9 h 26 min 54 s at 44.1 kHz
	const data = 4 * frames
	riff := "RF64\xFF\xFF\xFF\xFFWAVE" + "ds64\x1C\x00\x00\x00" + le64(data+72) + le64(data) + le64(frames) + "\x00\x00\x00\x00" +
		"fmt \x10\x00\x00\x00\x01\x00\x02\x00\x44\xAC\x00\x00\x10\xB1\x02\x00\x04\x00\x10\x00" + "data\xFF\xFF\xFF\xFF"
	f := sparse{int64(len(riff)) + data, map[int64]string{0: riff}}
	for _, id := range []string{"RF64", "BW64"} {
		f.at[0] = id + riff[4:]
		info, err := File(f, f.size)
		if err != nil || info.Samples != frames || info.From != Header {
			t.Errorf("%s: %d samples, %s, %v", id, info.Samples, info.From, err)
		}
	}
	// A plain RIFF of that size: its 32-bit size cannot say, the file's does.
	plain := "RIFF\xFF\xFF\xFF\xFFWAVE" + riff[48:]
	f = sparse{int64(len(plain)) + data, map[int64]string{0: plain}}
	if info, err := File(f, f.size); err != nil || info.Samples != frames || info.From != Counted {
		t.Errorf("RIFF: %d samples, %s, %v", info.Samples, info.From, err)
	}
	// Other headers that speak of huge sizes, on a file of zeros: no hang, no memory.
	for name, head := range map[string]string{
		"AIFF": "FORM\xFF\xFF\xFF\xFFAIFFCOMM\x00\x00\x00\x12\x00\x02\xFF\xFF\xFF\xFF\x00\x10\x40\x0E\xAC\x44\x00\x00\x00\x00\x00\x00SSND\xFF\xFF\xFF\xF0",
		"M4A":  "\x00\x00\x00\x10ftypM4A \x00\x00\x00\x00\x00\x00\x00\x01moov\x00\x00\x00\x01\x00\x00\x00\x00",
		"FLAC": "fLaC\x00\x00\x00\x22\x10\x00\x10\x00\x00\x00\x00\x00\x00\x00\x0A\xC4\x42\xFF\xFF\xFF\xFF\xFF" + strings.Repeat("\x00", 16) + "\x84\xFF\xFF\xFF",
		"ID3":  "ID3\x04\x00\x00\x7F\x7F\x7F\x7F",
		"Ogg":  "OggS\x00\x02" + strings.Repeat("\x00", 20) + "\xFF" + strings.Repeat("\xFF", 255),
	} {
		f := sparse{5 << 30, map[int64]string{0: head}}
		if _, err := File(f, f.size); err == nil && name != "AIFF" {
			t.Errorf("%s: a length of nothing but zeros", name)
		}
	}
}

func le64(v int64) string {
	b := make([]byte, 8)
	for i := range b {
		b[i] = byte(v >> (8 * i))
	}
	return string(b)
}

// A failing disk is an error, not a short file.
func TestReadError(t *testing.T) {
	_, err := File(failing{}, 1000)
	if err == nil || !strings.Contains(err.Error(), "disk") {
		t.Errorf("%v", err)
	}
}

type failing struct{}

func (failing) ReadAt([]byte, int64) (int, error) { return 0, errors.New("disk trouble") }

func TestNoAllocationByClaim(t *testing.T) {
	claims := []string{
		"fLaC\x04\xFF\xFF\xFF", "RIFF\xFF\xFF\xFF\xFFWAVEfmt \xFF\xFF\xFF\xFF", "OggS\x00\x02" + strings.Repeat("\xFF", 300),
		"\x00\x00\x00\x08ftypM4A \x7F\xFF\xFF\xFFmoov\x7F\xFF\xFF\xF0trak", "ID3\x04\x00\x00\x7F\x7F\x7F\x7F",
	}
	for _, c := range claims {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for range 100 {
			_, _ = File(strings.NewReader(c), int64(len(c)))
		}
		runtime.ReadMemStats(&after)
		n := (after.TotalAlloc - before.TotalAlloc) / 100
		// The buffer is used again from file to file, as a rule.
		if n > walkWindow+8<<10 {
			t.Errorf("%.8q: %d bytes taken for a file of %d", c, n, len(c))
		}
	}
}
