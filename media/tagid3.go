package media

import (
	"bytes"
	"encoding/binary"
	"regexp"
	"strconv"
	"strings"
)

// id3Frames are the frames that are wanted, by their names in ID3v2.2 and later.
// ref: id3.org, ID3v2.2.0 4, ID3v2.3.0 4.2.1, ID3v2.4.0 native frames 4.2.
var id3Frames = map[string]string{
	"TT2": "TIT2", "TP1": "TPE1", "TAL": "TALB", "TCO": "TCON", "TYE": "TDRC", "TRK": "TRCK", "TPA": "TPOS",
	"TIT2": "TIT2", "TPE1": "TPE1", "TALB": "TALB", "TCON": "TCON", "TRCK": "TRCK", "TPOS": "TPOS",
	"TYER": "TDRC", "TDRC": "TDRC", "TDRL": "TDRL", "TDOR": "TDOR",
}

// cleanID3v2 copies the wanted text frames of the tag at off into a small
// ID3v2.4 tag in UTF-8. nil: not a tag that can be read.
// parts is set when the tag holds chapters.
func cleanID3v2(w *window, off int64, parts *bool) []byte {
	texts := map[string]string{}
	if !eachID3Frame(w, off, func(f id3Frame) {
		*parts = *parts || f.name == "CHAP"
		name := id3Frames[f.name]
		if name == "" || f.n > maxField || texts[name] != "" {
			return
		}
		if v := id3Text(f.body(maxField)); v != "" {
			texts[name] = v
		}
	}) {
		return nil
	}
	return writeID3v24(texts)
}

// eachID3Frame calls f for each frame of the tag at off that is neither
// compressed nor encrypted. It is false where no tag is that can be read.
func eachID3Frame(w *window, off int64, f func(id3Frame)) bool {
	h := w.at(off, 10)
	if h == nil {
		return false
	}
	t := id3Body{w: w, version: h[3], unsync: h[5]&0x80 != 0}
	if t.version < 2 || t.version > 4 {
		return false
	}
	flags := h[5]
	pos, end := off+10, min(w.end, off+10+syncsafe(h[6:]))
	if t.unsync && t.version < 4 {
		// The whole tag is unsynchronised: sizes count the bytes as they were before.
		// Pictures may make it large; the texts come first as a rule.
		const most = 1 << 20
		b := w.at(pos, min(end-pos, most))
		if b == nil {
			return false
		}
		b = resynchronise(b)
		t.w = &window{r: bytes.NewReader(b), end: int64(len(b))}
		pos, end = 0, t.w.end
	}
	if flags&0x40 != 0 && t.version > 2 { // extended header
		b := t.w.at(pos, 4)
		if b == nil {
			return false
		}
		if t.version == 3 {
			pos += 4 + int64(binary.BigEndian.Uint32(b)) // size leaves itself out
		} else {
			pos += syncsafe(b) // size counts itself
		}
	}
	t.each(pos, end, f)
	return true
}

// id3Body are frames of a tag, or of a frame that holds frames.
type id3Body struct {
	w       *window
	version byte
	unsync  bool
}

// id3Frame is a frame within a tag.
type id3Frame struct {
	in     id3Body
	name   string
	off, n int64 // of the body
	unsync bool
}

// body is what the frame holds, as far as most bytes of it.
func (f id3Frame) body(most int64) []byte {
	b := f.in.w.at(f.off, min(f.n, most))
	if f.in.version == 4 && f.unsync {
		b = resynchronise(b)
	}
	return b
}

// each calls f for the frames between pos and end.
func (t id3Body) each(pos, end int64, f func(id3Frame)) {
	for range 10000 {
		frame, next := t.frame(pos, end)
		if next == 0 {
			return
		}
		pos = next
		if frame.name != "" {
			f(frame)
		}
	}
}

