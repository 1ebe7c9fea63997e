package decode

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// maxPacket bounds a packet. The largest that a codec here makes is a Vorbis
// setup header of some tens of kilobytes.
const maxPacket = 1 << 20

// oggReader takes the packets out of an Ogg stream. Pages that are damaged are
// passed over and counted; pages of other streams in the same file are, too.
// ref: RFC 3533 section 6.
type oggReader struct {
	r      *bufio.Reader
	serial uint32
	begun  bool

	lacing []byte // segment sizes of the open page not used yet
	body   []byte
	fresh  bool // the open page's first segment begins a packet
	first  bool // the open page is the first of its stream

	part []byte // of a packet that goes on
	skip bool   // the packet that goes on lost its beginning

	granule int64 // of the open page
	last    bool  // the open page is the last of its stream
	lost    int   // damaged places
	page    []byte
}

func newOggReader(r io.Reader) *oggReader {
	return &oggReader{r: bufio.NewReaderSize(r, 1<<17)}
}

// packet gives the next packet, good until the next call. begins says that it
// is the first of a logical stream: at the start, and where streams are chained.
func (o *oggReader) packet() (p []byte, begins bool, err error) {
	o.part = o.part[:0]
	o.skip = false
	for {
		if len(o.lacing) == 0 {
			if err := o.nextPage(); err != nil {
				return nil, false, err
			}
			// A packet that should go on but does not, or the other way round:
			// pages were lost in between.
			if o.fresh && len(o.part) > 0 {
				o.part = o.part[:0]
				o.lost++
			}
			if !o.fresh && len(o.part) == 0 {
				o.skip = true
			}
			continue
		}
		// Segment table: a size of 255 means that the packet goes on.
		n := int(o.lacing[0])
		o.lacing = o.lacing[1:]
		if !o.skip && len(o.part)+n <= maxPacket {
			o.part = append(o.part, o.body[:n]...)
		} else {
			o.skip = true
		}
		o.body = o.body[n:]
		if n == 255 {
			continue
		}
		if o.skip {
			o.skip = false
			o.part = o.part[:0]
			continue
		}
		begins, o.first = o.first, false
		return o.part, begins, nil
	}
}

// ended says that the packet just given is the last of its stream, whose end is
// the open page's granule position.
func (o *oggReader) ended() bool { return o.last && len(o.lacing) == 0 }

// cut shortens what the last packet of a stream gave to where the stream ends;
// before is how many frames it had given until then.
func (o *oggReader) cut(have []float32, chans int, before, end int64) []float32 {
	if n := end - before; o.ended() && end > 0 && n >= 0 && n < int64(len(have)/chans) {
		return have[:n*int64(chans)]
	}
	return have
}

// finite silences what is no number, and counts a packet with such samples as a
// damaged place.
func (o *oggReader) finite(x []float32) []float32 {
	odd := false
	for i, v := range x {
		if !(v >= -math.MaxFloat32 && v <= math.MaxFloat32) {
			x[i] = 0
			odd = true
		}
	}
	if odd {
		o.lost++
	}
	return x
}

var oggPattern = []byte("OggS")

// nextPage finds the next whole page of this stream.
func (o *oggReader) nextPage() error {
	for {
		// 4 bytes capture pattern "OggS".
		h, err := o.r.Peek(27)
		if err != nil {
			if errors.Is(err, io.EOF) {
				return io.EOF
			}
			return err
		}
		if !bytes.HasPrefix(h, oggPattern) || h[4] != 0 { // 1: version
			if err := o.resync(); err != nil {
				return err
			}
			continue
		}
		flags := h[5]                                       // 1: 1 continued packet, 2 first page, 4 last page
		granule := int64(binary.LittleEndian.Uint64(h[6:])) // 8: granule position
		serial := binary.LittleEndian.Uint32(h[14:])        // 4: serial number, then 4 page sequence number
		sum := binary.LittleEndian.Uint32(h[22:])           // 4: checksum
		segments := int(h[26])                              // 1: number of segments, then their sizes
		h, err = o.r.Peek(27 + segments)
		if err != nil {
			return io.EOF
		}
		size := 27 + segments
		for _, n := range h[27:] {
			size += int(n)
		}
		page, err := o.r.Peek(size)
		if err != nil {
			return io.EOF
		}
		if oggChecksum(page) != sum {
			o.lost++
			o.r.Discard(4)
			if err := o.resync(); err != nil {
				return err
			}
			continue
		}
		o.page = append(o.page[:0], page...)
		o.r.Discard(size)
		if !o.begun || flags&2 != 0 && o.last {
			o.begun, o.serial, o.first = true, serial, true
		}
		if serial != o.serial {
			continue
		}
		o.fresh, o.last = flags&1 == 0, flags&4 != 0
		o.granule = granule
		o.lacing, o.body = o.page[27:27+segments], o.page[27+segments:]
		return nil
	}
}

// resync moves on to the next capture pattern.
func (o *oggReader) resync() error {
	for {
		b, err := o.r.Peek(4096)
		if len(b) < 4 {
			return io.EOF
		}
		if i := bytes.Index(b, oggPattern); i >= 0 {
			o.r.Discard(i)
			return nil
		}
		o.r.Discard(len(b) - 3)
		if err != nil {
			return io.EOF
		}
	}
}

func (o *oggReader) said() []string {
	if o.lost == 0 {
		return nil
	}
	return []string{fmt.Sprintf("damaged in %d places, which were silenced or left out", o.lost)}
}

// oggTable is the checksum's table: polynomial 0x04C11DB7, high bit first.
var oggTable = func() (t [256]uint32) {
	for i := range t {
		c := uint32(i) << 24
		for range 8 {
			if c&(1<<31) != 0 {
				c = c<<1 ^ 0x04C11DB7
			} else {
				c <<= 1
			}
		}
		t[i] = c
	}
	return t
}()

// oggChecksum is that of a page, its own field taken as zero.
func oggChecksum(page []byte) uint32 {
	var c uint32
	for i, b := range page {
		if i >= 22 && i < 26 {
			b = 0
		}
		c = c<<8 ^ oggTable[byte(c>>24)^b]
	}
	return c
}
