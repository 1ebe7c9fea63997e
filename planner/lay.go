package planner

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"longside/fit"
	"longside/media"
)

// Arrangement is where tracks lie that were laid by hand: the tapes in playing
// order. An item of the mix that stands nowhere in it is left out.
type Arrangement []HandTape

// HandTape is one tape of an arrangement.
type HandTape struct {
	// Choice is its number in Request.Tapes, from 0. Tapes that were begun (see
	// Replan) come first, in their order, and need none.
	Choice int       `json:"choice"`
	Sides  [2][]Spot `json:"sides"`
}

// Spot is a track at its place.
type Spot struct {
	// Item is its number in Mix.Items, from 0. An item that is to be split is
	// there twice: its first part, then its second.
	Item int     `json:"item"`
	Fade Seconds `json:"fade_s,omitempty"` // by how much it is shortened at its end
}

// Laid is an arrangement laid along the tape.
type Laid struct {
	// Plan holds the start times, what is left out and what to beware of. It Fits
	// when every wanted track has a place and no side is over; nothing was solved,
	// so nothing in it is Proved, and it follows no arc.
	Plan   Plan
	Broken []Broken // the wishes that it breaks, those of a side together; none: all are kept
}

// Broken is a wish that an arrangement does not keep.
type Broken struct {
	// Wish says which: room, tapes, stock, order, side, opens, closes, join, apart,
	// not_thin, fade, overlap, split or must.
	Wish   string  `json:"wish"`
	Tracks []int   `json:"tracks,omitempty"` // places in the given list, from 1, of those it is about
	Tape   int     `json:"tape,omitempty"`   // 1-based; 0: the whole plan
	Side   string  `json:"side,omitempty"`
	ByS    Seconds `json:"by_s,omitempty"` // by how much, for room, not_thin, fade and overlap
	Says   string  `json:"says"`           // one sentence
}

// Lay lays an arrangement that was made by hand, without solving anything: when
// each track starts, by how much a side is over, which wishes are broken. How far
// it is from the best there is tells Plan.Behind. The error is for a request that
// makes no sense, a tape or track that there is not, and a track that lies twice.
func Lay(r Request, a Arrangement) (Laid, error) {
	if err := errors.Join(r.check(), r.checkGaps()); err != nil {
		return Laid{}, err
	}
	h, err := r.hand(a)
	if err != nil {
		return Laid{}, err
	}
	var l Laid
	l.Plan = h.r.lay(h.ps, h.answer)
	l.Plan.MovedAtLeast = 0 // which only a solver knows
	for t, ht := range h.answer.Tapes {
		for s := range ht.Sides {
			l.Broken = append(l.Broken, h.side(t, s)...)
		}
	}
	l.Broken = append(l.Broken, h.whole()...)
	for _, b := range l.Broken {
		l.Plan.Fits = l.Plan.Fits && b.Wish != "room"
	}
	l.Plan.Warnings = h.r.warn(l.Plan)
	l.Plan = l.Plan.withLevels()
	return l, nil
}

// hand is an arrangement as pieces on sides.
type hand struct {
	r       *Request // its mix split
	given   []int    // of each item of the split mix, its place in the person's list, from 1
	lies    []bool   // of each such item: it has a place
	fades   []time.Duration
	tapes   [][2][]int // the items of each side
	ps      []piece
	problem fit.Problem
	answer  fit.Answer
}

