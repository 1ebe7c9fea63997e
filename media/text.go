package media

import (
	"bytes"
	"path/filepath"
	"regexp"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"longside/media/oneline"
)

// repairText makes text of bytes whose character set is not stated, or wrongly:
// UTF-8 if they are that, UTF-16 after an order mark, else code page 1252, of which
// ISO-8859-1 is the printable part.
func repairText(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}), bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		return fromUTF16(b, false)
	case bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}):
		b = b[3:]
	}
	if utf8.Valid(b) {
		return string(b)
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(b)
	if err != nil {
		return strings.ToValidUTF8(string(b), "�")
	}
	return string(s)
}

// fromUTF16 decodes UTF-16. An order mark decides; without one the zero bytes of
// Latin letters do. Where big declares the order, they must be most of the text to
// gainsay it: many signs of Asia end in a zero byte. An odd last byte is dropped.
func fromUTF16(b []byte, big bool) string {
	switch {
	case bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		b, big = b[2:], true
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}):
		b, big = b[2:], false
	default:
		even, odd, units := 0, 0, 0 // zero bytes by place; units without terminators
		for i := 0; i+1 < len(b); i += 2 {
			switch {
			case b[i] == 0 && b[i+1] == 0:
				continue
			case b[i] == 0:
				even++
			case b[i+1] == 0:
				odd++
			}
			units++
		}
		if big {
			big = even > 0 || units < 2 || odd <= units/2
		} else {
			big = even > odd
		}
	}
	u := make([]uint16, len(b)/2)
	for i := range u {
		lo, hi := b[2*i], b[2*i+1]
		if big {
			lo, hi = hi, lo
		}
		u[i] = uint16(hi)<<8 | uint16(lo)
	}
	// A second value may bring its own order mark.
	return strings.ReplaceAll(string(utf16.Decode(u)), "\uFEFF", "")
}

// maxTitle is the longest text that is kept, in characters.
const maxTitle = 500

// clean makes text fit to print, and not endless.
func clean(s string) string { return oneline.Cut(oneline.Text(s), maxTitle) }

// trackPrefix is a track number in front of a file's name: "03 ", "3. ", "03 - ",
// "1-03 ". A bare number with a space counts only with a leading zero: "99 Lanterns"
// is a title.
var trackPrefix = regexp.MustCompile(`^(?:(\d{1,2})-)?(?:(0\d{1,2})[ ._)-]+|(\d{1,3})(?:[._)]+ *| *- +))`)

// nameTitle takes a title, and where the name has them an artist and a track
// number, from the name of a file without tags.
func nameTitle(t *Track) {
	base := filepath.Base(t.Path)
	name := repairText([]byte(strings.TrimSuffix(base, filepath.Ext(base))))
	if !strings.Contains(name, " ") {
		name = strings.ReplaceAll(name, "_", " ")
	}
	name = clean(name)
	if m := trackPrefix.FindStringSubmatch(name); m != nil && len(m[0]) < len(name) {
		setNumber(&t.Disc, leadingNumber(m[1]))
		setNumber(&t.Number, leadingNumber(m[2]+m[3]))
		name = strings.TrimSpace(name[len(m[0]):])
	}
	if artist, title, ok := strings.Cut(name, " - "); ok && t.Artist == "" && strings.TrimSpace(title) != "" {
		t.Artist, name = strings.TrimSpace(artist), strings.TrimSpace(title)
	}
	if name == "" {
		name = "untitled"
	}
	t.Title = name
}
