package inlay

import (
	"fmt"
	"strings"

	"longside/planner"
	"longside/planner/paper"
)

// What of the request a note's help is about, beside paper's own.
const (
	HelpTitle   paper.Help = "title"   // a shorter title
	HelpLabels  paper.Help = "labels"  // the label's and its window's measures
	HelpBox     paper.Help = "box"     // a higher box label
	HelpPicture paper.Help = "picture" // a finer picture
	HelpLayout  paper.Help = "layout"  // one of the note's ways
)

// Note is a sentence that a person should know of the drawing.
type Note struct {
	paper.Note
	Ways []Way // with HelpLayout: each prints everything whole; it was tried
}

// Way is a change of the options: what is zero stays as it is.
type Way struct {
	Design string // another design
	Duplex bool   // print on both sides
	Folds  int    // so many fold-outs at the most
}

// Words says what the way is, as the end of "prints all whole:".
func (w Way) Words() string {
	var parts []string
	if w.Design != "" {
		parts = append(parts, "the design "+w.Design)
	}
	switch {
	case w.Folds == 1:
		parts = append(parts, "1 fold-out")
	case w.Folds > 1:
		parts = append(parts, fmt.Sprintf("%d fold-outs", w.Folds))
	}
	if w.Duplex {
		parts = append(parts, "print on both sides")
	}
	return strings.Join(parts, " and ")
}

func (w Way) on(o Options) Options {
	if w.Design != "" {
		o.Design = w.Design
	}
	if w.Folds > 0 {
		o.Folds = w.Folds
	}
	o.Duplex = o.Duplex || w.Duplex
	return o
}

// lost counts the tracks that the cards of a plan shorten or leave out.
func lost(p planner.Plan, o Options, f *paper.Fonts, entries map[entryKey]entry) (n int) {
	for i := range p.Tapes {
		c := newCard(p, i, o, f, f.Letters())
		c.entries = entries
		c.layOut()
		n += len(c.list.cut) + c.list.over
	}
	return n
}

// chosen puts a design in the place of "auto": the first that prints all titles
// of all tapes whole or, where none does, the one that shortens the fewest.
func chosen(p planner.Plan, o Options, f *paper.Fonts) (Options, []Note) {
	if o.Design != auto {
		return o, nil
	}
	best, least := "", -1
	entries := map[entryKey]entry{}
	for _, d := range Designs {
		if d == auto || d == ruled { // ruled prints no titles
			continue
		}
		o.Design = d
		if n := lost(p, o, f, entries); least < 0 || n < least {
			best, least = d, n
		}
		if least == 0 {
			break
		}
	}
	o.Design = best
	says := "the design is " + best + ", the first that prints every title whole"
	if least > 0 {
		says = "the design is " + best + ", which shortens the fewest titles"
	}
	return o, []Note{{Note: paper.Note{Says: says}}}
}

// shortened says how much a card shortens or leaves out, and what would print
// all of it whole.
func shortened(p planner.Plan, o Options, f *paper.Fonts, cards []*card) (out []Note) {
	for _, c := range cards {
		all := 0
		for _, s := range c.tape.Sides {
			all += len(s.Tracks)
		}
		on := "the card of " + paper.Clean(c.tape.Name)
		if n := len(c.list.cut); n > 0 {
			says := fmt.Sprintf("%d of %d tracks are shortened on %s (%s)", n, all, on, some(c.list.cut, 8))
			out = append(out, Note{Note: paper.Note{Says: says, Help: HelpLayout}})
		}
		if n := c.list.over; n > 0 {
			says := fmt.Sprintf("%s has no room for its last tracks: %d of %d are not on it", on, n, all)
			out = append(out, Note{Note: paper.Note{Says: says, Help: HelpLayout}})
		}
	}
	if len(out) == 0 {
		return nil
	}
	// The same for all tapes of a set, so it is said once, behind the last.
	n := &out[len(out)-1]
	n.Ways = ways(p, o, f)
	if len(n.Ways) == 0 {
		n.Says += "; no other design, fold-outs or print on both sides that were tried print all whole"
		return out
	}
	var words []string
	for _, w := range n.Ways {
		words = append(words, w.Words())
	}
	n.Says += "; what prints all whole: " + strings.Join(words, "; or ")
	return out
}

// ways tries what would print everything whole, small changes first; a way that
// holds another which is enough is left out.
func ways(p planner.Plan, o Options, f *paper.Fonts) (out []Way) {
	entries := map[entryKey]entry{}
	try := func(w Way) bool {
		for _, enough := range out {
			if (enough.Design == "" || enough.Design == w.Design) && (!enough.Duplex || w.Duplex) && (enough.Folds == 0 || w.Folds >= enough.Folds) {
				return false
			}
		}
		if lost(p, w.on(o), f, entries) > 0 {
			return false
		}
		out = append(out, w)
		return true
	}
	designs := []string{""}
	if o.Design != "plain" && o.Design != ruled {
		designs = append(designs, "plain")
	}
	for _, d := range designs {
		if d != "" {
			try(Way{Design: d})
		}
		if !o.Duplex {
			try(Way{Design: d, Duplex: true})
		}
	}
	for _, both := range []bool{false, true} {
		for n := max(o.Folds, 0) + 1; n <= MostFolds && !(both && o.Duplex); n++ {
			if try(Way{Folds: n, Duplex: both}) {
				break
			}
		}
	}
	return out
}

// some lists as many as most, and says how many more there are.
func some(all []string, most int) string {
	if n := len(all) - most; n > 0 {
		all = append(append([]string(nil), all[:most]...), fmt.Sprintf("and %d more", n))
	}
	return strings.Join(all, ", ")
}

// unique leaves one of each sentence.
func unique(notes []Note) (out []Note) {
	seen := map[string]bool{}
	for _, n := range notes {
		if !seen[n.Says] {
			seen[n.Says] = true
			out = append(out, n)
		}
	}
	return out
}
