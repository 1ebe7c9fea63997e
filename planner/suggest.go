package planner

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"longside/fit"
	"longside/planner/tape"
)

// Suggestion is one thing that would help. What it promises was solved with its
// change made, before it was written.
type Suggestion struct {
	About  string   `json:"about"`            // drop, aim, split, order, swap, gap, tolerance, tape, tail, wish
	Says   string   `json:"says"`             // one sentence
	Tracks []string `json:"tracks,omitempty"` // titles it speaks of
	Tape   string   `json:"tape,omitempty"`   // the tape it speaks of
	// Change is what to do; nil where it takes more than a change of the request.
	Change *Change `json:"change,omitempty"`
	// LeavesOut is how many wanted tracks then have no place; 0: everything fits;
	// -1: it was not solved.
	LeavesOut int `json:"leaves_out,omitempty"`
}

// Suggest says what would help a plan that Make made of the same request: when
// it does not fit, the fewest tracks to leave out, the shortest tape that holds
// them all, and whether another order would do; when it fits with room to
// spare, a shorter tape that would hold it. It gives nothing when nothing would.
func Suggest(ctx context.Context, r Request, p Plan) []Suggestion {
	all := []func(context.Context, Plan) []Suggestion{r.tooLong, r.otherSplit, r.fewest, r.otherAim, r.lift, r.swap, r.reorder, r.tighter, r.looser, r.longer}
	if p.Fits {
		all = []func(context.Context, Plan) []Suggestion{r.offTail, r.shorter}
	}
	var out []Suggestion
	for _, s := range all {
		if ctx.Err() != nil {
			break
		}
		out = append(out, s(ctx, p)...)
	}
	return out
}

// suggestSteps is fit's effort for one suggestion: a tenth of a second or so,
// so that all of them together keep nobody waiting.
const suggestSteps = 200_000

// tried is a changed request as it was solved.
type tried struct {
	Plan
	out   []int // places in its list, from 1, of all that is joined to or part of a wanted track left out
	spare []int // and of the reserves left out
}

// try makes a change and solves what comes of it; ok is false when it makes no
// sense, or when the search was stopped.
func (r Request) try(ctx context.Context, c Change) (t tried, ok bool) {
	q, err := c.Apply(r)
	if err != nil {
		return t, false
	}
	return q.tried(ctx)
}

// tried solves the request, with the effort of a suggestion.
func (r Request) tried(ctx context.Context) (t tried, ok bool) {
	r.MaxSteps = suggestSteps
	places := r.Mix.places()
	if r.ready() != nil {
		return t, false
	}
	ps := r.pieces()
	a, err := r.solve(ctx, ps)
	if err != nil || a.Cut {
		return t, false
	}
	t.Plan = r.lay(ps, a)
	for _, n := range a.LeftOut {
		list := &t.out
		if r.reserve(ps[n]) > 0 {
			list = &t.spare
		}
		for _, i := range ps[n].items {
			if !slices.Contains(*list, places[i]) {
				*list = append(*list, places[i])
			}
		}
	}
	slices.Sort(t.out)
	return t, true
}

// wouldFit is try for changes that are only of use when everything fits.
func (r Request) wouldFit(ctx context.Context, c Change) (Plan, bool) {
	q, err := c.Apply(r)
	if err != nil || q.overfull() {
		return Plan{}, false
	}
	t, ok := q.tried(ctx)
	return t.Plan, ok && t.Fits
}

// overfull says that what is wanted is longer than all sides together, whatever
// its order: nothing needs to be solved to know it.
func (r *Request) overfull() bool {
	ps := r.pieces()
	var need, gap fit.Millis
	for _, q := range r.problem(ps).Pieces {
		if q.Reserve == 0 {
			need += q.Length - q.Fade + q.Gap
			gap = max(gap, q.Gap)
		}
	}
	var most fit.Millis
	for _, k := range r.kinds() {
		var room fit.Millis
		for _, s := range k.Sides {
			room += s.Capacity + gap // the last gap of a side is given back
		}
		most = max(most, room)
	}
	return need > most*fit.Millis(max(1, r.MaxTapes))
}

