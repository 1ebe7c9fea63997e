package scan

import (
	"fmt"
	"math"
)

// The GUIDs of Wave64 as they lie in the file: four letters, then the same twelve
// bytes in all but the outermost.
const (
	w64Riff = "riff\x2E\x91\xCF\x11\xA5\xD6\x28\xDB\x04\xC1\x00\x00"
	w64Tail = "\xF3\xAC\xD3\x11\x8C\xD1\x00\xC0\x4F\x8E\xDB\x8A"
)

// scanW64 reads Wave64: WAV with GUIDs in the place of four letters, 64 bits for
// sizes, which count the chunk's own head, and chunks that begin at a multiple of
// eight bytes from the file's beginning.
// ref: the article on Wave64 in the MultimediaWiki, after the paper of the company
// that made the format.
func scanW64(s *source, start int64, walk bool) (Info, error) {
	info := Info{Format: "W64", From: Header}
	var format waveFormat
	var fact int64
	data := int64(-1)      // size of the sound
	off := start + 24 + 16 // GUID 16, size 8, then the form's GUID 16
	for range maxChunks {
		// GUID 16, size 8 little-endian, contents, padding to eight bytes
		b := s.at(off, 24)
		if len(b) < 24 {
			break
		}
		id, size := "", int64(le(b[16:], 8))
		if string(b[4:16]) == w64Tail {
			id = string(b[:4])
		}
		body, n := off+24, size-24
		switch id {
		case "fmt ":
			format = parseWaveFormat(s.at(body, int(max(0, min(n, 40)))))
		case "fact": // 8 bytes: samples a channel
			if c := s.at(body, 8); len(c) == 8 && n >= 8 {
				fact = int64(le(c, 8))
			}
		case "data":
			if data >= 0 {
				break // one data chunk to a file
			}
			info.Start, data = body, n
			if n < 0 || n > s.size-body {
				data = format.short(&info, n, s.size-body, n < 0 || n >= math.MaxInt64-24)
				n = data
			}
		}
		if n < 0 || n > s.size-body {
			break
		}
		off = body + n
		off += (start - off) & 7
	}
	switch {
	case format.tag == 0:
		return info, fmt.Errorf("%w: a W64 file without a format chunk", ErrNotAudio)
	case data < 0:
		return info, fmt.Errorf("W64 file without a data chunk: %w", ErrNoSound)
	}
	info.Rate, info.Channels = format.rate, format.channels
	info.End = info.Start + data
	if walk {
		info.From = Counted // its bytes are there: that is all there is to count
	}
	return format.finish(s, info, fact, 0, walk)
}
