package fit

import (
	"context"
	"errors"
	"fmt"
	"slices"
)

// Rule is one rule of a problem, as far as a sentence about it needs.
type Rule struct {
	What  RuleKind
	Piece int // number of the piece it is about; -1: none
	Side  int // number of the side, counted from 1; 0: none
}

// RuleKind tells rules apart.
type RuleKind int

// The kinds of rules.
const (
	MustPlace  RuleKind = iota // a piece must be placed
	Room                       // a side holds so much and no more
	PinnedSide                 // a piece is to be on a side
	OpensSide                  // a piece opens its side
	OpensAll                   // a piece opens everything
	ClosesSide                 // a piece closes its side
	ClosesAll                  // a piece closes everything
	GivenOrder                 // the given order is kept
	KeptApart                  // pieces of a group are kept apart
	OffThin                    // a piece ends before the thin part of its side
	TapeCount                  // there are so many tapes and no more
)

var ruleWords = [...]string{"must be placed", "room", "pinned to its side", "opens its side",
	"opens everything", "closes its side", "closes everything", "the given order",
	"kept apart", "not on thin tape", "the number of tapes"}

func (r Rule) String() string {
	s := "a rule"
	if r.What >= 0 && int(r.What) < len(ruleWords) {
		s = ruleWords[r.What]
	}
	if r.Piece >= 0 {
		s = fmt.Sprintf("piece %d: %s", r.Piece, s)
	}
	if r.Side > 0 {
		s += fmt.Sprintf(" (side %d)", r.Side)
	}
	return s
}

// Contradiction is an error: two rules that cannot both be kept, or a rule
// that cannot be kept beside all the others.
type Contradiction struct{ Rule, Against Rule }

func (c *Contradiction) Error() string {
	return fmt.Sprintf("these rules cannot both be kept: %v; %v", c.Rule, c.Against)
}

// ErrNoneFound is the error where pieces that must be placed could not all be
// placed, and it is not known whether they can.
var ErrNoneFound = errors.New("no answer was found that places every piece that must be placed")

// Contradiction names two rules that contradict each other, if it finds such.
// It looks at pieces that must be placed, alone and two at a time; what only
// shows when more are looked at together is left to Solve.
func (p Problem) Contradiction() *Contradiction {
	most, least := 0, MaxSides
	for _, kind := range p.Kinds {
		most = max(most, len(kind.Sides))
		least = min(least, len(kind.Sides))
	}
	given, _ := p.row(p.Given)
	var must []int
	for i, q := range p.Pieces {
		if !q.Must {
			continue
		}
		if q.Side > most*max(1, p.MaxTapes, len(p.Given)) {
			return &Contradiction{Rule{PinnedSide, i, q.Side}, Rule{TapeCount, -1, 0}}
		}
		// A later tape is there only when the one before holds something, so
		// these cannot be looked at alone.
		if q.Side <= max(least, len(given)) {
			must = append(must, i)
		}
	}
	e := &effort{ctx: context.Background(), left: defaultSteps}
	for _, i := range must {
		if c := p.pick(i).explain(e, i); c != nil {
			return c
		}
	}
	const pairs = 60
	if len(must) > pairs {
		must = must[:pairs]
	}
	for k, i := range must {
		for _, j := range must[:k] {
			if c := p.pick(j, i).explain(e, j, i); c != nil {
				return c
			}
		}
	}
	return nil
}

// pick is the same problem with some of the pieces only.
func (p Problem) pick(list ...int) Problem {
	q := p
	q.Pieces = nil
	for _, i := range list {
		q.Pieces = append(q.Pieces, p.Pieces[i])
	}
	q.MaxTapes = max(len(p.Given), min(p.MaxTapes, 2))
	// Others could lie between them, and tracks of their own.
	between := len(p.Pieces) - len(list)
	for i := range p.Pieces {
		between += p.Pieces[i].tracks() - 1
	}
	if p.Apart <= between {
		q.Apart = 0
	}
	return q
}

// explain finds two rules such that a short list has no answer, but has one
// without either; nil where there is an answer or the effort is not enough to
// tell. The numbers are those that its pieces go by.
func (p Problem) explain(e *effort, number ...int) *Contradiction {
	solvable := func(q Problem) bool {
		_, ok := bySets(e, &q)
		return ok
	}
	if solvable(p) || e.spent() {
		return nil
	}
	var found []Rule
	for _, w := range p.waivers() {
		q := p
		q.Pieces = slices.Clone(p.Pieces)
		q.Kinds = slices.Clone(p.Kinds)
		w.waive(&q)
		if !solvable(q) {
			continue
		}
		r := w.rule
		if r.Piece >= 0 {
			r.Piece = number[r.Piece]
		}
		if found = append(found, r); len(found) == 2 {
			break
		}
	}
	switch len(found) {
	case 2:
		return &Contradiction{found[0], found[1]}
	case 1:
		return &Contradiction{found[0], Rule{MustPlace, number[0], 0}}
	}
	return &Contradiction{Rule{MustPlace, number[0], 0}, Rule{MustPlace, number[len(number)-1], 0}}
}

// waiver is a way to do without one rule.
type waiver struct {
	rule  Rule
	waive func(*Problem)
}

// waivers lists the rules that a problem has, the most particular first.
func (p Problem) waivers() []waiver {
	var all []waiver
	add := func(kind RuleKind, piece, side int, waive func(*Problem)) {
		all = append(all, waiver{Rule{kind, piece, side}, waive})
	}
	for i, q := range p.Pieces {
		if q.Side > 0 {
			add(PinnedSide, i, q.Side, func(p *Problem) { p.Pieces[i].Side = 0 })
		}
		if q.Opens != Nothing {
			add([]RuleKind{OfSide: OpensSide, OfAll: OpensAll}[q.Opens], i, 0, func(p *Problem) { p.Pieces[i].Opens = Nothing })
		}
		if q.Closes != Nothing {
			add([]RuleKind{OfSide: ClosesSide, OfAll: ClosesAll}[q.Closes], i, 0, func(p *Problem) { p.Pieces[i].Closes = Nothing })
		}
		if q.NotThin {
			add(OffThin, i, 0, func(p *Problem) { p.Pieces[i].NotThin = false })
		}
		if p.Apart > 0 && q.grouped() {
			add(KeptApart, i, 0, func(p *Problem) { p.Pieces[i].Group, p.Pieces[i].Groups = 0, nil })
		}
	}
	if p.Order == Keep {
		add(GivenOrder, -1, 0, func(p *Problem) { p.Order = Free })
	}
	add(Room, -1, 0, func(p *Problem) {
		for k, kind := range p.Kinds {
			p.Kinds[k].Sides = slices.Clone(kind.Sides)
			for s := range kind.Sides {
				p.Kinds[k].Sides[s].Capacity = Longest
			}
		}
	})
	add(TapeCount, -1, 0, func(p *Problem) {
		p.MaxTapes = len(p.Pieces)
		for k := range p.Kinds {
			p.Kinds[k].Stock = 0
		}
	})
	for i, q := range p.Pieces {
		if q.Must {
			add(MustPlace, i, 0, func(p *Problem) { p.Pieces[i].Must = false })
		}
	}
	return all
}
