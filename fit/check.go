package fit

import (
	"fmt"
	"slices"
)

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
	if most := max(1, p.MaxTapes, len(p.Given)); len(a.Tapes) > most {
		return fmt.Errorf("%d tapes, at most %d are allowed", len(a.Tapes), most)
	}
	for t, k := range p.Given {
		if t >= len(a.Tapes) || a.Tapes[t].Kind != k {
			return fmt.Errorf("tape %d is not the one given", t)
		}
	}
	faded := map[int]Millis{}
	for _, f := range a.Faded {
		if f.Piece < 0 || f.Piece >= len(p.Pieces) || f.By < 1 || f.By > p.Pieces[f.Piece].Fade || faded[f.Piece] > 0 {
			return fmt.Errorf("piece %d may not be faded by %d ms", f.Piece, f.By)
		}
		faded[f.Piece] = f.By
	}
	stock := make([]int, len(p.Kinds))
	before, number := -1, 0
	closed := false // the closer of everything has been
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
			number++
			var end Millis
			for k, i := range list {
				if err := see(i); err != nil {
					return err
				}
				q := p.Pieces[i]
				switch {
				case q.Side > 0 && q.Side != number:
					return fmt.Errorf("piece %d is on side %d, not on %d", i, number, q.Side)
				case q.Opens != Nothing && (k > 0 || kind.Sides[s].Begun > 0):
					return fmt.Errorf("piece %d does not open its side", i)
				case q.Opens == OfAll && before >= 0:
					return fmt.Errorf("piece %d does not open everything", i)
				case q.Closes != Nothing && k < len(list)-1:
					return fmt.Errorf("piece %d does not close its side", i)
				case closed:
					return fmt.Errorf("piece %d comes after the closer of everything", i)
				}
				var over Millis
				if k > 0 {
					over = max(0, -p.Pieces[list[k-1]].Gap)
				}
				if k < len(list)-1 {
					over += max(0, -q.Gap)
				}
				if over > 0 && over > q.Length-q.Fade-q.Margin {
					return fmt.Errorf("piece %d is shorter than the %d ms that others overlap it", i, over)
				}
				closed = q.Closes == OfAll
				var earlier []int // groups of the tracks on the side before it
				if b := kind.Sides[s].Begun; b > 0 {
					earlier = slices.Clone(p.Begun[b-1].Groups)
				}
				for _, j := range list[:k] {
					earlier = append(earlier, groupsOf(p.Pieces[j])...)
				}
				for t, g := range groupsOf(q) {
					for _, h := range earlier[max(0, min(len(earlier), len(earlier)+t-p.Apart)):] {
						if g != 0 && g == h {
							return fmt.Errorf("piece %d is too near another of group %d", i, g)
						}
					}
				}
				any = true
				if p.Order == Keep && i < before {
					return fmt.Errorf("piece %d comes after piece %d", i, before)
				}
				before = i
				if k > 0 {
					end += p.Pieces[list[k-1]].Gap
				}
				end += q.Length - faded[i]
				if end > kind.Sides[s].Capacity {
					return fmt.Errorf("tape %d side %d holds %d ms of %d", t, s, end, kind.Sides[s].Capacity)
				}
				if thin := kind.Sides[s].ThinFrom; q.NotThin && thin > 0 && end > thin {
					return fmt.Errorf("piece %d ends at %d ms, on the thin tape from %d", i, end, thin)
				}
			}
		}
		if !any && t >= len(p.Given) {
			return fmt.Errorf("tape %d is empty", t)
		}
	}
	for _, i := range a.LeftOut {
		if err := see(i); err != nil {
			return err
		}
		if p.Pieces[i].Must || faded[i] > 0 {
			return fmt.Errorf("piece %d may not be left out", i)
		}
	}
	for i, n := range seen {
		if n == 0 {
			return fmt.Errorf("piece %d is neither placed nor left out", i)
		}
	}
	if sc := p.Score(a); len(a.Score.Reserves) != len(sc.Reserves) || p.Compare(sc, a.Score) != 0 {
		return fmt.Errorf("the score is %v, not %v", sc, a.Score)
	}
	return nil
}

// groupsOf are the groups of the tracks of a piece.
func groupsOf(q Piece) []int {
	if q.Groups != nil {
		return q.Groups
	}
	return []int{q.Group}
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
		case q.Songs < 0 || q.Songs > MaxSongs:
			return fmt.Errorf("piece %d: %d songs are out of range", i, q.Songs)
		case q.Margin < 0 || q.Margin > q.Length:
			return fmt.Errorf("piece %d: a margin of %d ms is out of range", i, q.Margin)
		case q.Gap < -q.Length || q.Gap > Longest:
			return fmt.Errorf("piece %d: a gap of %d ms is out of range", i, q.Gap)
		case len(q.Groups) > MaxSongs:
			return fmt.Errorf("piece %d: %d tracks are out of range", i, len(q.Groups))
		case q.Reserve < 0:
			return fmt.Errorf("piece %d: a reserve's rank is 1 or more, not %d", i, q.Reserve)
		case q.Side < 0:
			return fmt.Errorf("piece %d: sides count from 1, not %d", i, q.Side)
		case q.Opens < Nothing || q.Opens > OfAll || q.Closes < Nothing || q.Closes > OfAll:
			return fmt.Errorf("piece %d: there is no such place", i)
		case q.Fade < 0 || q.Fade >= q.Length:
			return fmt.Errorf("piece %d: a fade of %d ms is out of range", i, q.Fade)
		case q.Drive < -MaxDrive || q.Drive > MaxDrive:
			return fmt.Errorf("piece %d: a drive of %d is out of range", i, q.Drive)
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
			if side.Begun < 0 || side.Begun > len(p.Begun) {
				return fmt.Errorf("kind %d side %d: nothing is known of what is on it", k, s)
			}
			if side.ThinFrom < 0 || side.ThinFrom > Longest || side.Arc < NoArc || side.Arc > Valley {
				return fmt.Errorf("kind %d side %d: thin from %d ms, arc %d", k, s, side.ThinFrom, side.Arc)
			}
		}
	}
	for t, k := range p.Given {
		if k < 0 || k >= len(p.Kinds) || len(p.Given) > MaxPieces {
			return fmt.Errorf("given tape %d is of no kind", t)
		}
	}
	switch {
	case p.MaxTapes < 0:
		return fmt.Errorf("at most %d tapes: 1 or more are possible", p.MaxTapes)
	case p.MoveWorth < 0 || p.MoveWorth > Longest:
		return fmt.Errorf("a moved piece worth %d ms is out of range", p.MoveWorth)
	case p.Apart < 0:
		return fmt.Errorf("pieces of a group %d apart", p.Apart)
	case p.Order < Keep || p.Order > Free:
		return fmt.Errorf("there is no order %d", p.Order)
	case p.Spare < Last || p.Spare > First:
		return fmt.Errorf("there is no spare %d", p.Spare)
	case p.Aim < MostSongs || p.Aim > MostTime:
		return fmt.Errorf("there is no aim %d", p.Aim)
	}
	return nil
}
