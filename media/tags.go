package media

import (
	"bytes"
	"io"
	"math"
	"slices"
	"strconv"

	"github.com/dhowden/tag"

	"longside/media/scan"
)

// maxField is the largest text that is taken from a tag: a title is not longer,
// and a picture dressed as one stays out.
const maxField = 4 << 10

// tagOrder says whose word counts first where a file has several tags: the
// format's own, then the ones that players hang on.
var tagOrder = []scan.TagKind{
	scan.VorbisComment, scan.OggComment, scan.ItemList, scan.ID3v2, scan.APE, scan.RIFFInfo, scan.AIFFText, scan.ID3v1,
}

// readTags fills in what the file's tags say. A damaged tag says nothing: the
// sound is there all the same.
// parts tells that a tag speaks of parts of the file: see lookInside.
func readTags(r io.ReaderAt, info scan.Info, t *Track) (parts bool) {
	found := slices.Clone(info.Tags)
	slices.SortStableFunc(found, func(a, b scan.Tag) int {
		return slices.Index(tagOrder, a.Kind) - slices.Index(tagOrder, b.Kind)
	})
	for _, at := range found {
		parts = readTag(r, at, t) || parts
	}
	return parts
}

// readTag reads one tag into the fields that are still empty. dhowden/tag does
// the reading; it is handed a small tag made of the fields we want, in UTF-8,
// because on real files it takes whole pictures into memory, ends at text of odd
// length, mistakes dates and runs several values together.
func readTag(r io.ReaderAt, at scan.Tag, t *Track) (parts bool) {
	// It panics where a field has a type that it does not expect.
	defer func() { _ = recover() }()
	var m tag.Metadata
	var err error
	w := &window{r: r, end: at.Off + at.Size}
	switch at.Kind {
	case scan.ID3v2:
		m, err = tag.ReadID3v2Tags(bytes.NewReader(cleanID3v2(w, at.Off, &parts)))
	case scan.ID3v1:
		m, err = tag.ReadID3v1Tags(bytes.NewReader(lastOf(w, 128)))
	case scan.VorbisComment:
		m, err = tag.ReadFLACTags(bytes.NewReader(cleanVorbis(w, at.Off, &parts)))
	case scan.OggComment:
		b := scan.CommentPacket(r, math.MaxInt64, at.Off)
		m, err = tag.ReadFLACTags(bytes.NewReader(cleanVorbis(&window{r: bytes.NewReader(b), end: int64(len(b))}, 0, &parts)))
	case scan.ItemList:
		m, err = tag.ReadAtoms(bytes.NewReader(cleanItems(w, at.Off)))
	case scan.APE:
		readAPE(w, at.Off, t)
		return parts
	case scan.RIFFInfo:
		readRIFFInfo(w, at.Off, t)
		return parts
	case scan.AIFFText:
		readAIFFText(w, at.Off, t)
		return parts
	}
	if err != nil || m == nil {
		return parts
	}
	setText(&t.Title, m.Title())
	setText(&t.Artist, m.Artist())
	setText(&t.Album, m.Album())
	setText(&t.Genre, m.Genre())
	setNumber(&t.Year, m.Year())
	number, _ := m.Track()
	setNumber(&t.Number, number)
	disc, _ := m.Disc()
	setNumber(&t.Disc, disc)
	return parts
}

// setText fills a field that is empty.
func setText(field *string, value string) {
	if *field == "" {
		*field = clean(repairText([]byte(value)))
	}
}

func setNumber(field *int, value int) {
	if *field == 0 && value > 0 && value < 10000 {
		*field = value
	}
}

// leadingNumber reads the number that a text begins with: "3" of "3/12", the
// year of "2004-05-06". 0: none.
func leadingNumber(s string) int {
	n := 0
	for n < len(s) && n < 4 && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	v, _ := strconv.Atoi(s[:n])
	return v
}

// window reads a stretch of a file through a small buffer.
type window struct {
	r   io.ReaderAt
	end int64 // nothing is read from here on
	buf []byte
	off int64
}

// at gives n bytes from off, or nil where they are not all there.
func (w *window) at(off, n int64) []byte {
	if off < 0 || n < 0 || off > w.end-n {
		return nil
	}
	if rel := off - w.off; rel >= 0 && rel+n <= int64(len(w.buf)) {
		return w.buf[rel : rel+n]
	}
	w.buf = make([]byte, max(n, min(2<<10, w.end-off)))
	got, _ := w.r.ReadAt(w.buf, off)
	w.buf, w.off = w.buf[:got], off
	if int64(got) < n {
		return nil
	}
	return w.buf[:n]
}

func lastOf(w *window, n int64) []byte { return w.at(w.end-n, n) }
