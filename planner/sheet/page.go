package sheet

import (
	"errors"
	"fmt"

	"longside/planner"
	"longside/planner/paper"
)

// Options say what the sheet is printed on.
type Options struct {
	Page string // A4 or Letter; empty: A4
}

// The page's one type scale (points) and margins (mm). The rows of a side are
// as large as fit on one page, between the two row sizes: read from arm's length.
const (
	edge      = 15.0
	titleSize = 20.0
	headSize  = 13.0
	bodySize  = 10.0
	smallSize = 8.5
	rowMost   = 12.5
	rowLeast  = 6.5
	leading   = 1.3
)

var look = paper.Plain

// Draw draws the sheet: a page to prepare by and a page for each side.
// The notes say what a person should know of the drawing, one sentence each.
func Draw(p planner.Plan, o Options, f *paper.Fonts) (*paper.Document, []string, error) {
	size, ok := paper.Sheet(o.Page)
	if !ok {
		return nil, nil, fmt.Errorf("no paper size %q; use A4 or Letter", o.Page)
	}
	if len(p.Tapes) == 0 {
		return nil, nil, errors.New("the plan has no tape to write a run sheet for")
	}
	s := Of(p)
	d := &drawer{doc: &paper.Document{Title: paper.Clean(s.Title)}, size: size, f: f}
	d.preparation(s)
	for i, part := range s.Parts {
		d.side(s, part, i+2, len(s.Parts)+1)
	}
	return d.doc, d.notes, nil
}

// drawer sets pages from top to bottom; y is how far it has come.
type drawer struct {
	doc   *paper.Document
	page  *paper.Page
	size  paper.Size
	f     *paper.Fonts
	y     float64
	notes []string
}

func (d *drawer) width() float64 { return d.size.Width - 2*edge }

func (d *drawer) right() float64 { return d.size.Width - edge }

func mm(points float64) float64 { return points * paper.MMPerPoint }

// newPage begins a page with its head and foot.
func (d *drawer) newPage(left, right string, n, of int) {
	d.page = d.doc.Add(d.size.Width, d.size.Height)
	d.y = edge + mm(titleSize)*0.75
	r := d.f.Line(right, paper.Bold)
	d.page.Text(d.right(), d.y, r, headSize, paper.Black, paper.Right)
	l, _ := d.f.Fit(left, paper.Bold, titleSize, d.width()-r.Width(headSize)-6)
	d.page.Text(edge, d.y, l, titleSize, paper.Black, paper.Left)
	d.y += 3
	d.page.Line(edge, d.y, d.right(), d.y, paper.Stroke(paper.Black, 0.6))
	d.y += 4
	d.page.Text(d.right(), d.size.Height-edge+4, d.f.Line(fmt.Sprintf("%d of %d", n, of), paper.Regular), smallSize, look.Soft, paper.Right)
}

// para sets words over as many lines as they take and moves down.
func (d *drawer) para(x, w float64, text string, weight paper.Weight, size float64, c paper.Colour) {
	lines, _ := d.f.Wrap(text, weight, size, w, 12)
	for _, l := range lines {
		d.y += mm(size) * leading
		d.page.Text(x, d.y-mm(size)*0.3, l, size, c, paper.Left)
	}
}

func (d *drawer) head(text string) {
	d.y += 5
	d.para(edge, d.width(), text, paper.Bold, headSize, paper.Black)
	d.y += 1
}

// box draws a box to tick, in line with type whose first baseline is to come.
func (d *drawer) box(x, size float64) {
	side := mm(size) * 0.85
	d.page.Rect(x, d.y+mm(size)*leading-mm(size)*0.3-side*0.9, side, side, paper.Stroke(paper.Black, 0.3))
}

func (d *drawer) steps(steps []Step, size float64) {
	for _, s := range steps {
		d.box(edge, size)
		d.para(edge+7, d.width()-7, s.Do, paper.Bold, size, paper.Black)
		if s.How != "" {
			d.para(edge+7, d.width()-7, s.How, paper.Regular, size, look.Soft)
		}
		d.y += mm(size) * 0.35
	}
}

