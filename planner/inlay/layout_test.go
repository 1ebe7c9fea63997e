package inlay

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"

	"longside/planner"
	"longside/planner/paper"
	"longside/testdata/ferryplan"
)

func testFonts(t testing.TB) *paper.Fonts {
	t.Helper()
	f, err := paper.NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// of is a plan with so many tracks on a tape that suits them.
func of(n int) planner.Plan {
	k := ferryplan.C60
	switch {
	case n > 40:
		k = ferryplan.C120
	case n > 24:
		k = ferryplan.C90
	}
	return ferryplan.Plan(ferryplan.Tape(k, (n+1)/2, n/2))
}

// TestNothingOverlaps lays out cards of every design and many lengths, and looks
// at each panel: no line of text leaves it or comes nearer than 1.5 mm to a cut
// or a fold, and no two share any place.
func TestNothingOverlaps(t *testing.T) {
	f := testFonts(t)
	for _, n := range []int{0, 1, 3, 7, 20, 60} {
		for _, titles := range [][]string{nil, {"M"}, {ferryplan.Long(1), "Bell Buoy", ferryplan.Long(2)}, {strings.Repeat("W", 300)}} {
			for _, design := range Designs {
				for _, duplex := range []bool{false, true}[:1+n/20%2] { // both for 20 tracks, else the front only
					p := of(n)
					if titles != nil {
						p = ferryplan.Rename(p, titles...)
					}
					o, err := Options{Design: design, Duplex: duplex}.filled()
					if err != nil {
						t.Fatal(err)
					}
					name := fmt.Sprintf("%d tracks, %s, duplex %v, %.10q", n, design, duplex, titles)
					c := newCard(p, 0, o, f)
					ps := c.pieces(297 - 2*pageEdge)
					ps = append(ps, c.strip())
					for _, piece := range append(ps, c.labels()...) {
						for i, q := range piece.panels {
							inside(t, fmt.Sprintf("%s, panel %d", name, i), q.face, q.width, piece.height)
							if q.back != nil {
								inside(t, fmt.Sprintf("%s, back of panel %d", name, i), q.back, q.width, piece.height)
							}
						}
					}
				}
			}
		}
	}
}

func inside(t *testing.T, name string, d *paper.Drawing, w, h float64) {
	t.Helper()
	const clear, slack = 1.5, 0.05
	texts := d.Texts()
	for i, b := range texts {
		if b.X < clear || b.Y < clear || b.X+b.W > w-clear || b.Y+b.H > h-clear {
			t.Errorf("%s: %.30q at %.1f, %.1f, %.1f x %.1f leaves %g x %g", name, b.Text, b.X, b.Y, b.W, b.H, w, h)
		}
		for _, c := range texts[:i] {
			if b.Overlaps(c, slack) {
				t.Errorf("%s: %.30q and %.30q overlap", name, b.Text, c.Text)
			}
		}
	}
}

// TestEveryTrackIsThere: unless a note says so, each title and time is on the card.
func TestEveryTrackIsThere(t *testing.T) {
	f := testFonts(t)
	for _, n := range []int{6, 8, 20, 36, 60} {
		for _, design := range Designs {
			for _, duplex := range []bool{false, true} {
				p := of(n)
				doc, notes, err := Draw(p, Options{Design: design, Duplex: duplex}, f)
				if err != nil {
					t.Fatal(err)
				}
				if len(notes) > 0 {
					t.Errorf("%d tracks, %s: %q", n, design, notes)
				}
				all := ""
				for _, page := range doc.Pages {
					for _, b := range page.Texts() {
						all += b.Text + " "
					}
				}
				all = strings.Join(strings.Fields(all), " ")
				for _, s := range p.Tapes[0].Sides {
					for i, tr := range s.Tracks {
						for _, want := range []string{tr.Title, tr.Artist, planner.Clock(tr.LengthS.D())} {
							if !strings.Contains(all, want) {
								t.Errorf("%d tracks, %s, duplex %v: %s%d: no %q", n, design, duplex, s.Side, i+1, want)
							}
						}
					}
				}
			}
		}
	}
}

// Every ink is read on every stock: text in both tones keeps the 4.5 to 1 of
// WCAG 2.1, success criterion 1.4.3, and the two tones, and the pale one, differ
// in lightness by enough to tell them apart in black and white.
func TestPalette(t *testing.T) {
	for _, ink := range Inks() {
		for _, stock := range Stocks() {
			l := palette(ink, stock)
			for _, c := range []struct {
				what string
				a, b paper.Colour
				want float64
			}{
				{"ink", l.Ink, l.Stock, 7}, {"second tone", l.Soft, l.Stock, 4.5},
				{"ink and second tone", l.Ink, l.Soft, 1.8}, {"second and pale tone", l.Soft, l.Pale, 2.5},
				{"pale tone on stock", l.Pale, l.Stock, 1.15},
			} {
				if got := c.a.Contrast(c.b); got < c.want {
					t.Errorf("%s on %s: %s has %.2f to 1, want %g", ink, stock, c.what, got, c.want)
				}
			}
		}
	}
}

// The rings of side A end at the full pack less the tail; those of side B lie on
// the same tape the other way round: its first second is the outermost layer.
func TestBands(t *testing.T) {
	tape := ferryplan.Tape(ferryplan.C60, 3, 3)
	a, b := bands(tape, tape.Sides[0], 0, false), bands(tape, tape.Sides[1], 0, true)
	for _, s := range []struct {
		name  string
		bands []paper.Band
	}{{"A", a}, {"B", b}} {
		area, n := 0.0, 0
		lo, hi := 99.0, 0.0
		for _, r := range s.bands {
			if r.Outer <= r.Inner {
				t.Errorf("side %s: ring from %.2f to %.2f mm", s.name, r.Inner, r.Outer)
			}
			area += math.Pi * (r.Outer*r.Outer - r.Inner*r.Inner)
			lo, hi = min(lo, r.Inner), max(hi, r.Outer)
			if r.Label != "" {
				n++
			}
		}
		// All of the tape seen from the side: 85.725 m x 18 um = 1543.05 mm2, between 11 and 24.74 mm.
		if math.Abs(area-1543.05) > 0.01 || math.Abs(lo-11) > 1e-9 || math.Abs(hi-24.74) > 0.005 || n != 3 {
			t.Errorf("side %s: %.2f mm2 from %.2f to %.2f mm with %d tracks", s.name, area, lo, hi, n)
		}
	}
	// The lead-in of 7 s is 333.4 mm of tape: on the hub sqrt(121 + 333.375 x 0.018 / pi) = 11.0865 mm.
	if math.Abs(a[0].Outer-11.0865) > 0.0005 || a[0].Tone != paper.Blank || a[1].Label != "1" {
		t.Errorf("side A begins %+v", a[:2])
	}
	// Outside: sqrt(24.7420^2 - 333.375 x 0.018 / pi) = 24.7034 mm.
	if math.Abs(b[0].Inner-24.7034) > 0.0005 || b[0].Tone != paper.Blank || b[1].Label != "1" {
		t.Errorf("side B begins %+v", b[:2])
	}
	// A deck 2 % fast winds 2 % more tape in the same time.
	fast := bands(tape, tape.Sides[0], 2, false)
	for i, r := range fast[:len(fast)-1] {
		slow := a[i].Outer*a[i].Outer - 121
		if got := (r.Outer*r.Outer - 121) / slow; math.Abs(got-1.02) > 1e-9 {
			t.Errorf("ring %d: %.4f times the tape, want 1.02", i, got)
		}
	}
}

func TestBadOptions(t *testing.T) {
	f := testFonts(t)
	p := of(6)
	for _, c := range []struct {
		o    Options
		want string
	}{
		{Options{Page: "A3"}, `no paper size "A3"; use A4 or Letter`},
		{Options{Design: "spiral"}, `no design "spiral"; choose wound, line, plain`},
		{Options{Ink: "blood"}, `no ink "blood"; choose night, soot, rust, kelp, plum`},
		{Options{Stock: "x"}, `no stock "x"; choose bare, fog, chart, dawn, foam`},
		{Options{Parts: []string{"card", "box"}}, `no part "box"; choose card, labels, spine`},
		{Options{Front: 500}, "a front panel of 500 mm cannot be drawn; give 40 to 80"},
		{Options{Spine: -1}, "a spine of -1 mm cannot be drawn; give 5 to 30"},
		{Options{Height: math.NaN()}, "a height of NaN mm cannot be drawn; give 60 to 110"},
		{Options{WindowWidth: 80, LabelWidth: 70}, "a window of 80 x 12 mm leaves no room on a label of 70 x 41.5"},
	} {
		if _, _, err := Draw(p, c.o, f); err == nil || err.Error() != c.want {
			t.Errorf("%+v: %v, want %s", c.o, err, c.want)
		}
	}
	if _, _, err := Draw(planner.Plan{}, Options{}, f); err == nil {
		t.Error("a card of a plan without a tape")
	}
}

// FuzzTitles: whatever stands in the tags, a card comes of it, nothing on it
// leaves its panel, and the same again gives the same bytes.
func FuzzTitles(f *testing.F) {
	for _, s := range []string{"", "Bell Buoy", "a\nb\tc\x00\x1b[2J", "\u202Etxet\u202C", "<script>alert(1)</script>", strings.Repeat("long ", 150), "夜 אור 12 ليل", "👩‍🚀", "e\u0301\u0301\u0301\u0301"} {
		f.Add(s, s+"x", 5)
	}
	fonts, others := testFonts(f), testFonts(f)
	f.Fuzz(func(t *testing.T, title, artist string, n int) {
		if n < 0 || n > 12 || len(title)+len(artist) > 500 {
			t.Skip() // allowed, and slow: every sign's width is measured many times over
		}
		p := ferryplan.Rename(of(n), title)
		for i := range p.Tapes[0].Sides {
			for j := range p.Tapes[0].Sides[i].Tracks {
				p.Tapes[0].Sides[i].Tracks[j].Artist = artist
			}
		}
		p.Title, p.Note = title, artist
		o, _ := Options{}.filled()
		c := newCard(p, 0, o, fonts)
		for _, piece := range c.pieces(280) {
			for i, q := range piece.panels {
				if latin.MatchString(title + artist) {
					inside(t, fmt.Sprintf("panel %d", i), q.face, q.width, piece.height)
					continue
				}
				// Tall signs and piled marks may touch the lines above and below.
				for _, b := range q.face.Texts() {
					if b.X < 0.5 || b.X+b.W > q.width-0.5 {
						t.Errorf("panel %d: %.30q leaves it", i, b.Text)
					}
				}
			}
		}
		a, _, err := Draw(p, o, fonts)
		if err != nil {
			t.Fatal(err)
		}
		x, err := a.PDF()
		if err != nil {
			t.Fatal(err)
		}
		b, _, _ := Draw(p, o, others)
		if y, _ := b.PDF(); string(x) != string(y) {
			t.Error("two drawings of one plan differ")
		}
	})
}

// latin is text of the blocks up to Latin Extended-A.
var latin = regexp.MustCompile(`^[\x00-\x{17F}]*$`)

func BenchmarkCard(b *testing.B) {
	p := of(20)
	for b.Loop() { // fonts read anew each time, as by a command
		d, _, err := Draw(p, Options{}, testFonts(b))
		if err != nil {
			b.Fatal(err)
		}
		if _, err := d.PDF(); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkHundredCards draws a hundred different cards, each to its own PDF.
func BenchmarkHundredCards(b *testing.B) {
	for b.Loop() {
		f := testFonts(b)
		for i := range 100 {
			p := of(20)
			p.Title = fmt.Sprintf("Crossing %d", i+1)
			for j := range p.Tapes[0].Sides {
				for k := range p.Tapes[0].Sides[j].Tracks {
					p.Tapes[0].Sides[j].Tracks[k].Title += fmt.Sprintf(" %d", i)
				}
			}
			d, _, err := Draw(p, Options{}, f)
			if err != nil {
				b.Fatal(err)
			}
			if _, err := d.PDF(); err != nil {
				b.Fatal(err)
			}
		}
	}
}
