package paper

import (
	"bytes"
	"compress/zlib"
	"crypto/md5"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/go-text/typesetting/font"
)

// PDF writes the document as PDF 1.7 (ISO 32000-1): text that can be searched,
// every glyph embedded, page boxes of the exact size, and a wish that viewers
// print at 100 %. There is no date in it, so the same document gives the same bytes.
func (d *Document) PDF() ([]byte, error) {
	if len(d.Pages) == 0 {
		return nil, errors.New("a document needs a page")
	}
	w := &pdfWriter{cids: map[cidKey]int{}}
	w.outlines, w.widths, w.texts = []Path{{}}, []int{0}, []string{""}
	// Fixed numbers: 1 catalogue, 2 page tree, 3 to 8 the font; pages follow.
	const first = 9
	w.offsets = make([]int, first+2*len(d.Pages)+1)
	w.out.WriteString("%PDF-1.7\n%\xE2\xE3\xCF\xD3\n")

	var kids []string
	contents := make([][]byte, len(d.Pages))
	for i, p := range d.Pages {
		contents[i] = w.content(p)
		kids = append(kids, fmt.Sprintf("%d 0 R", first+2*i))
	}
	lang := ""
	if d.Language != "" {
		lang = " /Lang " + pdfText(d.Language)
	}
	w.object(1, "<< /Type /Catalog /Pages 2 0 R%s /ViewerPreferences << /PrintScaling /None /DisplayDocTitle true >> >>", lang)
	w.object(2, "<< /Type /Pages /Count %d /Kids [%s] >>", len(kids), strings.Join(kids, " "))
	w.font()
	for i, p := range d.Pages {
		box := fmt.Sprintf("[0 0 %s %s]", num(p.Width/MMPerPoint), num(p.Height/MMPerPoint))
		w.object(first+2*i, "<< /Type /Page /Parent 2 0 R /MediaBox %s /CropBox %s /TrimBox %s /Resources << /Font << /F 3 0 R >> >> /Contents %d 0 R >>",
			box, box, box, first+2*i+1)
		w.stream(first+2*i+1, "", contents[i])
	}
	info := first + 2*len(d.Pages)
	w.object(info, "<< /Title %s /Producer %s >>", pdfText(d.Title), pdfText("longside"))

	id := fmt.Sprintf("<%X>", md5.Sum(w.out.Bytes()))
	xref := w.out.Len()
	fmt.Fprintf(&w.out, "xref\n0 %d\n0000000000 65535 f \n", len(w.offsets))
	for _, at := range w.offsets[1:] {
		fmt.Fprintf(&w.out, "%010d 00000 n \n", at)
	}
	fmt.Fprintf(&w.out, "trailer\n<< /Size %d /Root 1 0 R /Info %d 0 R /ID [%s %s] >>\nstartxref\n%d\n%%%%EOF\n", len(w.offsets), info, id, id, xref)
	return w.out.Bytes(), nil
}

type cidKey struct {
	face int
	id   font.GID
	text string
}

// pdfWriter gathers objects, and the glyphs of all pages as one font.
type pdfWriter struct {
	out     bytes.Buffer
	offsets []int

	cids     map[cidKey]int
	outlines []Path
	widths   []int
	texts    []string
}

func (w *pdfWriter) object(n int, format string, args ...any) {
	w.offsets[n] = w.out.Len()
	fmt.Fprintf(&w.out, "%d 0 obj\n", n)
	fmt.Fprintf(&w.out, format, args...)
	w.out.WriteString("\nendobj\n")
}

func (w *pdfWriter) stream(n int, dict string, data []byte) {
	var z bytes.Buffer
	zw := zlib.NewWriter(&z)
	zw.Write(data) // a bytes.Buffer takes everything
	zw.Close()
	w.offsets[n] = w.out.Len()
	fmt.Fprintf(&w.out, "%d 0 obj\n<< /Length %d /Filter /FlateDecode%s >>\nstream\n", n, z.Len(), dict)
	w.out.Write(z.Bytes())
	w.out.WriteString("\nendstream\nendobj\n")
}

// cid gives a glyph its number in the font. Each pair of shape and source text
// has its own, so that the text comes back right from ligatures and joined forms.
func (w *pdfWriter) cid(g glyph) int {
	k := cidKey{g.face.number, g.id, g.text}
	if c, ok := w.cids[k]; ok {
		return c
	}
	c := len(w.outlines)
	w.cids[k] = c
	w.outlines = append(w.outlines, g.face.outline(g.id))
	w.widths = append(w.widths, int(math.Round(float64(g.face.HorizontalAdvance(g.id))*g.face.scale)))
	w.texts = append(w.texts, g.text)
	return c
}

// content writes a page's operators. One transform at the top puts everything
// in millimetres from the top left.
func (w *pdfWriter) content(p *Page) []byte {
	var b bytes.Buffer
	k := 1 / MMPerPoint
	fmt.Fprintf(&b, "%s 0 0 %s 0 %s cm\n", num(k), num(-k), num(p.Height*k))
	for _, it := range p.items {
		switch {
		case len(it.path.segs) > 0:
			w.path(&b, it)
		case it.line.glyphs != nil:
			w.text(&b, it)
		}
	}
	return b.Bytes()
}

