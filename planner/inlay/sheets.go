package inlay

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"longside/planner/paper"
)

// Room on the sheet, mm.
const (
	pageEdge   = 8.5 // home printers leave 3 to 6 mm of a sheet bare: common practice, no source
	between    = 8.0 // from piece to piece: more than twice the bleed; two cards go side by side on A4
	bleed      = 3.0 // the tint runs this far over the cut (a card template's 2.5 to 3.2 mm: paperjoylab)
	bareOff    = 1.0 // marks begin so far off a card of bare paper: a knife 1 mm off still leaves no ink on it
	tintOff    = 3.5 // and outside the bleed where the card is tinted: its edge would hide them
	markEnd    = 7.0 // they end so far off the edge
	leastMark  = 0.8 // shorter marks are not drawn
	footHeight = 22.0
	tabWidth   = 8.0
)

// panel is one face between two folds.
type panel struct {
	width float64
	under *paper.Drawing // printed first, and over the cuts; nil: nothing
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

// sheet is a page of pieces while it is laid out.
type sheet struct {
	w, h  float64
	spots []spot
}

// impose puts the pieces on as few sheets as it finds: on upright or on turned
// ones, in their own order or, where that saves a sheet, from the largest down;
// and where it saves a sheet, the wide ones apart from the others.
func (s *sheets) impose(pieces []piece) {
	var all, narrow, wide []int
	for i, p := range pieces {
		all = append(all, i)
		if p.width() > s.size.Width-2*pageEdge {
			wide = append(wide, i)
		} else {
			narrow = append(narrow, i)
		}
	}
	best := s.fewest(pieces, all)
	// A printer turns all sheets of one print about the same edge.
	if apart := append(s.fewest(pieces, narrow), s.fewest(pieces, wide)...); best == nil || len(apart) < len(best) && !s.duplex {
		best = apart
	}
	for _, p := range best {
		s.page(pieces, p.spots, p.w, p.h)
	}
}

// fewest lays some of the pieces on sheets that are all upright or all turned;
// nil when there is a piece too large for either.
func (s *sheets) fewest(pieces []piece, order []int) (best []sheet) {
	bySize := slices.Clone(order)
	slices.SortStableFunc(bySize, func(a, b int) int {
		return cmp.Or(cmp.Compare(pieces[b].height, pieces[a].height), cmp.Compare(pieces[b].width(), pieces[a].width()))
	})
	for _, sorted := range []bool{false, true} {
		if sorted {
			order = bySize
		}
		for _, size := range []paper.Size{s.size, {Width: s.size.Height, Height: s.size.Width}} {
			if got, ok := s.arrange(pieces, order, !sorted, size.Width, size.Height); ok && (best == nil || len(got) < len(best)) {
				best = got
			}
		}
	}
	return best
}

// shelf is a row of pieces on a page.
type shelf struct {
	y, height, width float64 // width: up to the end of its last piece
	spots            []spot
}

// arrange fills rows from the top, all from one left edge, and puts them in the
// middle of the page. With keep the pieces stand in their order; else each goes
// to the first row with room for it. ok is false when a piece is too large.
func (s *sheets) arrange(pieces []piece, order []int, keep bool, w, h float64) (pages []sheet, ok bool) {
	across, down := w-2*pageEdge, h-2*pageEdge-footHeight
	var filled [][]shelf
	for _, i := range order {
		pw, ph := pieces[i].width(), pieces[i].height
		if pw > across+1e-9 || ph > down+1e-9 {
			return nil, false
		}
		put := func(page int, r *shelf) bool {
			x := r.width + between
			if x+pw > across+1e-9 || ph > r.height+1e-9 && r != &filled[page][len(filled[page])-1] || r.y+ph > down+1e-9 {
				return false
			}
			r.spots = append(r.spots, spot{i, x, r.y})
			r.width, r.height = x+pw, math.Max(r.height, ph)
			return true
		}
		placed := false
		for page := range filled {
			if keep && page < len(filled)-1 {
				continue
			}
			for r := range filled[page] {
				if !placed && (!keep || r == len(filled[page])-1) {
					placed = put(page, &filled[page][r])
				}
			}
			last := filled[page][len(filled[page])-1]
			if y := last.y + last.height + between; !placed && y+ph <= down+1e-9 {
				filled[page] = append(filled[page], shelf{y, ph, pw, []spot{{i, 0, y}}})
				placed = true
			}
		}
		if !placed {
			filled = append(filled, []shelf{{0, ph, pw, []spot{{i, 0, 0}}}})
		}
	}
	for _, rows := range filled {
		widest, last := 0.0, rows[len(rows)-1]
		for _, r := range rows {
			widest = math.Max(widest, r.width)
		}
		var page []spot
		for _, r := range rows {
			for _, sp := range r.spots {
				sp.x += (w - widest) / 2
				sp.y += pageEdge + (down-last.y-last.height)/2
				page = append(page, sp)
			}
		}
		pages = append(pages, sheet{w, h, page})
	}
	return pages, true
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
		x := sp.x
		if pieces[sp.piece].tab {
			x += tabWidth
		}
		for _, q := range pieces[sp.piece].panels {
			if q.under != nil {
				front.Place(q.under, x, sp.y, 0)
			}
			x += q.width
		}
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
	}
	s.marks(front, pieces, spots)
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

// off is how far off a piece's edge marks begin.
func (s *sheets) off(p piece) float64 {
	if s.look.Stock != paper.White || slices.ContainsFunc(p.panels, func(q panel) bool { return q.under != nil }) {
		return tintOff
	}
	return bareOff
}

// marks draws cut marks at the corners and fold marks at the folds: whole lines
// to cut by, broken lines to fold by. None stands on a piece or on its bleed, its
// neighbours' included, so that no ink is left on what was cut a little wide; in
// the gap between two pieces a mark is as long as that leaves it.
func (s *sheets) marks(d *paper.Page, pieces []piece, spots []spot) {
	// line draws the mark at (x, y) that leads away by (dx, dy), one of them 0.
	line := func(own int, x, y, dx, dy float64, style paper.Style) {
		from, to := s.off(pieces[spots[own].piece]), markEnd
		for i, sp := range spots {
			if i == own {
				continue
			}
			p := pieces[sp.piece]
			off := s.off(p)
			x0, x1 := sp.x-off, sp.x+p.width()+off
			y0, y1 := sp.y-off, sp.y+p.height+off
			for _, side := range []struct{ along, at, lo, hi, near float64 }{
				{dx, y, y0, y1, x0 - x}, {-dx, y, y0, y1, x - x1}, {dy, x, x0, x1, y0 - y}, {-dy, x, x0, x1, y - y1},
			} {
				if side.along > 0 && side.at > side.lo && side.at < side.hi && side.near > -1e-9 {
					to = math.Min(to, side.near)
				}
			}
		}
		if to-from >= leastMark {
			d.Line(x+dx*from, y+dy*from, x+dx*to, y+dy*to, style)
		}
	}
	cut := paper.Stroke(paper.Black, 0.15)
	fold := cut.Dashed(0.7, 0.7)
	for i, sp := range spots {
		p := pieces[sp.piece]
		w, h := p.width(), p.height
		for _, x := range []float64{sp.x, sp.x + w} {
			line(i, x, sp.y, 0, -1, cut)
			line(i, x, sp.y+h, 0, 1, cut)
		}
		for _, y := range []float64{sp.y, sp.y + h} {
			line(i, sp.x, y, -1, 0, cut)
			line(i, sp.x+w, y, 1, 0, cut)
		}
		for _, f := range p.folds() {
			line(i, sp.x+f, sp.y, 0, -1, fold)
			line(i, sp.x+f, sp.y+h, 0, 1, fold)
		}
	}
}

const footSize = 6.5

// advice is what a person should know before cutting.
func advice(labels bool, pieces []piece) []string {
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
	if labels {
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
