package media

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"longside/media/oneline"
)

// Limits of what a person can name. They are looked at while reading, so that a
// file that is no list costs neither memory nor time.
const (
	// MaxTracks is how many tracks are read at once: three times what can be planned.
	MaxTracks = 30_000
	// maxListBytes bounds a list: 400 for each track.
	maxListBytes = 12 << 20
	// maxLine bounds one of its lines, in bytes: more than any path and title take.
	maxLine = 256 << 10
	// maxPath bounds a path in a playlist: no system has a longer one.
	maxPath = 32 << 10
)

var errTooMany = fmt.Errorf("more than %d tracks: name a part of them", MaxTracks)

// lines reads a text line by line, whatever system ended its lines: with a line
// feed, with a carriage return, or with both. What begins with an order mark is
// UTF-16 or UTF-8 and comes as UTF-8; of all else the bytes stay as they are.
type lines struct {
	sc     *bufio.Scanner
	in     *bounded
	name   string // for errors
	marked bool   // it began with an order mark: it is UTF-8 by now
	n      int    // number of the line, from 1
}

func newLines(r io.Reader, name string) *lines {
	l := &lines{in: &bounded{r: r, left: maxListBytes}, name: name}
	var text io.Reader
	text, l.marked = textOf(l.in)
	l.sc = bufio.NewScanner(text)
	l.sc.Buffer(make([]byte, 4<<10), maxLine)
	l.sc.Split(splitLine)
	return l
}

// textOf gives a text that begins with an order mark as UTF-8, without the mark;
// any other as it is.
func textOf(r io.Reader) (text io.Reader, marked bool) {
	b := bufio.NewReaderSize(r, 64<<10)
	head, _ := b.Peek(3)
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Reader(b), true
	case bytes.Equal(head, []byte{0xEF, 0xBB, 0xBF}):
		b.Discard(3)
		return b, true
	}
	return b, false
}

// repair is a transformer to UTF-8 for a text whose character set is stated
// wrongly as often as not: what is UTF-8 stays, every other byte is of code page
// 1252 (see repairText).
type repair struct{ transform.NopResetter }

func (repair) Transform(to, from []byte, atEnd bool) (wrote, read int, err error) {
	for read < len(from) {
		r, n := utf8.DecodeRune(from[read:])
		if r == utf8.RuneError && n == 1 {
			if !atEnd && !utf8.FullRune(from[read:]) {
				return wrote, read, transform.ErrShortSrc
			}
			r = charmap.Windows1252.DecodeByte(from[read])
		}
		if wrote+utf8.UTFMax > len(to) {
			return wrote, read, transform.ErrShortDst
		}
		wrote += utf8.EncodeRune(to[wrote:], r)
		read += n
	}
	return wrote, read, nil
}

// next gives the next line, without its end, until it is done or err tells why not.
func (l *lines) next() (line []byte, ok bool) {
	if !l.sc.Scan() {
		return nil, false
	}
	l.n++
	return l.sc.Bytes(), true
}

// err is what ended the reading: nil at the end of the text.
func (l *lines) err() error {
	err := l.sc.Err()
	switch {
	case l.in.left < 0:
		return fmt.Errorf("%s: longer than %d MB: no list of tracks is", l.name, maxListBytes>>20)
	case errors.Is(err, bufio.ErrTooLong):
		return fmt.Errorf("%s:%d: a line longer than %d KB: no list of tracks has one", l.name, l.n+1, maxLine>>10)
	case err != nil:
		return fmt.Errorf("%s: %w", l.name, oneline.Error(err))
	}
	return nil
}

// isText tells whether a line is text; the error names the place.
func (l *lines) isText(line []byte) error {
	if bytes.IndexByte(line, 0) >= 0 {
		return fmt.Errorf("%s:%d: not a text file", l.name, l.n)
	}
	return nil
}

// splitLine is a bufio.SplitFunc for all three ends of a line.
func splitLine(b []byte, atEnd bool) (advance int, line []byte, err error) {
	i := bytes.IndexAny(b, "\r\n")
	switch {
	case i < 0 && atEnd && len(b) > 0:
		return len(b), b, nil
	case i < 0, b[i] == '\r' && i+1 == len(b) && !atEnd: // more is needed
		return 0, nil, nil
	case b[i] == '\r' && i+1 < len(b) && b[i+1] == '\n':
		return i + 2, b[:i], nil
	}
	return i + 1, b[:i], nil
}

// bounded reads so many bytes and no more; left is then below zero.
type bounded struct {
	r    io.Reader
	left int64
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left < 0 {
		return 0, io.EOF
	}
	n, err := b.r.Read(p[:min(int64(len(p)), b.left+1)])
	b.left -= int64(n)
	if b.left < 0 {
		return n - 1, io.EOF
	}
	return n, err
}
