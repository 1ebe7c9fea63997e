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

	"longside/media/oneline"
)

// A playlist names files: M3U and M3U8 one a line, XSPF as XML. Paths count from
// the playlist's own folder. An entry that cannot be had is a Fault that names
// the entry and its place; the others are read.

func isPlaylistName(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".m3u", ".m3u8", ".xspf", ".cue":
		return true
	}
	return false
}

// entry is what a playlist says of one track.
type entry struct {
	places []string // where its file may be, as written; none: it has no file
	hint   Track    // what is said of it; a Length counts only where there is no file
	at     string   // its place in the playlist, for faults
}

// readPlaylist reads a playlist; name is for errors, ext its ending, dir is where
// its paths count from.
func readPlaylist(r io.Reader, name, ext, dir string) ([]item, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxListBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, oneline.Error(err))
	}
	if len(b) > maxListBytes {
		return nil, fmt.Errorf("%s: longer than %d MB: a playlist is text", name, maxListBytes>>20)
	}
	parse := parseM3U
	if strings.EqualFold(ext, ".xspf") {
		parse = parseXSPF
	}
	entries, err := parse(b, name)
	if err != nil {
		return nil, err
	}
	if len(entries) == 0 {
		return nil, fmt.Errorf("%s: no tracks in this playlist", name)
	}
	items := make([]item, len(entries))
	for i, e := range entries {
		items[i] = e.item(dir)
	}
	return items, nil
}

// parseM3U reads the de facto format: a path or address a line; lines that begin
// with # are remarks, of which "#EXTINF:seconds,Artist - Title" speaks of the
// next path. No standard; common practice.
func parseM3U(b []byte, name string) (entries []entry, err error) {
	marked := bytes.HasPrefix(b, []byte{0xFF, 0xFE}) || bytes.HasPrefix(b, []byte{0xFE, 0xFF}) || bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF})
	if marked {
		b = []byte(repairText(b)) // else the bytes of a path stay as they are
	}
	b = unixLines(b)
	if i := bytes.IndexByte(b, 0); i >= 0 {
		return nil, fmt.Errorf("%s:%d: not a text file", name, 1+bytes.Count(b[:i], []byte("\n")))
	}
	var said Track
	for i, line := range bytes.Split(b, []byte("\n")) {
		text := strings.Trim(string(line), " \t")
		if info, ok := strings.CutPrefix(text, "#EXTINF:"); ok {
			said = Track{}
			_, info, _ = strings.Cut(info, ",")
			said.Title = clean(repairText([]byte(info)))
			if artist, title, ok := strings.Cut(said.Title, " - "); ok && strings.TrimSpace(title) != "" {
				said.Artist, said.Title = strings.TrimSpace(artist), strings.TrimSpace(title)
			}
			continue
		}
		if text == "" || text[0] == '#' {
			continue
		}
		entries = append(entries, entry{[]string{text}, said, fmt.Sprintf("%s:%d", name, i+1)})
		said = Track{}
	}
	return entries, nil
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

func parseXSPF(b []byte, name string) (entries []entry, err error) {
	var list xspf
	d := xml.NewDecoder(bytes.NewReader(b))
	d.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		rest, err := io.ReadAll(r)
		return strings.NewReader(repairText(rest)), err
	}
	if err := d.Decode(&list); err != nil {
		var se *xml.SyntaxError
		if errors.As(err, &se) {
			return nil, fmt.Errorf("%s:%d: not XML: %s", name, se.Line, clean(se.Msg))
		}
		return nil, fmt.Errorf("%s: not an XSPF playlist: %s", name, clean(err.Error()))
	}
	if list.XMLName.Local != "playlist" {
		return nil, fmt.Errorf("%s: not an XSPF playlist: its root is %q", name, clean(list.XMLName.Local))
	}
	for i, t := range list.Tracks {
		e := entry{
			hint: Track{Title: clean(t.Title), Artist: clean(t.Creator), Album: clean(t.Album), Number: leadingNumber(strings.TrimSpace(t.Number))},
			at:   fmt.Sprintf("%s, track %d", name, i+1),
		}
		if ms, err := strconv.ParseInt(strings.TrimSpace(t.Duration), 10, 64); err == nil && ms > 0 && ms <= longest.Milliseconds() {
			e.hint.Length = time.Duration(ms) * time.Millisecond
		}
		for _, loc := range t.Location {
			loc = strings.TrimSpace(loc)
			if u, err := url.Parse(loc); err == nil && u.Scheme == "" {
				loc = filepath.FromSlash(u.Path) // percent signs resolved
				if strings.HasPrefix(u.Fragment, "t=") {
					loc += "#" + u.Fragment
				}
			}
			if loc != "" {
				e.places = append(e.places, loc)
			}
		}
		entries = append(entries, e)
	}
	return entries, nil
}

// item finds the entry's file: of several places, the first that has one.
func (e entry) item(dir string) item {
	if len(e.places) == 0 {
		return e.typed()
	}
	var first item
	for i, place := range e.places {
		it, found := e.find(place, dir)
		if i == 0 || found {
			first = it
		}
		if found {
			break
		}
	}
	first.hint, first.hint.Length = e.hint, 0
	if len(first.parts) == 1 { // it was written for this part alone
		p, h := &first.parts[0], e.hint
		p.Title, p.Artist, p.Album, p.Number = h.Title, h.Artist, h.Album, h.Number
	}
	return first
}

// typed is the item of a track without a file: its length must be stated.
func (e entry) typed() item {
	t := e.hint
	t.LengthFrom = Typed
	if t.Title == "" {
		t.Title = "untitled"
	}
	if t.Length == 0 {
		return item{track: Track{Path: t.Title}, known: true, err: fmt.Errorf("%s: names no file and no length: give it a location or a duration", e.at)}
	}
	return item{track: t, known: true}
}

// find looks for the file that a place means.
func (e entry) find(place, dir string) (it item, found bool) {
	fault := func(path, what string) item {
		return item{track: Track{Path: path}, known: true, err: fmt.Errorf("%s: %s", e.at, what)}
	}
	path, address := place, strings.Contains(place, "://")
	if u, err := url.Parse(place); err == nil && address {
		if !strings.EqualFold(u.Scheme, "file") {
			return fault(place, "is an address on a network: name a file, or write its length in a typed list"), false
		}
		path = filepath.FromSlash(u.Path)
		if strings.HasPrefix(u.Fragment, "t=") {
			path += "#" + u.Fragment
		}
	}
	// As it stands, then as other systems write it, then in another character set;
	// last as an address would have it, with percent signs resolved.
	slashed := strings.ReplaceAll(path, `\`, "/")
	tries := []string{path, slashed, repairText([]byte(path)), repairText([]byte(slashed))}
	if p, err := url.PathUnescape(slashed); err == nil && p != slashed && !address {
		tries = append(tries, p, repairText([]byte(p)))
	}
	for _, p := range tries {
		if !filepath.IsAbs(p) {
			p = filepath.Join(dir, p)
		}
		st, err := os.Stat(p)
		switch {
		case err != nil:
			continue
		case st.IsDir():
			return fault(p, "is a folder: name it as a source of its own"), true
		case isPlaylistName(p):
			return fault(p, "is a playlist within a playlist: name it as a source of its own"), true
		}
		return item{track: Track{Path: p}, at: e.at}, true
	}
	if file, part, ok := stretchOf(path); ok {
		it, found := e.find(file, dir)
		it.parts = []Track{part}
		return it, found
	}
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, path)
	}
	return item{track: Track{Path: path}, at: e.at}, false // reading it says what is wrong
}
