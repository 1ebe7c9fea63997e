package scan

import (
	"fmt"
	"io"
)

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

// oggStream is one link of a chain: a logical stream of sound.
type oggStream struct {
	serial  uint32
	codec   oggCodec
	headers int   // header packets still to come
	begun   bool  // a page with sound was seen
	start   int64 // granule where the sound begins
	last    int64 // granule of the last page
	samples int64 // counted so far, page by page
	ended   bool  // its last page was seen
	holes   int64 // places where pages are missing
	pending int64 // duration of the packet that goes on to the next page
	partial []byte
	nextSeq uint32
}

// oggCodec tells how long a packet is.
type oggCodec interface {
	// name, rate in Hz, channels, bits a sample (0: none), samples to drop in front.
	about() (name string, rate, channels, bits int, skip int64)
	// header takes a header packet after the first and says how many more come.
	header(packet []byte) (more int)
	// duration of a packet in samples, from its first bytes.
	duration(packet []byte) int64
}

// newOggCodec knows a stream by its first packet. nil: not one that is read here.
// headers is the number of header packets that follow.
func newOggCodec(b []byte) (c oggCodec, headers int) {
	switch {
	case hasPrefix(b, "\x01vorbis"):
		if v := newVorbis(b); v != nil {
			return v, 2
		}
	case hasPrefix(b, "OpusHead"):
		if o := newOpus(b); o != nil {
			return o, 1
		}
	case hasPrefix(b, "\x7FFLAC"):
		if f, n := newOggFLAC(b); f != nil {
			return f, n
		}
	}
	return nil, 0
}

// maxHeaderPacket is as much of a header packet as is kept: pictures may make a
// comment packet long, but nothing is read from it here; a Vorbis setup packet is
// a few kilobytes.
const maxHeaderPacket = 256 << 10

// oggHead is what the pages before the sound tell.
type oggHead struct {
	stream   *oggStream
	tags     []Tag
	other    string // the first stream that is no sound we read
	firstOff int64  // the first page with sound
}

// readOggHead reads pages from off on until the headers of the first stream of
// sound are complete.
func readOggHead(s *source, off int64) (h oggHead) {
	packets := 0
	for range 4096 {
		p, lacing, ok := pageAt(s, off)
		if !ok {
			return h
		}
		if h.stream == nil {
			if p.flags&oggFirst == 0 {
				return h
			}
			body := s.at(off+27+int64(p.segs), int(min(p.size-27-int64(p.segs), 256)))
			if c, n := newOggCodec(body); c != nil {
				h.stream = &oggStream{serial: p.serial, codec: c, headers: n, nextSeq: p.seq + 1}
			} else if h.other == "" && len(body) > 0 {
				h.other = magicName(body)
			}
			off += p.size
			continue
		}
		if p.serial != h.stream.serial {
			off += p.size
			continue
		}
		if h.stream.headers == 0 {
			h.firstOff = off
			return h
		}
		if packets == 0 && len(h.tags) == 0 {
			h.tags = append(h.tags, Tag{OggComment, off, p.size})
		}
		h.stream.takeHeaders(s, p, append([]byte(nil), lacing...))
		packets++
		off += p.size
	}
	return h
}

// takeHeaders gathers header packets from a page.
func (o *oggStream) takeHeaders(s *source, p oggPage, lacing []byte) {
	o.nextSeq = p.seq + 1
	at := p.off + 27 + int64(p.segs)
	for i := 0; i < len(lacing) && o.headers > 0; {
		n, whole := 0, false
		for i < len(lacing) && !whole {
			n += int(lacing[i])
			whole = lacing[i] < 255
			i++
		}
		if room := maxHeaderPacket - len(o.partial); room > 0 {
			o.partial = append(o.partial, s.at(at, min(n, room))...)
		}
		at += int64(n)
		if !whole {
			return
		}
		more := o.codec.header(o.partial)
		o.partial = o.partial[:0]
		o.headers--
		if more >= 0 {
			o.headers = more
		}
	}
}

