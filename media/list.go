package media

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// A typed list names music that comes from no file: records, the radio. It is a
// table with a header line, comma or tab separated:
//
//	length,artist,title
//	3:45,The Deckhands,Casting Off
//
// in any order of columns and with more of them allowed, or lines of text:
//
//	3:45  The Deckhands - Casting Off
//
// A length is m:ss, h:mm:ss or seconds. Lines that begin with # are left out; not
// so a row of a table that holds a length ("#1 in the galley,3:45"), unless there
// is a space behind the #.

// longest is the longest length that a list may state for one track.
const longest = 24 * time.Hour

func isListName(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv", ".tsv", ".txt":
		return true
	}
	return false
}

// readList reads a typed list; name is for errors, ext its ending when known, dir
// where the names of files in it count from.
func readList(r io.Reader, name, ext, dir string) ([]item, error) {
	in := newLines(r, name)
	p := listParser{ext: strings.ToLower(ext)}
	var items []item
	var faults []error
	wrong := 0
	for {
		line, ok := in.next()
		if !ok {
			break
		}
		if err := in.isText(line); err != nil {
			return nil, err
		}
		text := string(line)
		if !in.marked {
			text = repairText(line)
		}
		t, ok, err := p.track(text)
		switch {
		case err != nil:
			if wrong++; wrong <= maxListFaults {
				faults = append(faults, fmt.Errorf("%s:%d: %w", name, in.n, err))
			}
		case ok && len(items) == MaxTracks:
			return nil, fmt.Errorf("%s: %w", name, errTooMany)
		case ok && p.file != "":
			items = append(items, p.fileItem(t, fmt.Sprintf("%s:%d", name, in.n), dir))
		case ok:
			items = append(items, item{track: t, known: true})
		}
		if p.hopeless || wrong > noList {
			break
		}
	}
	err := in.err()
	switch {
	case err != nil:
		return nil, err
	case wrong > noList:
		return nil, errors.Join(append(faults, fmt.Errorf("%s: more than %d lines have faults: is it a list of tracks?", name, noList))...)
	case wrong > maxListFaults:
		return nil, errors.Join(append(faults, fmt.Errorf("%s: %d lines more have faults", name, wrong-maxListFaults))...)
	case wrong > 0:
		return nil, errors.Join(faults...)
	case len(items) == 0 && p.columns == nil && (p.ext == ".csv" || p.ext == ".tsv"):
		return nil, fmt.Errorf("%s:1: %w", name, errNoHead)
	case len(items) == 0:
		return nil, fmt.Errorf("%s: no tracks in this list: write lines like %q", name, "3:45  Artist - Title")
	}
	return items, nil
}

const (
	// maxListFaults is how many faulty lines are told one by one; a file that is no
	// list would have a fault in each.
	maxListFaults = 10
	// noList is how many faulty lines show that it is none: it is not read on.
	noList = 1000
)

var errNoHead = errors.New("the first line must name the columns: length,artist,title")

// listParser reads the lines of a list one by one.
type listParser struct {
	ext      string
	columns  map[string]int // of a table, by name; nil: none seen yet, or lines of text
	comma    rune
	wide     int    // columns that the table's header names
	next     string // the text column behind the length, if there is one
	asText   bool   // lines of text, as the first one showed
	hopeless bool   // the header is missing: nothing more can be read
	file     string // the file that the last row names; empty: it comes from none
}

// fileItem is a row that names a file, of which t is what the row says.
func (p *listParser) fileItem(t Track, at, dir string) item {
	it, _ := entry{at: at}.find(p.file, dir)
	part := Track{Part: true}
	if it.parts != nil {
		part = it.parts[0]
	}
	t.Part, t.From, t.Length, t.LengthFrom = true, part.From, part.Length, ""
	it.parts = []Track{t}
	return it
}

// track reads a line; ok is false for one that holds no track.
func (p *listParser) track(line string) (t Track, ok bool, err error) {
	text := strings.TrimSpace(line)
	switch {
	case text == "":
		return t, false, nil
	case text[0] == '#' && (p.columns == nil || strings.HasPrefix(text, "# ") || !isRow(text, p.comma, p.columns["length"])):
		return t, false, nil
	case p.columns != nil:
		return p.row(line)
	case p.asText:
		return textLine(line)
	}
	// The first line that is no remark shows what the list is.
	if p.comma, p.columns = tableHead(text); p.columns != nil {
		rec, err := row(text, p.comma)
		p.wide, p.next = len(rec), nextColumn(p.columns)
		return t, false, err
	}
	if p.ext == ".csv" || p.ext == ".tsv" {
		p.hopeless = true
		return t, false, errNoHead
	}
	p.asText = true
	return textLine(line)
}

// tableHead reads the header of a table: the separator and the column of each
// name. columns is nil for what is none.
func tableHead(line string) (comma rune, columns map[string]int) {
	for _, sep := range []string{"\t", ",", ";"} {
		found := map[string]int{}
		i := 0
		for c := range strings.SplitSeq(line, sep) {
			c = strings.ToLower(strings.TrimSpace(strings.Trim(strings.TrimSpace(c), `"`)))
			if _, twice := found[c]; !twice {
				found[c] = i
			}
			i++
		}
		if _, ok := found["length"]; ok {
			return rune(sep[0]), found
		}
	}
	return 0, nil
}