// fewest finds the fewest tracks to leave out. What is joined goes together,
// unless fewer will do when a row is torn.
func (r Request) fewest(ctx context.Context, p Plan) []Suggestion {
	q := r
	q.Aim = fit.MostSongs
	t, ok := q.tried(ctx)
	if !ok || len(t.out) == 0 {
		return nil
	}
	drop, least := t.out, 0 // least: fewer than so many will not do
	if t.Proved {
		least = len(drop)
	}
	if q, torn := r.torn(); torn {
		u, ok := q.tried(ctx)
		if least = 0; ok && t.Proved && u.Proved {
			least = max(1, len(u.out)) // with all of them it does not fit
		}
		// A reserve in a row with what is wanted may have to go, too.
		for _, n := range u.spare {
			if r.Mix.Items[n-1].Wish.Join || n > 1 && r.Mix.Items[n-2].Wish.Join {
				u.out = append(u.out, n)
			}
		}
		slices.Sort(u.out)
		if ok && len(u.out) < len(drop) && len(u.out) > 0 {
			if _, fits := r.wouldFit(ctx, Change{Drop: u.out}); fits {
				drop = u.out
			}
		}
	}
	c := Change{Drop: drop}
	if len(drop) == len(r.Mix.Items) {
		return nil // to leave out all is no advice
	}
	if rest, fits := r.wouldFit(ctx, c); !fits || !rest.anything() {
		return nil
	}
	var long time.Duration
	for _, n := range drop {
		long += r.Mix.Items[n-1].Length
	}
	says := fmt.Sprintf("leave out %s (%d of %d tracks, %s) and the rest fits", r.callAll(drop), len(drop), len(r.Mix.Items), Clock(long))
	if len(drop) == least {
		says += "; no fewer will do"
	}
	return []Suggestion{{About: "drop", Says: says, Tracks: r.titles(drop), Change: &c}}
}

// torn is the request with its joined rows taken apart and asking no more than
// any part of them could: what has to be left out of it has to be left out
// however a row is torn. torn is false when nothing is joined.
func (r Request) torn() (q Request, torn bool) {
	q = r
	q.Aim = fit.MostSongs
	q.Mix.Items = slices.Clone(r.Mix.Items)
	for i := range q.Mix.Items {
		if w := &q.Mix.Items[i].Wish; w.Join && i+1 < len(q.Mix.Items) {
			none := Seconds(0)
			w.Join, w.Gap, torn = false, &none, true
		}
	}
	q.Apart = 0
	return q, torn
}

// otherAim tells what is kept when the other thing is counted, songs or time.
func (r Request) otherAim(ctx context.Context, p Plan) []Suggestion {
	c := Change{Aim: aimNames[fit.MostTime]}
	if r.Aim == fit.MostTime {
		c.Aim = aimNames[fit.MostSongs]
	}
	t, ok := r.try(ctx, c)
	if !ok || t.Fits {
		return nil
	}
	songs, time := p.kept()
	other, otherTime := t.kept()
	var says string
	switch more := (otherTime - time).D(); {
	case r.Aim == fit.MostTime && other > songs:
		says = fmt.Sprintf("counted by songs %d %s kept, %d more, and %s less playing time", other, plural(other, "is", "are"), other-songs, tenths(-more))
	case r.Aim != fit.MostTime && otherTime > time:
		says = fmt.Sprintf("counted by playing time %s more of it is kept, and %d %s", tenths(more), other, plural(other, "song", "songs"))
		if other < songs {
			says += fmt.Sprintf(", %d fewer", songs-other)
		}
	default:
		return nil
	}
	return []Suggestion{{About: "aim", Says: says, Change: &c, LeavesOut: t.missing()}}
}

// missing is how many wanted tracks have no place; one that is split counts once.
func (p Plan) missing() int {
	n := 0
	for _, k := range p.Lacks() {
		n += truth(!k.SecondPart())
	}
	return n
}

// mostLifts bounds the wishes that are tried one by one.
const mostLifts = 24

