package scan

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"
)

// tagged is n frames of silence at a constant 128 kbit/s behind a tag frame that
// states frames, bytes, a delay of 576 and a padding of 1000, with its checksum.
func tagged(kind string, n, frames, size int) []byte {
	b := mp3Bytes(n + 1)
	tag := kind + u32(1|2) + u32(frames) + u32(size) + "ENCODER 1" + strings.Repeat("\x00", 12) + "\x24\x03\xE8" // 0x240 = 576, 0x3E8 = 1000
	copy(b[36:], tag)
	at := 36 + 16 + 34
	binary.BigEndian.PutUint16(b[at:], crc16ARC(b[:at]))
	return b
}

func TestTagFrame(t *testing.T) {
	const n, size = 200, 201 * 417
	whole := int64(n*1152 - 576 - 1000)
	spoil := func(b []byte, at int) []byte { b[at] ^= 1; return b }
	for _, c := range []struct {
		what    string
		b       []byte
		samples int64
		from    Known
		note    string
	}{
		{"true", tagged("Info", n, n, size), whole, Header, ""},
		{"true, variable rate", tagged("Xing", n, n, size), whole, Header, ""},
		{"too many frames for a constant rate, sealed", tagged("Info", n, n+2, size), whole, Counted, "header is wrong"},
		{"too few frames for a constant rate, sealed", tagged("Info", n, n-2, size), whole, Counted, "header is wrong"},
		{"more frames than the smallest would fill", tagged("Xing", n, n*5, size), whole, Counted, "header is wrong"},
		{"twice the frames of a variable rate, sealed", tagged("Xing", n, n*2, size), whole, Counted, "header is wrong"},
		{"half the frames of a variable rate, sealed", tagged("Xing", n, n/2, size), whole, Counted, "header is wrong"},
		{"the tag's own frame counted", tagged("Info", n, n+1, size), whole, Counted, ""},
		{"a broken seal", spoil(tagged("Info", n, n, size), 36+18), whole, Counted, ""},
		{"bytes that count a tag as well", tagged("Info", n, n, size+4096), whole, Counted, ""},
		// Without its end the stream has no padding to take off; 529 samples are the decoder's.
		{"cut off after 100 frames", tagged("Info", n, n, size)[:101*417], 100*1152 - 576 - 529, Counted, "cut off: the header promises 0:05, the file holds 0:02"},
		{"joined to another", append(tagged("Info", n, n, size), mp3Bytes(50)...), 250*1152 - 576 - 529, Counted, "more than one recording"},
		{"something unknown behind", append(tagged("Info", n, n, size), "some tag or other"...), whole, Counted, "17 bytes"},
		{"zeros where the end should be", append(tagged("Info", n, n, size)[:size-2000], make([]byte, 2000)...), 196*1152 - 576 - 529, Counted, "cut off"},
	} {
		for _, scan := range []func(*bytes.Reader, int64) (Info, error){quick, walked1} {
			info, err := scan(bytes.NewReader(c.b), int64(len(c.b)))
			if err != nil || info.Samples != c.samples {
				t.Errorf("%s: %d samples, %v; want %d", c.what, info.Samples, err, c.samples)
			}
			if notes := strings.Join(info.Notes, "; "); !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
				t.Errorf("%s: notes %q", c.what, notes)
			}
		}
		if info, _ := quick(bytes.NewReader(c.b), int64(len(c.b))); info.From != c.from {
			t.Errorf("%s: %s, want %s", c.what, info.From, c.from)
		}
	}
}
