package media

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// A playlist names files: M3U and M3U8 one a line, XSPF as XML. Paths count from
// the playlist's own folder. An entry that cannot be had is a Fault that names
// the entry and its place; the others are read.

func isPlaylistName(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".m3u", ".m3u8", ".xspf":
		return true
	}
	return false
}

// readPlaylist reads a playlist; name is for errors, dir is where its paths count from.
func readPlaylist(r io.Reader, name, dir string) ([]item, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxListBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%q: %w", name, plain(err))
	}
	if len(b) > maxListBytes {
		return nil, fmt.Errorf("%q: longer than %d MB: a playlist is text", name, maxListBytes>>20)
	}
	var items []item
	if strings.EqualFold(filepath.Ext(name), ".xspf") {
		items, err = readXSPF(b, name, dir)
	} else {
		items, err = readM3U(b, name, dir)
	}
	if err == nil && len(items) == 0 {
		err = fmt.Errorf("%q: no tracks in this playlist", name)
	}
	return items, err
}

// readM3U reads the de facto format: a path or address a line; lines that begin
// with # are remarks, of which "#EXTINF:seconds,Artist - Title" speaks of the
// next path. No standard; common practice.
func readM3U(b []byte, name, dir string) ([]item, error) {
	if i := bytes.IndexByte(b, 0); i >= 0 && !bytes.HasPrefix(b, []byte{0xFF, 0xFE}) && !bytes.HasPrefix(b, []byte{0xFE, 0xFF}) {
		return nil, fmt.Errorf("%q:%d: not a text file", name, 1+bytes.Count(b[:i], []byte("\n")))
	}
	if bytes.HasPrefix(b, []byte{0xFF, 0xFE}) || bytes.HasPrefix(b, []byte{0xFE, 0xFF}) || bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}) {
		b = []byte(repairText(b))
	}
	var items []item
	var said string
	for i, line := range bytes.Split(b, []byte("\n")) {
		text := strings.TrimRight(strings.TrimLeft(string(line), " \t"), " \t\r")
		if info, ok := strings.CutPrefix(text, "#EXTINF:"); ok {
			_, said, _ = strings.Cut(info, ",")
			said = clean(repairText([]byte(said)))
			continue
		}
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		it := playlistEntry(text, dir, fmt.Sprintf("%q:%d", name, i+1))
		it.hint.Title = said
		if artist, title, ok := strings.Cut(said, " - "); ok && strings.TrimSpace(title) != "" {
			it.hint.Artist, it.hint.Title = strings.TrimSpace(artist), strings.TrimSpace(title)
		}
		said = ""
		items = append(items, it)
	}
	return items, nil
}

// playlistEntry finds the file that an entry means. at is the entry's place.
func playlistEntry(text, dir, at string) item {
	path := text
	if u, err := url.Parse(text); err == nil && len(u.Scheme) > 1 && strings.Contains(text, "://") {
		if !strings.EqualFold(u.Scheme, "file") {
			return item{track: Track{Path: text}, known: true, err: fmt.Errorf("%s: is an address on a network: name a file, or write its length in a typed list", at)}
		}
		path = filepath.FromSlash(u.Path)
	}
	// As it stands, then as other systems write it, then in another character set.
	tries := []string{path, strings.ReplaceAll(path, `\`, "/"), repairText([]byte(path))}
	for _, p := range tries {
		if !filepath.IsAbs(p) {
			p = filepath.Join(dir, p)
		}
		st, err := os.Stat(p)
		switch {
		case err != nil:
			continue
		case st.IsDir():
			return item{track: Track{Path: p}, known: true, err: fmt.Errorf("%s: is a folder: name it as a source of its own", at)}
		case isPlaylistName(p):
			return item{track: Track{Path: p}, known: true, err: fmt.Errorf("%s: is a playlist within a playlist: name it as a source of its own", at)}
		}
		return item{track: Track{Path: p}, at: at}
	}
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, path)
	}
	return item{track: Track{Path: path}, at: at} // reading it says what is wrong
}

// xspf is a playlist of the XML Shareable Playlist Format, version 1.
// ref: xspf.org, specification version 1, 4.1.1.2.14.
type xspf struct {
	XMLName xml.Name
	Tracks  []struct {
		Location []string `xml:"location"` // URI of the sound, relative to the playlist
		Title    string   `xml:"title"`
		Creator  string   `xml:"creator"`
		Album    string   `xml:"album"`
		Number   string   `xml:"trackNum"`
		Duration string   `xml:"duration"` // milliseconds
	} `xml:"trackList>track"`
}

func readXSPF(b []byte, name, dir string) ([]item, error) {
	var list xspf
	d := xml.NewDecoder(bytes.NewReader(b))
	d.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		switch strings.ToLower(label) {
		case "utf-8", "us-ascii":
			return r, nil
		}
		rest, err := io.ReadAll(r)
		return strings.NewReader(repairText(rest)), err
	}
	if err := d.Decode(&list); err != nil {
		var se *xml.SyntaxError
		if errors.As(err, &se) {
			return nil, fmt.Errorf("%q:%d: not XML: %s", name, se.Line, se.Msg)
		}
		return nil, fmt.Errorf("%q: not an XSPF playlist: %w", name, err)
	}
	if list.XMLName.Local != "playlist" {
		return nil, fmt.Errorf("%q: not an XSPF playlist: its root is %q", name, list.XMLName.Local)
	}
	var items []item
	for i, t := range list.Tracks {
		at := fmt.Sprintf("%q, track %d", name, i+1)
		hint := Track{Title: clean(t.Title), Artist: clean(t.Creator), Album: clean(t.Album), Number: leadingNumber(strings.TrimSpace(t.Number))}
		var it item
		if len(t.Location) == 0 {
			it = typedItem(hint, t.Duration, at)
		} else {
			for _, loc := range t.Location {
				loc = strings.TrimSpace(loc)
				if u, err := url.Parse(loc); err == nil && !strings.Contains(loc, "://") && u.Scheme == "" {
					loc = filepath.FromSlash(u.Path) // percent signs resolved
				}
				it = playlistEntry(loc, dir, at)
				if it.err == nil && fileThere(it.track.Path) {
					break // of several places, the first where there is a file
				}
			}
			it.hint = hint
		}
		items = append(items, it)
	}
	return items, nil
}

// typedItem is a track of a playlist that has no file: its length must be stated.
func typedItem(t Track, milliseconds, at string) item {
	ms, err := strconv.ParseInt(strings.TrimSpace(milliseconds), 10, 64)
	t.Length, t.LengthFrom = time.Duration(ms)*time.Millisecond, Typed
	if t.Title == "" {
		t.Title = "untitled"
	}
	if err != nil || ms <= 0 || ms > longest.Milliseconds() {
		return item{track: Track{Path: t.Title}, known: true, err: fmt.Errorf("%s: names no file and no length: give it a location or a duration", at)}
	}
	return item{track: t, known: true}
}

func fileThere(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.Mode().IsRegular()
}
