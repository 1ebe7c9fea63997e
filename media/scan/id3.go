package scan

import "bytes"

// syncsafe reads the 28-bit number of ID3v2: four bytes of seven bits.
// ok is false when a byte has its top bit set.
func syncsafe(b []byte) (n int64, ok bool) {
	for _, c := range b[:4] {
		if c >= 0x80 {
			return 0, false
		}
		n = n<<7 | int64(c)
	}
	return n, true
}

// skipID3v2 passes over the ID3v2 tags at off, of which there may be several in a row.
// ref: ID3 tag version 2.4.0, main structure, 3.1.
func skipID3v2(s *source, off, end int64) (int64, []Tag) {
	var tags []Tag
	// Each turn moves at least ten bytes on; the bound is for hostile files of
	// nothing but empty tags.
	for range 1000 {
		b := s.at(off, 10)
		// "ID3", version bytes never FF, size syncsafe
		if len(b) < 10 || !hasPrefix(b, "ID3") || b[3] == 0xFF || b[4] == 0xFF {
			break
		}
		n, ok := syncsafe(b[6:])
		if !ok {
			break
		}
		n += 10
		if b[5]&0x10 != 0 { // a footer, a copy of the header
			n += 10
		}
		if off+n > end {
			break
		}
		tags = append(tags, Tag{ID3v2, off, n})
		off += n
	}
	if len(tags) > 8 {
		tags = tags[:8]
	}
	return off, tags
}

// cutTrailers finds where the sound ends before the tags that players append:
// ID3v1, Lyrics3 v2, APE, 3DI, in any order and number.
func cutTrailers(s *source, start, end int64) (int64, []Tag) {
	var tags []Tag
	for range 100 {
		n, kind := trailer(s, start, end)
		if n == 0 {
			break
		}
		end -= n
		if kind != "" && len(tags) < 8 {
			tags = append(tags, Tag{kind, end, n})
		}
	}
	return end, tags
}

// trailer gives the size of the tag that ends at end; 0: none.
func trailer(s *source, start, end int64) (int64, TagKind) {
	room := end - start
	const reach = 32 + 128 + 227 + 15
	from := max(start, end-reach)
	b := s.at(from, int(end-from)) // one read for all of them
	back := func(n int64) []byte {
		if n > int64(len(b)) {
			return nil
		}
		return b[int64(len(b))-n:]
	}
	// ID3v1: 128 bytes beginning with "TAG"; "TAG+" is 227 bytes more before it.
	if t := back(128); hasPrefix(t, "TAG") {
		if t := back(128 + 227); hasPrefix(t, "TAG+") {
			return 128 + 227, ID3v1
		}
		return 128, ID3v1
	}
	// APE: "APETAGEX", version, size without header, item count, flags; bit 31: there is a header too.
	if t := back(32); hasPrefix(t, "APETAGEX") {
		n := int64(le(t[12:], 4))
		if le(t[20:], 4)&(1<<31) != 0 {
			n += 32
		}
		if n >= 32 && n <= room {
			return n, APE
		}
	}
	// Lyrics3 v2: ends with a six-digit size and "LYRICS200"; the size leaves these 15 out.
	if t := back(15); len(t) == 15 && string(t[6:]) == "LYRICS200" {
		if n, ok := digits(t[:6]); ok && n+15 <= room {
			return n + 15, ""
		}
	}
	// Lyrics3 v1: "LYRICSBEGIN", at most 5100 bytes of text, "LYRICSEND".
	if t := back(9); string(t) == "LYRICSEND" {
		const most = 11 + 5100 + 9
		b := s.at(max(start, end-most), int(min(most, room)))
		if i := bytes.LastIndex(b, []byte("LYRICSBEGIN")); i >= 0 {
			return int64(len(b) - i), ""
		}
		return 0, ""
	}
	// ID3v2.4 footer: "3DI" and the header's other fields.
	if t := back(10); hasPrefix(t, "3DI") {
		if n, ok := syncsafe(t[6:]); ok && n+20 <= room {
			return n + 20, ID3v2
		}
	}
	return 0, ""
}

func digits(b []byte) (n int64, ok bool) {
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int64(c-'0')
	}
	return n, true
}
