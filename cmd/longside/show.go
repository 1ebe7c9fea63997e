package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"

	"longside/planner"
)

// printJSON writes v on out, indented.
func (a *app) printJSON(v any) error {
	e := json.NewEncoder(a.out)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(v)
}

// printPlan writes a plan on out as its file has it.
func (a *app) printPlan(p planner.Plan) error {
	data, err := planner.Encode(p)
	if err != nil {
		return err
	}
	_, err = a.out.Write(data)
	return err
}

// showSides prints a line and a bar for each side, and its tracks when asked.
func (a *app) showSides(p planner.Plan, withTracks bool) {
	for ti, t := range p.Tapes {
		if len(p.Tapes) > 1 {
			fmt.Fprintln(a.out, a.paint(strong, fmt.Sprintf("Tape %d of %d: %s", ti+1, len(p.Tapes), t.Name)))
		}
		for _, s := range t.Sides {
			head := fmt.Sprintf("%s side %s", t.Name, s.Side)
			fmt.Fprintf(a.out, "%s  %s of %s used, %s left\n", a.paint(strong, head), s.UsedS, s.UsableS, s.SpareS)
			fmt.Fprintf(a.out, "  %s\n", a.bar(s, a.width-4))
			if n, until := s.Recorded(); n > 0 && n == len(s.Tracks) {
				fmt.Fprintln(a.out, "  recorded already: it stays as it is")
			} else if n > 0 {
				on := fmt.Sprintf("tracks 1 to %d are", n)
				if n == 1 {
					on = "track 1 is"
				}
				fmt.Fprintf(a.out, "  %s on the tape already; take up record at %s\n", on, until)
			}
			if withTracks {
				a.showTracks(s)
			}
		}
		if len(t.Sides) > 0 {
			s := t.Sides[0]
			line := fmt.Sprintf("%s short, %s nominal", s.ShortS, s.NominalS)
			if s.MeasuredS > 0 {
				line += fmt.Sprintf(", %s measured", s.MeasuredS)
			}
			a.wrap(a.paint(faint, "a side's limits:"), 17, fmt.Sprintf("%s; planned to the %s one", line, p.Terms.Limit))
		}
	}
}

// maxRow keeps a title and its length near enough for the eye on a wide terminal.
const maxRow = 100

// showTracks prints a row a track.
func (a *app) showTracks(s planner.Side) {
	for i, t := range s.Tracks {
		name := t.Title
		if t.Artist != "" {
			name += " - " + t.Artist
		}
		mark := " "
		if t.LengthFrom != "header" && t.LengthFrom != "counted" {
			mark = "~" // typed or estimated
		}
		fmt.Fprintf(a.out, "  %2d %6s  %s %s%6s\n", i+1, t.StartS, pad(plain(name), min(a.width, maxRow)-23), mark, t.LengthS)
	}
}

// bar draws a side to scale: the tracks one after another, then what is left.
func (a *app) bar(s planner.Side, width int) string {
	width = min(width, 76)
	inks, blank := []string{"#", "="}, "."
	if a.drawn {
		inks, blank = []string{"█", "▓"}, "░"
	}
	whole := max(s.UsableS, s.UsedS, 1)
	at := func(t planner.Seconds) int { return int(int64(width) * int64(t) / int64(whole)) }
	var b strings.Builder
	n := 0
	for i, t := range s.Tracks {
		end := t.EndS() - s.Tracks[0].StartS
		if w := at(end) - n; w > 0 {
			b.WriteString(a.paint(sideInk, strings.Repeat(inks[i%2], w)))
			n += w
		}
	}
	b.WriteString(a.paint(faint, strings.Repeat(blank, max(0, width-n))))
	return b.String()
}

// showAnswer prints the verdict, what was left out, the warnings and what would help.
func (a *app) showAnswer(p planner.Plan) {
	fmt.Fprintln(a.out)
	st, word, rest := verdict(p)
	if p.Fits && !recordable(p) {
		st, word = danger, "It may not fit" // the stop below says why
	}
	a.wrap(a.paint(st, word)+":", len(word)+2, rest)
	for _, t := range p.LeftOut {
		why := "left out"
		if t.Reserve > 0 {
			why = "not used" // a reserve
		}
		fmt.Fprintf(a.out, "  %s: %s (%s)\n", why, clip(plain(t.Title), a.width-24), t.LengthS)
	}
	if says := arcsSay(p); says != "" {
		a.wrap("  arcs:", 8, says)
	}
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, tr := range s.Tracks {
				if tr.FadeS > 0 {
					fmt.Fprintf(a.out, "  faded: %s, %s before its end\n", clip(plain(tr.Title), a.width-34), tr.FadeS)
				}
			}
		}
	}
	if n := len(p.Moved); n > 0 {
		a.wrap("  moved:", 9, movedSays(p))
	}
	for _, w := range p.Warnings {
		st := map[planner.Severity]style{planner.Remark: faint, planner.Caution: care, planner.Stop: danger}[w.Severity]
		where := ""
		if w.Side != "" {
			where = "side " + w.Side + ": "
			if len(p.Tapes) > 1 {
				where = fmt.Sprintf("tape %d side %s: ", w.Tape, w.Side)
			}
		}
		a.wrap(a.paint(st, string(w.Severity)+":"), len(w.Severity)+2, where+plain(w.Says))
	}
	for _, s := range p.Suggestions {
		says := plain(s.Says)
		if flags := inFlags(s.Change); flags != "" {
			says += ": " + plain(flags)
		}
		a.wrap(a.paint(good, "try:"), 5, says)
	}
}

