package fit

import (
	"cmp"
	"math"
	"slices"
)

// parts is a list whose order is given and a row of sides that cannot hold all
// of it. Each side takes the best choice from a stretch of the list; which
// stretches, is dynamic programming over places in the list. The choice from a
// stretch is dear to find and a bound on it is cheap, so that only those are
// looked at that can still be part of the best answer, the most promising
// first (lazy search; C. M. Dellin and S. S. Srinivasa, ICAPS 2016).
type parts struct {
	p      *Problem
	e      *effort
	items  []item
	width  int // the longest stretch that is looked at; of longer ones there is a bound
	tables map[view]*table
	most   int // choices that a frontier keeps
	worth  worth
	even   bool // blank tape depends only on what a side keeps
	fades  bool // pieces may be faded
	pinned bool
	// Of the first k items: those that must be there, and their lengths.
	musts []int
	fixed []int64
}

// item is a piece of parts.
type item struct {
	index int // of the piece in the problem
	must  bool
}

// view is all of a side that a choice depends on.
type view struct {
	capacity, thin Millis
	number         int // where pieces are pinned
}

// table is what is known of every stretch for one view of a side.
type table struct {
	view view
	all  int64 // bound on any stretch
	cell []stretch
}

// stretch is what a side can take from one.
type stretch struct {
	most, found int64 // a bound on the worth, and what was found; nothing: no choice
	looked      bool
	frontier    int32 // with which it was found
}

const nothing = math.MinInt64 / 4

// worth makes a single number of a share, such that a greater number is a
// better share.
type worth struct{ time, piece int64 }

func (p *Problem) worth(all Share) worth {
	if p.Aim == FewestLeftOut {
		return worth{1, int64(all.Time) + 1}
	}
	return worth{int64(all.Pieces) + 1, -1}
}

func (w worth) of(s Share) int64 { return w.time*int64(s.Time) + w.piece*int64(s.Pieces) }

// share is the share of the worth v, or the nearest above it.
func (w worth) share(v int64) Share {
	if w.time == 1 {
		return Share{int(v / w.piece), Millis(v % w.piece)}
	}
	t := (v + w.time - 1) / w.time
	return Share{int(t*w.time - v), Millis(t)}
}

// How many choices a frontier keeps at first, and at the most: 50 MB.
const (
	firstFrontier = 1 << 12
	lastFrontier  = 1 << 18
)

// newParts looks at the wanted pieces of a list, or at the reserves of a rank,
// beside others that stay. exact is false where there are rules that it does
// not know; what it finds is then a bound. It gives nil where it cannot tell.
func newParts(e *effort, p *Problem, stays []bool, rank int) (t *parts, exact bool) {
	t = &parts{p: p, e: e, most: firstFrontier, tables: map[view]*table{}, musts: []int{0}, fixed: []int64{0}}
	exact = true
	var all Share
	_, t.even = leastGap(p.Pieces)
	t.fades = rank == 0 && p.mayFade() // nothing is faded for a reserve
	if t.fades && p.hides() {
		return nil, false
	}
	from, to := p.within()
	for i, q := range p.Pieces {
		if stays[i] && (i < from || i >= to) {
			return nil, false
		}
		if i < from || i >= to || !stays[i] && q.Reserve != rank {
			continue
		}
		if !stays[i] {
			all.Pieces++
			all.Time += q.Length
		}
		// What opens or closes everything does so by its place in the list.
		exact = exact && (q.Opens != OfAll || q.Must && i == from) && (q.Closes != OfAll || q.Must && i == to-1)
		t.pinned = t.pinned || q.Side > 0
		t.items = append(t.items, item{i, stays[i]})
		k := len(t.musts) - 1
		t.musts = append(t.musts, t.musts[k]+truth(stays[i]))
		t.fixed = append(t.fixed, t.fixed[k]+truth64(stays[i])*int64(q.Length))
	}
	t.worth = p.worth(all)
	for _, q := range p.Pieces {
		exact = exact && !(t.fades && q.NotThin) // whether it ends in time is told without fading
	}
	return t, exact
}

// mostStretches bounds the memory of all tables: some 50 MB.
const mostStretches = 2_000_000

// narrow sets the width to what there is memory and effort for; ok is false
// where that is too little.
func (t *parts) narrow(sides int) bool {
	n := int64(len(t.items))
	views := int64(2)
	if t.pinned {
		views = int64(sides)
	}
	w := min(n, mostStretches/(views*(n+1)), t.e.left*2/(int64(sides)*n+1))
	t.width = int(w)
	return w == n || w > n/int64(sides)+8
}

