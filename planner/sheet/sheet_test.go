package sheet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/mattn/go-runewidth"

	"longside/planner"
	"longside/planner/paper"
	"longside/testdata/ferryplan"
	"longside/testdata/gallery"
	"longside/testdata/reftool"
)

func testFonts(t testing.TB) *paper.Fonts {
	t.Helper()
	f, err := paper.NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// crossing is a plan on which everything happens that a sheet can say.
func crossing() planner.Plan {
	p := ferryplan.Plan(ferryplan.Tape(ferryplan.C120, 9, 8))
	p.Terms.UsedTape = true
	p.Terms.DeckSpeedPct = -0.6
	a := p.Tapes[0].Sides[0].Tracks
	a[1].Joined, a[1].GapS = true, 0
	a[2].FadeS = planner.Seconds(4 * time.Second)
	a[3].GapS = planner.Seconds(10 * time.Second)
	a[4].LengthFrom, a[5].LengthFrom = "typed", "estimated"
	for i := range a {
		a[i].Level = &planner.TrackLevel{IntegratedLUFS: -14 - float64(i), TruePeakDBTP: -1, LoudestS: planner.Seconds(time.Minute), TrimDB: float64(i) - 3.5}
	}
	for i := range a { // loudness that swells and falls, in steps of 400 ms
		l := a[i].Level
		l.CourseStepS = planner.Seconds(400 * time.Millisecond)
		for k := range int(a[i].LengthS.D()/(400*time.Millisecond)) + 1 {
			swell := 20*math.Sin(float64(k)*0.02+float64(i)) + 8*math.Sin(float64(k)*0.7)
			l.Course = append(l.Course, byte(70+swell))
		}
		l.MeterMaxDBFS, l.MeterMaxS = -6+float64(i%3), planner.Seconds(30*time.Second)
	}
	p.Terms.Levels = &planner.LevelTerms{}
	p.Setting = &planner.LevelSetting{Tape: 1, Side: "A", Track: a[8].Title, AtS: a[8].StartS + planner.Seconds(30*time.Second), InTrackS: planner.Seconds(30 * time.Second), PlaceDBFS: -2,
		Readings: []planner.Reading{{TapeType: "II", ZeroNWb: 250, DB: 2, ToneDBFS: -4}}}
	p.Echoes = []planner.Echo{{Tape: 1, Side: "A", AtS: planner.Seconds(22 * time.Minute), RiseLU: 28}, {Tape: 1, Side: "A", AtS: planner.Seconds(46 * time.Minute), RiseLU: 52}, {Tape: 1, Side: "B", AtS: 0}}
	p.Terms.Deck = &planner.Deck{Name: "the chart room's", Heads: 2, AutoStop: "none", MeterZero: 250}
	p.Warnings = []planner.Warning{
		{About: "deck", Severity: planner.Caution, Says: "C120 is longer than most decks' manuals allow; keep the path clean and wind once end to end first."},
		{About: "tail", Severity: planner.Caution, Tape: 1, Side: "A", Says: "From 54:00 the tape is thin and near its end: leave it blank, or give it to a track that can bear it."},
		{About: "blank", Severity: planner.Remark, Tape: 1, Side: "B", Says: "3:20 is left at the end of side B."},
	}
	return p
}

// said is everything a sheet says, a line for each thing.
func said(p planner.Plan) (out []string) {
	s := Of(p)
	out = append(out, s.Note)
	for _, f := range s.Facts {
		out = append(out, f.Label, f.Value)
	}
	steps := func(ss []Step) {
		for _, st := range ss {
			out = append(out, st.Do, st.How)
			out = append(out, st.Write...)
		}
	}
	steps(s.Before)
	out = append(out, s.Care...)
	for _, part := range s.Parts {
		out = append(out, part.Name, part.Tape)
		out = append(out, part.First...)
		for _, r := range part.Rows {
			out = append(out, fmt.Sprint(r.Number), r.Start, r.Counter, r.Length, r.Trim, r.Title, r.Artist, r.Gap, r.Note)
		}
		out = append(out, part.Tail...)
		out = append(out, part.Care...)
		steps(part.Then)
	}
	steps(s.After)
	return out
}

// joined brings a text to words with single blanks between them.
func joined(s string) string { return strings.Join(strings.Fields(s), " ") }

// TestAllSayTheSame: text, pages and HTML hold every word of the content.
func TestAllSayTheSame(t *testing.T) {
	p := crossing()
	doc, notes, err := Draw(p, Options{}, testFonts(t))
	if err != nil || len(notes) > 0 {
		t.Fatal(err, notes)
	}
	pages := ""
	for _, page := range doc.Pages {
		for _, b := range page.Texts() {
			pages += b.Text + " "
		}
	}
	for name, all := range map[string]string{
		"text": Text(p, 80), "pages": pages, "html": words(t, HTML(p, Options{})),
	} {
		// Lines end at blanks and behind hyphens, so blanks do not count.
		bare := func(s string) string { return strings.ReplaceAll(joined(s), " ", "") }
		all = bare(all)
		for _, want := range said(p) {
			if !strings.Contains(all, bare(want)) {
				t.Errorf("the %s does not say %q", name, want)
			}
		}
	}
}

// words takes the text out of HTML that is written as XML.
func words(t *testing.T, page []byte) string {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(page))
	d.Entity = xml.HTMLEntity
	var b strings.Builder
	skip := ""
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return b.String()
		}
		if err != nil {
			t.Fatalf("%v", err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if e.Name.Local == "script" {
				t.Error("there is a script in the page")
			}
			for _, a := range e.Attr {
				if strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "src" || a.Name.Local == "href" {
					t.Errorf("<%s %s=%q> runs or fetches something", e.Name.Local, a.Name.Local, a.Value)
				}
			}
			if e.Name.Local == "style" {
				skip = "style"
			}
		case xml.EndElement:
			skip = ""
			b.WriteByte(' ')
		case xml.CharData:
			if skip == "" {
				b.Write(e)
			}
		}
	}
}

