package inlay

import (
	"fmt"
	"strings"

	"longside/planner"
	"longside/planner/paper"
)

// Type sizes of the list, points: the largest that fits is taken for the whole
// list. Under 5 it is not read with ease: common practice, no source.
const (
	largest     = 8.5
	readable    = 6.0 // fold-outs are added before the type gets smaller than this
	smallest    = 5.25
	leading     = 1.28 // line to line, of the type size
	entryGap    = 0.42 // more between tracks, of the type size
	artistScale = 0.9  // the artist is a little smaller than the title, and in the second tone
	mostFolds   = 4
	leastPic    = 42.0 // mm of height that a picture needs with its labels when the list shares the front
)

// column is a place for a part of the list.
type column struct {
	width, height float64
	x, y          float64 // of its first line's left end and top, on its panel
}

// list is the tracks of both sides, laid out in one type size over columns.
type list struct {
	c     *card
	sides []planner.Side

	size    float64
	stacked bool // the artist has a line of its own throughout
	short   bool // one line a track, whatever is lost

	cols    []column
	apart   bool // each side has half the columns
	abreast bool // the two sides side by side in the one column
	onFront bool // the first column is on the front panel
	placed  [][]placed
	over    int      // tracks for which there was no room at all
	cut     []string // tracks that were shortened
}

func newList(c *card) list { return list{c: c, sides: c.tape.Sides} }

// entry is a track ready to print: lines of title, then the artist, which
// stands behind the title or under it.
type entry struct {
	number string
	title  []paper.Line
	artist []paper.Line // none, or one behind the title, or up to two under it
	below  bool
	time   paper.Line
	cut    bool
	height float64
}

// placed is an entry, or with track -1 the heading of a side, at its height in a column.
type placed struct {
	x, y, width float64
	side, track int
	entry       entry
}

func (l *list) mm(ems float64) float64 { return l.size * ems * paper.MMPerPoint }
func (l *list) step() float64          { return l.mm(leading) }
func (l *list) head() float64          { return l.mm(leading * 1.5) }

// slots are the widths of number and time, their gaps included.
func (l *list) slots() (num, time float64) {
	f := l.c.f
	digits, widest := "0", "0:00"
	for _, s := range l.sides {
		for i, t := range s.Tracks {
			if n := fmt.Sprint(i + 1); len(n) > len(digits) {
				digits = n
			}
			if c := planner.Clock(t.LengthS.D()); len(c) > len(widest) {
				widest = c
			}
		}
	}
	return f.Line(digits, paper.Regular).Width(l.size) + l.mm(0.5), f.Line(widest, paper.Regular).Width(l.size) + l.mm(0.7)
}

func (l *list) entry(i int, t planner.Track, width, num, tm float64) entry {
	f := l.c.f
	w := width - num - tm
	e := entry{number: fmt.Sprint(i + 1), time: f.Line(planner.Clock(t.LengthS.D()), paper.Regular)}
	most := 3
	if l.short {
		most = 1
	}
	e.title, e.cut = f.Wrap(t.Title, paper.Regular, l.size, w, most)
	n := max(len(e.title), 1)
	if artist := paper.Clean(t.Artist); artist != "" {
		small, last := l.size*artistScale, 0.0
		if len(e.title) > 0 {
			last = e.title[len(e.title)-1].Width(l.size) + l.mm(0.7)
		}
		one := f.Line(artist, paper.Regular)
		switch fits := last+one.Width(small) <= w; {
		case fits && !l.stacked:
			e.artist = []paper.Line{one}
		case !l.short:
			var cut bool
			e.artist, cut = f.Wrap(artist, paper.Regular, small, w, 2)
			e.cut = e.cut || cut
			e.below = true
			n += len(e.artist)
		case w-last >= w/4:
			one, e.cut = f.Fit(artist, paper.Regular, small, w-last)
			e.artist = []paper.Line{one}
		default:
			e.cut = true // no room for the artist at all
		}
	}
	e.height = float64(n)*l.step() + l.mm(entryGap)
	return e
}

// flow fills the columns in turn. When the sides are to stand apart, the second
// begins with the second half of the columns. ok is false when not all fits.
func (l *list) flow() (ok bool) {
	n := len(l.cols)
	l.placed, l.over = make([][]placed, n), 0
	num, tm := l.slots()
	if l.abreast {
		return l.flowAbreast(num, tm)
	}
	at, y := 0, 0.0
	for s, side := range l.sides {
		if s > 0 {
			if l.apart {
				if at >= n/2 {
					return false
				}
				at, y = n/2, 0
			} else if y > 0 {
				y += l.step() * 0.8
			}
		}
		headed := false
		for i, t := range side.Tracks {
			if at >= n {
				l.over++
				continue
			}
			e := l.entry(i, t, l.cols[at].width, num, tm)
			need := e.height
			if !headed {
				need += l.head()
			}
			if y+need > l.cols[at].height+l.mm(entryGap+leading-1) {
				at, y = at+1, 0
				if at >= n {
					l.over++
					continue
				}
				e = l.entry(i, t, l.cols[at].width, num, tm)
			}
			if !headed {
				l.placed[at] = append(l.placed[at], placed{width: l.cols[at].width, y: y, side: s, track: -1})
				y += l.head()
				headed = true
			}
			l.placed[at] = append(l.placed[at], placed{width: l.cols[at].width, y: y, side: s, track: i, entry: e})
			y += e.height
		}
	}
	return l.over == 0
}

