package media

import (
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

	"golang.org/x/text/transform"

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
	parse := parseM3U
	if strings.EqualFold(ext, ".xspf") {
		parse = parseXSPF
	}
	entries, err := parse(r, name)
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

var errLongPath = fmt.Errorf("a path of more than %d KB: no system has one", maxPath>>10)

// parseM3U reads the de facto format: a path or address a line; lines that begin
// with # are remarks, of which "#EXTINF:seconds,Artist - Title" speaks of the
// next path. No standard; common practice.
func parseM3U(r io.Reader, name string) (entries []entry, err error) {
	in := newLines(r, name)
	var said Track
	for {
		line, ok := in.next()
		if !ok {
			break
		}
		if err := in.isText(line); err != nil {
			return nil, err
		}
		text := strings.Trim(string(line), " \t")
		if info, ok := strings.CutPrefix(text, "#EXTINF:"); ok {
			said = Track{}
			_, info, _ = strings.Cut(info, ",")
			said.Title = strings.Clone(clean(repairText([]byte(info)))) // not the whole line with it
			if artist, title, ok := strings.Cut(said.Title, " - "); ok && strings.TrimSpace(title) != "" {
				said.Artist, said.Title = strings.TrimSpace(artist), strings.TrimSpace(title)
			}
			continue
		}
		if text == "" || text[0] == '#' {
			continue
		}
		if len(entries) == MaxTracks {
			return nil, fmt.Errorf("%s: %w", name, errTooMany)
		}
		if len(text) > maxPath {
			return nil, fmt.Errorf("%s:%d: %w", name, in.n, errLongPath)
		}
		entries = append(entries, entry{[]string{text}, said, fmt.Sprintf("%s:%d", name, in.n)})
		said = Track{}
	}
	if err := in.err(); err != nil {
		return nil, err
	}
	return entries, nil
}

// xspfTrack is a track of the XML Shareable Playlist Format, version 1.
// ref: xspf.org, specification version 1, 4.1.1.2.14.
type xspfTrack struct {
	Location []string `xml:"location"` // URI of the sound, relative to the playlist
	Title    string   `xml:"title"`
	Creator  string   `xml:"creator"`
	Album    string   `xml:"album"`
	Number   string   `xml:"trackNum"`
	Duration string   `xml:"duration"` // milliseconds
}

const (
	// maxXML bounds a track of a playlist, or a mark with all that it says, in
	// bytes: some hold a picture.
	maxXML = 1 << 20
	// maxDepth is how deep the marks of a playlist may lie within each other.
	maxDepth = 100
	// maxPlaces is how many places of one track are looked at.
	maxPlaces = 20
)

// parseXSPF reads a playlist mark by mark: what is kept of a file that is none
// does not grow with it.
func parseXSPF(r io.Reader, name string) (entries []entry, err error) {
	in := &bounded{r: r, left: maxListBytes}
	text, _ := textOf(in)
	one := &bounded{r: text}
	d := xml.NewDecoder(one)
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return transform.NewReader(r, repair{}), nil }
	fault := func(err error) error {
		var se *xml.SyntaxError
		switch {
		case in.left < 0:
			return fmt.Errorf("%s: longer than %d MB: no list of tracks is", name, maxListBytes>>20)
		case one.left < 0:
			line, _ := d.InputPos()
			return fmt.Errorf("%s:%d: more than %d MB in one track: take the pictures out", name, line, maxXML>>20)
		case errors.As(err, &se):
			return fmt.Errorf("%s:%d: not XML: %s", name, se.Line, clean(se.Msg))
		}
		return fmt.Errorf("%s: not an XSPF playlist: %s", name, clean(err.Error()))
	}
	var path []string // the marks that are open
	for {
		one.left = maxXML
		token, err := d.Token()
		if err != nil {
			return nil, fault(err)
		}
		switch mark := token.(type) {
		case xml.EndElement:
			if path = path[:len(path)-1]; len(path) == 0 {
				return entries, nil
			}
		case xml.StartElement:
			local := mark.Name.Local
			switch {
			case len(path) == 0 && local != "playlist":
				return nil, fmt.Errorf("%s: not an XSPF playlist: its root is %q", name, oneline.Cut(clean(local), 50))
			case len(path) == maxDepth:
				return nil, fmt.Errorf("%s: not an XSPF playlist: its marks lie more than %d deep", name, maxDepth)
			case len(path) != 2 || path[1] != "trackList" || local != "track":
				path = append(path, strings.Clone(local))
				continue
			}
			var t xspfTrack
			if err := d.DecodeElement(&t, &mark); err != nil {
				return nil, fault(err)
			}
			if len(entries) == MaxTracks {
				return nil, fmt.Errorf("%s: %w", name, errTooMany)
			}
			e := t.entry(fmt.Sprintf("%s, track %d", name, len(entries)+1))
			for _, p := range e.places {
				if len(p) > maxPath {
					return nil, fmt.Errorf("%s: %w", e.at, errLongPath)
				}
			}
			entries = append(entries, e)
		}
	}
}

func (t xspfTrack) entry(at string) entry {
	e := entry{
		hint: Track{Title: clean(t.Title), Artist: clean(t.Creator), Album: clean(t.Album), Number: leadingNumber(strings.TrimSpace(t.Number))},
		at:   at,
	}
	if ms, err := strconv.ParseInt(strings.TrimSpace(t.Duration), 10, 64); err == nil && ms > 0 && ms <= longest.Milliseconds() {
		e.hint.Length = time.Duration(ms) * time.Millisecond
	}
	for _, loc := range t.Location[:min(len(t.Location), maxPlaces)] {
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
	return e
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
