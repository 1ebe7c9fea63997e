package inlay

import (
	"math"

	"longside/planner/paper"
)

// front is the panel that shows through the case: title, picture, sides, and
// the list where it is short enough or the design wants it there; nil: it is elsewhere.
func (c *card) front(listed *paper.Drawing) *paper.Drawing {
	d := &paper.Drawing{}
	if c.overPanel() {
		c.over(d)
		return d
	}
	w, h := c.o.Front, c.o.Height
	c.header(d)
	top, foot := c.head.bottom, h-margin
	if listed != nil {
		d.Place(listed, 0, 0, 0)
		if c.list.onFront {
			foot -= c.list.cols[0].height + 1.5
		}
	}
	if c.list.frontFree() {
		return d
	}
	if c.o.Picture != nil {
		foot = c.colophon(d, foot, "")
		c.picture(d, top+2, foot-2)
		return d
	}
	caption := "The tape at its own size, wound to the end of side A"
	radius := c.rim()
	room := math.Min(w/2-1, (foot-6-top)/2) - labelRoom
	scale := math.Min(1, room/radius)
	switch {
	case c.list.onFront:
		caption = "" // the list follows at once
	case c.o.Design == "line":
		caption = "Both sides as one line, to scale; the flip at the turn"
	case scale < 1:
		caption = "The tape wound to the end of side A"
	}
	foot = c.colophon(d, foot, caption)
	if c.o.Design == "line" {
		c.line(d, top+1, foot-1)
		return d
	}
	c.wound(d, w/2, (top+foot)/2, scale)
	return d
}

// head is the title on the front and the line under it, set.
type head struct {
	lines  []paper.Line
	size   float64
	second paper.Line
	bottom float64 // from the panel's top, mm
}

// setBlock is the square with a tape's number on the front, mm.
const setBlock = 9.0

// heading sets the title as large as it goes whole.
func (c *card) heading() head {
	var t head
	inner := c.o.Front - 2*margin
	if c.of > 1 {
		inner -= setBlock + 2
	}
	y := margin
	if c.o.Design == ruled {
		t.bottom = y + 2*openTitle
		return t
	}
	t.lines, t.size = c.fitted(inner, []setting{{titleSize, 1}, {titleLesser, 2}, {titleLesser, 3}, {10, 4}, {8, 5}}, "on the front")
	y += t.size * (0.76 + 1.15*float64(len(t.lines)-1)) * paper.MMPerPoint
	if t.second, _ = c.f.Fit(c.second(), paper.Regular, noteSize, inner); t.second.Text() != "" {
		y += noteSize * 1.55 * paper.MMPerPoint
	}
	t.bottom = y + 1.5
	return t
}

// openTitle is the height of a line for a title that is written by hand, mm.
const openTitle = 8.5

// header draws the title and the line under it.
func (c *card) header(d *paper.Drawing) {
	t := c.head
	right := c.o.Front - margin
	if c.of > 1 {
		c.square(d, right-setBlock, margin, setBlock)
		right -= setBlock + 2
	}
	if c.o.Design == ruled {
		c.open(d, margin, right, margin+openTitle)
		c.open(d, margin, c.o.Front-margin, margin+2*openTitle)
		return
	}
	c.setTitle(d, margin, t, c.look.Ink, c.look.Soft)
}

// setTitle sets a title with its top at a height.
func (c *card) setTitle(d *paper.Drawing, top float64, t head, ink, soft paper.Colour) {
	y := top + t.size*0.76*paper.MMPerPoint
	block := widest(t.lines, t.size)
	for i, l := range t.lines {
		if i > 0 {
			y += t.size * 1.15 * paper.MMPerPoint
		}
		if l.RightToLeft() && len(t.lines) > 1 {
			d.Text(margin+block, y, l, t.size, ink, paper.Right)
			continue
		}
		d.Text(margin, y, l, t.size, ink, paper.Left)
	}
	if t.second.Text() != "" {
		y += noteSize * 1.55 * paper.MMPerPoint
		d.Text(margin, y, t.second, noteSize, soft, paper.Left)
	}
}

