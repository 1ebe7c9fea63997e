package inlay

import (
	"fmt"
	"math"

	"longside/planner/paper"
)

// Room on the sheet, mm.
const (
	pageEdge   = 8.5 // home printers leave 3 to 6 mm of a sheet bare: common practice, no source
	between    = 8.0 // from piece to piece: more than twice the bleed; two cards go side by side on A4
	bleed      = 3.0 // the tint runs this far over the cut (a card template's 2.5 to 3.2 mm: paperjoylab)
	markOff    = 3.5 // marks begin outside the bleed
	markLength = 3.5
	footHeight = 22.0
	tabWidth   = 8.0
)

// panel is one face between two folds.
type panel struct {
	width float64
	face  *paper.Drawing // printed side
	back  *paper.Drawing // the other side; nil: bare
}

// piece is what is cut out in one: panels from left to right.
type piece struct {
	panels []panel
	height float64
	tab    bool // begins with a tab to glue behind the piece before it
}

func (p piece) width() float64 {
	w := 0.0
	for _, q := range p.panels {
		w += q.width
	}
	if p.tab {
		w += tabWidth
	}
	return w
}

// folds are the distances of the folds from the left edge.
func (p piece) folds() []float64 {
	var out []float64
	x := 0.0
	if p.tab {
		x = tabWidth
		out = append(out, x)
	}
	for _, q := range p.panels[:len(p.panels)-1] {
		x += q.width
		out = append(out, x)
	}
	return out
}

// sheets lays pieces out on pages.
type sheets struct {
	doc    *paper.Document
	size   paper.Size
	f      *paper.Fonts
	look   paper.Look
	duplex bool
	advice []string
}

// widest is how wide a piece may be.
func (s *sheets) widest() float64 { return math.Max(s.size.Width, s.size.Height) - 2*pageEdge }

type spot struct {
	piece int
	x, y  float64
}

// impose puts the pieces on upright or turned sheets, whichever takes fewer.
func (s *sheets) impose(pieces []piece) {
	upright, ok := s.arrange(pieces, s.size.Width, s.size.Height)
	turned, okTurned := s.arrange(pieces, s.size.Height, s.size.Width)
	w, h, pages := s.size.Width, s.size.Height, upright
	if !ok || okTurned && len(turned) < len(upright) {
		w, h, pages = s.size.Height, s.size.Width, turned
	}
	for _, spots := range pages {
		s.page(pieces, spots, w, h)
	}
}

// arrange fills rows from the top, all from one left edge, and puts them in the
// middle of the page; ok is false when a piece is too wide.
func (s *sheets) arrange(pieces []piece, w, h float64) (pages [][]spot, ok bool) {
	var page, row []spot
	x, y, rowHeight, widest := 0.0, 0.0, 0.0, 0.0
	ok = true
	room := h - pageEdge - footHeight
	endRow := func() {
		if len(row) > 0 {
			page = append(page, row...)
			y += rowHeight + between
			widest = math.Max(widest, x-between)
		}
		row, x, rowHeight = nil, 0, 0
	}
	endPage := func() {
		endRow()
		if len(page) > 0 {
			for i := range page {
				page[i].x += (w - widest) / 2
				page[i].y += pageEdge + math.Max((room-(y-between)-pageEdge)/2, 0)
			}
			pages = append(pages, page)
		}
		page, y, widest = nil, 0, 0
	}
	for i, p := range pieces {
		pw := p.width()
		if pw > w-2*pageEdge {
			ok = false
		}
		if len(row) > 0 && x+pw > w-2*pageEdge {
			endRow()
		}
		if len(row) == 0 && len(page) > 0 && y+p.height > room-pageEdge {
			endPage()
		}
		row = append(row, spot{i, x, y})
		x += pw + between
		rowHeight = math.Max(rowHeight, p.height)
	}
	endPage()
	return pages, ok
}

