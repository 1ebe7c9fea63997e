package inlay

import "longside/planner/paper"

// ruled is the design for people who write by hand: numbers, times and lines are
// printed, titles are left open.
const ruled = "ruled"

// Line to line for a pen, mm: narrow writing paper has about 6, and under 5 a
// ball pen's letters touch (from memory, unverified).
const (
	penMost  = 7.0
	penWish  = 6.0 // fold-outs are added before the lines come nearer than this
	penLeast = 5.0
	penType  = 7.5 // points of the printed figures
)

// chooseRuled finds the layout for a pen: on as few fold-outs as keep the lines
// far enough apart.
func (l *list) chooseRuled() {
	l.size = penType
	most := l.c.folds()
	for n := 0; n <= most; n++ {
		l.folds = n
		if l.cols, l.split = l.columns(n); len(l.cols) == 0 {
			continue
		}
		least := penWish
		if n == most {
			least = penLeast
		}
		for _, l.apart = range []bool{l.split > 0 && len(l.sides) == 2, false} {
			for l.pen = penMost; l.pen >= least; l.pen -= 0.25 {
				if l.flow() {
					return
				}
			}
		}
	}
	l.pen, l.apart = penLeast, false
	l.flow()
}

// open rules a line for a word that is to be written, and gives where it ends.
func (c *card) open(d *paper.Drawing, x1, x2, y float64) {
	d.Line(x1, y, x2, y, paper.Stroke(c.look.Soft, 0.15))
}
