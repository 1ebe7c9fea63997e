package inlay

import (
	"fmt"

	"longside/planner"
	"longside/planner/paper"
)

// Type sizes of the list, points: the largest that fits is taken for the whole
// list. Under smallest it is not read with ease: common practice, no source.
const (
	largest   = 8.5
	readable  = 6.5 // more panels are added before the type gets smaller than this
	smallest  = 5.25
	leading   = 1.28 // line to line, of the type size
	entryGap  = 0.42 // more between tracks, of the type size
	maxPanels = 3    // what an A4 sheet holds across beside front, spine and flap
)

// list is the tracks of both sides, laid out in one type size.
type list struct {
	f     *paper.Fonts
	sides []planner.Side

	size        float64
	stacked     bool // artist always on a line of its own
	frontHeight float64
}

func newList(t planner.Tape, f *paper.Fonts) list { return list{f: f, sides: t.Sides} }

// entry is a track ready to print: lines of title, then the artist, which
// stands behind the title or under it.
type entry struct {
	number string
	title  []paper.Line
	artist paper.Line
	below  bool // the artist has a line of its own
	time   paper.Line
	cut    bool
	height float64
}

// step is the distance from line to line in mm.
func (l *list) step() float64 { return l.size * leading * paper.MMPerPoint }

func (l *list) head() float64 { return l.step() * 1.5 }

func (l *list) columns(width float64) (num, time float64) {
	return l.f.Line("00", paper.Regular).Width(l.size) + 1.2, l.f.Line("00:00", paper.Regular).Width(l.size) + 1.5
}

func (l *list) entry(i int, t planner.Track, width float64) entry {
	num, tm := l.columns(width)
	w := width - num - tm
	e := entry{number: fmt.Sprint(i + 1), time: l.f.Line(planner.Clock(t.LengthS.D()), paper.Regular)}
	var cutTitle, cutArtist bool
	e.title, cutTitle = l.f.Wrap(t.Title, paper.Regular, l.size, w, 2)
	n := max(len(e.title), 1)
	if artist := paper.Clean(t.Artist); artist != "" {
		last := 0.0
		if len(e.title) > 0 {
			last = e.title[len(e.title)-1].Width(l.size) + l.size*0.7*paper.MMPerPoint
		}
		e.artist = l.f.Line(artist, paper.Regular)
		if l.stacked || last+e.artist.Width(l.size*artistScale) > w {
			e.below = true
			n++
			e.artist, cutArtist = l.f.Fit(artist, paper.Regular, l.size*artistScale, w)
		}
	}
	e.cut = cutTitle || cutArtist
	e.height = float64(n)*l.step() + l.size*entryGap*paper.MMPerPoint
	return e
}

// artistScale sets the artist a little smaller than the title, in the second tone.
const artistScale = 0.9

// panelEntries lays the sides out over n panels. ok is false when they do not fit.
func (l *list) panelEntries(n int, width, height float64) (at [][]placed, ok bool) {
	at = make([][]placed, n)
	panel, y := 0, 0.0
	for s, side := range l.sides {
		if s > 0 {
			if n%2 == 0 && panel < n/2 {
				panel, y = n/2, 0
			} else if y > 0 {
				y += l.step() * 0.8
			}
		}
		headed := false
		for i, t := range side.Tracks {
			e := l.entry(i, t, width)
			need := e.height
			if !headed {
				need += l.head()
			}
			if y+need > height+l.size*entryGap*paper.MMPerPoint {
				panel, y = panel+1, 0
				if panel >= n {
					return nil, false
				}
			}
			if !headed {
				at[panel] = append(at[panel], placed{y: y, side: s, track: -1})
				y += l.head()
				headed = true
			}
			at[panel] = append(at[panel], placed{y: y, side: s, track: i, entry: e})
			y += e.height
		}
	}
	return at, true
}

type placed struct {
	y     float64
	side  int
	track int // -1: the heading of the side
	entry entry
}

// choose finds the layout: on the front when the list is short, else on as few
// fold-out panels as keep the type readable. It returns how many.
func (l *list) choose(c *card) int {
	h := c.o.Height - 2*margin
	for l.size = largest - 1; l.size >= readable; l.size -= 0.25 {
		if ht, ok := l.fitsFront(c); ok {
			l.frontHeight = ht
			return 0
		}
	}
	for n := 1; n <= maxPanels; n++ {
		for _, stacked := range []bool{true, false} {
			l.stacked = stacked
			least := readable
			if stacked {
				least = 7
			}
			if n == maxPanels && !stacked {
				least = smallest
			}
			for l.size = largest; l.size >= least; l.size -= 0.25 {
				if _, ok := l.panelEntries(n, foldOut-2*margin, h); ok {
					return n
				}
			}
		}
	}
	l.size = smallest
	return maxPanels
}

