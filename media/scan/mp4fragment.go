package scan

import "math/bits"

// readMoof sums the durations of a fragment's packets, track by track, as far as
// the packets lie within the file. ref: ISO/IEC 14496-12 8.8.
func (m *mp4) readMoof(s *source, start int64, moof box) {
	boxes(s, moof.off, moof.end, func(traf box) bool {
		if traf.name != "traf" {
			return true
		}
		f := fragment{base: start}
		var id uint32
		boxes(s, traf.off, min(traf.end, moof.end), func(b box) bool {
			switch b.name {
			case "tfhd": // version 1, flags 3, track_ID 4, then by flags: base offset 8, description 4, default duration 4, default size 4
				d := s.at(b.off, 28)
				if len(d) < 8 {
					return true
				}
				flags := be(d, 4)
				id = uint32(be(d[4:], 4))
				f.duration, f.size = m.defaults[id].duration, m.defaults[id].size
				at := 8
				for _, field := range []struct {
					bit  uint64
					size int
					into *int64
				}{{0x1, 8, &f.base}, {0x2, 4, nil}, {0x8, 4, &f.duration}, {0x10, 4, &f.size}} {
					if flags&field.bit == 0 || at+field.size > len(d) {
						continue
					}
					if field.into != nil {
						*field.into = int64(be(d[at:], field.size))
					}
					at += field.size
				}
				f.at = f.base
			case "trun":
				if _, known := m.fragments[id]; known || len(m.fragments) < 64 {
					m.fragments[id] = min(1<<61, m.fragments[id]+f.run(s, b))
				}
			}
			return true
		})
		return true
	})
}

// fragment is what the runs of a traf box share.
type fragment struct {
	base, at       int64 // bytes: where offsets count from; where the next run begins
	duration, size int64 // of a packet, where a run does not say
}

// run sums a trun box: version 1, flags 3, sample_count 4, by flags data offset 4
// and first sample flags 4, then for each sample by flags duration, size, flags
// and time offset of 4 bytes.
func (f *fragment) run(s *source, b box) (units int64) {
	d := s.at(b.off, 12)
	if len(d) < 8 {
		return 0
	}
	flags, count := be(d, 4), int64(be(d[4:], 4))
	if flags&0x1 != 0 && len(d) == 12 {
		f.at = f.base + int64(int32(be(d[8:], 4)))
	}
	off := b.off + 8 + 4*int64(bits.OnesCount64(flags&0x5))
	each := 4 * int64(bits.OnesCount64(flags&0xF00))
	if each > 0 {
		count = min(count, max(0, min(b.end, s.size)-off)/each)
	}
	for i := range min(count, s.size) { // a packet is a byte at least
		duration, size := f.duration, f.size
		if each > 0 {
			e := s.at(off+i*each, int(each))
			if int64(len(e)) < each {
				break
			}
			if flags&0x100 != 0 {
				duration, e = int64(be(e, 4)), e[4:]
			}
			if flags&0x200 != 0 {
				size = int64(be(e, 4))
			}
		}
		if f.at < 0 || size <= 0 || f.at > s.size-size {
			break
		}
		f.at += size
		units = addMul(units, 1, duration)
	}
	return units
}
