package media

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"longside/media/scan"
)

// fileChapters are the chapters that a file names, as parts of it; nil where it
// names none or just one.
func fileChapters(r io.ReaderAt, size int64, info scan.Info, length time.Duration) []Track {
	var list []scan.Chapter
	if info.Format == "M4A" {
		list = scan.MP4Chapters(r, size)
	}
	for _, tag := range info.Tags {
		if len(list) > 0 {
			break
		}
		w := &window{r: r, end: tag.Off + tag.Size}
		switch tag.Kind {
		case scan.ID3v2:
			list = id3Chapters(w, tag.Off)
		case scan.VorbisComment:
			list = vorbisChapters(w, tag.Off)
		case scan.OggComment:
			b := scan.CommentPacket(r, math.MaxInt64, tag.Off)
			list = vorbisChapters(&window{r: bytes.NewReader(b), end: int64(len(b))}, 0)
		}
	}
	return chapterParts(list, length)
}

// chapterSlack is how far a chapter's end may lie before the next one's
// beginning, or the file's end, and still mean it; and how much sound before the
// first chapter belongs to it. Our own choice: less than anything is said in.
const chapterSlack = time.Second

// chapterParts puts chapters in order and fills in what they leave open. Of two
// that begin at once the longer holds, and one that lies within the one before
// (a part of a part) is left out.
func chapterParts(list []scan.Chapter, length time.Duration) []Track {
	list = slices.DeleteFunc(list, func(c scan.Chapter) bool {
		return c.Start < 0 || c.Start >= length || c.End > 0 && c.End <= c.Start
	})
	slices.SortStableFunc(list, func(a, b scan.Chapter) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(b.End, a.End))
	})
	var parts []Track
	var end time.Duration // of the last part, where it is stated
	for _, c := range list {
		if n := len(parts); n > 0 {
			before := &parts[n-1]
			switch {
			case c.Start == before.From, c.End > 0 && end > 0 && c.End <= end && c.Start < end-chapterSlack:
				continue
			case end > 0 && c.Start-end > chapterSlack:
				before.Length = end - before.From
			}
		}
		p := Track{Part: true, From: c.Start, Number: len(parts) + 1}
		setText(&p.Title, string(c.Title))
		setText(&p.Title, fmt.Sprintf("Chapter %d", len(parts)+1))
		parts, end = append(parts, p), c.End
	}
	if len(parts) < 2 {
		return nil
	}
	if end > 0 && length-end > chapterSlack {
		parts[len(parts)-1].Length = end - parts[len(parts)-1].From
	}
	if first := &parts[0]; first.From <= chapterSlack {
		first.From = 0
	} else {
		first.Notes = []string{fmt.Sprintf("%s of sound lie before it in the file and are in no chapter", clockOf(first.From))}
	}
	return parts
}

// id3Chapters reads the CHAP frames of the tag at off; where a table of contents
// (CTOC) is the topmost, those that it names.
// ref: id3.org, ID3v2 Chapter Frame Addendum, 2 December 2005, 3.1 and 3.2.
func id3Chapters(w *window, off int64) (list []scan.Chapter) {
	// A chapter's picture may follow its title; of titles behind it none is read.
	const most = 64 << 10
	named := map[string]bool{}
	var ids []string
	eachID3Frame(w, off, func(f id3Frame) {
		switch {
		case f.name == "CTOC":
			// id, 0, flags (bit 1: the topmost), number of entries, then each an id and 0
			_, b, _ := bytes.Cut(f.body(most), []byte{0})
			if len(b) < 2 || b[0]&2 == 0 {
				return
			}
			entries := b[2:]
			for range b[1] {
				id, rest, ok := bytes.Cut(entries, []byte{0})
				if !ok {
					break
				}
				named[string(id)] = true
				entries = rest
			}
		case f.name == "CHAP" && len(list) < scan.MaxChapters:
			// id, 0, start and end 4 each in ms, first and last byte 4 each, then frames
			id, b, _ := bytes.Cut(f.body(most), []byte{0})
			if len(b) < 16 {
				return
			}
			c := scan.Chapter{
				Start: time.Duration(binary.BigEndian.Uint32(b)) * time.Millisecond,
				End:   time.Duration(binary.BigEndian.Uint32(b[4:])) * time.Millisecond,
			}
			sub := id3Body{w: &window{r: bytes.NewReader(b), end: int64(len(b))}, version: f.in.version}
			sub.each(16, int64(len(b)), func(f id3Frame) {
				if (f.name == "TIT2" || f.name == "TT2") && c.Title == nil && f.n <= maxField {
					c.Title = []byte(id3Text(f.body(maxField)))
				}
			})
			list, ids = append(list, c), append(ids, string(id))
		}
	})
	if len(named) == 0 {
		return list
	}
	var kept []scan.Chapter
	for i, c := range list {
		if named[ids[i]] {
			kept = append(kept, c)
		}
	}
	if kept == nil { // it names further tables
		return list
	}
	return kept
}

// vorbisChapters reads the comments CHAPTERxxx=h:mm:ss.sss and CHAPTERxxxNAME.
// ref: wiki.xiph.org, Chapter Extension.
func vorbisChapters(w *window, off int64) (list []scan.Chapter) {
	type chapter struct {
		at    time.Duration
		timed bool
		title []byte
	}
	found := map[int]chapter{}
	vorbisComments(w, off, func(key string, value func(int64) []byte) {
		digits, ok := strings.CutPrefix(key, "chapter")
		if !ok || len(found) >= scan.MaxChapters {
			return
		}
		digits, isName := strings.CutSuffix(digits, "name")
		n, err := strconv.Atoi(digits)
		if err != nil || n < 0 || digits[0] == '+' {
			return
		}
		c := found[n]
		if v := value(maxField); isName {
			c.title = v
		} else if at, ok := playTime(strings.TrimSpace(string(v))); ok {
			c.at, c.timed = at, true
		}
		found[n] = c
	})
	for _, n := range slices.Sorted(maps.Keys(found)) {
		if c := found[n]; c.timed {
			list = append(list, scan.Chapter{Start: c.at, Title: c.title})
		}
	}
	return list
}
