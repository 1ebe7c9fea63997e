package paper

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"sync"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/shaping"
)

// Weight picks the upright or the bold face.
type Weight uint8

// The two weights.
const (
	Regular Weight = iota
	Bold
)

// face is one font with a number of its own. What it keeps is guarded by the
// lock of its Fonts: lines that were shaped earlier ask it for their shapes.
type face struct {
	*font.Face
	lock   *sync.Mutex
	number int
	scale  float64 // font units to thousandths of an em
	glyphs map[font.GID]Path
	mixed  map[string]Path // shapes of several glyphs, by their parts
}

// part is a glyph of a mixed shape and where it stands, thousandths of an em.
type part struct {
	id   font.GID
	x, y float64
}

// mix makes one shape of several and gives its key. The caller holds the lock.
func (fc *face) mix(parts []part) string {
	key := fmt.Sprint(parts)
	if _, ok := fc.mixed[key]; !ok {
		var p Path
		for _, g := range parts {
			m := identity
			m.e, m.f = g.x, g.y
			p.segs = append(p.segs, fc.outline(g.id).mapped(m).segs...)
		}
		fc.mixed[key] = p
	}
	return key
}

// Fonts shapes text. It holds a regular and a bold face and any number of
// further faces, asked in turn for what the first does not hold. It keeps what
// it has shaped, so many cards with one Fonts are cheap. Any number of drawings
// may be made with one Fonts at once, and what it gives for a text does not
// depend on what it was asked before.
type Fonts struct {
	// Find, when set, is asked once for each rune that no face of a weight holds.
	// It offers fonts, best first, each as a file's bytes and a place in it, until
	// one is taken: one that holds the rune as an outline, so that it can be printed.
	// It is called by one goroutine at a time and must not use the Fonts. Set it
	// before the first drawing.
	Find func(r rune, w Weight, lang string, offer func(data []byte, index int) (taken bool))

	mu     sync.Mutex
	faces  [2][]*face // by weight, in the order in which they are asked
	all    int        // faces that were read
	shaper shaping.HarfbuzzShaper
	lang   language.Language
	lines  map[lineKey]Line
	breaks map[string]breaks
	found  [2]map[rune]*face // what Find gave for a rune; nil: nothing
	files  map[fileKey]*face // faces that Find offered, so that none is read twice
}

// maxLines bounds what is kept of shaped lines: a hundred cards come to some
// 10,000. A program that runs for days lets go of all and begins again.
const maxLines = 50000

type lineKey struct {
	text   string
	weight Weight
	levels string // by which the bidirectional algorithm set it; empty: its own
}

// fileKey is a face in a file's bytes.
type fileKey struct {
	data  *byte
	index int
}

// NewFonts reads a regular and a bold face from the bytes of two font files
// (OpenType, TrueType or a collection, of which the first face is taken).
func NewFonts(regular, bold []byte) (*Fonts, error) {
	f := &Fonts{}
	f.forget()
	for w, data := range [][]byte{regular, bold} {
		fc, err := f.read(data, 0)
		if err != nil {
			return nil, err
		}
		f.faces[w] = append(f.faces[w], fc)
	}
	return f, nil
}

// Add appends a face for what the faces before it do not hold, in both weights:
// the one at index (from 0) of a collection.
func (f *Fonts) Add(data []byte, index int) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	fc, err := f.read(data, index)
	if err != nil {
		return err
	}
	for w := range f.faces {
		f.faces[w] = append(f.faces[w], fc)
	}
	f.forget()
	return nil
}

// forget lets go of what was shaped and found.
func (f *Fonts) forget() {
	f.lines = map[lineKey]Line{}
	f.breaks = map[string]breaks{}
	f.found = [2]map[rune]*face{{}, {}}
	f.files = map[fileKey]*face{}
}

// SetLanguage says which language titles are in (a BCP 47 tag such as "ja"), for
// letters whose shape differs by language. Faces are chosen by whoever hands them in.
func (f *Fonts) SetLanguage(tag string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.lang = language.NewLanguage(tag)
	f.forget()
}

func (f *Fonts) read(data []byte, index int) (fc *face, err error) {
	defer func() { // a damaged font must not end the program
		if r := recover(); r != nil {
			fc, err = nil, errors.New("the font is damaged; use another file")
		}
	}()
	if bytes.HasPrefix(data, []byte("wOF")) {
		return nil, errors.New("a font for web pages; use the same font as .ttf or .otf")
	}
	loaders, err := opentype.NewLoaders(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("not an OpenType or TrueType font; use a .ttf, .otf or .ttc file")
	}
	if !tablesWithin(data) {
		return nil, errors.New("the font is damaged or cut off; use another file")
	}
	if index < 0 || index >= len(loaders) {
		return nil, fmt.Errorf("no face %d in the font file, which holds %d; count from 0", index, len(loaders))
	}
	ft, err := font.NewFont(loaders[index])
	if err != nil {
		return nil, fmt.Errorf("the font cannot be used: %w; use another file", err)
	}
	f.all++
	fc = &face{Face: font.NewFace(ft), lock: &f.mu, number: f.all, scale: 1000 / float64(max(ft.Upem(), 1)), glyphs: map[font.GID]Path{}, mixed: map[string]Path{}}
	return fc, nil
}

