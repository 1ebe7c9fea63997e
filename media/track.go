// Package media reads what a person wants to record: files, folders, playlists
// and typed lists, each track with its tags and its exact playing time.
//
// Read is the one call; a Track is what comes of it. Nothing here knows of
// tapes or plans.
package media

import "time"

// LengthFrom says how a track's length is known. An estimate is never passed
// off as exact.
type LengthFrom string

const (
	// Counted: every frame of the file was walked or decoded.
	Counted LengthFrom = "counted"
	// Header: the container states the length, and a spot check agreed.
	Header LengthFrom = "header"
	// Typed: a person wrote it in a list, to the second: half a second either way.
	Typed LengthFrom = "typed"
	// Estimated: neither; never given without a note.
	Estimated LengthFrom = "estimated"
)

// CutOff begins the notes of a file that holds less sound than it promises: a
// part of the music is missing.
const CutOff = "cut off"

// Track is one piece of sound to record. A track of a typed list that comes
// from no file (a record, the radio) has an empty Path.
type Track struct {
	Source int    // number of the source of Read that it comes from, from 0
	Path   string // as opened; empty when there is no file
	Title  string // from the tags, else from the file's name; never empty, cleaned of control characters
	Artist string // may be empty
	Album  string // may be empty
	Genre  string // may be empty
	Year   int    // 0: unknown
	Number int    // track number from the tags; 0: unknown
	Disc   int    // disc number from the tags; 0: unknown

	// Part tells that the track is a part of its file, as a cue sheet or the
	// file's chapters say: Length of it, from From on.
	Part bool
	From time.Duration // where the part begins within the file, to the nanosecond; 0 for a whole file

	Length     time.Duration // what a listener gets: encoder delay and padding out
	LengthFrom LengthFrom
	Samples    int64  // the same in samples a channel; 0 for a typed length
	SampleRate int    // Hz; 0 for a typed length
	Channels   int    // 0 for a typed length
	Format     string // "MP3", "FLAC", "WAV" ...; empty for a typed length

	// Chapters are where the chapters within the track begin, from its start, for
	// a file that has some and was read as one track.
	Chapters []time.Duration

	Size    int64     // bytes of the file
	ModTime time.Time // of the file

	// Notes are what a person should know of this file's length, one sentence
	// each ("cut off: the header promises 3:12, the file holds 2:58").
	Notes []string
}

// Place says which sound a track is: its file, and the part of it. Tracks with
// one Place are the same sound.
type Place struct {
	Path         string
	From, Length time.Duration // both 0: all of the file
}

// Place is the track's.
func (t Track) Place() Place {
	if !t.Part {
		return Place{Path: t.Path}
	}
	return Place{t.Path, t.From, t.Length}
}
