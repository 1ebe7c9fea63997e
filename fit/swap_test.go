package fit

import "testing"

// Two sides of 100; 60 50 40 50 in this order: 60 + 50 is over, so the break
// comes after 60, and 50 + 40 + 50 = 140 is 40 over. With 50 and 40 swapped
// 60 + 40 = 100 and 50 + 50 = 100.
func TestSwap(t *testing.T) {
	p := twoSides(100, 60, 50, 40, 50)
	if a, err := Solve(t.Context(), p); err != nil || len(a.LeftOut) == 0 {
		t.Fatal("it fits as it is", err)
	}
	if i, j, ok := p.Swap(t.Context(), [][]int{{0}, {1}, {2}, {3}}); !ok || i != 1 || j != 2 {
		t.Errorf("swap %d and %d, %v; want 1 and 2", i, j, ok)
	}
}

func twoSides(capacity Millis, lengths ...Millis) Problem {
	p := Problem{Kinds: []Kind{{Sides: []Side{{Capacity: capacity}, {Capacity: capacity}}}}}
	for _, l := range lengths {
		p.Pieces = append(p.Pieces, Piece{Length: l})
	}
	return p
}
