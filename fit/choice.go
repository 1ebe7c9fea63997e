package fit

import "slices"

// slot is a piece that may go on one side after those before it in the list.
type slot struct {
	value               int64 // what it is worth, 0 or more
	length, step        int64 // from its start: when it ends, and when the next may start
	limit               int64 // when it must have ended, from the start of the side
	must, opens, closes bool
}

// choice is the best choice of slots for one side that was found.
type choice struct {
	value int64
	list  []int // numbers of the slots, ascending
	ok    bool  // all that must be there is
	exact bool  // there is no better one
}

// choose finds the best choice of slots, in their order, that keeps to their
// limits. The list is halved, each half has its frontier, and the best partner of
// each choice of one is found by walking both (E. Horowitz and S. Sahni,
// Journal of the ACM 21, 1974). A frontier of more than most choices passes
// over open slots.
func choose(slots []slot, most int) (best choice, work int64) {
	open, first, last := 0, len(slots), -1 // first and last that must be there
	for k, x := range slots {
		if x.must {
			first, last = min(first, k), k
		} else {
			open++
		}
	}
	h := 0 // as many open ones on either side
	for left := open / 2; h < len(slots) && (left > 0 || slots[h].must); h++ {
		left -= truth(!slots[h].must)
	}
	end := pairing{a: -1, b: -1, ok: last < 0}
	none := []partial{{node: -1}}
	a := frontier{most: most, list: none, begin: none}
	for k, x := range slots[:h] {
		a.follow(x, k, k >= last, &end)
	}
	b := frontier{most: most}
	for k := len(slots) - 1; k >= h; k-- {
		b.precede(slots[k], k, k <= first, k >= last, &end)
	}
	at := len(b.list) - 1
	for _, x := range a.list {
		for at >= 0 && b.list[at].at < x.at {
			at--
		}
		if at < 0 {
			break
		}
		end.offer(x.value+b.list[at].value, x.node, b.list[at].node)
	}
	best = choice{value: end.value, ok: end.ok, exact: !a.cut && !b.cut}
	best.list = a.trail(end.a)
	slices.Reverse(best.list)
	best.list = append(best.list, b.trail(end.b)...)
	return best, a.work + b.work + int64(len(a.list)+len(b.list))
}

// pairing is the best of the whole choices so far: one of each half.
type pairing struct {
	value int64
	a, b  int32 // their nodes; -1: none
	ok    bool
}

func (e *pairing) offer(value int64, a, b int32) {
	if !e.ok || value > e.value {
		*e = pairing{value, a, b, true}
	}
}

// frontier is the choices from one half of a list of which no other is both
// shorter and worth as much (the dominance of G. L. Nemhauser and Z. Ullmann,
// Management Science 15, 1969). In the first half at is when the next piece may
// start, ascending; in the second the latest start, descending, of choices with
// a piece. Their worth ascends either way.
type frontier struct {
	list, old []partial
	with      []partial
	begin     []partial // nothing chosen yet
	must      bool      // a slot that must be there has been
	nodes     []node
	most      int
	cut       bool // slots were passed over
	work      int64
}

// partial is a choice from one half.
type partial struct {
	at, value int64
	node      int32
}

// node links the slots of a choice.
type node struct{ slot, next int32 }

func (f *frontier) node(slot int, next int32) int32 {
	f.nodes = append(f.nodes, node{int32(slot), next})
	return int32(len(f.nodes) - 1)
}

// trail lists the slots of a choice from the one added last.
func (f *frontier) trail(at int32) (list []int) {
	for ; at >= 0; at = f.nodes[at].next {
		list = append(list, int(f.nodes[at].slot))
	}
	return list
}

// follow adds a slot to the first half, behind what is chosen. No slot that
// must be there comes after it where end is true.
func (f *frontier) follow(x slot, k int, end bool, best *pairing) {
	if len(f.list) > f.most && !x.must {
		f.cut = true
		return
	}
	f.with = f.with[:0]
	before := f.list
	if x.opens {
		if before = f.begin; f.must {
			before = nil
		}
	}
	for _, p := range before {
		if p.at+x.length > x.limit {
			break
		}
		f.with = append(f.with, partial{p.at + x.step, p.value + x.value, f.node(k, p.node)})
	}
	f.must = f.must || x.must
	if n := len(f.with); n > 0 && end {
		best.offer(f.with[n-1].value, f.with[n-1].node, -1)
	}
	if x.closes {
		f.with = f.with[:0]
	}
	f.take(x.must, true)
}

// precede adds a slot to the second half, before what is chosen. No slot that
// must be there comes before it where begin is true, none after where end is.
func (f *frontier) precede(x slot, k int, begin, end bool, best *pairing) {
	if len(f.list) > f.most && !x.must {
		f.cut = true
		return
	}
	f.with = f.with[:0]
	latest := x.limit - x.length
	if end && latest >= 0 {
		f.with = append(f.with, partial{latest, x.value, f.node(k, -1)})
	}
	for _, p := range f.list {
		at := min(p.at-x.step, latest)
		if x.closes || at < 0 {
			break
		}
		f.with = append(f.with, partial{at, p.value + x.value, f.node(k, p.node)})
	}
	if n := len(f.with); x.opens {
		if n > 0 && begin {
			best.offer(f.with[n-1].value, -1, f.with[n-1].node)
		}
		f.with = f.with[:0]
	}
	f.take(x.must, false)
}

// take makes the list of what is in with and, unless that must be, in the list.
func (f *frontier) take(must, ascending bool) {
	a, b := f.list, f.with
	if must {
		a = nil
	}
	out := f.old[:0]
	for len(a) > 0 || len(b) > 0 {
		var p partial
		switch {
		case len(b) == 0, len(a) > 0 && (a[0].at == b[0].at && a[0].value >= b[0].value ||
			a[0].at != b[0].at && a[0].at < b[0].at == ascending):
			p, a = a[0], a[1:]
		default:
			p, b = b[0], b[1:]
		}
		if n := len(out); n == 0 || p.value > out[n-1].value {
			out = append(out, p)
		}
	}
	f.work += int64(len(out)) + 1
	f.old, f.list = f.list[:0], out
}
