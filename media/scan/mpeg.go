package scan

import (
	"fmt"
	"strings"
)

// MPEG holds what a decoder wants to know of an MPEG audio stream before it
// starts. Walked tells whether PaddingTrap, Intensity and Lost were looked for.
type MPEG struct {
	Version     string // "1", "2" or "2.5"; empty: not MPEG audio
	Layer       int    // 1 to 3
	FreeFormat  bool   // the frames state no bit rate
	TagFrame    bool   // the first frame is a Xing, Info or VBRI frame: no sound of its own
	VBRI        bool   // Delay is from a VBRI header, which other decoders pass over
	FirstFrame  int64  // byte offset of the first frame of sound (Info.Start is that of the tag frame, if there is one)
	Walked      bool   // every frame was looked at
	PaddingTrap bool   // MPEG-2 layer III with a padding slot where 144*bitrate/rate is even
	Intensity   bool   // a layer III frame uses intensity stereo
	Lost        int64  // bytes between frames that belong to none
}

// decoderDelay is what a layer III decoder adds in front: 528 samples of the
// hybrid filter bank and one more. Encoders that state their delay leave it out.
// (Common practice of players; the tests compare a cut and a joined file with ffmpeg.)
const decoderDelay = 529

// maxJunk is how far into the section the first frame may lie.
const maxJunk = 1 << 20

// scanMPEG reads MPEG audio (layers I, II, III) between two bytes of the file.
func scanMPEG(s *source, start, end int64, walk bool) (Info, error) {
	end, tags := cutTrailers(s, start, end)
	first, free, ok := firstFrame(s, start, end)
	if !ok {
		return Info{}, fmt.Errorf("%w: no MPEG audio frames, and no other format known here", ErrNotAudio)
	}
	h, _ := parseMPEG(s.at(first, 4))
	info := Info{
		Format: "MP3", Rate: h.rate, Channels: h.channels(), SamplesPerFrame: h.samples(),
		Start: first, End: end, Tags: tags,
		MPEG: MPEG{Version: versionName(h.version), Layer: h.layer, FreeFormat: h.bitrate == 0, FirstFrame: first},
	}
	if h.layer != 3 {
		info.Format = [3]string{"", "MP1", "MP2"}[h.layer]
	}
	info.Codec = fmt.Sprintf("MPEG-%s Layer %s", info.MPEG.Version, strings.Repeat("I", h.layer))
	if first > start {
		info.Notes = append(info.Notes, fmt.Sprintf("%d bytes before the first frame are no sound", first-start))
	}

	var x xing
	if h.layer == 3 {
		x = readXing(s, first, frameSize(h, free), h)
	}
	if x.kind != "" {
		info.MPEG.TagFrame = true
		info.MPEG.FirstFrame = first + int64(frameSize(h, free))
	}
	if !walk && x.trusted(s, first, end, h) {
		info.From, info.Frames = Header, x.frames
		info.Delay, info.Padding = x.delay, x.padding
		info.Samples = x.frames*int64(h.samples()) - x.delay - x.padding
		return info, nil
	}

	w := walkMPEG(s, info.MPEG.FirstFrame, end, h, free)
	info.From, info.Frames = Counted, w.frames
	info.MPEG.Walked, info.MPEG.Lost = true, w.lost
	info.MPEG.PaddingTrap, info.MPEG.Intensity = w.paddingTrap, w.intensity
	info.Samples = w.frames * int64(h.samples())
	info.Notes = append(info.Notes, w.notes(x, first, end, h)...)
	// What lies before the music in the frames of sound; more than some frames is
	// no delay.
	if lead := x.vbriDelay - int64(h.samples()); lead >= decoderDelay && lead < min(4*int64(h.samples()), info.Samples) {
		info.Delay, info.Padding, info.MPEG.VBRI = lead-decoderDelay, decoderDelay, true
		info.Samples -= lead
		info.Notes = append(info.Notes, fmt.Sprintf("its VBRI header states %.3f s of silence in front, which are left out", float64(lead)/float64(h.rate)))
	}
	if x.hasDelay {
		info.Delay, info.Padding = x.delay, x.padding
		// A stream that stops early, or runs on into another one, does not end
		// where the padding was: the decoder's own delay is all that goes then.
		if x.cutOff(end-first, w) || x.joined(end-first, w) {
			info.Padding = min(decoderDelay, info.Samples)
		}
		info.Samples = max(0, info.Samples-info.Delay-info.Padding)
	}
	return info, nil
}

func versionName(v int) string {
	return map[int]string{10: "1", 20: "2", 25: "2.5"}[v]
}

// firstFrame finds the first frame: a header that three others follow, exactly
// where they must and of the same kind; fewer when the section ends before. free
// is the frame size of a free-format stream, without padding.
func firstFrame(s *source, start, end int64) (first int64, free int, ok bool) {
	limit := min(end, start+maxJunk)
	for off := start; off+4 <= limit; {
		if off-start > window {
			s.large()
		}
		b := s.at(off, int(min(256, limit-off))) // small against the window, which so moves seldom
		if len(b) < 4 {
			return 0, 0, false
		}
		i := indexSync(b, 0xE0, 0xE0)
		if i+4 > len(b) {
			off += int64(max(1, min(i, len(b)-3)))
			continue
		}
		off += int64(i)
		if h, good := parseMPEG(b[i:]); good {
			size := 0
			if h.bitrate == 0 && off-start < 64<<10 { // looking ahead is dear: only near the front
				size = freeSize(s, off, end, h)
			}
			if (h.bitrate != 0 || size != 0) && chain(s, off, start, end, h, size) {
				return off, size, true
			}
		}
		off++
	}
	return 0, 0, false
}

