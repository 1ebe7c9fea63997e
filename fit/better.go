package fit

import (
	"cmp"
	"math"
	"slices"
)

// Score is what an answer is worth, point by point.
type Score struct {
	Kept  []Share // wanted pieces, then a share for each rank of reserves there is
	Tapes int
	Cost  int64
	Moved int   // pieces out of the given order, over all sides (Near only)
	Blank Blank // how far blank tape is from where it should be
	Stirs int64 // pairs of pieces of one side that swapped their given order
}

// Share is the part of one rank that is kept.
type Share struct {
	Pieces int
	Time   Millis // playing time, gaps not counted
}

// Blank is how far blank tape is from where Spare wants it: less is better.
// Far decides; Then speaks between equals. Both depend on Spare; see blank.
type Blank struct{ Far, Then int64 }

// Compare gives a positive number when x is better than y, negative when it is
// worse and 0 when neither is. Both are scores of answers to p.
func (p Problem) Compare(x, y Score) int {
	for i := range x.Kept {
		if c := p.Aim.compare(x.Kept[i], y.Kept[i]); c != 0 {
			return c
		}
	}
	return cmp.Or(
		cmp.Compare(y.Tapes, x.Tapes),
		cmp.Compare(y.Cost, x.Cost),
		cmp.Compare(y.Moved, x.Moved),
		y.Blank.compare(x.Blank),
		cmp.Compare(y.Stirs, x.Stirs),
	)
}

func (a Aim) compare(x, y Share) int {
	if a == FewestLeftOut {
		return cmp.Or(cmp.Compare(x.Pieces, y.Pieces), cmp.Compare(x.Time, y.Time))
	}
	return cmp.Or(cmp.Compare(x.Time, y.Time), cmp.Compare(y.Pieces, x.Pieces))
}

func (b Blank) compare(c Blank) int {
	return cmp.Or(cmp.Compare(b.Far, c.Far), cmp.Compare(b.Then, c.Then))
}

func (b Blank) plus(c Blank) Blank { return Blank{plus(b.Far, c.Far), plus(b.Then, c.Then)} }

// blank is the share of side s of m in an answer's Blank, when b of it is
// blank. The shares of all sides add up.
func (s Spare) blank(side, m int, b Millis) Blank {
	switch s {
	case Even:
		return Blank{times(int64(b), int64(b)), times(int64(b), int64(m-1-side))}
	case First:
		far := int64(b)
		if side == 0 {
			far = 0
		}
		return Blank{far, times(int64(b), int64(side))}
	}
	far := int64(b)
	if side == m-1 {
		far = 0
	}
	return Blank{far, times(int64(b), int64(m-1-side))}
}

// times and plus stop at the largest number: squares of absurd blanks, over
// very many sides, do not fit.
func times(a, b int64) int64 {
	if a != 0 && b > math.MaxInt64/a {
		return math.MaxInt64
	}
	return a * b
}

func plus(a, b int64) int64 {
	if a > math.MaxInt64-b {
		return math.MaxInt64
	}
	return a + b
}

// Score reckons what an answer is worth. The answer must be sound (see Check).
func (p Problem) Score(a Answer) Score {
	rank := p.ranks()
	var sc Score
	sc.Kept = make([]Share, len(rank))
	m := 0
	for _, t := range a.Tapes {
		m += len(t.Sides)
		sc.Cost += p.Kinds[t.Kind].Cost
	}
	sc.Tapes = len(a.Tapes)
	var line []int
	at := 0
	for _, t := range a.Tapes {
		for s, list := range t.Sides {
			for _, i := range list {
				k, _ := slices.BinarySearch(rank, p.Pieces[i].Reserve)
				sc.Kept[k].Pieces++
				sc.Kept[k].Time += p.Pieces[i].Length
			}
			b := p.Kinds[t.Kind].Sides[s].Capacity - p.Used(list)
			sc.Blank = sc.Blank.plus(p.Spare.blank(at, m, b))
			sc.Stirs += stirs(list)
			line = append(line, list...)
			at++
		}
	}
	if p.Order == Near {
		sc.Moved = len(line) - rise(line)
	}
	return sc
}

// Used is the time that pieces take on a side, in this order: lengths and the
// gaps between them.
func (p Problem) Used(list []int) Millis {
	var t Millis
	for k, i := range list {
		t += p.Pieces[i].Length
		if k < len(list)-1 {
			t += p.Pieces[i].Gap
		}
	}
	return t
}

// ranks are the ranks that occur, ascending; 0, the wanted, is always there.
func (p Problem) ranks() []int {
	r := []int{0}
	for _, q := range p.Pieces {
		r = append(r, q.Reserve)
	}
	slices.Sort(r)
	return slices.Compact(r)
}

// stirs counts the pairs out of ascending order.
func stirs(list []int) int64 {
	var n int64
	for k, i := range list {
		for _, j := range list[:k] {
			if j > i {
				n++
			}
		}
	}
	return n
}

// rise is the length of the longest rising subsequence: the pieces that need
// not be called moved (C. Schensted, Canadian Journal of Mathematics 13, 1961).
func rise(list []int) int {
	var ends []int // ends[k]: the least end of a rise of k+1
	for _, i := range list {
		k, _ := slices.BinarySearch(ends, i)
		if k == len(ends) {
			ends = append(ends, i)
		} else {
			ends[k] = i
		}
	}
	return len(ends)
}