func (w *pdfWriter) path(b *bytes.Buffer, it item) {
	s := it.style
	op := ""
	if s.Fill.on {
		fmt.Fprintf(b, "%s rg\n", pdfColour(s.Fill))
		op = "f"
	}
	if s.Stroke.on && s.Width > 0 {
		fmt.Fprintf(b, "%s RG %s w [", pdfColour(s.Stroke), num(s.Width))
		for i, d := range s.Dash {
			if i > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(num(d))
		}
		b.WriteString("] 0 d\n")
		if op == "" {
			op = "S"
		} else {
			op = "B"
		}
	}
	if op == "" {
		return
	}
	for _, g := range it.path.segs {
		switch g.kind {
		case moveTo:
			fmt.Fprintf(b, "%s %s m\n", num(g.x), num(g.y))
		case lineTo:
			fmt.Fprintf(b, "%s %s l\n", num(g.x), num(g.y))
		case cubeTo:
			fmt.Fprintf(b, "%s %s %s %s %s %s c\n", num(g.x1), num(g.y1), num(g.x2), num(g.y2), num(g.x), num(g.y))
		case closePath:
			b.WriteString("h\n")
		}
	}
	b.WriteString(op + "\n")
}

func (w *pdfWriter) text(b *bytes.Buffer, it item) {
	fmt.Fprintf(b, "BT /F %s Tf %s rg\n", num(it.size), pdfColour(it.colour))
	pen, y := math.NaN(), math.NaN() // where the viewer's pen stands, thousandths of an em
	open := false
	shut := func() {
		if open {
			b.WriteString("] TJ\n")
			open = false
		}
	}
	for _, g := range it.line.glyphs {
		c := w.cid(g)
		if y != g.y {
			shut()
			// Text space has y up: the matrix turns the page's y round again.
			px, py := it.at.apply(g.x/1000*it.size, -g.y/1000*it.size)
			fmt.Fprintf(b, "%s %s %s %s %s %s Tm\n", num(it.at.a), num(it.at.b), num(-it.at.c), num(-it.at.d), num(px), num(py))
			pen, y = g.x, g.y
		}
		if !open {
			b.WriteByte('[')
			open = true
		}
		if d := pen - g.x; math.Abs(d) >= 0.05 {
			b.WriteString(num(d))
			pen = g.x
		}
		fmt.Fprintf(b, "<%04X>", c)
		pen += float64(w.widths[c])
	}
	shut()
	b.WriteString("ET\n")
}

// font writes objects 3 to 8: one composite font with all the glyphs used.
func (w *pdfWriter) font() {
	sum := md5.New()
	for i, p := range w.outlines {
		fmt.Fprintln(sum, p.segs, w.widths[i], w.texts[i])
	}
	tag := make([]byte, 6) // the subset's tag, six letters (9.6.4)
	for i, v := range sum.Sum(nil)[:6] {
		tag[i] = 'A' + v%26
	}
	name := string(tag) + "+LongsideText"
	var widths strings.Builder
	for _, v := range w.widths[1:] {
		fmt.Fprintf(&widths, "%d ", v)
	}
	w.object(3, "<< /Type /Font /Subtype /Type0 /BaseFont /%s /Encoding /Identity-H /DescendantFonts [4 0 R] /ToUnicode 7 0 R >>", name)
	w.object(4, "<< /Type /Font /Subtype /CIDFontType0 /BaseFont /%s /CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> /FontDescriptor 5 0 R /DW 0 /W [1 [%s]] >>", name, widths.String())
	w.object(5, "<< /Type /FontDescriptor /FontName /%s /Flags 4 /FontBBox [-1000 -500 2000 1200] /ItalicAngle 0 /Ascent 928 /Descent -236 /CapHeight 729 /StemV 80 /FontFile3 6 0 R >>", name)
	w.stream(6, " /Subtype /CIDFontType0C", cff(name, w.outlines, w.widths))
	w.stream(7, "", w.toUnicode())
	w.object(8, "null")
}

// toUnicode maps each CID back to text (9.10.3), in blocks of 100 at most.
func (w *pdfWriter) toUnicode() []byte {
	var b bytes.Buffer
	b.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n" +
		"/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n" +
		"/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n" +
		"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	var rows []string
	for c, t := range w.texts {
		if t != "" {
			rows = append(rows, fmt.Sprintf("<%04X> <%s>\n", c, hex16(t)))
		}
	}
	for len(rows) > 0 {
		n := min(len(rows), 100)
		fmt.Fprintf(&b, "%d beginbfchar\n%sendbfchar\n", n, strings.Join(rows[:n], ""))
		rows = rows[n:]
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	return b.Bytes()
}

func hex16(s string) string {
	var b strings.Builder
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	return b.String()
}

// pdfText writes a text string (7.9.2.2): UTF-16 with its mark, in hexadecimal.
func pdfText(s string) string { return "<FEFF" + hex16(s) + ">" }

func pdfColour(c Colour) string {
	return num(float64(c.R)/255) + " " + num(float64(c.G)/255) + " " + num(float64(c.B)/255)
}

// num writes a number with as many as four decimals: a thousandth of a hair in mm.
func num(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	s := strconv.FormatFloat(v, 'f', 4, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}
