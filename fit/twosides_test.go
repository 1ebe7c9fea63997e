package fit

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

var survey = flag.Bool("survey", false, "print how many lists of two sides are proved, and at what cost")
var surveyKind = flag.String("surveykind", "", "lists of this kind only")
var surveyPieces = flag.Int("surveypieces", 0, "lists of this length only")
var surveySeeds = flag.Int("surveyseeds", 4, "lists of each kind and length")

// lists of pop, by how the lengths lie.
var pops = map[string]func(r *rand.Rand) Millis{
	"files":     func(r *rand.Rand) Millis { return Millis(90_000 + r.IntN(270_000)) },
	"seconds":   func(r *rand.Rand) Millis { return Millis(90+r.IntN(270))*1000 + 500 },
	"close":     func(r *rand.Rand) Millis { return Millis(90+r.IntN(7))*1000 + 500 },
	"closems":   func(r *rand.Rand) Millis { return Millis(90_000 + r.IntN(6000)) },
	"four":      func(r *rand.Rand) Millis { return []Millis{181_500, 204_500, 227_500, 262_500}[r.IntN(4)] },
	"half":      func(r *rand.Rand) Millis { return Millis(3+r.IntN(10)) * 30_000 },
	"long":      func(r *rand.Rand) Millis { return Millis(400_000 + r.IntN(500_000)) },
	"verylong":  func(r *rand.Rand) Millis { return Millis(600_000 + r.IntN(900_000)) },
	"threesome": func(r *rand.Rand) Millis { return Millis(200_000 + r.IntN(100)*50) },
}

func popList(seed uint64, kind string, n int) Problem {
	r := rand.New(rand.NewPCG(seed, 77))
	p := Problem{Order: Free, Aim: Aim(seed % 2)}
	for range n {
		p.Pieces = append(p.Pieces, Piece{Length: pops[kind](r), Gap: 4000})
	}
	c := []Millis{1_342_000, 1_760_000, 2_646_000, 2_938_500, 3_532_000}[r.IntN(5)]
	p.Kinds = []Kind{{Sides: []Side{{Capacity: c}, {Capacity: c}}}}
	return p
}

func TestSurveyTwoSides(t *testing.T) {
	if !*survey {
		t.Skip("for the eye: -survey")
	}
	for kind := range pops {
		if *surveyKind != "" && kind != *surveyKind {
			continue
		}
		for _, n := range []int{12, 20, 28, 35, 50, 70, 100} {
			if *surveyPieces > 0 && n != *surveyPieces {
				continue
			}
			proved, kept, all := 0, 0, 0
			var worst, sum time.Duration
			var within Millis
			songs := 0
			bad := ""
			for seed := range uint64(*surveySeeds) {
				p := popList(seed, kind, n)
				at := time.Now()
				a, err := Solve(context.Background(), p)
				d := time.Since(at)
				if err != nil || p.Check(a) != nil {
					t.Fatal(err, p.Check(a))
				}
				all++
				sum += d
				worst = max(worst, d)
				if a.Proved {
					proved++
				}
				if a.SongsWithin == 0 && a.Within == 0 {
					kept++
				} else {
					bad += fmt.Sprintf(" %d", seed)
					songs = max(songs, a.SongsWithin)
					within = max(within, a.Within)
				}
			}
			t.Logf("%9s %3d: proved %2d, kept %2d of %d; mean %5d ms, worst %5d ms; within %d songs %d ms [%s]", kind, n, proved, kept, all, (sum / time.Duration(all)).Milliseconds(), worst.Milliseconds(), songs, within, bad)
		}
	}
}

func TestSurveyNear(t *testing.T) {
	if !*survey {
		t.Skip("for the eye: -survey")
	}
	for _, tapes := range []int{1, 2} {
		for _, ratio := range []int{97, 99, 103, 110, 150} { // of what fits, in a hundred
			for seed := range uint64(*surveySeeds) {
				p := popList(seed, "files", 40)
				p.Order, p.MaxTapes, p.MoveWorth = Near, tapes, 10_000
				c := (p.wanted().Time + 4000*40) * 100 / Millis(ratio) / Millis(2*tapes)
				p.Kinds[0].Sides = []Side{{Capacity: c}, {Capacity: c}}
				say := fmt.Sprintf("%d tapes %d%% aim %d:", tapes, ratio, p.Aim)
				for _, o := range []Order{Keep, Near, Free} {
					p.Order = o
					at := time.Now()
					a, err := Solve(context.Background(), p)
					if err != nil {
						t.Fatal(err)
					}
					q := p
					q.Order = Near
					sc := q.Score(a)
					say += fmt.Sprintf("  [%d songs %d s moved %d, within %d, %d ms]", sc.Wanted.Songs, sc.Wanted.Time/1000, sc.Moved, a.Within, time.Since(at).Milliseconds())
				}
				t.Log(say)
			}
		}
	}
}