// What must come before what, so that nobody is hurt and nothing is lost.
func TestOrder(t *testing.T) {
	for name, text := range map[string]string{"text": Text(crossing(), 200), "html": joined(words(t, HTML(crossing(), Options{})))} {
		inOrder(t, name, text)
	}
}

func inOrder(t *testing.T, name, text string) {
	t.Helper()
	at := 0
	for _, s := range []string{
		"Check the tabs.", "Clean heads", "Wind the tape", "slack", "Turn the monitor down.", "400 Hz", "10 kHz at -20 dB (or -15 dB)",
		"Wind fully back", "Keep record running, with the source silent",
		"Side A", "Press record", "The last track ends at", "Let side A run, or wind, to its very end.", "Turn the tape over",
		"Side B", "Press record", "After", "Take the tabs out.",
	} {
		i := strings.Index(text[at:], s)
		if i < 0 {
			t.Fatalf("%s: %q does not come where it should, behind %q", name, s, text[max(at-60, 0):at])
		}
		at += i
	}
}

// Each reading that the checklist asks for has its place: two a tape and step
// before a set, and none where no tone may be recorded.
func TestReadings(t *testing.T) {
	c60 := func() planner.Tape { return ferryplan.Tape(ferryplan.C60, 3, 3) }
	for _, c := range []struct {
		tapes int
		want  int
	}{{1, 6}, {2, 10}, {3, 14}, {5, 6}} {
		var ts []planner.Tape
		for range c.tapes {
			ts = append(ts, c60())
		}
		p := ferryplan.Plan(ts...)
		n := 0
		for _, s := range Of(p).Before {
			n += len(s.Write)
		}
		if n != c.want {
			t.Errorf("%d tapes: %d places to write, want %d", c.tapes, n, c.want)
		}
		doc, _, err := Draw(p, Options{}, testFonts(t))
		if err != nil {
			t.Fatal(err)
		}
		boxes := 0
		for _, b := range doc.Pages[0].Lines() {
			if math.Abs(b.W-17) < 0.01 && math.Abs(b.H-5.6) < 0.01 {
				boxes++
			}
		}
		if boxes != n {
			t.Errorf("%d tapes: %d boxes on the page for %d readings", c.tapes, boxes, n)
		}
		if got := strings.Count(string(HTML(p, Options{})), `size="8"`); got != n {
			t.Errorf("%d tapes: %d fields in the page for %d readings", c.tapes, got, n)
		}
	}
	p := crossing()
	p.Tapes[0].Sides[0].Tracks[0].Recorded = true
	for _, s := range Of(p).Before {
		if len(s.Write) > 0 {
			t.Errorf("%q asks for readings over what is recorded", s.Do)
		}
	}
}

