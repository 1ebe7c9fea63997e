package paper

import "math"

// TextBox is where the ink of a line of text stands on a drawing, mm.
type TextBox struct {
	Text       string
	X, Y, W, H float64
}

// Texts lists the lines of text on a drawing in the order in which they were
// drawn, so that a layout can be held to leaving none cut off or overlapping.
func (d *Drawing) Texts() []TextBox {
	var out []TextBox
	for _, it := range d.items {
		if it.line.glyphs == nil {
			continue
		}
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, g := range it.line.glyphs {
			for _, s := range g.outline().segs {
				if s.kind == closePath {
					continue
				}
				x, y := it.at.apply((g.x+s.x)/1000*it.size, -(g.y+s.y)/1000*it.size)
				x0, y0, x1, y1 = math.Min(x0, x), math.Min(y0, y), math.Max(x1, x), math.Max(y1, y)
			}
		}
		if x1 > x0 {
			out = append(out, TextBox{it.line.text, x0, y0, x1 - x0, y1 - y0})
		}
	}
	return out
}

// Box is where something stands on a drawing, mm.
type Box struct{ X, Y, W, H float64 }

// Lines lists the boxes of what was stroked and not filled, in the order in which
// it was drawn, the width of the stroke left out, so that marks can be held to
// standing clear of what is to be cut.
func (d *Drawing) Lines() []Box {
	var out []Box
	for _, it := range d.items {
		if len(it.path.segs) == 0 || it.style.Fill.on || !it.style.Stroke.on {
			continue
		}
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, s := range it.path.segs {
			if s.kind != closePath {
				x0, y0, x1, y1 = math.Min(x0, s.x), math.Min(y0, s.y), math.Max(x1, s.x), math.Max(y1, s.y)
			}
		}
		out = append(out, Box{x0, y0, x1 - x0, y1 - y0})
	}
	return out
}

// Overlaps tells whether two boxes share more than slack mm each way.
func (b TextBox) Overlaps(c TextBox, slack float64) bool {
	return math.Min(b.X+b.W, c.X+c.W)-math.Max(b.X, c.X) > slack && math.Min(b.Y+b.H, c.Y+c.H)-math.Max(b.Y, c.Y) > slack
}
