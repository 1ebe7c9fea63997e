package planner

import (
	"errors"
	"fmt"
	"slices"

	"longside/fit"
	"longside/planner/tape"
)

// Change is something to do otherwise, as data: what a suggestion would have the
// person do. The zero value changes nothing. Tracks are named by their places in
// the given list, from 1.
type Change struct {
	Drop     []int    `json:"drop,omitempty"`      // tracks to take off the list
	Swap     [][]int  `json:"swap,omitempty"`      // two rows of tracks that change places in the list
	Split    *SplitAt `json:"split,omitempty"`     // a track to split, or to split elsewhere
	Chapters int      `json:"chapters,omitempty"`  // a track to take as its chapters
	Order    string   `json:"order,omitempty"`     // keep, near, free
	Aim      string   `json:"aim,omitempty"`       // songs, time
	GapS     *Seconds `json:"gap_s,omitempty"`     // between tracks
	ThinTail string   `json:"thin_tail,omitempty"` // warn, rugged, blank
	// TolerancePct is what tape and deck would have to keep to.
	TolerancePct *float64 `json:"tolerance_pct,omitempty"`
	Tape         string   `json:"tape,omitempty"`  // to use instead, as C90
	Tapes        int      `json:"tapes,omitempty"` // how many may be used
	Lift         *Lift    `json:"lift,omitempty"`  // a wish to do without
}

// SplitAt says where a track is to be split.
type SplitAt struct {
	Track int     `json:"track"`
	Name  string  `json:"name"` // what names it and no other; see Mix.Find
	AtS   Seconds `json:"at_s"`
	// FromS and ToS are between which every place will do as well.
	FromS Seconds `json:"from_s"`
	ToS   Seconds `json:"to_s"`
}

// Lift names a wish to do without.
type Lift struct {
	Track int `json:"track,omitempty"` // 0: the wish is of no one track
	// Wish is must, opens, closes, side, not_thin, join, gap, split or reserve of a
	// track; apart, thin_tail, order, tapes (how many), or room, which is no wish
	// but stands against one, of no one track.
	Wish string `json:"wish"`
}

// Apply is the request with the change made, as a person would make it: in the
// list, with the wishes of each track going where it goes. It fails on what the
// request does not have, and where files have to be read anew (Chapters).
func (c Change) Apply(r Request) (Request, error) {
	if c.Chapters != 0 {
		return r, errors.New("the chapters are in the file: read it anew")
	}
	r.Mix.Items = slices.Clone(r.Mix.Items)
	items := r.Mix.Items
	for _, n := range slices.Concat(append(slices.Clone(c.Swap), c.Drop)...) {
		if n < 1 || n > len(items) {
			return r, fmt.Errorf("there is no track #%d: there are %d", n, len(items))
		}
	}
	if s := c.Split; s != nil {
		if s.Track < 1 || s.Track > len(items) {
			return r, fmt.Errorf("there is no track #%d: there are %d", s.Track, len(items))
		}
		items[s.Track-1].Wish.Split = s.AtS
	}
	if l := c.Lift; l != nil {
		if err := l.apply(&r); err != nil {
			return r, err
		}
	}
	if c.Swap != nil {
		if err := swapRows(items, c.Swap); err != nil {
			return r, err
		}
	}
	if c.Drop != nil {
		var left []Item
		for i, it := range items {
			if !slices.Contains(c.Drop, i+1) {
				left = append(left, it)
			}
		}
		r.Mix.Items = left
	}
	var errs [4]error
	if c.Order != "" {
		r.Order, errs[0] = ParseOrder(c.Order)
	}
	if c.Aim != "" {
		r.Aim, errs[1] = ParseAim(c.Aim)
	}
	if c.ThinTail != "" {
		r.ThinTail, errs[2] = ParseThinTail(c.ThinTail)
	}
	if c.GapS != nil {
		r.Gap = c.GapS.D()
	}
	if c.TolerancePct != nil {
		r.Tolerance = *c.TolerancePct / 100
	}
	if c.Tapes != 0 {
		r.MaxTapes = c.Tapes
	}
	if c.Tape != "" {
		var t tape.Tape
		t, errs[3] = tape.Named(c.Tape)
		r.Tapes = []Choice{{Tape: t}}
		if r.Limit == MeasuredLimit { // what was timed was another tape
			r.Limit = ShortLimit
		}
	}
	return r, errors.Join(errs[:]...)
}

// swapRows lets two rows of items change places.
func swapRows(items []Item, rows [][]int) error {
	if len(rows) != 2 || len(rows[0]) == 0 || len(rows[1]) == 0 {
		return errors.New("a swap is of two rows of tracks")
	}
	for _, row := range rows {
		for k, n := range row {
			if n != row[0]+k {
				return errors.New("a row of tracks to swap has no gap")
			}
		}
	}
	a, b := rows[0], rows[1]
	if a[0] > b[0] {
		a, b = b, a
	}
	lastA, lastB := a[len(a)-1], b[len(b)-1]
	if lastA >= b[0] {
		return errors.New("a track does not change places with itself")
	}
	copy(items[a[0]-1:lastB], slices.Concat(items[b[0]-1:lastB], items[lastA:b[0]-1], items[a[0]-1:lastA]))
	return nil
}

