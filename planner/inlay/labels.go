package inlay

import (
	"longside/planner"
	"longside/planner/paper"
)

// labels are the shell labels of a tape's sides.
func (c *card) labels() []piece {
	var out []piece
	for _, s := range c.tape.Sides {
		out = append(out, piece{height: c.o.LabelHeight, panels: []panel{{width: c.o.LabelWidth, face: c.label(s)}}})
	}
	return out
}

// label holds the title above the window, the side as a strip below it, and the
// outline of the window, which is cut out.
func (c *card) label(s planner.Side) *paper.Drawing {
	d := &paper.Drawing{}
	const edge = 3.0
	w, h := c.o.LabelWidth, c.o.LabelHeight
	wx, wy := (w-c.o.WindowWidth)/2, (h-c.o.WindowHeight)/2
	letter := c.f.Line(s.Side, paper.Bold)
	size := 17.0
	d.Text(edge, edge+0.73*size*paper.MMPerPoint, letter, size, c.look.Ink, paper.Left)
	x := edge + letter.Width(size) + 3
	right := w - edge
	if c.of > 1 {
		const block = 8.0
		c.square(d, right-block, edge, block)
		right -= block + 2
	}
	if c.o.Design == ruled {
		c.open(d, x, right, edge+0.73*size*paper.MMPerPoint)
	} else {
		lines, size := c.fitted(right-x, []setting{{10, 1}, {8, 2}}, "on the labels")
		y := edge + 0.73*size*paper.MMPerPoint
		for i, l := range lines {
			if i > 0 {
				y += 1.15 * size * paper.MMPerPoint
			}
			d.Text(x, y, l, size, c.look.Ink, paper.Left)
		}
		if l, _ := c.f.Fit(c.second(), paper.Regular, smallSize, right-x); l.Text() != "" {
			d.Text(x, y+1.45*smallSize*paper.MMPerPoint, l, smallSize, c.look.Soft, paper.Left)
		}
	}
	// Beside the window: what to set the deck to on the left, the time on the right.
	kind := c.kind()
	y := mid(h/2, smallSize) - float64(len(kind)-1)*0.65*smallSize*paper.MMPerPoint
	for _, k := range kind {
		for _, l := range first(c.f.Wrap(k, paper.Regular, smallSize, wx-edge-1.5, 2)) {
			d.Text(edge, y, l, smallSize, c.look.Ink, paper.Left)
			y += 1.3 * smallSize * paper.MMPerPoint
		}
	}
	d.Text(w-edge, mid(h/2, noteSize), c.f.Line(planner.Clock(s.UsedS.D()), paper.Regular), noteSize, c.look.Ink, paper.Right)
	const strip = 3.6
	paper.Strip{Length: s.RunS.D().Seconds(), Stretches: stretches(s)}.Draw(d, c.f, edge, h-edge-strip, w-2*edge, strip, c.look, labelSize)
	d.Rect(wx, wy, c.o.WindowWidth, c.o.WindowHeight, paper.Stroke(c.look.Ink, 0.2).Dashed(1, 1))
	return d
}

func first(lines []paper.Line, _ bool) []paper.Line { return lines }

// strip is the spine alone, for a case that has its card already.
func (c *card) strip() piece {
	return piece{height: c.o.Height, panels: []panel{{width: c.o.Spine, face: turned(c.spine(), c.o.Spine)}}}
}