// table gives what is known for a side of this number.
func (t *parts) table(side Side, number int) *table {
	v := view{capacity: side.Capacity, thin: side.ThinFrom}
	if t.pinned {
		v.number = number
	}
	if t.tables[v] == nil {
		t.tables[v] = t.newTable(v)
	}
	return t.tables[v]
}

func (t *parts) newTable(v view) *table {
	n := len(t.items)
	x := &table{view: v, cell: make([]stretch, (n+1)*(t.width+1))}
	b := roomBound{t: t, v: v}
	for i := range n + 1 {
		b.reset()
		for j := i; j <= min(n, i+t.width); j++ {
			if j > i {
				b.add(t.items[j-1])
			}
			most, _ := b.most()
			*t.at(x, i, j) = stretch{most: most, found: nothing}
		}
	}
	t.e.spend(int64(n) * int64(t.width) * int64(t.width+20) / 1000)
	b.reset()
	for _, it := range t.items {
		it.must = false
		b.add(it)
	}
	x.all, _ = b.most()
	return x
}

func (t *parts) at(x *table, i, j int) *stretch { return &x.cell[i*(t.width+1)+j-i] }

// roomBound bounds the worth of a choice from some items for one side: for each
// number of pieces the longest of them, but no more than there is room for.
type roomBound struct {
	t     *parts
	v     view
	long  []int64 // lengths of open items, descending
	short []int64 // and as short as they can be made, ascending
	fades []int64 // by how much, of all, descending
	gaps  []int64 // of all, ascending
	must  int
	fixed int64 // the lengths of what must be there
}

func (b *roomBound) reset() {
	b.must, b.fixed, b.long, b.short, b.fades, b.gaps = 0, 0, b.long[:0], b.short[:0], b.fades[:0], b.gaps[:0]
}

// off tells whether a piece cannot be on a side.
func (t *parts) off(v view, q *Piece) bool {
	return v.number > 0 && q.Side > 0 && q.Side != v.number || t.least(q) > int64(v.limit(q))
}

// least is the length of a piece, faded as far as it may be.
func (t *parts) least(q *Piece) int64 {
	if t.fades {
		return int64(q.Length - q.Fade)
	}
	return int64(q.Length)
}

// limit is by when a piece must have ended.
func (v view) limit(q *Piece) Millis {
	if q.NotThin && v.thin > 0 {
		return min(v.capacity, v.thin)
	}
	return v.capacity
}

func (b *roomBound) add(x item) {
	q := &b.t.p.Pieces[x.index]
	off := b.t.off(b.v, q)
	switch {
	case x.must && off:
		b.fixed += int64(Longest) << 16 // never fits
	case off:
		return
	case x.must:
		b.fixed += b.t.least(q)
	default:
		b.long = insert(b.long, int64(q.Length), -1)
		if b.t.fades {
			b.short = insert(b.short, b.t.least(q), 1)
			b.fades = insert(b.fades, int64(q.Fade), -1)
		}
	}
	b.must += truth(x.must)
	b.gaps = insert(b.gaps, int64(q.Gap), 1)
}

// insert keeps a list in order, ascending or descending by sign.
func insert(list []int64, v int64, sign int) []int64 {
	k, _ := slices.BinarySearchFunc(list, v, func(a, b int64) int { return sign * cmp.Compare(a, b) })
	return slices.Insert(list, k, v)
}

// most is the bound and the number of open pieces that it is for; nothing
// where what must be there does not fit.
func (b *roomBound) most() (most int64, pieces int) {
	most = nothing
	room := int64(b.v.capacity) - b.fixed
	for k := range max(0, b.must-1) {
		room -= b.gaps[k]
	}
	var short, long, fades int64
	for k := 0; ; k++ {
		if short <= room {
			if v := b.t.worth.of(Share{k, Millis(min(long, room+fades))}); v > most {
				most, pieces = v, k
			}
		}
		if k == len(b.long) {
			return
		}
		if k+b.must > 0 { // the last piece gives its gap back
			room -= b.gaps[k+b.must-1]
		}
		if b.t.fades {
			short += b.short[k]
			fades += b.fades[k]
		} else {
			short += b.long[len(b.long)-1-k]
		}
		long += b.long[k]
	}
}

// mostOpenSlots is how many open pieces are looked at all together; of more,
// first so many around those that decide.
const mostOpenSlots = 28

