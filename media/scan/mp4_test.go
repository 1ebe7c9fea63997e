package scan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
)

// bx makes a box: 4 bytes size, 4 letters, contents.
func bx(name string, parts ...string) string {
	body := strings.Join(parts, "")
	return u32(8+len(body)) + name + body
}

func u32(v int) string { return string(binary.BigEndian.AppendUint32(nil, uint32(v))) }
func u16(v int) string { return string(binary.BigEndian.AppendUint16(nil, uint16(v))) }

// m4a is an M4A file by hand (ISO/IEC 14496-12): packets of 10 bytes, in chunks of 4.
type m4a struct {
	packets   int
	delta     int    // time units of a packet
	last      int    // of the last packet
	timescale int    // units a second
	rate      int    // Hz, in the sample entry
	edit      int    // media time; 0: no edit list
	smpb      string // iTunSMPB
	sizes     int    // entries in stsz; 0: as many as packets
	chop      int    // bytes left off at the end

	movie    int    // units a second in mvhd; 0: no mvhd
	edits    []int  // duration in the movie's units, media time, and so on
	duration int    // in mdhd
	entry    string // what follows the sample entry's own fields
	mp4a     bool
	full     string // the last packet's first bytes
}

func (m m4a) bytes() []byte {
	n := m.packets
	ftyp := bx("ftyp", "M4A \x00\x00\x00\x00")
	sizes := m.sizes
	if sizes == 0 {
		sizes = n
	}
	build := func(mdat int) string {
		var offsets string
		chunks := (n + 3) / 4
		for c := range chunks {
			offsets += u32(mdat + 8 + c*40)
		}
		var edts string
		if m.edit > 0 {
			edts = bx("edts", bx("elst", u32(0), u32(1), u32(77), u32(m.edit), u32(1<<16)))
		}
		if len(m.edits) > 0 {
			list := ""
			for i := 0; i < len(m.edits); i += 2 {
				list += u32(m.edits[i]) + u32(m.edits[i+1]) + u32(1<<16)
			}
			edts = bx("edts", bx("elst", u32(0), u32(len(m.edits)/2), list))
		}
		kind := "alac"
		if m.mp4a {
			kind = "mp4a"
		}
		stbl := bx("stbl",
			bx("stsd", u32(0), u32(1), bx(kind, strings.Repeat("\x00", 6), u16(1), strings.Repeat("\x00", 8), u16(2), u16(16), u32(0), u32(m.rate<<16), m.entry)),
			bx("stts", u32(0), u32(2), u32(n-1), u32(m.delta), u32(1), u32(m.last)),
			bx("stsc", u32(0), u32(1), u32(1), u32(4), u32(1)),
			bx("stsz", u32(0), u32(10), u32(sizes)),
			bx("stco", u32(0), u32(chunks), offsets))
		trak := bx("trak",
			bx("tkhd", u32(0), u32(0), u32(0), u32(1), u32(0), u32(0)), edts,
			bx("mdia", bx("mdhd", u32(0), u32(0), u32(0), u32(m.timescale), u32(m.duration), u32(0)), bx("hdlr", u32(0), u32(0), "soun", u32(0), u32(0), u32(0)), bx("minf", stbl)))
		var udta string
		if m.smpb != "" {
			udta = bx("udta", bx("meta", u32(0), bx("hdlr", u32(0)), bx("ilst", bx("----", bx("mean", u32(0), "org.example"), bx("name", u32(0), "iTunSMPB"), bx("data", u32(1), u32(0), m.smpb)))))
		}
		var mvhd string
		if m.movie > 0 {
			mvhd = bx("mvhd", u32(0), u32(0), u32(0), u32(m.movie), u32(0))
		}
		return bx("moov", mvhd, trak, udta)
	}
	at := len(ftyp) + len(build(0))
	b := ftyp + build(at) + bx("mdat", strings.Repeat("\x55", n*10-len(m.full)), m.full)
	return []byte(b[:len(b)-m.chop])
}

