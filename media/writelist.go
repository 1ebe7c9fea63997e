package media

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"path/filepath"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// EncodeM3U writes tracks as a playlist (M3U, in UTF-8) that Read takes back,
// with paths from the folder base, which is absolute. A part of a file is named
// with #t= (see Read). Tracks from no file have no place in it: left is how many.
func EncodeM3U(tracks []Track, base string) (text []byte, left int) {
	var b bytes.Buffer
	b.WriteString("#EXTM3U\n")
	for _, t := range tracks {
		if t.Path == "" {
			left++
			continue
		}
		title := t.Title
		if t.Artist != "" {
			title = t.Artist + " - " + t.Title
		}
		b.WriteString(M3UEntry(title, t.Length, t.Place(), base))
	}
	return b.Bytes(), left
}

// M3UEntry is one track of a playlist: its line of text, and its place with the
// path counted from the folder base.
func M3UEntry(title string, length time.Duration, at Place, base string) string {
	path := listed(at, base)
	if strings.HasPrefix(path, "#") {
		path = "./" + path // not a remark
	}
	return fmt.Sprintf("#EXTINF:%d,%s\n%s\n", int(length.Round(time.Second)/time.Second), clean(title), path)
}

// EncodeCSV writes tracks as a table that Read takes back. Its column file, with
// paths from the folder base, makes a row the file (or the part of it), of which
// title, artist and album are then as the row says, and the length as it is.
func EncodeCSV(tracks []Track, base string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	put := func(fields ...string) { _ = w.Write(fields) } // into memory
	put("length", "artist", "title", "album", "file")
	for _, t := range tracks {
		length := t.Length.Round(time.Millisecond)
		text := fmt.Sprintf("%d:%02d", length/time.Minute, length%time.Minute/time.Second)
		if ms := length % time.Second / time.Millisecond; ms != 0 {
			text += fmt.Sprintf(".%03d", ms)
		}
		file := ""
		if t.Path != "" {
			file = listed(t.Place(), base)
		}
		put(text, t.Artist, t.Title, t.Album, file)
	}
	w.Flush()
	return b.Bytes()
}

// listed names a place in a list: the path from the folder base, with slashes.
// What a line of a list would lose is written with percent signs, as in an
// address; lists are read so where there is no file of the plain name.
func listed(at Place, base string) string {
	path := at.Path
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	if rel, err := filepath.Rel(base, path); err == nil {
		path = rel
	}
	path = filepath.ToSlash(path)
	odd := !utf8.ValidString(path) || strings.TrimSpace(path) != path || strings.ContainsFunc(path, unicode.IsControl)
	if odd {
		var b strings.Builder
		for i := range len(path) {
			if c := path[i]; c <= ' ' || c == '%' || c >= 0x7F {
				fmt.Fprintf(&b, "%%%02X", c)
			} else {
				b.WriteByte(c)
			}
		}
		path = b.String()
	}
	return path + Track{Part: at.Length > 0, From: at.From, Length: at.Length}.fragment()
}