// apply takes the wish off a request whose items may be changed.
func (l Lift) apply(r *Request) error {
	if l.Track == 0 {
		switch l.Wish {
		case "apart":
			r.Apart = 0
		case "thin_tail":
			r.ThinTail = WarnTail
		case "order":
			r.Order = fit.Free
		case "room":
			r.roomy = true
		case "tapes":
			r.MaxTapes = 2 * len(r.Mix.Items)
			r.Tapes = slices.Clone(r.Tapes)
			for i := range r.Tapes {
				r.Tapes[i].Stock = 0
			}
		default:
			return fmt.Errorf("there is no wish %q to do without", l.Wish)
		}
		return nil
	}
	if l.Track < 0 || l.Track > len(r.Mix.Items) {
		return fmt.Errorf("there is no track #%d: there are %d", l.Track, len(r.Mix.Items))
	}
	w := &r.Mix.Items[l.Track-1].Wish
	switch l.Wish {
	case "side":
		w.Side = ""
	case "opens":
		w.Opens = Anywhere
	case "closes":
		w.Closes = Anywhere
	case "must":
		w.Must = false
	case "not_thin":
		w.NotThin = false
	case "join":
		w.Join = false
	case "gap":
		w.Gap = nil
	case "split":
		w.Split = 0
	case "reserve":
		w.Reserve = 0
	default:
		return fmt.Errorf("there is no wish %q to do without", l.Wish)
	}
	return nil
}

// wishes lists what a request asks and could do without, one by one. What binds
// most by itself comes last, so that it is what a contradiction is told of.
func (r *Request) wishes() (all []Lift) {
	add := func(there bool, track int, wish string) {
		if there {
			all = append(all, Lift{Track: track, Wish: wish})
		}
	}
	add(true, 0, "tapes")
	add(r.ThinTail == BlankTail, 0, "thin_tail")
	add(r.Apart > 0, 0, "apart")
	for i, it := range r.Mix.Items {
		w, n := it.Wish, i+1
		add(w.Gap != nil && w.Gap.D() > r.Gap, n, "gap")
		add(w.NotThin, n, "not_thin")
		add(w.Reserve > 0, n, "reserve")
		add(w.Join && n < len(r.Mix.Items), n, "join")
		add(w.Split != 0, n, "split")
	}
	add(r.Order == fit.Keep, 0, "order")
	for i, it := range r.Mix.Items {
		w, n := it.Wish, i+1
		add(w.Side != "", n, "side")
		add(w.Closes != Anywhere, n, "closes")
		add(w.Opens != Anywhere, n, "opens")
		add(w.Must, n, "must")
	}
	return all
}

// lifts lists the wishes that a suggestion can do without: order and tapes have
// suggestions of their own, and a reserve is in nobody's way.
func (r *Request) lifts() []Lift {
	return slices.DeleteFunc(r.wishes(), func(l Lift) bool {
		return slices.Contains([]string{"order", "tapes", "reserve"}, l.Wish)
	})
}

// says words the wish, to stand behind "that".
func (l Lift) says(r *Request) string {
	if l.Track > 0 {
		return r.called(l.Track-1) + " " + l.does(r)
	}
	switch l.Wish {
	case "apart":
		return apartSays(r.Apart)
	case "thin_tail":
		return "the thin tails stay blank"
	case "order":
		return "the given order is kept"
	}
	most := r.mostTapes()
	return fmt.Sprintf("no more than %d %s used", most, plural(most, "tape is", "tapes are"))
}

// does words the wish of a track without its title.
func (l Lift) does(r *Request) string {
	w := r.Mix.Items[l.Track-1].Wish
	switch l.Wish {
	case "must":
		return "is not left out"
	case "reserve":
		return "is a reserve"
	case "not_thin":
		return "does not lie on the thin tail"
	case "side":
		return "is on side " + w.Side
	case "opens":
		if w.Opens == OfMix {
			return "opens the tape"
		}
		return "opens its side"
	case "closes":
		if w.Closes == OfMix {
			return "closes the tape"
		}
		return "closes its side"
	case "join":
		return "is joined to " + r.called(l.Track) // the next, from 0
	case "gap":
		return fmt.Sprintf("has a gap of %g s after it", w.Gap.D().Seconds())
	}
	return "is split over both sides at " + Clock(w.Split.D())
}

// apartSays words the rule of artists.
func apartSays(n int) string {
	if n == 1 {
		return "tracks of one artist are no neighbours"
	}
	return fmt.Sprintf("tracks of one artist have %d others between them", n)
}

// called is item i, from 0, as a sentence calls it: by its title, with its place
// in the list where the title names another, too.
func (r *Request) called(i int) string {
	title := r.Mix.Items[i].Title
	for j, it := range r.Mix.Items {
		if j != i && it.Title == title {
			return fmt.Sprintf("%s (#%d)", quote(title), i+1)
		}
	}
	return quote(title)
}