func TestM4AByHand(t *testing.T) {
	base := m4a{packets: 100, delta: 4096, last: 1000, timescale: 44100, rate: 44100}
	whole := int64(99*4096 + 1000)
	with := func(f func(*m4a)) m4a { m := base; f(&m); return m }
	for _, c := range []struct {
		what string
		m    m4a
		want int64
		from Known
		note string
	}{
		{"plain", base, whole, Header, ""},
		{"an edit list: its media time goes", with(func(m *m4a) { m.edit = 2112 }), whole - 2112, Header, ""},
		// 840 hex = 2112 in front, 64 hex = 100 behind, 622FC hex = 402172 = 404504 + 4096 ... less both
		{"a gapless note", with(func(m *m4a) { m.smpb = fmt.Sprintf(" 00000000 00000840 00000064 %016X", whole-2112-100) }), whole - 2212, Header, ""},
		{"a gapless note that promises more than there is", with(func(m *m4a) { m.smpb = fmt.Sprintf(" 00000000 00000840 00000064 %016X", whole+1) }), whole, Header, ""},
		{"a clock of a second's 600th", with(func(m *m4a) { m.timescale, m.delta, m.last = 600, 60, 30 }), 5970 * 44100 / 600, Header, ""},
		{"fewer sizes than times", with(func(m *m4a) { m.sizes = 60 }), 60 * 4096, Counted, "cut off"},
		{"cut off in the middle of the 73rd packet", with(func(m *m4a) { m.chop = 275 }), 72 * 4096, Counted, "cut off"},
	} {
		b := c.m.bytes()
		for _, scan := range []func(*bytes.Reader, int64) (Info, error){quick, walked1} {
			info, err := scan(bytes.NewReader(b), int64(len(b)))
			if err != nil || info.Samples != c.want || info.Rate != 44100 || info.Codec != "ALAC" {
				t.Errorf("%s: %d samples at %d Hz, %s, %v; want %d", c.what, info.Samples, info.Rate, info.Codec, err, c.want)
			}
			if notes := strings.Join(info.Notes, "; "); !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
				t.Errorf("%s: notes %q", c.what, notes)
			}
		}
		if info, _ := quick(bytes.NewReader(b), int64(len(b))); info.From != c.from {
			t.Errorf("%s: %s, want %s", c.what, info.From, c.from)
		}
	}
}

func TestM4ARefused(t *testing.T) {
	for _, c := range []struct {
		what string
		b    []byte
		says string
	}{
		{"more time than a file of this size can hold", m4a{packets: 4, delta: 1 << 30, last: 1 << 30, timescale: 44100, rate: 44100}.bytes(), "more sound than"},
		{"more, by a clock of a second", m4a{packets: 4, delta: 60000, last: 1, timescale: 1, rate: 44100}.bytes(), "more sound than"},
		{"no clock", m4a{packets: 4, delta: 1, last: 1, rate: 44100}.bytes(), "no time scale"},
		{"a film without sound", []byte(strings.ReplaceAll(string(m4a{packets: 4, delta: 1, last: 1, timescale: 9000}.bytes()), "soun", "vide")), "without a track of sound"},
	} {
		if _, err := quick(bytes.NewReader(c.b), int64(len(c.b))); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}

// VBRI: 36 bytes into the first frame. It is checked by walking, and its delay
// counts from its own frame on, with the decoder's in it.
func TestVBRI(t *testing.T) {
	for _, c := range []struct {
		frames, delay int
		samples       int64
		note          string
	}{
		{9, 3505, 9*1152 - (3505 - 1152), "states 0.053 s of silence"},
		{9, 2353, 9*1152 - (2353 - 1152), "states 0.027 s of silence"},
		{9, 0, 9 * 1152, ""},
		{9, 1152, 9 * 1152, ""},
		{9, 1152 + 528, 9 * 1152, ""}, // less than the decoder's own
		{9, 65535, 9 * 1152, ""},      // no delay
		{5000, 3505, 9*1152 - (3505 - 1152), "the header is wrong"},
	} {
		b := mp3Bytes(10)
		tag := "VBRI\x00\x01" + string([]byte{byte(c.delay >> 8), byte(c.delay)}) + "\x00\x50" + u32(len(b)) + u32(c.frames)
		copy(b[36:], tag)
		info, err := quick(bytes.NewReader(b), int64(len(b)))
		if err != nil || info.Samples != c.samples || info.From != Counted || !info.MPEG.TagFrame {
			t.Errorf("%+v: %+v, %v", c, info, err)
		}
		if notes := strings.Join(info.Notes, ""); !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
			t.Errorf("notes %q", notes)
		}
	}
}
