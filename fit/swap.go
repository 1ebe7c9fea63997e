package fit

import "context"

// Swap finds two rows of pieces such that every wanted piece can be placed, in
// the given order, once these two have changed places in it; of all such pairs
// the one whose answer is best, and of these the nearest. The rows are all pieces
// in their order, those together that keep together; i and j are numbers of rows.
// It is for order Keep and up to 200 rows.
func (p Problem) Swap(ctx context.Context, rows [][]int) (i, j int, ok bool) {
	n := len(rows)
	if p.Order != Keep || n > 200 || p.valid() != nil {
		return 0, 0, false
	}
	var best Score
	kinds := p.roomiest(p.top())
	sides, _ := p.row(kinds)
	for a := range n {
		for b := a + 1; b < n; b++ {
			if ctx.Err() != nil {
				return i, j, ok
			}
			q := p
			q.Pieces = nil
			for r := range rows {
				from := r
				switch r {
				case a:
					from = b
				case b:
					from = a
				}
				for _, x := range rows[from] {
					q.Pieces = append(q.Pieces, p.Pieces[x])
				}
			}
			var list []int
			for x, piece := range q.Pieces {
				if piece.Reserve == 0 {
					list = append(list, x)
				}
			}
			cuts, fits := q.breaks(list, sides)
			if !fits {
				continue
			}
			x := q.answer(kinds, cutAt(list, cuts), nil)
			if q.Check(x) != nil {
				continue
			}
			c := 1
			if ok {
				c = q.Compare(x.Score, best)
			}
			if c > 0 || c == 0 && b-a < j-i {
				i, j, ok, best = a, b, true, x.Score
			}
		}
	}
	return i, j, ok
}
