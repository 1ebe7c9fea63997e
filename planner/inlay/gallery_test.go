package inlay

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"longside/planner"
	"longside/planner/paper"
	"longside/testdata/ferryplan"
	"longside/testdata/gallery"
	"longside/testdata/reftool"
)

// pieces of the gallery: what people will print, from the shortest list to the
// longest, in many scripts, on both sheets.
func exhibits(t testing.TB) []exhibit {
	noArtist := of(20)
	for i := range noArtist.Tapes[0].Sides {
		for j := range noArtist.Tapes[0].Sides[i].Tracks {
			noArtist.Tapes[0].Sides[i].Tracks[j].Artist = ""
		}
	}
	set := func(n int) planner.Plan {
		var ts []planner.Tape
		for range n {
			ts = append(ts, ferryplan.Tape(ferryplan.C60, 3, 3))
		}
		return ferryplan.Plan(ts...)
	}
	var long []string
	for i := range 20 {
		long = append(long, ferryplan.Long(i+1))
	}
	return []exhibit{
		{"card-08", of(8), Options{}},
		{"card-20", of(20), Options{}},
		{"card-36", of(36), Options{}},
		{"card-60", of(60), Options{}},
		{"card-60-letter", of(60), Options{Page: "Letter"}},
		{"line-20", of(20), Options{Design: "line", Ink: "rust", Stock: "dawn"}},
		{"plain-60", of(60), Options{Design: "plain", Ink: "kelp", Stock: "foam"}},
		{"duplex-36", of(36), Options{Duplex: true, Ink: "plum", Stock: "fog"}},
		{"one-letter", ferryplan.Rename(of(20), "A", "I", "Å"), Options{Stock: "chart", Ink: "soot"}},
		{"long-titles", ferryplan.Rename(of(20), long...), Options{Page: "Letter"}},
		{"no-artist", noArtist, Options{}},
		{"vietnamese", ferryplan.Rename(of(20), "Đêm trên biển lặng lẽ", "Chuyến phà cuối cùng", "Ngọn hải đăng ở phía tây"), Options{Language: "vi"}},
		{"hebrew", ferryplan.Rename(of(20), "אור 12 על המים (חלק 2)", "לילה 25 בגשר", "Radio בלילה"), Options{Language: "he"}},
		{"arabic", ferryplan.Rename(of(20), "ليلة 25 على الجسر", "آخر عبّارة لا قمر", "ضوء الميناء"), Options{Language: "ar"}},
		{"no-font", ferryplan.Rename(of(20), "港の灯り", "Coffee ☕ and stars 🌟 at four", "Bell Buoy"), Options{}},
		{"set-1-of-2", set(2), Options{}},
		{"set-1-of-3", set(3), Options{Design: "line"}},
		{"labels", of(20), Options{Parts: []string{"labels", "spine"}, Stock: "fog"}},
		{"picture", of(20), Options{Picture: harbour(t)}},
		{"panel", of(20), Options{Picture: harbour(t), PictureOver: "panel", Stock: "chart"}},
		{"ruled-20", of(20), Options{Design: "ruled"}},
		{"full-82", full(), Options{Duplex: true}},
		{"hebrew-long", ferryplan.Rename(of(20), longHebrew, "Radio "+longHebrew, "אור"), Options{Design: "plain", Folds: -1, Language: "he"}},
		{"set-of-3", mixedSet(), Options{Parts: []string{"card", "spine", "box", "labels"}, Stock: "fog"}},
	}
}

const longHebrew = "מה שאמר הקצין השני לטבח האונייה כאשר הערפל ירד על המעגן החיצוני ואיש לא ראה את החרטום"

// full is a plan of 82 tracks whose titles and artists are long.
func full() planner.Plan {
	p := ferryplan.Plan(ferryplan.Tape(ferryplan.C90, 41, 41))
	n := 0
	for _, s := range p.Tapes[0].Sides {
		for i := range s.Tracks {
			if n%2 == 0 {
				s.Tracks[i].Title = strings.TrimSpace(string([]rune(ferryplan.Long(n))[:60+n%50]))
			}
			s.Tracks[i].Artist += fmt.Sprintf(" and the Watch of %d Below", n+100)
			n++
		}
	}
	return p
}

