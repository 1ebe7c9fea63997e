package paper

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"

	"longside/testdata/reftool"
)

func testFonts(t testing.TB) *Fonts {
	t.Helper()
	f, err := NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// sample is a page with everything on it that the writers know.
func sample(t testing.TB) *Document {
	f := testFonts(t)
	d := &Document{Title: "The Night Crossing <&> «ночь»", Language: "en"}
	p := d.Add(120, 90)
	for i, s := range sampleText {
		p.Text(8, 10+float64(i)*6, f.Line(s, Weight(i%2)), 10, Black, Left)
	}
	p.Text(112, 10, f.Line("3:51", Regular), 10, RGB(90, 0, 0), Right)
	p.Rect(70, 20, 20, 12, Style{Fill: RGB(200, 220, 240), Stroke: Black, Width: 0.5})
	p.Line(70, 40, 110, 46, Stroke(RGB(0, 90, 0), 0.4).Dashed(2, 1))
	p.Circle(100, 60, 8, Stroke(Black, 1))
	p.Path(Ring(85, 70, 4, 9, 0, 2), Fill(RGB(60, 60, 120)))
	Pack{Hub: 11, Left: []Band{{11, 15, Dark, "1"}, {15, 20, Darker, "2"}}, Right: []Band{{11, 20, Blank, ""}}}.
		Draw(&p.Drawing, f, 45, 66, 0.6, Plain, 5)
	turned := &Drawing{}
	turned.Text(0, 0, f.Line("spine", Bold), 9, Black, Left)
	p.Place(turned, 4, 60, 1)
	p.Picture(70, 68, 8, 6, checks())
	d.Add(60, 40).Text(5, 20, f.Line("second page", Regular), 9, Black, Left)
	return d
}

var sampleText = []string{
	"Lights of the Outer Mole", "Brume légère", "Βροχή στο κατάστρωμα", "Ночной паром №7",
	"Đêm trên biển lặng lẽ", "ffi fluffy affinity", "Գիշերային նավ",
}

// checks is a picture of four coloured squares.
func checks() *Picture {
	img := image.NewRGBA(image.Rect(0, 0, 80, 60))
	for y := range 60 {
		for x := range 80 {
			c := color.RGBA{200, 40, 40, 255}
			if (x < 40) != (y < 30) {
				c = color.RGBA{20, 60, 160, 255}
			}
			img.Set(x, y, c)
		}
	}
	var b bytes.Buffer
	png.Encode(&b, img)
	p, err := DecodePicture(b.Bytes())
	if err != nil {
		panic(err)
	}
	return p
}

// The full and half packs of the common tapes, mm: arithmetic by
// r = sqrt(11^2 + L t/pi) with L = minutes x 60 x 47.625 mm, as C60 18 um:
// sqrt(121 + 85725 x 0.018 / pi) = sqrt(612.2) = 24.74.
func TestPackRadius(t *testing.T) {
	for _, c := range []struct {
		minutes, um, full, half float64
	}{
		{30, 18, 24.74, 19.15}, {30, 16, 23.61, 18.42}, {37, 12, 22.91, 17.97}, {45, 12, 24.74, 19.15},
		{45, 11, 23.90, 18.60}, {50, 11, 24.93, 19.26}, {60, 9, 24.74, 19.15}, {90, 6, 24.74, 19.15},
	} {
		l := c.minutes * 60 * 47.625
		if got := PackRadius(11, c.um, l); math.Abs(got-c.full) > 0.006 {
			t.Errorf("%g min at %g um: full pack %.3f mm, want %.2f", c.minutes, c.um, got, c.full)
		}
		if got := PackRadius(11, c.um, l/2); math.Abs(got-c.half) > 0.006 {
			t.Errorf("%g min at %g um: half pack %.3f mm, want %.2f", c.minutes, c.um, got, c.half)
		}
	}
}

// WCAG 2.1: black on white is 21 to 1 by definition; #767676 is the lightest
// grey that reaches 4.5 on white (4.54), #777777 does not (4.48), both widely published.
func TestContrast(t *testing.T) {
	for _, c := range []struct {
		a    Colour
		want float64
	}{{Black, 21}, {White, 1}, {RGB(0x76, 0x76, 0x76), 4.54}, {RGB(0x77, 0x77, 0x77), 4.48}} {
		if got := c.a.Contrast(White); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%v on white: %.3f, want %.2f", c.a, got, c.want)
		}
	}
}

