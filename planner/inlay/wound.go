package inlay

import (
	"fmt"

	"longside/planner"
	"longside/planner/paper"
)

// speed is the nominal tape speed, 1 7/8 in/s, in mm/s (richardhess.com, page
// on cassettes; GB/T 14855-1993 rounds it to 47.6).
const speed = 47.625

// labelRoom is what the numbers take beyond the pack's rim, mm.
const labelRoom = 3.9

// stretches lays a side out in seconds from pressing record: the tracks in two
// tones by turns, labelled by number.
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

// rim is the radius of the tape's whole pack, mm.
func (c *card) rim() float64 {
	return paper.PackRadius(c.tape.HubMM, c.tape.ThicknessUM, c.tape.LengthM*1000)
}

// wound draws the pack.
func (c *card) wound(d *paper.Drawing, cx, cy, scale float64) {
	pack := paper.Pack{Hub: c.tape.HubMM}
	fast := c.plan.Terms.DeckSpeedPct
	for i, s := range c.tape.Sides {
		switch i {
		case 0:
			pack.Left = bands(c.tape, s, fast, false)
		case 1:
			pack.Right = bands(c.tape, s, fast, true)
		}
	}
	pack.Draw(d, c.f, cx, cy, scale, c.look, labelSize)
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
	var out []paper.Band
	add := func(a, b float64, tone paper.Tone, label string) {
		if a != b {
			out = append(out, paper.Band{Inner: min(a, b), Outer: max(a, b), Tone: tone, Label: label})
		}
	}
	at, end := t.HubMM, paper.PackRadius(t.HubMM, t.ThicknessUM, total)
	if fromOutside {
		at, end = end, at
	}
	for _, st := range stretches(s) {
		a, b := radius(st.From), radius(st.To)
		add(at, a, paper.Blank, "")
		add(a, b, st.Tone, st.Label)
		at = b
	}
	add(at, end, paper.Blank, "")
	return out
}
