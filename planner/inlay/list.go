package inlay

import (
	"cmp"
	"fmt"
	"slices"
	"sort"

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
	mostLines   = 8    // of one title: no title takes a whole panel
	mostArtist  = 3    // lines of one artist
	leastPic    = 42.0 // mm of height that a picture needs with its labels when the list shares the front
)

// place is one face of a panel: 0 is the front panel, 1 and on are the fold-outs.
type place struct {
	panel int
	back  bool
}

// column is where a part of the list stands: on a face, its first line's left end and top.
type column struct {
	place
	width, height float64
	x, y          float64
}

// trackAt is a track by its side and place, both from 0.
type trackAt struct{ side, track int }

// list is the tracks of both sides, laid out in one type size over columns.
type list struct {
	c     *card
	sides []planner.Side

	size    float64
	stacked bool             // the artist has a line of its own throughout
	brief   map[trackAt]bool // these have one line each, whatever is lost
	pen     float64          // line to line in mm where titles are left open for a pen; 0: they are printed

	folds   int
	cols    []column
	split   int  // the column with which the second side begins when the sides stand apart
	apart   bool // each side has columns of its own
	abreast bool // the two sides side by side in the one column
	onFront bool // the list shares the front with title and picture
	placed  [][]placed
	over    int      // tracks for which there was no room at all
	cut     []string // tracks that were shortened
}

func newList(c *card) *list { return &list{c: c, sides: c.tape.Sides} }

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
func (l *list) step() float64 {
	if l.pen > 0 {
		return l.pen
	}
	return l.mm(leading)
}
func (l *list) head() float64 {
	if l.pen > 0 {
		return l.pen
	}
	return l.mm(leading * 1.5)
}

// slack is what the last line of a column needs less than the others.
func (l *list) slack() float64 {
	if l.pen > 0 {
		return 0
	}
	return l.mm(entryGap + leading - 1)
}

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

// entryKey is what an entry depends on.
type entryKey struct {
	tape, side, track int
	size, width       float64
	stacked, brief    bool
}

// entry sets a track, or gives it as it was set before.
func (l *list) entry(s, i int, width, num, tm float64) entry {
	key := entryKey{l.c.number, s, i, l.size, width - num - tm, l.stacked, l.brief[trackAt{s, i}]}
	e, ok := l.c.entries[key]
	if !ok || l.pen > 0 {
		e = l.set(s, i, width-num-tm)
		l.c.entries[key] = e
	}
	return e
}