// hand reads an arrangement.
func (r Request) hand(a Arrangement) (*hand, error) {
	h := &hand{r: &r, given: r.Mix.places()}
	asked := r.Mix.Items
	next, last := make([]int, len(asked)), make([]int, len(asked)) // the part of each item that comes next, and its last
	for i, n := range h.given {
		if last[n-1] = i; i == 0 || h.given[i-1] != n {
			next[n-1] = i
		}
	}
	var err error
	if r.Mix, err = r.Mix.split(); err != nil {
		return nil, err
	}
	r.unsolved = true
	h.lies, h.fades = make([]bool, len(h.given)), make([]time.Duration, len(h.given))
	after := make([]int, len(h.given)) // the item that lies behind it on its side, from 1
	for t, ht := range a {
		if n := len(r.fresh()); t >= len(r.begun) && (ht.Choice < 0 || ht.Choice >= n) {
			return nil, fmt.Errorf("tape %d: there is no tape %d to choose, there are %d", t+1, ht.Choice+1, n)
		}
		var sides [2][]int
		for s, spots := range ht.Sides {
			for k, spot := range spots {
				if spot.Item < 0 || spot.Item >= len(asked) {
					return nil, fmt.Errorf("there is no track #%d: there are %d", spot.Item+1, len(asked))
				}
				i := next[spot.Item]
				if i > last[spot.Item] {
					return nil, fmt.Errorf("%s (#%d) lies there twice", quote(asked[spot.Item].Title), spot.Item+1)
				}
				if f := spot.Fade.D(); f < 0 || f > 0 && f >= r.Mix.Items[i].Length {
					return nil, fmt.Errorf("%s (#%d) cannot be shortened by %s", quote(asked[spot.Item].Title), spot.Item+1, spot.Fade)
				}
				next[spot.Item]++
				h.lies[i], h.fades[i] = true, spot.Fade.D()
				if k > 0 {
					after[sides[s][k-1]] = i + 1
				}
				sides[s] = append(sides[s], i)
			}
		}
		h.tapes = append(h.tapes, sides)
	}
	// Joined tracks are one piece where they lie so.
	h.ps = r.piecesOf(func(i int) bool {
		if !r.Mix.Items[i].Wish.Join || i+1 == len(h.given) || h.fades[i] > 0 {
			return false
		}
		return after[i] == i+2 || !h.lies[i] && !h.lies[i+1]
	})
	h.problem = r.problem(h.ps)
	number := make([]int, len(h.given)) // of the piece that an item begins, from 1
	for n, p := range h.ps {
		number[p.items[0]] = n + 1
		if f := h.fades[p.items[len(p.items)-1]]; f > 0 {
			h.answer.Faded = append(h.answer.Faded, fit.Fade{Piece: n, By: fit.Up(f)})
		}
		if !h.lies[p.items[0]] {
			h.answer.LeftOut = append(h.answer.LeftOut, n)
		}
	}
	for t, sides := range h.tapes {
		load := fit.Load{Kind: a[t].Choice}
		if begun := len(r.begun); t < begun {
			load.Kind = t
		} else {
			load.Kind += begun
		}
		for _, items := range sides {
			var list []int
			for _, i := range items {
				if number[i] > 0 {
					list = append(list, number[i]-1)
				}
			}
			load.Sides = append(load.Sides, list)
		}
		h.answer.Tapes = append(h.answer.Tapes, load)
	}
	return h, nil
}

// name is an item as a sentence calls it.
func (h *hand) name(i int) string { return quote(h.r.Mix.Items[i].Title) }

// side judges side s of tape t, both from 0. It goes track by track and asks
// nothing of fit but the room that there is.
func (h *hand) side(t, s int) (all []Broken) {
	room := h.problem.Kinds[h.answer.Tapes[t].Kind].Sides[s]
	letter := string(rune('A' + s))
	broken := func(wish string, by fit.Millis, says string, items ...int) {
		b := Broken{Wish: wish, Tape: t + 1, Side: letter, ByS: Seconds(by.Duration()), Says: says}
		for _, i := range items {
			b.Tracks = append(b.Tracks, h.given[i])
		}
		all = append(all, b)
	}
	list := h.tapes[t][s]
	done := h.done(t, s)
	var at, end, margin fit.Millis // the next start, and the end of the last sound
	var lapse time.Duration        // the gap before the track
	for k, i := range list {
		it, w := h.r.Mix.Items[i], h.r.Mix.Items[i].Wish
		off := it.margin()
		margin += fit.Up(off)
		length := fit.Up(whole(it.Length) + off - h.fades[i])
		now := at + length
		end = max(end, now)
		gap, joined := h.r.gapOf(it), k+1 < len(list) && w.Join && list[k+1] == i+1 && h.fades[i] == 0
		if joined {
			gap = 0
		}
		at = now + fit.Up(gap)
		if f := h.fades[i]; f > w.Fade.D() {
			broken("fade", fit.Up(f-w.Fade.D()), fmt.Sprintf("%s may be faded by up to %s, not by %s", h.name(i), w.Fade, Clock(f)), i)
		}
		if over := -min(lapse, 0) - min(gap, 0) - whole(it.Length) + h.fades[i]; over > 0 && k+1 < len(list) {
			broken("overlap", fit.Up(over), fmt.Sprintf("what overlaps %s on either side is longer than it, by %s", h.name(i), Clock(over)), i)
		}
		lapse = gap
		if w.NotThin && room.ThinFrom > 0 && now > room.ThinFrom {
			broken("not_thin", now-room.ThinFrom, fmt.Sprintf("%s must not lie on the thin tail, and reaches %s into it", h.name(i), Clock((now-room.ThinFrom).Duration())), i)
		}
		if n := sideNumber(w.Side); n > 0 && n != 2*t+s+1 {
			broken("side", 0, fmt.Sprintf("%s is to be on side %s", h.name(i), sideName(n, max(h.r.MaxTapes, len(h.tapes)))), i)
		}
		if w.Opens != Anywhere && k+len(done) > 0 {
			broken("opens", 0, fmt.Sprintf("%s is to open its side", h.name(i)), i)
		} else if w.Opens == OfMix && h.before(t, s) {
			broken("opens", 0, fmt.Sprintf("%s is to open the tape", h.name(i)), i)
		}
		if w.Closes != Anywhere && k < len(list)-1 {
			broken("closes", 0, fmt.Sprintf("%s is to close its side", h.name(i)), i)
		} else if w.Closes == OfMix && h.behind(t, s) {
			broken("closes", 0, fmt.Sprintf("%s is to close the tape", h.name(i)), i)
		}
		if w.Join && i+1 < len(h.given) && !joined {
			broken("join", 0, fmt.Sprintf("%s is joined to %s, which is to follow it at once", h.name(i), h.name(i+1)), i, i+1)
		}
		if half := h.half(i); half >= 0 && !h.lies[half] {
			broken("split", 0, fmt.Sprintf("%s is left out, and half a track is none", h.name(half)), i)
		}
		if w := h.r.Mix.Items[max(i-1, 0)].Wish; i > 0 && w.Join && !h.lies[i-1] {
			broken("join", 0, fmt.Sprintf("%s is joined to %s, which is left out", h.name(i), h.name(i-1)), i-1, i)
		}
		if other, ok := h.near(list, k, done); ok {
			says := fmt.Sprintf("tracks of one artist are to have %d others between them: %s and %s are nearer", h.r.Apart, quote(other), h.name(i))
			if h.r.Apart == 1 {
				says = fmt.Sprintf("tracks of one artist are to be apart: %s and %s are neighbours", quote(other), h.name(i))
			}
			broken("apart", 0, says, i)
		}
	}
	if by := end - room.Capacity; by > 0 && len(list) > 0 {
		says := fmt.Sprintf("side %s is over by %s", sideName(2*t+s+1, len(h.tapes)), tenths(by.Duration()))
		switch {
		case by <= margin:
			says += ", if the typed lengths are all half a second too short"
		case h.r.ThinTail == BlankTail && room.Capacity == room.ThinFrom:
			says += " of tape that is not thin"
		}
		broken("room", by, says)
	}
	return all
}

