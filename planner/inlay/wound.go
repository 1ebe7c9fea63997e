package inlay

import (
	"fmt"

	"longside/planner"
	"longside/planner/paper"
)

// speed is the nominal tape speed, 1 7/8 in/s, in mm/s (richardhess.com, page
// on cassettes; GB/T 14855-1993 rounds it to 47.6).
const speed = 47.625

// stretches lays a side out in seconds from pressing record: the tracks in two
// tones by turns, labelled by number, and the blanks between them.
func stretches(s planner.Side) []paper.Stretch {
	var out []paper.Stretch
	for i, t := range s.Tracks {
		tone := paper.Darker
		if i%2 == 1 {
			tone = paper.Dark
		}
		out = append(out, paper.Stretch{From: t.StartS.D().Seconds(), To: t.EndS().D().Seconds(), Tone: tone, Label: fmt.Sprint(i + 1)})
	}
	return out
}

// bands winds a side on the pack as it stands at the end of side A. Side A's
// beginning lies at the hub; side B starts from outside, on the same tape.
func bands(t planner.Tape, s planner.Side, deckSpeedPct float64, fromOutside bool) []paper.Band {
	total := t.LengthM * 1000
	radius := func(sec float64) float64 {
		l := min(sec*speed*(1+deckSpeedPct/100), total)
		if fromOutside {
			l = total - l
		}
		return paper.PackRadius(t.HubMM, t.ThicknessUM, l)
	}
	inner, outer := t.HubMM, paper.PackRadius(t.HubMM, t.ThicknessUM, total)
	var out []paper.Band
	add := func(a, b float64, tone paper.Tone, label string) {
		if a > b {
			a, b = b, a
		}
		if b > a {
			out = append(out, paper.Band{Inner: a, Outer: b, Tone: tone, Label: label})
		}
	}
	at := inner
	if fromOutside {
		at = outer
	}
	for _, st := range stretches(s) {
		a, b := radius(st.From), radius(st.To)
		add(at, a, paper.Blank, "")
		add(a, b, st.Tone, st.Label)
		at = b
	}
	if fromOutside {
		add(at, inner, paper.Blank, "")
	} else {
		add(at, outer, paper.Blank, "")
	}
	return out
}
