package shelf

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"longside/planner/tape"
)

// Want is what a plan asks of the shelf. The zero value takes the free tapes
// that are not worn and in which the trust is good.
type Want struct {
	Names      []string         // nominal lengths; none: any
	Types      []string         // IEC types; none: any
	Conditions []tape.Condition // none: any but worn
	AtMost     tape.Likely      // the worst doubt that is accepted
	Deck       tape.Deck
	Year       int    // now; 0 leaves age out of the judgement
	Reuse      bool   // tapes with a recording on them may be used again
	For        string // the plan's title: tapes booked for it will do
}

// Offer is a tape of the shelf that will do.
type Offer struct {
	Entry Entry
	Tape  tape.Tape // with its own measured figures
	Timed time.Duration
	Used  bool // something was recorded on it before
	Trust tape.Trust
}

// Refusal is a tape that will not, and why: one phrase.
type Refusal struct {
	Label string
	Why   string
}

// Pick gives the tapes that will do, the most trusted first, among equals
// sealed before used before worn, measured before unmeasured, the shorter
// before the longer, and then in the shelf's order; and why the others will not.
func (s Shelf) Pick(w Want) ([]Offer, []Refusal) {
	var offers []Offer
	var refused []Refusal
	for _, e := range s.Tapes {
		t, err := e.Tape()
		if err != nil {
			refused = append(refused, Refusal{e.Label, err.Error()})
			continue
		}
		trust, _ := e.Trust(w.Deck, w.Year)
		why := ""
		switch {
		case len(w.Names) > 0 && !slices.ContainsFunc(w.Names, func(n string) bool { k, err := tape.Named(n); return err == nil && k.Name == t.Name }):
			why = "it is a " + t.Name
		case len(w.Types) > 0 && !slices.Contains(w.Types, e.Type):
			why = "its type is " + cmp.Or(e.Type, "not known")
		case len(w.Conditions) == 0 && e.Condition == tape.Worn:
			why = "it is worn"
		case len(w.Conditions) > 0 && !slices.Contains(w.Conditions, e.Condition):
			why = "its condition is " + cmp.Or(string(e.Condition), "not known")
		case e.Booked != nil && e.Booked.For != w.For:
			why = "it is booked for " + e.Booked.For
		case len(e.Recorded) > 0 && !w.Reuse:
			why = "it holds " + e.Recorded[len(e.Recorded)-1].Title
		case trust.Likely > w.AtMost:
			why = "trust in it is " + trust.Word() + ": " + strings.Join(trust.Doubts[0].Because, ", ")
		}
		if why != "" {
			refused = append(refused, Refusal{e.Label, why})
			continue
		}
		offers = append(offers, Offer{e, t, e.Side, e.Condition == tape.Used || e.Condition == tape.Worn || len(e.Recorded) > 0, trust})
	}
	slices.SortStableFunc(offers, func(a, b Offer) int {
		return cmp.Or(
			cmp.Compare(a.Trust.Likely, b.Trust.Likely),
			cmp.Compare(rank(a.Entry.Condition), rank(b.Entry.Condition)),
			-cmp.Compare(min(a.Timed, 1), min(b.Timed, 1)),
			cmp.Compare(a.Tape.Side, b.Tape.Side),
		)
	})
	return offers, refused
}

// rank of a condition, best first; one that is not said lies between sealed and used.
func rank(c tape.Condition) int {
	return slices.Index([]tape.Condition{tape.Sealed, tape.Unsaid, tape.Used, tape.Worn}, c)
}
