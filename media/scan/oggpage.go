package scan

import "bytes"

// oggPage is a page header. ref: RFC 3533 6.
type oggPage struct {
	off     int64
	flags   byte   // 1 continued, 2 first page of a stream, 4 last page
	granule int64  // position: where the last packet that ends here ends; -1: none does
	serial  uint32 // of the logical stream
	seq     uint32 // page number within it
	segs    int    // lacing values
	size    int64  // bytes, header included
}

const (
	oggFirst = 2
	oggLast  = 4
)

// pageAt reads the page header at off, and the lacing values after it.
func pageAt(s *source, off int64) (p oggPage, lacing []byte, ok bool) {
	b := s.at(off, 27+255)
	if len(b) < 27 || !hasPrefix(b, "OggS") || b[4] != 0 { // capture pattern 4, version 1
		return p, nil, false
	}
	p.off = off
	p.flags = b[5]                   // 1: header type flags
	p.granule = int64(le(b[6:], 8))  // 8: granule position
	p.serial = uint32(le(b[14:], 4)) // 4: serial number
	p.seq = uint32(le(b[18:], 4))    // 4: page sequence number
	p.segs = int(b[26])              // 4 CRC; 1: number of segments
	if len(b) < 27+p.segs {
		return p, nil, false
	}
	lacing = b[27 : 27+p.segs]
	p.size = int64(27 + p.segs)
	for _, n := range lacing {
		p.size += int64(n)
	}
	return p, lacing, p.off+p.size <= s.size
}

// sound tells whether the page's checksum holds.
func (p oggPage) sound(s *source) bool {
	b := s.at(p.off, int(p.size))
	if int64(len(b)) < p.size {
		return false
	}
	crc := crc32Ogg(0, b[:22])
	crc = crc32Ogg(crc, []byte{0, 0, 0, 0}) // its own place counts as zero
	crc = crc32Ogg(crc, b[26:])
	return uint64(crc) == le(b[22:], 4)
}

// crc32Ogg is the page checksum: polynomial 04C11DB7, start 0, no reflection.
func crc32Ogg(crc uint32, b []byte) uint32 {
	for len(b) >= 4 {
		crc ^= uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
		crc = oggTable[3][crc>>24] ^ oggTable[2][crc>>16&0xFF] ^ oggTable[1][crc>>8&0xFF] ^ oggTable[0][crc&0xFF]
		b = b[4:]
	}
	for _, c := range b {
		crc = crc<<8 ^ oggTable[0][byte(crc>>24)^c]
	}
	return crc
}

var oggTable = func() (t [4][256]uint32) {
	for i := range t[0] {
		c := uint32(i) << 24
		for range 8 {
			if c&(1<<31) != 0 {
				c = c<<1 ^ 0x04C11DB7
			} else {
				c <<= 1
			}
		}
		t[0][i] = c
	}
	for i := range t[0] {
		for k := 1; k < 4; k++ {
			t[k][i] = t[k-1][i]<<8 ^ t[0][t[k-1][i]>>24]
		}
	}
	return t
}()

// lastPage finds the last page whose checksum holds.
func lastPage(s *source, from, end int64) (last oggPage, ok bool) {
	for _, tail := range []int64{8 << 10, 64<<10 + 512, walkWindow} {
		lo := max(from, end-tail)
		// From the back, so that most files are done after one page.
		b := append([]byte(nil), s.at(lo, int(end-lo))...)
		for i := len(b); ; {
			if i = bytes.LastIndex(b[:i], []byte("OggS")); i < 0 {
				break
			}
			if p, _, good := pageAt(s, lo+int64(i)); good && p.sound(s) {
				return p, true
			}
		}
		if lo == from {
			break
		}
	}
	return last, false
}

// pageBefore finds the page that ends where p begins.
func pageBefore(s *source, p oggPage) (oggPage, bool) {
	for _, tail := range []int64{8 << 10, maxOggPage} {
		lo := max(0, p.off-tail)
		b := bytes.Clone(s.at(lo, int(p.off-lo)))
		for i := len(b); ; {
			if i = bytes.LastIndex(b[:i], []byte("OggS")); i < 0 {
				break
			}
			if q, _, ok := pageAt(s, lo+int64(i)); ok && q.off+q.size == p.off {
				return q, true
			}
		}
	}
	return oggPage{}, false
}

// maxOggPage: a header of 27 bytes, 255 lacing values and as many segments of 255.
const maxOggPage = 27 + 255 + 255*255

// nextPage finds the first whole page at or after off.
func nextPage(s *source, off, end int64) (oggPage, bool) {
	limit := min(end, off+2*maxOggPage)
	for off < limit {
		b := s.at(off, int(min(4096, limit-off)))
		if len(b) < 4 {
			break
		}
		i := indexOggS(b)
		if i < 0 {
			off += int64(len(b) - 3)
			continue
		}
		off += int64(i)
		if p, _, ok := pageAt(s, off); ok && p.sound(s) {
			return p, true
		}
		off++
	}
	return oggPage{}, false
}

func indexOggS(b []byte) int { return bytes.Index(b, []byte("OggS")) }