// A place for a pen beside each start and level, but not beside what is recorded.
func TestPencil(t *testing.T) {
	p := crossing() // 9 tracks on side A
	p.Tapes[0].Sides[0].Tracks[0].Recorded = true
	doc, _, err := Draw(p, Options{}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, b := range doc.Pages[1].Lines() {
		if math.Abs(b.W-penWide) < 0.01 {
			n++
			if b.H < 5 {
				t.Errorf("a place of %.1f mm is too low for a pen", b.H)
			}
		}
	}
	if n != 16 {
		t.Errorf("%d places on side A, want two for each of eight tracks", n)
	}
	a := p.Tapes[0].Sides[0].Tracks
	for i := range a {
		a[i].Counter = nil
	}
	if text := Text(p, 80); strings.Count(text, "____  ") == 0 || strings.Contains(text[:strings.Index(text, "Side B - ")], "counter  read") {
		t.Error("a deck that counts time has a place for the counter, or none for the level")
	}
}

// The map: the course stands under the strip, with the loudest place where it is:
// 46:50 of 60:00 is 140.5 mm from the left of 180 mm.
func TestMap(t *testing.T) {
	p := crossing()
	doc, _, err := Draw(p, Options{}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	want := edge + 180*(46+50.0/60)/60
	found := false
	for _, b := range doc.Pages[1].Lines() {
		found = found || b.W == 0 && math.Abs(b.X-want) < 0.05 && b.H > courseTall
	}
	if !found {
		t.Errorf("no line at %.2f mm marks the loudest place", want)
	}
	text := Text(p, 100)
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		if strings.TrimSpace(l) == "^" {
			// 96 columns for 60 minutes: 46:50 is 74.9 of them.
			if got, want := strings.Index(l, "^")-4, 74; got != want {
				t.Errorf("the loudest place is in column %d, want %d", got, want)
			}
			if digits := strings.TrimSpace(lines[i-1]); len(digits) < 80 || strings.Trim(digits, "012345 ") != "" {
				t.Errorf("the loudness is %q", digits)
			}
		}
	}
	if !strings.Contains(text, "^") || !strings.Contains(string(HTML(p, Options{})), `<svg class="course"`) {
		t.Error("no map in the text or the page")
	}
	p.Setting = nil // then the place with the highest reading of the side's own tracks
	a := p.Tapes[0].Sides[0].Tracks
	for i := range a {
		a[i].Level.MeterMaxDBFS = -40
	}
	a[2].Level.MeterMaxDBFS = -1
	if s := Of(p).Parts[0]; s.SetHere || s.LoudestAt != a[2].StartS+planner.Seconds(30*time.Second) {
		t.Errorf("loudest at %v, set here %v", s.LoudestAt, s.SetHere)
	}
}

// Worked by hand: side A of a C120 runs 60:00; a track from 0:07 that lasts 10:00
// ends at 10:07 and leaves 49:53.
func TestTail(t *testing.T) {
	p := ferryplan.Plan(ferryplan.Tape(ferryplan.C120, 1, 0))
	tr := &p.Tapes[0].Sides[0].Tracks[0]
	tr.LengthS = planner.Seconds(10 * time.Minute)
	text := joined(Text(p, 80))
	for _, want := range []string{
		"The last track ends at 10:07; the tail is 49:53 by the tape's nominal length, which runs out at 60:00.",
		"From 54:00 the tape is on the inner turns of the pack",
		"Nothing is planned on this side; it runs 60:00.",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

func TestColumns(t *testing.T) {
	p := crossing()
	p.Title = strings.Repeat("crossing ", 30)
	p.Tapes[0].Sides[0].Tracks[0].Title = strings.Repeat("夜行船", 40)
	p.Tapes[0].Sides[0].Tracks[1].Title = "אור 12 על המים"
	p.Tapes[0].Sides[0].Tracks[2].Title = "a\tb\x1b[31m\u202Ec"
	for _, w := range []int{0, 10, 40, 60, 80, 132} {
		most := max(w, least)
		if w == 0 {
			most = 80
		}
		for _, l := range strings.Split(Text(p, w), "\n") {
			if got := runewidth.StringWidth(l); got > most {
				t.Errorf("%d columns, asked for %d: %q", got, w, l)
			}
			if strings.ContainsAny(l, "\x1b\t\u202E") {
				t.Errorf("a control character in %q", l)
			}
		}
	}
	if !strings.Contains(Text(p, 80), "\u2068אור 12 על המים\u2069") {
		t.Error("a title from right to left is not isolated")
	}
}

// TestIsolates: on every line of the text each mark that opens an isolated name is
// closed, also where the name is cut or runs on, and the text of every Hebrew or
// Arabic letter stands between such marks (UAX #9, BD9: isolates match within a
// paragraph, which a line is to a terminal).
func TestIsolates(t *testing.T) {
	names := []string{"אור 12 על המים", strings.Repeat("אורעלהמים", 20), strings.Repeat("אור על המים ", 20), "Bell אור", "ليل طويل", "x" + strings.Repeat("ليل", 40)}
	p := crossing()
	for i := range p.Tapes[0].Sides[0].Tracks {
		tr := &p.Tapes[0].Sides[0].Tracks[i]
		tr.Title, tr.Artist = names[i%len(names)], names[(i/2+3)%len(names)]
	}
	for w := 40; w <= 132; w++ {
		letters := 0
		for _, l := range strings.Split(Text(p, w), "\n") {
			open := 0
			for _, r := range l {
				switch {
				case r == '\u2068':
					open++
				case r == '\u2069':
					open--
				case unicode.In(r, unicode.Hebrew, unicode.Arabic):
					letters++
					if open != 1 {
						t.Fatalf("%d columns: a letter from right to left within %d marks: %q", w, open, l)
					}
				}
				if open < 0 || open > 1 {
					t.Fatalf("%d columns: the marks of %q do not match", w, l)
				}
			}
			if open != 0 {
				t.Fatalf("%d columns: a name is left open: %q", w, l)
			}
			if n := runewidth.StringWidth(l); n > w {
				t.Fatalf("%d columns: %d: %q", w, n, l)
			}
		}
		if letters < 50 {
			t.Fatalf("%d columns: only %d letters from right to left", w, letters)
		}
	}
}

// TestPages: up to 45 tracks a side there is one page a side, and on every page
// all text lies within 9 mm of the edge and none overlaps.
func TestPages(t *testing.T) {
	f := testFonts(t)
	crowded := crossing()
	for i := range 40 {
		crowded.Warnings = append(crowded.Warnings, planner.Warning{Tape: 1, Side: []string{"A", ""}[i%2], Says: fmt.Sprintf("Warning %d: the fog is thick and the bell is out of order; wait for the next tide.", i)})
	}
	for _, c := range []struct {
		name  string
		plan  planner.Plan
		pages int
	}{
		{"empty", ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 0, 0)), 3},
		{"one side", ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 4)), 2},
		{"20", ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 10, 10)), 3},
		{"60", ferryplan.Plan(ferryplan.Tape(ferryplan.C120, 30, 30)), 3},
		{"90", ferryplan.Plan(ferryplan.Tape(ferryplan.C120, 45, 45)), 3},
		{"400", ferryplan.Plan(ferryplan.Tape(ferryplan.C120, 200, 200)), 0},
		{"set of 3", ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 5, 5), ferryplan.Tape(ferryplan.C60, 5, 5), ferryplan.Tape(ferryplan.C60, 5, 5)), 7},
		{"everything", crossing(), 3},
		{"crowded", crowded, 0},
		{"long", ferryplan.Rename(ferryplan.Plan(ferryplan.Tape(ferryplan.C90, 18, 18)), ferryplan.Long(1), strings.Repeat("W", 500)), 3},
	} {
		for _, page := range []string{"A4", "Letter"} {
			doc, _, err := Draw(c.plan, Options{Page: page}, f)
			if err != nil {
				t.Fatal(err)
			}
			if c.pages > 0 && len(doc.Pages) != c.pages {
				t.Errorf("%s on %s: %d pages, want %d", c.name, page, len(doc.Pages), c.pages)
			}
			for n, pg := range doc.Pages {
				texts := pg.Texts()
				for i, b := range texts {
					if b.X < edge-1 || b.Y < 9 || b.X+b.W > pg.Width-edge+1 || b.Y+b.H > pg.Height-9 {
						t.Errorf("%s on %s, page %d: %.40q leaves the page", c.name, page, n+1, b.Text)
					}
					for _, o := range texts[:i] {
						if b.Overlaps(o, 0.1) {
							t.Errorf("%s on %s, page %d: %.40q and %.40q overlap", c.name, page, n+1, b.Text, o.Text)
						}
					}
				}
			}
		}
	}
}

