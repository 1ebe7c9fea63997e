package fit

import (
	"cmp"
	"math/bits"
	"slices"
)

// exactRun is how many pieces of a side the exact running order takes.
const exactRun = 16

// lay puts pieces, given in ascending order, on a side in their best running
// order, faded where nothing else helps. ok is false when no order was found
// that keeps the rules; up to exactRun pieces that means there is none.
func (p *Problem) lay(set []int, side Side) (list []int, fades []Fade, ok bool) {
	if list, ok = p.order(set, side); ok {
		return list, nil, true
	}
	var room Millis
	for _, i := range set {
		room += p.Pieces[i].Fade
	}
	if room == 0 {
		return nil, nil, false
	}
	// In order Free the order that takes the least tape, if there is one: less is
	// faded then. In order Near that would move pieces for it.
	longer := side
	longer.Capacity += room
	if p.Order == Free {
		longer.Capacity = min(longer.Capacity, max(side.Capacity, p.tightest(set)))
	}
	if list, ok = p.order(set, longer); !ok {
		longer.Capacity = side.Capacity + room
		if list, ok = p.order(set, longer); !ok {
			return nil, nil, false
		}
	}
	// As few pieces as can be: those first that can give the most.
	give := slices.Clone(set)
	slices.SortStableFunc(give, func(i, j int) int { return cmp.Compare(p.Pieces[j].Fade, p.Pieces[i].Fade) })
	for need := p.Used(list) - side.Capacity; need > 0; give = give[1:] {
		by := min(need, p.Pieces[give[0]].Fade)
		fades = append(fades, Fade{give[0], by})
		need -= by
	}
	slices.SortFunc(fades, func(a, b Fade) int { return cmp.Compare(a.Piece, b.Piece) })
	return list, fades, true
}

// overlap is by how much the piece that follows begins before this one ends.
func (q *Piece) overlap() Millis { return max(0, -q.Gap) }

// firm is the length of a piece that is there whatever happens.
func (q *Piece) firm() Millis { return max(0, q.Length-q.Fade-q.Margin) }

// tight tells whether overlaps can matter to what may follow what.
func (p *Problem) tight() bool {
	over, room := Millis(0), Longest
	for _, q := range p.Pieces {
		over = max(over, q.overlap())
		room = min(room, q.firm()-q.overlap())
	}
	return over > room
}

// rubs tells whether a piece is too short for the overlaps before and after it,
// where it lies in place k of a side.
func (p *Problem) rubs(list []int, k int) bool {
	q := &p.Pieces[list[k]]
	var over Millis
	if k > 0 {
		over = p.Pieces[list[k-1]].overlap()
	}
	if k < len(list)-1 {
		over += q.overlap()
	}
	return over > q.firm()
}

// order is lay without fading.
func (p *Problem) order(set []int, side Side) ([]int, bool) {
	base, ok := p.base(set)
	if !ok {
		return nil, false
	}
	if arc := p.arc(side); arc == NoArc || len(set) < 2 {
		if p.broken(base, side) == 0 {
			return base, true
		}
	}
	if p.Order == Keep {
		return nil, false
	}
	if len(set) <= exactRun {
		if list, ok, known := p.bestRun(set, side); known {
			return list, ok
		}
	}
	if list, ok := p.goodRun(base, side); ok {
		return list, true
	}
	return p.anyRun(set, side)
}

// anyRun is a running order that is allowed, quickly; it may miss one.
func (p *Problem) anyRun(set []int, side Side) ([]int, bool) {
	side.Arc = NoArc
	base, ok := p.base(set)
	if !ok {
		return nil, false
	}
	if p.broken(base, side) == 0 {
		return base, true
	}
	if p.Order == Keep {
		return nil, false
	}
	list := p.widestLast(base)
	if p.broken(list, side) == 0 {
		return list, true
	}
	list = p.spread(base, side)
	if p.broken(list, side) == 0 {
		return list, true
	}
	return p.goodRun(list, side)
}

