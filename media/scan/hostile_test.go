package scan

import (
	"bytes"
	"io"
	"strings"
	"testing"
)

// counting counts the bytes that are read.
type counting struct {
	*bytes.Reader
	n int64
}

func (c *counting) ReadAt(b []byte, off int64) (int, error) {
	n, err := c.Reader.ReadAt(b, off)
	c.n += int64(n)
	return n, err
}

// Files that are made to keep a scanner busy: what is read of each must grow with
// its size alone. (What is searched in memory is bounded beside the code; a search
// without end would hang here.)
func TestHostileIsLinear(t *testing.T) {
	const size = 4 << 20
	fill := func(head, pattern string) []byte {
		return append([]byte(head), bytes.Repeat([]byte(pattern), (size-len(head))/len(pattern))...)
	}
	flacHead := "fLaC\x80\x00\x00\x22\x10\x00\xFF\xFF\x00\x00\x00\x00\x00\x00\x0A\xC4\x42\xF0\x00\x00\x00\x00" + strings.Repeat("\x00", 16)
	frame := []byte{0xFF, 0xF8, 0xC9, 0x18, 0x00}
	frame = append(frame, crc8(frame))
	ogg := "OggS\x00\x02" + strings.Repeat("\x00", 20) + "\x01\x1E" + "\x01vorbis\x00\x00\x00\x00\x02\x44\xAC\x00\x00" + strings.Repeat("\x00", 12) + "\xB8\x01"
	for what, b := range map[string][]byte{
		"sync words":            fill("", "\xFF\xFB\x90\x00"),
		"free-format headers":   fill("", "\xFF\xFB\x00\x00"),
		"all ones":              fill("", "\xFF"),
		"FLAC headers only":     fill(flacHead, string(frame)),
		"FLAC and no frame":     fill(flacHead, "\xFF\xF8"),
		"FLAC metadata blocks":  fill("fLaC\x00\x00\x00\x22"+flacHead[8:], "\x01\x00\x00\x00"),
		"capture patterns":      fill("", "OggS\x00\x00"),
		"Vorbis and patterns":   fill(ogg, "OggS\x00\x00"),
		"Ogg pages without end": fill(ogg, "OggS\x00\x00"+strings.Repeat("\x00", 21)),
		"empty ID3v2 tags":      fill("", "ID3\x04\x00\x00\x00\x00\x00\x00"),
		"empty WAV chunks":      fill("RIFF\x00\x00\x00\x00WAVE", "abcd\x00\x00\x00\x00"),
		"empty boxes":           fill("\x00\x00\x00\x08ftypM4A ", "\x00\x00\x00\x08moov"),
		"nested boxes":          fill("\x00\x00\x00\x08ftypM4A \x00\xF0\x00\x00moov", "\x00\xEF\x00\x00trak\x00\x00\x00\x08mdia"),
		"fragments":             fill("\x00\x00\x00\x08ftypM4A ", "\x00\x00\x00\x20moof\x00\x00\x00\x18traf\x00\x00\x00\x10trun\x00\x00\x00\x00\x7F\xFF\xFF\xFF"),
		"raw AAC headers":       fill("", "\xFF\xF1\x50\x80\x00\xFF\xFC"),
		"trailing tags":         fill("", "TAG"+strings.Repeat("\x00", 125)),
		"AIFF chunks":           fill("FORM\x00\x00\x00\x00AIFF", "abcd\x00\x00\x00\x00"),
	} {
		laws(t, b)
		for name, scan := range map[string]func(io.ReaderAt, int64) (Info, error){"File": File, "Walk": Walk} {
			c := &counting{Reader: bytes.NewReader(b)}
			_, _ = scan(c, int64(len(b)))
			if times := c.n / int64(len(b)); times > 40 {
				t.Errorf("%s: %s reads %d times its size", what, name, times)
			}
		}
	}
}
