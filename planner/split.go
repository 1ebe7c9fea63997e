package planner

import "fmt"

// split turns each item that is to be split into two: the first part closes
// side A and the second opens side B of the same tape.
func (m Mix) split() (Mix, error) {
	var out []Item
	for _, it := range m.Items {
		at := it.Wish.Split.D()
		if at == 0 {
			out = append(out, it)
			continue
		}
		if at >= it.Length {
			return m, fmt.Errorf("%s is %s long and cannot be split at %s", quote(it.Title), Clock(it.Length), Clock(at))
		}
		of := it.place()
		a, b := it, it
		a.splitOf = &Stretch{Exact(of.From), Exact(of.Length)}
		b.splitOf = a.splitOf
		a.Wish.Split, b.Wish.Split = 0, 0
		a.Title, b.Title = it.Title+" (1 of 2)", it.Title+" (2 of 2)"
		a.Length, b.Length = at, it.Length-at
		a.Part, b.Part = true, true
		b.From = it.From + at
		a.Wish.Side, a.Wish.Closes, a.Wish.Join = "A", OfSide, false
		b.Wish.Side, b.Wish.Opens = "B", OfSide
		out = append(out, a, b)
	}
	m.Items = out
	return m, nil
}
