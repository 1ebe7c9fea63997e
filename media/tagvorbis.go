package media

import (
	"bytes"
	"encoding/binary"
	"strconv"
	"strings"
)

// cleanVorbis copies the wanted comments of the packet at off into a FLAC file
// of just a comment block. ref: RFC 9639 8.6; xiph.org Vorbis I 5.2.1.
// parts is set when they hold a cue sheet or chapters.
func cleanVorbis(w *window, off int64, parts *bool) []byte {
	values := map[string][]string{}
	if !vorbisComments(w, off, func(key string, value func(most int64) []byte) {
		*parts = *parts || key == "cuesheet" || strings.HasPrefix(key, "chapter")
		if len(values[key]) < 20 {
			if v := value(maxField); v != nil {
				values[key] = append(values[key], repairText(v))
			}
		}
	}) {
		return nil
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

// vorbisText is the value of one comment, of so many bytes at the most; nil: there is none.
func vorbisText(w *window, off int64, name string, most int64) (text []byte) {
	vorbisComments(w, off, func(key string, value func(int64) []byte) {
		if key == name && text == nil {
			text = value(most)
		}
	})
	return text
}

// vorbisComments calls f for each comment of the packet at off, with its name in
// small letters; value gives what follows the name, or nil where the comment is
// larger than most. It is false where no packet is there.
func vorbisComments(w *window, off int64, f func(key string, value func(most int64) []byte)) bool {
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
		return false
	}
	off += vendor
	count, ok := number()
	if !ok {
		return false
	}
	const maxName = 100 // bytes; the names that are looked for are short
	for range min(count, 100000) {
		n, ok := number()
		if !ok || off+n > w.end {
			break
		}
		if key, _, ok := strings.Cut(string(w.at(off, min(n, maxName))), "="); ok {
			at := off
			f(strings.ToLower(key), func(most int64) []byte {
				if n > most {
					return nil
				}
				b := w.at(at, n)
				if b == nil { // the file became shorter
					return nil
				}
				return bytes.Clone(b[len(key)+1:])
			})
		}
		off += n
	}
	return true
}