// row reads a row of a table.
func (p *listParser) row(line string) (t Track, ok bool, err error) {
	rec, err := row(line, p.comma)
	if err != nil {
		return t, false, err
	}
	get := func(name string) string {
		if i, ok := p.columns[name]; ok && i < len(rec) {
			return strings.Clone(clean(rec[i])) // not the whole line with it
		}
		return ""
	}
	for len(rec) > p.wide && strings.TrimSpace(rec[len(rec)-1]) == "" { // as spreadsheets leave them
		rec = rec[:len(rec)-1]
	}
	if strings.TrimSpace(strings.Join(rec, "")) == "" {
		return t, false, nil
	}
	if len(rec) > p.wide {
		return t, false, fmt.Errorf("%d fields, where the first line names %d: put a field with %q in it in quotation marks, and write a length as 3:45", len(rec), p.wide, p.comma)
	}
	p.file = ""
	if i, ok := p.columns["file"]; ok && i < len(rec) {
		p.file = strings.Clone(strings.TrimSpace(rec[i]))
	}
	length := get("length")
	if behind := get(p.next); p.comma == ',' && cutInTwo(length, behind) {
		return t, false, fmt.Errorf("the length %q before %q: write 3 min 45 s as 3:45, and 3 s as 0:03", length, behind)
	}
	var d time.Duration
	if p.file == "" || length != "" { // a file's length need not be written
		if d, err = ParseLength(length); err != nil {
			return t, false, err
		}
	}
	t = Track{Title: get("title"), Artist: get("artist"), Album: get("album"), Genre: get("genre"), Length: d, LengthFrom: Typed}
	t.Year, _ = strconv.Atoi(get("year"))
	t.Number, _ = strconv.Atoi(get("track"))
	t.Disc, _ = strconv.Atoi(get("disc"))
	if t.Title == "" && p.file == "" {
		t.Title = "untitled"
	}
	return t, true, nil
}

// row splits a line of a table into its fields.
func row(line string, comma rune) ([]string, error) {
	r := csv.NewReader(strings.NewReader(line + "\n"))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace, r.LazyQuotes = comma, -1, true, true
	rec, err := r.Read()
	var pe *csv.ParseError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	if err != nil {
		return nil, fmt.Errorf("not a table line: %w", err)
	}
	// A quotation mark that is never closed takes the end of the line with it.
	if n := len(rec); n > 0 && strings.HasSuffix(rec[n-1], "\n") {
		return nil, errors.New(`a quotation mark is not closed on its line: close it, or write it twice ("")`)
	}
	return rec, nil
}

// isRow tells whether a line that begins with # holds a length where the table
// has it.
func isRow(line string, comma rune, length int) bool {
	rec, err := row(line, comma)
	if err != nil || length >= len(rec) {
		return false
	}
	_, err = ParseLength(clean(rec[length]))
	return err == nil
}

// nextColumn is the name of the column behind the length when it holds text.
func nextColumn(columns map[string]int) string {
	for _, name := range []string{"artist", "title", "album", "genre"} {
		if i, ok := columns[name]; ok && i == columns["length"]+1 {
			return name
		}
	}
	return ""
}

// cutInTwo tells whether two fields look like a length written with a comma: 3,45.
func cutInTwo(length, behind string) bool {
	return length != "" && len(length) <= 2 && allDigits(length) && len(behind) == 2 && allDigits(behind)
}

// textLine reads a line of text: a length, then "Artist - Title" or a title.
func textLine(line string) (t Track, ok bool, err error) {
	length, rest, _ := strings.Cut(clean(line), " ")
	d, err := ParseLength(length)
	if err != nil {
		return t, false, fmt.Errorf("%w, then the track: %q", err, "3:45  Artist - Title")
	}
	t = Track{Title: strings.Clone(strings.TrimSpace(rest)), Length: d, LengthFrom: Typed}
	if artist, title, ok := strings.Cut(t.Title, " - "); ok && strings.TrimSpace(title) != "" {
		t.Artist, t.Title = strings.TrimSpace(artist), strings.TrimSpace(title)
	}
	if t.Title == "" {
		t.Title = "untitled"
	}
	return t, true, nil
}

// ParseLength reads a length that a person wrote: "3:45", "1:02:03", or seconds
// as "225" or "225.4". The error is one line and names the value.
func ParseLength(s string) (time.Duration, error) {
	s = strings.TrimSpace(s)
	bad := fmt.Errorf("%q is no length: write m:ss, h:mm:ss or seconds", s)
	parts := strings.Split(s, ":")
	if len(parts) > 3 {
		return 0, bad
	}
	var d time.Duration
	for i, p := range parts {
		last := i == len(parts)-1
		whole, frac, dotted := strings.Cut(p, ".")
		if dotted && (!last || frac == "" || len(frac) > 9 || !allDigits(frac)) || whole == "" || len(whole) > 6 || !allDigits(whole) {
			return 0, bad
		}
		n, _ := strconv.Atoi(whole)
		if i > 0 && (n > 59 || len(whole) != 2) {
			return 0, bad
		}
		d = d*60 + time.Duration(n)*time.Second
		if dotted {
			ns, _ := strconv.Atoi((frac + "00000000")[:9])
			d += time.Duration(ns)
		}
	}
	switch {
	case d <= 0:
		return 0, fmt.Errorf("%q is no length: it must be more than nothing", s)
	case d > longest:
		return 0, fmt.Errorf("%q is no length for one track: more than 24 hours", s)
	}
	return d, nil
}

func allDigits(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}