func magicName(b []byte) string {
	n := 0
	for n < len(b) && n < 10 {
		if c := b[n]; c >= 0x20 && c < 0x7F {
			n++
			continue
		}
		if n > 0 {
			break
		}
		b = b[1:]
	}
	return string(b[:n])
}

// scanOgg reads Ogg Vorbis, Opus and FLAC, chained or not.
func scanOgg(s *source, start int64, walk bool) (Info, error) {
	info := Info{Format: "Ogg", Start: start}
	end, tags := cutTrailers(s, start, s.size)
	info.End = end
	h := readOggHead(s, start)
	if h.stream == nil {
		if h.other != "" {
			return info, fmt.Errorf("%w: an Ogg file with %q inside", ErrNotAudio, h.other)
		}
		return info, fmt.Errorf("%w: a damaged Ogg file", ErrNotAudio)
	}
	info.Tags = append(h.tags, tags...)
	name, rate, channels, depth, skip := h.stream.codec.about()
	info.Codec, info.Rate, info.Channels, info.BitDepth = name, rate, channels, depth
	if h.firstOff == 0 {
		return info, fmt.Errorf("an Ogg file that ends within its header: %w", ErrNoSound)
	}
	if !walk {
		if n, ok := quickOgg(s, h, end); ok {
			info.Delay = skip
			info.Samples, info.From = max(0, n-skip), Header
			return info, nil
		}
	}
	w := walkOgg(s, start, end)
	info.From = Counted
	info.Samples = w.samples
	if w.links == 1 {
		info.Delay = skip
	}
	info.Notes = append(info.Notes, w.notes()...)
	return info, nil
}

// quickOgg reads the length off the last page. The spot check: the last page is
// whole, marked as the last, of the stream that the file begins with, and the
// pages at a quarter, half and three quarters are numbered in between, at about
// the size that the number of pages asks for. A chain of streams fails it.
func quickOgg(s *source, h oggHead, end int64) (samples int64, ok bool) {
	last, ok := lastPage(s, h.firstOff, end)
	if !ok || last.serial != h.stream.serial || last.flags&oggLast == 0 || last.granule < 0 || last.off+last.size != end {
		return 0, false
	}
	begin, ok := h.stream.begin(s, h.firstOff)
	if !ok {
		return 0, false
	}
	n := last.granule - begin
	if n < 0 || n > (end-h.firstOff)*maxOggPerByte {
		return 0, false
	}
	// A file of one stream holds exactly as many pages as its last one is numbered.
	pages := int64(last.seq) - int64(h.stream.nextSeq) + 1
	if pages <= 0 || pages > 3 {
		mean := (end - h.firstOff) / max(1, pages)
		if pages <= 0 || mean > 65307 || mean < 28 {
			return 0, false
		}
		before, beforeOff := int64(h.stream.nextSeq)-1, h.firstOff-1
		for _, part := range []int64{1, 2, 3} {
			p, found := nextPage(s, h.firstOff+(end-h.firstOff)/4*part, end)
			if !found {
				return 0, false
			}
			if p.off == beforeOff {
				continue // large pages: the same one again
			}
			if p.serial != last.serial || int64(p.seq) <= before {
				return 0, false
			}
			// pages so far and bytes so far must go together, roughly
			share := float64(int64(p.seq)-int64(h.stream.nextSeq)) / float64(pages)
			bytes := float64(p.off-h.firstOff) / float64(end-h.firstOff)
			if share > bytes*2+0.1 || share < bytes/2-0.1 {
				return 0, false
			}
			before, beforeOff = int64(p.seq), p.off
		}
		// A chain of five copies of one file passes so far; its pages are then
		// too small for their number.
		if p, found := nextPage(s, h.firstOff+(end-h.firstOff)/2, end); found && mean > 3*p.size+4096 {
			return 0, false
		}
	}
	return n, true
}