func TestClean(t *testing.T) {
	for _, c := range [][2]string{
		{"", ""},
		{" \t\n ", ""},
		{"Bell  Buoy\r\n(live)", "Bell Buoy (live)"},
		{"a\tb", "a b"},
		{"a\x00b\x1b[31mc", "ab[31mc"},
		{"a\u202Eevil\u202C", "aevil"},   // bidi override
		{"\u2066x\u2069\u200F", "x"},     // isolates and marks
		{"\xff\xfea", "a"},               // not UTF-8
		{"<script>&\"'", "<script>&\"'"}, // text, not markup: escaping is the writers' part
		{"\uFEFFb\uFFFE", "b"},           // byte order mark, noncharacter
		{"e\u0301", "e\u0301"},           // combining marks stay
		{"e" + strings.Repeat("\u0301", 50), "e\u0301\u0301\u0301\u0301"},
		{"\u3000夜\u3000", "夜"}, // ideographic space
		{strings.Repeat("x", 600), strings.Repeat("x", 600)},
		{strings.Repeat("x", 10000), strings.Repeat("x", 599) + "…"},
	} {
		if got := Clean(c[0]); got != c[1] {
			t.Errorf("Clean(%.40q) = %.40q, want %.40q", c[0], got, c[1])
		}
	}
}

func TestFit(t *testing.T) {
	f := testFonts(t)
	l, cut := f.Fit("Bell Buoy", Regular, 8, 40)
	if cut || l.Text() != "Bell Buoy" {
		t.Errorf("%q, %v", l.Text(), cut)
	}
	l, cut = f.Fit("Nothing to Port, Nothing to Starboard", Regular, 8, 30)
	if !cut || l.Text() != "Nothing to Port…" || l.Width(8) > 30 { // "Nothing" is the next word, and too wide
		t.Errorf("%q, %v, %.1f mm", l.Text(), cut, l.Width(8))
	}
	l, cut = f.Fit("Night Watchkeepersandstokers", Regular, 8, 30) // the word alone would leave two thirds bare
	if !cut || !strings.HasPrefix(l.Text(), "Night Watchkeepers") || !strings.HasSuffix(l.Text(), "…") || l.Width(8) > 30 {
		t.Errorf("%q, %v, %.1f mm", l.Text(), cut, l.Width(8))
	}
	if l, cut = f.Fit("x", Regular, 8, 0.1); !cut || l.Text() != "…" {
		t.Errorf("%q, %v: too narrow for anything", l.Text(), cut)
	}
	lines, cut := f.Wrap("Nothing to Port, Nothing to Starboard", Regular, 8, 30, 3)
	var words []string
	for _, l := range lines {
		words = append(words, strings.TrimSpace(l.Text()))
	}
	if got := strings.Join(words, "|"); cut || got != "Nothing to Port,|Nothing to Starboard" {
		t.Errorf("%q, %v", got, cut)
	}
}

// DejaVu's digits are 0.626 em wide in the condensed face less a tenth
// (1303 of 2048 units x 0.9): a column of times stands straight.
func TestFiguresAreTabular(t *testing.T) {
	f := testFonts(t)
	for _, w := range []Weight{Regular, Bold} {
		want := f.Line("0", w).Width(10)
		for _, d := range "123456789" {
			if got := f.Line(string(d), w).Width(10); math.Abs(got-want) > 1e-9 {
				t.Errorf("%c is %.4f mm wide, 0 is %.4f", d, got, want)
			}
		}
	}
	if got, want := f.Line("0", Regular).Width(10), 10*MMPerPoint*1303*0.9/2048; math.Abs(got-want) > 0.01 {
		t.Errorf("a figure is %.4f mm wide, want %.4f", got, want)
	}
}