// preparation is the page for before and after.
func (d *drawer) preparation(s Sheet) {
	d.newPage(s.Title, "Run sheet", 1, len(s.Parts)+1)
	if s.Note != "" {
		d.para(edge, d.width(), s.Note, paper.Regular, bodySize, look.Soft)
		d.y += 2
	}
	const label = 34.0
	for _, f := range s.Facts {
		y := d.y
		d.para(edge, label-2, f.Label, paper.Bold, bodySize, paper.Black)
		d.y = y
		d.para(edge+label, d.width()-label, f.Value, paper.Regular, bodySize, paper.Black)
	}
	d.care(s.Care)
	d.head("Before you start")
	d.steps(s.Before, bodySize)
	d.head("After the last side")
	d.steps(s.After, bodySize)
}

// care sets warnings beside a bar, so that they stand out without colour.
func (d *drawer) care(says []string) {
	if len(says) == 0 {
		return
	}
	d.y += 2.5
	top := d.y
	for _, s := range says {
		d.para(edge+5, d.width()-5, s, paper.Regular, bodySize, paper.Black)
		d.y += 0.8
	}
	d.page.Rect(edge, top+0.8, 1.4, d.y-top-0.8, paper.Fill(paper.Black))
	d.y += 1
}

// side is the page of one side.
func (d *drawer) side(s Sheet, p Part, n, of int) {
	d.newPage(p.Name, s.Title+" · "+p.Tape, n, of)
	for _, t := range p.First {
		d.box(edge, bodySize)
		d.para(edge+7, d.width()-7, t, paper.Regular, bodySize, paper.Black)
	}
	d.y += 4
	d.strip(p)
	top := d.y
	// What stands below the rows is measured on a page that is thrown away.
	foot := d.measure(func() { d.below(p) })
	room := d.size.Height - edge - foot - top
	size := rowMost
	for ; size > rowLeast; size -= 0.25 {
		if d.measure(func() { d.rows(p, size) }) <= room {
			break
		}
	}
	d.rows(p, size)
	d.below(p)
}

// measure tells how far down f goes, drawing nothing.
func (d *drawer) measure(f func()) float64 {
	page, y, notes := d.page, d.y, d.notes
	d.page = &paper.Page{Width: d.size.Width, Height: d.size.Height}
	f()
	h := d.y - y
	d.page, d.y, d.notes = page, y, notes
	return h
}

// strip draws the side to scale with its start times.
func (d *drawer) strip(p Part) {
	run := p.Side.RunS.D().Seconds()
	var st []paper.Stretch
	for i, t := range p.Side.Tracks {
		tone := paper.Darker
		if i%2 == 1 {
			tone = paper.Dark
		}
		st = append(st, paper.Stretch{From: t.StartS.D().Seconds(), To: t.EndS().D().Seconds(), Tone: tone, Label: fmt.Sprint(i + 1)})
	}
	const h = 8.0
	paper.Strip{Length: run, Stretches: st, ThinFrom: p.Side.ThinFromS.D().Seconds()}.Draw(&d.page.Drawing, d.f, edge, d.y, d.width(), h, look, smallSize)
	d.y += h
	// A tick every five minutes of the clock.
	for m := 0; run > 0 && float64(m*60) <= run; m += 5 {
		x := edge + d.width()*float64(m*60)/run
		d.page.Line(x, d.y, x, d.y+1.5, paper.Stroke(paper.Black, 0.25))
		a := paper.Centre
		if m == 0 {
			a = paper.Left
		} else if x > d.right()-4 {
			a = paper.Right
		}
		d.page.Text(x, d.y+1.5+mm(smallSize)*0.95, d.f.Line(fmt.Sprintf("%d:00", m), paper.Regular), smallSize, paper.Black, a)
	}
	d.y += 7
}