// maxOggPerByte bounds the samples for a byte: a packet takes at least one
// lacing byte and lasts at most 65535 samples (FLAC; Vorbis 8192, Opus 5760).
const maxOggPerByte = 65535

// begin works out at which granule the stream's sound begins: the first page's,
// less the packets on it. Streams cut from the middle of a broadcast do not begin at 0.
func (o *oggStream) begin(s *source, off int64) (int64, bool) {
	for range 64 { // pages that no packet ends on, and other streams'
		p, lacing, ok := pageAt(s, off)
		if !ok {
			return 0, false
		}
		if p.serial != o.serial {
			off += p.size
			continue
		}
		d := o.durations(s, p, append([]byte(nil), lacing...))
		if p.granule < 0 {
			off += p.size
			continue
		}
		if p.granule < d { // shortened in front, or, on the only page, at the end
			return 0, true
		}
		return p.granule - d, true
	}
	return 0, false
}

// durations sums the packets that end on a page.
func (o *oggStream) durations(s *source, p oggPage, lacing []byte) (sum int64) {
	at := p.off + 27 + int64(p.segs)
	fresh := p.flags&1 == 0
	for i := 0; i < len(lacing); {
		n, whole := 0, false
		for i < len(lacing) && !whole {
			n += int(lacing[i])
			whole = lacing[i] < 255
			i++
		}
		if fresh {
			o.pending = o.codec.duration(s.at(at, min(n, maxFLACHeader)))
		}
		fresh = true
		at += int64(n)
		if whole {
			sum += o.pending
			o.pending = 0
		}
	}
	return sum
}

