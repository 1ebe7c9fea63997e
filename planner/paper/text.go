package paper

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"longside/media/oneline"

	"github.com/go-text/typesetting/di"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/segmenter"
	"github.com/go-text/typesetting/shaping"
	"golang.org/x/image/math/fixed"
)

// glyph is one shape of a line, at (x, y) thousandths of an em from the line's
// start, y up. text is what it stands for; a ligature stands for several letters.
type glyph struct {
	face    *face
	id      font.GID
	marks   string // key of what is drawn with it, see face.mix; empty: nothing
	x, y    float64
	advance float64
	text    string
}

// outline is the shape in thousandths of an em, marks included.
func (g glyph) outline() Path {
	g.face.lock.Lock()
	defer g.face.lock.Unlock()
	if g.marks != "" {
		return g.face.mixed[g.marks]
	}
	return g.face.outline(g.id)
}

// Line is text made ready to print: glyphs from left to right. It has no size;
// one line prints at any.
type Line struct {
	glyphs  []glyph
	width   float64 // thousandths of an em
	text    string
	missing []rune
	// ends are where each rune ends, in thousandths of an em from the start; nil
	// when some of the text runs from right to left.
	ends []float64
	rtl  bool // the text it is of runs from right to left as a whole
}

// RightToLeft tells whether the text that the line is of runs from right to left
// as a whole, by its first strong letter: its lines then begin at the right.
func (l Line) RightToLeft() bool { return l.rtl }

// Width is how wide the line prints at a type size in points, in mm.
func (l Line) Width(points float64) float64 { return l.width / 1000 * points * MMPerPoint }

// Text is the text of the line as it prints, an ellipsis included.
func (l Line) Text() string { return l.text }

// Missing are the letters that no face holds, each once, in order; they print as boxes.
func (l Line) Missing() []rune { return l.missing }

// maxRunes is where Clean cuts: longer than anything that is printed, short
// enough that shaping stays quick.
const maxRunes = 600

// Clean makes a text safe to set on one line (see oneline.Text), with an
// ellipsis in the place of the 600th character when it is longer.
func Clean(s string) string { return oneline.Cut(oneline.Text(s), maxRunes) }

// Line shapes a text, cleaned first. Its base direction is that of its first
// strong letter, so set a title and an artist as two lines.
func (f *Fonts) Line(text string, w Weight) Line {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.line(text, w)
}

// line is Line for who holds the lock.
func (f *Fonts) line(text string, w Weight) Line {
	return f.keep(lineKey{text: text, weight: w}, func() Line {
		runes := []rune(Clean(text))
		lv, base := levels(runes)
		return f.shape(runes, lv, base, w)
	})
}

// keep gives a line that was shaped before, or shapes it.
func (f *Fonts) keep(key lineKey, shape func() Line) Line {
	if l, ok := f.lines[key]; ok {
		return l
	}
	l := shape()
	if len(f.lines) >= maxLines {
		clear(f.lines)
	}
	f.lines[key] = l
	return l
}

// ignorable tells runes that print nothing of themselves and so need no face.
func ignorable(r rune) bool {
	return unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) || unicode.Is(unicode.Variation_Selector, r) ||
		r == 0x200B || r == 0x200C || r == 0x200D || r == 0x2060 || r == 0xAD
}