// colophon sets the sides, each under its half of the picture, and a caption
// below them; it gives where it begins.
func (c *card) colophon(d *paper.Drawing, foot float64, caption string) float64 {
	w := c.o.Front
	base := foot - 0.6
	if caption != "" {
		l, _ := c.f.Fit(caption, paper.Regular, labelSize, w-2*margin)
		d.Text(margin, base, l, labelSize, c.look.Soft, paper.Left)
		base -= labelSize * 1.6 * paper.MMPerPoint
	}
	for i, s := range c.tape.Sides[:min(len(c.tape.Sides), 2)] {
		x := margin
		if i == 1 {
			x = w/2 + 1
		}
		letter := c.f.Line(s.Side, paper.Bold)
		d.Text(x, base, letter, noteSize, c.look.Ink, paper.Left)
		l, _ := c.f.Fit(tracks(s), paper.Regular, smallSize, w/2-margin-letter.Width(noteSize)-2)
		d.Text(x+letter.Width(noteSize)+1.2, base, l, smallSize, c.look.Ink, paper.Left)
	}
	return base - noteSize*paper.MMPerPoint
}

// picture puts the person's own picture between two heights, cut at its edges
// only where it is very high or very wide for the panel.
func (c *card) picture(d *paper.Drawing, top, foot float64) {
	w := c.o.Front - 2*margin
	room := foot - top
	if room < 10 {
		return
	}
	h := math.Min(math.Max(w*c.o.Picture.Ratio(), math.Min(w*0.6, room)), room)
	d.Picture(margin, top+(room-h)/2, w, h, c.o.Picture)
	c.fine(w, h)
}

// line draws both sides as one strip that goes down on the left, turns, and
// comes up on the right: the flip is at the bottom of the turn.
func (c *card) line(d *paper.Drawing, top, foot float64) {
	const half = 2.6 // of the strip's breadth
	w := c.o.Front
	r := w/2 - margin - 5.5 - half
	y0 := top + 6 // the letters stand above the ends
	y1 := foot - half - 4 - r
	if y1 < y0+4 {
		y1 = y0 + 4
		r = math.Max(foot-half-4-y1, 4)
	}
	u := hairpin{cx: w / 2, r: r, y0: y0, y1: y1}
	sides := c.tape.Sides[:min(len(c.tape.Sides), 2)]
	total := 0.0
	for _, s := range sides {
		total += s.RunS.D().Seconds()
	}
	if total <= 0 {
		return
	}
	scale := u.length() / total
	at := 0.0
	for i, s := range sides {
		run := s.RunS.D().Seconds()
		const gap = 0.5 // half the cut at the flip
		from, to := at*scale, (at+run)*scale
		if i > 0 {
			from += gap
		}
		if i < len(sides)-1 {
			to -= gap
		}
		u.band(d, from, to, half, c.look.Pale)
		var marks []mark
		for _, st := range stretches(s) {
			a, b := (at+st.From)*scale, (at+st.To)*scale
			a, b = math.Max(a, from), math.Min(b, to)
			if b <= a {
				continue
			}
			ink := c.look.Ink
			if st.Tone == paper.Dark {
				ink = c.look.Soft
			}
			u.band(d, a, b, half, ink)
			marks = append(marks, mark{from: (a + b) / 2, label: st.Label})
		}
		c.numbers(d, u, spread(marks, from, to, labelSize*1.05*paper.MMPerPoint), half)
		x, _, _, _ := u.at(u.length() * float64(i))
		d.Text(x, y0-2.2, c.f.Line(s.Side, paper.Bold), titleLesser, c.look.Ink, paper.Centre)
		at += run
	}
	// What the deck must be set to stands in the turn.
	kind := c.kind()
	if r > 12 {
		y := (y0+y1)/2 - float64(len(kind)-1)*noteSize*0.7*paper.MMPerPoint
		for i, k := range kind {
			weight := paper.Regular
			if i == 0 {
				weight = paper.Bold
			}
			l, _ := c.f.Fit(k, weight, noteSize, 2*(r-half)-3)
			d.Text(w/2, y, l, noteSize, c.look.Ink, paper.Centre)
			y += noteSize * 1.4 * paper.MMPerPoint
		}
	}
}