func TestMissing(t *testing.T) {
	f := testFonts(t)
	if got := f.Line("a 夜 b 夜 \u200D c", Regular).Missing(); string(got) != "夜" {
		t.Errorf("missing %q", string(got))
	}
	asked := 0
	f.Find = func(r rune, w Weight, lang string, offer func([]byte, int) bool) {
		asked++
		if offer([]byte("no font"), 0) || offer(dejavusanscondensed.TTF, 0) || offer(dejavusanscondensed.TTF, 9) {
			t.Error("a font was taken that does not hold the letter")
		}
	}
	f.SetLanguage("ja")
	f.Line("夜 夜", Regular)
	f.Line("夜!", Regular)
	if asked != 1 {
		t.Errorf("asked %d times for one letter", asked)
	}
}

func TestBadFonts(t *testing.T) {
	f := testFonts(t)
	ttf := dejavusanscondensed.TTF
	for _, c := range []struct {
		name  string
		data  []byte
		index int
	}{
		{"empty", nil, 0}, {"text", []byte("not a font at all"), 0}, {"head only", ttf[:12], 0},
		{"cut", ttf[:5000], 0}, {"index", ttf, 1}, {"negative", ttf, -1},
	} {
		if err := f.Add(c.data, c.index); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %v", c.name, err)
		}
	}
	if got := f.Line("still", Regular); got.Width(10) == 0 {
		t.Error("the good faces are lost")
	}
}

func TestSpread(t *testing.T) {
	for _, c := range []struct {
		at       []float64
		from, to float64
		want     string
	}{
		{nil, 0, 10, "[] true"},
		{[]float64{1, 5}, 0, 10, "[1 5] true"},
		{[]float64{5, 5, 5}, 0, 10, "[5 7 9] true"},
		{[]float64{9, 9.5}, 0, 10, "[8 10] true"},
		{[]float64{-3, 1}, 0, 10, "[0 2] true"},
		{[]float64{1, 2, 3}, 0, 3, "[] false"},
	} {
		got, ok := Spread(c.at, c.from, c.to, 2)
		if s := fmt.Sprint(got, ok); s != c.want {
			t.Errorf("%v: %s, want %s", c.at, s, c.want)
		}
	}
}

func TestSameBytes(t *testing.T) {
	a, err := sample(t).PDF()
	if err != nil {
		t.Fatal(err)
	}
	b, _ := sample(t).PDF()
	if !bytes.Equal(a, b) {
		t.Error("two PDFs of one drawing differ")
	}
	c, _ := sample(t).SVG(0)
	d, _ := sample(t).SVG(0)
	if !bytes.Equal(c, d) {
		t.Error("two SVGs of one drawing differ")
	}
}

func TestNoSuchPage(t *testing.T) {
	d := sample(t)
	for _, n := range []int{-1, 2} {
		if _, err := d.SVG(n); err == nil {
			t.Errorf("SVG of page %d", n)
		}
		if _, err := d.PNG(n, 50); err == nil {
			t.Errorf("PNG of page %d", n)
		}
	}
	for _, dpi := range []float64{0, -5, math.NaN(), math.Inf(1), 1e9} {
		if _, err := d.PNG(0, dpi); err == nil {
			t.Errorf("PNG at %g dpi", dpi)
		}
	}
	if _, err := (&Document{}).PDF(); err == nil {
		t.Error("a PDF without a page")
	}
}