// fitsFront tells whether both sides fit side by side under the pack, without
// shortening anything and leaving the pack at least 36 mm across.
func (l *list) fitsFront(c *card) (height float64, ok bool) {
	l.stacked = true
	if len(l.sides) > 2 {
		return 0, false
	}
	w := c.o.Front/2 - margin - 1
	for _, s := range l.sides {
		y := 0.0
		for i, t := range s.Tracks {
			e := l.entry(i, t, w)
			if e.cut {
				return 0, false
			}
			y += e.height
		}
		height = max(height, y)
	}
	return height, height <= c.o.Height-2*margin-16-5-3-40
}

// onFront draws the two sides side by side.
func (l *list) onFront(c *card) *paper.Drawing {
	d := &paper.Drawing{}
	w := c.o.Front/2 - margin - 1
	for s, side := range l.sides {
		x := margin
		if s == 1 {
			x = c.o.Front/2 + 1
		}
		y := 0.0
		for i, t := range side.Tracks {
			e := l.entry(i, t, w)
			l.put(c, d, x, y, w, placed{side: s, track: i, entry: e})
			y += e.height
		}
	}
	return d
}

// draw draws the fold-out panels, none when the list is on the front.
func (l *list) draw(c *card) []*paper.Drawing {
	if c.panels == 0 {
		return nil
	}
	w, h := foldOut-2*margin, c.o.Height-2*margin
	at, ok := l.panelEntries(c.panels, w, h)
	if !ok {
		// Even the smallest type does not hold the list: what is over is left out, and said.
		at = make([][]placed, c.panels)
		c.notes = append(c.notes, fmt.Sprintf("the list of %s is too long for the card; only its beginning is printed", c.tape.Name))
		for n := len(l.sides); n > 0; n-- {
			short := *l
			short.sides = nil
			for _, s := range l.sides {
				s.Tracks = s.Tracks[:min(len(s.Tracks), 20*c.panels)]
				short.sides = append(short.sides, s)
			}
			if got, ok := short.panelEntries(c.panels, w, h); ok {
				at = got
				break
			}
		}
	}
	var out []*paper.Drawing
	for _, panel := range at {
		d := &paper.Drawing{}
		for _, p := range panel {
			l.put(c, d, margin, margin+p.y, w, p)
		}
		out = append(out, d)
	}
	return out
}

// put draws a heading or a track with its top at y.
func (l *list) put(c *card, d *paper.Drawing, x, y, w float64, p placed) {
	base := y + l.step()*0.78
	side := l.sides[p.side]
	if p.track < 0 {
		letter := l.f.Line("Side "+side.Side, paper.Bold)
		d.Text(x, base, letter, l.size, look.Ink, paper.Left)
		d.Text(x+w, base, l.f.Line(planner.Clock(side.UsedS.D()), paper.Bold), l.size, look.Ink, paper.Right)
		d.Line(x, base+l.size*0.32*paper.MMPerPoint, x+w, base+l.size*0.32*paper.MMPerPoint, paper.Stroke(look.Ink, 0.2))
		return
	}
	e := p.entry
	t := side.Tracks[p.track]
	what := fmt.Sprintf("%s%d %q", side.Side, p.track+1, t.Title)
	if e.cut {
		c.notes = append(c.notes, what+": shortened on the card")
	}
	c.missing(what, append(append([]paper.Line(nil), e.title...), e.artist)...)
	num, _ := l.columns(w)
	d.Text(x+num-1.2, base, l.f.Line(e.number, paper.Regular), l.size, look.Soft, paper.Right)
	d.Text(x+w, base, e.time, l.size, look.Ink, paper.Right)
	for i, t := range e.title {
		if i > 0 {
			base += l.step()
		}
		d.Text(x+num, base, t, l.size, look.Ink, paper.Left)
	}
	ax := x + num
	switch {
	case e.artist.Text() == "":
		return
	case e.below:
		base += l.step()
	case len(e.title) > 0:
		ax += e.title[len(e.title)-1].Width(l.size) + l.size*0.7*paper.MMPerPoint
	}
	d.Text(ax, base, e.artist, l.size*artistScale, look.Soft, paper.Left)
}