// shape sets clean text as one line, by the levels of the bidirectional
// algorithm: those of the text that the line is of.
func (f *Fonts) shape(runes []rune, lv []uint8, base uint8, w Weight) (line Line) {
	line.text, line.rtl = string(runes), base == 1
	if len(runes) == 0 {
		return line
	}
	defer func() { // a font that misleads the shaper costs its text, not the program
		if recover() != nil {
			line.glyphs, line.width, line.missing = nil, 0, runes
		}
	}()
	faces := make([]*face, len(runes))
	scripts := make([]language.Script, len(runes))
	var used []*face
	cur, script := f.faces[w][0], language.Common
	for i, r := range runes {
		joins := unicode.In(r, unicode.Mn, unicode.Me, unicode.Mc) || ignorable(r)
		if _, held := cur.NominalGlyph(r); !joins || !held {
			fc, ok := f.pick(r, w, &used)
			switch {
			case ok:
				if !joins {
					cur = fc
				} else {
					faces[i] = fc
				}
			case ignorable(r):
			default:
				if !contains(line.missing, r) {
					line.missing = append(line.missing, r)
				}
			}
		}
		if faces[i] == nil {
			faces[i] = cur
		}
		if s := language.LookupScript(r); s != language.Common && s != language.Inherited && s != language.Unknown {
			script = s
		}
		scripts[i] = script
	}
	for i := len(runes) - 2; i >= 0; i-- { // what stands before the first letter belongs to it
		if scripts[i] == language.Common {
			scripts[i] = scripts[i+1]
		}
	}
	ltr := base == 0
	for _, l := range lv {
		ltr = ltr && l == 0
	}
	if ltr {
		line.ends = make([]float64, len(runes))
	}
	x := 0.0
	for _, s := range visual(lv) {
		// Within a stretch of one level, runs of one face and script; those of a
		// right-to-left stretch stand in turn from the right.
		var parts []span
		for i := s.start; i < s.end; {
			j := i
			for j < s.end && faces[j] == faces[i] && scripts[j] == scripts[i] {
				j++
			}
			parts = append(parts, span{i, j, s.level})
			i = j
		}
		if s.level%2 == 1 {
			for a, b := 0, len(parts)-1; a < b; a, b = a+1, b-1 {
				parts[a], parts[b] = parts[b], parts[a]
			}
		}
		for _, p := range parts {
			in := shaping.Input{
				Text: runes, RunStart: p.start, RunEnd: p.end,
				Face: faces[p.start].Face, Size: fixed.I(1000), Script: scripts[p.start], Language: f.lang,
				Direction: di.DirectionLTR,
			}
			if p.level%2 == 1 {
				in.Direction = di.DirectionRTL
			}
			out := f.shaper.ShapeNoExtents(in)
			line.glyphs = append(line.glyphs, place(out.Glyphs, runes, faces[p.start], x, p.level%2 == 1)...)
			for _, g := range out.Glyphs {
				x += float64(g.Advance) / 64
				if ltr { // the letters of a ligature end together
					for i := range max(g.RunesCount(), 1) {
						if n := g.TextIndex() + i; n < len(runes) {
							line.ends[n] = x
						}
					}
				}
			}
		}
	}
	line.width = x
	return line
}

// place turns a shaped run into glyphs and shares out the text of each cluster.
//
// A cluster of several glyphs, as a letter with its marks, becomes one shape, so
// that whoever reads the text finds nothing off the line. One that runs from right
// to left is given letter by letter, each with its share of the width, the ink
// with the first: readers turn such text round by the places of the letters, and
// some would turn those of a ligature the wrong way.
func place(gs []shaping.Glyph, runes []rune, fc *face, x float64, rtl bool) []glyph {
	out := make([]glyph, 0, len(gs))
	for i := 0; i < len(gs); {
		j := i
		for j < len(gs) && gs[j].TextIndex() == gs[i].TextIndex() {
			j++
		}
		start := gs[i].TextIndex()
		src := runes[start:min(start+max(gs[i].RunesCount(), 1), len(runes))]
		cluster := gs[i:j]
		main, width := 0, 0.0
		for k, g := range cluster {
			if g.Advance > cluster[main].Advance {
				main = k
			}
			width += float64(g.Advance) / 64
		}
		lead := glyph{face: fc, id: cluster[main].GlyphID, advance: width, text: string(src)}
		at := x
		var parts []part
		for k, g := range cluster {
			p := part{g.GlyphID, at + float64(g.XOffset)/64, float64(g.YOffset) / 64}
			if k == main {
				lead.x, lead.y = p.x, p.y
			}
			parts = append(parts, p)
			at += float64(g.Advance) / 64
		}
		for k := range parts {
			parts[k].x -= lead.x
			parts[k].y -= lead.y
		}
		if len(parts) > 1 {
			lead.marks = fc.mix(parts)
		}
		if n := len(src); rtl && n > 1 {
			share := width / float64(n)
			for k := n - 1; k > 0; k-- { // what is read last stands leftmost
				out = append(out, glyph{face: fc, id: font.EmptyGlyph, x: x + share*float64(n-1-k), advance: share, text: string(src[k])})
			}
			for k := range parts {
				parts[k].x += lead.x - x - share*float64(n-1)
				parts[k].y += lead.y
			}
			lead.marks, lead.text = fc.mix(parts), string(src[:1])
			lead.x, lead.y, lead.advance = x+share*float64(n-1), 0, share
		}
		out = append(out, lead)
		x += width
		i = j
	}
	return out
}

