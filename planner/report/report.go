// Package report draws the page of a test: every figure beside its limit, and
// the curves behind them.
package report

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"longside/media/verify"
	"longside/planner"
	"longside/planner/paper"
)

// Options say what the page is headed with and printed on.
type Options struct {
	Title    string // of the page; empty: Test of deck and tape
	Of       string // what was measured: the capture's name, the tape
	Page     string // A4 or Letter; empty: A4
	Language string // of the words from the person, BCP 47; empty: not said
}

// The page's measures, in mm and points.
const (
	edge      = 15.0
	titleSize = 18.0
	mostSize  = 9.0
	leastSize = 5.5
	leading   = 1.28
	chartHigh = 47.0
	chartGap  = 9.0
	label     = 6.5 // points, of the curves' scales
)

var look = paper.Plain

func mm(points float64) float64 { return points * paper.MMPerPoint }

// page is what is drawn on; y is how far down it has come.
type page struct {
	*paper.Page
	f *paper.Fonts
	y float64
}

// Draw draws the page.
func Draw(f verify.Findings, judged []planner.Judged, o Options, fonts *paper.Fonts) (*paper.Document, error) {
	size, ok := paper.Sheet(o.Page)
	if !ok {
		return nil, fmt.Errorf("no paper size %q; use A4 or Letter", o.Page)
	}
	if len(judged) == 0 {
		return nil, errors.New("there is nothing measured to draw")
	}
	title := o.Title
	if title == "" {
		title = "Test of deck and tape"
	}
	doc := &paper.Document{Title: paper.Clean(title + ", " + o.Of), Language: o.Language}
	p := &page{Page: doc.Add(size.Width, size.Height), f: fonts, y: edge + mm(titleSize)*0.75}
	of, _ := fonts.Fit(o.Of, paper.Regular, 9, p.wide()*0.55)
	p.Text(p.right(), p.y, of, 9, look.Soft, paper.Right)
	head, _ := fonts.Fit(title, paper.Bold, titleSize, p.wide()-of.Width(9)-6)
	p.Text(edge, p.y, head, titleSize, look.Ink, paper.Left)
	p.y += 3
	p.Line(edge, p.y, p.right(), p.y, paper.Stroke(look.Ink, 0.5))
	p.y += 2.5

	below := edge + 2*(chartHigh+chartGap) + mm(label)*1.5
	points := mostSize
	for ; points > leastSize; points -= 0.25 {
		if p.measure(func() { p.table(f, judged, points) }) <= size.Height-below-p.y {
			break
		}
	}
	p.table(f, judged, points)
	p.y = max(p.y+3, min(p.y+6, size.Height-below))
	w := (p.wide() - 8) / 2
	x2 := edge + w + 8
	p.response(f, edge, p.y, w)
	p.distortion(f, x2, p.y, w)
	p.y += chartHigh + chartGap
	p.course(f, edge, p.y, w)
	p.flutter(f, x2, p.y, w)
	foot, _ := fonts.Fit("Each ± holds in 95 of 100 takes. Of recording, tape, playing and sound card together, save where it says otherwise.", paper.Regular, label, p.wide())
	p.Text(edge, size.Height-edge+4, foot, label, look.Soft, paper.Left)
	return doc, nil
}

func (p *page) wide() float64  { return p.Width - 2*edge }
func (p *page) right() float64 { return p.Width - edge }

// measure tells how far down draw goes, drawing nothing.
func (p *page) measure(draw func()) float64 {
	kept, y := p.Page, p.y
	p.Page = &paper.Page{Width: kept.Width, Height: kept.Height}
	draw()
	high := p.y - y
	p.Page, p.y = kept, y
	return high
}

// words sets text from y down and gives where it ends.
func (p *page) words(x, y, w float64, text string, weight paper.Weight, points float64, c paper.Colour) float64 {
	lines, _ := p.f.Wrap(text, weight, points, w, 8)
	for _, l := range lines {
		y += mm(points) * leading
		p.Text(x, y-mm(points)*0.3, l, points, c, paper.Left)
	}
	return y
}