// look finds the best choice from a stretch for one side, with frontiers of so
// many. Pieces of a group that come too near each other are put apart by
// branching: one of the two is left out, or a piece between them is there
// (branch and bound, the most promising first).
func (t *parts) look(x *table, i, j, frontier int) (best choice) {
	type branch struct {
		choice
		in, out []int // items that must be there, or may not
	}
	var open []branch
	add := func(in, out []int) {
		open = append(open, branch{t.lookAt(x, i, j, frontier, in, out), in, out})
	}
	add(nil, nil)
	best.exact = true
	for tries := 0; len(open) > 0; tries++ {
		k := 0
		for l, b := range open {
			if b.ok && (!open[k].ok || b.value > open[k].value) {
				k = l
			}
		}
		b := open[k]
		open = slices.Delete(open, k, k+1)
		best.exact = best.exact && b.exact
		if !b.ok || best.ok && b.value <= best.value {
			continue
		}
		near, far, crowded := t.tooNear(b.list)
		if !crowded {
			best.value, best.list, best.ok = b.value, b.list, true
			continue
		}
		if tries > mostBranches {
			best.exact = false
			return best
		}
		if !t.stays(near) {
			add(b.in, append(slices.Clone(b.out), near))
		}
		in := append(slices.Clone(b.in), near)
		if !t.stays(far) {
			add(in, append(slices.Clone(b.out), far))
		}
		in = append(in, far)
		out := b.out
		for _, it := range t.items[i:j] {
			if c := it.index; c > near && c < far && !it.must && !slices.Contains(b.list, c) && !slices.Contains(out, c) {
				add(append(slices.Clone(in), c), out)
				out = append(slices.Clone(out), c)
			}
		}
	}
	return best
}

// mostBranches is how many choices are tried for one stretch to keep groups apart.
const mostBranches = 40

// tooNear gives two pieces of a group that are too near each other on a side.
func (t *parts) tooNear(list []int) (near, far int, found bool) {
	for k, i := range list {
		g := t.p.Pieces[i].Group
		for back := k - 1; g != 0 && back >= 0 && k-back <= t.p.Apart; back-- {
			if t.p.Pieces[list[back]].Group == g {
				return list[back], i, true
			}
		}
	}
	return 0, 0, false
}

func (t *parts) stays(i int) bool {
	k, _ := slices.BinarySearchFunc(t.items, i, func(it item, i int) int { return it.index - i })
	return t.items[k].must
}

// lookAt finds the best choice from a stretch, with some pieces and without some.
func (t *parts) lookAt(x *table, i, j, frontier int, in, out []int) choice {
	b := roomBound{t: t, v: x.view}
	var slots []slot
	var index []int // of slots in the problem
	var open []int  // slots
	for _, it := range t.items[i:j] {
		q := &t.p.Pieces[it.index]
		b.add(it)
		must := it.must || slices.Contains(in, it.index)
		if t.off(x.view, q) {
			if must {
				return choice{exact: true}
			}
			continue
		}
		if slices.Contains(out, it.index) {
			continue
		}
		s := slot{length: t.least(q), step: t.least(q) + int64(q.Gap), limit: int64(x.view.limit(q)),
			must: must, opens: q.Opens == OfSide, closes: q.Closes == OfSide}
		if !it.must {
			s.value = t.worth.of(Share{1, q.Length})
		}
		if !must {
			open = append(open, len(slots))
		}
		slots = append(slots, s)
		index = append(index, it.index)
	}
	c := t.core(slots, open, &b)
	if !c.exact {
		all, work := choose(slots, frontier)
		t.e.spend(1 + work/50)
		if c.ok && (!all.ok || c.value > all.value) {
			all.value, all.list, all.ok = c.value, c.list, true
		}
		c = all
	}
	for k, s := range c.list {
		c.list[k] = index[s]
	}
	return c
}

// core looks at the open slots around those that decide, where there are many:
// of the others the longest are all taken and the shortest left out, or the
// other way round (the core of a knapsack; E. Balas and E. Zemel, Operations
// Research 28, 1980). It is exact where that reaches the bound.
func (t *parts) core(slots []slot, open []int, b *roomBound) (c choice) {
	if len(open) <= mostOpenSlots {
		return c
	}
	most, pieces := b.most()
	slices.SortStableFunc(open, func(k, l int) int {
		if t.p.Aim == FewestLeftOut {
			k, l = l, k
		}
		return cmp.Compare(slots[l].length, slots[k].length)
	})
	rank := make([]int, len(slots))
	for r, k := range open {
		rank[k] = r - pieces
	}
	var few []slot
	var number []int
	for k, s := range slots {
		if s.must || rank[k] < mostOpenSlots/2 {
			s.must = s.must || rank[k] < -mostOpenSlots/2
			few = append(few, s)
			number = append(number, k)
		}
	}
	c, work := choose(few, firstFrontier)
	t.e.spend(1 + work/50)
	for k, s := range c.list {
		c.list[k] = number[s]
	}
	c.exact = c.ok && c.value == most
	return c
}

