package planner

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"longside/fit"
	"longside/planner/tape"

	"github.com/pelletier/go-toml/v2"
)

// MixFormat and MixVersion open a mix file.
const (
	MixFormat  = "longside mix"
	MixVersion = 2 // 2 added aim and must
)

// MixFile is a mix as a person writes it once and keeps it: TOML, with the
// tracks in the wanted order and what is wished of them. Empty fields ask for
// nothing, and a flag of the command goes before a field of the file.
type MixFile struct {
	Format  string            `toml:"format"`
	Version int               `toml:"version"`
	Title   string            `toml:"title"`
	Note    string            `toml:"note"`
	Order   string            `toml:"order"` // keep, near, free
	Spare   string            `toml:"spare"` // last, even, first
	Aim     string            `toml:"aim"`   // songs, time
	Gap     string            `toml:"gap"`   // 4s
	Apart   int               `toml:"apart"` // tracks between two of the same artist, at the least
	Arc     map[string]string `toml:"arc"`   // of side A and B: level, rising, falling, hill, valley
	Tracks  []MixEntry        `toml:"track"`
}

// MixEntry is one [[track]] of a mix file: a file, folder or list (from), or a
// track that comes from no file (title, artist and length).
type MixEntry struct {
	From   string `toml:"from"`   // relative to the mix file
	Number int    `toml:"number"` // which track of several in it, as in a cue sheet, from 1; 0: all
	Title  string `toml:"title"`
	Artist string `toml:"artist"`
	Length string `toml:"length"` // m:ss or seconds

	Join    bool     `toml:"join"`
	Gap     string   `toml:"gap"`
	Side    string   `toml:"side"`
	Opens   string   `toml:"opens"`  // side or mix
	Closes  string   `toml:"closes"` // side or mix
	Must    bool     `toml:"must"`
	Reserve int      `toml:"reserve"`
	NotThin bool     `toml:"not_thin"`
	Rugged  bool     `toml:"rugged"`
	Fade    string   `toml:"fade"`
	Split   string   `toml:"split"` // where a long piece may be split
	Drive   *float64 `toml:"drive"`
}

// maxMixTracks bounds a mix file: no more can be planned.
const maxMixTracks = fit.MaxPieces

// ParseMix reads a mix file. The error is one line that says what is wrong and
// where in the file, without the file's name.
func ParseMix(data []byte) (MixFile, error) {
	var m MixFile
	if err := tape.CheckTOML(data, m, maxMixTracks+10); err != nil {
		return MixFile{}, err
	}
	d := toml.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields() // a misspelt wish must not be passed over
	if err := d.Decode(&m); err != nil {
		return MixFile{}, mixError(err)
	}
	switch {
	case m.Format != MixFormat:
		return MixFile{}, fmt.Errorf("not a mix file; its first line should be format = %q", MixFormat)
	case m.Version > MixVersion:
		return MixFile{}, fmt.Errorf("mix of version %d, for a newer longside; this one reads up to version %d", m.Version, MixVersion)
	case m.Version < 1:
		return MixFile{}, errors.New("no version; write version = 1 under the format")
	case len(m.Tracks) == 0:
		return MixFile{}, errors.New("no track; write at least one [[track]]")
	case len(m.Tracks) > maxMixTracks:
		return MixFile{}, fmt.Errorf("%d tracks: more than %d", len(m.Tracks), maxMixTracks)
	}
	if m.Version < 2 && (m.Aim != "" || slices.ContainsFunc(m.Tracks, func(e MixEntry) bool { return e.Must })) {
		return MixFile{}, errors.New("aim and must need version = 2 under the format")
	}
	for i, e := range m.Tracks {
		if (e.From == "") == (e.Title == "" || e.Length == "") {
			return MixFile{}, fmt.Errorf("track %d: give from = a file, or title and length of a track that comes from no file", i+1)
		}
		if e.Number < 0 || e.Number > 0 && e.From == "" {
			return MixFile{}, fmt.Errorf("track %d: number %d: write which track of the file or cue sheet in from, counted from 1", i+1, e.Number)
		}
		if _, err := e.Wish(); err != nil {
			return MixFile{}, fmt.Errorf("track %d: %w", i+1, err)
		}
	}
	return m, nil
}

// mixError is a TOML error with its place in the file, on one line.
func mixError(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		row, _ := strict.Errors[0].Position()
		return fmt.Errorf("line %d: nothing is called %q here", row, strings.Join(strict.Errors[0].Key(), "."))
	}
	var at *toml.DecodeError
	if errors.As(err, &at) {
		row, col := at.Position()
		return fmt.Errorf("line %d, column %d: %s", row, col, strings.TrimPrefix(at.Error(), "toml: "))
	}
	return errors.New(strings.ReplaceAll(err.Error(), "\n", " "))
}

// Wish reads what an entry wishes.
func (e MixEntry) Wish() (Wish, error) {
	w := Wish{Join: e.Join, Side: strings.ToUpper(e.Side), Opens: Where(strings.ToLower(e.Opens)), Closes: Where(strings.ToLower(e.Closes)),
		Must: e.Must, Reserve: e.Reserve, NotThin: e.NotThin, Rugged: e.Rugged, Drive: e.Drive}
	if e.Gap != "" {
		g, err := ParseTime(e.Gap, time.Second)
		if err != nil {
			return w, fmt.Errorf("gap %q: %w", e.Gap, err)
		}
		s := Seconds(g)
		w.Gap = &s
	}
	if e.Fade != "" {
		f, err := ParseTime(e.Fade, time.Second)
		if err != nil || f < 0 {
			return w, fmt.Errorf("fade %q: write a time as 8s", e.Fade)
		}
		w.Fade = Seconds(f)
	}
	if e.Split != "" {
		f, err := ParseTime(e.Split, time.Second)
		if err != nil || f <= 0 {
			return w, fmt.Errorf("split %q: write a time as 26:05", e.Split)
		}
		w.Split = Seconds(f)
	}
	if w.Side != "" {
		if _, _, err := parseSide(w.Side); err != nil {
			return w, err
		}
	}
	where := []Where{Anywhere, OfSide, OfMix}
	switch {
	case !slices.Contains(where, w.Opens):
		return w, fmt.Errorf("opens %q: write side or mix", e.Opens)
	case !slices.Contains(where, w.Closes):
		return w, fmt.Errorf("closes %q: write side or mix", e.Closes)
	case w.Must && w.Reserve > 0:
		return w, errors.New("must and reserve contradict each other: a reserve may be left out")
	case w.Reserve < 0 || w.Reserve > 1000:
		return w, fmt.Errorf("reserve %d: write its rank, 1 to 1000", w.Reserve)
	case w.Drive != nil && !(*w.Drive >= 0 && *w.Drive <= 10):
		return w, errors.New("drive " + strconv.FormatFloat(*w.Drive, 'g', -1, 64) + ": write 0 to 10")
	}
	return w, nil
}