// lift finds the wish that costs most: without which everything fits or, where
// there is none such, the most tracks more have a place.
func (r Request) lift(ctx context.Context, p Plan) []Suggestion {
	before := p.missing()
	var best Suggestion
	all := r.lifts()
	if len(all) > mostLifts {
		all = all[:mostLifts]
	}
	// Where it does not help to do without all, it does not to do without one.
	none := r
	for _, l := range all {
		none = none.less(l)
	}
	t, ok := none.tried(ctx)
	least := t.missing()
	if !ok || least >= before {
		return nil
	}
	for _, l := range all {
		c := Change{Lift: &l}
		t, ok := r.try(ctx, c)
		if ctx.Err() != nil {
			break
		}
		now := t.missing()
		if !ok || now >= before || best.Change != nil && now >= best.LeavesOut {
			continue
		}
		says := fmt.Sprintf("without the wish that %s everything fits", l.says(&r))
		if !t.Fits {
			says = fmt.Sprintf("without the wish that %s, %d more %s a place", l.says(&r), before-now, plural(before-now, "track has", "tracks have"))
		}
		best = Suggestion{About: "wish", Says: says, Change: &c, LeavesOut: now}
		if l.Track > 0 {
			best.Tracks = r.titles([]int{l.Track})
		}
		if now <= least {
			break // none can help more
		}
	}
	if best.Change == nil {
		return nil
	}
	return []Suggestion{best}
}

// reorder finds the fewest tracks to move so that everything fits.
func (r Request) reorder(ctx context.Context, _ Plan) []Suggestion {
	if r.Order != fit.Keep {
		return nil
	}
	near := Change{Order: orderNames[fit.Near]}
	q, ok := r.wouldFit(ctx, near)
	if !ok {
		// Near is proved less often than free: ask that, too.
		free := Change{Order: orderNames[fit.Free]}
		if _, ok = r.wouldFit(ctx, free); ok {
			return []Suggestion{{About: "order", Says: "in another order everything fits", Change: &free}}
		}
		return nil
	}
	if len(q.Moved) == 0 {
		return nil // it fits as it is
	}
	says := fmt.Sprintf("move %s and everything fits", quoteAll(q.Moved))
	if q.MovedAtLeast < len(q.Moved) {
		says += " (fewer might do)"
	}
	return []Suggestion{{About: "order", Says: says, Tracks: q.Moved, Change: &near}}
}

// swap finds two tracks, or joined rows of tracks, that need only change places.
func (r Request) swap(ctx context.Context, _ Plan) []Suggestion {
	if r.Order != fit.Keep || r.overfull() {
		return nil
	}
	q := r
	var err error
	if q.Mix, err = r.Mix.split(); err != nil {
		return nil
	}
	// What is joined, or part of one track, goes together.
	ps, places := q.pieces(), r.Mix.places()
	var rows, lists [][]int // of pieces, and of places in the list
	for n, piece := range ps {
		k := len(lists) - 1
		if k < 0 || lists[k][len(lists[k])-1] != places[piece.items[0]] {
			rows, lists, k = append(rows, nil), append(lists, nil), k+1
		}
		rows[k] = append(rows[k], n)
		for _, i := range piece.items {
			if !slices.Contains(lists[k], places[i]) {
				lists[k] = append(lists[k], places[i])
			}
		}
	}
	i, j, ok := q.problem(ps).Swap(ctx, rows)
	if !ok {
		return nil
	}
	c := Change{Swap: [][]int{lists[i], lists[j]}}
	if _, ok := r.wouldFit(ctx, c); !ok {
		return nil
	}
	says := fmt.Sprintf("let %s and %s change places and everything fits", r.callAll(lists[i]), r.callAll(lists[j]))
	if len(lists[i])+len(lists[j]) > 2 {
		says = fmt.Sprintf("let %s change places with %s and everything fits", r.callAll(lists[i]), r.callAll(lists[j]))
	}
	return []Suggestion{{About: "swap", Says: says, Tracks: r.titles(slices.Concat(c.Swap...)), Change: &c}}
}

// tighter finds the widest gap, in whole seconds, with which everything fits.
func (r Request) tighter(ctx context.Context, _ Plan) []Suggestion {
	change := func(s int) Change {
		gap := Seconds(time.Duration(s) * time.Second)
		return Change{GapS: &gap}
	}
	n := widest(int((r.Gap-1)/time.Second), func(s int) bool {
		_, ok := r.wouldFit(ctx, change(s))
		return ok
	})
	if n < 0 {
		return nil
	}
	c := change(n)
	return []Suggestion{{About: "gap", Says: fmt.Sprintf("with gaps of %d s everything fits", n), Change: &c}}
}

