package planner

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"longside/fit"
	"longside/media"
	"longside/media/oneline"
	"longside/planner/tape"
)

// longBlank is how much blank at the end of a side is worth a word: about a
// song and a half (common practice, no source).
const longBlank = 5 * time.Minute

// minBlankShare keeps longBlank from pestering on long tapes: a blank is long
// only when it is this share of the side, too (common practice, no source).
const minBlankShare = 0.10

// warn looks a laid plan over for trouble. Each warning is one sentence that a
// person can act on; the order is that of the sides, the whole plan last.
func (r *Request) warn(p Plan) []Warning {
	ws := []Warning{}
	for ti, t := range p.Tapes {
		c := r.choice(t)
		ws = append(ws, r.warnTape(ti+1, c, t)...)
		for _, s := range t.Sides {
			for _, w := range concat(r.warnShort(c, s), r.warnThin(c, s), r.warnBlank(c, s, p)) {
				w.Tape, w.Side = ti+1, s.Side
				ws = append(ws, w)
			}
		}
	}
	return concat(ws, r.warnSeams(), r.warnTwice(), r.warnLengths(p), r.warnSkipped(p))
}

func concat(lists ...[]Warning) []Warning {
	all := []Warning{}
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// choice finds the kind of tape that a tape of the plan was taken from.
func (r *Request) choice(t Tape) Choice {
	for _, c := range r.Tapes {
		if c.Tape.Name == t.Name && (t.Label == "" || slices.Contains(c.Labels, t.Label)) {
			return c
		}
	}
	return r.Tapes[0]
}

// warnShort: sound that lies beyond what a tape at the short end of its
// tolerance holds could be cut off, whatever limit the person chose; and a
// tape that was timed shorter than the limit will cut it off.
func (r *Request) warnShort(c Choice, s Side) []Warning {
	var ws []Warning
	over := func(limit Seconds, about string, sev Severity, says string) bool {
		end := Seconds(r.LeadIn) + limit
		for _, t := range s.Tracks {
			if t.EndS() > end {
				ws = append(ws, Warning{About: about, Severity: sev, Track: t.Title, AtS: end,
					Says: fmt.Sprintf(says, quote(t.Title), Clock(t.EndS().D()), Clock(end.D()))})
				return true
			}
		}
		return false
	}
	if s.MeasuredS > 0 && over(s.MeasuredS, "short", Stop,
		"%s ends at %s, and this tape as you timed it can end at %s: plan with --limit measured") {
		return ws
	}
	if r.Limit == MeasuredLimit {
		over(s.ShortS, "short", Remark,
			"%s ends at %s: this tape as timed holds it, but another of the same name may end at %s, so label the tape that you timed")
		return ws
	}
	over(s.ShortS, "short", Caution,
		"%s ends at %s and could be cut off: a tape at the short end of the tolerance ends at %s; time this tape, or leave a track out")
	return ws
}

// warnThin: the end of a side of thin tape. The zone starts where the supply
// pack falls under tape.ThinTailRadius.
func (r *Request) warnThin(c Choice, s Side) []Warning {
	sev := Remark
	switch {
	case c.Tape.Thickness >= tape.NoteThinner:
		return nil
	case c.Tape.Thickness < tape.CautionThinner:
		sev = Caution
	}
	from := s.ThinFromS
	for _, t := range s.Tracks {
		// What was called rugged belongs there.
		if t.EndS() <= from || t.Wish != nil && t.Wish.Rugged {
			continue
		}
		at := max(t.StartS, from)
		return []Warning{{About: "tail", Severity: sev, Track: t.Title, AtS: at,
			Says: fmt.Sprintf("%s plays into the tail of thin tape (%g um) from %s: leave the side blank from there, or put a track there that can bear a little flutter",
				quote(t.Title), float64(c.Tape.Thickness), Clock(at.D()))}}
	}
	return nil
}

// warnTape: what may go wrong with this tape on this deck, in one sentence: the
// worst that is possible at least, what speaks for it and against it, and what
// helps. The tape's own card (longside tape, longside shelf show) says it all.
func (r *Request) warnTape(n int, c Choice, t Tape) []Warning {
	f := c.Known.facts(c.Tape)
	name := "the deck"
	if r.Deck != nil {
		f.Deck = *r.Deck
		name = cmp.Or(r.Deck.Name, name)
	}
	f.Deck.LongestTape = ""
	if r.DeckLimit.Known {
		f.Deck.LongestTape = r.DeckLimit.Name
	}
	for _, s := range t.Sides {
		if k := len(s.Tracks); k > 0 {
			f.Ends = max(f.Ends, tape.NominalTime(s.Tracks[k-1].EndS().D(), r.DeckError))
		}
	}
	w := Warning{About: "trust", Severity: Remark, Tape: n}
	if r.DeckLimit.Side > 0 && c.Tape.Side > r.DeckLimit.Side {
		w.About = "deck"
	}
	forbidden := w.About == "deck" && r.DeckLimit.Known
	j := tape.Judge(f)
	if !forbidden && j.Likely < tape.Possible {
		return nil
	}
	var risks, because, but, do []string
	add := func(to *[]string, from []string, most int) {
		for _, s := range from {
			if len(*to) < most && !slices.Contains(*to, s) {
				*to = append(*to, s)
			}
		}
	}
	if forbidden {
		because = append(because, fmt.Sprintf("your deck's manual allows up to %s", r.DeckLimit.Name))
	}
	for _, d := range j.Doubts {
		if d.Likely < max(j.Likely, tape.Possible) {
			break
		}
		risks = append(risks, string(d.Risk))
		add(&because, d.Because, 2)
		add(&but, d.But, 2)
		for _, x := range d.Do {
			// The end of the side has a warning of its own; where advice comes from is
			// on the tape's card.
			if x, _, _ = strings.Cut(x, " ("); !strings.HasPrefix(x, "leave the last") {
				add(&do, []string{x}, 2)
				break
			}
		}
	}
	if j.Likely == tape.Probable || forbidden || f.Deck.AutoStop != tape.StopBothHubs {
		w.Severity = Caution
	}
	says := fmt.Sprintf("%s (%g um) on %s: ", cmp.Or(t.Label, c.Tape.Name), float64(c.Tape.Thickness), name)
	if len(risks) > 0 {
		says += fmt.Sprintf("%s %s %s, as ", list(risks, "and"), plural(len(risks), "is", "are"), j.Likely)
	}
	says += list(because, "and")
	if len(but) > 0 {
		says += ", though " + list(but, "and")
	}
	if len(do) == 0 {
		do = []string{"listen to the end of a test side"}
	}
	w.Says = says + ": " + list(do, "and")
	return []Warning{w}
}

// warnBlank: a long blank at the end of a side, with what would fill it.
func (r *Request) warnBlank(c Choice, s Side, p Plan) []Warning {
	spare := s.SpareS.D()
	if spare < longBlank || float64(spare) < minBlankShare*float64(s.UsableS.D()) {
		return nil
	}
	if len(s.Tracks) == 0 {
		return []Warning{{About: "blank", Severity: Remark, AtS: Seconds(r.LeadIn),
			Says: fmt.Sprintf("the whole side is blank: %s are free for another list", Clock(spare))}}
	}
	fill := "add a track of up to " + Clock(spare-r.Gap)
	var best *Track
	for i, t := range p.LeftOut {
		if d := t.LengthS.D() + r.Gap; d <= spare && (best == nil || t.LengthS > best.LengthS) {
			best = &p.LeftOut[i]
		}
	}
	if best != nil && r.freed(best.Title, p) {
		fill = fmt.Sprintf("%s (%s), which was left out, has a place with --order free", quote(best.Title), best.LengthS)
	}
	return []Warning{{About: "blank", Severity: Remark, AtS: Seconds(r.LeadIn) + s.UsedS,
		Says: fmt.Sprintf("%s of blank tape follow the last track: %s", Clock(spare), fill)}}
}

// freed tells whether more is on the tape in any order, a track that was left
// out among it. It is solved, and for one tape only: for many it would take long.
func (r *Request) freed(title string, p Plan) bool {
	if r.Order == fit.Free || len(p.Tapes) != 1 || p.Cut || r.unsolved {
		return false
	}
	q := *r
	q.Order = fit.Free
	freed, ok := q.tried(context.Background())
	return ok && len(freed.LeftOut) < len(p.LeftOut) &&
		!slices.ContainsFunc(freed.LeftOut, func(t Track) bool { return t.Title == title })
}

// sameLength is how far two copies of one piece may differ in length.
const sameLength = 2 * time.Second

// warnTwice: the same track twice, by its file or by its name and length.
func (r *Request) warnTwice() []Warning {
	var ws []Warning
	paths, names := map[media.Place]int{}, map[string]int{}
	for i, it := range r.Mix.Items {
		name := strings.ToLower(strings.TrimSpace(it.Artist) + "\x00" + strings.TrimSpace(it.Title))
		j, twice := -1, false
		if it.Path != "" {
			j, twice = lookUp(paths, it.Track.Place(), i)
		}
		if k, named := lookUp(names, name, i); !twice && named && (r.Mix.Items[k].Length-it.Length).Abs() <= sameLength {
			j, twice = k, true
		}
		if twice {
			ws = append(ws, Warning{About: "twice", Severity: Remark, Track: it.Title,
				Says: fmt.Sprintf("%s is in the list twice, as #%d and #%d: take one out if that is not meant", quote(it.Title), j+1, i+1)})
		}
	}
	return ws
}

// lookUp gives the number kept under a key, or keeps i there.
func lookUp[K comparable](m map[K]int, key K, i int) (int, bool) {
	j, ok := m[key]
	if !ok {
		m[key] = i
	}
	return j, ok
}

// warnLengths: lengths that are guesses, and what else is odd about a file.
func (r *Request) warnLengths(p Plan) []Warning {
	var ws []Warning
	for _, it := range r.Mix.Items {
		if it.LengthFrom == media.Estimated {
			ws = append(ws, Warning{About: "length", Severity: Caution, Track: it.Title,
				Says: fmt.Sprintf("the length of %s is an estimate (%s): play it once with a watch, or make the file anew, before you trust the end of its side", quote(it.Title), Clock(it.Length))})
		}
		for _, n := range it.Notes {
			w := Warning{About: "file", Severity: Remark, Track: it.Title,
				Says: fmt.Sprintf("%s: %s", quote(it.Title), strings.TrimSuffix(n, "."))}
			if strings.HasPrefix(n, media.CutOff) {
				w.Severity = Caution
				w.Says += "; get the file anew before you record"
			}
			ws = append(ws, w)
		}
	}
	return ws
}

// warnSkipped: files that were left aside, on every output.
func (r *Request) warnSkipped(p Plan) []Warning {
	if len(p.Skipped) == 0 {
		return nil
	}
	var names []string
	for _, s := range p.Skipped {
		names = append(names, fmt.Sprintf("%s (%s)", oneline.Shown(s.Path), s.Why))
	}
	return []Warning{{About: "skipped", Severity: Caution,
		Says: fmt.Sprintf("%d unreadable %s left aside and not on this tape: %s", len(names), plural(len(names), "file was", "files were"), strings.Join(names, "; "))}}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// quote puts a title in typographic quotes, so that a sentence can hold it.
func quote(s string) string { return "“" + s + "”" }

// list joins words by commas, and the last by and or or.
func list(words []string, and string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " " + and + " " + words[n-1]
}
