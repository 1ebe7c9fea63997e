package media

import (
	"bytes"
	"encoding/binary"
	"strings"
)

// field gives the place in a Track that a field of another tag format fills.
func setField(t *Track, name, value string) {
	switch name {
	case "title":
		setText(&t.Title, value)
	case "artist":
		setText(&t.Artist, value)
	case "album":
		setText(&t.Album, value)
	case "genre":
		setText(&t.Genre, value)
	case "year":
		setNumber(&t.Year, leadingNumber(strings.TrimSpace(value)))
	case "track":
		setNumber(&t.Number, leadingNumber(strings.TrimSpace(value)))
	case "disc":
		setNumber(&t.Disc, leadingNumber(strings.TrimSpace(value)))
	}
}

// readRIFFInfo reads the contents of a LIST INFO chunk.
// ref: "Multimedia Programming Interface and Data Specifications 1.0", INFO list.
func readRIFFInfo(w *window, off int64, t *Track) {
	names := map[string]string{"INAM": "title", "IART": "artist", "IPRD": "album", "IGNR": "genre", "ICRD": "year", "ITRK": "track", "IPRT": "track"}
	for range 1000 {
		b := w.at(off, 8) // id 4, size 4
		if b == nil {
			return
		}
		name, n := names[string(b[:4])], int64(binary.LittleEndian.Uint32(b[4:]))
		off += 8
		if name != "" && n <= maxField {
			v, _, _ := bytes.Cut(w.at(off, n), []byte{0})
			setField(t, name, string(v))
		}
		off += n + n&1
	}
}

// readAPE reads an APE tag, version 1 or 2, that begins at off.
// ref: APE tags, version 2: from memory, unverified, and checked in the tests against one made by hand.
func readAPE(w *window, off int64, t *Track) {
	names := map[string]string{"title": "title", "artist": "artist", "album": "album", "genre": "genre", "year": "year", "track": "track", "disc": "disc"}
	if h := w.at(off, 8); h != nil && string(h) == "APETAGEX" {
		off += 32
	}
	for range 1000 {
		b := w.at(off, 8) // size 4, flags 4, then the key and a zero
		if b == nil {
			return
		}
		n, flags := int64(binary.LittleEndian.Uint32(b)), binary.LittleEndian.Uint32(b[4:])
		off += 8
		rest := w.at(off, min(256, w.end-off))
		key, _, ok := bytes.Cut(rest, []byte{0})
		if !ok || n < 0 {
			return
		}
		name := names[strings.ToLower(string(key))]
		off += int64(len(key)) + 1
		if name != "" && n <= maxField && flags>>1&3 == 0 { // bits 1 and 2: 0 is UTF-8 text
			setField(t, name, joinValues(strings.Split(string(w.at(off, n)), "\x00")))
		}
		off += n
	}
}

// readAIFFText reads a NAME or AUTH chunk. ref: AIFF 1.3, text chunks.
func readAIFFText(w *window, off int64, t *Track) {
	b := w.at(off, 8)
	if b == nil {
		return
	}
	name := map[string]string{"NAME": "title", "AUTH": "artist"}[string(b[:4])]
	if n := int64(binary.BigEndian.Uint32(b[4:])); n <= maxField {
		setField(t, name, string(w.at(off+8, n)))
	}
}

// cleanItems copies the wanted items of an ilst box, the pictures left out.
// ref: the item list as commonly written (no standard); ISO/IEC 14496-12 4.2 for boxes.
func cleanItems(w *window, off int64) []byte {
	wanted := map[string]bool{"\xa9nam": true, "\xa9ART": true, "\xa9alb": true, "\xa9day": true, "\xa9gen": true, "trkn": true, "disk": true}
	var out bytes.Buffer
	off += 8 // the ilst box's own header
	for range 10000 {
		b := w.at(off, 8) // size 4, name 4
		if b == nil {
			break
		}
		n := int64(binary.BigEndian.Uint32(b))
		if n < 8 || off+n > w.end {
			break
		}
		if wanted[string(b[4:])] && n <= maxField {
			item := bytes.Clone(w.at(off, n))
			// a data box: size 4, "data", type 4, locale 4, value
			if len(item) >= 24 && string(item[12:16]) == "data" {
				number := string(item[4:8]) == "trkn" || string(item[4:8]) == "disk"
				size := int(binary.BigEndian.Uint32(item[8:]))
				if size >= 16 && 8+size <= len(item) {
					item = item[:8+size] // the first value only
					binary.BigEndian.PutUint32(item, uint32(len(item)))
				}
				if !number {
					binary.BigEndian.PutUint32(item[16:], 1) // type 1: text in UTF-8
				}
				out.Write(item)
			}
		}
		off += n
	}
	return out.Bytes()
}