// looser finds the widest tolerance, in tenths of a percent, with which everything fits.
func (r Request) looser(ctx context.Context, _ Plan) []Suggestion {
	if r.Limit != ShortLimit {
		return nil
	}
	change := func(tenths int) Change {
		pct := float64(tenths) / 10
		return Change{TolerancePct: &pct}
	}
	most := int(r.Tolerance * 1000)
	n := widest(most, func(t int) bool {
		_, ok := r.wouldFit(ctx, change(t))
		return ok
	})
	if n < 0 || float64(n)/1000 >= r.Tolerance {
		return nil
	}
	c := change(n)
	return []Suggestion{{About: "tolerance", Change: &c,
		Says: fmt.Sprintf("were tape and deck good to %.1f %% everything would fit: time a side of this tape", *c.TolerancePct)}}
}

// widest is the largest n from 0 to most for which fits holds, given that it
// holds for every smaller n, too; -1 when it holds for none.
func widest(most int, fits func(int) bool) int {
	return sort.Search(most+1, func(n int) bool { return !fits(n) }) - 1
}

// anything tells whether a plan holds any track.
func (p *Plan) anything() bool {
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			if len(s.Tracks) > 0 {
				return true
			}
		}
	}
	return false
}

// offTail says when the thin tail can be left blank at no cost.
func (r Request) offTail(ctx context.Context, p Plan) []Suggestion {
	if !slices.ContainsFunc(p.Warnings, func(w Warning) bool { return w.About == "tail" }) {
		return nil
	}
	c := Change{ThinTail: string(BlankTail)}
	if _, ok := r.wouldFit(ctx, c); !ok {
		return nil
	}
	return []Suggestion{{About: "tail", Says: "everything fits with the thin tails left blank", Change: &c}}
}

// longer finds the shortest tape that holds everything, of the lengths that are
// sold, and how many of the person's own do.
func (r Request) longer(ctx context.Context, _ Plan) (out []Suggestion) {
	longest := longestOf(r.Tapes)
	// Standard is sorted, shortest first: the first that holds it is the answer.
	for _, t := range tape.Standard() {
		if t.Side <= longest {
			continue
		}
		c := Change{Tape: t.Name}
		if q, ok := r.wouldFit(ctx, c); ok {
			out = append(out, Suggestion{About: "tape", Tape: t.Name, Change: &c,
				Says: fmt.Sprintf("%s would hold everything (of the lengths that are sold%s)%s", theTapes(q), r.otherLimit(), r.butThin(t))})
			break
		}
	}
	return append(out, r.moreTapes(ctx, len(out) == 0)...)
}

// otherLimit says by which limit a tape is reckoned that was not timed.
func (r Request) otherLimit() string {
	if r.Limit == MeasuredLimit {
		return ", and by its short limit, as it is not timed"
	}
	return ""
}

// moreTapes says how many tapes hold everything: of the person's own kinds, or
// of the next length that is sold. The count starts where plain arithmetic allows
// it. What cannot be solved in a few steps up from there is said to be a bound
// and no more, and only where no longer tape does.
func (r Request) moreTapes(ctx context.Context, alone bool) []Suggestion {
	var most, all time.Duration // a tape's room for programme, and the programme
	name, sold := "", true
	for _, c := range r.Tapes {
		if room := 2 * r.limits(c).of(r.Limit); room > most {
			most, name = room, c.Tape.Name
		}
		sold = sold && isSold(c.Tape)
	}
	for _, it := range r.Mix.Items {
		if it.Wish.Reserve > 0 {
			continue
		}
		if all += it.Length; it.Length > most/2 {
			return nil // no number of tapes helps
		}
	}
	had := max(1, r.MaxTapes)
	least := int((all + most - 1) / most)
	for n := max(least, had+1); n <= max(least, had)+2; n++ {
		c := Change{Tapes: n}
		if !sold {
			c.Tape = nextSold(longestOf(r.Tapes)).Name
		}
		q, ok := r.wouldFit(ctx, c)
		if !ok || len(q.Tapes) <= had {
			continue
		}
		s := Suggestion{About: "tape", Tape: c.Tape, Change: &c, Says: fmt.Sprintf("%s would hold everything", theTapes(q))}
		if !sold {
			s.Says += " (the next length that is sold)"
		}
		if alone {
			s.Says = fmt.Sprintf("no single length up to %s holds everything on %d %s, but %s", longestStandard().Name, had, plural(had, "tape", "tapes"), s.Says)
		}
		return []Suggestion{s}
	}
	if least <= had || !alone {
		return nil // it is not for want of tape
	}
	return []Suggestion{{About: "tape", LeavesOut: -1, Says: fmt.Sprintf("no single length up to %s holds everything on %d %s; by playing time alone it takes %d tapes of %s or more",
		longestStandard().Name, had, plural(had, "tape", "tapes"), least, name)}}
}

