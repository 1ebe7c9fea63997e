package scan

import "io"

// nearEnough is how many samples before the wanted one a frame may begin: what
// then has to be decoded in vain takes a few hundredths of a second.
const nearEnough = 1 << 17

// FLACFrame finds a frame of a FLAC file that begins not after a sample and not
// far before it, by halving what lies between: its place, and its first sample.
// info is what File or Walk made of the file. ok is false where no frame is sure;
// a decoder then begins at the first.
func FLACFrame(r io.ReaderAt, size int64, info Info, sample int64) (off, first int64, ok bool) {
	if info.Format != "FLAC" || len(info.Notes) > 0 { // numbers in a damaged stream may lie
		return 0, 0, false
	}
	s := newSource(r, size)
	defer s.free()
	s.large()
	si, err := parseStreamInfo(s.at(info.Head+8, 34))
	if err != nil {
		return 0, 0, false
	}
	f, lo, ok := nextFLACFrame(s, info.Start, info.End, si, nil)
	if !ok {
		return 0, 0, false
	}
	base := f.sample(f.block) // of a stream cut out of another it is not 0
	at, hi := int64(0), info.End
	for range 48 {
		if sample-at < nearEnough || hi-lo < minFLACFrame {
			break
		}
		mid := lo + (hi-lo)/2
		n, p, ok := sureFLACFrame(s, mid, hi, si, f)
		if n -= base; ok && n > at && n <= sample {
			lo, at = p, n
		} else {
			hi = mid
		}
	}
	return lo, at, at > 0
}

// sureFLACFrame finds a frame in [off, end) that follows a whole one, as the
// checksum of that shows: the number of its first sample, and its place.
func sureFLACFrame(s *source, off, end int64, si streamInfo, like flacFrame) (sample, at int64, ok bool) {
	// Of chance headers few follow each other; a frame is smaller than the window.
	for range 4 {
		_, p, ok := nextFLACFrame(s, off, end, si, &like)
		if !ok {
			return 0, 0, false
		}
		q := p + minFLACFrame
		for range 16 {
			var f flacFrame
			if f, q, ok = nextFLACFrame(s, q, min(end, p+walkWindow), si, &like); !ok {
				break
			}
			if b := s.at(p, int(q-p)); int64(len(b)) == q-p && crc16(0, b) == 0 {
				return f.sample(like.block), q, true
			}
			q++
		}
		off = p + 1
	}
	return 0, 0, false
}
