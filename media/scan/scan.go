// Package scan reads the playing time of an audio file from its container,
// without decoding.
//
// File is the quick reading: it takes the length that the container states when
// a spot check agrees with it, and counts the frames when not. Walk always
// counts. Both look at the bytes, never at the file's name, and both give the
// number of samples that a listener gets: encoder delay and padding out.
//
// Each format has a file of its own, with the fields named in the words of its
// specification. To add one, write a scanner beside the others and name its
// first bytes in sniff.
//
// Laws that the fuzz targets hold this package to: a length is never negative
// and never more than the bytes could hold; the same bytes give the same answer;
// what is kept in memory does not grow with the file.
package scan

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"
)

// Known says how a length is known.
type Known string

const (
	// Counted: every frame was walked.
	Counted Known = "counted"
	// Header: the container states the length and a spot check agreed.
	Header Known = "header"
	// Estimated: neither; a note says why.
	Estimated Known = "estimated"
)

// Info is what the container tells of a file's sound.
type Info struct {
	Format   string // the container: "MP3", "FLAC", "WAV", "W64", "AIFF", "Ogg", "M4A", "AAC"
	Codec    string // what is inside: "MPEG-1 Layer III", "FLAC", "PCM", "float", "Vorbis", "Opus", "AAC", "ALAC" ...
	Rate     int    // Hz; Samples are counted at this rate
	Channels int
	BitDepth int // bits a sample; 0 where the codec has none

	Samples int64 // a channel, as a listener gets them
	From    Known

	Head       int64 // byte where the format's own header begins: after the ID3v2 tags that lead the file
	Start, End int64 // bytes of the audio section: first byte, and first byte after it

	Delay           int64 // samples at the front that are the encoder's, not the music's; in Samples they are out
	Padding         int64 // samples at the end that are the encoder's; in Samples they are out
	SamplesPerFrame int   // 0 where frames differ or there are none
	Frames          int64 // frames of sound (for MP3: without a Xing or Info frame); 0 where there are none

	MPEG MPEG  // for the codecs of MPEG audio, layers I to III
	PCM  PCM   // for uncompressed sound
	Tags []Tag // where the file's tags lie

	Chapters bool // an MPEG-4 file that names chapters: see MP4Chapters

	// Notes are what a person should know of this length, one sentence each.
	Notes []string
}

// Length is the playing time, to the nearest nanosecond.
func (i Info) Length() time.Duration {
	if i.Rate <= 0 {
		return 0
	}
	rate := int64(i.Rate)
	whole, rest := i.Samples/rate, i.Samples%rate
	if whole > int64(1<<63-1)/int64(time.Second)-1 {
		return 1<<63 - 1
	}
	return time.Duration(whole)*time.Second + time.Duration((rest*int64(time.Second)+rate/2)/rate)
}

// Samples is a time in samples at a rate, to the nearest.
func Samples(d time.Duration, rate int) int64 {
	s, rest := int64(d/time.Second), int64(d%time.Second)
	return s*int64(rate) + (rest*int64(rate)+int64(time.Second)/2)/int64(time.Second)
}

// PCM says how uncompressed samples lie in the audio section.
type PCM struct {
	BytesPerSample int  // one channel; 0: not PCM
	Float          bool // IEEE 754
	BigEndian      bool
	Signed         bool   // integers only: two's complement
	Law            string // "A-law", "mu-law", else empty
	Mask           uint32 // which speakers the channels are for, as in WAVEFORMATEXTENSIBLE; 0: not said
}

// A Tag is a stretch of the file that holds tags, not sound.
type Tag struct {
	Kind TagKind
	Off  int64 // first byte of the tag, its own header included
	Size int64 // bytes
}

// TagKind names a tag format.
type TagKind string

// The kinds of tag that a scanner can come across.
const (
	ID3v2         TagKind = "ID3v2"
	ID3v1         TagKind = "ID3v1"
	APE           TagKind = "APE"
	VorbisComment TagKind = "Vorbis comment"        // the contents, from the vendor's name on
	FLACCueSheet  TagKind = "FLAC cue sheet"        // the contents of a CUESHEET block
	OggComment    TagKind = "Vorbis comment in Ogg" // the page on which the packet begins: see CommentPacket
	RIFFInfo      TagKind = "RIFF INFO list"        // the LIST chunk's contents, after "INFO"
	AIFFText      TagKind = "AIFF text chunk"       // NAME, AUTH: the whole chunk
	ItemList      TagKind = "MP4 item list atom"    // the ilst box, header included
)

// ErrNotAudio is wrapped by the errors for files whose bytes are no audio
// format that this package reads.
var ErrNotAudio = errors.New("no audio that can be read")

// ErrNoSound is wrapped by the errors for audio files without one sample in them.
var ErrNoSound = errors.New("no sound in it")

