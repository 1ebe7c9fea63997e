package paper

import (
	"bytes"
	"compress/zlib"
	"crypto/md5"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/go-text/typesetting/font"
)

// PDF writes the document as PDF/A-2b (ISO 19005-2, on PDF 1.7, ISO 32000-1):
// text that can be searched, every glyph embedded, page boxes of the exact size,
// and a wish that viewers print at 100 %. There is no date in it, so the same
// document gives the same bytes.
func (d *Document) PDF() ([]byte, error) {
	if len(d.Pages) == 0 {
		return nil, errors.New("a document needs a page")
	}
	w := &pdfWriter{cids: map[cidKey]int{}, pictures: map[pictureKey]int{}}
	w.outlines, w.widths, w.texts = []Path{{}}, []int{0}, []string{""}
	// The comment of bytes above 127 marks the file as binary (ISO 19005-2, 6.1.2).
	w.out.WriteString("%PDF-1.7\n%\xE2\xE3\xCF\xD3\n")
	catalogue, tree, font, info, meta, icc := w.next(), w.next(), w.next(), w.next(), w.next(), w.next()

	var kids []string
	for _, p := range d.Pages {
		page, content := w.next(), w.next()
		data, err := w.content(p)
		if err != nil {
			return nil, err
		}
		box := fmt.Sprintf("[0 0 %s %s]", num(p.Width/MMPerPoint), num(p.Height/MMPerPoint))
		pictures := ""
		if len(w.onPage) > 0 {
			pictures = " /XObject <<"
			for _, n := range w.onPage {
				pictures += fmt.Sprintf(" /P%d %d 0 R", n, n)
			}
			pictures += " >>"
		}
		w.object(page, "<< /Type /Page /Parent %d 0 R /MediaBox %s /CropBox %s /TrimBox %s /Resources << /Font << /F %d 0 R >>%s >> /Contents %d 0 R >>",
			tree, box, box, box, font, pictures, content)
		w.stream(content, "", data)
		kids = append(kids, fmt.Sprintf("%d 0 R", page))
	}
	lang, duplex := "", ""
	if d.Language != "" {
		lang = " /Lang " + pdfText(d.Language)
	}
	if d.Duplex {
		duplex = " /Duplex /DuplexFlipLongEdge"
		if p := d.Pages[0]; p.Width > p.Height {
			duplex = " /Duplex /DuplexFlipShortEdge"
		}
	}
	title := Clean(d.Title)
	w.object(catalogue, "<< /Type /Catalog /Pages %d 0 R /Metadata %d 0 R%s /ViewerPreferences << /PrintScaling /None /DisplayDocTitle true%s >> /OutputIntents [<< /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB) /Info (sRGB) /DestOutputProfile %d 0 R >>] >>",
		tree, meta, lang, duplex, icc)
	w.object(tree, "<< /Type /Pages /Count %d /Kids [%s] >>", len(kids), strings.Join(kids, " "))
	w.font(font)
	w.object(info, "<< /Title %s /Producer %s >>", pdfText(title), pdfText(producer))
	w.plain(meta, " /Type /Metadata /Subtype /XML", xmp(title, d.Language))
	w.stream(icc, " /N 3", srgbProfile())

	id := fmt.Sprintf("<%X>", md5.Sum(w.out.Bytes()))
	xref := w.out.Len()
	fmt.Fprintf(&w.out, "xref\n0 %d\n0000000000 65535 f \n", len(w.offsets)+1)
	for _, at := range w.offsets {
		fmt.Fprintf(&w.out, "%010d 00000 n \n", at)
	}
	fmt.Fprintf(&w.out, "trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [%s %s] >>\nstartxref\n%d\n%%%%EOF\n", len(w.offsets)+1, catalogue, info, id, id, xref)
	return w.out.Bytes(), nil
}

const producer = "longside"

type cidKey struct {
	face  int
	id    font.GID
	marks string
	text  string
}

type pictureKey struct {
	picture *Picture
	w, h    float64
}

// pdfWriter gathers objects, and the glyphs of all pages as one font.
type pdfWriter struct {
	out     bytes.Buffer
	offsets []int // of object 1 and on
	zip     *zlib.Writer

	cids     map[cidKey]int
	outlines []Path
	widths   []int
	texts    []string

	pictures map[pictureKey]int // object numbers
	onPage   []int              // pictures of the page in hand
}

// next gives the number of a new object.
func (w *pdfWriter) next() int {
	w.offsets = append(w.offsets, 0)
	return len(w.offsets)
}

func (w *pdfWriter) object(n int, format string, args ...any) {
	w.offsets[n-1] = w.out.Len()
	fmt.Fprintf(&w.out, "%d 0 obj\n", n)
	fmt.Fprintf(&w.out, format, args...)
	w.out.WriteString("\nendobj\n")
}

// stream writes data compressed, plain as it is: a file's metadata must be
// readable without a filter (ISO 19005-2, 6.6.2.1).
func (w *pdfWriter) stream(n int, dict string, data []byte) {
	var z bytes.Buffer
	if w.zip == nil {
		w.zip = zlib.NewWriter(&z)
	} else {
		w.zip.Reset(&z)
	}
	w.zip.Write(data) // a bytes.Buffer takes everything
	w.zip.Close()
	w.plain(n, dict+" /Filter /FlateDecode", z.Bytes())
}

