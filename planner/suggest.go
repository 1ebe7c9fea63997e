package planner

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"longside/fit"
	"longside/planner/tape"
)

// Suggestion is one thing that would help. It was solved before it was made.
type Suggestion struct {
	About  string   `json:"about"`            // drop, split, order, gap, tolerance, tape
	Says   string   `json:"says"`             // one sentence
	Tracks []string `json:"tracks,omitempty"` // titles it speaks of
	Tape   string   `json:"tape,omitempty"`   // the tape it speaks of
}

// Suggest says what would help a plan that Make made of the same request: when
// it does not fit, the fewest tracks to leave out, the shortest tape that holds
// them all, and whether another order would do; when it fits with room to
// spare, a shorter tape that would hold it. It gives nothing when nothing would.
func Suggest(ctx context.Context, r Request, p Plan) []Suggestion {
	if p.Fits {
		return append(r.offTail(ctx, p), r.shorter(ctx, p)...)
	}
	var out []Suggestion
	for _, s := range []func(context.Context, Plan) []Suggestion{r.tooLong, r.fewest, r.swap, r.reorder, r.tighter, r.looser, r.longer} {
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

// solved makes the plan of a changed request; ok is false when the search was stopped.
func solved(ctx context.Context, r Request) (p Plan, ok bool) {
	r.MaxSteps = suggestSteps
	p, err := r.arrange(ctx)
	return p, err == nil && !p.Cut
}

// wouldFit is solved for requests that are only of use when everything fits.
func wouldFit(ctx context.Context, r Request) (Plan, bool) {
	if r.overfull() {
		return Plan{}, false
	}
	p, ok := solved(ctx, r)
	return p, ok && p.Fits
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

// fewest finds the fewest tracks to leave out.
func (r Request) fewest(ctx context.Context, p Plan) []Suggestion {
	r.Aim = fit.MostSongs
	q, ok := solved(ctx, r)
	if !ok {
		return nil
	}
	if !q.anything() {
		return nil // to leave out all is no advice
	}
	drop, byTime := q.Lacks(), p.Lacks()
	names := titles(drop)
	says := fmt.Sprintf("leave out %s (%d of %d tracks, %s) and the rest fits", quoteAll(names), len(names), len(r.Mix.Items), Clock(total(drop)))
	switch {
	case len(drop) == len(byTime) && q.Proved:
		says += "; no fewer will do"
	case len(drop) != len(byTime):
		says += fmt.Sprintf("; the best part by time leaves out %d", len(byTime))
	}
	return []Suggestion{{About: "drop", Says: says, Tracks: names}}
}

// reorder finds the fewest tracks to move so that everything fits.
func (r Request) reorder(ctx context.Context, _ Plan) []Suggestion {
	if r.Order != fit.Keep {
		return nil
	}
	r.Order = fit.Near
	q, ok := wouldFit(ctx, r)
	if !ok {
		// Near is proved less often than free: ask that, too.
		r.Order = fit.Free
		if _, ok = wouldFit(ctx, r); ok {
			return []Suggestion{{About: "order", Says: "in another order everything fits: plan with --order free"}}
		}
	}
	if !ok {
		return nil
	}
	says := fmt.Sprintf("move %s and everything fits: plan with --order near", quoteAll(q.Moved))
	if q.MovedAtLeast < len(q.Moved) {
		says += " (fewer might do)"
	}
	return []Suggestion{{About: "order", Says: says, Tracks: q.Moved}}
}

// swap finds two tracks that need only change places.
func (r Request) swap(ctx context.Context, _ Plan) []Suggestion {
	ps := r.pieces()
	if r.Order != fit.Keep || r.overfull() {
		return nil
	}
	i, j, ok := r.problem(ps).Swap(ctx)
	if !ok {
		return nil
	}
	names := []string{r.Mix.Items[ps[i].items[0]].Title, r.Mix.Items[ps[j].items[0]].Title}
	return []Suggestion{{About: "swap", Says: fmt.Sprintf("let %s and %s change places and everything fits", quote(names[0]), quote(names[1])), Tracks: names}}
}

// tighter finds the widest gap, in whole seconds, with which everything fits.
func (r Request) tighter(ctx context.Context, _ Plan) []Suggestion {
	most := int(r.Gap / time.Second)
	n := widest(most, func(s int) bool {
		r.Gap = time.Duration(s) * time.Second
		_, ok := wouldFit(ctx, r)
		return ok
	})
	if n < 0 {
		return nil
	}
	return []Suggestion{{About: "gap", Says: fmt.Sprintf("with gaps of %d s everything fits: --gap %ds", n, n)}}
}

// looser finds the widest tolerance, in tenths of a percent, with which everything fits.
func (r Request) looser(ctx context.Context, _ Plan) []Suggestion {
	if r.Limit != ShortLimit {
		return nil
	}
	most := int(r.Tolerance*1000 + 0.5)
	n := widest(most, func(t int) bool {
		r.Tolerance = float64(t) / 1000
		_, ok := wouldFit(ctx, r)
		return ok
	})
	if n < 0 || n == most {
		return nil
	}
	return []Suggestion{{About: "tolerance", Says: fmt.Sprintf("were tape and deck good to %.1f %% everything would fit: time a side of this tape, then plan with --tape-minutes and --limit measured", float64(n)/10)}}
}

// widest is the largest n from 0 to most for which fits holds, given that it
// holds for every smaller n, too; -1 when it holds for none.
func widest(most int, fits func(int) bool) int {
	return sort.Search(most+1, func(n int) bool { return !fits(n) }) - 1
}

// tooLong offers a split for what no side can hold: at a quiet place where one
// was looked for, else near the middle. What takes more than two sides cannot be
// split by a wish, and it is said how many parts it takes.
func (r Request) tooLong(ctx context.Context, _ Plan) []Suggestion {
	var out []Suggestion
	side := r.longestSide()
	for _, i := range r.TooLong() {
		it := r.Mix.Items[i]
		says := fmt.Sprintf("%s (%s) is longer than a side (%s): ", quote(it.Title), Clock(it.Length), Clock(side))
		at, fits, ok := r.splitAt(ctx, i)
		switch parts := partsOf(it, side); {
		case parts > maxParts:
			continue // no tape at all, or a mistyped length
		case parts > 2 && len(it.Chapters) > 1:
			says += fmt.Sprintf("it needs %d parts, on %d sides; take its %d chapters as tracks, with --chapters", parts, parts, len(it.Chapters))
		case parts > 2:
			says += fmt.Sprintf("it needs %d parts, on %d sides; list each part as a track of its own", parts, parts)
		case !ok:
			says += "it needs 2 parts, and with the other tracks there is no room for both"
		default:
			where := "near its middle, at a quiet place"
			switch {
			case slices.Contains(it.Chapters, at):
				where = "where a chapter ends"
			case at == it.Quiet.Round(time.Second):
				where = "where it is quietest"
			}
			says += fmt.Sprintf("split it over both, %s, with --split %q", where, r.nameOf(i)+"="+exactClock(at))
			if fits {
				says += ", and everything fits"
			}
			if n := len(it.Chapters); n > 1 {
				says += fmt.Sprintf("; or take its %d chapters as tracks, with --chapters", n)
			}
		}
		out = append(out, Suggestion{About: "split", Tracks: []string{it.Title}, Says: says})
	}
	return out
}

// maxParts bounds the parts that a piece is told to need.
const maxParts = 100

// partsOf is how many sides an item takes that may be cut anywhere.
func partsOf(it Item, side time.Duration) int {
	if side -= typedMargin; side <= 0 {
		return maxParts + 1
	}
	return int((it.Length + side - 1) / side)
}

// splitAt finds where item i can be split so that both parts have a place; fits
// tells that all other tracks have one, too.
func (r Request) splitAt(ctx context.Context, i int) (at time.Duration, fits, ok bool) {
	it := r.Mix.Items[i]
	from, to, can := r.SplitSpan(i)
	if !can {
		return 0, false, false
	}
	middle, quarter := (from+to)/2, (to-from)/4
	try := []time.Duration{middle.Round(time.Second), (middle - quarter).Round(time.Second), (middle + quarter).Round(time.Second)}
	if it.Quiet > from && it.Quiet < to {
		try = append([]time.Duration{it.Quiet.Round(time.Second)}, try...)
	}
	try = append(it.chapterEnds(from, to), try...)
	for _, cut := range try {
		if cut <= from || cut >= to {
			continue
		}
		q := r
		q.Mix.Items = slices.Clone(r.Mix.Items)
		q.Mix.Items[i].Wish.Split = Seconds(cut)
		q.Aim = fit.MostTime
		p, solved := solved(ctx, q)
		if !solved || p.partsPlaced(it) < 2 {
			continue
		}
		if p.Fits {
			return cut, true, true
		}
		if !ok {
			at, ok = cut, true
		}
	}
	return at, false, ok
}

// mostEnds is how many ends of chapters are tried for a split.
const mostEnds = 5

// chapterEnds are the ends of chapters between two times, the nearest to their
// middle first.
func (it Item) chapterEnds(from, to time.Duration) []time.Duration {
	ends := slices.DeleteFunc(slices.Clone(it.Chapters), func(d time.Duration) bool { return d <= from || d >= to })
	slices.SortStableFunc(ends, func(a, b time.Duration) int {
		return cmp.Compare((a - (from+to)/2).Abs(), (b - (from+to)/2).Abs())
	})
	return ends[:min(len(ends), mostEnds)]
}

// nameOf is what names item i and no other: its title, or its number.
func (r *Request) nameOf(i int) string {
	if j, err := r.Mix.Find(r.Mix.Items[i].Title); err == nil && j == i {
		return r.Mix.Items[i].Title
	}
	return fmt.Sprintf("#%d", i+1)
}

// anything tells whether a plan holds any track.
func (p *Plan) anything() bool { return p.partsPlaced(Item{}) > 0 }

// partsPlaced is how many parts of an item have a place; of the zero Item, how
// many tracks there are.
func (p *Plan) partsPlaced(it Item) int {
	n := 0
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, k := range s.Tracks {
				if it.Title == "" || k.SplitOf != nil && k.Place() == it.place() {
					n++
				}
			}
		}
	}
	return n
}

// offTail says when the thin tail can be left blank at no cost.
func (r Request) offTail(ctx context.Context, p Plan) []Suggestion {
	if !slices.ContainsFunc(p.Warnings, func(w Warning) bool { return w.About == "tail" }) {
		return nil
	}
	r.ThinTail = BlankTail
	if _, ok := wouldFit(ctx, r); !ok {
		return nil
	}
	return []Suggestion{{About: "tail", Says: "everything fits with the thin tails left blank: plan with --thin-tail blank"}}
}

// longer finds the shortest tape that holds everything.
func (r Request) longer(ctx context.Context, _ Plan) []Suggestion {
	longest := longestOf(r.Tapes)
	// Standard is sorted, shortest first: the first that holds it is the answer.
	for _, t := range tape.Standard() {
		if t.Side <= longest {
			continue
		}
		if q, ok := r.on(ctx, t); ok {
			return []Suggestion{{About: "tape", Tape: t.Name,
				Says: fmt.Sprintf("%s would hold everything%s", theTapes(q), r.butThin(t))}}
		}
	}
	return r.moreTapes(ctx)
}

// moreTapes says how many of the person's own tapes hold everything. The count
// starts where plain arithmetic allows it; what cannot be solved in a few steps
// up from there is said to be a bound and no more.
func (r Request) moreTapes(ctx context.Context) []Suggestion {
	var most, all time.Duration // a tape's room for programme, and the programme
	name := ""
	for _, c := range r.Tapes {
		if room := 2 * r.limits(c).of(r.Limit); room > most {
			most, name = room, c.Tape.Name
		}
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
		r.MaxTapes = n
		if _, ok := wouldFit(ctx, r); ok {
			return []Suggestion{{About: "tape", Says: fmt.Sprintf("no single length up to %s holds everything on %d %s, but %d tapes do: plan with --tapes %d",
				longestStandard().Name, had, plural(had, "tape", "tapes"), n, n)}}
		}
	}
	if least <= had {
		return nil // it is not for want of tape
	}
	return []Suggestion{{About: "tape", Says: fmt.Sprintf("no single length up to %s holds everything on %d %s; by playing time alone it takes %d tapes of %s or more (--tapes %d)",
		longestStandard().Name, had, plural(had, "tape", "tapes"), least, name, least)}}
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
		if _, ok := r.on(ctx, t); ok {
			return []Suggestion{{About: "tape", Tape: t.Name, Says: fmt.Sprintf("a %s would hold it all, with less blank tape", t.Name)}}
		}
	}
	return nil
}

// on plans the same on tapes of one other kind. What was timed was another tape.
func (r Request) on(ctx context.Context, t tape.Tape) (Plan, bool) {
	r.Tapes = []Choice{{Tape: t}}
	if r.Limit == MeasuredLimit {
		r.Limit = ShortLimit
	}
	return wouldFit(ctx, r)
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

func theTapes(p Plan) string {
	if len(p.Tapes) == 1 {
		return "a " + p.Tapes[0].Name
	}
	return fmt.Sprintf("%d %s", len(p.Tapes), p.Tapes[0].Name)
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

func titles(ts []Track) []string {
	var names []string
	for _, t := range ts {
		names = append(names, t.Title)
	}
	return names
}

func total(ts []Track) time.Duration {
	var d time.Duration
	for _, t := range ts {
		d += t.LengthS.D()
	}
	return d
}

func quoteAll(names []string) string {
	var q []string
	for _, n := range names {
		q = append(q, quote(n))
	}
	if len(q) > 5 {
		q = append(q[:5], fmt.Sprintf("%d more", len(names)-5))
	}
	return strings.Join(q, ", ")
}
