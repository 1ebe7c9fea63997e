package scan

import (
	"bytes"
	"fmt"
)

// maxChunks is how many chunks are looked at before a file is given up.
const maxChunks = 1 << 14

// scanWAV reads RIFF WAVE, and its 64-bit forms RF64 and BW64.
// ref: "Multimedia Programming Interface and Data Specifications 1.0" (RIFF and
// WAVE); EBU Tech 3306 (RF64); ITU-R BS.2088 (BW64).
func scanWAV(s *source, start int64, walk bool) (Info, error) {
	info := Info{Format: "WAV", From: Header}
	var format waveFormat
	var fact, dataOff, dataSize, size64, fact64 int64
	dataSize = -1
	big := !hasPrefix(s.at(start, 4), "RIFF")
	off := start + 12
	var ds64 map[string]int64
	for range maxChunks {
		// Chunk: 4 bytes id, 4 bytes size little-endian, contents, a byte of padding when odd.
		b := s.at(off, 8)
		if len(b) < 8 || !isChunkID(b[:4]) {
			break
		}
		id, n := string(b[:4]), int64(le(b[4:], 4))
		if v, ok := ds64[id]; ok && n == 0xFFFFFFFF {
			n = v
		}
		body := off + 8
		switch id {
		case "ds64": // EBU Tech 3306 table: riff size 8, data size 8, sample count 8, table length 4, then (id 4, size 8) each
			if c := s.at(body, 28); len(c) == 28 && big {
				size64, fact64 = int64(le(c[8:], 8)), int64(le(c[16:], 8))
				ds64 = readDS64(s, body+28, int(le(c[24:], 4)))
			}
		case "fmt ":
			format = parseWaveFormat(s.at(body, int(min(n, 40))))
		case "fact": // 4 bytes: samples a channel
			if c := s.at(body, 4); len(c) == 4 {
				fact = int64(le(c, 4))
			}
		case "LIST":
			if c := s.at(body, 4); hasPrefix(c, "INFO") && n > 4 && body+n <= s.size && len(info.Tags) < 8 {
				info.Tags = append(info.Tags, Tag{RIFFInfo, body + 4, n - 4})
			}
		case "id3 ", "ID3 ":
			if _, t := skipID3v2(s, body, min(s.size, body+n)); len(t) > 0 && len(info.Tags) < 8 {
				info.Tags = append(info.Tags, t[0])
			}
		case "data":
			if dataSize >= 0 {
				break // one data chunk to a file
			}
			dataOff, dataSize = body, n
			if big && n == 0xFFFFFFFF && size64 > 0 {
				dataSize, n = size64, size64
			}
			unknown := dataSize == 0 && !emptyData(s, body)
			if unknown || dataSize == 0xFFFFFFFF && !big || dataSize < 0 || dataSize > s.size-body {
				dataSize = format.short(&info, dataSize, s.size-body, unknown || dataSize < 0 || dataSize >= 0x7FFFF000)
				n = dataSize
			}
		}
		if n < 0 || n > s.size-body {
			break
		}
		off = afterChunk(s, body+n, n&1)
	}
	switch {
	case format.tag == 0:
		return info, fmt.Errorf("%w: a WAV file without a format chunk", ErrNotAudio)
	case dataSize < 0:
		return info, fmt.Errorf("WAV file without a data chunk: %w", ErrNoSound)
	}
	info.Rate, info.Channels = format.rate, format.channels
	if !big && info.From == Header {
		if n := wrapped(dataSize, s.size-dataOff); n > dataSize {
			info.Notes = append(info.Notes, "longer than its header can state; the file's size says how long")
			dataSize, info.From = n, Counted
		}
	}
	info.Start, info.End = dataOff, dataOff+dataSize
	if note := format.beyond(s, info.End); note != "" && info.From == Header {
		info.Notes = append(info.Notes, note)
	}
	if walk {
		info.From = Counted // its bytes are there: that is all there is to count
	}
	return format.finish(s, info, fact, fact64, walk)
}

// short settles a data chunk that states no size (a streamed file) or more than
// the file has room for: the file's size counts.
func (f waveFormat) short(info *Info, stated, room int64, streamed bool) int64 {
	if streamed {
		info.Notes = append(info.Notes, "the header states no length (a streamed file); the file's size does")
	} else if f.blockAlign > 0 && f.rate > 0 {
		promised, held := clocks(stated/f.blockAlign, room/f.blockAlign, f.rate)
		info.Notes = append(info.Notes, fmt.Sprintf("cut off: the header promises %s, the file holds %s", promised, held))
	}
	info.From = Counted
	return room
}

// wrapped is the size of a data chunk whose 32-bit field was too small for it and
// kept the lower bits: what it states and whole turns of 4 GB, up to the end of
// the file but for some chunks. Where that does not meet the end it is stated.
func wrapped(stated, room int64) int64 {
	const turn, chunks = 1 << 32, 1 << 20
	n := stated + (room-stated)/turn*turn
	if room-n > chunks {
		return stated
	}
	return n
}

