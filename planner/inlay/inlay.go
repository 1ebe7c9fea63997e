// Package inlay draws the card that lies in the case of a cassette: front
// panel, spine and flap in one piece, with fold-out panels when the list of
// tracks needs them, and marks to cut and fold by. It draws shell labels and
// spine strips too.
//
// Draw is the one call. Each design's picture is made of the plan itself.
// "wound" shows the pack as it is at the end of side A, at its own size: side
// A's tracks as rings on the left half from the hub outwards, and on the right
// half side B's, which lie on the same tape the other way round. "line" shows
// both sides as one strip with the flip at its turn. "plain" is type only, for
// long lists.
package inlay

import (
	"errors"
	"fmt"
	"slices"
	"strings"

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
	DefaultFold   = 61.5
)

// Sizes of a shell label and of the window in it, mm: from memory, unverified.
const (
	DefaultLabelWidth   = 89.5
	DefaultLabelHeight  = 41.5
	DefaultWindowWidth  = 42.0
	DefaultWindowHeight = 12.0
)

// Parts are what can be drawn.
var Parts = []string{"card", "labels", "spine"}

// Designs are the card's designs, the default first.
var Designs = []string{"wound", "line", "plain"}

// Options say what is drawn and how. Lengths are in mm; 0 and the empty string
// stand for the default.
type Options struct {
	Page string // A4 or Letter; empty: A4

	Parts  []string // of Parts, in the order wanted; nil: the card
	Design string   // of Designs
	Ink    string   // of Inks
	Stock  string   // of Stocks
	// Picture stands on the front in place of the design's own.
	Picture *paper.Picture
	// Duplex prints the list on the back of the front panel and of the fold-outs,
	// so that it needs fewer of them: pages come in pairs, front and back.
	Duplex   bool
	Language string // of the titles, BCP 47; empty: not said

	Front, Spine, Flap, Height, Fold                   float64
	LabelWidth, LabelHeight, WindowWidth, WindowHeight float64
}

// filled puts in the defaults and refuses what no case and no sheet could hold.
func (o Options) filled() (Options, error) {
	for _, s := range []struct {
		name         string
		v            *float64
		def, min, mx float64
	}{
		{"front panel", &o.Front, DefaultFront, 40, 80},
		{"spine", &o.Spine, DefaultSpine, 5, 30},
		{"flap", &o.Flap, DefaultFlap, 8, 65},
		{"height", &o.Height, DefaultHeight, 60, 110},
		{"fold-out panel", &o.Fold, DefaultFold, 30, 80},
		{"label width", &o.LabelWidth, DefaultLabelWidth, 50, 100},
		{"label height", &o.LabelHeight, DefaultLabelHeight, 20, 64},
		{"window width", &o.WindowWidth, DefaultWindowWidth, 0.1, 80},
		{"window height", &o.WindowHeight, DefaultWindowHeight, 0.1, 30},
	} {
		if *s.v == 0 {
			*s.v = s.def
		}
		if !(*s.v >= s.min && *s.v <= s.mx) {
			return o, fmt.Errorf("a %s of %g mm cannot be drawn; give %g to %g", s.name, *s.v, s.min, s.mx)
		}
	}
	if o.WindowWidth > o.LabelWidth-8 || o.WindowHeight > o.LabelHeight-14 {
		return o, fmt.Errorf("a window of %g x %g mm leaves no room on a label of %g x %g", o.WindowWidth, o.WindowHeight, o.LabelWidth, o.LabelHeight)
	}
	for _, s := range []struct {
		name string
		v    *string
		of   []string
	}{{"design", &o.Design, Designs}, {"ink", &o.Ink, Inks()}, {"stock", &o.Stock, Stocks()}} {
		if *s.v == "" {
			*s.v = s.of[0]
		}
		if !slices.Contains(s.of, *s.v) {
			return o, fmt.Errorf("no %s %q; choose %s", s.name, *s.v, strings.Join(s.of, ", "))
		}
	}
	if len(o.Parts) == 0 {
		o.Parts = Parts[:1]
	}
	for _, p := range o.Parts {
		if !slices.Contains(Parts, p) {
			return o, fmt.Errorf("no part %q; choose %s", p, strings.Join(Parts, ", "))
		}
	}
	return o, nil
}

// Draw draws what the options ask for, for each tape of the plan. The notes say
// what a person should know of the drawing, one sentence each: letters that no
// font holds, titles that had to be shortened, sizes to measure first.
func Draw(p planner.Plan, o Options, f *paper.Fonts) (*paper.Document, []string, error) {
	size, ok := paper.Sheet(o.Page)
	if !ok {
		return nil, nil, fmt.Errorf("no paper size %q; use A4 or Letter", o.Page)
	}
	o, err := o.filled()
	if err != nil {
		return nil, nil, err
	}
	if len(p.Tapes) == 0 {
		return nil, nil, errors.New("the plan has no tape to draw a card for")
	}
	var cards []*card
	for i := range p.Tapes {
		cards = append(cards, newCard(p, i, o, f))
	}
	doc := &paper.Document{Title: cards[0].title, Language: o.Language, Duplex: o.Duplex}
	s := &sheets{doc: doc, size: size, f: f, look: cards[0].look, duplex: false}
	for _, part := range o.Parts {
		var pieces []piece
		s.duplex, s.advice = false, nil
		for _, c := range cards {
			switch part {
			case "card":
				s.duplex = o.Duplex
				pieces = append(pieces, c.pieces(s.widest())...)
			case "labels":
				pieces = append(pieces, c.labels()...)
			case "spine":
				pieces = append(pieces, c.strip())
			}
		}
		s.advice = advice(part, pieces)
		if n := len(p.Skipped); n > 0 {
			s.advice = append(s.advice, fmt.Sprintf("Not on this tape: %d unreadable %s, named on the run sheet.", n, map[bool]string{true: "file", false: "files"}[n == 1]))
		}
		s.impose(pieces)
	}
	var notes []string
	for _, c := range cards {
		notes = append(notes, c.notes...)
	}
	if slices.Contains(o.Parts, "labels") {
		notes = append(notes, "label sizes are from memory, unverified: lay the print on your shell first; --label-width, --label-height, --window-width and --window-height change them")
	}
	return doc, unique(notes), nil
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