// mark is a label along the strip: where it belongs and where it has room.
type mark struct {
	from, at float64
	label    string
}

// spread pushes marks apart until none is nearer than least to the next, and
// drops all but every second, fifth or tenth where there is no room for them.
func spread(in []mark, from, to, least float64) []mark {
	for _, step := range []int{1, 2, 5, 10, 20, 50, 100} {
		var ms []mark
		var at []float64
		for i, m := range in {
			if (i+1)%step == 0 || i == 0 {
				ms, at = append(ms, m), append(at, m.from)
			}
		}
		if got, ok := paper.Spread(at, from, to, least); ok {
			for i := range ms {
				ms[i].at = got[i]
			}
			return ms
		}
	}
	return nil
}

// numbers sets labels outside the strip with a hair to where they belong.
func (c *card) numbers(d *paper.Drawing, u hairpin, ms []mark, half float64) {
	for _, m := range ms {
		x, y, nx, ny := u.at(m.from)
		tx, ty, tnx, tny := u.at(m.at)
		d.Line(x+nx*half, y+ny*half, tx+tnx*(half+1), ty+tny*(half+1), paper.Stroke(c.look.Ink, 0.12))
		l := c.f.Line(m.label, paper.Regular)
		ex, ey := half+1.4+l.Width(labelSize)/2, half+1.4+0.37*labelSize*paper.MMPerPoint
		d.Text(tx+tnx*ex, mid(ty+tny*ey, labelSize), l, labelSize, c.look.Ink, paper.Centre)
	}
}

// hairpin is a line down, half a circle to the right, and a line up.
type hairpin struct{ cx, r, y0, y1 float64 }

func (u hairpin) leg() float64    { return u.y1 - u.y0 }
func (u hairpin) length() float64 { return 2*u.leg() + math.Pi*u.r }

// at is the point at a distance along the line, and the way outwards there.
func (u hairpin) at(s float64) (x, y, nx, ny float64) {
	leg := u.leg()
	switch {
	case s <= leg:
		return u.cx - u.r, u.y0 + s, -1, 0
	case s >= leg+math.Pi*u.r:
		return u.cx + u.r, u.y1 - (s - leg - math.Pi*u.r), 1, 0
	}
	a := math.Pi - (s-leg)/u.r // from nine o'clock down through six to three
	sin, cos := math.Sincos(a)
	return u.cx + u.r*cos, u.y1 + u.r*sin, cos, sin
}

// band paints the line from a to b, half mm to either side.
func (u hairpin) band(d *paper.Drawing, a, b, half float64, ink paper.Colour) {
	leg, turn := u.leg(), math.Pi*u.r
	if from, to := a, math.Min(b, leg); to > from {
		d.Rect(u.cx-u.r-half, u.y0+from, 2*half, to-from, paper.Fill(ink))
	}
	if from, to := math.Max(a, leg), math.Min(b, leg+turn); to > from {
		d.Path(paper.Ring(u.cx, u.y1, u.r-half, u.r+half, math.Pi-(to-leg)/u.r, math.Pi-(from-leg)/u.r), paper.Fill(ink))
	}
	if from, to := math.Max(a, leg+turn), b; to > from {
		d.Rect(u.cx+u.r-half, u.y1-(to-leg-turn), 2*half, to-from, paper.Fill(ink))
	}
}
