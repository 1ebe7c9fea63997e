package sheet

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"longside/planner"
	"longside/planner/paper"
)

// Options say what the sheet is printed on.
type Options struct {
	Page     string // A4 or Letter; empty: A4
	Language string // of the titles, BCP 47; empty: not said
}

// The page's one type scale (points) and margins (mm). The rows of a side are
// as large as fit on one page, between the two row sizes: read from arm's length.
const (
	edge      = 15.0
	titleSize = 20.0
	headSize  = 13.0
	bodySize  = 10.0
	smallSize = 8.5
	leading   = 1.3

	rowMost  = 12.5
	rowLeast = 8.0 // with the artist under the title
	oneLine  = 6.0 // the least with both on one line; under this the side goes on overleaf
	bodyMin  = 7.5
	mostTall = 60 // rows for which more than one line each is tried at all
	mostCare = 10 // warnings on a page; text and HTML have them all
)

var look = paper.Plain

// Draw draws the sheet: a page to prepare by and a page for each side.
// The notes say what a person should know of the drawing, one sentence each.
func Draw(p planner.Plan, o Options, f *paper.Fonts) (*paper.Document, []paper.Note, error) {
	size, ok := paper.Sheet(o.Page)
	if !ok {
		return nil, nil, fmt.Errorf("no paper size %q; use A4 or Letter", o.Page)
	}
	if len(p.Tapes) == 0 {
		return nil, nil, errors.New("the plan has no tape to write a run sheet for")
	}
	s := Of(p)
	d := &drawer{boxes: f.Letters(), doc: &paper.Document{Title: paper.Clean(s.Title), Language: o.Language}, size: size, f: f}
	whole := d.preparation(s)
	for _, part := range s.Parts {
		d.side(s, part)
	}
	if !whole {
		if d.y+d.measure(func() { d.after(s, bodySize) }) > size.Height-edge {
			d.newPage(s.Title, "Run sheet")
		}
		d.after(s, bodySize)
	}
	for i, page := range d.doc.Pages {
		n := f.Line(fmt.Sprintf("%d of %d", i+1, len(d.doc.Pages)), paper.Regular)
		page.Text(d.right(), size.Height-edge+5, n, smallSize, look.Soft, paper.Right)
	}
	return d.doc, append(d.notes, d.boxes.Notes()...), nil
}

// drawer sets pages from top to bottom; y is how far it has come.
type drawer struct {
	doc   *paper.Document
	page  *paper.Page
	size  paper.Size
	f     *paper.Fonts
	y     float64
	notes []paper.Note
	boxes *paper.Letters // letters that print as boxes; nil while only measuring
}

func (d *drawer) width() float64 { return d.size.Width - 2*edge }

func (d *drawer) right() float64 { return d.size.Width - edge }

func mm(points float64) float64 { return points * paper.MMPerPoint }

