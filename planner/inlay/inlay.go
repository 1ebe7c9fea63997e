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
// long lists. "ruled" is for people who write by hand: numbers, times and lines,
// titles left open. The cards of a set stand on one scale of shades, numbered.
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

// Sizes of the label for the box of a set, mm: our own choice, as boxes differ.
const (
	DefaultBoxWidth  = 92.0
	DefaultBoxHeight = 60.0
)

// DefaultFolds is how many fold-out panels may be used, and MostFolds how many
// can be asked for. A tape duplicator's template prints up to five panels on
// card and more on thin paper (digitaldisc.com card template).
const (
	DefaultFolds = 4
	MostFolds    = 8
)

// Parts are what can be drawn: the card, the labels of the shell, the spine
// alone, and the label for the box of a set.
var Parts = []string{"card", "labels", "spine", "box"}

// Designs are the card's designs, the default first; the last takes the first
// of those before it that prints every title whole.
var Designs = []string{"wound", "line", "plain", ruled, auto}

const auto = "auto"

// PicturePlaces are where a person's own picture can stand: in the place of the
// design's, or over the whole front panel.
var PicturePlaces = []string{"place", "panel"}

// Options say what is drawn and how. Lengths are in mm; 0 and the empty string
// stand for the default.
type Options struct {
	Page string // A4 or Letter; empty: A4

	Parts  []string // of Parts, in the order wanted; nil: the card
	Design string   // of Designs
	Ink    string   // of Inks
	Stock  string   // of Stocks
	// Picture stands on the front, in a place of PicturePlaces.
	Picture     *paper.Picture
	PictureOver string
	// Duplex prints the list on both sides of the fold-outs and on the back of the
	// front panel, so that it needs fewer of them: pages come in pairs, front and back.
	Duplex   bool
	Folds    int    // most fold-outs; 0: DefaultFolds; under 0: none
	Language string // of the titles, BCP 47; empty: not said

	Front, Spine, Flap, Height, Fold                   float64
	LabelWidth, LabelHeight, WindowWidth, WindowHeight float64
	BoxWidth, BoxHeight                                float64
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
		{"box label's width", &o.BoxWidth, DefaultBoxWidth, 50, 180},
		{"box label's height", &o.BoxHeight, DefaultBoxHeight, 30, 180},
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
	}{{"design", &o.Design, Designs}, {"ink", &o.Ink, Inks()}, {"stock", &o.Stock, Stocks()}, {"place for the picture", &o.PictureOver, PicturePlaces}} {
		if *s.v == "" {
			*s.v = s.of[0]
		}
		if !slices.Contains(s.of, *s.v) {
			return o, fmt.Errorf("no %s %q; choose %s", s.name, *s.v, strings.Join(s.of, ", "))
		}
	}
	if o.Folds == 0 {
		o.Folds = DefaultFolds
	}
	if o.Folds > MostFolds {
		return o, fmt.Errorf("%d fold-outs would not fold into a case; give %d at the most", o.Folds, MostFolds)
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
func Draw(p planner.Plan, o Options, f *paper.Fonts) (*paper.Document, []Note, error) {
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
	o, notes := chosen(p, o, f)
	boxes := f.Letters()
	var cards []*card
	for i := range p.Tapes {
		cards = append(cards, newCard(p, i, o, f, boxes))
	}
	doc := &paper.Document{Title: cards[0].title, Language: o.Language, Duplex: o.Duplex && slices.Contains(o.Parts, "card")}
	s := &sheets{doc: doc, size: size, f: f, look: cards[0].look}
	// What goes on the same paper goes on the same sheets; labels have their own.
	var onCard, onLabels []piece
	for _, part := range o.Parts {
		if part == "box" {
			onCard = append(onCard, box(cards))
		}
		for _, c := range cards {
			switch part {
			case "card":
				onCard = append(onCard, c.pieces(s.widest())...)
			case "labels":
				onLabels = append(onLabels, c.labels()...)
			case "spine":
				onCard = append(onCard, c.strip())
			}
		}
	}
	for _, labels := range []bool{o.Parts[0] == "labels", o.Parts[0] != "labels"} {
		pieces := onCard
		if labels {
			pieces = onLabels
		}
		if len(pieces) == 0 {
			continue
		}
		s.duplex = doc.Duplex && !labels
		s.advice = advice(labels, pieces)
		if n := len(p.Skipped); n > 0 {
			s.advice = append(s.advice, fmt.Sprintf("Not on this tape: %d unreadable %s, named on the run sheet.", n, map[bool]string{true: "file", false: "files"}[n == 1]))
		}
		s.impose(pieces)
	}
	for _, c := range cards {
		notes = append(notes, c.notes...)
	}
	for _, n := range boxes.Notes() {
		notes = append(notes, Note{Note: n})
	}
	if slices.Contains(o.Parts, "card") {
		notes = append(notes, shortened(p, o, f, cards)...)
	}
	if slices.Contains(o.Parts, "labels") {
		notes = append(notes, Note{Note: paper.Note{Says: "label sizes are from memory, unverified: lay the print on your shell first", Help: HelpLabels}})
	}
	return doc, unique(notes), nil
}