// mixedSet is a set of which one card is wider than the others.
func mixedSet() planner.Plan {
	return ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 3, 3), ferryplan.Tape(ferryplan.C60, 8, 8), ferryplan.Tape(ferryplan.C60, 3, 3))
}

type exhibit struct {
	name string
	plan planner.Plan
	o    Options
}

// harbour is a picture made by arithmetic: a moon over a sea, as a JPEG.
func harbour(t testing.TB) *paper.Picture {
	const w, h = 600, 700
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := 40 + 60*float64(y)/h
			if d := math.Hypot(float64(x-400), float64(y-180)); d < 80 {
				v = 240
			} else if y > 420 {
				v = 30 + 25*math.Sin(float64(y)*0.2+3*math.Sin(float64(x)*0.02))
				if x > 360 && x < 440 {
					v += 90
				}
			}
			img.Set(x, y, color.RGBA{uint8(v * 0.7), uint8(v * 0.85), uint8(v), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	p, err := paper.DecodePicture(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestGallery draws every exhibit and compares each page with the kept picture.
func TestGallery(t *testing.T) {
	f := testFonts(t)
	for _, e := range exhibits(t) {
		doc, _, err := Draw(e.plan, e.o, f)
		if err != nil {
			t.Fatalf("%s: %v", e.name, err)
		}
		for i := range doc.Pages {
			img, err := doc.Raster(i, gallery.DPI)
			if err != nil {
				t.Fatal(err)
			}
			gallery.Same(t, fmt.Sprintf("%s-%d", e.name, i+1), img)
		}
	}
}

// TestGalleryText asks outside programs about every exhibit as a PDF: qpdf for
// its syntax, pdfinfo for the size of its pages (A4 595.276 x 841.89 pt, Letter
// 612 x 792 pt), pdffonts for one embedded font, pdftotext for every word of
// every title, artist and time.
func TestGalleryText(t *testing.T) {
	qpdf, pdfinfo := reftool.Need(t, "qpdf"), reftool.Need(t, "pdfinfo")
	pdffonts, pdftotext := reftool.Need(t, "pdffonts"), reftool.Need(t, "pdftotext")
	f := testFonts(t)
	for _, e := range exhibits(t) {
		doc, notes, err := Draw(e.plan, e.o, f)
		if err != nil {
			t.Fatal(err)
		}
		path := pdfFile(t, doc)
		if out := run(t, qpdf, "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
			t.Errorf("%s: %s", e.name, out)
		}
		sizes := []string{"595.276 x 841.89", "841.89 x 595.276"}
		if e.o.Page == "Letter" {
			sizes = []string{"612 x 792", "792 x 612"}
		}
		if info := run(t, pdfinfo, path); !strings.Contains(info, sizes[0]) && !strings.Contains(info, sizes[1]) {
			t.Errorf("%s: neither %q:\n%s", e.name, sizes, info)
		}
		if out := run(t, pdffonts, path); strings.Count(out, "yes yes yes") != 1 || strings.Count(out, "\n") != 3 {
			t.Errorf("%s: %s", e.name, out)
		}
		if strings.Contains(fmt.Sprint(notes), "shortened") || e.name == "labels" || e.o.Design == "ruled" {
			continue
		}
		words := map[string]bool{}
		text := run(t, pdftotext, "-raw", path, "-")
		for _, w := range strings.FieldsFunc(text, splits) {
			words[w] = true
		}
		for _, tape := range e.plan.Tapes {
			for _, s := range tape.Sides {
				for i, tr := range s.Tracks {
					for _, w := range strings.FieldsFunc(tr.Title+" "+tr.Artist+" "+planner.Clock(tr.LengthS.D()), splits) {
						if !words[w] {
							t.Errorf("%s: %s%d: %q is not found again in\n%s", e.name, s.Side, i+1, w, text)
						}
					}
				}
			}
		}
	}
}

// splits is what stands between words: blanks, brackets, and the direction marks
// that pdftotext puts round text from right to left.
func splits(r rune) bool {
	return r <= ' ' || r == '(' || r == ')' || r >= 0x202A && r <= 0x202E || r == '\f'
}

func run(t *testing.T, program string, args ...string) string {
	t.Helper()
	out, err := exec.Command(program, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", program, err, out)
	}
	return string(out)
}

func pdfFile(t *testing.T, doc *paper.Document) string {
	t.Helper()
	data, err := doc.PDF()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "card.pdf")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestCutEdges measures the printed page: poppler renders the PDF at 600 dots an
// inch (0.042 mm a dot), and the marks found on it must lie within 0.1 mm of
// where the card's measures put them, and the ruler must be 50 mm long.
func TestCutEdges(t *testing.T) {
	pdftoppm := reftool.Need(t, "pdftoppm")
	for _, c := range []struct {
		page  string
		n     int
		panel []float64 // widths from the left, as the card folds
		o     Options
	}{
		{"A4", 20, []float64{16, 12.7, 63.5, 61.5}, Options{}},
		{"Letter", 20, []float64{16, 12.7, 63.5, 61.5}, Options{}},
		{"A4", 20, []float64{25.4, 13, 65, 60}, Options{Flap: 25.4, Spine: 13, Front: 65, Fold: 60, Height: 98}},
		{"A4", 20, []float64{16, 12.7, 63.5, 61.5}, Options{Stock: "fog"}},
	} {
		c.o.Page = c.page
		doc, _, err := Draw(of(c.n), c.o, testFonts(t))
		if err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(t.TempDir(), "page")
		const dpi = 600
		run(t, pdftoppm, "-r", fmt.Sprint(dpi), "-gray", "-singlefile", pdfFile(t, doc), out)
		img := readPGM(t, out+".pgm")
		mm := func(px float64) float64 { return px * 25.4 / dpi }

		// The first dark row from the top runs through the vertical marks.
		row := 0
		for len(img.darkInRow(row)) == 0 {
			row++
		}
		xs := img.darkInRow(row + 6)
		want := append([]float64{0}, c.panel...)
		if len(xs) != len(want) {
			t.Errorf("%s: %d marks along the top, want %d", c.page, len(xs), len(want))
			continue
		}
		total := 0.0
		for _, w := range c.panel {
			total += w
		}
		at := (doc.Pages[0].Width - total) / 2 // the card stands in the middle
		for i, w := range want {
			at += w
			if got := mm(xs[i]); math.Abs(got-at) > 0.1 {
				t.Errorf("%s: mark %d is %.3f mm from the left, want %.3f", c.page, i+1, got, at)
			}
		}
		// The first dark column, above the foot of the page, runs through the marks on the left.
		col, above := 0, img.h*4/5
		for len(img.darkInColumn(col, above)) == 0 {
			col++
		}
		ys := img.darkInColumn(col+6, above)
		height := 101.0
		if c.o.Height > 0 {
			height = c.o.Height
		}
		if len(ys) != 2 || math.Abs(mm(ys[1]-ys[0])-height) > 0.1 {
			t.Errorf("%s: marks on the left at %v px, want two %.1f mm apart", c.page, ys, height)
		}
		// Between a card's edge and its marks lie 1 mm of bare paper, or the bleed and half a millimetre.
		x, y := int(math.Round(xs[0])), int(math.Round(ys[0]))
		off := 0
		for !img.dark(x, y-off) {
			off++
		}
		want1 := 1.0
		if c.o.Stock != "" {
			want1 = 3.5
		}
		if got := mm(float64(off)); math.Abs(got-want1) > 0.1 {
			t.Errorf("%s %s: the mark begins %.2f mm above the card, want %.1f", c.page, c.o.Stock, got, want1)
		}
		// The ruler's line is the longest dark run of the page's foot; 59 dots (2.5 mm) above
		// it stand the marks of whole centimetres.
		longest, line := 0, 0
		for y := above; y < img.h; y++ {
			if n := img.longestRun(y); n > longest {
				longest, line = n, y
			}
		}
		ruler := img.darkInRow(line - 59)[:6]
		if got := mm(ruler[5] - ruler[0]); math.Abs(got-50) > 0.1 {
			t.Errorf("%s: the ruler is %.3f mm long", c.page, got)
		}
	}
}

// TestBleed: a tint runs 3 mm over each cut and no further.
func TestBleed(t *testing.T) {
	doc, _, err := Draw(of(6), Options{Stock: "chart"}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	const dpi = 300
	img, err := doc.Raster(0, dpi)
	if err != nil {
		t.Fatal(err)
	}
	px := func(mm float64) int { return int(math.Round(mm * dpi / 25.4)) }
	tint := pick(stocks, "chart")
	left := (210 - 92.2) / 2
	y := img.Rect.Dy() / 3 // through the card, which stands above the middle of the page
	for _, c := range []struct {
		mm   float64
		want color.RGBA
	}{
		{left - 3.2, color.RGBA{255, 255, 255, 255}}, {left - 2.8, color.RGBA{tint.R, tint.G, tint.B, 255}},
		{left + 92.2 + 2.8, color.RGBA{tint.R, tint.G, tint.B, 255}}, {left + 92.2 + 3.2, color.RGBA{255, 255, 255, 255}},
	} {
		if got := img.RGBAAt(px(c.mm), y); got != c.want {
			t.Errorf("%.1f mm from the left: %v, want %v", c.mm, got, c.want)
		}
	}
}

// TestDuplex: the back's list lies behind the front panel when the sheet is
// turned about its upright axis.
func TestDuplex(t *testing.T) {
	doc, _, err := Draw(of(20), Options{Duplex: true}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	if len(doc.Pages) != 2 {
		t.Fatalf("%d pages, want front and back", len(doc.Pages))
	}
	w := doc.Pages[0].Width
	left := (w-92.2)/2 + 16 + 12.7 // the front panel, seen from the front
	for _, b := range doc.Pages[1].Texts() {
		if seen := w - b.X; seen < left || seen > left+63.5 {
			t.Errorf("%q stands behind %.1f mm, outside the front panel from %.1f to %.1f", b.Text, seen, left, left+63.5)
		}
	}
}

// pgm is a grey picture as pdftoppm writes it (Netpbm's P5, 8 bits).
type pgm struct {
	w, h int
	pix  []byte
}

func readPGM(t *testing.T, path string) pgm {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var p pgm
	var most int
	if n, err := fmt.Sscanf(string(data[:40]), "P5\n%d %d\n%d", &p.w, &p.h, &most); n != 3 || most != 255 {
		t.Fatalf("%s: %v", path, err)
	}
	p.pix = data[len(data)-p.w*p.h:]
	return p
}

func (p pgm) dark(x, y int) bool { return p.pix[y*p.w+x] < 160 }

// centres gives the middle of each run of dark pixels.
func centres(n int, dark func(int) bool) (out []float64) {
	for i := 0; i < n; i++ {
		if !dark(i) {
			continue
		}
		j := i
		for j < n && dark(j) {
			j++
		}
		out = append(out, float64(i+j)/2)
		i = j
	}
	return out
}

func (p pgm) darkInRow(y int) []float64 {
	return centres(p.w, func(x int) bool { return p.dark(x, y) })
}

func (p pgm) darkInColumn(x, above int) []float64 {
	return centres(above, func(y int) bool { return p.dark(x, y) })
}

func (p pgm) longestRun(y int) (best int) {
	n := 0
	for x := range p.w {
		if p.dark(x, y) {
			n++
			best = max(best, n)
		} else {
			n = 0
		}
	}
	return best
}
