package scan

import "math/bits"

// box is a box of an ISO base media file. ref: ISO/IEC 14496-12 4.2.
type box struct {
	name  string
	start int64
	off   int64 // of its contents
	end   int64 // where it says that it ends, which may lie past the file
}

// boxes calls f for each box between off and end until f says to stop. It
// returns where the last box ended.
func boxes(s *source, off, end int64, f func(box) bool) int64 {
	for off+8 <= end {
		// 32 bits size, 4 letters type; size 1: 64 bits size follow; size 0: to the end
		b := s.at(off, 16)
		if len(b) < 8 {
			return off
		}
		n, head := int64(be(b, 4)), int64(8)
		name := string(b[4:8])
		switch {
		case n == 1 && len(b) == 16:
			n, head = int64(be(b[8:], 8)), 16
		case n == 0:
			n = end - off
		}
		if n < head || n > 1<<62 {
			return off
		}
		if !f(box{name, off, off + head, off + n}) {
			return off + n
		}
		off += n
	}
	return off
}

// addMul is a + b*c, held at a size that no file can have.
func addMul(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(b), uint64(c))
	if hi != 0 || lo > 1<<61 || a > 1<<61 {
		return 1 << 61
	}
	return a + int64(lo)
}

// mulDiv is a*b/c, rounded to the nearest.
func mulDiv(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	lo, carry := bits.Add64(lo, uint64(c/2), 0)
	hi += carry
	if hi >= uint64(c) {
		return 0
	}
	q, _ := bits.Div64(hi, lo, uint64(c))
	if q > 1<<62 {
		return 0
	}
	return int64(q)
}