func contains(rs []rune, r rune) bool {
	for _, x := range rs {
		if x == r {
			return true
		}
	}
	return false
}

// Fit shapes a text onto one line no wider than width mm at a size in points;
// what does not fit gives way to an ellipsis, and cut is true.
func (f *Fonts) Fit(text string, w Weight, points, width float64) (l Line, cut bool) {
	lines, cut := f.Wrap(text, w, points, width, 1)
	if len(lines) == 0 {
		return Line{}, cut
	}
	return lines[0], cut
}

// Wrap shapes a text onto at most most lines no wider than width mm, broken
// where UAX #14 allows, or between characters where a word is wider than a
// line. What does not fit gives way to an ellipsis that stands where the reading
// ends, after a whole word where that keeps most of the line, and cut is true;
// nothing but an ellipsis is ever wider than the line. All lines have the
// direction of the whole text (UAX #9, 3.4).
func (f *Fonts) Wrap(text string, w Weight, points, width float64, most int) (lines []Line, cut bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	whole := f.line(text, w)
	if whole.text == "" {
		return nil, false
	}
	if whole.Width(points) <= width {
		return []Line{whole}, false
	}
	p := &paragraph{f: f, runes: []rune(whole.text), whole: whole, w: w, points: points, width: width}
	p.levels, p.base = levels(p.runes)
	p.ends = f.breaksOf(whole.text, p.runes)
	for len(lines) < most && p.at < len(p.runes) {
		if p.fits(len(p.runes), 0) {
			if l := p.line(len(p.runes), ""); l.Width(points) <= width {
				return append(lines, l), false
			}
		}
		if len(lines) == most-1 {
			return append(lines, p.ellipsis()), true
		}
		n := p.breakAt()
		l := p.line(n, "")
		if l.Width(points) > width { // a single character wider than the line
			return append(lines, p.ellipsis()), true
		}
		lines = append(lines, l)
		for n < len(p.runes) && p.runes[n] == ' ' {
			n++
		}
		p.at = n
	}
	return lines, false
}

// paragraph is a text while it is broken into lines; it is set up to at.
type paragraph struct {
	f             *Fonts
	runes         []rune
	levels        []uint8
	base          uint8
	ends          breaks
	whole         Line
	w             Weight
	points, width float64
	at            int
}

// line shapes the runes from at up to n, without blanks at the end, and a tail
// behind them.
func (p *paragraph) line(n int, tail string) Line {
	runes := p.runes[p.at:n]
	drop := " "
	if tail != "" {
		drop = " ,;:.-–—("
	}
	for len(runes) > 0 && strings.ContainsRune(drop, runes[len(runes)-1]) {
		runes = runes[:len(runes)-1]
	}
	lv := slices.Clone(p.levels[p.at : p.at+len(runes)])
	// The tail stands where the reading ends: in the direction of the text that it
	// breaks off, or of the line when the two sides of the cut differ.
	tailLevel := p.base
	if len(lv) > 0 {
		tailLevel = lv[len(lv)-1]
	}
	for _, l := range p.levels[n:min(n+1, len(p.levels))] {
		tailLevel = min(tailLevel, l)
	}
	runes = append(slices.Clone(runes), []rune(tail)...)
	if p.whole.ends != nil { // all from left to right: as any other line of these letters
		return p.f.line(string(runes), p.w)
	}
	for range utf8.RuneCountInString(tail) {
		lv = append(lv, tailLevel)
	}
	return p.f.keep(lineKey{string(runes), p.w, string(append(lv, p.base))}, func() Line {
		return p.f.shape(runes, lv, p.base, p.w)
	})
}