// isSold tells whether a tape is of a length met in shops.
func isSold(t tape.Tape) bool {
	return slices.ContainsFunc(tape.Standard(), func(s tape.Tape) bool { return s.Side == t.Side })
}

// nextSold is the shortest tape met in shops with sides as long, or the longest
// that there is.
func nextSold(side time.Duration) tape.Tape {
	for _, t := range tape.Standard() {
		if t.Side >= side {
			return t
		}
	}
	return longestStandard()
}

// shorter finds the shortest tape that holds everything with less blank.
func (r Request) shorter(ctx context.Context, p Plan) []Suggestion {
	if len(p.Tapes) != 1 {
		return nil
	}
	blank := slices.ContainsFunc(p.Warnings, func(w Warning) bool { return w.About == "blank" })
	if !blank {
		return nil
	}
	for _, t := range tape.Standard() {
		if t.Side >= longestOf(r.Tapes) {
			return nil
		}
		c := Change{Tape: t.Name}
		if q, ok := r.wouldFit(ctx, c); ok && len(q.Tapes) == 1 {
			return []Suggestion{{About: "tape", Tape: t.Name, Change: &c,
				Says: fmt.Sprintf("a %s would hold it all, with less blank tape%s", t.Name, r.otherLimit())}}
		}
	}
	return nil
}

// butThin warns of a tape that a suggestion would send the person to.
func (r Request) butThin(t tape.Tape) string {
	switch {
	case r.DeckLimit.Side > 0 && t.Side > r.DeckLimit.Side:
		return fmt.Sprintf(", but it is long and thin (%g um): mind what your deck's manual says of it", float64(t.Thickness))
	case t.Thickness < tape.NoteThinner:
		return fmt.Sprintf(", on thin tape (%g um)", float64(t.Thickness))
	}
	return ""
}

// theTapes counts the tapes of a plan by kind: a C90, or 2 C60 and a C46.
func theTapes(p Plan) string {
	var names, all []string
	count := map[string]int{}
	for _, t := range p.Tapes {
		if count[t.Name]++; count[t.Name] == 1 {
			names = append(names, t.Name)
		}
	}
	for _, name := range names {
		if n := count[name]; n > 1 {
			all = append(all, fmt.Sprintf("%d %s", n, name))
		} else {
			all = append(all, "a "+name)
		}
	}
	return strings.Join(all, " and ")
}

func longestOf(cs []Choice) time.Duration {
	var d time.Duration
	for _, c := range cs {
		d = max(d, c.Tape.Side)
	}
	return d
}

func longestStandard() tape.Tape {
	all := tape.Standard()
	return all[len(all)-1]
}

// titles are the titles of tracks by their places, from 1.
func (r *Request) titles(places []int) []string {
	var names []string
	for _, n := range places {
		names = append(names, r.Mix.Items[n-1].Title)
	}
	return names
}

// callAll names tracks by their places, from 1.
func (r *Request) callAll(places []int) string {
	var names []string
	for _, n := range places {
		names = append(names, r.called(n-1))
	}
	return strings.Join(names, ", ")
}

func quoteAll(names []string) string {
	var q []string
	for _, n := range names {
		q = append(q, quote(n))
	}
	return shortList(q)
}

// shortList names five and counts the rest.
func shortList(names []string) string {
	if n := len(names) - 5; n > 1 {
		names = append(names[:5:5], fmt.Sprintf("%d more", n))
	}
	return strings.Join(names, ", ")
}
