package scan

import (
	"bytes"
	"fmt"
)

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
		if n, ok := quickOgg(s, h, end); ok && n > skip {
			info.Delay = skip
			info.Samples, info.From = n-skip, Header
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
// the size that the number of pages asks for. A chain of streams fails it. The
// positions that the pages state rise with their numbers, and two of them, one
// at the end, lie as far apart as the packets in between last.
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
	if pages <= 4 {
		return 0, false // too few for a spot check; soon walked
	}
	mean := (end - h.firstOff) / pages
	if mean > 65307 || mean < 28 {
		return 0, false
	}
	before, beforeOff := int64(h.stream.nextSeq)-1, h.firstOff-1
	granule, middle := begin, oggPage{}
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
		if p.granule >= 0 {
			if p.granule < granule || p.granule > last.granule {
				return 0, false
			}
			granule = p.granule
		}
		if part == 2 {
			middle = p
		}
		before, beforeOff = int64(p.seq), p.off
	}
	if before == int64(last.seq) || !h.stream.steady(s, middle, end) || !h.stream.ends(s, last) {
		return 0, false
	}
	// A chain of five copies of one file passes so far; its pages are then too
	// small for their number.
	if p, found := nextPage(s, h.firstOff+(end-h.firstOff)/2, end); found && mean > 3*p.size+4096 {
		return 0, false
	}
	return n, true
}

// steady tells whether the page after p states a position that is as much later
// as its packets last.
func (o *oggStream) steady(s *source, p oggPage, end int64) bool {
	if p.size == 0 || p.granule < 0 {
		return false
	}
	next, lacing, ok := pageAt(s, p.off+p.size)
	if !ok || next.serial != o.serial || next.off+next.size > end || next.granule < 0 {
		return false
	}
	lacing = bytes.Clone(lacing)
	o.prime(s, p)
	d := o.durations(s, next, lacing)
	return next.granule-p.granule == d
}

// ends tells whether the last page's position lies between that of the page
// before and the end of its own packets: it may cut the last ones short.
func (o *oggStream) ends(s *source, last oggPage) bool {
	_, lacing, ok := pageAt(s, last.off)
	if !ok {
		return false
	}
	lacing = bytes.Clone(lacing)
	p, ok := pageBefore(s, last)
	if !ok || p.serial != o.serial || p.granule < 0 {
		return false
	}
	o.prime(s, p)
	d := o.durations(s, last, lacing)
	return last.granule >= p.granule && last.granule <= p.granule+d
}

// prime makes ready to measure the packets of the page after p: how long they
// last can depend on the last one before.
func (o *oggStream) prime(s *source, p oggPage) {
	o.pending = 0
	if _, lacing, ok := pageAt(s, p.off); ok {
		o.durations(s, p, bytes.Clone(lacing))
	}
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
		d := o.durations(s, p, bytes.Clone(lacing))
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