// try looks at a stretch and keeps what it is worth.
func (t *parts) try(x *table, i, j int) {
	s := t.at(x, i, j)
	s.looked = true
	c := t.look(x, i, j, t.most)
	if c.ok && c.value > s.found {
		s.found, s.frontier = c.value, int32(t.most)
	}
	if c.exact {
		s.most = s.found
	}
}

// measure says by what a walk goes.
type measure int

const (
	byFound measure = iota // by what was found
	byBound                // by the bound on it
	byAll                  // and on stretches that are longer than the width
)

// walk gives for each number of sides the most that they can keep of the first
// j items.
func (t *parts) walk(row []*table, by measure) [][]int64 {
	n := len(t.items)
	best := [][]int64{make([]int64, n+1)}
	for j := range n {
		best[0][j+1] = nothing
	}
	for s, x := range row {
		now := make([]int64, n+1)
		far := int64(nothing) // the best that begins farther back than the width
		for j := range now {
			most := int64(nothing)
			if i := j - t.width - 1; i >= 0 && by == byAll {
				far = max(far, best[s][i])
				most = far + x.all
			}
			for i := max(0, j-t.width); i <= j; i++ {
				c := t.at(x, i, j)
				v := c.found
				if by != byFound {
					v = c.most
				}
				most = max(most, best[s][i]+v)
			}
			now[j] = orNothing(most)
		}
		best = append(best, now)
	}
	return best
}

func orNothing(v int64) int64 {
	if v < nothing/2 {
		return nothing
	}
	return v
}

// rest gives, for each number of sides gone by, a bound on what the others can
// keep of the items from i on.
func (t *parts) rest(row []*table) [][]int64 {
	n, m := len(t.items), len(row)
	best := make([][]int64, m+1)
	best[m] = slices.Repeat([]int64{nothing}, n+1)
	best[m][n] = 0
	for s := m - 1; s >= 0; s-- {
		x := row[s]
		best[s] = make([]int64, n+1)
		far := int64(nothing)
		for i := n; i >= 0; i-- {
			most := int64(nothing)
			if j := i + t.width + 1; j <= n {
				far = max(far, best[s+1][j])
				most = far + x.all
			}
			for j := i; j <= min(n, i+t.width); j++ {
				most = max(most, t.at(x, i, j).most+best[s+1][j])
			}
			best[s][i] = orNothing(most)
		}
	}
	return best
}

// doubt is a stretch that was not looked at and may be part of the best answer.
type doubt struct {
	most int64 // bound on the whole answer
	x    *table
	i, j int
}

// doubts lists the stretches that an answer as good as this may have.
func (t *parts) doubts(row []*table, ahead, back [][]int64, floor int64) (list []doubt) {
	n := len(t.items)
	sides := map[*table][]int{}
	for s, x := range row {
		sides[x] = append(sides[x], s)
	}
	for s, x := range row {
		if sides[x][0] != s {
			continue
		}
		for i := range n + 1 {
			for j := i; j <= min(n, i+t.width); j++ {
				c := t.at(x, i, j)
				if c.looked || c.most <= nothing {
					continue
				}
				most := int64(nothing)
				for _, s := range sides[x] {
					most = max(most, ahead[s][i]+back[s+1][j])
				}
				if most += c.most; most >= floor && most > nothing/2 {
					list = append(list, doubt{most, x, i, j})
				}
			}
		}
	}
	return list
}

