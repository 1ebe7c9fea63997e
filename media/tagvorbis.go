package media

import (
	"bytes"
	"encoding/binary"
	"strconv"
	"strings"
)

// cleanVorbis copies the wanted comments of the packet at off into a FLAC file
// of just a comment block. ref: RFC 9639 8.6; xiph.org Vorbis I 5.2.1.
func cleanVorbis(w *window, off int64) []byte {
	number := func() (int64, bool) { // 32 bits, little end first
		b := w.at(off, 4)
		off += 4
		if b == nil {
			return 0, false
		}
		return int64(binary.LittleEndian.Uint32(b)), true
	}
	vendor, ok := number()
	if !ok {
		return nil
	}
	off += vendor
	count, ok := number()
	if !ok {
		return nil
	}
	values := map[string][]string{}
	for range min(count, 100000) {
		n, ok := number()
		if !ok || off+n > w.end {
			break
		}
		if n <= maxField {
			if key, value, ok := strings.Cut(string(w.at(off, n)), "="); ok {
				key = strings.ToLower(key)
				if len(values[key]) < 20 {
					values[key] = append(values[key], repairText([]byte(value)))
				}
			}
		}
		off += n
	}
	var b bytes.Buffer
	put := func(n int) { _ = binary.Write(&b, binary.LittleEndian, uint32(n)) }
	var comments []string
	for _, key := range []string{"title", "artist", "album", "genre"} {
		if v := joinValues(values[key]); v != "" {
			comments = append(comments, key+"="+v)
		}
	}
	for _, key := range []string{"tracknumber", "discnumber", "date", "year"} {
		if n := leadingNumber(strings.Join(values[key], " ")); n > 0 {
			text := strconv.Itoa(n)
			if key == "date" {
				text = strings.Repeat("0", 4-len(text)) + text // it reads dates of just this size
			}
			comments = append(comments, key+"="+text)
		}
	}
	put(0) // vendor
	put(len(comments))
	for _, c := range comments {
		put(len(c))
		b.WriteString(c)
	}
	n := b.Len()
	return append([]byte{'f', 'L', 'a', 'C', 0x84, byte(n >> 16), byte(n >> 8), byte(n)}, b.Bytes()...)
}