// page draws one sheet, and its back when both sides are printed. On the back
// everything stands mirrored from left to right, so that it comes to lie behind
// its front when the sheet is turned about its vertical axis.
func (s *sheets) page(pieces []piece, spots []spot, w, h float64) {
	front := s.doc.Add(w, h)
	// The tints first: the bleed of one piece must not lie over another.
	for _, sp := range spots {
		s.tint(front, pieces[sp.piece], sp.x, sp.y)
	}
	for _, sp := range spots {
		p := pieces[sp.piece]
		x := sp.x
		if p.tab {
			tab := &paper.Drawing{}
			tab.Text(p.height/2, tabWidth/2+0.8, s.f.Line("glue behind the panel before", paper.Regular), 6, s.look.Soft, paper.Centre)
			front.Place(tab, x+tabWidth, sp.y, 1)
			x += tabWidth
		}
		for _, q := range p.panels {
			front.Place(q.face, x, sp.y, 0)
			x += q.width
		}
		marks(front, sp.x, sp.y, p.width(), p.height, p.folds())
	}
	footY := h - pageEdge - footHeight + 9
	s.foot(front, pageEdge+4, footY)
	if !s.duplex {
		return
	}
	back := s.doc.Add(w, h)
	for _, sp := range spots {
		p := pieces[sp.piece]
		s.tint(back, p, w-sp.x-p.width(), sp.y)
	}
	for _, sp := range spots {
		p := pieces[sp.piece]
		x := w - sp.x - p.width()
		for i := len(p.panels) - 1; i >= 0; i-- {
			if p.panels[i].back != nil {
				back.Place(p.panels[i].back, x, sp.y, 0)
			}
			x += p.panels[i].width
		}
	}
	// A cross on the front and rings at the same place on the back.
	cx, cy := w-pageEdge-6, footY
	line := paper.Stroke(paper.Black, 0.15)
	front.Line(cx-3, cy, cx+3, cy, line)
	front.Line(cx, cy-3, cx, cy+3, line)
	for _, r := range []float64{0.5, 1, 2} {
		back.Circle(w-cx, cy, r, line)
	}
	edge := "long"
	if w > h {
		edge = "short"
	}
	front.Text(cx-5, cy-1.6, s.f.Line("Print both pages on one sheet, flipped on the "+edge+" edge.", paper.Regular), footSize, paper.Black, paper.Right)
	front.Text(cx-5, cy+1.4, s.f.Line("Against the light the cross lies in the inner ring (0.5 mm)", paper.Regular), footSize, paper.Black, paper.Right)
	front.Text(cx-5, cy+4.4, s.f.Line("when front and back register; the next ring is 1 mm.", paper.Regular), footSize, paper.Black, paper.Right)
}

// tint prints the stock's colour with its bleed.
func (s *sheets) tint(page *paper.Page, p piece, x, y float64) {
	if s.look.Stock != paper.White {
		page.Rect(x-bleed, y-bleed, p.width()+2*bleed, p.height+2*bleed, paper.Fill(s.look.Stock))
	}
}

// marks draws cut marks at the corners and fold marks at the folds, none of
// them on the piece: whole lines to cut by, broken lines to fold by.
func marks(d *paper.Page, x, y, w, h float64, folds []float64) {
	cut := paper.Stroke(paper.Black, 0.15)
	for _, cx := range []float64{x, x + w} {
		d.Line(cx, y-markOff-markLength, cx, y-markOff, cut)
		d.Line(cx, y+h+markOff, cx, y+h+markOff+markLength, cut)
	}
	for _, cy := range []float64{y, y + h} {
		d.Line(x-markOff-markLength, cy, x-markOff, cy, cut)
		d.Line(x+w+markOff, cy, x+w+markOff+markLength, cy, cut)
	}
	fold := cut.Dashed(0.7, 0.7)
	for _, f := range folds {
		d.Line(x+f, y-markOff-markLength, x+f, y-markOff, fold)
		d.Line(x+f, y+h+markOff, x+f, y+h+markOff+markLength, fold)
	}
}

const footSize = 6.5

// advice is what a person should know before cutting.
func advice(part string, pieces []piece) []string {
	out := []string{"This ruler measures 50 mm when the print is right: print at 100 %, not fitted to the page."}
	folds, tabs := 0, false
	for _, p := range pieces {
		folds = max(folds, len(p.panels))
		tabs = tabs || p.tab
	}
	switch {
	case tabs:
		out = append(out, "Cut by the whole marks, glue the tab behind the panel before it, fold by the broken marks to and fro.")
	case folds > 4:
		out = append(out, "Cut by the whole marks, fold by the broken ones: the panels to and fro, like a bellows.")
	case folds > 1:
		out = append(out, "Cut by the whole marks, fold by the broken ones.")
	default:
		out = append(out, "Cut by the marks.")
	}
	if part == "labels" {
		// Plain practice: a thick label can rub in the deck.
		return append(out, "Thin label paper only; nothing may stand up at the edges or in the window (common practice, no source).")
	}
	// 120 to 160 g/m2 for home printing, above 200 resists folding: paperjoylab.
	return append(out, "Paper of 120 to 160 g/m² folds well; above 200 it resists (advice of a paper merchant).")
}

// foot draws a ruler to measure and the advice beside it.
func (s *sheets) foot(d *paper.Page, x, y float64) {
	line := paper.Stroke(paper.Black, 0.2)
	d.Line(x, y, x+50, y, line)
	for mm := 0; mm <= 50; mm++ {
		l := 1.0
		switch {
		case mm%10 == 0:
			l = 3
		case mm%5 == 0:
			l = 2
		}
		d.Line(x+float64(mm), y-l, x+float64(mm), y, line)
	}
	for _, mm := range []int{0, 50} {
		d.Text(x+float64(mm), y+3, s.f.Line(fmt.Sprint(mm), paper.Regular), footSize, paper.Black, paper.Centre)
	}
	tx, ty := x+56, y-1.6
	if s.duplex && d.Width < d.Height { // the note on duplex printing takes the right half
		tx, ty = x, y+7
	}
	for i, t := range s.advice {
		d.Text(tx, ty+float64(i)*3, s.f.Line(t, paper.Regular), footSize, paper.Black, paper.Left)
	}
}