// settle looks at stretches until it is known what the sides can keep, or the
// effort is spent. It gives what was found and a bound; final says that no
// stretch is left that could do as well. What is worse than floor is not asked
// for.
func (t *parts) settle(row []*table, floor int64) (found, bound int64, final bool) {
	n, m := len(t.items), len(row)
	pass := t.pass(m)
	tied := int64(-1) // the effort left when only ties were left
	for {
		near := t.walk(row, byBound)
		ahead := near
		if t.width < n {
			ahead = t.walk(row, byAll)
		}
		found, bound = t.walk(row, byFound)[m][n], ahead[m][n]
		floor = max(floor, found)
		open := t.doubts(row, ahead, t.rest(row), floor)
		if !t.e.spend(1+pass) || len(open) == 0 && (bound <= floor || t.most == lastFrontier) {
			return found, bound, len(open) == 0 && bound <= floor
		}
		if len(open) == 0 { // what was passed over matters
			t.most *= 8
			for _, x := range t.tables {
				for k := range x.cell {
					c := &x.cell[k]
					c.looked = c.looked && c.found == c.most
				}
			}
			continue
		}
		if found == bound {
			if tied < 0 {
				tied = t.e.left
			}
			if t.e.left < tied*3/4 {
				return found, bound, false
			}
		}
		// Of those as promising, the ones of usual length first.
		usual := n / m
		slices.SortStableFunc(open, func(a, b doubt) int {
			return cmp.Or(cmp.Compare(b.most, a.most),
				cmp.Compare(distance(int64(a.j-a.i), int64(usual)), distance(int64(b.j-b.i), int64(usual))))
		})
		stop := t.e.left - max(pass, 200)
		for _, d := range append(t.path(row, near), open...) {
			if t.e.left < stop {
				break
			}
			if !t.at(d.x, d.i, d.j).looked {
				t.try(d.x, d.i, d.j)
			}
		}
	}
}

// path lists the stretches of an answer that is as good as the bound.
func (t *parts) path(row []*table, ahead [][]int64) (list []doubt) {
	j := len(t.items)
	for s := len(row) - 1; s >= 0; s-- {
		i := j
		for ; i >= max(0, j-t.width); i-- {
			if c := t.at(row[s], i, j); ahead[s][i]+c.most == ahead[s+1][j] {
				list = append(list, doubt{0, row[s], i, j})
				break
			}
		}
		if j = i; j < 0 {
			break
		}
	}
	return list
}

// pass is what a walk over the stretches costs, there and back.
func (t *parts) pass(sides int) int64 {
	return int64(sides) * int64(len(t.items)) * int64(t.width) / 70
}

// used is the time taken on a side by what was found for a stretch.
func (t *parts) used(c *stretch, i, j int) Millis {
	s := t.worth.share(c.found)
	n := s.Pieces + t.musts[j] - t.musts[i]
	gap, _ := leastGap(t.p.Pieces)
	return s.Time + Millis(t.fixed[j]-t.fixed[i]) + Millis(gap*int64(max(0, n-1)))
}

// cut chooses the stretches that keep this much on a row of sides, with the
// least faded and then with blank tape best placed.
func (t *parts) cut(row []*table, sides []Side, want int64) (cuts []int, faded Millis, ok bool) {
	type cell struct {
		worth int64
		faded Millis
		blank Blank
		from  int
	}
	n, m := len(t.items), len(row)
	table := [][]cell{slices.Repeat([]cell{{worth: nothing}}, n+1)}
	table[0][0].worth = 0
	for s, x := range row {
		now := slices.Repeat([]cell{{worth: nothing}}, n+1)
		for j := range now {
			for i := max(0, j-t.width); i <= j; i++ {
				c, b := t.at(x, i, j), &table[s][i]
				if b.worth <= nothing || c.found <= nothing || b.worth+c.found < now[j].worth {
					continue
				}
				left := sides[s].Capacity - t.used(c, i, j)
				z := cell{b.worth + c.found, b.faded - min(0, left), b.blank.plus(t.p.Spare.blank(s, m, max(0, left))), i}
				if y := &now[j]; z.worth > y.worth || cmp.Or(cmp.Compare(z.faded, y.faded), z.blank.compare(y.blank)) < 0 {
					*y = z
				}
			}
		}
		table = append(table, now)
	}
	if table[m][n].worth != want {
		return nil, 0, false
	}
	cuts = make([]int, m+1)
	cuts[m] = n
	for s := m; s > 0; s-- {
		cuts[s-1] = table[s][cuts[s]].from
	}
	return cuts, table[m][n].faded, true
}

// choice lists the pieces that make up what was found for a stretch.
func (t *parts) choice(x *table, i, j int) []int {
	for want := t.at(x, i, j).found; i < j; {
		if c := t.at(x, i+1, j); !t.items[i].must && c.found == want {
			i++
		} else if c := t.at(x, i, j-1); !t.items[j-1].must && c.found == want {
			j--
		} else {
			break
		}
	}
	return t.look(x, i, j, int(t.at(x, i, j).frontier)).list
}