// inFlags says a change as flags, as far as flags can make it.
func inFlags(c *planner.Change) string {
	if c == nil {
		return ""
	}
	var all []string
	add := func(flag, value string) {
		if value != "" {
			all = append(all, flag+" "+value)
		}
	}
	add("--order", c.Order)
	add("--aim", c.Aim)
	add("--thin-tail", c.ThinTail)
	add("--tape", c.Tape)
	if c.Tapes > 0 {
		add("--tapes", fmt.Sprint(c.Tapes))
	}
	if c.GapS != nil {
		add("--gap", c.GapS.D().String())
	}
	if s := c.Split; s != nil {
		add("--split", fmt.Sprintf("%q", s.Name+"="+planner.ExactClock(s.AtS.D())))
	}
	if c.Chapters > 0 {
		all = append(all, "--chapters")
	}
	if c.TolerancePct != nil {
		all = append(all, "--tape-minutes and --limit measured")
	}
	return strings.Join(all, " ")
}

// arcsSay tells how near the running order of each side is to its arc.
func arcsSay(p planner.Plan) string {
	var all []string
	for t, tape := range p.Tapes {
		for _, s := range tape.Sides {
			if s.Arc == nil {
				continue
			}
			name := "side " + s.Side
			if len(p.Tapes) > 1 {
				name = fmt.Sprintf("tape %d side %s", t+1, s.Side)
			}
			sure := "no other order of its tracks is nearer"
			if !s.Arc.Proved {
				sure = fmt.Sprintf("another order may be nearer, by %.2g of 10 points of drive a track at the most", s.Arc.Within)
			}
			all = append(all, fmt.Sprintf("%s %s, %s", name, s.Arc.Arc, sure))
		}
	}
	return strings.Join(all, "; ")
}

// movedSays names the tracks that left the given order, and says whether fewer
// would do.
func movedSays(p planner.Plan) string {
	var names []string
	for _, title := range p.Moved {
		names = append(names, "“"+plain(title)+"”")
	}
	says := strings.Join(names, ", ")
	switch n := len(p.Moved); {
	case p.MovedAtLeast >= n:
		return says + " (no fewer will do)"
	case p.MovedAtLeast > 0:
		return says + fmt.Sprintf(" (%d; at least %d must be)", n, p.MovedAtLeast)
	}
	return says + " (fewer might do)"
}

// verdict is whether it fits, and behind that how sure it is.
func verdict(p planner.Plan) (st style, word, rest string) {
	n := 0
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, k := range s.Tracks {
				if !k.SecondPart() {
					n++
				}
			}
		}
	}
	lacks := 0
	for _, k := range p.Lacks() {
		if !k.SecondPart() {
			lacks++
		}
	}
	sure := "proved the best there is"
	if !p.Proved {
		sure = "no more can be kept, but its order and blank are not proved the best"
		switch songs, within := p.WithinSongs, p.WithinS; {
		case songs > 0 && within > 0 && p.Terms.Aim == "songs":
			sure = fmt.Sprintf("the best possible keeps at most %d more %s, or %s more", songs, plural(songs, "song", "songs"), within)
		case songs > 0 && p.Terms.Aim == "songs":
			sure = fmt.Sprintf("the best possible keeps at most %d more %s", songs, plural(songs, "song", "songs"))
		case within > 0:
			sure = fmt.Sprintf("within %s of the best possible", within)
		}
	}
	if p.Cut {
		sure += ", stopped early"
	}
	if p.Fits && n == 1 {
		return good, "It fits", fmt.Sprintf("the one track has a place (%s order, %s).", p.Terms.Order, sure)
	}
	if p.Fits {
		return good, "It fits", fmt.Sprintf("all %d tracks have a place (%s order, %s).", n, p.Terms.Order, sure)
	}
	return danger, "It does not fit", fmt.Sprintf("%d of %d tracks have a place (%s order, %s).", n, n+lacks, p.Terms.Order, sure)
}

// showWritten says where the files are and what to do with them.
func (a *app) showWritten(files []output, ok bool) {
	if !ok {
		fmt.Fprintln(a.out, "Nothing was written.")
		return
	}
	fmt.Fprintln(a.out)
	for _, f := range files {
		use := map[string]string{
			planName:     "the plan, for later steps",
			cardName:     "the card: print at 100 %, cut, fold",
			sheetName:    "the run sheet: lay it beside the deck",
			sheetTxtName: "the same as text",
		}[filepath.Base(f.path)]
		name := plain(f.path) // whole, however long: it may be copied from here
		if w := min(34, a.width/2); columns(name) < w {
			name = pad(name, w)
		}
		fmt.Fprintf(a.out, "%s  %s\n", name, use)
	}
}

// wrap prints a head and a sentence behind it, broken to the width; headWidth
// is what the head takes on the screen, with the blank behind it.
func (a *app) wrap(head string, headWidth int, text string) {
	line, room := "", a.width-1-headWidth
	lead := head + " "
	for _, w := range strings.Fields(text) {
		if line != "" && columns(line)+1+columns(w) > room {
			fmt.Fprintln(a.out, lead+line)
			lead, line = strings.Repeat(" ", headWidth), ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	fmt.Fprintln(a.out, lead+line)
}