func TestGallery(t *testing.T) {
	f := testFonts(t)
	for name, p := range map[string]planner.Plan{"sheet-20": ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 10, 10)), "sheet-everything": crossing()} {
		doc, _, err := Draw(p, Options{}, f)
		if err != nil {
			t.Fatal(err)
		}
		for i := range doc.Pages {
			img, err := doc.Raster(i, gallery.DPI)
			if err != nil {
				t.Fatal(err)
			}
			gallery.Same(t, fmt.Sprintf("%s-%d", name, i+1), img)
		}
	}
}

func TestPDF(t *testing.T) {
	qpdf, pdffonts := reftool.Need(t, "qpdf"), reftool.Need(t, "pdffonts")
	doc, _, err := Draw(crossing(), Options{Page: "Letter"}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	data, err := doc.PDF()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(qpdf, "--check", path).CombinedOutput(); err != nil {
		t.Errorf("%s", out)
	}
	if out, _ := exec.Command(pdffonts, path).CombinedOutput(); strings.Count(string(out), "yes yes yes") != 1 {
		t.Errorf("%s", out)
	}
}

// A tag cannot become markup, a link or a script.
func TestHostileHTML(t *testing.T) {
	p := ferryplan.Rename(crossing(), `<script>alert("x")</script>`, `"><img src=x onerror=alert(1)>`, "</title></style><a href='javascript:0'>", "\x00\x1b\u202E&amp;")
	p.Title, p.Note = `</title><script>1</script>`, `<b onclick="x">`
	page := HTML(p, Options{Language: `en" onload="x`, Page: "Letter"})
	all := words(t, page)
	for _, want := range []string{`<script>alert("x")</script>`, `"><img src=x onerror=alert(1)>`, `</title><script>1</script>`} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not shown as it was written", want)
		}
	}
	if bytes.ContainsAny(page, "\x00\x1b") || bytes.Contains(page, []byte("\u202E")) {
		t.Error("a control character went through")
	}
}