// fits tells whether the runes from at up to n, and more mm, fit on a line.
// For text from left to right it reads that off the whole text, shaped once;
// kerning across the break can make the line itself a hair wider.
func (p *paragraph) fits(n int, more float64) bool {
	for n > p.at && p.runes[n-1] == ' ' {
		n--
	}
	if p.whole.ends == nil {
		return p.line(n, "").Width(p.points)+more <= p.width
	}
	start := 0.0
	if p.at > 0 {
		start = p.whole.ends[p.at-1]
	}
	end := start
	if n > p.at {
		end = p.whole.ends[n-1]
	}
	return Line{width: end - start}.Width(p.points)+more <= p.width
}

// words are the places from at on where a line may end, while more mm fit behind.
func (p *paragraph) words(more float64) []int {
	ends := after(p.ends.lines, p.at)
	return ends[:search(len(ends), func(i int) bool { return p.fits(ends[i], more) })+1]
}

// letters are the places behind each character from at on.
func (p *paragraph) letters() []int { return after(p.ends.letters, p.at) }

// after is the part of an ascending list above at.
func after(list []int, at int) []int {
	i, _ := slices.BinarySearch(list, at+1)
	return list[i:]
}

// breakAt is where the next line ends: at the last break that fits, or after as
// many characters as fit, one at the least.
func (p *paragraph) breakAt() int {
	real := func(n int) bool { return p.line(n, "").Width(p.points) <= p.width }
	ends := p.words(0)
	for i := len(ends) - 1; i >= 0; i-- {
		if real(ends[i]) {
			return ends[i]
		}
	}
	ends = p.letters()
	i := max(search(len(ends), func(i int) bool { return p.fits(ends[i], 0) }), 0)
	for i > 0 && !real(ends[i]) {
		i--
	}
	return ends[i]
}

// wordKeeps is how much of a line's width the whole words must keep for the
// ellipsis to stand behind them and not within the next: common practice, no
// source. Text from right to left, whose letters join, is cut at words alone.
const wordKeeps = 0.6

// ellipsis is as much of the rest as fits on a line with an ellipsis behind it.
func (p *paragraph) ellipsis() Line {
	dots := p.f.line("…", p.w)
	room := dots.Width(p.points)
	words := p.words(room)
	for i := len(words) - 1; i >= 0; i-- {
		l := p.line(words[i], "…")
		if w := l.Width(p.points); w <= p.width && (w >= wordKeeps*p.width || p.levels[words[i]-1]%2 == 1) {
			return l
		}
	}
	ends := p.letters()
	i := search(len(ends), func(i int) bool { return p.fits(ends[i], room) })
	for ; i >= 0; i-- {
		if l := p.line(ends[i], "…"); l.Width(p.points) <= p.width {
			return l
		}
	}
	return dots
}

// breaks are the places in a text, as runes from its start, where a line may end
// (UAX #14) and where a character as a reader counts them ends (UAX #29).
type breaks struct{ lines, letters []int }

// breaksOf finds the breaks of a text, or gives those found before.
func (f *Fonts) breaksOf(text string, runes []rune) breaks {
	if b, ok := f.breaks[text]; ok {
		return b
	}
	var b breaks
	var seg segmenter.Segmenter
	seg.Init(runes)
	for it := seg.LineIterator(); it.Next(); {
		l := it.Line()
		b.lines = append(b.lines, l.Offset+len(l.Text))
	}
	for it := seg.GraphemeIterator(); it.Next(); {
		g := it.Grapheme()
		b.letters = append(b.letters, g.Offset+len(g.Text))
	}
	if len(f.breaks) >= maxLines {
		clear(f.breaks)
	}
	f.breaks[text] = b
	return b
}

// search is the last index below n for which ok holds, -1 for none; ok holds up
// to some index and not after it.
func search(n int, ok func(int) bool) int {
	lo, hi := -1, n
	for lo+1 < hi {
		if m := (lo + hi) / 2; ok(m) {
			lo = m
		} else {
			hi = m
		}
	}
	return lo
}
