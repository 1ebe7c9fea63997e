package scan

import "fmt"

// oggWalk is what a walk over all pages found.
type oggWalk struct {
	samples int64 // at the first link's rate
	links   int
	lost    int64 // bytes in no page
	cut     bool  // and they are the last of the file
	holes   int64 // places where pages are missing
	open    bool  // the last link has no end mark
	mixed   bool  // links of different sample rates
	lied    bool  // the positions that the pages state are not where the packets end
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
		if cur.holes == 0 && distance(cur.last-cur.start, cur.samples) > int64(rate)/10 {
			w.lied = true
		}
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
	case p.flags&oggLast != 0 && p.granule >= o.last:
		// the last page may end before its last packet does
		o.samples += max(0, min(d, p.granule-o.last))
	default:
		o.samples += d
	}
	o.begun = true
	o.last = p.granule
}

func distance(a, b int64) int64 { return max(a-b, b-a) }

func (w oggWalk) notes() (notes []string) {
	if w.links > 1 {
		say := fmt.Sprintf("%d streams one after another", w.links)
		if w.mixed {
			say += ", of different sample rates"
		}
		notes = append(notes, say)
	}
	if w.lied {
		notes = append(notes, "the positions stated in it are wrong; its packets are counted instead")
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
