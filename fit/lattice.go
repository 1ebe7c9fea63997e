package fit

import (
	"cmp"
	"slices"
)

// mostLattice bounds the choices that lattice looks at: some 50 MB.
const mostLattice = 1 << 20

// alike are pieces that take each other's place: same length, gap and songs,
// bound to the same places.
type alike struct {
	list        []int // pieces
	length, gap Millis
	songs       int
	held        bool
	bars        [2]bool // sides that they may not be on
	step        int     // what one more adds to the number of a choice
}

// kinds parts pieces into those alike, the most numerous first; ok is false
// where these leave too many choices.
func (b *board) alikes(pieces []int, most int) (all []alike, choices int, ok bool) {
	type key struct {
		length, gap Millis
		songs       int
		held        bool
		bars        [2]bool
	}
	index := map[key]int{}
	for _, i := range pieces {
		q := &b.p.Pieces[i]
		k := key{q.Length, q.Gap, q.songs(), b.held[i], [2]bool{}}
		for s := range b.sides {
			k.bars[s] = !b.p.allowed([]int{i}, s+1) || !b.ends([]int{i}, s)
		}
		at, seen := index[k]
		if !seen {
			at = len(all)
			index[k] = at
			all = append(all, alike{nil, k.length, k.gap, k.songs, k.held, k.bars, 0})
		}
		all[at].list = append(all[at].list, i)
	}
	choices = 1
	for k := range all {
		all[k].step = choices
		if choices *= len(all[k].list) + 1; choices > most {
			return nil, 0, false
		}
	}
	return all, choices, true
}

// lattice looks at every choice for one side and, for each, at the best of what
// it leaves for the other: the best of all choices within each is found by
// adding one piece at a time (F. Yates, The design and analysis of factorial
// experiments, 1937). Of pieces that are alike only the number counts, so that
// long lists of few lengths have few choices, too. What is kept is then the best
// there is, blank tape too; it is not done where there are more choices than most.
func (b *board) lattice(pieces []int, most int) bool {
	if len(b.sides) > 2 || b.rules {
		return false
	}
	all, size, ok := b.alikes(pieces, most)
	if work := int64(size) * int64(len(all)+2) / 300; !ok || work > b.e.left/2 || !b.e.spend(work) {
		return false
	}
	var total Share
	held := 0
	for _, a := range all {
		total.Songs += a.songs * len(a.list)
		total.Time += a.length * Millis(len(a.list))
		held += truth(a.held) * len(a.list)
	}
	w := b.p.worth(total)
	m := len(b.sides)
	// What a choice is worth on a side: the pieces that must be there first. Of
	// the two sides what is best for each adds up.
	type value struct {
		held  int32
		ok    bool
		from  int32 // the choice itself
		worth int64
		blank Blank
	}
	better := func(x, y *value) bool {
		if !x.ok || !y.ok {
			return x.ok
		}
		return cmp.Or(cmp.Compare(x.held, y.held), cmp.Compare(x.worth, y.worth), y.blank.compare(x.blank)) > 0
	}
	count := make([]int, len(all))
	each := func(f func(choice int, used, widest Millis, v value)) {
		clear(count)
		var used Millis
		v := value{}
		n := 0
		for choice := range size {
			widest, first := Millis(0), true
			for k, c := range count {
				if c > 0 && (first || all[k].gap > widest) {
					widest, first = all[k].gap, false
				}
			}
			v.from = int32(choice)
			f(choice, used-widest, widest, v)
			for k := range all { // the next choice
				a := &all[k]
				c := Millis(1)
				if count[k]++; count[k] > len(a.list) {
					c = -Millis(len(a.list))
					count[k] = 0
				}
				used += c * (a.length + a.gap)
				v.worth += int64(c) * w.of(Share{a.songs, a.length})
				v.held += int32(c) * int32(truth(a.held))
				n += int(c)
				if c > 0 {
					break
				}
			}
		}
	}
	on := func(s int, used Millis, v value) value {
		v.ok = used <= b.sides[s].Capacity
		for k, c := range count {
			v.ok = v.ok && (c == 0 || !all[k].bars[s])
		}
		v.blank = b.p.Spare.blank(s, m, b.sides[s].Capacity-used)
		return v
	}
	second := make([]value, 1)
	second[0].ok = true
	if m == 2 {
		second = make([]value, size)
		each(func(choice int, used, _ Millis, v value) { second[choice] = on(1, used, v) })
		for k := range all {
			a := &all[k]
			span := a.step * (len(a.list) + 1)
			for choice := range size {
				if choice%span >= a.step { // one of these more than
					if x := &second[choice-a.step]; better(x, &second[choice]) {
						second[choice] = *x
					}
				}
			}
		}
	}
	var best value
	top, other := 0, 0
	each(func(choice int, used, _ Millis, v value) {
		x := on(0, used, v)
		if !x.ok {
			return
		}
		y := &second[0]
		if m == 2 {
			y = &second[size-1-choice]
		}
		if !y.ok {
			return
		}
		x.held, x.worth, x.blank = x.held+y.held, x.worth+y.worth, x.blank.plus(y.blank)
		if better(&x, &best) {
			best, top, other = x, choice, int(y.from)
		}
	})
	if !best.ok || int(best.held) < held {
		return false
	}
	b.out = nil
	b.sets = make([][]int, m)
	for _, a := range all {
		x := top / a.step % (len(a.list) + 1)
		y := other / a.step % (len(a.list) + 1)
		b.sets[0] = append(b.sets[0], a.list[:x]...)
		if m == 2 {
			b.sets[1] = append(b.sets[1], a.list[x:x+y]...)
		}
		b.out = append(b.out, a.list[x+y:]...)
	}
	for s := range b.sets {
		slices.Sort(b.sets[s])
		if !b.fits(b.sets[s], s) {
			return false
		}
	}
	slices.Sort(b.out)
	b.sure = true
	return true
}