func TestBadRequest(t *testing.T) {
	f := testFonts(t)
	if _, _, err := Draw(crossing(), Options{Page: "A3"}, f); err == nil || err.Error() != `no paper size "A3"; use A4 or Letter` {
		t.Error(err)
	}
	if _, _, err := Draw(planner.Plan{}, Options{}, f); err == nil {
		t.Error("a sheet of a plan without a tape")
	}
}

// FuzzText: whatever the tags hold, no line is wider than asked and no control
// character comes through.
func FuzzText(f *testing.F) {
	for _, s := range []string{"Bell Buoy", "", "a\nb\x00\x1b[2J", "\u202Etxet", "夜夜夜", "👩‍🚀 e\u0301", strings.Repeat("x", 500), "\u2068אור\u2069"} {
		f.Add(s, 60)
	}
	f.Fuzz(func(t *testing.T, s string, width int) {
		p := ferryplan.Rename(crossing(), s)
		p.Title, p.Note = s, s
		p.Tapes[0].Sides[1].Tracks[0].Artist = s
		width = 40 + (width%100+100)%100
		for _, l := range strings.Split(Text(p, width), "\n") {
			if got := runewidth.StringWidth(l); got > width {
				t.Errorf("%d columns, asked for %d: %q", got, width, l)
			}
			if i := strings.IndexFunc(l, func(r rune) bool { return r < ' ' || r >= 0x7F && r < 0xA0 }); i >= 0 {
				t.Errorf("a control character in %q", l)
			}
		}
	})
}

func BenchmarkSheet(b *testing.B) {
	p := crossing()
	f := testFonts(b)
	for b.Loop() {
		d, _, err := Draw(p, Options{}, f)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := d.PDF(); err != nil {
			b.Fatal(err)
		}
	}
}

// Rows of one line take what room the page has, up to what a pen needs: 24 on a side
// would go into 4.3 mm each.
func TestRowsForAPen(t *testing.T) {
	doc, _, err := Draw(ferryplan.Plan(ferryplan.Tape(ferryplan.C90, 24, 24)), Options{}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]float64{} // of the numbers of tracks below the strip
	for _, b := range doc.Pages[1].Texts() {
		if b.X < edge+15 && b.Y > 60 {
			at[b.Text] = b.Y
		}
	}
	if pitch := (at["24"] - at["4"]) / 20; pitch < 6 || pitch > penTall+0.1 {
		t.Errorf("a row is %.2f mm tall", pitch)
	}
}

// Of marks that would touch the strongest stands for the others.
func TestEchoMarksApart(t *testing.T) {
	at := func(s, rise float64) planner.Echo { return planner.Echo{AtS: planner.Seconds(s * 1e9), RiseLU: rise} }
	got := apart([]planner.Echo{at(10, 42), at(14, 50), at(18, 43), at(24, 41), at(25, 41), at(40, 55)}, 5)
	var where []float64
	for _, e := range got {
		where = append(where, e.AtS.D().Seconds())
	}
	if fmt.Sprint(where) != "[14 24 40]" { // 18 is near 14, 25 near 24
		t.Errorf("marks at %v", where)
	}
}
