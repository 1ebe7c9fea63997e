package inlay

import (
	"fmt"

	"longside/planner/paper"
)

// shade is the colour of a tape's place in a set: the set is one scale that runs
// from a light shade of the ink to the ink itself, so that its spines stand side
// by side as a ramp, and in black and white, too.
func shade(look paper.Look, number, of int) paper.Colour {
	const lightest = 0.72 // of stock in the first tape's shade
	if of < 2 {
		return look.Ink
	}
	return look.Ink.Mix(look.Stock, lightest*float64(of-number)/float64(of-1))
}

// square draws a tape's number on a square of its shade.
func (c *card) square(d *paper.Drawing, x, y, side float64) {
	numbered(d, c.f, c.look, c.number, c.of, x, y, side)
}

func numbered(d *paper.Drawing, f *paper.Fonts, look paper.Look, number, of int, x, y, side float64) {
	ground := shade(look, number, of)
	d.Rect(x, y, side, side, paper.Fill(ground))
	ink := look.Ink
	if look.Stock.Contrast(ground) > ink.Contrast(ground) {
		ink = look.Stock
	}
	l := f.Line(fmt.Sprint(number), paper.Bold)
	size := side * 0.62 / paper.MMPerPoint
	if w := l.Width(size); w > side-1 {
		size *= (side - 1) / w
	}
	d.Text(x+side/2, mid(y+side/2, size), l, size, ink, paper.Centre)
}
