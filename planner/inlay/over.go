package inlay

import (
	"fmt"
	"math"

	"longside/planner/paper"
)

// overPanel tells whether the person's picture takes the whole front panel.
func (c *card) overPanel() bool { return c.o.Picture != nil && c.o.PictureOver == "panel" }

// pictureBox is the panel with what the picture runs over the cuts: above, below
// and, where no fold-out follows, on the right.
func (c *card) pictureBox(last bool) (x, y, w, h float64) {
	w = c.o.Front
	if last {
		w += bleed
	}
	return 0, -bleed, w, c.o.Height + 2*bleed
}

// under is the picture of a whole panel, drawn before the faces.
func (c *card) under(last bool) *paper.Drawing {
	d := &paper.Drawing{}
	x, y, w, h := c.pictureBox(last)
	d.Picture(x, y, w, h, c.o.Picture)
	c.fine(w, h)
	return d
}

// over sets the title on the picture, where it can be read: at the top or at the
// foot, light or dark, whichever keeps the most contrast with the picture under
// it; and where none keeps enough, on a plate of the card's own colour.
func (c *card) over(d *paper.Drawing) {
	t := c.head
	x0, y0, w, h := c.pictureBox(c.list.folds == 0)
	height := t.bottom - margin
	const about, pad = 0.8, 1.5 // mm about the words that count as their ground, and of a plate
	width := max(widest(t.lines, t.size), t.second.Width(noteSize))
	if c.o.Design == ruled {
		width = c.o.Front - 2*margin
	}
	block := 0.0 // the square with a tape's number has a ground of its own
	if c.of > 1 {
		block = setBlock
		height = max(height, block+1.5)
	}
	type choice struct {
		top      float64
		ink      paper.Colour
		contrast float64
	}
	ground := c.o.Picture.Ground(w, h)
	var best choice
	for _, top := range []float64{margin, c.o.Height - margin - height + 1.5} {
		for _, ink := range []paper.Colour{paper.White, c.look.Ink, paper.Black} {
			got := 21.0
			for _, b := range c.titleBoxes(top) {
				got = min(got, ground.Contrast(ink, b.X-about-x0, b.Y-about-y0, b.W+2*about, b.H+2*about))
			}
			if got > best.contrast+1e-9 && (best.contrast < textContrast || got > best.contrast+1) {
				best = choice{top, ink, got} // the top is left only for what is read better by far
			}
		}
	}
	soft := best.ink
	if best.contrast < textContrast {
		best = choice{margin, c.look.Ink, 0}
		soft = c.look.Soft
		d.Rect(margin-pad, margin-pad, width+2*pad, height-1.5+2*pad, paper.Fill(c.look.Stock))
	}
	if c.of > 1 {
		c.square(d, c.o.Front-margin-block, best.top, block)
	}
	if c.o.Design == ruled {
		d.Rect(margin-pad, best.top-pad, width+2*pad, height+2*pad, paper.Fill(c.look.Stock))
		c.open(d, margin, margin+width-block-2, best.top+openTitle)
		c.open(d, margin, margin+width, best.top+2*openTitle)
		return
	}
	c.setTitle(d, best.top, t, best.ink, soft)
}

// titleBoxes are where the words of the title stand that is set at a height.
func (c *card) titleBoxes(top float64) []paper.TextBox {
	d := &paper.Drawing{}
	c.setTitle(d, top, c.head, c.look.Ink, c.look.Ink)
	return d.Texts()
}

// enough is the fineness that a printed picture should have, dots an inch:
// common practice, no source.
const enough = 300.0

// fine says when the picture is too coarse for a box of w by h mm.
func (c *card) fine(w, h float64) {
	if dpi := c.o.Picture.DPI(w, h); math.Round(dpi) < enough {
		c.note(HelpPicture, "the picture has %.0f dots an inch at %s; under %.0f it prints soft: %.0f x %.0f pixels or more would do",
			math.Floor(dpi), fmt.Sprintf("%.0f x %.0f mm", w, h), enough, math.Ceil(w/25.4*enough), math.Ceil(h/25.4*enough))
	}
}
