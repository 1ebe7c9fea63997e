package inlay

import (
	"fmt"
	"math"
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
	head  head
	list  *list
	notes []Note
	boxes *paper.Letters // letters that print as boxes
	// entries are the tracks set so far. Cards of one plan that are tried one
	// after another share them.
	entries map[entryKey]entry
}

func newCard(p planner.Plan, i int, o Options, f *paper.Fonts, boxes *paper.Letters) *card {
	c := &card{o: o, f: f, look: palette(o.Ink, o.Stock), plan: p, tape: p.Tapes[i], number: i + 1, of: len(p.Tapes)}
	c.title = paper.Clean(p.Title)
	if c.title == "" {
		c.title = c.tape.Name
	}
	c.boxes, c.entries = boxes, map[entryKey]entry{}
	c.boxes.Look("the title", f.Line(c.title, paper.Bold))
	c.boxes.Look("the note", f.Line(p.Note, paper.Regular))
	return c
}

// layOut sets the title and the list, once.
func (c *card) layOut() {
	if c.list == nil {
		c.head = c.heading()
		c.list = newList(c)
		c.list.choose()
	}
}

// folds is how many fold-out panels may be used.
func (c *card) folds() int { return max(c.o.Folds, 0) }

// note says something that a person should know of the card.
func (c *card) note(help paper.Help, format string, args ...any) {
	c.notes = append(c.notes, Note{Note: paper.Note{Says: fmt.Sprintf(format, args...), Help: help}})
}

// track names a track in a note: A3, or in a set "tape 2, A3".
func (c *card) track(s planner.Side, i int) string {
	name := fmt.Sprintf("%s%d", s.Side, i+1)
	if c.of > 1 {
		name = fmt.Sprintf("tape %d, %s", c.number, name)
	}
	return name
}

// pieces is the whole card, cut where a sheet cannot hold it across.
func (c *card) pieces(widest float64) []piece {
	c.layOut()
	faces := c.list.draw()
	face := func(panel int, back bool) *paper.Drawing {
		if d, ok := faces[place{panel, back}]; ok {
			return d
		}
		return &paper.Drawing{}
	}
	front := panel{width: c.o.Front}
	if c.list.onFront || c.list.frontFree() {
		front.face = c.front(face(0, false))
	} else {
		front.face = c.front(nil)
	}
	if c.overPanel() {
		front.under = c.under(c.list.folds == 0)
	}
	outside := []panel{
		{width: c.o.Flap, face: turned(c.flap(), c.o.Flap)},
		{width: c.o.Spine, face: turned(c.spine(), c.o.Spine)},
		front,
	}
	for i := range c.list.folds {
		outside = append(outside, panel{width: c.o.Fold, face: face(i+1, false)})
	}
	if c.o.Duplex {
		for i := range outside[2:] {
			outside[2+i].back = face(i, true)
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

// second is the line below a title: place in the set, note.
func (c *card) second() string {
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
	x := margin
	if c.of > 1 {
		side := math.Min(c.o.Spine-2*1.6, 10)
		c.square(d, 2.5, y-side/2, side)
		x = 2.5 + side + 2.5
	}
	right := c.kind()
	if m := c.setMark(); m != "" {
		right = append([]string{m}, right...)
	}
	l, _ := c.f.Fit(strings.Join(right, " · "), paper.Regular, smallSize, w*0.45)
	d.Text(w-margin, mid(y, smallSize), l, smallSize, c.look.Ink, paper.Right)
	end := w - margin - l.Width(smallSize) - 3
	if c.o.Design == ruled {
		c.open(d, x, end, y+2)
		return d
	}
	lines, size := c.fitted(end-x, []setting{{10, 1}, {8, 1}, {8, int(c.o.Spine / 5)}, {smallSize, int(c.o.Spine / 4)}}, "on the spine")
	step := size * 1.15 * paper.MMPerPoint
	y -= step * float64(len(lines)-1) / 2
	for _, l := range lines {
		d.Text(x, mid(y, size), l, size, c.look.Ink, paper.Left)
		y += step
	}
	return d
}

// setting is a type size in points and how many lines of it may be set.
type setting struct {
	size float64
	most int
}

// fitted sets the title in the first of some settings that holds it whole, or
// in the last, shortened, with a note that says where.
func (c *card) fitted(width float64, try []setting, where string) (lines []paper.Line, size float64) {
	for _, t := range try {
		var cut bool
		if lines, cut = c.f.Wrap(c.title, paper.Bold, t.size, width, max(t.most, 1)); !cut {
			return lines, t.size
		}
		size = t.size
	}
	c.note(HelpTitle, "the title is shortened %s; a shorter one shows whole", where)
	return lines, size
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
		if c.o.Design == "plain" || c.o.Design == ruled {
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
