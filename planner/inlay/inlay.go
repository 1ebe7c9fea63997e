// Package inlay draws the card that lies in the case of a cassette: front
// panel, spine and flap in one piece, with fold-out panels when the list of
// tracks needs them, and marks to cut and fold by.
//
// Draw is the one call. The card's picture is the tape itself: the pack as it
// is wound at the end of side A, at its own size, side A's tracks as rings on
// the left half and side B's, which lie on the same tape the other way round,
// on the right.
package inlay

import (
	"errors"
	"fmt"
	"math"

	"longside/planner"
	"longside/planner/paper"
)

// Sizes of a card in mm. Front and spine: 2 1/2 in and 1/2 in, the printed
// template of a tape duplicator (digitaldisc.com card template). Flap: 5/8 in,
// from memory, unverified. Height: under that template's greatest, 4 in (101.6).
// Fold: under its first fold-out panel, 2 14/32 in (61.9).
const (
	DefaultFront  = 63.5
	DefaultSpine  = 12.7
	DefaultFlap   = 16.0
	DefaultHeight = 101.0
	foldOut       = 61.5
)

// Options say how the card is made. Lengths are in mm; 0 stands for the default.
type Options struct {
	Page                       string // A4 or Letter; empty: A4
	Front, Spine, Flap, Height float64
}

// sizes fills in the defaults and refuses what no case and no sheet could hold.
func (o Options) sizes() (Options, error) {
	for _, s := range []struct {
		name         string
		v            *float64
		def, min, mx float64
	}{
		{"front panel", &o.Front, DefaultFront, 40, 80},
		{"spine", &o.Spine, DefaultSpine, 5, 30},
		{"flap", &o.Flap, DefaultFlap, 8, 65},
		{"height", &o.Height, DefaultHeight, 60, 110},
	} {
		if *s.v == 0 {
			*s.v = s.def
		}
		if !(*s.v >= s.min && *s.v <= s.mx) {
			return o, fmt.Errorf("a %s of %g mm cannot be drawn; give %g to %g", s.name, *s.v, s.min, s.mx)
		}
	}
	return o, nil
}

// look is the card's colours: a night blue and its tints on white.
var look = paper.Look{
	Ink: paper.RGB(22, 36, 66), Soft: paper.RGB(84, 104, 142), Pale: paper.RGB(221, 226, 234), Stock: paper.White,
}

// Draw draws a card for each tape of the plan. The notes say what a person
// should know of the drawing, one sentence each: letters that no font holds,
// titles that had to be shortened.
func Draw(p planner.Plan, o Options, f *paper.Fonts) (*paper.Document, []string, error) {
	size, ok := paper.Sheet(o.Page)
	if !ok {
		return nil, nil, fmt.Errorf("no paper size %q; use A4 or Letter", o.Page)
	}
	o, err := o.sizes()
	if err != nil {
		return nil, nil, err
	}
	if len(p.Tapes) == 0 {
		return nil, nil, errors.New("the plan has no tape to draw a card for")
	}
	var cards []*card
	panels := 0
	for i := range p.Tapes {
		c := newCard(p, i, o, f)
		cards = append(cards, c)
		panels = max(panels, c.panels)
	}
	doc := &paper.Document{Title: paper.Clean(cards[0].title)}
	var notes []string
	var drawn []*paper.Drawing
	for _, c := range cards {
		drawn = append(drawn, c.draw())
		notes = append(notes, c.notes...)
	}
	impose(doc, size, drawn, o, panels, f)
	return doc, unique(notes), nil
}

// impose lays the cards out on sheets, upright or across, whichever holds more.
func impose(doc *paper.Document, size paper.Size, cards []*paper.Drawing, o Options, panels int, f *paper.Fonts) {
	w := o.Flap + o.Spine + o.Front + float64(panels)*foldOut
	h := o.Height
	fit := func(pw, ph float64) (nx, ny int) {
		nx = int((pw - 2*pageEdge + between) / (w + between))
		ny = int((ph - 2*pageEdge - footHeight + between) / (h + between))
		return max(nx, 0), max(ny, 0)
	}
	pw, ph := size.Width, size.Height
	nx, ny := fit(pw, ph)
	if ax, ay := fit(ph, pw); ax*ay > nx*ny {
		pw, ph, nx, ny = ph, pw, ax, ay
	}
	nx, ny = max(nx, 1), max(ny, 1)
	folds := []float64{o.Flap, o.Flap + o.Spine}
	for i := range panels {
		folds = append(folds, o.Flap+o.Spine+o.Front+float64(i)*foldOut)
	}
	for len(cards) > 0 {
		page := doc.Add(pw, ph)
		n := min(len(cards), nx*ny)
		cols := min(n, nx)
		rows := (n + nx - 1) / nx
		x0 := (pw - float64(cols)*w - float64(cols-1)*between) / 2
		y0 := math.Max((ph-footHeight-float64(rows)*h-float64(rows-1)*between)/2, pageEdge)
		for i, c := range cards[:n] {
			x, y := x0+float64(i%nx)*(w+between), y0+float64(i/nx)*(h+between)
			page.Place(c, x, y, 0)
			marks(page, x, y, w, h, folds)
		}
		foot(page, f, x0, ph-pageEdge-footHeight+8)
		cards = cards[n:]
	}
}

func unique(notes []string) []string {
	seen := map[string]bool{}
	var out []string
	for _, n := range notes {
		if !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	return out
}
