package media

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"longside/media/cue"
	"longside/media/oneline"
	"longside/media/scan"
)

func isSheetName(name string) bool { return strings.EqualFold(filepath.Ext(name), ".cue") }

// openSheet reads a cue sheet into an item a file. The error is a *cue.Error where
// the sheet is wrong; it does not name the sheet.
func openSheet(path string) ([]item, error) {
	f, err := openRegular(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readSheet(f, path)
}

func readSheet(r io.Reader, name string) ([]item, error) {
	b, err := io.ReadAll(io.LimitReader(r, cue.MaxBytes+1))
	if err != nil {
		return nil, oneline.Error(err)
	}
	s, err := cue.Parse(repairText(b))
	if err != nil {
		var at *cue.Error
		if errors.As(err, &at) {
			at.Says = clean(at.Says)
		}
		return nil, err
	}
	dir := filepath.Dir(name)
	var items []item
	for _, f := range s.Files {
		e := entry{places: []string{f.Name}, at: fmt.Sprintf("%s:%d", oneline.Shown(name), f.Line)}
		it, found := e.find(f.Name, dir)
		if !found {
			if other := besides(it.track.Path, dir); other != "" {
				it, found = item{track: Track{Path: other}, at: e.at}, true
			}
		}
		if found && it.err == nil && f.Raw() {
			it = item{track: Track{Path: it.track.Path}, known: true, err: fmt.Errorf("%s: a raw disc image, which is not read here: convert it to FLAC first", e.at)}
		}
		it.parts = sheetParts(s, f)
		items = append(items, it)
	}
	return items, nil
}

// hiddenFrom is how much sound before the first track is told of. A disc begins
// with a pause of two seconds; more is hidden music (our own choice).
const hiddenFrom = 4 * time.Second

// sheetParts are the tracks of one file of a cue sheet.
func sheetParts(s cue.Sheet, f cue.File) []Track {
	var parts []Track
	for i, t := range f.Tracks {
		p := Track{Part: true, From: t.Start.D(), Number: t.Number, Year: s.Year, Disc: s.Disc}
		setText(&p.Title, t.Title)
		setText(&p.Title, fmt.Sprintf("Track %d", t.Number))
		setText(&p.Artist, t.Performer)
		setText(&p.Artist, s.Performer)
		setText(&p.Album, s.Title)
		setText(&p.Genre, s.Genre)
		if i == 0 && t.Start.D() >= hiddenFrom {
			p.Notes = []string{fmt.Sprintf("%s of sound lie before it in the file (INDEX 00) and are in no track", clockOf(t.Start.D()))}
		}
		parts = append(parts, p)
	}
	return parts
}

// besides looks for the file that a cue sheet means where there is none of its
// name: one of the same name beside the sheet, in other letter case, or with
// another ending, as after the album was converted. Empty: none, or several.
func besides(path, dir string) string {
	base := path[strings.LastIndexAny(path, `/\`)+1:]
	var found []string
	for _, d := range []string{filepath.Dir(path), dir} {
		entries, err := os.ReadDir(d)
		if err != nil {
			continue
		}
		stem := strings.TrimSuffix(base, filepath.Ext(base))
		for _, e := range entries {
			name := e.Name()
			if p := filepath.Join(d, name); strings.EqualFold(name, base) {
				return p
			} else if isAudioName(name) && strings.EqualFold(strings.TrimSuffix(name, filepath.Ext(name)), stem) && !slices.Contains(found, p) {
				found = append(found, p)
			}
		}
	}
	if len(found) == 1 {
		return found[0]
	}
	return ""
}

// lookInside looks for what a file says of the parts within it.
func lookInside(r io.ReaderAt, size int64, info scan.Info, t *Track) (in inside) {
	in.Chapters = fileChapters(r, size, info, info.Length())
	for _, tag := range info.Tags {
		w := &window{r: r, end: tag.Off + tag.Size}
		switch tag.Kind {
		case scan.FLACCueSheet:
			if in.Sheet == nil {
				in.Sheet = sheetBlock(w, tag.Off, info.Rate)
			}
		case scan.VorbisComment:
			text := vorbisText(w, tag.Off, "cuesheet", cue.MaxBytes)
			if text == nil {
				continue
			}
			s, err := cue.Parse(repairText(text))
			switch {
			case err != nil:
				t.Notes = append(t.Notes, "the cue sheet in its tags is wrong and not used: "+clean(err.Error()))
			case len(s.Files) > 1:
				t.Notes = append(t.Notes, "the cue sheet in its tags speaks of several files and is not used")
			default:
				in.Sheet = sheetParts(s, s.Files[0]) // it has titles: before the block
			}
		}
	}
	return in
}

// sheetBlock reads a CUESHEET block of FLAC, whose contents begin at off; nil
// where it makes no sense. ref: RFC 9639 8.7.
func sheetBlock(w *window, off int64, rate int) (parts []Track) {
	// 128 bytes catalogue number, 8 lead-in, 1 bit CD, 258 bytes and 7 bits reserved, 8 bits number of tracks
	head := w.at(off, 396)
	if head == nil {
		return nil
	}
	n := int(head[395])
	off += 396
	last := time.Duration(-1)
	for range n {
		// 8 bytes offset in samples, 1 number, 12 ISRC, 1 bit no audio, 1 bit pre-emphasis,
		// 6 bits and 13 bytes reserved, 1 number of index points
		b := w.at(off, 36)
		if b == nil {
			return nil
		}
		start, number, sound, points := binary.BigEndian.Uint64(b), int(b[8]), b[21]&0x80 == 0, int64(b[35])
		off += 36
		if number == 170 || number == 255 { // the lead-out: the end of the last track
			break
		}
		index := uint64(0)
		for i := range points {
			// 8 bytes offset in samples from the track's, 1 number, 3 reserved
			x := w.at(off+12*i, 12)
			if x == nil {
				return nil
			}
			if x[8] == 1 {
				index = binary.BigEndian.Uint64(x)
			}
		}
		off += 12 * points
		if start > math.MaxInt64/4 || index > math.MaxInt64/4 || rate <= 0 {
			return nil
		}
		from := scan.Info{Samples: int64(start + index), Rate: rate}.Length()
		if from <= last {
			return nil
		}
		last = from
		if sound {
			parts = append(parts, Track{Part: true, From: from, Number: number, Title: fmt.Sprintf("Track %d", number)})
		}
	}
	return parts
}