// lastPage finds the last page whose checksum holds.
func lastPage(s *source, from, end int64) (last oggPage, ok bool) {
	for _, tail := range []int64{8 << 10, 64<<10 + 512, walkWindow} {
		lo := max(from, end-tail)
		// From the back, so that most files are done after one page.
		b := append([]byte(nil), s.at(lo, int(end-lo))...)
		for i := len(b) - 27; i >= 0; i-- {
			if b[i] != 'O' || string(b[i:i+4]) != "OggS" {
				continue
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

// nextPage finds the first whole page at or after off.
func nextPage(s *source, off, end int64) (oggPage, bool) {
	const reach = 65307 + 65307
	limit := min(end, off+reach)
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

func indexOggS(b []byte) int {
	for i := 0; i+4 <= len(b); i++ {
		if b[i] == 'O' && string(b[i:i+4]) == "OggS" {
			return i
		}
	}
	return -1
}

// oggWalk is what a walk over all pages found.
type oggWalk struct {
	samples int64 // at the first link's rate
	links   int
	lost    int64 // bytes in no page
	cut     bool  // and they are the last of the file
	holes   int64 // places where pages are missing
	open    bool  // the last link has no end mark
	mixed   bool  // links of different sample rates
}

// maxLinks bounds how many streams at once, and how many links, are followed.
const maxLinks = 4096

// walkOgg goes through all pages, checksums and all, and counts the sound of
// each link of the chain: no more than its packets hold, no more than its
// positions say.
func walkOgg(s *source, off, end int64) (w oggWalk) {
	s.large()
	var cur *oggStream
	baseRate := 0
	finish := func() {
		if cur == nil {
			return
		}
		_, rate, _, _, skip := cur.codec.about()
		n := max(0, cur.samples-skip)
		if n > 0 || w.links == 0 {
			w.links++
		}
		if baseRate == 0 {
			baseRate = rate
		}
		if rate != baseRate && rate > 0 {
			n = mulDiv(n, int64(baseRate), int64(rate))
			w.mixed = true
		}
		w.samples += n
		w.holes += cur.holes
		w.open = !cur.ended
		cur = nil
	}
	lacing := make([]byte, 0, 255)
	for off < end {
		p, lace, ok := pageAt(s, off)
		lacing = append(lacing[:0], lace...)
		if !ok || off+p.size > end || !p.sound(s) {
			next := off + 1
			for next < end {
				b := s.at(next, int(min(4096, end-next)))
				if len(b) < 4 {
					next = end
					break
				}
				if i := indexOggS(b); i >= 0 {
					next += int64(i)
					break
				}
				next += int64(len(b) - 3)
			}
			w.lost += next - off
			w.cut = next == end
			off = next
			continue
		}
		off += p.size
		if p.flags&oggFirst != 0 {
			body := s.at(p.off+27+int64(p.segs), int(min(p.size-27-int64(p.segs), 256)))
			c, n := newOggCodec(body)
			if c == nil || w.links > maxLinks {
				continue
			}
			// A new stream of sound: the link before is over. Two at the same time
			// (rare) would both be music; the first is followed.
			if cur != nil && !cur.begun && cur.serial != p.serial {
				continue
			}
			finish()
			cur = &oggStream{serial: p.serial, codec: c, headers: n, nextSeq: p.seq + 1}
			continue
		}
		if cur == nil || p.serial != cur.serial {
			continue
		}
		if cur.headers > 0 {
			cur.takeHeaders(s, p, lacing)
			continue
		}
		cur.take(s, p, lacing)
	}
	finish()
	return w
}

// take counts a page of sound.
func (o *oggStream) take(s *source, p oggPage, lacing []byte) {
	if o.begun && p.seq != o.nextSeq {
		o.holes++
		o.pending = 0
	}
	o.nextSeq = p.seq + 1
	d := o.durations(s, p, lacing)
	if p.flags&oggLast != 0 {
		o.ended = true
	}
	if p.granule < 0 {
		o.samples += d
		o.begun = true
		return
	}
	switch {
	case !o.begun:
		// the first page: its packets, or less of them where the only page is shortened
		o.start = max(0, p.granule-d)
		o.samples += min(d, p.granule)
	case p.flags&oggLast != 0:
		// the last page may end before its last packet does
		o.samples += max(0, min(d, p.granule-o.last))
	default:
		o.samples += d
	}
	o.begun = true
	o.last = p.granule
}

func (w oggWalk) notes() (notes []string) {
	if w.links > 1 {
		say := fmt.Sprintf("%d streams one after another", w.links)
		if w.mixed {
			say += ", of different sample rates"
		}
		notes = append(notes, say)
	}
	switch {
	case w.holes > 0 || w.lost > 0 && !w.cut:
		notes = append(notes, fmt.Sprintf("damaged: pages are missing in %d places, %d bytes belong to no page", w.holes, w.lost))
	case w.cut:
		notes = append(notes, "cut off: the last page is not whole")
	case w.open:
		notes = append(notes, "no end mark: perhaps cut off")
	}
	return notes
}

// CommentPacket gathers the Vorbis comment that begins on the page at off, which
// an OggComment tag names: its contents, from the vendor's name on. Of a very
// long one (pictures) just the first part is given. nil: there is none.
func CommentPacket(r io.ReaderAt, size, off int64) []byte {
	const most = 1 << 20
	s := newSource(r, size)
	defer s.free()
	first, _, ok := pageAt(s, off)
	if !ok {
		return nil
	}
	var b []byte
	for range 4096 {
		p, lacing, ok := pageAt(s, off)
		if !ok {
			return nil
		}
		off += p.size
		if p.serial != first.serial {
			continue
		}
		n, whole := 0, false
		for _, l := range lacing {
			n += int(l)
			if whole = l < 255; whole {
				break
			}
		}
		b = append(b, s.at(p.off+27+int64(p.segs), n)...)
		if whole || len(b) > most {
			break
		}
	}
	switch {
	case hasPrefix(b, "\x03vorbis"):
		return b[7:]
	case hasPrefix(b, "OpusTags"):
		return b[8:]
	case len(b) > 4 && b[0]&0x7F == 4: // FLAC: a metadata block
		return b[4:]
	}
	return nil
}
