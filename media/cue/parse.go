package cue

import (
	"fmt"
	"strconv"
	"strings"
)

const (
	// MaxBytes is the largest sheet that Parse takes: a hundred times a usual one.
	MaxBytes = 1 << 20
	// MaxTracks is the most tracks of a sheet: a disc has 99, a long mix may have more.
	MaxTracks = 999
	// maxMinutes bounds a time: a day and a half.
	maxMinutes = 2000
)

// Error is what is wrong with a sheet.
type Error struct {
	Line int // from 1
	Says string
}

func (e *Error) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Says) }

// parser is a sheet half read.
type parser struct {
	sheet Sheet
	line  int
	file  int // of sheet.Files; -1: none named yet
	last  []Time

	track *open // nil: none yet
	count int
}

// open is the track that the lines speak of.
type open struct {
	Track
	audio   bool
	file    int // where its INDEX 01 is; -1: not given yet
	pauseIn int // the file of its INDEX 00; -1: not given
	pause   Time
	indexed bool // it has some INDEX
	named   int  // the file in which TRACK stands
}

// Parse reads a sheet of UTF-8 text, whatever its line ends. The error is an
// *Error: a time that is none or out of order, a track without a beginning.
func Parse(text string) (Sheet, error) {
	p := parser{file: -1}
	if len(text) > MaxBytes {
		return Sheet{}, &Error{1, fmt.Sprintf("longer than %d kB: a cue sheet is a short text", MaxBytes>>10)}
	}
	text = strings.TrimPrefix(text, "\uFEFF")
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text)
	for line := range strings.SplitSeq(text, "\n") {
		p.line++
		if strings.IndexByte(line, 0) >= 0 {
			return Sheet{}, p.error("not a text file")
		}
		if err := p.command(strings.TrimSpace(line)); err != nil {
			return Sheet{}, err
		}
	}
	if err := p.closeTrack(); err != nil {
		return Sheet{}, err
	}
	if p.count == 0 {
		p.line = 1
		return Sheet{}, p.error("no track of sound in this cue sheet")
	}
	files := p.sheet.Files[:0]
	for _, f := range p.sheet.Files {
		if len(f.Tracks) > 0 {
			files = append(files, f)
		}
	}
	p.sheet.Files = files
	return p.sheet, nil
}

func (p *parser) error(format string, a ...any) error {
	return &Error{p.line, fmt.Sprintf(format, a...)}
}

func (p *parser) command(line string) error {
	word, rest := cutWord(line)
	switch strings.ToUpper(word) {
	case "FILE":
		return p.newFile(rest)
	case "TRACK":
		return p.newTrack(rest)
	case "INDEX":
		return p.index(rest)
	case "TITLE":
		if p.track != nil {
			p.track.Title = text(rest)
		} else {
			p.sheet.Title = text(rest)
		}
	case "PERFORMER":
		if p.track != nil {
			p.track.Performer = text(rest)
		} else {
			p.sheet.Performer = text(rest)
		}
	case "REM":
		p.remark(rest)
	}
	return nil
}

func (p *parser) remark(rest string) {
	if p.track != nil {
		return
	}
	word, rest := cutWord(rest)
	switch strings.ToUpper(word) {
	case "GENRE":
		p.sheet.Genre = text(rest)
	case "DATE":
		p.sheet.Year = leading(text(rest))
	case "DISCNUMBER":
		p.sheet.Disc = leading(text(rest))
	}
}

// newFile reads FILE name type. A file that is named again goes on.
func (p *parser) newFile(rest string) error {
	name, kind := rest, ""
	if strings.HasPrefix(rest, `"`) {
		end := strings.LastIndexByte(rest, '"')
		if end == 0 {
			return p.error("a quotation mark is not closed")
		}
		name, kind = rest[1:end], rest[end+1:]
	} else if i := strings.LastIndexAny(rest, " \t"); i >= 0 {
		name, kind = rest[:i], rest[i:]
	}
	name, kind = strings.TrimSpace(name), strings.ToUpper(strings.TrimSpace(kind))
	if strings.ContainsFunc(kind, func(r rune) bool { return (r < 'A' || r > 'Z') && (r < '0' || r > '9') }) {
		kind = ""
	}
	if name == "" {
		return p.error("FILE names no file")
	}
	for i, f := range p.sheet.Files {
		if f.Name == name {
			p.file = i
			return nil
		}
	}
	if len(p.sheet.Files) > MaxTracks {
		return p.error("more than %d files", MaxTracks)
	}
	p.sheet.Files = append(p.sheet.Files, File{Name: name, Type: kind, Line: p.line})
	p.last = append(p.last, -1)
	p.file = len(p.sheet.Files) - 1
	return nil
}