// table is a row for each figure: what, value, limit with its mark; then what to
// do and the notes.
func (p *page) table(f verify.Findings, judged []planner.Judged, points float64) {
	wide := p.wide()
	first, last := wide*0.2, wide*0.3
	middle := wide - first - last - 4
	var advice []string
	for _, j := range judged {
		y := p.y
		bottom := p.words(edge, y, first-2, j.What, paper.Bold, points, look.Ink)
		bottom = max(bottom, p.words(edge+first, y, middle, j.Says, paper.Regular, points, look.Ink))
		if j.Limit != "" {
			x := edge + first + middle + 4
			if j.Keeps != nil {
				p.mark(x, y, points, *j.Keeps)
				x += mm(points) * 1.3
			}
			weight := paper.Regular
			if j.Keeps != nil && !*j.Keeps {
				weight = paper.Bold
			}
			bottom = max(bottom, p.words(x, y, p.right()-x, j.Limit, weight, points*0.9, look.Soft))
		}
		if j.Advice != "" {
			advice = append(advice, strings.ToUpper(j.What[:1])+j.What[1:]+": "+j.Advice)
		}
		p.y = bottom + mm(points)*0.25
		p.Line(edge, p.y, p.right(), p.y, paper.Stroke(look.Pale, 0.2))
		p.y += mm(points) * 0.1
	}
	p.y = p.words(edge, p.y+0.5, wide, "Limits: the least of a tape machine by DIN 45 500, a tick where it is kept.", paper.Regular, points*0.85, look.Soft)
	for _, n := range f.Notes {
		p.y = p.words(edge, p.y+0.6, wide, "Note: "+n+".", paper.Bold, points, look.Ink)
	}
	p.y += 1
	for _, a := range advice {
		p.y = p.words(edge, p.y+0.3, wide, a, paper.Regular, points*0.85, look.Soft)
	}
}

// mark is a tick, or a cross where a limit is not kept.
func (p *page) mark(x, y, points float64, keeps bool) {
	s := mm(points) * 0.75
	top := y + mm(points)*leading - mm(points)*0.3 - s
	ink := paper.Stroke(look.Ink, 0.35)
	if !keeps {
		p.Line(x, top, x+s, top+s, ink)
		p.Line(x, top+s, x+s, top, ink)
		return
	}
	var tick paper.Path
	tick.Move(x, top+s*0.55)
	tick.Line(x+s*0.38, top+s)
	tick.Line(x+s, top)
	p.Path(tick, ink)
}

// scale turns values into places on a frame.
type scale struct {
	from, to float64
	log      bool
	at, long float64 // mm; long less than 0: upwards
}

func (s scale) place(v float64) float64 {
	a, b := s.from, s.to
	if s.log {
		v, a, b = math.Log(max(v, 1e-12)), math.Log(a), math.Log(b)
	}
	return s.at + s.long*min(max((v-a)/(b-a), 0), 1)
}

// frame draws a curve's frame with its scales, and gives them.
func (p *page) frame(x, y, w float64, title string, h, v scale, hs, vs []float64, unit func(float64) string, up func(float64) string) (scale, scale) {
	const margin = 9.0
	p.words(x, y-1, w, title, paper.Bold, 8, look.Ink)
	top, left := y+mm(8)*1.4, x+margin
	high := chartHigh - mm(8)*1.4 - mm(label)*1.4
	h.at, h.long = left, w-margin
	v.at, v.long = top+high, -high
	hair := paper.Stroke(look.Pale, 0.2)
	for _, a := range hs {
		at := h.place(a)
		p.Line(at, top, at, top+high, hair)
		p.Text(at, top+high+mm(label)*1.15, p.f.Line(unit(a), paper.Regular), label, look.Soft, paper.Centre)
	}
	for _, a := range vs {
		at := v.place(a)
		p.Line(left, at, left+h.long, at, hair)
		p.Text(left-1.2, at+mm(label)*0.35, p.f.Line(up(a), paper.Regular), label, look.Soft, paper.Right)
	}
	p.Rect(left, top, h.long, high, paper.Stroke(look.Soft, 0.25))
	return h, v
}