// widestLast puts the piece with the widest gap last, which gives it back,
// unless there is a closer.
func (p *Problem) widestLast(base []int) []int {
	at := len(base) - 1
	for k, i := range base {
		q := &p.Pieces[i]
		if q.Closes != Nothing {
			return base
		}
		if q.Opens == Nothing && q.Gap > p.Pieces[base[at]].Gap {
			at = k
		}
	}
	return append(slices.Delete(slices.Clone(base), at, at+1), base[at])
}

// base is the given order but for the opener and the closer; ok is false where
// a side would have two of either.
func (p *Problem) base(set []int) ([]int, bool) {
	if p.Order == Keep {
		return set, true
	}
	first, last := -1, -1
	for _, i := range set {
		if p.Pieces[i].Opens != Nothing {
			if first >= 0 {
				return nil, false
			}
			first = i
		}
		if p.Pieces[i].Closes != Nothing {
			if last >= 0 {
				return nil, false
			}
			last = i
		}
	}
	if first < 0 && last < 0 {
		return set, true
	}
	base := make([]int, 0, len(set))
	if first >= 0 {
		base = append(base, first)
	}
	for _, i := range set {
		if i != first && i != last {
			base = append(base, i)
		}
	}
	if last >= 0 && last != first {
		base = append(base, last)
	}
	return base, true
}

// arc is the arc that is followed on a side.
func (p *Problem) arc(side Side) Arc {
	if p.Order != Free {
		return NoArc
	}
	return side.Arc
}

// broken counts by how much a running order breaks the rules: 0 is sound.
func (p *Problem) broken(list []int, side Side) int {
	var end, used Millis
	n := 0
	for k, i := range list {
		q := &p.Pieces[i]
		if k > 0 {
			end += p.Pieces[list[k-1]].Gap
			if q.Opens != Nothing {
				n++
			}
		} else if side.Begun > 0 && q.Opens != Nothing {
			n++
		}
		if q.Closes != Nothing && k < len(list)-1 {
			n++
		}
		n += truth(p.rubs(list, k))
		end += q.Length
		used = max(used, end)
		if q.NotThin && side.ThinFrom > 0 && end > side.ThinFrom {
			n++
		}
		if p.Apart > 0 && q.grouped() {
			n += truth(p.crowded(list[:k], i) >= 0)
			n += truth(p.tooNearBefore(side, list[:k], i))
		}
	}
	if used > side.Capacity {
		n++
	}
	return n
}

// cost is what a running order is worth, less being better.
type cost struct{ arc, stirs int64 }

func (c cost) compare(d cost) int {
	return cmp.Or(cmp.Compare(c.arc, d.arc), cmp.Compare(c.stirs, d.stirs))
}

// mostStates bounds the states of bestRun: some 20 MB.
const mostStates = 1 << 20

