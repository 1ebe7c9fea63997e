// Package cue reads and writes cue sheets: the text that says where the tracks
// of an album begin within its sound files.
//
// Parse takes a sheet apart, Sheet.Encode writes one. Both work on text and
// values: no files are opened, and what a name of a file means is the caller's.
//
// There is no standard. Read are the commands by the CUE sheet format appendix of
// the GNU ccd2cue manual (FILE, TRACK, INDEX, TITLE, PERFORMER, REM; times are
// mm:ss:ff with 75 frames a second), and what sheets hold beyond it: INDEX 00
// and INDEX 01 of one track in two files, and REM GENRE, DATE and DISCNUMBER
// (common practice, no source). Other commands are passed over.
package cue

import (
	"fmt"
	"time"
)

// Time is a place in a file, in frames of 1/75 s.
type Time int64

// FramesPerSecond is how many frames a second has.
const FramesPerSecond = 75

// D is t to the nearest nanosecond.
func (t Time) D() time.Duration {
	s, f := int64(t)/FramesPerSecond, int64(t)%FramesPerSecond
	return time.Duration(s)*time.Second + (time.Duration(f)*time.Second+FramesPerSecond/2)/FramesPerSecond
}

// At is the frame nearest to a time.
func At(d time.Duration) Time {
	s, rest := int64(d/time.Second), int64(d%time.Second)
	return Time(s*FramesPerSecond + (rest*FramesPerSecond+int64(time.Second)/2)/int64(time.Second))
}

// String is mm:ss:ff.
func (t Time) String() string {
	s := int64(t) / FramesPerSecond
	return fmt.Sprintf("%02d:%02d:%02d", s/60, s%60, int64(t)%FramesPerSecond)
}

// Sheet is a cue sheet. Empty texts and zeros are what it does not say.
type Sheet struct {
	Title     string // of the album
	Performer string // of the album
	Genre     string
	Year      int
	Disc      int
	Files     []File // that hold a track, in order
}

// File is a file of sound.
type File struct {
	Name string // as written
	// Type is the format that the sheet claims, in capitals: WAVE, MP3, AIFF,
	// BINARY (a raw disc image). Often wrong but for the last.
	Type   string
	Line   int // of the sheet, where it is first named
	Tracks []Track
}

// Track is a track that begins in a file.
type Track struct {
	Number    int
	Title     string
	Performer string
	Line      int // of the sheet
	// Start is where it begins (INDEX 01). It ends where the next track of the file
	// begins, or with the file; Pause, which is the gap that INDEX 00 marks before
	// it, sounds at the end of the track before.
	Start Time
	Pause Time
}

// Raw tells that the file is a raw disc image, in no format of sound.
func (f File) Raw() bool { return f.Type == "BINARY" || f.Type == "MOTOROLA" }