func (p *parser) newTrack(rest string) error {
	if err := p.closeTrack(); err != nil {
		return err
	}
	number, kind := cutWord(rest)
	n, err := strconv.Atoi(number)
	if err != nil || n < 0 || n > MaxTracks {
		return p.error("TRACK %q is no number of a track", clip(number))
	}
	if p.file < 0 {
		return p.error("TRACK %s stands before any FILE", number)
	}
	if p.count == MaxTracks {
		return p.error("more than %d tracks", MaxTracks)
	}
	kind = strings.ToUpper(strings.TrimSpace(kind))
	p.track = &open{Track: Track{Number: n, Line: p.line}, audio: kind == "AUDIO" || kind == "", file: -1, pauseIn: -1, named: p.file}
	return nil
}

// index reads INDEX nn mm:ss:ff.
func (p *parser) index(rest string) error {
	number, at := cutWord(rest)
	n, err := strconv.Atoi(number)
	if err != nil || n < 0 || n > 99 {
		return p.error("INDEX %q is no number from 00 to 99", clip(number))
	}
	t, ok := parseTime(at)
	switch {
	case !ok:
		return p.error("INDEX %s at %q: write mm:ss:ff, seconds below 60 and frames below 75", number, clip(at))
	case p.track == nil:
		return p.error("INDEX stands before any TRACK")
	case !p.track.audio:
		return nil
	case t < p.last[p.file]:
		return p.error("INDEX %s at %s comes before the INDEX above it, at %s", number, t, p.last[p.file])
	}
	x := p.track
	x.indexed = true
	switch {
	case n == 0:
		x.pauseIn, x.pause = p.file, t
	case x.file < 0: // 01 as a rule
		if n != 1 {
			return p.error("INDEX %s of TRACK %02d stands before its INDEX 01", number, x.Number)
		}
		f := p.sheet.Files[p.file]
		if k := len(f.Tracks); k > 0 && f.Tracks[k-1].Start >= t {
			return p.error("TRACK %02d begins at %s, no later than the track above it", x.Number, t)
		}
		x.file, x.Start = p.file, t
		if x.pauseIn == p.file {
			x.Pause = t - x.pause
		}
		p.add(x)
	}
	p.last[p.file] = t
	return nil
}

// add puts a track into its file as soon as its beginning is known; its texts,
// which may come later, are put there by closeTrack.
func (p *parser) add(x *open) {
	f := &p.sheet.Files[x.file]
	f.Tracks = append(f.Tracks, x.Track)
	p.count++
}

// closeTrack settles the track that is open.
func (p *parser) closeTrack() error {
	x := p.track
	if x == nil || !x.audio {
		return nil
	}
	if x.file < 0 {
		f := &p.sheet.Files[x.named]
		// A file of one track may go without a time.
		if x.indexed || len(f.Tracks) > 0 {
			return &Error{x.Line, fmt.Sprintf("TRACK %02d has no INDEX 01: nothing says where it begins", x.Number)}
		}
		x.file = x.named
		p.last[x.named] = 0
		p.add(x)
	}
	f := &p.sheet.Files[x.file]
	f.Tracks[len(f.Tracks)-1] = x.Track
	return nil
}

// parseTime reads mm:ss:ff.
func parseTime(s string) (Time, bool) {
	parts := strings.Split(strings.TrimSpace(s), ":")
	if len(parts) != 3 {
		return 0, false
	}
	var v [3]int
	for i, most := range [3]int{maxMinutes, 59, FramesPerSecond - 1} {
		n, err := strconv.Atoi(parts[i])
		if err != nil || n < 0 || n > most || parts[i][0] == '+' {
			return 0, false
		}
		v[i] = n
	}
	return Time((v[0]*60+v[1])*FramesPerSecond + v[2]), true
}

// cutWord cuts a line behind its first word.
func cutWord(s string) (word, rest string) {
	i := strings.IndexAny(s, " \t")
	if i < 0 {
		return s, ""
	}
	return s[:i], strings.TrimSpace(s[i:])
}

// text takes the quotation marks off.
func text(s string) string {
	if len(s) >= 2 && s[0] == '"' && s[len(s)-1] == '"' {
		s = s[1 : len(s)-1]
	}
	return strings.TrimSpace(s)
}

// leading is the number that a text begins with; 0: none.
func leading(s string) int {
	n := 0
	for n < len(s) && n < 4 && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	v, _ := strconv.Atoi(s[:n])
	return v
}

// clip keeps an error to one short line.
func clip(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}