// bestRun is the best running order of a few pieces by dynamic programming
// over subsets (M. Held and R. M. Karp, Journal of SIAM 10, 1962). What may
// follow depends on the set laid so far, which tells the time and the sum of
// drives, and on the latest pieces of groups. known is false when there are
// too many such states.
func (p *Problem) bestRun(set []int, side Side) (list []int, ok, known bool) {
	n := len(set)
	if n > exactRun {
		return nil, false, false
	}
	after, known := p.recents(set, side)
	if !known {
		return nil, false, false
	}
	arc := p.arc(side)
	course := p.course(set, arc)
	size := 1 << n
	type state struct {
		cost
		from int32 // number of the latest pieces before
		last int8  // counted from 1; 0: no such state
	}
	states := make([]state, len(after)*size)
	states[0].last = 1
	start, sum := make([]int64, size), make([]int64, size)
	for mask := range size {
		if mask > 0 {
			q := &p.Pieces[set[bits.TrailingZeros(uint(mask))]]
			start[mask] = start[mask&(mask-1)] + int64(q.Length+q.Gap)
			sum[mask] = sum[mask&(mask-1)] + q.Drive
		}
		c := bits.OnesCount(uint(mask))
		for r := range after {
			s := &states[r*size+mask]
			if s.last == 0 {
				continue
			}
			for x, i := range set {
				q := &p.Pieces[i]
				end := Millis(start[mask]) + q.Length
				if c == 0 && side.Begun > 0 && q.Opens != Nothing {
					continue
				}
				next := int(after[r][x])
				if mask>>x&1 == 1 || next < 0 || q.Opens != Nothing && c > 0 || q.Closes != Nothing && c < n-1 ||
					q.NotThin && side.ThinFrom > 0 && end > side.ThinFrom || end > side.Capacity {
					continue
				}
				d := s.cost
				if arc != NoArc {
					d.arc += offCourse(arc, course, c, sum[mask]+q.Drive, q.Drive)
				}
				d.stirs += int64(bits.OnesCount(uint(mask) >> x))
				to := &states[next*size+mask|1<<x]
				c := -1
				if to.last > 0 {
					// Of orders as good the widest gap is given back.
					if c = d.compare(to.cost); c == 0 && mask|1<<x == size-1 && q.Gap > p.Pieces[set[to.last-1]].Gap {
						c = -1
					}
				}
				if c < 0 {
					*to = state{d, int32(r), int8(x + 1)}
				}
			}
		}
	}
	best := -1
	for r := range after {
		s := &states[r*size+size-1]
		if s.last == 0 {
			continue
		}
		c := -1
		if best >= 0 {
			x := &states[best*size+size-1]
			if c = s.cost.compare(x.cost); c == 0 && p.Pieces[set[s.last-1]].Gap > p.Pieces[set[x.last-1]].Gap {
				c = -1
			}
		}
		if c < 0 {
			best = r
		}
	}
	if best < 0 {
		return nil, false, true
	}
	list = make([]int, n)
	for mask, r := size-1, best; mask > 0; {
		s := &states[r*size+mask]
		x := int(s.last) - 1
		list[bits.OnesCount(uint(mask))-1] = set[x]
		mask &^= 1 << x
		r = int(s.from)
	}
	return list, true, true
}

// recents numbers what the latest pieces of a side can be, as far as they bar
// others, of their group or too short for an overlap: after[r][x] is what they are once piece x of the set
// has followed, -1 where it may not.
func (p *Problem) recents(set []int, side Side) (after [][]int32, ok bool) {
	crowd := map[int]int{}
	before := p.onBefore(side)
	for _, g := range before {
		crowd[g]++
	}
	for _, i := range set {
		q := &p.Pieces[i]
		for t := range q.tracks() {
			crowd[q.group(t)]++
		}
	}
	groups := make([][]int, len(set)) // 0 for a track that is alone in its group
	memory, tracks := 0, len(before)
	for x, i := range set {
		q := &p.Pieces[i]
		for t := range q.tracks() {
			g := q.group(t)
			if crowd[g] < 2 {
				g = 0
			}
			memory = max(memory, g)
			groups[x] = append(groups[x], g)
		}
		tracks += q.tracks()
	}
	if memory > 0 {
		memory = min(p.Apart, tracks-1)
	}
	type latest struct {
		groups [exactRun]int // the last first
		over   Millis        // by how much the last is overlapped by what follows
		end    bool          // nothing can follow it, for the overlap before it
	}
	tight := p.tight()
	if memory > exactRun {
		return nil, false
	}
	var first latest
	copy(first.groups[:memory], before)
	number := map[latest]int32{first: 0}
	list := []latest{first}
	for r := 0; r < len(list); r++ {
		row := make([]int32, len(set))
		for x := range set {
			l := list[r]
			if memory == 0 && !tight {
				continue
			}
			for t, g := range groups[x] {
				if g != 0 && t < memory && slices.Contains(l.groups[:memory-t], g) {
					row[x] = -1
				}
			}
			if row[x] < 0 {
				continue
			}
			for _, g := range groups[x] {
				if memory > 0 {
					copy(l.groups[1:memory], l.groups[:memory-1])
					l.groups[0] = g
				}
			}
			if q := &p.Pieces[set[x]]; tight {
				if l.end || l.over > q.firm() {
					row[x] = -1
					continue
				}
				l.end = l.over+q.overlap() > q.firm()
				l.over = q.overlap()
			}
			k, seen := number[l]
			if !seen {
				k = int32(len(list))
				number[l] = k
				list = append(list, l)
			}
			row[x] = k
		}
		after = append(after, row)
		if len(list)<<len(set) > mostStates {
			return nil, false
		}
	}
	return after, true
}