// tablesWithin tells whether every table of a font file, or of each font of a
// collection, lies in the file. The loader takes the stated lengths on trust and
// would set aside as much memory as they claim.
func tablesWithin(data []byte) bool {
	u32 := func(at uint64) uint64 {
		if at+4 > uint64(len(data)) {
			return uint64(len(data)) + 1
		}
		return uint64(binary.BigEndian.Uint32(data[at:]))
	}
	fonts := []uint64{0}
	if len(data) >= 12 && string(data[:4]) == "ttcf" {
		// TTC header: tag, version, number of fonts, then where each begins.
		n := u32(8)
		if n*4 > uint64(len(data)) {
			return false
		}
		fonts = fonts[:0]
		for i := range n {
			fonts = append(fonts, u32(12+4*i))
		}
	}
	for _, at := range fonts {
		// Table directory: version, number of tables, three fields for searching,
		// then for each table tag, checksum, offset, length.
		n := u32(at+4) >> 16
		for i := range n {
			if offset, length := u32(at+12+16*i+8), u32(at+12+16*i+12); offset+length > uint64(len(data)) {
				return false
			}
		}
	}
	return true
}

// pick finds the face for a rune of a text; ok is false when none holds it. used
// are the faces that Find gave for the text so far: they go before others, so
// that a text is set in few of them.
func (f *Fonts) pick(r rune, w Weight, used *[]*face) (fc *face, ok bool) {
	for _, faces := range [][]*face{f.faces[w], *used} {
		for _, fc := range faces {
			if _, ok := fc.NominalGlyph(r); ok {
				return fc, true
			}
		}
	}
	fc, asked := f.found[w][r]
	if !asked && f.Find != nil {
		f.Find(r, w, string(f.lang), func(data []byte, index int) bool {
			c := f.offered(data, index)
			if c == nil {
				return false
			}
			id, held := c.NominalGlyph(r)
			if !held || len(c.outline(id).segs) == 0 {
				return false
			}
			fc = c
			return true
		})
		f.found[w][r] = fc
	}
	if fc == nil {
		return f.faces[w][0], false
	}
	if !slices.Contains(*used, fc) {
		*used = append(*used, fc)
	}
	return fc, true
}

// offered is a face that Find offers, nil where it cannot be used.
func (f *Fonts) offered(data []byte, index int) *face {
	if len(data) == 0 {
		return nil
	}
	key := fileKey{&data[0], index}
	fc, ok := f.files[key]
	if !ok {
		fc, _ = f.read(data, index) // an error leaves nil
		f.files[key] = fc
	}
	return fc
}

// outline is a glyph's shape in thousandths of an em, y up. The caller holds the lock.
func (fc *face) outline(id font.GID) Path {
	if id == font.EmptyGlyph {
		return Path{}
	}
	if p, ok := fc.glyphs[id]; ok {
		return p
	}
	p := fc.trace(id)
	fc.glyphs[id] = p
	return p
}

// advance is how far a glyph moves the pen without kerning, thousandths of an em.
func (fc *face) advance(id font.GID) float64 {
	fc.lock.Lock()
	defer fc.lock.Unlock()
	return float64(fc.HorizontalAdvance(id)) * fc.scale
}

func (fc *face) trace(id font.GID) (p Path) {
	defer func() { // a damaged glyph prints as nothing
		if recover() != nil {
			p = Path{}
		}
	}()
	var segs []opentype.Segment
	switch g := fc.GlyphData(id).(type) {
	case font.GlyphOutline:
		segs = g.Segments
	case font.GlyphSVG:
		segs = g.Outline.Segments
	case font.GlyphBitmap:
		if g.Outline != nil {
			segs = g.Outline.Segments
		}
	case font.GlyphColor:
		if o, ok := fc.GlyphDataOutline(id); ok {
			segs = o.Segments
		}
	}
	k := fc.scale
	var x, y float64
	open := false
	for _, s := range segs {
		a := func(i int) (float64, float64) { return float64(s.Args[i].X) * k, float64(s.Args[i].Y) * k }
		x1, y1 := a(0)
		switch s.Op {
		case opentype.SegmentOpMoveTo:
			if open {
				p.Close()
			}
			p.Move(x1, y1)
			x, y, open = x1, y1, true
		case opentype.SegmentOpLineTo:
			p.Line(x1, y1)
			x, y = x1, y1
		case opentype.SegmentOpQuadTo: // a quadratic curve is a cubic one
			x2, y2 := a(1)
			p.Curve(x+2.0/3*(x1-x), y+2.0/3*(y1-y), x2+2.0/3*(x1-x2), y2+2.0/3*(y1-y2), x2, y2)
			x, y = x2, y2
		case opentype.SegmentOpCubeTo:
			x2, y2 := a(1)
			x3, y3 := a(2)
			p.Curve(x1, y1, x2, y2, x3, y3)
			x, y = x3, y3
		}
	}
	if open {
		p.Close()
	}
	return p
}