func (l *list) set(s, i int, w float64) entry {
	f, t := l.c.f, l.sides[s].Tracks[i]
	most := mostLines
	if l.brief[trackAt{s, i}] {
		most = 1
	}
	e := entry{number: fmt.Sprint(i + 1), time: f.Line(planner.Clock(t.LengthS.D()), paper.Regular)}
	if l.pen > 0 {
		e.height = l.pen
		return e
	}
	e.title, e.cut = f.Wrap(t.Title, paper.Regular, l.size, w, most)
	n := max(len(e.title), 1)
	if artist := paper.Clean(t.Artist); artist != "" {
		small, last := l.size*artistScale, l.behind(e.title)
		one := f.Line(artist, paper.Regular)
		switch fits := last+one.Width(small) <= w; {
		case fits && !l.stacked:
			e.artist = []paper.Line{one}
		case most > 1:
			var cut bool
			e.artist, cut = f.Wrap(artist, paper.Regular, small, w, mostArtist)
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

// behind is how far from its left end a title's last line is taken: where the
// artist may stand. The last line of one from right to left begins at the right
// edge of the whole.
func (l *list) behind(title []paper.Line) float64 {
	n := len(title)
	switch {
	case n == 0:
		return 0
	case n > 1 && title[n-1].RightToLeft():
		return widest(title, l.size) + l.mm(0.7)
	}
	return title[n-1].Width(l.size) + l.mm(0.7)
}

func widest(lines []paper.Line, size float64) (w float64) {
	for _, l := range lines {
		w = max(w, l.Width(size))
	}
	return w
}

// flow fills the columns in turn. When the sides are to stand apart, the second
// begins with a column of its own. ok is false when not all fits; then it stops
// at the first track that has no place.
func (l *list) flow() (ok bool) {
	n := len(l.cols)
	l.placed, l.over, l.cut = make([][]placed, n), 0, nil
	num, tm := l.slots()
	if l.abreast {
		return l.flowAbreast(num, tm)
	}
	for _, s := range l.sides {
		l.over += len(s.Tracks)
	}
	at, y := 0, 0.0
	for s, side := range l.sides {
		if s > 0 {
			if l.apart {
				if at >= l.split {
					return false
				}
				at, y = l.split, 0
			} else if y > 0 {
				y += l.step() * 0.8
			}
		}
		headed := false
		for i := range side.Tracks {
			if at >= n {
				return false
			}
			e := l.entry(s, i, l.cols[at].width, num, tm)
			need := e.height
			if !headed {
				need += l.head()
			}
			if y+need > l.cols[at].height+l.slack() {
				if at, y = at+1, 0; at >= n {
					return false
				}
				e = l.entry(s, i, l.cols[at].width, num, tm)
			}
			if !headed {
				l.add(at, placed{width: l.cols[at].width, y: y, side: s, track: -1})
				y += l.head()
				headed = true
			}
			l.add(at, placed{width: l.cols[at].width, y: y, side: s, track: i, entry: e})
			y += e.height
			l.over--
		}
	}
	return true
}

// add places one thing in a column and takes down whether it was shortened.
func (l *list) add(col int, p placed) {
	l.placed[col] = append(l.placed[col], p)
	if p.track >= 0 && p.entry.cut {
		l.cut = append(l.cut, l.c.track(l.sides[p.side], p.track))
	}
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
		for i := range side.Tracks {
			e := l.entry(s, i, w, num, tm)
			if e.cut {
				return false
			}
			l.add(0, placed{x: float64(s) * (w + gutter), width: w, y: y, side: s, track: i, entry: e})
			y += e.height
		}
		height = max(height, y)
	}
	if height > col.height {
		return false
	}
	col.height, col.y = height, l.c.o.Height-margin-height
	return true
}

// columns are the places for the list with so many fold-outs, in the order of
// reading: the outside from the front on, then the inside, which is read from
// the last panel to the front's back. Printed on both sides, side B begins
// inside; else it has the second half, where the columns have one.
func (l *list) columns(folds int) (cols []column, split int) {
	o := l.c.o
	h := o.Height - 2*margin
	if l.frontFree() {
		top := l.c.head.bottom + 3
		cols = append(cols, column{width: o.Front - 2*margin, height: o.Height - margin - top, x: margin, y: top})
	}
	for i := range folds {
		cols = append(cols, column{place{i + 1, false}, o.Fold - 2*margin, h, margin, margin})
	}
	split = len(cols)
	if !o.Duplex {
		if split%2 != 0 {
			return cols, 0
		}
		return cols, split / 2
	}
	for i := folds; i > 0; i-- {
		cols = append(cols, column{place{i, true}, o.Fold - 2*margin, h, margin, margin})
	}
	return append(cols, column{place{0, true}, o.Front - 2*margin, h, margin, margin}), split
}

// frontFree tells whether the front has nothing but a title, so that the list may stand there.
func (l *list) frontFree() bool {
	return (l.c.o.Design == "plain" || l.c.o.Design == ruled) && l.c.o.Picture == nil
}

// choose finds the layout: on the front when the list is short, else on as few
// fold-outs as keep the type readable and every title whole; then in smaller
// type; and when nothing holds all, the one that shortens the fewest.
func (l *list) choose() {
	if l.c.o.Design == ruled {
		l.chooseRuled()
		return
	}
	var best *list
	// whole tells that nothing was lost; what lost the least is kept.
	whole := func() bool {
		if !l.flow() {
			return false
		}
		if best == nil || len(l.cut) < len(best.cut) {
			c := *l
			best = &c
		}
		return len(l.cut) == 0
	}
	if !l.frontFree() && !l.c.overPanel() {
		l.onFront, l.abreast, l.stacked = true, true, true
		room := l.c.o.Height - margin - max(l.c.head.bottom, margin+11) - 10 - leastPic
		for l.size = largest - 1; l.size >= readable; l.size -= 0.25 {
			l.cols = []column{{width: l.c.o.Front - 2*margin, height: room, x: margin}}
			if whole() {
				return
			}
		}
		l.onFront, l.abreast, best = false, false, nil
	}
	most := l.c.folds()
	// sizes tries the sizes between two for a number of fold-outs.
	sizes := func(folds int, from, least float64) bool {
		l.folds = folds
		if l.cols, l.split = l.columns(folds); len(l.cols) == 0 || l.apart && (l.split == 0 || len(l.sides) != 2) {
			return false
		}
		for l.size = from; l.size >= least; l.size -= 0.25 {
			if whole() {
				return true
			}
		}
		return false
	}
	for n := 0; n <= most; n++ {
		for _, try := range []struct {
			apart, stacked bool
			least          float64
		}{{true, true, 7}, {true, false, readable}, {false, true, 7}, {false, false, readable}} {
			l.apart, l.stacked = try.apart, try.stacked
			if sizes(n, largest, try.least) {
				return
			}
		}
	}
	l.apart, l.stacked = false, false
	if sizes(most, readable-0.25, smallest) {
		return
	}
	for n := 0; n <= most; n++ {
		for _, size := range []float64{readable, smallest} {
			l.folds, l.size = n, size
			if l.cols, l.split = l.columns(n); len(l.cols) > 0 {
				l.squeeze(whole)
			}
		}
	}
	if best != nil {
		*l = *best
		return
	}
	l.folds, l.size = most, smallest
	l.cols, l.split = l.columns(most)
	if len(l.cols) > 0 {
		l.squeeze(func() bool { return false })
	}
	l.flow()
}

// squeeze gives one line each to as few tracks as makes the list fit, those that
// take the most lines first, and tries each step. It leaves all in one line each
// when even that is too long.
func (l *list) squeeze(try func() bool) {
	type sized struct {
		trackAt
		height float64
	}
	var all []sized
	num, tm := l.slots()
	l.brief = nil
	for s, side := range l.sides {
		for i := range side.Tracks {
			all = append(all, sized{trackAt{s, i}, l.entry(s, i, l.cols[len(l.cols)-1].width, num, tm).height})
		}
	}
	slices.SortStableFunc(all, func(a, b sized) int { return cmp.Compare(b.height, a.height) })
	cut := func(n int) {
		l.brief = map[trackAt]bool{}
		for _, t := range all[:n] {
			l.brief[t.trackAt] = true
		}
	}
	// The fewest that must: with one more they fit, with one less they do not.
	few := sort.Search(len(all), func(n int) bool {
		cut(n)
		return l.flow()
	})
	cut(few)
	try()
}

// draw draws each column on its face.
func (l *list) draw() map[place]*paper.Drawing {
	out := map[place]*paper.Drawing{}
	for i, col := range l.placed {
		d := &paper.Drawing{}
		for _, p := range col {
			l.put(d, l.cols[i].x+p.x, l.cols[i].y+p.y, p)
		}
		out[l.cols[i].place] = d
	}
	return out
}

// put draws a heading or a track with its top left corner at (x, y).
func (l *list) put(d *paper.Drawing, x, y float64, p placed) {
	c, f, look := l.c, l.c.f, l.c.look
	base := y + l.step()*0.78
	side := l.sides[p.side]
	right := x + p.width
	num, tm := l.slots()
	if l.pen > 0 && p.track >= 0 { // a line to write on between number and time
		d.Text(x+num-l.mm(0.5), base, f.Line(p.entry.number, paper.Regular), l.size, look.Soft, paper.Right)
		d.Text(right, base, p.entry.time, l.size, look.Ink, paper.Right)
		d.Line(x+num, base+0.3, right-tm+l.mm(0.3), base+0.3, paper.Stroke(look.Soft, 0.12))
		return
	}
	if p.track < 0 {
		d.Text(x, base, f.Line("Side "+side.Side, paper.Bold), l.size, look.Ink, paper.Left)
		d.Text(right, base, f.Line(planner.Clock(side.UsedS.D()), paper.Bold), l.size, look.Ink, paper.Right)
		d.Line(x, base+l.mm(0.34), right, base+l.mm(0.34), paper.Stroke(look.Ink, 0.2))
		return
	}
	e, t := p.entry, side.Tracks[p.track]
	c.boxes.Look(c.track(side, p.track), f.Line(t.Title, paper.Regular), f.Line(t.Artist, paper.Regular))
	d.Text(x+num-l.mm(0.5), base, f.Line(e.number, paper.Regular), l.size, look.Soft, paper.Right)
	d.Text(right, base, e.time, l.size, look.Ink, paper.Right)
	block := widest(e.title, l.size) // lines from right to left begin at its right edge
	for i, t := range e.title {
		if i > 0 {
			base += l.step()
		}
		if t.RightToLeft() && len(e.title) > 1 {
			d.Text(x+num+block, base, t, l.size, look.Ink, paper.Right)
			continue
		}
		d.Text(x+num, base, t, l.size, look.Ink, paper.Left)
	}
	ax := x + num
	if !e.below {
		ax += l.behind(e.title)
	}
	for i, a := range e.artist {
		if e.below && (i > 0 || len(e.title) > 0) {
			base += l.step()
		}
		d.Text(ax, base, a, l.size*artistScale, look.Soft, paper.Left)
	}
}