// tenths writes a short time to a tenth of a second, and a longer one as m:ss.
func tenths(d time.Duration) string {
	if d >= 10*time.Second {
		return Clock(d)
	}
	return fmt.Sprintf("%.1f s", max(d, 100*time.Millisecond).Seconds())
}

// half is the other part of an item that is split; -1: it is not.
func (h *hand) half(i int) int {
	for _, j := range []int{i - 1, i + 1} {
		if j >= 0 && j < len(h.given) && h.given[j] == h.given[i] {
			return j
		}
	}
	return -1
}

// done is what is recorded already on a side.
func (h *hand) done(t, s int) []Track {
	if t >= len(h.r.begun) {
		return nil
	}
	return h.r.begun[t].done[s]
}

// before tells whether any track lies on a side before side s of tape t.
func (h *hand) before(t, s int) bool {
	for n := range 2*t + s {
		if len(h.tapes[n/2][n%2])+len(h.done(n/2, n%2)) > 0 {
			return true
		}
	}
	return false
}

// behind tells whether any track lies on a side after side s of tape t.
func (h *hand) behind(t, s int) bool {
	for n := 2*t + s + 1; n < 2*len(h.tapes); n++ {
		if len(h.tapes[n/2][n%2]) > 0 {
			return true
		}
	}
	return false
}

// near finds a track before the one at k that is of the same artist and has too
// few between; tracks of one joined row are as the person joined them.
func (h *hand) near(list []int, k int, done []Track) (title string, ok bool) {
	artist := func(s string) string { return strings.ToLower(strings.TrimSpace(s)) }
	own := artist(h.r.Mix.Items[list[k]].Artist)
	if own == "" {
		return "", false
	}
	row := true // all from there to k are joined
	for back := 1; back <= h.r.Apart && back <= k+len(done); back++ {
		if back > k {
			if t := done[len(done)-(back-k)]; artist(t.Artist) == own {
				return t.Title, true
			}
			continue
		}
		it := h.r.Mix.Items[list[k-back]]
		row = row && it.Wish.Join && list[k-back]+1 == list[k-back+1]
		if !row && artist(it.Artist) == own {
			return it.Title, true
		}
	}
	return "", false
}