// rows sets the table of tracks at a type size.
func (d *drawer) rows(p Part, size float64) {
	f := d.f
	w := func(s string) float64 { return f.Line(s, paper.Regular).Width(size) }
	gap := mm(size) * 0.9
	box := mm(size)*0.85 + gap
	num := w("00") + gap
	start := max(w("0:00:00"), f.Line("start", paper.Regular).Width(smallSize)) + gap
	count := 0.0
	if p.Counter {
		count = max(w("000"), f.Line("counter", paper.Regular).Width(smallSize)) + gap
	}
	length := max(w("000:00"), f.Line("length", paper.Regular).Width(smallSize)) + gap
	x1 := edge + box + num // start, right edge at x1+start-gap
	x2 := x1 + start       // counter
	x3 := x2 + count       // length
	x4 := x3 + length      // title
	head := func(x float64, s string, a paper.Align) {
		d.page.Text(x, d.y+mm(smallSize), f.Line(s, paper.Regular), smallSize, look.Soft, a)
	}
	head(x1+start-gap, "start", paper.Right)
	if p.Counter {
		head(x2+count-gap, "counter", paper.Right)
	}
	head(x3+length-gap, "length", paper.Right)
	head(x4, "title", paper.Left)
	d.y += mm(smallSize) * 1.5
	line := paper.Stroke(look.Pale, 0.25)
	d.page.Line(edge, d.y, d.right(), d.y, paper.Stroke(paper.Black, 0.3))
	for _, r := range p.Rows {
		d.y += mm(size) * 0.35
		d.box(edge, size)
		base := d.y + mm(size)*leading - mm(size)*0.3
		d.page.Text(edge+box+num-gap, base, f.Line(fmt.Sprint(r.Number), paper.Regular), size, look.Soft, paper.Right)
		d.page.Text(x1+start-gap, base, f.Line(r.Start, paper.Bold), size, paper.Black, paper.Right)
		if r.Counter != "" {
			d.page.Text(x2+count-gap, base, f.Line(r.Counter, paper.Regular), size, paper.Black, paper.Right)
		}
		d.page.Text(x3+length-gap, base, f.Line(r.Length, paper.Regular), size, paper.Black, paper.Right)
		tw := d.right() - x4
		what := fmt.Sprintf("%s track %d %q", p.Name, r.Number, r.Title)
		title, cut := f.Wrap(r.Title, paper.Bold, size, tw, 2)
		for _, l := range title {
			d.y += mm(size) * leading
			d.page.Text(x4, d.y-mm(size)*0.3, l, size, paper.Black, paper.Left)
			d.missing(what, l)
		}
		if len(title) == 0 {
			d.y += mm(size) * leading
		}
		if cut {
			d.notes = append(d.notes, what+": shortened on the page; the text sheet has it whole")
		}
		sub := r.Artist
		for _, n := range []string{r.Note, r.Gap} {
			if n != "" && sub != "" {
				sub += " · "
			}
			sub += n
		}
		if sub != "" {
			l, _ := f.Fit(sub, paper.Regular, size*0.85, tw)
			d.y += mm(size*0.85) * leading
			d.page.Text(x4, d.y-mm(size*0.85)*0.3, l, size*0.85, look.Soft, paper.Left)
			d.missing(what, l)
		}
		d.y += mm(size) * 0.35
		d.page.Line(edge, d.y, d.right(), d.y, line)
	}
	d.y += 2
}

func (d *drawer) missing(what string, l paper.Line) {
	for _, r := range l.Missing() {
		d.notes = append(d.notes, fmt.Sprintf("%s: no font here holds %c (U+%04X); name one that does with --font", what, r, r))
	}
}

// below is what follows the rows: tail, warnings, the flip.
func (d *drawer) below(p Part) {
	d.y += 2
	for _, t := range p.Tail {
		d.para(edge, d.width(), t, paper.Regular, bodySize, paper.Black)
	}
	d.care(p.Care)
	if len(p.Then) > 0 {
		d.y += 2
		d.steps(p.Then, bodySize)
	}
}