func writeFile(t testing.TB, name string, data []byte, err error) string {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func output(t testing.TB, program string, args ...string) string {
	t.Helper()
	out, err := exec.Command(program, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", program, err, out)
	}
	return string(out)
}

// TestPDF asks outside programs: qpdf for the syntax, poppler's tools for the
// boxes (120 mm = 340.157 pt), the fonts and the text.
func TestPDF(t *testing.T) {
	data, err := sample(t).PDF()
	path := writeFile(t, "sample.pdf", data, err)
	if out := output(t, reftool.Need(t, "qpdf"), "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
		t.Errorf("qpdf: %s", out)
	}
	info := output(t, reftool.Need(t, "pdfinfo"), "-box", path)
	for _, want := range []string{"Title:           The Night Crossing <&> «ночь»", "Pages:           2", "MediaBox:            0.00     0.00   340.16   255.12", "TrimBox:             0.00     0.00   340.16   255.12"} {
		if !strings.Contains(info, want) {
			t.Errorf("pdfinfo has no %q:\n%s", want, info)
		}
	}
	fonts := strings.Split(strings.TrimSpace(output(t, reftool.Need(t, "pdffonts"), path)), "\n")
	if len(fonts) != 3 || !strings.Contains(fonts[2], "CID Type 0C") || !strings.Contains(fonts[2], "yes yes yes") {
		t.Errorf("pdffonts: one font, embedded, subset, with Unicode is wanted:\n%s", strings.Join(fonts, "\n"))
	}
	text := output(t, reftool.Need(t, "pdftotext"), path, "-")
	for _, want := range append(sampleText, "3:51", "spine", "second page") {
		if !strings.Contains(text, want) {
			t.Errorf("pdftotext does not find %q in\n%s", want, text)
		}
	}
}

// TestRightToLeft: words with ligatures (lam-alef), vowel points and shadda come
// back from the PDF as they were written, though not always in their order.
func TestRightToLeft(t *testing.T) {
	f := testFonts(t)
	d := &Document{}
	p := d.Add(100, 60)
	lines := []string{"לילה שָׁלוֹם 12 עולם", "لا قمر على الأول 25", "آخر عبّارة"}
	for i, s := range lines {
		p.Text(5, 10+float64(i)*9, f.Line(s, Regular), 12, Black, Left)
	}
	data, err := d.PDF()
	text := output(t, reftool.Need(t, "pdftotext"), "-raw", writeFile(t, "rtl.pdf", data, err), "-")
	text = strings.Map(func(r rune) rune {
		if r >= 0x202A && r <= 0x202E {
			return -1
		}
		return r
	}, text)
	got := map[string]bool{}
	for _, w := range strings.Fields(text) {
		got[w] = true
	}
	for _, w := range strings.Fields(strings.Join(lines, " ")) {
		if !got[w] {
			t.Errorf("%q (%U) is not among %q", w, []rune(w), strings.Fields(text))
		}
	}
}

// TestWritersAgree renders the PDF and the SVG with outside programs (poppler,
// and librsvg through ffmpeg) and compares them with our own raster: one
// drawing, three ways.
func TestWritersAgree(t *testing.T) {
	const dpi = 150
	d := sample(t)
	own, err := d.Raster(0, dpi)
	if err != nil {
		t.Fatal(err)
	}
	t.Run("pdf", func(t *testing.T) {
		data, err := d.PDF()
		path := writeFile(t, "sample.pdf", data, err)
		out := filepath.Join(t.TempDir(), "page")
		output(t, reftool.Need(t, "pdftoppm"), "-r", fmt.Sprint(dpi), "-f", "1", "-l", "1", "-singlefile", "-png", path, out)
		sameLook(t, own, out+".png")
	})
	t.Run("svg", func(t *testing.T) {
		data, err := d.SVG(0)
		// librsvg takes 96 dots an inch for a millimetre size: ask for the pixels wanted.
		data = bytes.Replace(data, []byte(`width="120mm" height="90mm"`), fmt.Appendf(nil, `width="%d" height="%d"`, own.Rect.Dx(), own.Rect.Dy()), 1)
		path := writeFile(t, "sample.svg", data, err)
		out := filepath.Join(t.TempDir(), "page.png")
		output(t, reftool.Need(t, "ffmpeg"), "-v", "error", "-i", path, "-frames:v", "1", out)
		sameLook(t, own, out)
	})
}

// sameLook compares two renderings with a tolerance for their edges: a pixel
// counts when it differs from everything within one pixel of its place.
func sameLook(t *testing.T, own image.Image, path string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	other, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	a, b := own.Bounds(), other.Bounds()
	if math.Abs(float64(a.Dx()-b.Dx())) > 1 || math.Abs(float64(a.Dy()-b.Dy())) > 1 {
		t.Fatalf("%v and %v", a, b)
	}
	grey := func(m image.Image, x, y int) int {
		return int(color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y)
	}
	off, ink := 0, 0
	for y := 1; y < min(a.Dy(), b.Dy())-1; y++ {
		for x := 1; x < min(a.Dx(), b.Dx())-1; x++ {
			g := grey(own, x, y)
			if g < 128 {
				ink++
			}
			lo, hi := 255, 0
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					o := grey(other, x+dx, y+dy)
					lo, hi = min(lo, o), max(hi, o)
				}
			}
			if g < lo-40 || g > hi+40 {
				off++
			}
		}
	}
	if ink < 1000 {
		t.Fatalf("only %d dark pixels: nothing was compared", ink)
	}
	if off > ink/200 {
		t.Errorf("%d pixels are off, of %d dark ones", off, ink)
	}
}

