package inlay

import (
	"fmt"
	"strings"

	"longside/planner"
	"longside/planner/paper"
)

// card is one tape's card while it is being laid out.
type card struct {
	o      Options
	f      *paper.Fonts
	plan   planner.Plan
	tape   planner.Tape
	number int // of the set, from 1
	of     int

	title  string
	list   list
	panels int // fold-out panels
	notes  []string
}

// Margins and the type scale of the card: one of each, in mm and points.
const (
	margin    = 4.0
	titleSize = 15.0
	noteSize  = 7.5
	smallSize = 6.5
	ringSize  = 5.5
)

func newCard(p planner.Plan, i int, o Options, f *paper.Fonts) *card {
	c := &card{o: o, f: f, plan: p, tape: p.Tapes[i], number: i + 1, of: len(p.Tapes)}
	c.title = paper.Clean(p.Title)
	if c.title == "" {
		c.title = c.tape.Name
	}
	c.list = newList(c.tape, f)
	c.panels = c.list.choose(c)
	for _, s := range []string{p.Title, p.Note} {
		c.missing("the title", f.Line(s, paper.Bold))
	}
	return c
}

func (c *card) missing(what string, lines ...paper.Line) {
	for _, l := range lines {
		var names []string
		for i, r := range l.Missing() {
			if i == 8 {
				names = append(names, "and more")
				break
			}
			names = append(names, fmt.Sprintf("%c (U+%04X)", r, r))
		}
		if len(names) > 0 {
			c.notes = append(c.notes, fmt.Sprintf("%s: no font here holds %s; name one that does with --font", what, strings.Join(names, ", ")))
		}
	}
}

func (c *card) draw() *paper.Drawing {
	d := &paper.Drawing{}
	x := c.o.Flap + c.o.Spine
	// Flap and spine are drawn along and turned to read from top to bottom.
	d.Place(c.flap(), c.o.Flap, 0, 1)
	d.Place(c.spine(), x, 0, 1)
	front := c.front()
	d.Place(front, x, 0, 0)
	for i, panel := range c.list.draw(c) {
		d.Place(panel, x+c.o.Front+float64(i)*foldOut, 0, 0)
	}
	return d
}

// kind is what a person must set the deck to: tape, type, noise reduction.
func (c *card) kind() string {
	parts := []string{c.tape.Name}
	if c.plan.Terms.TapeType != "" {
		parts = append(parts, "Type "+c.plan.Terms.TapeType)
	}
	if nr := c.plan.Terms.NoiseReduction; nr == "none" {
		parts = append(parts, "no noise reduction")
	} else if nr != "" {
		parts = append(parts, "noise reduction "+nr)
	}
	return strings.Join(parts, " · ")
}

func (c *card) setMark() string {
	if c.of < 2 {
		return ""
	}
	return fmt.Sprintf("%d of %d", c.number, c.of)
}

// spine is drawn along: Height wide, Spine high.
func (c *card) spine() *paper.Drawing {
	d := &paper.Drawing{}
	w, h := c.o.Height, c.o.Spine
	right := c.kind()
	if m := c.setMark(); m != "" {
		right = m + " · " + right
	}
	l, _ := c.f.Fit(right, paper.Regular, smallSize, w*0.5)
	d.Text(w-margin, h/2+smallSize*0.26*paper.MMPerPoint*1.35, l, smallSize, look.Ink, paper.Right)
	size := 10.0
	t, cut := c.f.Fit(c.title, paper.Bold, size, w-3*margin-l.Width(smallSize))
	if cut {
		size = 8
		t, cut = c.f.Fit(c.title, paper.Bold, size, w-3*margin-l.Width(smallSize))
	}
	if cut {
		c.notes = append(c.notes, "the title is shortened on the spine; a shorter --title shows whole")
	}
	d.Text(margin, h/2+size*0.36*paper.MMPerPoint, t, size, look.Ink, paper.Left)
	return d
}

