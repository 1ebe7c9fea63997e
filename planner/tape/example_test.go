package tape_test

import (
	"fmt"
	"time"

	"longside/planner/tape"
)

func ExampleNamed() {
	c90, err := tape.Named("C90")
	if err != nil {
		fmt.Println(err)
		return
	}
	l := c90.Limits(tape.Default())
	fmt.Printf("%.1f m, full pack %.2f mm, %.1f s for programme at the short limit\n", c90.Length, c90.FullRadius(), l.Short.Seconds())
	fmt.Printf("counter at 10:00: %.0f\n", c90.Counter(10*time.Minute, tape.DefaultCounterRatio))
	// Output:
	// 128.6 m, full pack 24.74 mm, 2646.5 s for programme at the short limit
	// counter at 10:00: 174
}

// A side by the watch gives the length, ten turns of the full pack the thickness.
func ExampleMeasure() {
	m, err := tape.Measure(tape.Readings{
		Name: "C60", Side: 31*time.Minute + 12*time.Second,
		Turnings:  []tape.Turning{{Pack: tape.SupplyPack, Turns: 10, Took: 32100 * time.Millisecond}},
		DeckError: 0.004, DeckWithin: 0.002,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f m, give or take %.1f; %.1f um, give or take %.1f\n", m.Length.Value, m.Length.Within, m.Thickness.Value, m.Thickness.Within)
	// Output: 89.5 m, give or take 0.2; 16.8 um, give or take 0.6
}

// Readings that cannot both be right are refused by name.
func ExampleMeasure_contradiction() {
	_, err := tape.Measure(tape.Readings{Name: "C90", Side: 31 * time.Minute})
	fmt.Println(err)
	// Output: C90 and a side of 31:00 contradict each other: C90 plays 45:00 at nominal speed; check the watch or the name
}

func ExampleJudge() {
	c120, err := tape.Named("C120")
	if err != nil {
		fmt.Println(err)
		return
	}
	j := tape.Judge(tape.Facts{Tape: c120, Deck: tape.Deck{AutoStop: tape.StopLever}})
	fmt.Println(j.Word())
	fmt.Println(j.Doubts[0].Risk, j.Doubts[0].Likely)
	// Output:
	// careful
	// jam probable
}