// chain tells whether frames follow one another from off on.
func chain(s *source, off, start, end int64, h mpegHeader, free int) bool {
	const want = 4
	at := off
	for n := 1; ; n++ {
		at += int64(frameSize(h, free))
		if at >= end-3 {
			// The section ends: whole with two frames or more, or as the one frame that fills it.
			return n >= 2 || at == end && off == start
		}
		next, ok := parseMPEG(s.at(at, 4))
		if !ok || next.bits&sameStream != h.bits&sameStream || (next.bitrate == 0) != (h.bitrate == 0) {
			return false
		}
		if n+1 == want {
			return true
		}
		h = next
	}
}

func frameSize(h mpegHeader, free int) int {
	if h.bitrate != 0 {
		return h.size()
	}
	if h.layer == 1 {
		return free + 4*h.padding
	}
	return free + h.padding
}

// freeSize finds the frame size of a free-format stream by looking for the next
// header of the same kind; it does not change within the stream.
// ref: ISO/IEC 11172-3 2.4.2.3, bitrate_index 0000.
func freeSize(s *source, off, end int64, h mpegHeader) int {
	// 32 bytes hold the smallest header and side information; 640 kbit/s at 32 kHz
	// is 2880 bytes, players stop well below twice that.
	b := s.at(off, int(min(6000, end-off)))
	for n := 32; n+4 <= len(b); n++ {
		if b[n] != 0xFF {
			continue
		}
		next, ok := parseMPEG(b[n:])
		if !ok || next.bits&sameStream != h.bits&sameStream || next.bitrate != 0 {
			continue
		}
		size := n - h.padding
		if h.layer == 1 {
			size = n - 4*h.padding
		}
		if size > 0 && chain(s, off, off, end, h, size) {
			return size
		}
	}
	return 0
}

// walked is what a walk over all frames found.
type walked struct {
	frames      int64
	lost        int64 // bytes in no frame
	tail        int64 // those of them that are the last of the section
	gaps        int64 // places where the frames do not follow one another
	cut         bool  // the last frame is not whole
	paddingTrap bool
	intensity   bool
}

// walkMPEG steps from header to header. It finds its way again, after bytes that
// are no frame, where two headers agree; an incomplete last frame is not counted.
func walkMPEG(s *source, off, end int64, kind mpegHeader, free int) (w walked) {
	s.large()
	for off+4 <= end {
		b := s.at(off, 4)
		if len(b) < 4 {
			break
		}
		h, ok := parseMPEG(b)
		if !ok || h.bits&sameStream != kind.bits&sameStream || (h.bitrate == 0) != (kind.bitrate == 0) {
			next := resync(s, off+1, end, kind, free)
			w.lost += next - off
			w.gaps++
			off = next
			continue
		}
		size := int64(frameSize(h, free))
		if off+size > end {
			w.cut = true
			w.lost += end - off
			return w
		}
		w.frames++
		w.paddingTrap = w.paddingTrap || h.paddingTrap()
		w.intensity = w.intensity || h.intensity()
		off += size
		w.tail = end - off
	}
	if off < end {
		w.lost += end - off
	}
	return w
}

// resync finds the next place where a frame of this kind begins and another
// follows it, or ends with the section.
func resync(s *source, off, end int64, kind mpegHeader, free int) int64 {
	for off+4 <= end {
		b := s.at(off, int(min(256, end-off)))
		if len(b) < 4 {
			break
		}
		i := indexSync(b, 0xE0, 0xE0)
		if i+4 > len(b) {
			off += int64(max(1, min(i, len(b)-3)))
			continue
		}
		off += int64(i)
		if h, ok := parseMPEG(b[i:]); ok && h.bits&sameStream == kind.bits&sameStream && (h.bitrate == 0) == (kind.bitrate == 0) {
			at := off + int64(frameSize(h, free))
			if at == end {
				return off
			}
			if next, ok := parseMPEG(s.at(at, 4)); ok && at < end && next.bits&sameStream == kind.bits&sameStream {
				return off
			}
		}
		off++
	}
	return end
}

// notes says in sentences what the walk found to be wrong with the file.
func (w walked) notes(x xing, first, end int64, h mpegHeader) []string {
	var notes []string
	spf := int64(h.samples())
	promised, held := clocks(x.frames*spf, w.frames*spf, h.rate)
	switch {
	case x.frames == 0 || x.frames == w.frames:
	case x.cutOff(end-first, w):
		notes = append(notes, fmt.Sprintf("cut off: the header promises %s, the file holds %s", promised, held))
	case x.joined(end-first, w):
		notes = append(notes, fmt.Sprintf("more than one recording joined: the header speaks of %s, the file holds %s", promised, held))
	case w.gaps == 0 && x.frames-w.frames != 1: // some writers count the tag's own frame
		notes = append(notes, fmt.Sprintf("the header is wrong: it states %s, the file holds %s", promised, held))
	}
	switch {
	case w.gaps > 0:
		notes = append(notes, fmt.Sprintf("damaged: %d bytes in %d places belong to no frame and are not counted", w.lost, w.gaps))
	case w.cut && !x.cutOff(end-first, w):
		notes = append(notes, "the last frame is not whole and is not counted")
	}
	return notes
}