// flap is drawn along: Height wide, Flap high. It holds both sides as strips.
func (c *card) flap() *paper.Drawing {
	d := &paper.Drawing{}
	w, h := c.o.Height, c.o.Flap
	longest := 1.0
	for _, s := range c.tape.Sides {
		longest = max(longest, s.RunS.D().Seconds())
	}
	const strip = 3.2
	row := (h - 2) / float64(max(len(c.tape.Sides), 1))
	for i, s := range c.tape.Sides {
		y := 1 + row*float64(i) + (row-strip)/2
		base := y + strip/2 + smallSize*0.36*paper.MMPerPoint
		d.Text(margin, base, c.f.Line(s.Side, paper.Bold), smallSize, look.Ink, paper.Left)
		d.Text(w-margin, base, c.f.Line(planner.Clock(s.UsedS.D()), paper.Regular), smallSize, look.Ink, paper.Right)
		full := w - 2*margin - 4 - 9
		run := s.RunS.D().Seconds()
		paper.Strip{Length: run, Stretches: stretches(s)}.Draw(d, c.f, margin+4, y, full*run/longest, strip, look, 5)
	}
	return d
}

// front is the panel that shows through the case: title, pack, sides.
func (c *card) front() *paper.Drawing {
	d := &paper.Drawing{}
	w, h := c.o.Front, c.o.Height
	inner := w - 2*margin
	y := margin + titleSize*0.75*paper.MMPerPoint
	size := titleSize
	lines, cut := c.f.Wrap(c.title, paper.Bold, size, inner, 2)
	if len(lines) > 1 || cut {
		size = 12
		lines, cut = c.f.Wrap(c.title, paper.Bold, size, inner, 2)
	}
	if cut {
		c.notes = append(c.notes, "the title is shortened on the front; a shorter --title shows whole")
	}
	for i, l := range lines {
		if i > 0 {
			y += size * 1.15 * paper.MMPerPoint
		}
		d.Text(margin, y, l, size, look.Ink, paper.Left)
	}
	y += noteSize * 1.5 * paper.MMPerPoint
	note := c.plan.Note
	if m := c.setMark(); m != "" {
		if note != "" {
			m += " · "
		}
		note = m + note
	}
	if l, _ := c.f.Fit(note, paper.Regular, noteSize, inner); l.Text() != "" {
		d.Text(margin, y, l, noteSize, look.Soft, paper.Left)
	}
	// The pack, at its own size where the panel holds it.
	full := paper.PackRadius(c.tape.HubMM, c.tape.ThicknessUM, c.tape.LengthM*1000)
	scale := min(1, (w/2-2)/full)
	top := y + 2
	foot := h - margin
	if c.panels == 0 {
		foot = h - margin - c.list.frontHeight - 3
	}
	foot -= 5
	scale = min(scale, (foot-top)/2/full)
	cx, cy := w/2, (top+foot)/2
	pack := paper.Pack{Hub: c.tape.HubMM}
	for i, s := range c.tape.Sides {
		switch i {
		case 0:
			pack.Left = bands(c.tape, s, c.plan.Terms.DeckSpeedPct, false)
		case 1:
			pack.Right = bands(c.tape, s, c.plan.Terms.DeckSpeedPct, true)
		}
	}
	pack.Draw(d, c.f, cx, cy, scale, look, ringSize)
	// Below: the sides, each under its half of the pack.
	base := foot + 5 - 0.5
	if c.panels > 0 {
		kind, _ := c.f.Fit(c.kind(), paper.Regular, smallSize, inner)
		_ = kind
	}
	for i, s := range c.tape.Sides {
		text := fmt.Sprintf("%d tracks · %s", len(s.Tracks), planner.Clock(s.UsedS.D()))
		if len(s.Tracks) == 1 {
			text = "1 track · " + planner.Clock(s.UsedS.D())
		}
		x := margin
		if i == 1 {
			x = w/2 + 1
		}
		letter := c.f.Line(s.Side, paper.Bold)
		d.Text(x, base, letter, noteSize, look.Ink, paper.Left)
		d.Text(x+letter.Width(noteSize)+1.2, base, c.f.Line(text, paper.Regular), smallSize, look.Soft, paper.Left)
		if i == 1 {
			break
		}
	}
	if c.panels == 0 {
		d.Place(c.list.onFront(c), 0, base+3, 0)
	}
	return d
}
