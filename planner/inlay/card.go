package inlay

import (
	"fmt"
	"strings"

	"longside/planner"
	"longside/planner/paper"
)

// Margins and the type scale of the card: one of each, in mm and points. The
// list has a size of its own, one for the whole of it.
const (
	margin      = 4.0
	titleSize   = 15.0
	titleLesser = 12.0
	noteSize    = 7.5
	smallSize   = 6.5
	labelSize   = 5.5
)

// card is one tape's card while it is being laid out.
type card struct {
	o      Options
	f      *paper.Fonts
	look   paper.Look
	plan   planner.Plan
	tape   planner.Tape
	number int // of the set, from 1
	of     int

	title string
	list  list
	folds int // fold-out panels
	notes []string
}

func newCard(p planner.Plan, i int, o Options, f *paper.Fonts) *card {
	c := &card{o: o, f: f, look: palette(o.Ink, o.Stock), plan: p, tape: p.Tapes[i], number: i + 1, of: len(p.Tapes)}
	c.title = paper.Clean(p.Title)
	if c.title == "" {
		c.title = c.tape.Name
	}
	c.missing("the title", f.Line(c.title, paper.Bold))
	c.missing("the note", f.Line(p.Note, paper.Regular))
	c.list = newList(c)
	return c
}

// missing notes letters that print as boxes.
func (c *card) missing(what string, lines ...paper.Line) {
	if m := paper.MissingFrom(lines...); m != "" {
		c.notes = append(c.notes, what+": "+m)
	}
}

// track names a track in a note: A3 "Brume légère".
func (c *card) track(s planner.Side, i int) string {
	name := fmt.Sprintf("%s%d %q", s.Side, i+1, paper.Clean(s.Tracks[i].Title))
	if c.of > 1 {
		name = fmt.Sprintf("tape %d, %s", c.number, name)
	}
	return name
}

// pieces is the whole card, cut where a sheet cannot hold it across.
func (c *card) pieces(widest float64) []piece {
	c.folds = c.list.choose()
	columns := c.list.draw()
	outside := []panel{
		{width: c.o.Flap, face: turned(c.flap(), c.o.Flap)},
		{width: c.o.Spine, face: turned(c.spine(), c.o.Spine)},
		{width: c.o.Front, face: c.front(columns)},
	}
	next := func() *paper.Drawing {
		if len(columns) == 0 {
			return &paper.Drawing{}
		}
		d := columns[0]
		columns = columns[1:]
		return d
	}
	if c.list.onFront {
		next()
	}
	for range c.folds {
		outside = append(outside, panel{width: c.o.Fold, face: &paper.Drawing{}})
	}
	if c.o.Duplex {
		// The back is read from left to right, which is from the last panel to the front.
		for i := len(outside) - 1; i >= 2; i-- {
			outside[i].back = next()
		}
	} else {
		for i := 3; i < len(outside); i++ {
			outside[i].face = next()
		}
	}
	var out []piece
	p := piece{height: c.o.Height}
	for _, q := range outside {
		if len(p.panels) > 0 && p.width()+q.width > widest {
			out = append(out, p)
			p = piece{height: c.o.Height, tab: true}
		}
		p.panels = append(p.panels, q)
	}
	return append(out, p)
}

// turned places a drawing that was made along, Height wide, to read from top to bottom.
func turned(d *paper.Drawing, width float64) *paper.Drawing {
	out := &paper.Drawing{}
	out.Place(d, width, 0, 1)
	return out
}

// kind is what a person must set the deck to: tape, type, noise reduction.
func (c *card) kind() []string {
	parts := []string{c.tape.Name}
	typ := c.tape.Type
	if typ == "" {
		typ = c.plan.Terms.TapeType
	}
	if typ != "" {
		parts = append(parts, "Type "+typ)
	}
	if nr := c.plan.Terms.NoiseReduction; nr == "none" {
		parts = append(parts, "no noise reduction")
	} else if nr != "" {
		parts = append(parts, "noise reduction "+nr)
	}
	return parts
}

func (c *card) setMark() string {
	if c.of < 2 {
		return ""
	}
	return fmt.Sprintf("%d of %d", c.number, c.of)
}

// under is the line below a title: place in the set, note.
func (c *card) under() string {
	var parts []string
	for _, s := range []string{c.setMark(), paper.Clean(c.plan.Note)} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, " · ")
}

func tracks(s planner.Side) string {
	n := "1 track"
	if len(s.Tracks) != 1 {
		n = fmt.Sprintf("%d tracks", len(s.Tracks))
	}
	return n + " · " + planner.Clock(s.UsedS.D())
}

// mid is the baseline that puts figures of a size in the middle of a box at y.
func mid(y, points float64) float64 { return y + 0.365*points*paper.MMPerPoint }

// spine is drawn along: Height wide, Spine high.
func (c *card) spine() *paper.Drawing {
	d := &paper.Drawing{}
	w, y := c.o.Height, c.o.Spine/2
	right := c.kind()
	if m := c.setMark(); m != "" {
		right = append([]string{m}, right...)
	}
	l, _ := c.f.Fit(strings.Join(right, " · "), paper.Regular, smallSize, w*0.5)
	d.Text(w-margin, mid(y, smallSize), l, smallSize, c.look.Ink, paper.Right)
	room := w - 2*margin - 3 - l.Width(smallSize)
	size := 10.0
	t, cut := c.f.Fit(c.title, paper.Bold, size, room)
	if cut {
		size = 8
		t, cut = c.f.Fit(c.title, paper.Bold, size, room)
	}
	if cut {
		c.notes = append(c.notes, "the title is shortened on the spine; a shorter --title shows whole")
	}
	d.Text(margin, mid(y, size), t, size, c.look.Ink, paper.Left)
	return d
}

// flap is drawn along: Height wide, Flap high. It holds both sides as strips to one scale.
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
		y := 1 + row*(float64(i)+0.5)
		d.Text(margin, mid(y, smallSize), c.f.Line(s.Side, paper.Bold), smallSize, c.look.Ink, paper.Left)
		if c.o.Design == "plain" {
			d.Text(margin+5, mid(y, smallSize), c.f.Line(tracks(s), paper.Regular), smallSize, c.look.Ink, paper.Left)
			if i == 0 {
				l, _ := c.f.Fit(strings.Join(c.kind(), " · "), paper.Regular, smallSize, w/2)
				d.Text(w-margin, mid(y, smallSize), l, smallSize, c.look.Ink, paper.Right)
			}
			continue
		}
		time := c.f.Line(planner.Clock(s.UsedS.D()), paper.Regular)
		d.Text(w-margin, mid(y, smallSize), time, smallSize, c.look.Ink, paper.Right)
		full := w - 2*margin - 4 - time.Width(smallSize) - 2
		run := s.RunS.D().Seconds()
		paper.Strip{Length: run, Stretches: stretches(s)}.Draw(d, c.f, margin+4, y-strip/2, full*run/longest, strip, c.look, 5)
	}
	return d
}