// whole judges what is not of one side.
func (h *hand) whole() (all []Broken) {
	r := h.r
	used, stock := len(r.begun), map[int]int{}
	for t, sides := range h.tapes[min(used, len(h.tapes)):] {
		if len(sides[0])+len(sides[1]) > 0 {
			used++
			stock[h.answer.Tapes[t+len(r.begun)].Kind-len(r.begun)]++
		}
	}
	if most := max(1, r.MaxTapes); used > most {
		all = append(all, Broken{Wish: "tapes", Says: fmt.Sprintf("%d tapes hold tracks, and %d may be used", used, most)})
	}
	for n, c := range r.fresh() {
		if c.Stock > 0 && stock[n] > c.Stock {
			all = append(all, Broken{Wish: "stock", Says: fmt.Sprintf("there are %d of %s, and %d are used", c.Stock, c.Tape.Name, stock[n])})
		}
	}
	if r.Order == fit.Keep {
		for _, n := range h.answer.Moved() {
			b := Broken{Wish: "order", Says: fmt.Sprintf("%s is out of the given order", h.name(h.ps[n].items[0]))}
			for _, i := range h.ps[n].items {
				b.Tracks = append(b.Tracks, h.given[i])
			}
			all = append(all, b)
		}
	}
	for i, it := range r.Mix.Items {
		if !h.lies[i] && it.Wish.must() {
			all = append(all, Broken{Wish: "must", Tracks: []int{h.given[i]}, Says: fmt.Sprintf("%s may not be left out", h.name(i))})
		}
	}
	return all
}

// Distance is how much less one plan keeps than another.
type Distance struct {
	Songs  int     `json:"songs"`  // wanted tracks; one that is split counts once
	TimeS  Seconds `json:"time_s"` // playing time of wanted tracks
	Proved bool    `json:"proved"` // the other is proved the best there is
}

// Behind tells how far a plan that was laid by hand is from the best of the same
// request, which Make solved once. An arrangement that breaks a wish can keep
// more than the best that keeps them all: then the figures are negative.
func (p Plan) Behind(best Plan) Distance {
	songs, time := p.kept()
	most, longest := best.kept()
	return Distance{Songs: most - songs, TimeS: longest - time, Proved: best.Proved}
}

// kept counts the wanted tracks of a plan, and their playing time.
func (p Plan) kept() (songs int, time Seconds) {
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, k := range s.Tracks {
				if k.Reserve > 0 {
					continue
				}
				if time += k.LengthS; k.inPlace() == 0 { // not the second part of a piece that was split
					songs++
				}
			}
		}
	}
	return songs, time
}

// laidSlack is how far the times of a plan file may be from those that Lay gives
// it: they are rounded to the millisecond, and a percentage was written between.
const laidSlack = Seconds(5 * time.Millisecond)

// checkLaid lays a plan anew, as its own terms say, and refuses one that comes
// out otherwise: a side that holds more than the tape, or times that do not add up.
func (p Plan) checkLaid() error {
	r, err := p.request()
	if err != nil {
		return err
	}
	r.MaxTapes, r.Apart = len(p.Tapes), 0
	var a Arrangement
	for n, t := range p.Tapes {
		ht := HandTape{Choice: n}
		for s, side := range t.Sides {
			for k, tr := range side.Tracks {
				it, gap := tr.item(), tr.GapS
				it.Wish = Wish{Gap: &gap, Join: tr.Joined && k+1 < len(side.Tracks), Fade: tr.FadeS}
				if tr.Recorded {
					it.LengthFrom = media.Counted // it is as long as it turned out
				}
				ht.Sides[s] = append(ht.Sides[s], Spot{Item: len(r.Mix.Items), Fade: tr.FadeS})
				r.Mix.Items = append(r.Mix.Items, it)
			}
		}
		a = append(a, ht)
	}
	h, err := r.hand(a)
	if err != nil {
		return err
	}
	q := h.r.lay(h.ps, h.answer)
	for n, t := range p.Tapes {
		for s, side := range t.Sides {
			as := q.Tapes[n].Sides[s]
			for _, c := range []struct {
				what       string
				says, laid Seconds
			}{{"usable_s", side.UsableS, as.UsableS}, {"short_s", side.ShortS, as.ShortS},
				{"nominal_s", side.NominalS, as.NominalS}, {"measured_s", side.MeasuredS, as.MeasuredS}} {
				if off := c.says - c.laid; off > laidSlack || off < -laidSlack {
					return fmt.Errorf("tape %d side %s: %s of %g s, and a %s has %g s on these terms", n+1, side.Side, c.what, c.says.D().Seconds(), t.Name, c.laid.D().Seconds())
				}
			}
			for k, tr := range side.Tracks {
				if off := tr.StartS - as.Tracks[k].StartS; off > laidSlack || off < -laidSlack {
					return fmt.Errorf("tape %d side %s: track %d starts at %g s, and what lies before it ends at %g s", n+1, side.Side, k+1, tr.StartS.D().Seconds(), as.Tracks[k].StartS.D().Seconds())
				}
			}
			for _, b := range h.side(n, s) {
				if b.Wish == "room" && b.ByS > laidSlack {
					return fmt.Errorf("tape %d: %s", n+1, b.Says)
				}
			}
		}
	}
	return nil
}