// An SVG is XML whatever a title holds, and the title stands in it as text only.
func TestSVGEscapes(t *testing.T) {
	f := testFonts(t)
	d := &Document{Title: `</title><script>alert(1)</script>`}
	d.Add(100, 20).Text(5, 10, f.Line("\"'><script>\x00\x0b&amp;", Regular), 8, Black, Left)
	data, err := d.SVG(0)
	if err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(bytes.NewReader(data))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := tok.(xml.StartElement); ok && e.Name.Local == "script" {
			t.Error("a title became an element")
		}
	}
}

// FuzzWrap: no line is wider than asked unless it is an ellipsis alone, no more
// lines come than asked, and what was not cut is the whole text.
func FuzzWrap(f *testing.F) {
	for _, s := range sampleText {
		f.Add(s, 20.0, 2)
	}
	f.Add("<script>\x00\u202e10,000", 5.0, 1)
	f.Add("אור 12 על המים (חלק 2)", 12.0, 3)
	f.Add("ليلة 25 على الجسر", 12.0, 3)
	f.Add(strings.Repeat("夜", 900), 30.0, 2)
	f.Add("👩‍🚀\u0301\u0301\u0301", 1.0, 2)
	fonts := testFonts(f)
	f.Fuzz(func(t *testing.T, s string, width float64, most int) {
		if most < 1 || most > 5 || !(width > 0.5 && width < 500) {
			t.Skip()
		}
		clear(fonts.lines)
		lines, cut := fonts.Wrap(s, Regular, 8, width, most)
		if len(lines) > most {
			t.Errorf("%d lines, asked for %d", len(lines), most)
		}
		whole := ""
		for _, l := range lines {
			if l.Width(8) > width+1e-6 && l.text != "…" {
				t.Errorf("%q is %.2f mm wide, asked for %.2f", l.text, l.Width(8), width)
			}
			whole += l.text
		}
		squeeze := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if !cut && squeeze(whole) != squeeze(Clean(s)) {
			t.Errorf("%q became %q", Clean(s), whole)
		}
	})
}

// TestArchival: what makes a file PDF/A-2b and can be seen in its bytes. (As a
// whole it was held against a preflight of the stricter part 1, by hand.)
func TestArchival(t *testing.T) {
	data, err := sample(t).PDF()
	if err != nil {
		t.Fatal(err)
	}
	start, end := bytes.Index(data, []byte("<x:xmpmeta")), bytes.Index(data, []byte("<?xpacket end"))
	if start < 0 || end < start {
		t.Fatal("no metadata that is readable without a filter")
	}
	var meta struct {
		Description struct {
			Part        string `xml:"http://www.aiim.org/pdfa/ns/id/ part"`
			Conformance string `xml:"http://www.aiim.org/pdfa/ns/id/ conformance"`
			Title       string `xml:"title>Alt>li"`
			Language    string `xml:"language>Bag>li"`
		} `xml:"RDF>Description"`
	}
	if err := xml.Unmarshal(data[start:end], &meta); err != nil {
		t.Fatal(err)
	}
	if d := meta.Description; d.Part != "2" || d.Conformance != "B" || d.Title != sample(t).Title || d.Language != "en" {
		t.Errorf("%+v", d)
	}
	for _, want := range []string{"/OutputIntents [<< /Type /OutputIntent /S /GTS_PDFA1", "/Metadata ", "/ID [<", "/Lang <"} {
		if !bytes.Contains(data, []byte(want)) {
			t.Errorf("no %q", want)
		}
	}
	for _, never := range []string{"/JavaScript", "/Encrypt", "/Launch", "/SMask", "CreationDate"} {
		if bytes.Contains(data, []byte(never)) {
			t.Errorf("there is %q", never)
		}
	}
	// ICC.1:2001-04, 6.1: the size of the whole, version 2, the signature "acsp" at byte 36.
	icc := srgbProfile()
	if n := int(binary.BigEndian.Uint32(icc)); n != len(icc) || icc[8] != 2 || string(icc[36:40]) != "acsp" {
		t.Errorf("profile of %d bytes says %d, version %d, %q", len(icc), n, icc[8], icc[36:40])
	}
}
