package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"longside/planner"
	"longside/planner/shelf"
	"longside/planner/tape"
)

// shelfFlags are those of a plan that takes its tapes from the shelf.
type shelfFlags struct {
	use        bool
	trust      string
	conditions []string
	reuse      bool
}

func (f *shelfFlags) add(fl *pflag.FlagSet) {
	f.trust = "good"
	fl.BoolVar(&f.use, "shelf", false, "take tapes from the shelf (longside shelf); --tape then says which lengths will do, and plan books them")
	fl.Var(oneOf(&f.trust, "good", "fair", "careful"), "trust", "how far a tape of the shelf must be trusted at the least")
	fl.StringSliceVar(&f.conditions, "condition", nil, "`CONDITION` of a tape of the shelf that will do, as sealed,used (default: any but worn)")
	fl.BoolVar(&f.reuse, "reuse", false, "tapes of the shelf with a recording on them may be used again")
	fl.String("shelf-file", "", "the shelf's `FILE` (default: shelf.toml in your data folder)")
}

// choose puts the shelf's tapes that will do on the request. Tapes that are
// alike are one choice with several labels.
func (f *shelfFlags) choose(store shelf.Store, names []string, r *planner.Request, year int) error {
	s, err := store.Read()
	if err != nil {
		return err
	}
	w := shelf.Want{Names: names, Year: year, Reuse: f.reuse, For: r.Mix.Title}
	w.AtMost = map[string]tape.Likely{"good": tape.Unlikely, "fair": tape.Possible, "careful": tape.Probable}[f.trust]
	for _, c := range f.conditions {
		switch k := tape.Condition(strings.ToLower(strings.TrimSpace(c))); k {
		case tape.Sealed, tape.Used, tape.Worn:
			w.Conditions = append(w.Conditions, k)
		default:
			return fmt.Errorf("--condition %s: write sealed, used or worn", c)
		}
	}
	if r.TapeType != "" {
		w.Types = []string{r.TapeType}
	}
	if r.Deck != nil {
		w.Deck = *r.Deck
	}
	if r.DeckLimit.Known {
		w.Deck.LongestTape = r.DeckLimit.Name
	}
	offers, refused := s.Pick(w)
	for i, o := range offers {
		if r.Limit == planner.MeasuredLimit && o.Timed == 0 {
			refused = append(refused, shelf.Refusal{Label: o.Entry.Label, Why: "it was never timed (--limit measured)"})
			continue
		}
		named, err := tape.Named(o.Entry.Name)
		if err != nil {
			return err
		}
		c := planner.Choice{
			Tape: o.Tape, Stock: 1, Labels: []string{o.Entry.Label}, Type: o.Entry.Type, Used: o.Used, Rank: i,
			Timed: o.Timed, Known: planner.Known{Condition: o.Entry.Condition, Wound: o.Entry.Wound, PlayedWell: o.Entry.PlayedWell, Calibration: o.Entry.CalibrationOn(w.Deck.Name)},
		}
		c.Tape.Side = named.Side // the label's length: what was timed is kept apart
		if o.Entry.Year > 0 {
			c.Known.Years = max(0, year-o.Entry.Year)
		}
		if same := alike(r.Tapes, c); same != nil {
			same.Stock++
			same.Labels = append(same.Labels, o.Entry.Label)
			continue
		}
		r.Tapes = append(r.Tapes, c)
	}
	if len(r.Tapes) == 0 {
		var why []string
		for i, n := range refused {
			if i == 5 {
				why = append(why, fmt.Sprintf("and %d more", len(refused)-5))
				break
			}
			why = append(why, n.Label+": "+n.Why)
		}
		if len(why) == 0 {
			return fmt.Errorf("%s: the shelf is empty; put tapes on it with longside shelf add", store.Path)
		}
		return fmt.Errorf("%s: no tape of the shelf will do (%s)", store.Path, strings.Join(why, "; "))
	}
	return nil
}

// alike finds a choice that a tape differs from in nothing but its label.
func alike(all []planner.Choice, c planner.Choice) *planner.Choice {
	for i := range all {
		a := &all[i]
		if a.Tape == c.Tape && a.Timed == c.Timed && a.Type == c.Type && a.Used == c.Used && a.Known.Same(c.Known) {
			return a
		}
	}
	return nil
}

// book keeps the tapes of a plan for it.
func (f *shelfFlags) book(ctx context.Context, store shelf.Store, p planner.Plan) error {
	if p.Title == "" {
		return errors.New("a tape of the shelf is booked under the plan's title: give one with --title")
	}
	return store.Change(ctx, func(s *shelf.Shelf) error {
		for _, t := range p.Tapes {
			if err := s.Book(t.Label, p.Title, shelf.On(time.Now()), f.reuse); err != nil {
				return err
			}
		}
		return nil
	})
}