// curve draws a line through points; each channel has its own: left whole, right
// in dashes.
func (p *page) curve(h, v scale, points []verify.Point, channel int) {
	var path paper.Path
	for i, a := range points {
		if x, y := h.place(a.X), v.place(a.Y); i == 0 {
			path.Move(x, y)
		} else {
			path.Line(x, y)
		}
	}
	st := paper.Stroke(look.Ink, 0.45)
	if channel == 1 {
		st = paper.Stroke(look.Soft, 0.45).Dashed(1.4, 0.9)
	}
	if len(points) > 1 {
		p.Path(path, st)
	}
}

func hertz(v float64) string {
	if v >= 1000 {
		return fmt.Sprintf("%gk", v/1000)
	}
	return fmt.Sprintf("%g", v)
}

func number(v float64) string { return fmt.Sprintf("%g", math.Round(v*1000)/1000) }

// steps are round numbers from one value to another, some five of them.
func steps(from, to float64) []float64 {
	wide := (to - from) / 5
	ten := math.Pow(10, math.Floor(math.Log10(wide)))
	each := ten
	for _, k := range []float64{1, 2, 5, 10} {
		if each = k * ten; each >= wide {
			break
		}
	}
	var all []float64
	for v := math.Ceil(from/each-1e-9) * each; v <= to+each*1e-9; v += each {
		all = append(all, v+0)
	}
	return all
}

func (p *page) response(f verify.Findings, x, y, w float64) {
	lo, hi := -10.0, 5.0
	for _, side := range f.Response {
		for _, r := range side {
			lo, hi = min(lo, math.Floor(r.Value/5)*5), max(hi, math.Ceil(r.Value/5)*5)
		}
	}
	lo = max(lo, -40)
	h, v := p.frame(x, y, w, "Response at -20 dB, dB (Hz)"+p.key(f), scale{from: 35, to: 18000, log: true}, scale{from: lo, to: hi},
		[]float64{40, 100, 250, 1000, 4000, 10000, 16000}, steps(lo, hi), hertz, number)
	for c, side := range f.Response {
		var points []verify.Point
		for _, r := range side {
			points = append(points, verify.Point{X: r.Hz, Y: r.Value})
		}
		p.curve(h, v, points, c)
	}
}

// key says which line is which channel.
func (p *page) key(f verify.Findings) string {
	if f.Channels == 2 {
		return "; right dashed"
	}
	return ""
}

func (p *page) distortion(f verify.Findings, x, y, w float64) {
	h, v := p.frame(x, y, w, "Third harmonic of 315 Hz, % (dB on the meter)", scale{from: -6.5, to: 8.5}, scale{from: 0.1, to: 20, log: true},
		[]float64{-6, -3, 0, 3, 6, 8}, []float64{0.1, 0.3, 1, 3, 10}, number, number)
	at := v.place(verify.ThirdHarmonic)
	p.Line(h.at, at, h.at+h.long, at, paper.Stroke(look.Soft, 0.3).Dashed(0.6, 0.6))
	for c, side := range f.Steps {
		var points []verify.Point
		for _, s := range side {
			points = append(points, verify.Point{X: s.SentDB, Y: s.ThirdPc})
		}
		p.curve(h, v, points, c)
	}
}

func (p *page) course(f verify.Findings, x, y, w float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	long := 60.0
	for _, c := range f.Course {
		lo, hi, long = min(lo, c.Y), max(hi, c.Y), max(long, c.X)
	}
	if lo > hi {
		lo, hi = 0, 0
	}
	middle := (lo + hi) / 2
	half := max((hi-lo)*0.7, 0.05)
	h, v := p.frame(x, y, w, "Speed over the minute, % (s)", scale{from: 0, to: long}, scale{from: middle - half, to: middle + half},
		[]float64{0, 10, 20, 30, 40, 50, 60}, steps(middle-half, middle+half), number, number)
	p.curve(h, v, f.Course, 0)
}

func (p *page) flutter(f verify.Findings, x, y, w float64) {
	most := 0.01
	for _, a := range f.Wobbles {
		most = max(most, a.Y*1.2)
	}
	h, v := p.frame(x, y, w, "Steady wobbles of the speed, peak % (Hz)", scale{from: 0.15, to: 200, log: true}, scale{from: 0, to: most},
		[]float64{0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200}, steps(0, most), number, number)
	for _, a := range f.Wobbles {
		at := h.place(a.X)
		p.Line(at, v.place(0), at, v.place(a.Y), paper.Stroke(look.Ink, 0.7))
	}
}
