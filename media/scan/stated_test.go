package scan

import (
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// wavOf is a WAV of mono 8-bit sound at 8 kHz whose data chunk states a size.
func wavOf(stated uint32, held int, behind string) []byte {
	b := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1f\x00\x00\x40\x1f\x00\x00\x01\x00\x08\x00data")
	b = binary.LittleEndian.AppendUint32(b, stated)
	b = append(b, bytes.Repeat([]byte{0x81}, held)...)
	return append(b, behind...)
}

// What lies behind the sound that a WAV states: chunks and tags are well, more
// sound is told.
func TestBehindTheData(t *testing.T) {
	joined := string(wavOf(8000, 8000, ""))
	for _, c := range []struct {
		what    string
		b       []byte
		samples int64
		note    string
	}{
		{"nothing", wavOf(80000, 80000, ""), 80000, ""},
		{"a chunk", wavOf(80000, 80000, "LIST\x10\x27\x00\x00"+strings.Repeat("x", 10000)), 80000, ""},
		{"a chunk after an odd size without its padding", wavOf(79999, 79999, "LIST\x10\x27\x00\x00"+strings.Repeat("x", 10000)), 79999, ""},
		{"a tag", wavOf(80000, 80000, "ID3\x04"+strings.Repeat("\x00x", 9000)), 80000, ""},
		{"less than a second", wavOf(80000-7999, 80000, ""), 80000 - 7999, ""},
		{"zeros", wavOf(80000, 80000, strings.Repeat("\x00", 9000)), 80000, ""},
		{"nine of ten seconds", wavOf(8000, 80000, ""), 8000, "0:09 more of sound could lie behind"},
		{"another WAV", wavOf(8000, 8000, joined), 8000, "more than one recording joined"},
	} {
		for _, scan := range []func(*bytes.Reader, int64) (Info, error){quick, walked1} {
			info, err := scan(bytes.NewReader(c.b), int64(len(c.b)))
			notes := strings.Join(info.Notes, "; ")
			if err != nil || info.Samples != c.samples || !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
				t.Errorf("%s: %d samples, %q, %v; want %d, %q", c.what, info.Samples, notes, err, c.samples, c.note)
			}
		}
	}
}

// hole is a reader of a head and zeros behind it, as a sparse file is.
type hole struct {
	head []byte
	size int64
}

func (h hole) ReadAt(p []byte, off int64) (int, error) {
	n := int(min(int64(len(p)), h.size-off))
	if n <= 0 {
		return 0, io.EOF
	}
	clear(p[:n])
	if off < int64(len(h.head)) {
		copy(p[:n], h.head[off:])
	}
	return n, nil
}

// A plain WAV of more than 4 GB has a size whose upper bits are lost.
func TestWrappedSize(t *testing.T) {
	const bytesHeld = 9_000_000_000
	full := uint64(bytesHeld)
	head := wavOf(uint32(full), 0, "")
	info, err := File(hole{head, int64(len(head)) + bytesHeld}, int64(len(head))+bytesHeld)
	if err != nil || info.Samples != bytesHeld || info.From != Counted || len(info.Notes) == 0 {
		t.Errorf("%d samples, %s, %q, %v; want %d, counted", info.Samples, info.From, info.Notes, err, int64(bytesHeld))
	}
}

// repage gives an Ogg file with the positions of its pages changed, and their
// checksums made to hold.
func repage(b []byte, change func(granule int64, last bool) int64) []byte {
	b = bytes.Clone(b)
	for off := 0; off < len(b); {
		p, _, ok := pageAt(newSource(bytes.NewReader(b), int64(len(b))), int64(off))
		if !ok {
			panic("no page")
		}
		page := b[off : off+int(p.size)]
		if p.granule > 0 {
			binary.LittleEndian.PutUint64(page[6:], uint64(change(p.granule, p.flags&oggLast != 0)))
		}
		clear(page[22:26])
		binary.LittleEndian.PutUint32(page[22:], crc32Ogg(0, page))
		off += int(p.size)
	}
	return b
}

// Positions that the packets belie are found, whatever the pages' checksums say.
func TestStatedPositions(t *testing.T) {
	dir, sounds := soundFiles(t)
	tried := 0
	for _, s := range sounds {
		switch s.Name {
		case "vorbis-long.ogg", "opus-long.opus", "flac-long.oga":
		default:
			continue
		}
		tried++
		b, err := os.ReadFile(filepath.Join(dir, s.Name))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			what   string
			change func(g int64, last bool) int64
		}{
			{"all twice", func(g int64, _ bool) int64 { return 2 * g }},
			{"the last twice", func(g int64, last bool) int64 { return g << truth(last) }},
			{"the last half", func(g int64, last bool) int64 { return g >> truth(last) }},
			{"the last 0", func(g int64, last bool) int64 { return g * int64(1-truth(last)) }},
			{"the last a second later", func(g int64, last bool) int64 { return g + 48000*int64(truth(last)) }},
		} {
			bad := repage(b, c.change)
			info, err := File(bytes.NewReader(bad), int64(len(bad)))
			// Where the end is lost, up to a packet of padding is counted in.
			if err != nil || info.From != Counted || info.Samples < s.Samples || info.Samples > s.Samples+8192 || len(info.Notes) == 0 {
				t.Errorf("%s, %s: %d samples, %s, %q, %v; want about %d, counted", s.Name, c.what, info.Samples, info.From, info.Notes, err, s.Samples)
			}
		}
	}
	if tried != 3 {
		t.Errorf("%d files of 3 tried", tried)
	}
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}