// File finds the length of an audio file from its container. The error is one
// line without the file's name.
func File(r io.ReaderAt, size int64) (Info, error) { return scanFile(r, size, false) }

// Walk is File with every frame counted, and with the facts that take a look at
// each frame (see MPEG). It reads the whole file.
func Walk(r io.ReaderAt, size int64) (Info, error) { return scanFile(r, size, true) }

func scanFile(r io.ReaderAt, size int64, walk bool) (Info, error) {
	s := newSource(r, size)
	defer s.free()
	info, err := sniff(s, walk)
	if s.err != nil {
		return Info{}, s.err // a failing disk says more than what came of its bytes
	}
	if err != nil {
		return Info{}, err
	}
	switch {
	case info.Samples <= 0:
		return Info{}, fmt.Errorf("%s file: %w", info.Format, ErrNoSound)
	case info.Rate <= 0:
		return Info{}, fmt.Errorf("%s file: its header states no sample rate", info.Format)
	}
	return info, nil
}

// sniff looks at the first bytes and hands the file to the scanner of its format.
func sniff(s *source, walk bool) (Info, error) {
	if s.size == 0 {
		return Info{}, fmt.Errorf("the file is empty: %w", ErrNotAudio)
	}
	start, tags := skipID3v2(s, 0, s.size)
	var info Info
	var err error
	head := s.at(start, 12)
	switch {
	case hasPrefix(head, "fLaC"):
		info, err = scanFLAC(s, start, walk)
	case len(head) == 12 && (hasPrefix(head, "RIFF") || hasPrefix(head, "RF64") || hasPrefix(head, "BW64")) && string(head[8:12]) == "WAVE":
		info, err = scanWAV(s, start, walk)
	case hasPrefix(head, w64Riff[:12]):
		info, err = scanW64(s, start, walk)
	case len(head) == 12 && hasPrefix(head, "FORM") && (string(head[8:12]) == "AIFF" || string(head[8:12]) == "AIFC"):
		info, err = scanAIFF(s, start, walk)
	case hasPrefix(head, "OggS"):
		info, err = scanOgg(s, start, walk)
	case len(head) == 12 && string(head[4:8]) == "ftyp":
		info, err = scanMP4(s, start, walk)
	case isADTS(s, start, s.size):
		info, err = scanADTS(s, start, s.size)
	default:
		info, err = scanMPEG(s, start, s.size, walk)
	}
	info.Head, info.Tags = start, append(tags, info.Tags...)
	if errors.Is(err, ErrNotAudio) {
		err = describeOther(s, err)
	}
	return info, err
}

// describeOther names what a file is that is no audio, where its first bytes tell.
func describeOther(s *source, err error) error {
	head := s.at(0, 512)
	for _, k := range []struct{ prefix, name string }{
		{"%PDF", "a PDF document"}, {"\x89PNG", "a PNG picture"}, {"\xff\xd8\xff", "a JPEG picture"},
		{"GIF8", "a GIF picture"}, {"PK\x03\x04", "a ZIP archive"}, {"\x7fELF", "a program"},
		{"\x1f\x8b", "a gzip archive"}, {"<!DOCTYPE", "a web page"}, {"<html", "a web page"},
		{"MThd", "a MIDI file: notes, no sound"},
	} {
		if bytes.HasPrefix(head, []byte(k.prefix)) {
			return fmt.Errorf("%w: it is %s", ErrNotAudio, k.name)
		}
	}
	for _, k := range []struct{ prefix, name string }{
		{"0&\xb2u", "ASF"}, {"\x1aE\xdf\xa3", "Matroska or WebM"}, {"MAC ", "MAC"}, {"wvpk", "wvpk"}, {"TTA1", "TTA"}, {"MPCK", "MPCK"}, {"MP+", "MP+"},
		{"DSD ", "DSF"}, {"FRM8", "DSDIFF"}, {"caff", "CAF"}, {".snd", "AU"}, {"\x0b\x77", "AC-3"}, {"\x7f\xfe\x80\x01", "DTS"}, {".RMF", "RMF"}, {"#!AMR", "AMR"},
	} {
		if bytes.HasPrefix(head, []byte(k.prefix)) {
			return fmt.Errorf("%w: %s is not read here: convert it to FLAC first", ErrNotAudio, k.name)
		}
	}
	if looksLikeText(head) {
		return fmt.Errorf("%w: it is a text file", ErrNotAudio)
	}
	return err
}

func looksLikeText(b []byte) bool {
	for _, c := range b {
		if c < 0x20 && c != '\n' && c != '\r' && c != '\t' && c != '\f' {
			return false
		}
	}
	return len(b) > 0
}

func hasPrefix(b []byte, p string) bool { return len(b) >= len(p) && string(b[:len(p)]) == p }