// newPage begins a page with its head.
func (d *drawer) newPage(left, right string) {
	d.page = d.doc.Add(d.size.Width, d.size.Height)
	d.y = edge + mm(titleSize)*0.75
	r, _ := d.f.Fit(right, paper.Bold, headSize, d.width()*0.6)
	d.page.Text(d.right(), d.y, r, headSize, paper.Black, paper.Right)
	l, _ := d.f.Fit(left, paper.Bold, titleSize, d.width()-r.Width(headSize)-6)
	d.page.Text(edge, d.y, l, titleSize, paper.Black, paper.Left)
	d.y += 3
	d.page.Line(edge, d.y, d.right(), d.y, paper.Stroke(paper.Black, 0.6))
	d.y += 4
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

// cross strikes the box at x: it is done already.
func (d *drawer) cross(x, size float64) {
	side := mm(size) * 0.85
	top := d.y + mm(size)*leading - mm(size)*0.3 - side*0.9
	d.page.Line(x, top, x+side, top+side, paper.Stroke(paper.Black, 0.3))
	d.page.Line(x, top+side, x+side, top, paper.Stroke(paper.Black, 0.3))
}

func (d *drawer) steps(steps []Step, size float64) {
	for _, s := range steps {
		d.box(edge, size)
		d.para(edge+7, d.width()-7, s.Do, paper.Bold, size, paper.Black)
		if s.How != "" {
			d.para(edge+7, d.width()-7, s.How, paper.Regular, size, look.Soft)
		}
		d.blanks(edge+7, d.width()-7, s.Write, size)
		d.y += mm(size) * 0.35
	}
}

// blanks draws a box to write into behind each of some labels, in rows.
func (d *drawer) blanks(x, w float64, labels []string, size float64) {
	const wide, high = 17.0, 5.6 // mm: room for a figure by pen
	if len(labels) == 0 {
		return
	}
	at := 0.0
	d.y += 0.8
	for i, label := range labels {
		l := d.f.Line(label, paper.Regular)
		need := l.Width(size) + 1.5 + wide
		if at > 0 && at+need > w {
			at, d.y = 0, d.y+high+0.8
		}
		d.page.Text(x+at, d.y+high-1.6, l, size, paper.Black, paper.Left)
		d.page.Rect(x+at+l.Width(size)+1.5, d.y, wide, high, paper.Stroke(penInk, 0.25))
		if at += need + 5; i == len(labels)-1 {
			d.y += high
		}
	}
}

// preparation is the page for before and, where there is room, after; it tells
// whether there was.
func (d *drawer) preparation(s Sheet) (whole bool) {
	d.newPage(s.Title, "Run sheet")
	d.boxes.Look("the title", d.f.Line(s.Title, paper.Bold))
	for _, after := range []bool{true, false} {
		for size := bodySize; size >= bodyMin; size -= 0.25 {
			if d.y+d.measure(func() { d.prepare(s, size, after) }) <= d.size.Height-edge {
				d.prepare(s, size, after)
				return after
			}
		}
	}
	d.prepare(s, bodyMin, false)
	return false
}

func (d *drawer) prepare(s Sheet, size float64, after bool) {
	if s.Note != "" {
		d.para(edge, d.width(), s.Note, paper.Regular, size, look.Soft)
		d.y += 2
	}
	const label = 34.0
	for _, f := range s.Facts {
		y := d.y
		d.para(edge, label-2, f.Label, paper.Bold, size, paper.Black)
		d.y = y
		d.para(edge+label, d.width()-label, f.Value, paper.Regular, size, paper.Black)
	}
	d.care(s.Care, size)
	d.head("Before you start")
	d.steps(s.Before, size)
	if after {
		d.after(s, size)
	}
}

func (d *drawer) after(s Sheet, size float64) {
	d.head("After the last side")
	d.steps(s.After, size)
}

// care sets warnings beside a bar, so that they stand out without colour.
func (d *drawer) care(says []string, size float64) {
	if len(says) == 0 {
		return
	}
	if over := len(says) - mostCare; over > 0 {
		says = append(append([]string(nil), says[:mostCare]...), fmt.Sprintf("And %d more: the text sheet has them all.", over))
	}
	d.y += 2.5
	top := d.y
	for _, s := range says {
		d.para(edge+5, d.width()-5, s, paper.Regular, size, paper.Black)
		d.y += 0.8
	}
	d.page.Rect(edge, top+0.8, 1.4, d.y-top-0.8, paper.Fill(paper.Black))
	d.y += 1
}

// side is the page of one side; only a list too long for any page goes on overleaf.
func (d *drawer) side(s Sheet, p Part) {
	head := s.Title + " · " + p.Tape
	d.newPage(p.Name, head)
	for _, t := range p.First {
		d.box(edge, bodySize)
		d.para(edge+7, d.width()-7, t, paper.Regular, bodySize, paper.Black)
	}
	d.y += 4
	d.strip(p)
	foot := d.measure(func() { d.below(p) })
	room := func() float64 { return d.size.Height - edge - foot - d.y }
	t := table{rows: p.Rows, counter: p.Counter, trims: p.Trims, name: p.short}
	if len(p.Rows) <= mostTall {
		for _, t.lines = range []int{6, 2} { // whole titles before large type
			for t.size = rowMost; t.size >= rowLeast; t.size -= 0.25 {
				if d.measure(func() { d.rows(t) }) <= room() {
					d.rows(t)
					d.below(p)
					return
				}
			}
		}
	}
	// One line a track: all rows are of one height, so two tell how many fit.
	t.flat, t.size, t.pad = true, rowLeast, flatPad
	fits := func() int {
		one := d.measure(func() { d.rows(t.only(0, 1)) })
		two := d.measure(func() { d.rows(t.only(0, 2)) })
		return max(1+int((room()-one)/(two-one)), 1)
	}
	for t.size > oneLine && fits() < len(t.rows) {
		t.size -= 0.25
	}
	// What room is left makes the rows taller, for a pen.
	for t.height() < penTall {
		was := t.pad
		if t.pad += 0.02; fits() < len(t.rows) {
			t.pad = was
			break
		}
	}
	for len(t.rows) > 0 {
		n := len(t.rows)
		if n > 1 {
			n = min(n, fits())
		}
		d.rows(t.only(0, n))
		if t.rows = t.rows[n:]; len(t.rows) > 0 {
			d.newPage(p.Name+", continued", head)
		}
	}
	d.below(p)
}

// only is a table of some of the rows.
func (t table) only(from, to int) table {
	t.rows = t.rows[from:to]
	return t
}

// measure tells how far down f goes, drawing nothing.
func (d *drawer) measure(f func()) float64 {
	page, y, notes, boxes := d.page, d.y, d.notes, d.boxes
	d.boxes = nil
	d.page = &paper.Page{Width: d.size.Width, Height: d.size.Height}
	f()
	h := d.y - y
	d.page, d.y, d.notes, d.boxes = page, y, notes, boxes
	return h
}

// strip draws the side to scale: minutes above it, and below it each track's
// start and counter reading.
func (d *drawer) strip(p Part) {
	run := p.Side.RunS.D().Seconds()
	if run <= 0 {
		return
	}
	x := func(sec float64) float64 { return edge + d.width()*sec/run }
	const h, tick = 8.0, 1.4
	hair := paper.Stroke(paper.Black, 0.2)
	d.y += mm(smallSize)
	every := 5
	for run/60/float64(every) > 30 {
		every *= 2
	}
	for m := 0; float64(m*60) <= run; m++ {
		at := x(float64(m * 60))
		if m%every != 0 {
			if every == 5 {
				d.page.Line(at, d.y+tick*1.1, at, d.y+tick*1.6, hair)
			}
			continue
		}
		a := paper.Centre
		if m == 0 {
			a = paper.Left
		} else if at > d.right()-5 {
			a = paper.Right
		}
		d.page.Text(at, d.y, d.f.Line(fmt.Sprintf("%d:00", m), paper.Regular), smallSize, look.Soft, a)
		d.page.Line(at, d.y+tick*0.6, at, d.y+tick*1.6, hair)
	}
	d.y += tick * 1.6
	var st []paper.Stretch
	for i, t := range p.Side.Tracks {
		tone := paper.Darker
		if i%2 == 1 {
			tone = paper.Dark
		}
		st = append(st, paper.Stretch{From: t.StartS.D().Seconds(), To: t.EndS().D().Seconds(), Tone: tone, Label: fmt.Sprint(i + 1)})
	}
	for _, e := range apart(p.Echoes, echoApart*run/d.width()) { // a triangle that points at the place, the larger the stronger
		var mark paper.Path
		at := min(x(e.AtS.D().Seconds()), d.right())
		size := 0.5 + 0.6*e.Strength()
		mark.Move(at-size, d.y-0.3-1.75*size)
		mark.Line(at+size, d.y-0.3-1.75*size)
		mark.Line(at, d.y-0.3)
		mark.Close()
		d.page.Path(mark, paper.Fill(paper.Black))
	}
	thin := p.Side.ThinFromS.D().Seconds()
	paper.Strip{Length: run, Stretches: st, ThinFrom: thin}.Draw(&d.page.Drawing, d.f, edge, d.y, d.width(), h, look, smallSize)
	d.y += h
	const size = 7.5
	if len(p.Courses) > 0 {
		d.y += courseGap
		p.course().Draw(&d.page.Drawing, edge, d.y, d.width(), courseTall, look)
		for _, t := range p.Side.Tracks { // where the tracks begin, through the course
			at := min(x(t.StartS.D().Seconds()), d.right())
			d.page.Line(at, d.y-courseGap, at, d.y+courseTall, paper.Stroke(look.Stock, 0.3))
		}
		d.loudest(p, x, size)
		d.y += courseTall
	}
	least := mm(size) * 1.15
	var at []float64
	for _, t := range p.Side.Tracks {
		at = append(at, min(x(t.StartS.D().Seconds()), d.right()))
	}
	spots, ok := paper.Spread(at, edge+least*0.4, d.right()-least*0.3, least)
	if !ok { // the table has them too
		d.y += 5
		return
	}
	long := 0.0
	for i, r := range p.Rows {
		text := r.Start
		if r.Counter != "" {
			text += " · " + r.Counter
		}
		l := d.f.Line(text, paper.Regular)
		label := &paper.Drawing{}
		label.Text(0, 0, l, size, paper.Black, paper.Left)
		top := d.y + 5
		d.page.Line(at[i], d.y, at[i], d.y+2.2, hair)
		d.page.Line(at[i], d.y+2.2, spots[i], d.y+4.4, hair)
		d.page.Place(label, spots[i]-mm(size)*0.36, top, 1)
		long = max(long, l.Width(size))
	}
	d.y += 5 + long + 3
}

// The loudness course on the page, mm: its distance from the strip, with room
// for the hatching of the thin end, and its height.
const courseGap, courseTall = 2.8, 10.0

// loudest marks the loudest place in the course that is drawn from d.y on: a line
// through it, and what it is beside the line.
func (d *drawer) loudest(p Part, x func(float64) float64, size float64) {
	if !p.Loudest {
		return
	}
	at := min(x(p.LoudestAt.D().Seconds()), d.right())
	text := "loudest " + p.LoudestAt.String()
	if p.SetHere {
		text = "level set here " + p.LoudestAt.String()
	}
	l := d.f.Line(text, paper.Bold)
	w := l.Width(size)
	left := at + 1
	if left+w+1 > d.right() {
		left = at - 1 - w
	}
	d.page.Line(at, d.y-1.4, at, d.y+courseTall, paper.Stroke(paper.Black, 0.4))
	d.page.Rect(left-0.5, d.y+0.2, w+1, mm(size)*1.1, paper.Fill(paper.White))
	d.page.Text(left, d.y+0.2+mm(size)*0.86, l, size, paper.Black, paper.Left)
	var mark paper.Path // a diamond on the line
	mark.Move(at, d.y-2.2)
	mark.Line(at+0.9, d.y-1.1)
	mark.Line(at, d.y)
	mark.Line(at-0.9, d.y-1.1)
	mark.Close()
	d.page.Path(mark, paper.Fill(paper.Black))
}

// echoApart is how far apart two echo marks stand at the least, mm: as wide as the
// largest is.
const echoApart = 2.2

// apart leaves out of echo places those nearer than so many seconds to a stronger
// one, which stands for them; by time.
func apart(all []planner.Echo, seconds float64) (kept []planner.Echo) {
	strongest := slices.Clone(all)
	slices.SortStableFunc(strongest, func(a, b planner.Echo) int { return cmp.Compare(b.Strength(), a.Strength()) })
	for _, e := range strongest {
		near := func(k planner.Echo) bool { return math.Abs((k.AtS - e.AtS).D().Seconds()) < seconds }
		if !slices.ContainsFunc(kept, near) {
			kept = append(kept, e)
		}
	}
	slices.SortFunc(kept, func(a, b planner.Echo) int { return cmp.Compare(a.AtS, b.AtS) })
	return kept
}

// table is the rows of a side at a type size; flat sets the artist on the title's line.
type table struct {
	rows    []Row
	counter bool
	trims   bool
	name    string
	size    float64
	flat    bool
	lines   int     // of one title, at the most
	pad     float64 // above and below a flat row, of its type size
}

// flatPad is the least pad of flat rows; penTall is the height of a row that a
// figure goes into by hand, mm (common practice, no source: ruled paper has 7).
const (
	flatPad = 0.12
	penTall = 7.0
)

// height is how tall a flat row is, mm.
func (t table) height() float64 { return mm(t.size) * (leading + 2*t.pad) }

// penWide is the width of a place for a figure by pen, mm, and penInk the light
// grey of its frame.
const penWide = 12.0

var penInk = paper.RGB(160, 160, 160)

// rows sets the table of tracks.
func (d *drawer) rows(t table) {
	f, size := d.f, t.size
	gap := mm(size) * 0.9
	box := mm(size)*0.85 + gap
	// A slot is as wide as its widest figure or its head.
	slot := func(head string, of func(Row) string) float64 {
		w := f.Line(head, paper.Regular).Width(smallSize)
		for _, r := range t.rows {
			w = max(w, f.Line(of(r), paper.Bold).Width(size))
		}
		return w + gap
	}
	num := slot("", func(r Row) string { return fmt.Sprint(r.Number) })
	start := slot("start", func(r Row) string { return r.Start })
	pen := func(head string) float64 { // a place to write a figure into
		return max(penWide, f.Line(head, paper.Regular).Width(smallSize)) + gap
	}
	count, read := 0.0, 0.0
	if t.counter {
		count, read = slot("counter", func(r Row) string { return r.Counter }), pen("read")
	}
	length := slot("length", func(r Row) string { return r.Length })
	x1 := edge + box + num // where start begins
	x2 := x1 + start       // counter
	x3 := x2 + count       // read
	xr := x3 + read        // length
	x4 := xr + length      // trim
	xl := x4               // level
	if t.trims {
		xl += slot("trim", func(r Row) string { return r.Trim })
	}
	x5 := xl + pen("level") // title
	head := func(x float64, s string, a paper.Align) {
		d.page.Text(x, d.y+mm(smallSize), f.Line(s, paper.Regular), smallSize, look.Soft, a)
	}
	head(x2-gap, "start", paper.Right)
	if t.counter {
		head(x3-gap, "counter", paper.Right)
		head(x3, "read", paper.Left)
	}
	head(x4-gap, "length", paper.Right)
	if t.trims {
		head(xl-gap, "trim", paper.Right)
	}
	head(xl, "level", paper.Left)
	head(x5, "title", paper.Left)
	d.y += mm(smallSize) * 1.5
	d.page.Line(edge, d.y, d.right(), d.y, paper.Stroke(paper.Black, 0.3))
	pad := 0.35
	if t.flat {
		pad = t.pad
	}
	for _, r := range t.rows {
		above := d.y
		d.y += mm(size) * pad
		d.box(edge, size)
		if r.Recorded {
			d.cross(edge, size)
		}
		base := d.y + mm(size)*leading - mm(size)*0.3
		d.page.Text(x1-gap, base, f.Line(fmt.Sprint(r.Number), paper.Regular), size, look.Soft, paper.Right)
		d.page.Text(x2-gap, base, f.Line(r.Start, paper.Bold), size, paper.Black, paper.Right)
		d.page.Text(x3-gap, base, f.Line(r.Counter, paper.Regular), size, paper.Black, paper.Right)
		d.page.Text(x4-gap, base, f.Line(r.Length, paper.Regular), size, paper.Black, paper.Right)
		d.page.Text(xl-gap, base, f.Line(r.Trim, paper.Regular), size, paper.Black, paper.Right)
		d.name(t, r, x5)
		d.y += mm(size) * pad
		if !r.Recorded {
			for _, x := range []float64{x3, xl} {
				if x == x3 && !t.counter {
					continue
				}
				d.page.Rect(x, above+0.5, penWide, d.y-above-1, paper.Stroke(penInk, 0.2))
			}
		}
		d.page.Line(edge, d.y, d.right(), d.y, paper.Stroke(look.Pale, 0.25))
	}
	d.y += 2
}

// name sets a row's title with artist and notes, and moves down past them.
func (d *drawer) name(t table, r Row, x float64) {
	f, size, w := d.f, t.size, d.right()-x
	what := fmt.Sprintf("%s%d", t.name, r.Number)
	if d.boxes != nil {
		d.boxes.Look(what, f.Line(r.Title, paper.Bold), f.Line(r.Artist, paper.Regular))
	}
	most := t.lines
	if t.flat {
		most = 1
	}
	title, cut := f.Wrap(r.Title, paper.Bold, size, w, most)
	last := 0.0
	for i, l := range title {
		d.y += mm(size) * leading
		d.page.Text(x, d.y-mm(size)*0.3, l, size, paper.Black, paper.Left)
		if i == len(title)-1 {
			last = l.Width(size)
		}
	}
	if len(title) == 0 {
		d.y += mm(size) * leading
	}
	// Artist and notes stand side by side, each a line of its own direction.
	small := size * 0.85
	if !t.flat {
		last = 0
		if r.Artist+r.Note+r.Gap != "" {
			d.y += mm(small) * leading
		}
	} else if last > 0 {
		last += mm(size)
	}
	for _, s := range []string{r.Artist, r.Note, r.Gap} {
		if s == "" {
			continue
		}
		if last > 0 && !t.flat && f.Line(s, paper.Regular).Width(small) > w-last {
			last = 0
			d.y += mm(small) * leading
		}
		if w-last < mm(size)*4 {
			cut = true
			break
		}
		l, c := f.Fit(s, paper.Regular, small, w-last)
		cut = cut || c
		d.page.Text(x+last, d.y-mm(small)*0.3, l, small, look.Soft, paper.Left)
		last += l.Width(small) + mm(size)
	}
	if cut {
		d.notes = append(d.notes, paper.Note{Says: what + " is shortened on the page; the text sheet has it whole"})
	}
}

// below is what follows the rows: tail, warnings, the flip.
func (d *drawer) below(p Part) {
	d.y += 2
	for _, t := range p.Tail {
		d.para(edge, d.width(), t, paper.Regular, bodySize, paper.Black)
	}
	d.care(p.Care, bodySize)
	if len(p.Then) > 0 {
		d.y += 2
		d.steps(p.Then, bodySize)
	}
}
