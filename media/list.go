package media

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"longside/media/oneline"
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

// maxListBytes bounds a list: a line for each second of a year would find room.
const maxListBytes = 64 << 20

// longest is the longest length that a list may state for one track.
const longest = 24 * time.Hour

func isListName(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv", ".tsv", ".txt":
		return true
	}
	return false
}

// readList reads a typed list; name is for errors, ext its ending when known.
func readList(r io.Reader, name, ext string) ([]item, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxListBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, oneline.Error(err))
	}
	if len(b) > maxListBytes {
		return nil, fmt.Errorf("%s: longer than %d MB: a list of tracks is text", name, maxListBytes>>20)
	}
	b = unixLines([]byte(repairText(b)))
	if i := bytes.IndexByte(b, 0); i >= 0 {
		return nil, fmt.Errorf("%s:%d: not a text file", name, 1+bytes.Count(b[:i], []byte("\n")))
	}
	var tracks []Track
	var faults []lineError
	if comma, columns := table(b, strings.ToLower(ext)); columns != nil {
		tracks, faults = readTable(b, comma, columns)
	} else {
		tracks, faults = readLines(b)
	}
	if len(faults) > 0 {
		var all []error
		for i, f := range faults {
			if i == maxListFaults {
				all = append(all, fmt.Errorf("%s: %d lines more have faults", name, len(faults)-i))
				break
			}
			all = append(all, fmt.Errorf("%s:%d: %w", name, f.line, f.err))
		}
		return nil, errors.Join(all...)
	}
	if len(tracks) == 0 {
		return nil, fmt.Errorf("%s: no tracks in this list: write lines like %q", name, "3:45  Artist - Title")
	}
	items := make([]item, len(tracks))
	for i, t := range tracks {
		items[i] = item{track: t, known: true}
	}
	return items, nil
}

// maxListFaults is how many faulty lines are told one by one; a file that is no
// list would have a fault in each.
const maxListFaults = 10

// lineError is a fault in one line of a list.
type lineError struct {
	line int
	err  error
}

// table finds the header of a table: the separator and the column of each name.
// columns is nil for lines of text.
func table(b []byte, ext string) (comma rune, columns map[string]int) {
	sc := bufio.NewScanner(bytes.NewReader(b))
	sc.Buffer(nil, maxListBytes)
	for sc.Scan() {
		line := strings.TrimSpace(sc.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		for _, sep := range []string{"\t", ",", ";"} {
			found := map[string]int{}
			for i, c := range strings.Split(line, sep) {
				c = strings.ToLower(strings.TrimSpace(strings.Trim(strings.TrimSpace(c), `"`)))
				if _, twice := found[c]; !twice {
					found[c] = i
				}
			}
			if _, ok := found["length"]; ok {
				return rune(sep[0]), found
			}
		}
		break
	}
	if ext == ".csv" { // no header: the fault is named when the first line is read
		return ',', map[string]int{}
	}
	if ext == ".tsv" {
		return '\t', map[string]int{}
	}
	return 0, nil
}

func readTable(b []byte, comma rune, columns map[string]int) (tracks []Track, faults []lineError) {
	if _, ok := columns["length"]; !ok {
		return nil, []lineError{{1, errors.New(`the first line must name the columns: length,artist,title`)}}
	}
	next := nextColumn(columns)
	r := rows(withoutRemarks(b, comma, columns["length"]), comma)
	wide := 0 // columns that the header names
	for header := true; ; header = false {
		rec, err := r.Read()
		if errors.Is(err, io.EOF) {
			return tracks, faults
		}
		if err != nil {
			at := 0
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				at, err = pe.Line, pe.Err
			}
			return nil, append(faults, lineError{at, fmt.Errorf("not a table line: %w", err)})
		}
		line, _ := r.FieldPos(0)
		if header {
			wide = len(rec)
			continue
		}
		// A quotation mark that is never closed would swallow the tracks below it.
		if strings.Contains(strings.Join(rec, ""), "\n") {
			faults = append(faults, lineError{line, errors.New(`a quotation mark is not closed on its line: close it, or write it twice ("")`)})
			continue
		}
		get := func(name string) string {
			if i, ok := columns[name]; ok && i < len(rec) {
				return clean(rec[i])
			}
			return ""
		}
		if strings.TrimSpace(strings.Join(rec, "")) == "" {
			continue
		}
		for len(rec) > wide && strings.TrimSpace(rec[len(rec)-1]) == "" { // as spreadsheets leave them
			rec = rec[:len(rec)-1]
		}
		if len(rec) > wide {
			faults = append(faults, lineError{line, fmt.Errorf("%d fields, where the first line names %d: put a field with %q in it in quotation marks, and write a length as 3:45", len(rec), wide, comma)})
			continue
		}
		length := get("length")
		if behind := get(next); comma == ',' && cutInTwo(length, behind) {
			faults = append(faults, lineError{line, fmt.Errorf("the length %q before %q: write 3 min 45 s as 3:45, and 3 s as 0:03", length, behind)})
			continue
		}
		d, err := ParseLength(length)
		if err != nil {
			faults = append(faults, lineError{line, err})
			continue
		}
		t := Track{Title: get("title"), Artist: get("artist"), Album: get("album"), Genre: get("genre"), Length: d, LengthFrom: Typed}
		t.Year, _ = strconv.Atoi(get("year"))
		t.Number, _ = strconv.Atoi(get("track"))
		t.Disc, _ = strconv.Atoi(get("disc"))
		if t.Title == "" {
			t.Title = "untitled"
		}
		tracks = append(tracks, t)
	}
}

func rows(b []byte, comma rune) *csv.Reader {
	r := csv.NewReader(bytes.NewReader(b))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace, r.LazyQuotes = comma, -1, true, true
	return r
}

// withoutRemarks empties the lines of a table that are remarks, so that the
// others keep their numbers; length is the column that makes a line a row.
func withoutRemarks(b []byte, comma rune, length int) []byte {
	out := make([]byte, 0, len(b))
	header := false // it was seen
	for line := range bytes.Lines(b) {
		text := bytes.TrimSpace(line)
		switch {
		case len(text) == 0:
			text = nil
		case text[0] != '#':
			header = true
			text = bytes.TrimSuffix(line, []byte("\n"))
		case !header || bytes.HasPrefix(text, []byte("# ")) || !isRow(text, comma, length):
			text = nil
		}
		out = append(append(out, text...), '\n')
	}
	return out
}

func isRow(line []byte, comma rune, length int) bool {
	rec, err := rows(line, comma).Read()
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

// readLines reads lines of text: a length, then "Artist - Title" or a title.
func readLines(b []byte) (tracks []Track, faults []lineError) {
	for i, line := range strings.Split(string(b), "\n") {
		line = strings.TrimSpace(clean(line))
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		length, rest, _ := strings.Cut(line, " ")
		d, err := ParseLength(length)
		if err != nil {
			faults = append(faults, lineError{i + 1, fmt.Errorf("%w, then the track: %q", err, "3:45  Artist - Title")})
			continue
		}
		t := Track{Title: strings.TrimSpace(rest), Length: d, LengthFrom: Typed}
		if artist, title, ok := strings.Cut(t.Title, " - "); ok && strings.TrimSpace(title) != "" {
			t.Artist, t.Title = strings.TrimSpace(artist), strings.TrimSpace(title)
		}
		if t.Title == "" {
			t.Title = "untitled"
		}
		tracks = append(tracks, t)
	}
	return tracks, faults
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
