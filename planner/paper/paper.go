// Package paper is the drawing kit for printed matter: pages in millimetres,
// shaped text in every script, and one drawing written as PDF, SVG or PNG.
//
// Draw on a Page (or on a Drawing to be placed on one), with the origin at the
// top left and y running down; hand the pages to a Document; ask it for bytes.
// Text is shaped by Fonts, which holds the faces that the caller read from
// wherever they lie: nothing here opens a file, knows the time or keeps a
// global, so the same drawing gives the same bytes on each run.
//
// The package also holds the pictures of the trade that need no plan to draw:
// Pack, the wound tape seen from the side, and Strip, a side laid out straight.
package paper

import "math"

// MMPerPoint is the length of a typographic point, 1/72 inch (ISO 32000-1, 8.3.2.3).
const MMPerPoint = 25.4 / 72

// Colour is a colour of the sRGB space. The zero value paints nothing.
type Colour struct {
	R, G, B uint8
	on      bool
}

// RGB makes a colour from its three parts, 0 to 255.
func RGB(r, g, b uint8) Colour { return Colour{r, g, b, true} }

// Black and White are ink and bare paper.
var (
	Black = RGB(0, 0, 0)
	White = RGB(255, 255, 255)
)

// Mix is the colour a part t (0 to 1) of the way from c to d.
func (c Colour) Mix(d Colour, t float64) Colour {
	m := func(a, b uint8) uint8 { return uint8(math.Round(float64(a) + (float64(b)-float64(a))*t)) }
	return RGB(m(c.R, d.R), m(c.G, d.G), m(c.B, d.B))
}

// Contrast is the contrast ratio of two colours, 1 to 21, by WCAG 2.1
// (relative luminance; success criterion 1.4.3 asks for 4.5 for text).
func (c Colour) Contrast(d Colour) float64 {
	a, b := c.luminance(), d.luminance()
	return (max(a, b) + 0.05) / (min(a, b) + 0.05)
}

func (c Colour) luminance() float64 {
	lin := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.03928 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
}

// Style is how a path is painted: filled, stroked or both.
type Style struct {
	Fill, Stroke Colour
	Width        float64   // of the stroke, mm
	Dash         []float64 // lengths of marks and spaces by turns, mm; nil: a whole line
}

// Fill is a style that fills with c; Stroke one that draws a line of w mm.
func Fill(c Colour) Style { return Style{Fill: c} }

// Stroke is a style that draws a line of w mm in c.
func Stroke(c Colour, w float64) Style { return Style{Stroke: c, Width: w} }

// Dashed is s with its stroke broken into marks and spaces of the lengths given, mm.
func (s Style) Dashed(lengths ...float64) Style {
	s.Dash = lengths
	return s
}

// matrix maps (x, y) to (a x + c y + e, b x + d y + f).
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

func (m matrix) apply(x, y float64) (float64, float64) {
	return m.a*x + m.c*y + m.e, m.b*x + m.d*y + m.f
}

// then is the map that does m first and n after it.
func (m matrix) then(n matrix) matrix {
	var r matrix
	r.a, r.b = n.a*m.a+n.c*m.b, n.b*m.a+n.d*m.b
	r.c, r.d = n.a*m.c+n.c*m.d, n.b*m.c+n.d*m.d
	r.e, r.f = n.apply(m.e, m.f)
	return r
}

// item is one thing on a display list: a painted path, a line of text or a picture.
type item struct {
	path  Path
	style Style

	line   Line
	size   float64 // type size, mm
	colour Colour

	picture *Picture
	w, h    float64 // of the picture, mm

	at matrix // of text and pictures; paths are kept in the drawing's own millimetres
}

// Drawing is a display list: what was drawn, in order. It can be placed on a
// page or on another drawing, turned by quarters.
type Drawing struct{ items []item }

// Path paints p.
func (d *Drawing) Path(p Path, s Style) {
	if len(p.segs) > 0 {
		d.items = append(d.items, item{path: p, style: s})
	}
}

// Rect paints a rectangle with its top left corner at (x, y).
func (d *Drawing) Rect(x, y, w, h float64, s Style) { d.Path(Rect(x, y, w, h), s) }

// Line strokes a straight line.
func (d *Drawing) Line(x1, y1, x2, y2 float64, s Style) {
	var p Path
	p.Move(x1, y1)
	p.Line(x2, y2)
	s.Fill = Colour{}
	d.Path(p, s)
}

// Circle paints a circle of radius r.
func (d *Drawing) Circle(cx, cy, r float64, s Style) { d.Path(Circle(cx, cy, r), s) }

// Align says which part of a line of text stands at the point given.
type Align int

// The three alignments.
const (
	Left Align = iota
	Centre
	Right
)

// Text sets a shaped line with its baseline at y, in points of type size.
func (d *Drawing) Text(x, y float64, l Line, points float64, c Colour, a Align) {
	if len(l.glyphs) == 0 {
		return
	}
	switch a {
	case Centre:
		x -= l.Width(points) / 2
	case Right:
		x -= l.Width(points)
	}
	m := identity
	m.e, m.f = x, y
	d.items = append(d.items, item{line: l, size: points * MMPerPoint, colour: c, at: m})
}

// Picture draws a picture in a box, filling it whole.
func (d *Drawing) Picture(x, y, w, h float64, p *Picture) {
	m := identity
	m.e, m.f = x, y
	d.items = append(d.items, item{picture: p, w: w, h: h, at: m})
}

// Place puts e on d with e's origin at (x, y), turned clockwise by so many
// quarters. A turn is about e's origin: text that is placed with one turn
// reads from top to bottom and grows to the left of x line by line.
func (d *Drawing) Place(e *Drawing, x, y float64, quarters int) {
	m := identity
	switch ((quarters % 4) + 4) % 4 {
	case 1:
		m = matrix{a: 0, b: 1, c: -1, d: 0}
	case 2:
		m = matrix{a: -1, d: -1}
	case 3:
		m = matrix{a: 0, b: -1, c: 1, d: 0}
	}
	m.e, m.f = x, y
	for _, it := range e.items {
		if len(it.path.segs) > 0 {
			it.path = it.path.mapped(m)
		} else {
			it.at = it.at.then(m)
		}
		d.items = append(d.items, it)
	}
}

// Page is a drawing with a size.
type Page struct {
	Width, Height float64 // mm
	Drawing
}

// Size is a sheet of paper.
type Size struct {
	Name          string
	Width, Height float64 // mm, upright
}

// The two sheets that home printers take: A4 is 210 x 297 mm (ISO 216), Letter
// 8.5 x 11 inches (ANSI/ASME Y14.1).
var (
	A4     = Size{"A4", 210, 297}
	Letter = Size{"Letter", 215.9, 279.4}
)

// Sheet finds a size by its name, in any case; ok is false for another name.
func Sheet(name string) (s Size, ok bool) {
	switch lower(name) {
	case "", "a4":
		return A4, true
	case "letter":
		return Letter, true
	}
	return Size{}, false
}

func lower(s string) string {
	b := []byte(s)
	for i, c := range b {
		if 'A' <= c && c <= 'Z' {
			b[i] = c + 'a' - 'A'
		}
	}
	return string(b)
}

// Document is pages with what a reader is told of them.
type Document struct {
	Title    string
	Language string // BCP 47; empty: not said
	Duplex   bool   // pages come in pairs, front and back, turned about the vertical axis
	Pages    []*Page
}

// Add appends an empty page of w by h mm and gives it to draw on.
func (d *Document) Add(w, h float64) *Page {
	p := &Page{Width: w, Height: h}
	d.Pages = append(d.Pages, p)
	return p
}