// beyond says what is wrong when neither another chunk nor a tag nor the end of
// the file follows the data chunk, but a second or more of bytes. They are not
// counted: players go by the header.
func (f waveFormat) beyond(s *source, end int64) string {
	second := f.blockAlign * int64(f.rate)
	if second < 1 || s.size-end < second {
		return ""
	}
	for _, off := range []int64{end + end&1, end} { // some writers leave out the padding
		b := s.at(off, 8)
		if len(b) < 8 {
			return ""
		}
		switch id := string(b[:4]); {
		case id == "RIFF" || id == "RF64" || id == "BW64":
			return "more than one recording joined: only the first is counted, and played"
		case hasPrefix(b, "ID3") || hasPrefix(b, "TAG") || hasPrefix(b, "APETAGEX"):
			return ""
		case printable(b[:4]) && int64(le(b[4:], 4)) <= s.size-off-8:
			return ""
		}
	}
	if b := s.at(end, int(min(4096, s.size-end))); len(bytes.Trim(b, "\x00")) == 0 {
		return "" // filled up to a round size
	}
	return fmt.Sprintf("the header may be wrong: %s more of sound could lie behind what it states, and most players stop there", clock((s.size-end)/second))
}

// emptyData tells whether a data chunk of size 0 really is empty: another chunk
// follows, or the file ends.
func emptyData(s *source, body int64) bool {
	b := s.at(body, 8)
	if len(b) == 0 {
		return true
	}
	return len(b) == 8 && printable(b[:4]) && int64(le(b[4:], 4)) <= s.size-body-8
}

// readDS64 reads the table of 64-bit chunk sizes.
func readDS64(s *source, off int64, n int) map[string]int64 {
	t := map[string]int64{}
	for i := range min(n, 64) {
		b := s.at(off+int64(i)*12, 12)
		if len(b) < 12 {
			break
		}
		if v := int64(le(b[4:], 8)); v >= 0 {
			t[string(b[:4])] = v
		}
	}
	return t
}

// afterChunk is where the chunk behind one that ends at end begins: behind the
// byte of padding, of which pad is 1 when the size is odd. Some writers leave it
// out; they did where only so a chunk follows that the file has room for.
func afterChunk(s *source, end, pad int64) int64 {
	chunk := func(off int64) bool {
		b := s.at(off, 8)
		return len(b) == 8 && isChunkID(b[:4]) && (int64(le(b[4:], 4)) <= s.size-off-8 || le(b[4:], 4) == 0xFFFFFFFF)
	}
	if pad == 0 || end+pad >= s.size || chunk(end+pad) && string(s.at(end, 4)) != "data" || !chunk(end) {
		return end + pad
	}
	return end
}

// isChunkID tells whether four bytes can name a chunk: letters and other signs
// that print, with blanks or, against the rule, zeros behind them.
func isChunkID(b []byte) bool {
	n := len(bytes.TrimRight(b, "\x00"))
	return n >= 2 && printable(b[:n])
}

func printable(b []byte) bool {
	for _, c := range b {
		if c < 0x20 || c > 0x7E {
			return false
		}
	}
	return true
}

// waveFormat is the fmt chunk.
type waveFormat struct {
	tag        int   // format category; the sub-format's when extensible
	channels   int   //
	rate       int   // samples a second
	byteRate   int64 // bytes a second
	blockAlign int64 // bytes for one sample of all channels, or of one block of a compressed stream
	bits       int   // a sample, as stored
	valid      int   // of them used, when extensible; 0: all
	perBlock   int64 // samples in a compressed block
	mask       uint32
}

// wide tells whether samples lie in containers wider than their bits need (20
// bits in 4 bytes): the block align says so, and where the bits fill whole bytes
// the byte rate must bear it out. Players go by the bits.
func (f waveFormat) wide(align int64) bool {
	each := f.blockAlign / int64(f.channels)
	return f.tag == 1 && f.blockAlign > align && f.blockAlign%int64(f.channels) == 0 && each <= 8 &&
		(f.bits%8 != 0 || f.byteRate == int64(f.rate)*f.blockAlign)
}

// partBlock is how many samples the first bytes of an ADPCM block hold. In IMA
// each channel has a header of 4 bytes with one sample, then groups of 4 bytes for
// 8 samples; in the other kind a header of 7 bytes with two, then 2 in a byte.
// ref: "New Multimedia Data Types and Data Techniques 3.0" (IMA and ADPCM); checked
// with what ffmpeg and sox decode.
func (f waveFormat) partBlock(bytes int64) int64 {
	ch := int64(f.channels)
	switch {
	case f.tag == 0x11 && bytes >= 4*ch:
		return min(f.perBlock, 1+(bytes-4*ch)/(4*ch)*8)
	case f.tag == 2 && bytes >= 7*ch:
		return min(f.perBlock, 2+(bytes-7*ch)*2/ch)
	}
	return 0
}

