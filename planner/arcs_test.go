package planner

import (
	"strings"
	"testing"

	"longside/fit"
)

// Drives 9 and 2 and 5 on a rising side: in that order nothing is off, and it
// is said so; on side B two of the same drive are level in either order.
func TestArcsAreTold(t *testing.T) {
	r := request(t, "C90", mix(1200, 800, 600, 1300, 1200))
	for i, d := range []float64{9, 2, 5, 4, 4} {
		r.Mix.Items[i].Wish.Drive = &d
		r.Mix.Items[i].Wish.Side = []string{"A", "A", "A", "B", "B"}[i]
	}
	r.Order = fit.Free
	r.Arcs = map[string]Arc{"A": Rising, "B": Level}
	p := make1(t, r)
	for _, s := range p.Tapes[0].Sides {
		if s.Arc == nil || !s.Arc.Proved || s.Arc.Off != 0 || s.Arc.Arc != r.Arcs[s.Side] {
			t.Errorf("side %s: %+v", s.Side, s.Arc)
		}
	}
}

// An arc that could not be heeded is refused, and the way out is named.
func TestArcsThatCannotBe(t *testing.T) {
	r := request(t, "C90", mix(300, 200))
	if err := r.CheckArcs(false); err != nil {
		t.Errorf("no arc: %v", err)
	}
	r.Arcs = map[string]Arc{"A": Rising}
	for _, o := range []fit.Order{fit.Keep, fit.Near} {
		r.Order = o
		if err := r.CheckArcs(true); err == nil || !strings.Contains(err.Error(), "--order free") {
			t.Errorf("order %v: %v, want one that names --order free", o, err)
		}
	}
	r.Order = fit.Free
	if err := r.CheckArcs(false); err == nil || !strings.Contains(err.Error(), "--levels") {
		t.Errorf("no drive: %v, want one that names --levels", err)
	}
	if err := r.CheckArcs(true); err != nil {
		t.Errorf("to be heard yet: %v", err)
	}
	r.Mix.Items[1].Wish = drive(3)
	if err := r.CheckArcs(false); err != nil {
		t.Errorf("a drive is given: %v", err)
	}
}
