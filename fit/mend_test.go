package fit

import (
	"context"
	"testing"
)

// Two sides of 100; 60 50 40 50 in this order: 60 + 50 is over, so the break
// comes after 60, and 50 + 40 + 50 = 140 is 40 over. With 50 and 40 swapped
// 60 + 40 = 100 and 50 + 50 = 100.
func TestSwap(t *testing.T) {
	p := twoSides(100, 60, 50, 40, 50)
	if _, ok := p.Fits(context.Background()); ok {
		t.Fatal("it fits as it is")
	}
	if i, j, ok := p.Swap(context.Background()); !ok || i != 1 || j != 2 {
		t.Errorf("swap %d and %d, %v; want 1 and 2", i, j, ok)
	}
}

func TestLeastRoom(t *testing.T) {
	for _, c := range []struct {
		order Order
		want  Millis
		gap   Millis
	}{
		{Keep, 10, 0}, // 60 + 50 = 110, 40 + 50 = 90
		{Free, 0, 0},
		{Keep, 13, 3}, // and one gap on each side
		{Free, 3, 3},
	} {
		p := twoSides(100, 60, 50, 40, 50)
		p.Order = c.order
		for i := range p.Pieces {
			p.Pieces[i].Gap = c.gap
		}
		if got, ok := p.LeastRoom(context.Background()); !ok || got != c.want {
			t.Errorf("order %d gap %d: %d more, %v; want %d", c.order, c.gap, got, ok, c.want)
		}
	}
}

// 2 x 45 and 2 x 45 on sides of 100 leave 10 for the one gap of each side.
func TestWidestGap(t *testing.T) {
	p := twoSides(100, 45, 45, 45, 45)
	for i := range p.Pieces {
		p.Pieces[i].Gap = 25
	}
	if got, ok := p.WidestGap(context.Background()); !ok || got != 10 {
		t.Errorf("a gap of %d, %v; want 10", got, ok)
	}
	if got, ok := twoSides(10, 45).WidestGap(context.Background()); ok {
		t.Errorf("a gap of %d does not help", got)
	}
}

// 70 30 20 80 on sides of 100: all but the 20, or 70 30 and 80 20 in free order.
func TestFewestOut(t *testing.T) {
	p := twoSides(90, 70, 30, 20, 80)
	a, err := p.FewestOut(context.Background())
	if err != nil || len(a.LeftOut) != 1 || a.LeftOut[0] != 1 {
		t.Errorf("%v, %v left out; want 1", err, a.LeftOut)
	}
}

func twoSides(capacity Millis, lengths ...Millis) Problem {
	p := Problem{Kinds: []Kind{{Sides: []Side{{Capacity: capacity}, {Capacity: capacity}}}}}
	for _, l := range lengths {
		p.Pieces = append(p.Pieces, Piece{Length: l})
	}
	return p
}
