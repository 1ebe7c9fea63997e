package inlay

import (
	"fmt"
	"time"

	"longside/planner"
	"longside/planner/paper"
)

// leastRow is the least height of a tape's row on the box label, mm.
const leastRow = 3.6

// box is the label for the box of a set: the title, and a row for each tape with
// its number in its shade, its sides and how long they play.
func box(cards []*card) piece {
	c := cards[0]
	d := &paper.Drawing{}
	w, h := c.o.BoxWidth, c.o.BoxHeight
	y := margin
	total := time.Duration(0)
	for _, k := range cards {
		for _, s := range k.tape.Sides {
			total += s.UsedS.D()
		}
	}
	sum := c.f.Line(fmt.Sprintf("%s · %s", tapes(len(cards)), planner.Clock(total)), paper.Regular)
	if c.o.Design == ruled {
		y += openTitle
		c.open(d, margin, w-margin-sum.Width(noteSize)-3, y)
	} else {
		lines, size := c.fitted(w-2*margin-sum.Width(noteSize)-3, []setting{{titleSize, 1}, {titleLesser, 1}, {titleLesser, 2}, {10, 3}}, "on the box label")
		y += 0.76 * size * paper.MMPerPoint
		for i, l := range lines {
			if i > 0 {
				y += 1.15 * size * paper.MMPerPoint
			}
			d.Text(margin, y, l, size, c.look.Ink, paper.Left)
		}
	}
	d.Text(w-margin, y, sum, noteSize, c.look.Ink, paper.Right)
	if note := paper.Clean(c.plan.Note); note != "" && c.o.Design != ruled {
		l, _ := c.f.Fit(note, paper.Regular, noteSize, w-2*margin)
		y += 1.55 * noteSize * paper.MMPerPoint
		d.Text(margin, y, l, noteSize, c.look.Soft, paper.Left)
	}
	y += 2.5
	fits := max(min(int((h-margin-y)/leastRow), len(cards)), 0)
	if fits < len(cards) {
		c.note(HelpBox, "the box label holds %d of %d tapes; make it higher", fits, len(cards))
	}
	row := min((h-margin-y)/float64(max(fits, 1)), 9)
	for _, k := range cards[:fits] {
		side := min(row*0.86, 7.5)
		numbered(d, k.f, k.look, k.number, max(k.of, 2), margin, y+(row-side)/2, side)
		var words []string
		for _, s := range k.tape.Sides {
			words = append(words, s.Side+" "+tracks(s))
		}
		right := k.f.Line(some(words, 2), paper.Regular)
		d.Text(w-margin, mid(y+row/2, smallSize), right, smallSize, c.look.Ink, paper.Right)
		x := margin + side + 2.5
		end := w - margin - right.Width(smallSize) - 3
		if c.o.Design == ruled {
			c.open(d, x, end, mid(y+row/2, smallSize)+0.6)
		} else {
			name := paper.Clean(k.tape.Name)
			if label := paper.Clean(k.tape.Label); label != "" {
				name += " · " + label
			}
			l, _ := k.f.Fit(name, paper.Bold, smallSize, end-x)
			d.Text(x, mid(y+row/2, smallSize), l, smallSize, c.look.Ink, paper.Left)
		}
		y += row
	}
	return piece{height: h, panels: []panel{{width: w, face: d}}}
}

func tapes(n int) string {
	if n == 1 {
		return "1 tape"
	}
	return fmt.Sprintf("%d tapes", n)
}