// frame reads the head of the frame at pos; its name is empty when it cannot be
// read. next is 0 at the end of the frames.
func (t id3Body) frame(pos, end int64) (f id3Frame, next int64) {
	head := int64(10)
	if t.version == 2 {
		head = 6
	}
	b := t.w.at(pos, head)
	if b == nil || pos+head > end || b[0] == 0 {
		return f, 0
	}
	var n int64
	var flags byte
	name := ""
	switch t.version {
	case 2: // id 3, size 3
		name, n = string(b[:3]), int64(b[3])<<16|int64(b[4])<<8|int64(b[5])
	case 3: // id 4, size 4, flags 2
		name, n, flags = string(b[:4]), int64(binary.BigEndian.Uint32(b[4:])), b[9]
	case 4: // id 4, size 4 of seven bits each, flags 2
		name, n, flags = string(b[:4]), syncsafe(b[4:]), b[9]
		plain := int64(binary.BigEndian.Uint32(b[4:]))
		// Some writers put a plain size here: it is one when only so a frame follows.
		if plain != n && !frameAt(t.w, pos+head+n, end) && frameAt(t.w, pos+head+plain, end) {
			n = plain
		}
	}
	body := pos + head
	next = body + n
	if n < 0 || next > end {
		return f, 0
	}
	var skip int64
	unsync := t.unsync
	switch t.version {
	case 3: // compressed, encrypted, grouped
		if flags&0xC0 != 0 {
			return f, next
		}
		if flags&0x20 != 0 {
			skip = 1
		}
	case 4: // grouped, compressed, encrypted, unsynchronised, data length
		if flags&0x0C != 0 {
			return f, next
		}
		if flags&0x40 != 0 {
			skip++
		}
		if flags&0x01 != 0 {
			skip += 4
		}
		unsync = unsync || flags&0x02 != 0
	}
	if skip > n {
		return f, next
	}
	return id3Frame{in: t, name: name, off: body + skip, n: n - skip, unsync: unsync}, next
}

// frameAt tells whether a frame, padding or the end of the tag is at pos.
func frameAt(w *window, pos, end int64) bool {
	if pos == end {
		return true
	}
	b := w.at(pos, 4)
	if b == nil || pos > end {
		return false
	}
	if b[0] == 0 {
		return true
	}
	for _, c := range b {
		if (c < 'A' || c > 'Z') && (c < '0' || c > '9') {
			return false
		}
	}
	return true
}

// resynchronise takes out the zero bytes put after FF. ref: ID3v2.4.0 6.1.
func resynchronise(b []byte) []byte { return bytes.ReplaceAll(b, []byte{0xFF, 0}, []byte{0xFF}) }

func syncsafe(b []byte) int64 {
	return int64(b[0]&0x7F)<<21 | int64(b[1]&0x7F)<<14 | int64(b[2]&0x7F)<<7 | int64(b[3]&0x7F)
}

// id3Text decodes a text frame: one byte of encoding, then the text, with zero
// characters between several values.
func id3Text(b []byte) string {
	if len(b) < 2 {
		return ""
	}
	var s string
	switch b[0] {
	case 1: // UTF-16 with an order mark
		s = fromUTF16(b[1:], false)
	case 2: // UTF-16, big end first
		s = fromUTF16(b[1:], true)
	default: // 0: ISO-8859-1, 3: UTF-8; writers mix these up
		s = repairText(b[1:])
	}
	return joinValues(strings.Split(s, "\x00"))
}

// joinValues puts several values of one field into one text.
func joinValues(values []string) string {
	var kept []string
	for _, v := range values {
		if v = clean(v); v != "" {
			kept = append(kept, v)
		}
	}
	return strings.Join(kept, " / ")
}

// refined is a genre of numbers that a text refines: the text says enough.
// ref: ID3v2.3.0 4.2.1, TCON.
var refined = regexp.MustCompile(`^(?:\(\d+\))+([^(].*|\(\(.*)$`)

// writeID3v24 makes an ID3v2.4 tag of text frames in UTF-8.
func writeID3v24(texts map[string]string) []byte {
	year := texts["TDRC"]
	for _, other := range []string{"TDRL", "TDOR"} {
		if year == "" {
			year = texts[other]
		}
	}
	var b bytes.Buffer
	frame := func(name, text string) {
		if text == "" {
			return
		}
		b.WriteString(name)
		b.Write(putSyncsafe(len(text) + 1))
		b.Write([]byte{0, 0, 3}) // no flags; UTF-8
		b.WriteString(text)
	}
	for _, name := range []string{"TIT2", "TPE1", "TALB", "TRCK", "TPOS"} {
		frame(name, texts[name])
	}
	genre := refined.ReplaceAllString(texts["TCON"], "$1")
	if genre != "" && allDigits(genre) {
		genre = "(" + genre + ")" // the older form, which is looked up
	}
	frame("TCON", genre)
	if y := leadingNumber(year); y > 0 {
		frame("TDRC", strconv.Itoa(y))
	}
	b.Write(make([]byte, 32)) // padding: frames in the last ten bytes would not be read
	return append(append([]byte("ID3\x04\x00\x00"), putSyncsafe(b.Len())...), b.Bytes()...)
}

func putSyncsafe(n int) []byte {
	return []byte{byte(n >> 21 & 0x7F), byte(n >> 14 & 0x7F), byte(n >> 7 & 0x7F), byte(n & 0x7F)}
}
