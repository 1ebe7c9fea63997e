package fit

import "math/bits"

// counted is, for each number of pieces, the set of playing times that so many
// of the pieces added can have while they fit one side: dynamic programming
// over sums (R. Bellman, Dynamic Programming, 1957) with a row a number, since
// every piece more costs one gap more.
type counted struct {
	rows  []sums
	limit []int64 // of playing time, by number of pieces
}

// newCounted makes the table for a side, for up to so many pieces. All times
// are in the same unit, gaps too.
func newCounted(capacity, gap int64, pieces int) *counted {
	t := &counted{}
	top := int64(0)
	for c := range pieces + 1 {
		l := int64(0)
		if c > 0 {
			l = capacity - gap*int64(c-1)
		}
		if l < 0 {
			break
		}
		t.limit = append(t.limit, l)
		top = max(top, l)
	}
	for range t.limit {
		t.rows = append(t.rows, newSums(top))
	}
	if len(t.rows) > 0 {
		t.rows[0][0] = 1
	}
	return t
}

// words is the size of such a table.
func countedWords(capacity, gap int64, pieces int) int64 {
	if capacity < 0 {
		return 0
	}
	top := capacity
	if gap < 0 {
		top -= gap * int64(pieces)
	}
	return (top/64 + 1) * int64(pieces+1)
}

// add brings in one more piece, which may be left out or must be there.
func (t *counted) add(v int64, must bool) {
	for c := len(t.rows) - 1; c >= 0; c-- {
		if must {
			clear(t.rows[c])
		}
		if c > 0 {
			t.rows[c].orShifted(t.rows[c-1], v)
		}
	}
}

// best is the best share in the table, if it holds any.
func (t *counted) best(aim Aim) (s Share, ok bool) {
	for c, row := range t.rows {
		if v, found := row.atMost(t.limit[c]); found {
			if x := (Share{c, Millis(v)}); !ok || aim.compare(x, s) > 0 {
				s, ok = x, true
			}
		}
	}
	return s, ok
}

// pick finds which of the times, in number and sum as a share says, make it
// up: each half has its table, and the halves are asked in turn for the part
// that falls to them (D. S. Hirschberg, Communications of the ACM 18, 1975).
func pick(times []int64, want Share) (chosen []int, ok bool) {
	if want.Songs == 0 {
		return nil, want.Time == 0
	}
	if len(times) < want.Songs {
		return nil, false
	}
	if len(times) == 1 {
		return []int{0}, times[0] == int64(want.Time)
	}
	h := len(times) / 2
	a := tableOf(times[:h], want)
	b := tableOf(times[h:], want)
	for c := range min(want.Songs, h) + 1 {
		d := want.Songs - c
		if c >= len(a.rows) || d >= len(b.rows) || d > len(times)-h {
			continue
		}
		for w, word := range a.rows[c] {
			for ; word != 0; word &= word - 1 {
				v := int64(w)*64 + int64(bits.TrailingZeros64(word))
				if v > int64(want.Time) || !b.rows[d].has(int64(want.Time)-v) {
					continue
				}
				x, okx := pick(times[:h], Share{c, Millis(v)})
				y, oky := pick(times[h:], Share{d, want.Time - Millis(v)})
				if !okx || !oky {
					return nil, false
				}
				for _, i := range y {
					x = append(x, i+h)
				}
				return x, true
			}
		}
	}
	return nil, false
}

func tableOf(times []int64, want Share) *counted {
	t := newCounted(int64(want.Time), 0, min(want.Songs, len(times)))
	for _, v := range times {
		t.add(v, false)
	}
	return t
}
