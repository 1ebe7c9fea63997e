package fit

import (
	"math/rand/v2"
	"slices"
	"testing"
)

func TestMoved(t *testing.T) {
	for _, c := range []struct {
		a, b  []int
		moved []int
	}{
		{[]int{0, 1, 2}, []int{3, 4}, nil},
		{[]int{0, 4, 1}, []int{2, 3}, []int{4}},
		{[]int{1, 2}, []int{0, 3}, []int{0}},
		{nil, nil, nil},
	} {
		a := Answer{Tapes: []Load{{Sides: [][]int{c.a, c.b}}}}
		if got := a.Moved(); !slices.Equal(got, c.moved) {
			t.Errorf("%v | %v: moved %v, want %v", c.a, c.b, got, c.moved)
		}
	}
	// The number is that of the score, and without the moved the rest rises.
	r := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		line := r.Perm(1 + r.IntN(12))
		moved := Answer{Tapes: []Load{{Sides: [][]int{line}}}}.Moved()
		if len(moved) != len(line)-rise(line) {
			t.Fatalf("%v: %d moved, want %d", line, len(moved), len(line)-rise(line))
		}
		rest := slices.DeleteFunc(slices.Clone(line), func(i int) bool { return slices.Contains(moved, i) })
		if !slices.IsSorted(rest) {
			t.Fatalf("%v: without %v it does not rise", line, moved)
		}
	}
}
