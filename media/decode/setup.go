package decode

import (
	"errors"
	"math/bits"
)

// Limits on the codebooks of a Vorbis stream. The largest of the usual encoder
// has under 7000 entries; the decoder would take what a header claims, up to
// 16 million entries of 65,535 values.
const (
	maxBookEntries = 1 << 16
	maxBookValues  = 1 << 20
)

var errSetup = errors.New("damaged: its Vorbis setup header is not whole")

// checkSetup walks a setup header (the packet without its first seven bytes)
// as far as the residues, and refuses those on which the decoder would hang or
// take gigabytes: codebooks that are too large, empty, or whose code words do
// not fill the tree; residues that end before they begin.
// ref: Vorbis I specification, section 4.2.4.
func checkSetup(setup []byte) error {
	b := &bitSource{data: setup}
	books := b.take(8) + 1
	for range books {
		if !checkCodebook(b) {
			return errSetup
		}
	}
	for range b.take(6) + 1 { // time domain transforms: placeholders
		if b.take(16) != 0 {
			return errSetup
		}
	}
	for range b.take(6) + 1 {
		skipFloor(b)
	}
	for range b.take(6) + 1 {
		if b.short || !checkResidue(b, books) {
			return errSetup
		}
	}
	if b.short {
		return errSetup
	}
	return nil
}

// checkCodebook reads one codebook. ref: section 3.2.1.
func checkCodebook(b *bitSource) bool {
	if b.take(24) != 0x564342 { // sync pattern
		return false
	}
	dimensions := b.take(16)
	entries := b.take(24)
	if dimensions == 0 || entries == 0 || entries > maxBookEntries || dimensions*entries > maxBookValues {
		return false
	}
	if !checkCodewords(b, entries) {
		return false
	}
	kind := b.take(4) // lookup type
	if kind > 2 {
		return false
	}
	if kind > 0 {
		b.skip(32 + 32) // minimum, delta
		width := int(b.take(4)) + 1
		b.skip(1) // sequence flag
		values := entries * dimensions
		if kind == 1 {
			values = lookupValues(entries, dimensions)
		}
		b.skip(int(values) * width)
	}
	return !b.short
}

// skipFloor passes over a floor. ref: sections 6.2.1 and 7.2.2.
func skipFloor(b *bitSource) {
	if b.take(16) == 0 {
		b.skip(8 + 16 + 16 + 6 + 8) // order, rate, bark map size, amplitude bits and offset
		b.skip(8 * (int(b.take(4)) + 1))
		return
	}
	classOf := make([]uint64, b.take(5)) // by partition
	classes := uint64(0)
	for i := range classOf {
		classOf[i] = b.take(4)
		classes = max(classes, classOf[i])
	}
	var dimensions [16]int
	for i := range classes + 1 {
		dimensions[i] = int(b.take(3)) + 1
		subclasses := b.take(2)
		if subclasses > 0 {
			b.skip(8) // master book
		}
		b.skip(8 << subclasses)
	}
	b.skip(2) // multiplier
	width := int(b.take(4))
	for _, c := range classOf {
		b.skip(dimensions[c] * width)
	}
}

// checkResidue reads one residue. ref: section 8.6.1.
func checkResidue(b *bitSource, books uint64) bool {
	b.skip(16) // type
	begin, end := b.take(24), b.take(24)
	b.skip(24) // partition size
	classes := b.take(6) + 1
	if begin > end || b.take(8) >= books {
		return false
	}
	used := 0
	for range classes {
		cascade := b.take(3)
		if b.take(1) == 1 {
			cascade |= b.take(5) << 3
		}
		used += bits.OnesCount64(cascade)
	}
	for range used {
		if b.take(8) >= books {
			return false
		}
	}
	return true
}

// checkCodewords reads the code word lengths. They must fill the tree, so that
// every run of bits is a word: the sum of 2^-length is 1. A single word is the
// one exception that the specification allows.
func checkCodewords(b *bitSource, entries uint64) bool {
	var used, share uint64 // share in 2^-32
	if b.take(1) == 1 {    // ordered
		length := b.take(5) + 1
		for done := uint64(0); done < entries; length++ {
			n := b.take(bits.Len64(entries - done))
			if length > 32 || n > entries-done || b.short {
				return false
			}
			done += n
			used += n
			share += n << (32 - length)
		}
	} else {
		sparse := b.take(1) == 1
		for range entries {
			if sparse && b.take(1) == 0 {
				continue
			}
			used++
			share += 1 << (32 - (b.take(5) + 1))
			if b.short {
				return false
			}
		}
	}
	return share == 1<<32 || used == 1
}

// lookupValues is the greatest number whose power with the exponent dimensions
// is not over entries.
func lookupValues(entries, dimensions uint64) uint64 {
	n := uint64(1)
	for {
		p := uint64(1)
		for range dimensions {
			if p *= n + 1; p > entries {
				return n
			}
		}
		n++
	}
}

// bitSource reads numbers low bit first. Past the end it gives zeros and says
// that it fell short.
type bitSource struct {
	data  []byte
	at    int // bit
	short bool
}

func (b *bitSource) take(n int) uint64 {
	var v uint64
	for i := range n {
		k := b.at + i
		if k>>3 >= len(b.data) {
			b.short = true
			return 0
		}
		v |= uint64(b.data[k>>3]>>(k&7)&1) << i
	}
	b.at += n
	return v
}

func (b *bitSource) skip(n int) {
	b.at += n
	b.short = b.short || b.at > 8*len(b.data)
}
