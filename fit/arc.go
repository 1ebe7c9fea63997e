package fit

import (
	"cmp"
	"slices"
)

// ArcFit tells how near the running order of a side is to its arc.
type ArcFit struct {
	Tape, Side int // numbers in Answer.Tapes and in its sides
	// Off is how far it is from the arc, summed over the places of the side:
	// from the drive that belongs there or, on a level side, the drives so far
	// from their share. Its unit is that of Drive.
	Off int64
	// Within is the most by which another running order of the same pieces can
	// be nearer: 0 where it is proved that none is.
	Within int64
}

// arcFits tells it of every side that follows an arc.
func (p *Problem) arcFits(a Answer) (fits []ArcFit) {
	faded := map[int]bool{}
	for _, f := range a.Faded {
		faded[f.Piece] = true
	}
	for t, load := range a.Tapes {
		for s, list := range load.Sides {
			side := p.Kinds[load.Kind].Sides[s]
			arc := p.arc(side)
			if arc == NoArc || len(list) == 0 {
				continue
			}
			off := p.offArc(list, arc)
			least := p.leastArc(list, arc)
			if off > least && len(list) <= exactRun && !slices.ContainsFunc(list, func(i int) bool { return faded[i] }) {
				if best, ok, known := p.bestRun(slices.Sorted(slices.Values(list)), side); ok && known {
					least = p.offArc(best, arc)
				}
			}
			f := ArcFit{t, s, off, max(0, off-least)}
			if n := int64(len(list)); arc == Level {
				f.Off, f.Within = (f.Off+n-1)/n, (f.Within+n-1)/n
			}
			fits = append(fits, f)
		}
	}
	return fits
}

// ends finds the opener and the closer among pieces; -1: none.
func (p *Problem) ends(list []int) (first, last int) {
	first, last = -1, -1
	for _, i := range list {
		if p.Pieces[i].Opens != Nothing {
			first = i
		}
		if p.Pieces[i].Closes != Nothing && i != first {
			last = i
		}
	}
	return first, last
}

// leastArc bounds from below how far any running order of these pieces is from
// an arc. But for the opener and the closer it asks for no rule.
func (p *Problem) leastArc(list []int, arc Arc) int64 {
	if arc != Level {
		return p.offArc(p.along(list, arc), arc)
	}
	if _, least, ok := p.level(list); ok {
		return least
	}
	// Before and after a piece the drives so far are off by some e and f, and
	// e + f is what the piece itself is off, so |e| + |f| is no less than that.
	// Each is counted twice, and the first and the last are 0.
	var sum, twice int64
	for _, i := range list {
		sum += p.Pieces[i].Drive
	}
	for _, i := range list {
		twice += distance(int64(len(list))*p.Pieces[i].Drive, sum)
	}
	return (twice + 1) / 2
}

// along puts pieces on the course of any arc but Level, the opener and the
// closer at the ends: the others by drive on the places by the drive that
// belongs there. Nothing is nearer, since an exchange of two of them brings the
// sum of distances down no further (the assignment problem on a line; G. H.
// Hardy, J. E. Littlewood and G. Pólya, Inequalities, 1934, section 10.2).
func (p *Problem) along(list []int, arc Arc) []int {
	n := len(list)
	course := p.course(list, arc)
	first, last := p.ends(list)
	places := run(truth(first >= 0), n-truth(last >= 0))
	slices.SortStableFunc(places, func(a, b int) int { return cmp.Compare(course[a], course[b]) })
	up := slices.DeleteFunc(slices.Clone(list), func(i int) bool { return i == first || i == last })
	slices.SortStableFunc(up, func(i, j int) int { return cmp.Compare(p.Pieces[i].Drive, p.Pieces[j].Drive) })
	out := make([]int, n)
	for k, i := range up {
		out[places[k]] = i
	}
	if first >= 0 {
		out[0] = first
	}
	if last >= 0 {
		out[n-1] = last
	}
	return out
}

// mostLevel bounds the states of level.
const mostLevel = 1 << 18

// level is the running order of these pieces that is nearest to level, the
// opener and the closer at the ends, where no other rule stands against it.
// Pieces of the same drive are alike, so that a state is how many of each drive
// are laid (dynamic programming; M. Held and R. M. Karp, Journal of SIAM 10,
// 1962). ok is false where there are too many states.
func (p *Problem) level(list []int) (order []int, least int64, ok bool) {
	n := int64(len(list))
	first, last := p.ends(list)
	var sum int64
	for _, i := range list {
		sum += p.Pieces[i].Drive
	}
	over := func(i int) int64 { return n*p.Pieces[i].Drive - sum } // its share
	like := map[int64][]int{}
	for _, i := range list {
		if i != first && i != last {
			like[p.Pieces[i].Drive] = append(like[p.Pieces[i].Drive], i)
		}
	}
	var drives []int64
	for d := range like {
		drives = append(drives, d)
	}
	slices.Sort(drives)
	states := 1
	radix := make([]int, len(drives))
	for k, d := range drives {
		radix[k] = states
		if states *= len(like[d]) + 1; states > mostLevel {
			return nil, 0, false
		}
	}
	start := int64(0)
	if first >= 0 {
		start = over(first)
	}
	type cell struct {
		cost int64
		by   int8 // the drive laid last
	}
	cells := make([]cell, states)
	count := make([]int, len(drives))
	off := start
	cells[0].cost = distance(start, 0)
	for s := 1; s < states; s++ {
		// The next state: one more of the first drive that has one.
		for k, d := range drives {
			if count[k]++; count[k] <= len(like[d]) {
				off += over(like[d][0])
				break
			}
			off -= int64(len(like[d])) * over(like[d][0])
			count[k] = 0
		}
		best := int64(-1)
		for k := range drives {
			if count[k] > 0 {
				if c := cells[s-radix[k]].cost; best < 0 || c < best {
					best = c
					cells[s].by = int8(k)
				}
			}
		}
		cells[s].cost = best + distance(off, 0)
	}
	order = make([]int, n)
	at := len(order) - 1
	if first >= 0 {
		order[0] = first
	}
	if last >= 0 {
		order[at] = last
		at--
	}
	for s := states - 1; s > 0; at-- {
		d := drives[cells[s].by]
		l := like[d]
		order[at] = l[len(l)-1]
		like[d] = l[:len(l)-1]
		s -= radix[cells[s].by]
	}
	return order, cells[states-1].cost, true
}
