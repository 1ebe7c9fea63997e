// Package ferryplan makes plans for the tests of what is printed: the tape that
// the crew of a night ferry makes for the crossing, of any length. Every name is
// invented, and the same call gives the same plan.
package ferryplan

import (
	"fmt"
	"math"
	"time"

	"longside/planner"
)

// The names from which titles and artists are made, by turns.
var (
	titles = []string{
		"Lights of the Outer Mole", "Casting Off at Ten Past Nine", "Brume légère", "Engine Room Waltz",
		"Βροχή στο κατάστρωμα", "Bell Buoy", "Third Mate’s Coffee", "Ночной паром", "Half Past Midnight, No Moon",
		"Deck Three Asleep", "Tågesignal", "Radio Check", "Nothing to Port, Nothing to Starboard, and Nobody on the Bridge but the Cat",
		"Chaîne d’ancre", "Smörgås i gryningen", "The Long Swell", "Η άλλη όχθη", "Ropes Ashore",
	}
	artists = []string{"The Dogwatch", "Mole & Marrow", "Ingrid Fyr", "Quai Nord", "Λιμάνι", "The Ballast Tanks", "Сестры Прилив", "Ostler and the Slow Bells"}
)

// Kind is a tape: minutes a side, whole thickness in um (18 and 12 are the
// trade's nominal figures for C60 and C90; longer by 1543 over the length in m).
type Kind struct {
	Name    string
	Minutes float64
	UM      float64
}

// The kinds used in tests.
var (
	C60  = Kind{"C60", 30, 18}
	C90  = Kind{"C90", 45, 12}
	C120 = Kind{"C120", 60, 9}
)

// Tape makes one cassette with so many tracks on each side, filling about nine
// tenths of both.
func Tape(k Kind, perSide ...int) planner.Tape {
	t := planner.Tape{Name: k.Name, ThicknessUM: k.UM, LengthM: k.Minutes * 60 * 47.625 / 1000, HubMM: 11}
	t.FullMM = math.Sqrt(11*11 + t.LengthM*k.UM/math.Pi)
	n := 0
	for i, count := range perSide {
		s := planner.Side{Side: string(rune('A' + i))}
		run := time.Duration(k.Minutes * float64(time.Minute))
		s.RunS = planner.Seconds(run)
		s.UsableS = planner.Seconds(time.Duration(float64(run)*0.985) - 13*time.Second)
		s.ShortS, s.NominalS = s.UsableS, planner.Seconds(run-13*time.Second)
		at := 7 * time.Second
		const gap = 4 * time.Second
		fill := time.Duration(float64(s.UsableS) * 0.93)
		weights := 0.0
		for j := range count {
			weights += weight(n + j)
		}
		for j := range count {
			length := time.Duration(float64(fill-gap*time.Duration(count-1)) * weight(n) / weights).Round(100 * time.Millisecond)
			c := counter(at.Seconds(), k.UM)
			tr := planner.Track{Title: titles[n%len(titles)], Artist: artists[(n*5+n/8)%len(artists)],
				StartS: planner.Seconds(at), LengthS: planner.Seconds(length), LengthFrom: "counted", Counter: &c}
			if j < count-1 {
				tr.GapS = planner.Seconds(gap)
			}
			s.Tracks = append(s.Tracks, tr)
			at += length + tr.GapS.D()
			n++
		}
		if len(s.Tracks) > 0 {
			s.UsedS = planner.Seconds(at - 7*time.Second)
		}
		s.SpareS = s.UsableS - s.UsedS
		if k.UM < 12 {
			s.ThinFromS = planner.Seconds(time.Duration(float64(run) * 0.9))
		}
		t.Sides = append(t.Sides, s)
	}
	return t
}

// weight spreads lengths between about one part and three.
func weight(i int) float64 { return 2 + math.Sin(float64(i)*1.7) + 0.3*math.Sin(float64(i)*5.1) }

// counter is the reading after so many seconds at 0.5 counts a turn.
func counter(sec, um float64) int {
	a := 11 / (um / 1000)
	return int(0.5*(math.Sqrt(a*a+47.625*sec/(math.Pi*um/1000))-a)) % 1000
}

// Plan is a plan of the tapes given.
func Plan(tapes ...planner.Tape) planner.Plan {
	p := planner.Plan{Format: planner.Format, Version: planner.Version, Title: "The Night Crossing", Note: "for the watch below",
		Fits: true, Proved: true, Tapes: tapes,
		Terms: planner.Terms{Order: "keep", Spare: "last", GapS: planner.Seconds(4 * time.Second), Limit: "short", TolerancePct: 1.5,
			LeadInS: planner.Seconds(7 * time.Second), EndLeaderS: planner.Seconds(6 * time.Second), CounterRatio: 0.5,
			TapeType: "II", NoiseReduction: "B"}}
	return p
}

// Rename gives the tracks of a plan other titles, by turns.
func Rename(p planner.Plan, titles ...string) planner.Plan {
	n := 0
	for i := range p.Tapes {
		for j := range p.Tapes[i].Sides {
			for k := range p.Tapes[i].Sides[j].Tracks {
				p.Tapes[i].Sides[j].Tracks[k].Title = titles[n%len(titles)]
				n++
			}
		}
	}
	return p
}

// Long is a title of 120 characters.
func Long(i int) string {
	s := fmt.Sprintf("%d. What the second engineer said to the ship’s cook while the fog came down on the outer roads and nobody could see the bow", i)
	r := []rune(s)
	return string(r[:min(len(r), 120)])
}
