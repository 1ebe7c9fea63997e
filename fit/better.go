package fit

import (
	"cmp"
	"math"
	"slices"
)

// Score is what an answer is worth, point by point, the first to decide first.
type Score struct {
	Wanted   Share
	Faded    Millis // in all
	Tapes    int
	Cost     int64
	Moved    int     // pieces out of the given order, over all sides (Near only)
	Reserves []Share // by rank, for each that there is
	Blank    Blank   // how far blank tape is from where it should be
	Arc      int64   // how far the sides are from their arcs (Free only)
	Stirs    int64   // pairs of pieces of one side that swapped their given order
}

// Share is the part of one rank that is kept.
type Share struct {
	Songs int    // a piece of several counts as so many
	Time  Millis // playing time, gaps not counted
}

// Blank is how far blank tape is from where Spare wants it: less is better.
// Far decides; Then speaks between equals. Both depend on Spare; see blank.
type Blank struct{ Far, Then int64 }

// Compare gives a positive number when x is better than y, negative when it is
// worse and 0 when neither is. Both are scores of answers to p.
func (p Problem) Compare(x, y Score) int {
	c := cmp.Or(
		p.compareNear(x, y),
		p.Aim.compare(x.Wanted, y.Wanted),
		cmp.Compare(y.Faded, x.Faded),
		cmp.Compare(y.Tapes, x.Tapes),
		cmp.Compare(y.Cost, x.Cost),
		cmp.Compare(y.Moved, x.Moved),
	)
	for i := 0; c == 0 && i < len(x.Reserves); i++ {
		c = p.Aim.compare(x.Reserves[i], y.Reserves[i])
	}
	return cmp.Or(c,
		y.Blank.compare(x.Blank),
		cmp.Compare(y.Arc, x.Arc),
		cmp.Compare(y.Stirs, x.Stirs),
	)
}

// compareNear is the first word in order Near: all that is wanted or not, and
// what moving is worth.
func (p *Problem) compareNear(x, y Score) int {
	if p.Order != Near || p.MoveWorth == 0 {
		return 0
	}
	all := p.wanted()
	if c := truth(x.Wanted == all) - truth(y.Wanted == all); c != 0 || x.Wanted == all {
		return c
	}
	if p.Aim == MostSongs && x.Wanted.Songs != y.Wanted.Songs {
		return cmp.Compare(x.Wanted.Songs, y.Wanted.Songs)
	}
	return cmp.Compare(x.Wanted.Time-p.MoveWorth*Millis(x.Moved), y.Wanted.Time-p.MoveWorth*Millis(y.Moved))
}

func (a Aim) compare(x, y Share) int {
	if a == MostSongs {
		return cmp.Or(cmp.Compare(x.Songs, y.Songs), cmp.Compare(x.Time, y.Time))
	}
	return cmp.Or(cmp.Compare(x.Time, y.Time), cmp.Compare(x.Songs, y.Songs))
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
	sc := Score{Reserves: make([]Share, len(rank)), Tapes: len(a.Tapes)}
	faded := map[int]Millis{}
	for _, f := range a.Faded {
		faded[f.Piece] = f.By
		sc.Faded += f.By
	}
	m := 0
	for _, t := range a.Tapes {
		m += len(t.Sides)
		sc.Cost += p.Kinds[t.Kind].Cost
	}
	var line []int
	at := 0
	for _, t := range a.Tapes {
		for s, list := range t.Sides {
			b := p.Kinds[t.Kind].Sides[s].Capacity - p.Used(list)
			for _, i := range list {
				share := &sc.Wanted
				if r := p.Pieces[i].Reserve; r > 0 {
					k, _ := slices.BinarySearch(rank, r)
					share = &sc.Reserves[k]
				}
				share.Songs += p.Pieces[i].songs()
				share.Time += p.Pieces[i].Length
				b += faded[i]
			}
			sc.Blank = sc.Blank.plus(p.Spare.blank(at, m, b))
			if p.Order == Free {
				sc.Arc += p.offArc(list, p.Kinds[t.Kind].Sides[s].Arc)
			}
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
// gaps between them, up to the end of the piece that ends last.
func (p Problem) Used(list []int) Millis {
	var used, start Millis
	for _, i := range list {
		q := &p.Pieces[i]
		used = max(used, start+q.Length)
		start += q.Length + q.Gap
	}
	return used
}

// ranks are the ranks of reserves that occur, ascending.
func (p Problem) ranks() []int {
	var r []int
	for _, q := range p.Pieces {
		if q.Reserve > 0 {
			r = append(r, q.Reserve)
		}
	}
	slices.Sort(r)
	return slices.Compact(r)
}

// offArc is how far the drives of pieces, in this order, are from an arc: the
// sum over the places of a side of the distance from the drive that belongs
// there. Level has no drive for a place; there it is the sum of how far the
// drive so far is from its share, times the number of pieces.
func (p Problem) offArc(list []int, arc Arc) int64 {
	if arc == NoArc {
		return 0
	}
	return p.offCourses(list, arc, p.course(list, arc))
}

// offCourses is offArc where the course is known.
func (p *Problem) offCourses(list []int, arc Arc, course []int64) int64 {
	var off, sum int64
	for k, i := range list {
		sum += p.Pieces[i].Drive
		off += offCourse(arc, course, k, sum, p.Pieces[i].Drive)
	}
	return off
}

// offCourse is the part of offArc that place k has, when it holds the drive
// and the places up to it the sum.
func offCourse(arc Arc, course []int64, k int, sum, drive int64) int64 {
	if arc == Level {
		n := len(course)
		return distance(int64(n)*sum, int64(k+1)*course[n-1])
	}
	return distance(drive, course[k])
}

// course is the drive that belongs in each place: the drives of the pieces
// themselves, put in the order of the arc. For Level the last is their sum.
func (p Problem) course(list []int, arc Arc) []int64 {
	n := len(list)
	up := make([]int64, n)
	var sum int64
	for k, i := range list {
		up[k] = p.Pieces[i].Drive
		sum += up[k]
	}
	slices.Sort(up)
	switch arc {
	case Level:
		if n > 0 {
			up[n-1] = sum
		}
		return up
	case Rising:
		return up
	}
	if arc != Hill { // Falling, Valley
		slices.Reverse(up)
	}
	if arc == Falling {
		return up
	}
	// The outermost places first, left and right in turn.
	out := make([]int64, n)
	for k, v := range up {
		if k%2 == 0 {
			out[k/2] = v
		} else {
			out[n-1-k/2] = v
		}
	}
	return out
}

func distance(a, b int64) int64 { return max(a-b, b-a) }

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