func parseWaveFormat(b []byte) (f waveFormat) {
	if len(b) < 16 {
		return f
	}
	f.tag = int(le(b, 2))               // 2 bytes: wFormatTag
	f.channels = int(le(b[2:], 2))      // 2: wChannels
	f.rate = int(le(b[4:], 4))          // 4: dwSamplesPerSec
	f.byteRate = int64(le(b[8:], 4))    // 4: dwAvgBytesPerSec
	f.blockAlign = int64(le(b[12:], 2)) // 2: wBlockAlign
	f.bits = int(le(b[14:], 2))         // 2: wBitsPerSample
	if len(b) >= 20 {
		f.perBlock = int64(le(b[18:], 2)) // after 2 bytes cbSize: wSamplesPerBlock of the ADPCM forms
	}
	if f.tag == 0xFFFE && len(b) >= 26 { // WAVE_FORMAT_EXTENSIBLE
		f.valid = int(le(b[18:], 2)) // 2: valid bits a sample, then 4: channel mask
		f.mask = uint32(le(b[20:], 4))
		f.tag = int(le(b[24:], 2)) // 16: sub-format, whose first two bytes are the format tag
	}
	return f
}

// finish turns a format and a stretch of bytes into a length.
func (f waveFormat) finish(s *source, info Info, fact, fact64 int64, walk bool) (Info, error) {
	n := info.End - info.Start
	switch f.tag {
	case 1, 3, 6, 7: // PCM, IEEE float, A-law, mu-law
		bytes := (f.bits + 7) / 8
		info.BitDepth = f.bits
		if f.valid > 0 && f.valid <= f.bits {
			info.BitDepth = f.valid
		}
		if f.channels < 1 || f.bits < 1 || f.bits > 64 || f.rate < 1 {
			return info, fmt.Errorf("%w: a WAV file with %d channels of %d bits at %d Hz", ErrNotAudio, f.channels, f.bits, f.rate)
		}
		info.PCM = PCM{BytesPerSample: bytes, Float: f.tag == 3, Signed: bytes > 1, Mask: f.mask}
		info.Codec = map[int]string{1: "PCM", 3: "float", 6: "A-law", 7: "mu-law"}[f.tag]
		if f.tag >= 6 {
			info.PCM.Law = info.Codec
		}
		align := int64(bytes * f.channels)
		if f.blockAlign != align {
			taken := "bits are"
			if f.wide(align) {
				taken = "block align is"
				align = f.blockAlign
				info.PCM.BytesPerSample = int(align) / f.channels
				info.PCM.Signed = info.PCM.BytesPerSample > 1
			}
			if f.bits%8 == 0 {
				info.Notes = append(info.Notes, fmt.Sprintf("contradicts itself: its block align (%d) is not that of %d channels of %d bits; the %s taken", f.blockAlign, f.channels, f.bits, taken))
			}
		}
		info.Samples = n / align
		info.End = info.Start + info.Samples*align
		return info, nil
	case 2, 0x11: // ADPCM and IMA ADPCM: blocks of wSamplesPerBlock samples
		info.Codec = map[int]string{2: "ADPCM", 0x11: "IMA ADPCM"}[f.tag]
		info.BitDepth, info.SamplesPerFrame = 4, int(f.perBlock)
		if f.blockAlign < 1 || f.channels < 1 || f.perBlock < 1 || f.perBlock > 2*f.blockAlign+8 {
			return info, fmt.Errorf("%w: a WAV file whose %s block size is nonsense", ErrNotAudio, info.Codec)
		}
		info.Frames = n / f.blockAlign
		info.Samples = info.Frames*f.perBlock + f.partBlock(n%f.blockAlign)
		if fact64 > 0 && fact == 0xFFFFFFFF {
			fact = fact64
		}
		// The fact chunk says where in the last block the sound ends; some writers
		// fill up more than that.
		switch short := info.Samples - fact; {
		case fact <= 0 || fact == 0xFFFFFFFF || short <= 0:
		case short < max(f.perBlock, int64(f.rate)/20):
			info.Padding, info.Samples = short, fact
		default:
			stated, held := clocks(fact, info.Samples, f.rate)
			info.Notes = append(info.Notes, fmt.Sprintf("contradicts itself: by its fact chunk %s, by its blocks %s, which are counted", stated, held))
		}
		return info, nil
	case 0x55: // MPEG audio in a RIFF coat
		tags, format := info.Tags, info.Format
		mp3, err := scanMPEG(s, info.Start, info.End, walk)
		mp3.Format = format
		mp3.Tags = append(tags, mp3.Tags...)
		return mp3, err
	}
	return info, fmt.Errorf("%w: WAV with format tag 0x%04X", ErrNotAudio, f.tag)
}
