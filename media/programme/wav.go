package programme

import (
	"encoding/binary"
	"io"
	"math"
	"strings"
)

// dataAt is where the samples begin: after the RIFF header (12 bytes), a chunk
// of 28 bytes with its head (36) that is ds64 when the file is large and JUNK
// when not, fmt (24) and the head of data (8).
// ref: "Multimedia Programming Interface and Data Specifications 1.0" (RIFF,
// WAVE); EBU Tech 3306 (RF64: ds64 comes first, and may be reserved as JUNK).
const dataAt = 12 + 36 + 24 + 8

// wav knows where a frame lies in the file.
type wav struct {
	rate, bits int
	frames     int64
	after      int64 // bytes of the chunks behind the samples
}

func newWAV(l *Layout) *wav { return &wav{rate: l.Rate, bits: l.Bits, frames: l.Frames} }

func (w *wav) frame() int           { return 2 * w.bits / 8 }
func (w *wav) at(frame int64) int64 { return dataAt + frame*int64(w.frame()) }
func (w *wav) data() int64          { return w.frames * int64(w.frame()) }
func (w *wav) riff() int64          { return w.end() + w.after - 8 }
func (w *wav) large() bool          { return w.riff() > math.MaxUint32-1 }
func (w *wav) end() int64           { return w.at(w.frames) + w.data()&1 }
func (w *wav) size(l *Layout, t Text) int64 {
	w.after = int64(len(trailer(l, t)))
	return w.end() + w.after
}

// header writes everything before the samples. size must have been asked for.
func (w *wav) header(f io.WriterAt) error {
	le := binary.LittleEndian
	id, riff, data, reserved := "RIFF", uint32(w.riff()), uint32(w.data()), "JUNK"
	if w.large() {
		id, riff, data, reserved = "RF64", math.MaxUint32, math.MaxUint32, "ds64"
	}
	b := append([]byte(nil), id...)
	b = le.AppendUint32(b, riff)
	b = append(b, "WAVE"...)

	b = append(b, reserved...)
	b = le.AppendUint32(b, 28)
	sizes := make([]byte, 28)
	if w.large() {
		le.PutUint64(sizes, uint64(w.riff()))      // 8: size of the RIFF chunk
		le.PutUint64(sizes[8:], uint64(w.data()))  // 8: size of data
		le.PutUint64(sizes[16:], uint64(w.frames)) // 8: sample count; then 4: length of the table, 0
	}
	b = append(b, sizes...)

	b = append(b, "fmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1) // 2 wFormatTag: PCM
	b = le.AppendUint16(b, 2) // 2 wChannels
	b = le.AppendUint32(b, uint32(w.rate))
	b = le.AppendUint32(b, uint32(w.rate*w.frame()))
	b = le.AppendUint16(b, uint16(w.frame()))
	b = le.AppendUint16(b, uint16(w.bits))

	b = append(b, "data"...)
	b = le.AppendUint32(b, data)
	_, err := f.WriteAt(b, 0)
	return err
}

// trailer writes the chunks behind the samples.
func (w *wav) trailer(f io.WriterAt, l *Layout, t Text) error {
	_, err := f.WriteAt(trailer(l, t), w.end())
	return err
}

// trailer is a cue point with a label for each span that has a title, and the
// file's own title and comment.
func trailer(l *Layout, t Text) []byte {
	le := binary.LittleEndian
	var points, labels []byte
	n := uint32(0)
	for _, s := range l.Spans {
		if s.Title == "" || s.From > math.MaxUint32 {
			continue
		}
		n++
		points = le.AppendUint32(points, n)              // 4 dwName
		points = le.AppendUint32(points, uint32(s.From)) // 4 dwPosition
		points = append(points, "data"...)               // 4 fccChunk
		points = le.AppendUint32(points, 0)              // 4 dwChunkStart
		points = le.AppendUint32(points, 0)              // 4 dwBlockStart
		points = le.AppendUint32(points, uint32(s.From)) // 4 dwSampleOffset
		labels = append(labels, chunk("labl", append(le.AppendUint32(nil, n), zeroEnded(s.Label())...))...)
	}
	var out []byte
	if n > 0 {
		out = append(out, chunk("cue ", append(le.AppendUint32(nil, n), points...))...)
		out = append(out, chunk("LIST", append([]byte("adtl"), labels...))...)
	}
	var info []byte
	if t.Title != "" {
		info = append(info, chunk("INAM", zeroEnded(t.Title))...)
	}
	if t.Comment != "" {
		info = append(info, chunk("ICMT", zeroEnded(t.Comment))...)
	}
	if info != nil {
		out = append(out, chunk("LIST", append([]byte("INFO"), info...))...)
	}
	return out
}

// chunk is a RIFF chunk, padded to an even number of bytes.
func chunk(id string, body []byte) []byte {
	b := append([]byte(id), 0, 0, 0, 0)
	binary.LittleEndian.PutUint32(b[4:], uint32(len(body)))
	b = append(b, body...)
	if len(body)%2 == 1 {
		b = append(b, 0)
	}
	return b
}

// zeroEnded is a text for a chunk: UTF-8, bounded, ended by a zero byte.
func zeroEnded(s string) []byte {
	const most = 4096
	s = strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", " ")
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") // no half of a letter
	}
	return append([]byte(s), 0)
}