// mostRun is how many pieces goodRun tries to better: it looks at every pair.
const mostRun = 120

// goodRun betters a running order by moving one piece or swapping two for as
// long as that helps.
func (p *Problem) goodRun(base []int, side Side) ([]int, bool) {
	list := slices.Clone(base)
	arc := p.arc(side)
	n := len(list)
	if arc == Level {
		if l, _, ok := p.level(list); ok {
			list = l
		}
	} else if arc != NoArc {
		list = p.along(list, arc)
	}
	broken := p.broken(list, side)
	if n > mostRun {
		if broken > 0 {
			list = p.spread(base, side)
			broken = p.broken(list, side)
		}
		return list, broken == 0
	}
	course := p.course(list, arc)
	worth := func(l []int) cost {
		if arc == NoArc {
			return cost{} // an allowed order is all that is asked
		}
		return cost{p.offCourses(l, arc, course), stirs(l)}
	}
	now := worth(list)
	try := make([]int, n)
	better := func() bool {
		b := p.broken(try, side)
		if b > broken || b == broken && arc == NoArc {
			return false
		}
		if w := worth(try); b < broken || w.compare(now) < 0 {
			broken, now = b, w
			return true
		}
		return false
	}
	for pass, won := 0, true; won && pass < 6; pass++ {
		won = false
		for a := range n {
			for b := range n {
				if broken == 0 && arc == NoArc {
					return list, true
				}
				if a == b || broken > 0 && arc == NoArc && pass == 0 && a > b+8 {
					continue
				}
				copy(try, list)
				x := try[a]
				if a < b {
					copy(try[a:b], try[a+1:b+1])
				} else {
					copy(try[b+1:a+1], try[b:a])
				}
				try[b] = x
				if better() {
					won = true
					list, try = try, list
				}
				copy(try, list)
				try[a], try[b] = try[b], try[a]
				if better() {
					won = true
					list, try = try, list
				}
			}
		}
	}
	return list, broken == 0
}

// spread is a first order for a very long side: what must not be on thin tape
// goes first, and the pieces of a group as far apart as their number allows.
func (p *Problem) spread(base []int, side Side) []int {
	list := slices.Clone(base)
	slices.SortStableFunc(list, func(i, j int) int {
		a, b := &p.Pieces[i], &p.Pieces[j]
		return cmp.Or(
			truth(b.Opens != Nothing)-truth(a.Opens != Nothing),
			truth(a.Closes != Nothing)-truth(b.Closes != Nothing),
			truth(b.NotThin)-truth(a.NotThin))
	})
	if p.Apart == 0 {
		return list
	}
	left := map[int][]int{}
	for _, i := range list {
		g := p.Pieces[i].group(0)
		left[g] = append(left[g], i)
	}
	groups := make([]int, 0, len(left))
	for g := range left {
		groups = append(groups, g)
	}
	slices.Sort(groups)
	var out []int
	free := map[int]int{} // where a group may come next
	for len(out) < len(list) {
		pick := -1
		for _, g := range groups {
			if len(left[g]) > 0 && (g == 0 || free[g] <= len(out)) &&
				(pick < 0 || len(left[g]) > len(left[groups[pick]])) {
				pick, _ = slices.BinarySearch(groups, g)
			}
		}
		if pick < 0 {
			return list
		}
		g := groups[pick]
		out = append(out, left[g][0])
		left[g] = left[g][1:]
		free[g] = len(out) + p.Apart
	}
	return out
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}
