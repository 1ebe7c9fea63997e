package inlay

import (
	"fmt"

	"longside/planner/paper"
)

// Room on the sheet, mm.
const (
	pageEdge   = 9.0  // home printers leave 3 to 6 mm of a sheet bare: common practice, no source
	between    = 14.0 // from card to card: room for the marks of both
	markOff    = 3.5  // marks begin outside the bleed of 3 mm
	markLength = 3.5
	footHeight = 18.0
)

// marks draws cut marks at the corners and fold marks at the folds, none of
// them on the card: whole lines to cut by, broken lines to fold by.
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
	fold := paper.Stroke(paper.Black, 0.15).Dashed(0.7, 0.7)
	for _, f := range folds {
		d.Line(x+f, y-markOff-markLength, x+f, y-markOff, fold)
		d.Line(x+f, y+h+markOff, x+f, y+h+markOff+markLength, fold)
	}
}

// foot draws what the printing needs: a ruler to measure and a word on paper.
func foot(d *paper.Page, f *paper.Fonts, x, y float64) {
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
		d.Text(x+float64(mm), y+3, f.Line(fmt.Sprint(mm), paper.Regular), 6.5, paper.Black, paper.Centre)
	}
	for i, s := range []string{
		"This ruler must measure 50 mm: print at 100 %, without “fit to page”.",
		"Cut along the whole marks, fold along the broken ones.",
		"Paper of 120 to 160 g/m² folds well; above 200 it resists (a paper merchant’s advice).",
	} {
		d.Text(x+56, y-1.6+float64(i)*3, f.Line(s, paper.Regular), 6.5, paper.Black, paper.Left)
	}
}