func (w *pdfWriter) plain(n int, dict string, data []byte) {
	w.offsets[n-1] = w.out.Len()
	fmt.Fprintf(&w.out, "%d 0 obj\n<<%s /Length %d >>\nstream\n", n, dict, len(data))
	w.out.Write(data)
	w.out.WriteString("\nendstream\nendobj\n")
}

// picture writes a picture once for each size and gives its object.
func (w *pdfWriter) picture(it item) (int, error) {
	k := pictureKey{it.picture, it.w, it.h}
	if n, ok := w.pictures[k]; ok {
		return n, nil
	}
	n := w.next()
	w.pictures[k] = n
	img := it.picture.raster(it.w, it.h)
	dict := fmt.Sprintf(" /Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceRGB /BitsPerComponent 8", img.Rect.Dx(), img.Rect.Dy())
	if it.picture.photo {
		data, _, err := it.picture.encoded(it.w, it.h)
		if err != nil {
			return 0, err
		}
		w.plain(n, dict+" /Filter /DCTDecode", data)
		return n, nil
	}
	rgb := make([]byte, 0, img.Rect.Dx()*img.Rect.Dy()*3)
	for i := 0; i < len(img.Pix); i += 4 {
		rgb = append(rgb, img.Pix[i:i+3]...)
	}
	w.stream(n, dict, rgb)
	return n, nil
}

// cid gives a glyph its number in the font. Each pair of shape and source text
// has its own, so that the text comes back right from ligatures and joined forms.
func (w *pdfWriter) cid(g glyph) int {
	k := cidKey{g.face.number, g.id, g.marks, g.text}
	if c, ok := w.cids[k]; ok {
		return c
	}
	c := len(w.outlines)
	w.cids[k] = c
	w.outlines = append(w.outlines, g.outline())
	width := g.advance
	if g.marks == "" && g.id != font.EmptyGlyph { // without the kerning of this place
		width = g.face.advance(g.id)
	}
	w.widths = append(w.widths, int(math.Round(width)))
	w.texts = append(w.texts, g.text)
	return c
}

// content writes a page's operators. One transform at the top puts everything
// in millimetres from the top left.
func (w *pdfWriter) content(p *Page) ([]byte, error) {
	var b bytes.Buffer
	w.onPage = nil
	k := 1 / MMPerPoint
	fmt.Fprintf(&b, "%s 0 0 %s 0 %s cm\n", num(k), num(-k), num(p.Height*k))
	for _, it := range p.items {
		switch {
		case len(it.path.segs) > 0:
			w.path(&b, it)
		case it.line.glyphs != nil:
			w.text(&b, it)
		case it.picture != nil:
			n, err := w.picture(it)
			if err != nil {
				return nil, err
			}
			if !slices.Contains(w.onPage, n) {
				w.onPage = append(w.onPage, n)
			}
			// A picture fills the unit square with y up (8.9.5.1).
			m := matrix{a: it.w, d: -it.h, f: it.h}.then(it.at)
			fmt.Fprintf(&b, "q %s %s %s %s %s %s cm /P%d Do Q\n", num(m.a), num(m.b), num(m.c), num(m.d), num(m.e), num(m.f), n)
		}
	}
	return b.Bytes(), nil
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

// font writes one composite font with all the glyphs used.
func (w *pdfWriter) font(n int) {
	cid, descriptor, file, unicode, set := w.next(), w.next(), w.next(), w.next(), w.next()
	// A subset's name begins with a tag of six letters (9.6.4), made of what is in
	// it: the font is written with blanks for them, which are then filled.
	const untagged = "AAAAAA+LongsideText"
	program := cff(untagged, w.outlines, w.widths)
	tag := md5.Sum(program)
	for i := range tag {
		tag[i] = 'A' + tag[i]%26
	}
	name := string(tag[:6]) + untagged[6:]
	program = bytes.Replace(program, []byte(untagged), []byte(name), 1)
	var widths strings.Builder
	for _, v := range w.widths[1:] {
		fmt.Fprintf(&widths, "%d ", v)
	}
	w.object(n, "<< /Type /Font /Subtype /Type0 /BaseFont /%s-Identity-H /Encoding /Identity-H /DescendantFonts [%d 0 R] /ToUnicode %d 0 R >>", name, cid, unicode)
	w.object(cid, "<< /Type /Font /Subtype /CIDFontType0 /BaseFont /%s /CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> /FontDescriptor %d 0 R /DW 0 /W [1 [%s]] >>", name, descriptor, widths.String())
	w.object(descriptor, "<< /Type /FontDescriptor /FontName /%s /Flags 4 /FontBBox [-1000 -500 2000 1200] /ItalicAngle 0 /Ascent 928 /Descent -236 /CapHeight 729 /StemV 80 /FontFile3 %d 0 R /CIDSet %d 0 R >>", name, file, set)
	w.stream(file, " /Subtype /CIDFontType0C", program)
	w.stream(unicode, "", w.toUnicode())
	// Every CID of the font is in use: a bit for each, the first in the highest place (9.8.3.2).
	bits := bytes.Repeat([]byte{0xFF}, len(w.outlines)/8)
	if n := len(w.outlines) % 8; n > 0 {
		bits = append(bits, byte(0xFF<<(8-n)))
	}
	w.stream(set, "", bits)
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
	var buf [32]byte
	b := strconv.AppendFloat(buf[:0], v, 'f', 4, 64)
	for b[len(b)-1] == '0' { // there is always a point to stop at
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	if string(b) == "-0" {
		return "0"
	}
	return string(b)
}
