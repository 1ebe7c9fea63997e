package fit

import "fmt"

// Check tells whether an answer keeps every rule of the problem: each piece
// once, no side over its capacity, no more tapes than there are, the order
// kept, and the score as stated. It shares nothing with the solvers but the
// score.
func (p Problem) Check(a Answer) error {
	if err := p.valid(); err != nil {
		return err
	}
	seen := make([]int, len(p.Pieces))
	see := func(i int) error {
		if i < 0 || i >= len(p.Pieces) {
			return fmt.Errorf("there is no piece %d", i)
		}
		if seen[i]++; seen[i] > 1 {
			return fmt.Errorf("piece %d is placed or left out twice", i)
		}
		return nil
	}
	if len(a.Tapes) > max(1, p.MaxTapes) {
		return fmt.Errorf("%d tapes, at most %d are allowed", len(a.Tapes), max(1, p.MaxTapes))
	}
	stock := make([]int, len(p.Kinds))
	before := -1
	for t, load := range a.Tapes {
		if load.Kind < 0 || load.Kind >= len(p.Kinds) {
			return fmt.Errorf("tape %d is of no kind", t)
		}
		kind := p.Kinds[load.Kind]
		if stock[load.Kind]++; kind.Stock > 0 && stock[load.Kind] > kind.Stock {
			return fmt.Errorf("more tapes of kind %d than the %d in stock", load.Kind, kind.Stock)
		}
		if len(load.Sides) != len(kind.Sides) {
			return fmt.Errorf("tape %d has %d sides, its kind has %d", t, len(load.Sides), len(kind.Sides))
		}
		any := false
		for s, list := range load.Sides {
			var end Millis
			for k, i := range list {
				if err := see(i); err != nil {
					return err
				}
				any = true
				if p.Order == Keep && i < before {
					return fmt.Errorf("piece %d comes after piece %d", i, before)
				}
				before = i
				if k > 0 {
					end += p.Pieces[list[k-1]].Gap
				}
				end += p.Pieces[i].Length
			}
			if end > kind.Sides[s].Capacity {
				return fmt.Errorf("tape %d side %d holds %d ms of %d", t, s, end, kind.Sides[s].Capacity)
			}
		}
		if !any {
			return fmt.Errorf("tape %d is empty", t)
		}
	}
	for _, i := range a.LeftOut {
		if err := see(i); err != nil {
			return err
		}
	}
	for i, n := range seen {
		if n == 0 {
			return fmt.Errorf("piece %d is neither placed nor left out", i)
		}
	}
	if sc := p.Score(a); p.Compare(sc, a.Score) != 0 {
		return fmt.Errorf("the score is %v, not %v", sc, a.Score)
	}
	return nil
}

// valid refuses numbers that no tape or track has.
func (p Problem) valid() error {
	if len(p.Pieces) > MaxPieces {
		return fmt.Errorf("%d pieces are more than the %d that can be fitted", len(p.Pieces), MaxPieces)
	}
	for i, q := range p.Pieces {
		switch {
		case q.Length < 1 || q.Length > Longest:
			return fmt.Errorf("piece %d: a length of %d ms is out of range", i, q.Length)
		case q.Gap < -q.Length || q.Gap > Longest:
			return fmt.Errorf("piece %d: a gap of %d ms is out of range", i, q.Gap)
		case q.Reserve < 0:
			return fmt.Errorf("piece %d: a reserve's rank is 1 or more, not %d", i, q.Reserve)
		}
	}
	if len(p.Kinds) == 0 {
		return fmt.Errorf("there is no kind of tape")
	}
	for k, kind := range p.Kinds {
		switch {
		case len(kind.Sides) == 0 || len(kind.Sides) > MaxSides:
			return fmt.Errorf("kind %d: %d sides, 1 to %d are possible", k, len(kind.Sides), MaxSides)
		case kind.Stock < 0:
			return fmt.Errorf("kind %d: a stock of %d", k, kind.Stock)
		case kind.Cost < 0 || kind.Cost > MaxCost:
			return fmt.Errorf("kind %d: a cost of %d is out of range", k, kind.Cost)
		}
		for s, side := range kind.Sides {
			if side.Capacity < 0 || side.Capacity > Longest {
				return fmt.Errorf("kind %d side %d: a capacity of %d ms is out of range", k, s, side.Capacity)
			}
		}
	}
	switch {
	case p.MaxTapes < 0:
		return fmt.Errorf("at most %d tapes: 1 or more are possible", p.MaxTapes)
	case p.Order < Keep || p.Order > Free:
		return fmt.Errorf("there is no order %d", p.Order)
	case p.Spare < Last || p.Spare > First:
		return fmt.Errorf("there is no spare %d", p.Spare)
	case p.Aim < MostTime || p.Aim > FewestLeftOut:
		return fmt.Errorf("there is no aim %d", p.Aim)
	}
	return nil
}
