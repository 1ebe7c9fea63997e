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

var errBooks = errors.New("damaged: its Vorbis codebooks are not whole")

// checkCodebooks walks the codebooks of a setup header (the packet without its
// first seven bytes) and refuses those on which the decoder would hang: too
// large, empty, or with code words that do not fill the tree.
// ref: Vorbis I specification, section 3.2.1.
func checkCodebooks(setup []byte) error {
	b := &bitSource{data: setup}
	for range b.take(8) + 1 {
		if b.take(24) != 0x564342 { // sync pattern
			return errBooks
		}
		dimensions := b.take(16)
		entries := b.take(24)
		if dimensions == 0 || entries == 0 || entries > maxBookEntries || dimensions*entries > maxBookValues {
			return errBooks
		}
		if !checkCodewords(b, entries) {
			return errBooks
		}
		kind := b.take(4) // lookup type
		if kind > 2 {
			return errBooks
		}
		if kind > 0 {
			b.take(32) // minimum
			b.take(32) // delta
			width := int(b.take(4)) + 1
			b.take(1) // sequence flag
			values := entries * dimensions
			if kind == 1 {
				values = lookupValues(entries, dimensions)
			}
			b.skip(int(values) * width)
		}
		if b.short {
			return errBooks
		}
	}
	return nil
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
