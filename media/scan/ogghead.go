package scan

import "io"

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
