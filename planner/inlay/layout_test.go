package inlay

import (
	"fmt"
	"math"
	"math/rand/v2"
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
					if o.Design == auto {
						continue
					}
					c := newCard(p, 0, o, f, f.Letters())
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
		for _, design := range []string{"wound", "line", "plain"} {
			for _, duplex := range []bool{false, true} {
				p := of(n)
				doc, notes, err := Draw(p, Options{Design: design, Duplex: duplex}, f)
				if err != nil {
					t.Fatal(err)
				}
				if len(notes) > 0 {
					t.Errorf("%d tracks, %s: %v", n, design, notes)
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

// A title is whole wherever there is room: with few tracks nothing is cut after two or three lines.
func TestLongTitlesStayWhole(t *testing.T) {
	f := testFonts(t)
	for _, design := range []string{"wound", "plain"} {
		p := ferryplan.Rename(of(12), ferryplan.Long(1)+" and "+ferryplan.Long(2), "Bell Buoy")
		p.Title = "What the second engineer said to the ship’s cook while the fog came down"
		doc, notes, err := Draw(p, Options{Design: design}, f)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(fmt.Sprint(notes), "tracks are shortened") || strings.Contains(fmt.Sprint(notes), "on the front") {
			t.Errorf("%s: %v", design, notes)
		}
		for _, b := range doc.Pages[0].Texts() {
			if strings.Contains(b.Text, "…") && !strings.Contains(b.Text, "What the second engineer said to the ship’s") { // the spine may be too short
				t.Errorf("%s: %q is shortened", design, b.Text)
			}
		}
	}
}

// found counts what is on the pages, word for word: the judge of what is whole.
func found(doc *paper.Document) string {
	all := ""
	for _, page := range doc.Pages {
		for _, b := range page.Texts() {
			all += b.Text + " "
		}
	}
	return strings.Join(strings.Fields(all), " ")
}

// When tracks are shortened, the note's number is that of the tracks whose title
// or artist is not on the pages, and each way that it names prints every one.
func TestShortened(t *testing.T) {
	f := testFonts(t)
	lacking := func(p planner.Plan, o Options) (n int) {
		doc, _, err := Draw(p, o, f)
		if err != nil {
			t.Fatal(err)
		}
		all := found(doc)
		for _, tape := range p.Tapes {
			for _, s := range tape.Sides {
				for _, tr := range s.Tracks {
					if !strings.Contains(all, tr.Title) || !strings.Contains(all, tr.Artist) {
						n++
					}
				}
			}
		}
		return n
	}
	p := full() // every title and artist is unlike the others, or the same whole
	doc, notes, err := Draw(p, Options{}, f)
	if err != nil {
		t.Fatal(err)
	}
	var note Note
	for _, n := range notes {
		if n.Help == HelpLayout {
			note = n
		}
	}
	n := lacking(p, Options{})
	if n == 0 || !strings.HasPrefix(note.Says, fmt.Sprintf("%d of 82 tracks are shortened on the card of C90 (A", n)) {
		t.Errorf("%d tracks are shortened, and the note says %q", n, note.Says)
	}
	if len(note.Ways) < 2 {
		t.Errorf("ways: %+v", note.Ways)
	}
	for _, w := range note.Ways {
		if n := lacking(p, w.on(Options{Folds: DefaultFolds})); n > 0 {
			t.Errorf("%s: %d tracks are shortened", w.Words(), n)
		}
		if !strings.Contains(note.Says, w.Words()) {
			t.Errorf("%q does not say %q", note.Says, w.Words())
		}
		if w.Folds > 1 { // one panel fewer does not do
			w.Folds--
			if lacking(p, w.on(Options{})) == 0 {
				t.Errorf("%d fold-outs would do", w.Folds)
			}
		}
	}
	// What is cut is cut because it must be: the same list less one of the shortened has a line more.
	if len(doc.Pages) != 2 {
		t.Errorf("%d pages: four fold-outs want a leaf to glue", len(doc.Pages))
	}
	// With no panel for it the whole list is missing, and the note says so.
	_, notes, err = Draw(of(20), Options{Folds: -1}, f)
	if err != nil || !strings.Contains(fmt.Sprint(notes), "the card of C60 has no room for its last tracks: 20 of 20 are not on it; what prints all whole: print on both sides; or the design plain; or 1 fold-out") {
		t.Errorf("%v, %v", err, notes)
	}
	// A list that nothing prints whole says so.
	for i := range p.Tapes[0].Sides {
		for k := range p.Tapes[0].Sides[i].Tracks {
			p.Tapes[0].Sides[i].Tracks[k].Title = strings.Repeat(fmt.Sprint(i, k, " "), 120)
		}
	}
	_, notes, err = Draw(p, Options{}, f)
	if err != nil || !strings.Contains(fmt.Sprint(notes), "no other design, fold-outs or print on both sides that were tried print all whole") {
		t.Errorf("%v, %v", err, notes)
	}
}

// "auto" is the first design that prints everything whole; a list that only the
// plain design holds, for it has the front panel, too, gets that.
func TestAuto(t *testing.T) {
	f := testFonts(t)
	for _, c := range []struct {
		p    planner.Plan
		o    Options
		want string
	}{
		{of(20), Options{Design: auto}, "the design is wound, the first that prints every title whole"},
		{of(60), Options{Design: auto, Folds: 2}, "the design is plain, the first that prints every title whole"},
		{full(), Options{Design: auto}, "the design is plain, which shortens the fewest titles"},
	} {
		doc, notes, err := Draw(c.p, c.o, f)
		if err != nil {
			t.Fatal(err)
		}
		if len(notes) == 0 || notes[0].Says != c.want {
			t.Errorf("%v, want %q", notes, c.want)
		}
		if strings.Contains(c.want, "every") && strings.Contains(found(doc), "…") {
			t.Errorf("%s, and something is shortened", c.want)
		}
	}
}

// Printed on both sides, every face is used before a panel is added, and side B begins inside.
func TestDuplexUsesAllFaces(t *testing.T) {
	f := testFonts(t)
	o, err := Options{Duplex: true}.filled()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []planner.Plan{of(36), of(60), full()} {
		c := newCard(p, 0, o, f, f.Letters())
		n := 0
		for _, q := range c.pieces(280) {
			for i, q := range q.panels {
				if q.back != nil && len(q.back.Texts()) > 0 {
					n++
				}
				if q.width == DefaultFold && len(q.face.Texts()) == 0 {
					t.Errorf("the front of panel %d is blank", i)
				}
			}
		}
		if c.list.folds > 0 && n == 0 {
			t.Error("the backs are blank")
		}
		one, _ := Options{}.filled()
		single := newCard(p, 0, one, f, f.Letters())
		single.layOut()
		if len(single.list.cut) == 0 && c.list.folds >= single.list.folds {
			t.Errorf("%d fold-outs printed on both sides, %d on one", c.list.folds, single.list.folds)
		}
	}
}

// The design for a pen: numbers and times are there, titles are not, and the
// lines stand at least 5 mm apart.
func TestRuled(t *testing.T) {
	f := testFonts(t)
	for _, n := range []int{6, 20, 60, 82} {
		p := ferryplan.Plan(ferryplan.Tape(ferryplan.C90, (n+1)/2, n/2))
		o, _ := Options{Design: ruled}.filled()
		c := newCard(p, 0, o, f, f.Letters())
		var ys []float64
		times := 0
		for _, piece := range c.pieces(280) {
			for _, q := range piece.panels {
				last := -99.0
				for _, b := range q.face.Texts() {
					for _, s := range p.Tapes[0].Sides {
						for _, tr := range s.Tracks {
							if strings.Contains(b.Text, tr.Title) || strings.Contains(b.Text, tr.Artist) {
								t.Errorf("%d tracks: %q is printed", n, b.Text)
							}
						}
					}
					if regexp.MustCompile(`^\d+:\d\d$`).MatchString(b.Text) && b.X > 30 {
						times++
						if y := b.Y + b.H; y > last {
							ys, last = append(ys, y-last), y
						}
					}
				}
			}
		}
		for _, gap := range ys {
			if gap < penLeast-0.3 {
				t.Errorf("%d tracks: two lines are %.2f mm apart", n, gap)
			}
		}
		if times < n {
			t.Errorf("%d tracks, and %d times are printed", n, times)
		}
	}
}

// A set's shades run evenly from light to the ink, each with a number that is
// read on it: large type wants 3 to 1 (WCAG 2.1, 1.4.3).
func TestSetScale(t *testing.T) {
	for _, ink := range Inks() {
		for _, stock := range Stocks() {
			l := palette(ink, stock)
			for of := 2; of <= 9; of++ {
				for n := 1; n <= of; n++ {
					g := shade(l, n, of)
					if best := max(g.Contrast(l.Ink), g.Contrast(l.Stock)); best < 3 {
						t.Errorf("%s on %s, %d of %d: %.2f to 1", ink, stock, n, of, best)
					}
					if n > 1 && g.Contrast(l.Stock) <= shade(l, n-1, of).Contrast(l.Stock) {
						t.Errorf("%s on %s: %d of %d is no darker than the one before", ink, stock, n, of)
					}
				}
			}
		}
	}
}

// Sets go on as few sheets as paper allows: counted by hand from the sizes. A card
// without fold-outs is 92.2 x 101 mm, four to a sheet of A4 (193 x 258 mm within
// the edges and above the foot) or Letter (198.9 x 240.4); one with a fold-out,
// 153.7 mm wide, two; labels of 89.5 x 41.5 mm ten, or eight on Letter; mixedSet's three cards one.
func TestSheets(t *testing.T) {
	f := testFonts(t)
	set := func(n, tracks int) planner.Plan {
		var ts []planner.Tape
		for range n {
			ts = append(ts, ferryplan.Tape(ferryplan.C60, tracks, tracks))
		}
		return ferryplan.Plan(ts...)
	}
	for _, c := range []struct {
		name string
		p    planner.Plan
		o    Options
		want int
	}{
		{"4 small cards", set(4, 3), Options{}, 1},
		{"4 small cards on Letter", set(4, 3), Options{Page: "Letter"}, 1},
		{"5 small cards", set(5, 3), Options{}, 2},
		{"3 wide cards", set(3, 10), Options{}, 2},
		{"wide between small", mixedSet(), Options{}, 1},
		{"labels of 5 tapes", set(5, 3), Options{Parts: []string{"labels"}}, 1},
		{"labels of 4 tapes on Letter", set(4, 3), Options{Parts: []string{"labels"}, Page: "Letter"}, 1},
		{"card, spine and box of one tape", of(20), Options{Parts: []string{"card", "spine", "box"}}, 1},
		{"labels apart from cards", of(20), Options{Parts: []string{"card", "labels"}}, 2},
		{"a box label too high for a turned sheet, beside a card too wide for an upright one", of(60), Options{Parts: []string{"card", "box"}, BoxHeight: 175}, 2},
	} {
		doc, _, err := Draw(c.p, c.o, f)
		if err != nil {
			t.Fatal(err)
		}
		if len(doc.Pages) != c.want {
			t.Errorf("%s: %d sheets, want %d", c.name, len(doc.Pages), c.want)
		}
	}
}

// However pieces of any sizes are laid, each is there once, within the printable
// page, and none is nearer to another than the gap; and no mark stands on any of
// them or on their bleed.
func TestImposition(t *testing.T) {
	f := testFonts(t)
	rng := rand.New(rand.NewPCG(16, 6))
	for range 300 {
		var pieces []piece
		for range 1 + rng.IntN(9) {
			p := piece{height: 20 + rng.Float64()*90}
			for range 1 + rng.IntN(4) {
				p.panels = append(p.panels, panel{width: 12 + rng.Float64()*55, face: &paper.Drawing{}})
			}
			pieces = append(pieces, p)
		}
		tint := []string{"bare", "fog"}[rng.IntN(2)]
		s := &sheets{doc: &paper.Document{}, size: paper.A4, f: f, look: palette("night", tint)}
		seen := map[int]int{}
		var all []int
		for i := range pieces {
			all = append(all, i)
		}
		for _, sh := range append(s.fewest(pieces, all), s.fewest(pieces, all[:len(all)/2])...) {
			for i, a := range sh.spots {
				pa := pieces[a.piece]
				seen[a.piece]++
				if a.x < pageEdge-1e-6 || a.y < pageEdge-1e-6 || a.x+pa.width() > sh.w-pageEdge+1e-6 || a.y+pa.height > sh.h-pageEdge-footHeight+1e-6 {
					t.Fatalf("a piece of %.1f x %.1f at %.1f, %.1f leaves a page of %g x %g", pa.width(), pa.height, a.x, a.y, sh.w, sh.h)
				}
				for _, b := range sh.spots[:i] {
					pb := pieces[b.piece]
					apart := max(a.x-b.x-pb.width(), b.x-a.x-pa.width(), a.y-b.y-pb.height, b.y-a.y-pa.height)
					if apart < between-1e-6 {
						t.Fatalf("two pieces are %.2f mm apart", apart)
					}
				}
			}
			page := &paper.Page{Width: sh.w, Height: sh.h}
			s.marks(page, pieces, sh.spots)
			lines := page.Lines()
			if len(lines) == 0 {
				t.Fatal("no marks at all")
			}
			off := 0.99
			if tint == "fog" {
				off = bleed
			}
			for _, m := range lines {
				for _, a := range sh.spots {
					p := pieces[a.piece]
					if m.X+m.W > a.x-off && m.X < a.x+p.width()+off && m.Y+m.H > a.y-off && m.Y < a.y+p.height+off {
						t.Fatalf("%s: a mark at %.2f, %.2f, %.2f x %.2f stands on a piece at %.2f, %.2f, %.2f x %.2f", tint, m.X, m.Y, m.W, m.H, a.x, a.y, p.width(), p.height)
					}
				}
			}
		}
		if got := s.fewest(pieces, all); got != nil && len(seen) != len(pieces) {
			t.Fatalf("%d of %d pieces are laid", len(seen), len(pieces))
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
		{Options{Design: "spiral"}, `no design "spiral"; choose wound, line, plain, ruled, auto`},
		{Options{Ink: "blood"}, `no ink "blood"; choose night, soot, rust, kelp, plum`},
		{Options{Stock: "x"}, `no stock "x"; choose bare, fog, chart, dawn, foam`},
		{Options{Parts: []string{"card", "lid"}}, `no part "lid"; choose card, labels, spine, box`},
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
		c := newCard(p, 0, o, fonts, fonts.Letters())
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
