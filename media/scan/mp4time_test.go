package scan

import (
	"bytes"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"longside/testdata/reftool"
)

// esds of AAC with a set-up. ref: ISO/IEC 14496-1 7.2.6.
func esds(config string) string {
	set := "\x05" + string(rune(len(config))) + config
	dec := "\x04" + string(rune(13+len(set))) + "\x40\x15" + strings.Repeat("\x00", 11) + set
	return bx("esds", u32(0), "\x03"+string(rune(3+len(dec)))+"\x00\x01\x00"+dec)
}

// cookie is ALAC's set-up, of 4096 samples a packet.
func cookie(rate int) string {
	return bx("alac", u32(0), u32(4096), "\x00\x10\x28\x0a\x0e\x02\x00\xff", u32(0), u32(0), u32(rate))
}

func TestAACTime(t *testing.T) {
	for _, c := range []struct {
		what, config string
		want         packetTime
	}{
		// 5 bits object type, 4 rate, 4 channels, 1 frame length: 00010 0100 0010 0 00
		{"LC, 44.1 kHz", "\x12\x10", packetTime{1024, 44100}},
		{"LC, 48 kHz, mono", "\x11\x88", packetTime{1024, 48000}},
		{"LC, frames of 960", "\x12\x14", packetTime{960, 44100}},
		// 00101 0111 0010 0100 00010 0 00: SBR over 22.05 kHz, to 44.1
		{"HE, told", "\x2b\x92\x08\x00", packetTime{1024, 22050}},
		// 00010 1111 and 24 bits of 44056, 0010 0
		{"a rate of its own", "\x17\x80\x56\x0c\x10", packetTime{1024, 44056}},
		{"low delay (23): not known", "\xba\x10", packetTime{}},
		{"cut off", "\x12", packetTime{}},
		{"nothing", "", packetTime{}},
		{"a reserved rate", "\x16\x90", packetTime{}},
	} {
		if got := aacTime([]byte(c.config)); got != c.want {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
}

func TestM4AThatContradictsItself(t *testing.T) {
	const delay, held = "states no encoder delay", 100 * 1024
	aac := m4a{packets: 100, delta: 1024, last: 1024, timescale: 44100, rate: 44100, mp4a: true, entry: esds("\x12\x10")}
	he := aac
	he.entry = esds("\x13\x90") // LC at 22.05 kHz, the doubling not told
	alac := m4a{packets: 100, delta: 4096, last: 1000, timescale: 44100, rate: 44100, entry: cookie(44100)}
	// The last ALAC packet: a pair, partial, of 1000 samples: 001 0000 0*12 1 00 0, then 1000 in 32 bits.
	partial := "\x20\x00\x10" + u32(1000<<1) + "\x00\x00\x00"
	with := func(m m4a, f func(*m4a)) m4a { f(&m); return m }
	for _, c := range []struct {
		what  string
		m     m4a
		want  int64
		rate  int
		notes []string
	}{
		{"AAC", aac, held, 44100, []string{delay}},
		{"AAC, a short last packet", with(aac, func(m *m4a) { m.last = 10 }), held - 1014, 44100, []string{delay}},
		{"AAC by milliseconds", with(aac, func(m *m4a) { m.timescale, m.delta, m.last = 1000, 23, 23 }), 2300 * 44100 / 1000, 44100, []string{delay}},
		{"HE-AAC by its core's clock", with(he, func(m *m4a) { m.timescale = 22050 }), held, 22050, []string{delay}},
		{"HE-AAC by the doubled clock", with(he, func(m *m4a) { m.delta, m.last = 2048, 2048 }), 2 * held, 44100, []string{delay}},
		{"AAC of 960", with(aac, func(m *m4a) { m.delta, m.last, m.entry = 960, 960, esds("\x12\x14") }), 96000, 44100, []string{delay}},
		{"AAC with times twice too long", with(aac, func(m *m4a) { m.delta = 2048 }), held, 44100, []string{"(stts) and clock 0:04, by its packets 0:02, which are counted", delay}},
		{"AAC with times half too long", with(aac, func(m *m4a) { m.delta = 512 }), held, 44100, []string{"(stts) and clock 0:01, by its packets 0:02", delay}},
		{"the same with an edit list", with(aac, func(m *m4a) { m.delta, m.movie, m.edits = 2048, 1000, []int{2290, 1024} }), 2290 * 441 / 10, 44100, []string{"(stts) and clock 0:04"}},
		{"AAC with half the clock", with(aac, func(m *m4a) { m.timescale = 22050 }), held, 44100, []string{"(stts) and clock 0:04, by its packets 0:02", delay}},
		{"HE-AAC with times twice too long", with(he, func(m *m4a) { m.delta = 4096 }), 2 * held, 44100, []string{"(stts) and clock 0:09, by its packets 0:04", delay}},
		{"ALAC", alac, 99*4096 + 1000, 44100, nil},
		{"ALAC with times twice too long", with(alac, func(m *m4a) { m.delta = 8192 }), 100 * 4096, 44100, []string{"(stts) and clock 0:18, by its packets 0:09"}},
		{"its last packet says how much it holds", with(alac, func(m *m4a) { m.delta, m.full = 8192, partial }), 99*4096 + 1000, 44100, []string{"0:18"}},
		{"and is cut off", with(alac, func(m *m4a) { m.delta, m.full, m.chop = 8192, partial, 15 }), 98 * 4096, 44100, []string{"0:18", "cut off: the header promises 0:09.287, the file holds 0:09.102"}},
		{"a media header of nothing like it", with(aac, func(m *m4a) { m.duration = 4410000 }), held, 44100, []string{"media header (mdhd) 1:40, by its table of times (stts) and packets 0:02, which are counted", delay}},
		{"a media header that agrees", with(aac, func(m *m4a) { m.duration = held }), held, 44100, []string{delay}},
	} {
		checkM4A(t, c.what, c.m, c.want, c.rate, c.notes...)
	}
	// Where packets do not tell, nothing can be counted.
	other := m4a{packets: 100, delta: 4096, last: 4096, timescale: 44100, rate: 44100, duration: 100}
	checkM4A(t, "no set-up", other, 100*4096, 44100, "(mdhd) 0:00, by its table of times (stts) 0:09, which is taken")
	b := other.bytes()
	if info, _ := quick(bytes.NewReader(b), int64(len(b))); info.From != Estimated {
		t.Errorf("no set-up: %s", info.From)
	}
}

// A good file of ten seconds with one statement changed, against what ffmpeg decodes.
func TestM4AChanged(t *testing.T) {
	reftool.Need(t, "ffmpeg")
	dir := t.TempDir()
	name := filepath.Join(dir, "a.m4a")
	for _, codec := range []string{"aac", "alac"} {
		if out, err := exec.Command("ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", "sine=440:r=44100:d=10", "-c:a", codec, name).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		good, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		frame := int64(1024)
		if codec == "alac" {
			frame = 4096
		}
		for _, c := range []struct {
			what, box string
			at        int // bytes behind the box's name
			v         uint32
			same      bool // ffmpeg's own count is to be met, to two packets
			want      int64
		}{
			{"nothing", "elst", 4, 1, true, 441000},
			{"an edit of 3 s", "elst", 8, 3000, true, 3 * 44100},
			{"stts twice too long", "stts", 12, uint32(2 * frame), false, 441000},
			{"half the clock", "mdhd", 12, 22050, false, 441000},
			{"no duration in mdhd", "mdhd", 16, 100, true, 441000},
		} {
			b := bytes.Clone(good)
			binary.BigEndian.PutUint32(b[bytes.Index(b, []byte(c.box))+4+c.at:], c.v)
			for _, scan := range []func(*bytes.Reader, int64) (Info, error){quick, walked1} {
				if info, err := scan(bytes.NewReader(b), int64(len(b))); err != nil || info.Samples != c.want {
					t.Errorf("%s, %s: %d samples, %v; want %d", codec, c.what, info.Samples, err, c.want)
				}
			}
			if !c.same {
				continue
			}
			changed := filepath.Join(dir, "b.m4a")
			if err := os.WriteFile(changed, b, 0o600); err != nil {
				t.Fatal(err)
			}
			pcm, err := exec.Command("ffmpeg", "-v", "error", "-i", changed, "-f", "s16le", "-ac", "1", "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			if n := int64(len(pcm)) / 2; n < c.want || n > c.want+2*frame {
				t.Errorf("%s, %s: ffmpeg decodes %d samples, want %d and at most two packets more", codec, c.what, n, c.want)
			}
		}
	}
}
