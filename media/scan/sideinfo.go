package scan

import "io"

// ShortJoint counts the frames of a Layer III stream in which M/S stereo meets
// short blocks: one decoder swaps some of their treble between the channels.
// info is what Walk made of the same bytes. It reads the side information of
// every frame, and nothing else of the frame.
func ShortJoint(r io.ReaderAt, info Info) (frames int64) {
	if info.MPEG.Layer != 3 || info.MPEG.FreeFormat || info.Channels != 2 {
		return 0
	}
	s := newSource(r, info.End)
	defer s.free()
	s.large()
	first, ok := parseMPEG(s.at(info.MPEG.FirstFrame, 4))
	for off := info.MPEG.FirstFrame; ok && off+4 <= info.End; {
		h, good := parseMPEG(s.at(off, 4))
		if !good || h.bits&sameStream != first.bits&sameStream || h.bitrate == 0 {
			off = resync(s, off+1, info.End, first, 0)
			continue
		}
		// joint_stereo with ms_stereo, the higher bit of mode_extension.
		if h.mode == 1 && h.ext&2 != 0 && h.shortBlocks(s.at(off+4+h.crcSize(), h.sideInfo())) {
			frames++
		}
		off += int64(h.size())
	}
	return frames
}

func (h mpegHeader) crcSize() int64 {
	if h.crc {
		return 2
	}
	return 0
}

// shortBlocks tells whether any granule of a stereo frame uses short blocks.
// ref: ISO/IEC 11172-3 2.4.1.7; ISO/IEC 13818-3 2.4.1.7 for the low rates.
func (h mpegHeader) shortBlocks(side []byte) bool {
	// 9 bits main_data_begin, 3 private_bits, 4 of scfsi a channel; at the low
	// rates 8 and 2, without scfsi, and one granule.
	at, granules, compress := 9+3+2*4, 2, 4
	if h.version != 10 {
		at, granules, compress = 8+2, 1, 9
	}
	bits := func(at, n int) (v int) {
		for i := at; i < at+n && i>>3 < len(side); i++ {
			v = v<<1 | int(side[i>>3]>>(7-i&7)&1)
		}
		return v
	}
	for range granules * 2 {
		// 12 bits part2_3_length, 9 big_values, 8 global_gain, scalefac_compress,
		// 1 window_switching_flag; with it set, 2 of block_type: 2 is three short windows.
		flag := at + 12 + 9 + 8 + compress
		if bits(flag, 1) == 1 && bits(flag+1, 2) == 2 {
			return true
		}
		// Either way 22 bits more, then preflag (MPEG-1 only), scalefac_scale and
		// count1table_select.
		at = flag + 1 + 22 + 2
		if h.version == 10 {
			at++
		}
	}
	return false
}
