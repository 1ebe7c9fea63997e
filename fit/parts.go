package fit

import (
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
	gap    int64 // the least
	even   bool  // blank tape depends only on what a side keeps
	fades  bool  // pieces may be faded
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
	pieces      int32 // of what was found, those that must be there aside
}

const nothing = math.MinInt64 / 4

// worth makes a single number of a share, such that a greater number is a
// better share.
type worth struct{ time, piece int64 }

func (p *Problem) worth(all Share) worth {
	if p.Aim == MostSongs {
		return worth{1, int64(all.Time) + 1}
	}
	return worth{int64(all.Songs) + 1, 1}
}

func (w worth) of(s Share) int64 { return w.time*int64(s.Time) + w.piece*int64(s.Songs) }

// share is the share of the worth v.
func (w worth) share(v int64) Share {
	if w.time == 1 {
		return Share{int(v / w.piece), Millis(v % w.piece)}
	}
	return Share{int(v % w.time), Millis(v / w.time)}
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
	t.gap, t.even = leastGap(p.Pieces)
	t.fades = rank == 0 && p.mayFade() // nothing is faded for a reserve
	exact = !p.tight()
	from, to := p.within()
	for i, q := range p.Pieces {
		if stays[i] && (i < from || i >= to) {
			return nil, false
		}
		if i < from || i >= to || !stays[i] && q.Reserve != rank {
			continue
		}
		if !stays[i] {
			all.Songs += q.songs()
			all.Time += q.Length
		}
		// What opens or closes everything does so by its place in the list.
		exact = exact && (q.Opens != OfAll || q.Must && i == from) && (q.Closes != OfAll || q.Must && i == to-1)
		t.pinned = t.pinned || q.Side > 0
		t.add(item{i, stays[i]})
	}
	t.worth = p.worth(all)
	if p.Apart > 0 {
		for _, k := range p.Given {
			for _, side := range p.Kinds[k].Sides {
				exact = exact && side.Begun == 0 // what is on it already it does not know
			}
		}
	}
	for _, q := range p.Pieces {
		exact = exact && !(t.fades && q.NotThin) // whether it ends in time is told without fading
	}
	return t, exact
}

func (t *parts) add(x item) {
	k := len(t.items)
	t.items = append(t.items, x)
	t.musts = append(t.musts, t.musts[k]+truth(x.must))
	t.fixed = append(t.fixed, t.fixed[k]+truth64(x.must)*int64(t.p.Pieces[x.index].Length))
}

// thin leaves the longest of a long list, or the shortest where their number
// counts; ok is false where these would not be half as much again as there is
// room for. What is found is then no bound.
func (t *parts) thin(sides []Side) (ok bool) {
	var open []int64
	for _, x := range t.items {
		if !x.must {
			open = append(open, int64(t.p.Pieces[x.index].Length))
		}
	}
	slices.Sort(open)
	if t.p.Aim == MostTime {
		slices.Reverse(open)
	}
	most := min(max(200, 60*len(sides)), 1000)
	if len(open) <= most {
		return false
	}
	var room int64
	for _, s := range sides {
		room += int64(s.Capacity)
	}
	for _, l := range open[:most] {
		room -= l - l/3
	}
	if room > 0 {
		return false
	}
	edge := open[most-1]
	all := t.items
	t.items, t.musts, t.fixed = nil, t.musts[:1:1], t.fixed[:1:1]
	left := most
	for _, x := range all {
		l := int64(t.p.Pieces[x.index].Length)
		keep := l == edge || (l > edge) == (t.p.Aim == MostTime)
		if x.must || keep && left > 0 {
			left -= truth(!x.must)
			t.add(x)
		}
	}
	return t.narrow(sides)
}

// mostStretches bounds the memory of all tables: some 50 MB.
const mostStretches = 2_000_000

// narrow sets the width to what there is memory and effort for; ok is false
// where that is too little.
func (t *parts) narrow(sides []Side) bool {
	n, m := int64(len(t.items)), int64(len(sides))
	views := map[view]bool{}
	for s, side := range sides {
		views[t.view(side, s+1)] = true
	}
	w := min(n, mostStretches/(int64(len(views))*(n+1)), t.e.left*2/(m*n+1))
	t.width = int(w)
	return (w == n || w > n/m+8) && n*w*w/1000 < t.e.left/4
}

func (t *parts) view(side Side, number int) view {
	v := view{capacity: side.Capacity, thin: side.ThinFrom}
	if t.pinned {
		v.number = number
	}
	return v
}

// table gives what is known for a side of this number.
func (t *parts) table(side Side, number int) *table {
	v := t.view(side, number)
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