// flowAbreast sets the first side on the left and the second on the right.
func (l *list) flowAbreast(num, tm float64) bool {
	if len(l.sides) > 2 {
		return false
	}
	col := &l.cols[0]
	const gutter = 2.0
	w := (col.width - gutter) / 2
	height := 0.0
	for s, side := range l.sides {
		if float64(len(side.Tracks))*(l.step()+l.mm(entryGap)) > col.height {
			return false // not even with one line each
		}
		y := 0.0
		for i, t := range side.Tracks {
			e := l.entry(i, t, w, num, tm)
			if e.cut {
				return false
			}
			l.placed[0] = append(l.placed[0], placed{x: float64(s) * (w + gutter), width: w, y: y, side: s, track: i, entry: e})
			y += e.height
		}
		height = max(height, y)
	}
	if height > col.height {
		return false
	}
	col.height = height
	return true
}

// columns are the places for the list with so many fold-outs.
func (l *list) columns(folds int) (cols []column, onFront bool) {
	o := l.c.o
	h := o.Height - 2*margin
	if o.Design == "plain" && o.Picture == nil {
		cols = append(cols, column{width: o.Front - 2*margin, height: h - 17, x: margin})
		onFront = true
	}
	for range folds {
		cols = append(cols, column{o.Fold - 2*margin, h, margin, margin})
	}
	if o.Duplex {
		cols = append(cols, column{o.Front - 2*margin, h, margin, margin})
	}
	return cols, onFront
}

// choose finds the layout: on the front when the list is short, else on as few
// fold-outs as keep the type readable. It gives how many.
func (l *list) choose() (folds int) {
	if l.c.o.Design != "plain" {
		h := l.c.o.Height - 2*margin
		l.onFront, l.abreast, l.stacked = true, true, true
		for l.size = largest - 1; l.size >= readable; l.size -= 0.25 {
			l.cols = []column{{width: l.c.o.Front - 2*margin, height: h - 11 - 10 - leastPic, x: margin}}
			if l.flow() {
				return 0
			}
		}
		l.onFront, l.abreast = false, false
	}
	for n := 0; n <= mostFolds; n++ {
		l.cols, l.onFront = l.columns(n)
		if len(l.cols) == 0 {
			continue
		}
		for _, try := range []struct {
			apart, stacked, short bool
			from, least           float64
		}{
			{true, true, false, largest, 7}, {true, false, false, largest, readable},
			{false, true, false, largest, 7}, {false, false, false, largest, readable},
			{false, false, false, readable, smallest}, {false, false, true, readable, smallest},
		} {
			if try.from < largest && n < mostFolds {
				break // small type and lost words only when no panel can be added
			}
			if try.apart && (len(l.cols)%2 != 0 || len(l.sides) != 2) {
				continue
			}
			l.apart, l.stacked, l.short = try.apart, try.stacked, try.short
			for l.size = try.from; l.size >= try.least; l.size -= 0.25 {
				if l.flow() {
					if l.short { // what was lost may have made room for more
						for n > 0 {
							if l.cols, l.onFront = l.columns(n - 1); len(l.cols) == 0 || !l.flow() {
								break
							}
							n--
						}
						l.cols, l.onFront = l.columns(n)
						l.flow()
					}
					return n
				}
			}
		}
	}
	l.size = smallest
	l.flow()
	return mostFolds
}

// draw draws each column; what did not fit is noted.
func (l *list) draw() []*paper.Drawing {
	if l.over > 0 {
		l.c.notes = append(l.c.notes, fmt.Sprintf("the card of %s has no room for its last tracks: %d are not on it", l.c.tape.Name, l.over))
	}
	var out []*paper.Drawing
	for i, col := range l.placed {
		d := &paper.Drawing{}
		for _, p := range col {
			l.put(d, l.cols[i].x+p.x, l.cols[i].y+p.y, p)
		}
		out = append(out, d)
	}
	if len(l.cut) > 0 {
		l.c.notes = append(l.c.notes, fmt.Sprintf("shortened on the card of %s: %s", l.c.tape.Name, strings.Join(l.cut, ", ")))
	}
	return out
}

// put draws a heading or a track with its top left corner at (x, y).
func (l *list) put(d *paper.Drawing, x, y float64, p placed) {
	c, f, look := l.c, l.c.f, l.c.look
	base := y + l.step()*0.78
	side := l.sides[p.side]
	right := x + p.width
	if p.track < 0 {
		d.Text(x, base, f.Line("Side "+side.Side, paper.Bold), l.size, look.Ink, paper.Left)
		d.Text(right, base, f.Line(planner.Clock(side.UsedS.D()), paper.Bold), l.size, look.Ink, paper.Right)
		d.Line(x, base+l.mm(0.34), right, base+l.mm(0.34), paper.Stroke(look.Ink, 0.2))
		return
	}
	e, t := p.entry, side.Tracks[p.track]
	what := c.track(side, p.track)
	if e.cut {
		l.cut = append(l.cut, fmt.Sprintf("%s%d", side.Side, p.track+1))
	}
	c.missing(what, f.Line(t.Title, paper.Regular), f.Line(t.Artist, paper.Regular))
	num, _ := l.slots()
	d.Text(x+num-l.mm(0.5), base, f.Line(e.number, paper.Regular), l.size, look.Soft, paper.Right)
	d.Text(right, base, e.time, l.size, look.Ink, paper.Right)
	for i, t := range e.title {
		if i > 0 {
			base += l.step()
		}
		d.Text(x+num, base, t, l.size, look.Ink, paper.Left)
	}
	ax := x + num
	if !e.below && len(e.title) > 0 {
		ax += e.title[len(e.title)-1].Width(l.size) + l.mm(0.7)
	}
	for i, a := range e.artist {
		if e.below && (i > 0 || len(e.title) > 0) {
			base += l.step()
		}
		d.Text(ax, base, a, l.size*artistScale, look.Soft, paper.Left)
	}
}
