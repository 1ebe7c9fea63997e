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

// formed is a WAV whose fmt chunk is as given; fact is left out where it is 0.
func formed(tag, channels, rate, byteRate, align, bits, perBlock, fact, held int) []byte {
	le := binary.LittleEndian
	f := le.AppendUint16(nil, uint16(tag))
	f = le.AppendUint16(f, uint16(channels))
	f = le.AppendUint32(f, uint32(rate))
	f = le.AppendUint32(f, uint32(byteRate))
	f = le.AppendUint16(f, uint16(align))
	f = le.AppendUint16(f, uint16(bits))
	if perBlock > 0 {
		f = le.AppendUint16(le.AppendUint16(f, 2), uint16(perBlock))
	}
	b := append([]byte("RIFF\x00\x00\x00\x00WAVEfmt "), le.AppendUint32(nil, uint32(len(f)))...)
	b = append(b, f...)
	if fact > 0 {
		b = le.AppendUint32(append(b, "fact\x04\x00\x00\x00"...), uint32(fact))
	}
	b = le.AppendUint32(append(b, "data"...), uint32(held))
	b = append(b, make([]byte, held)...)
	le.PutUint32(b[4:], uint32(len(b)-8))
	return b
}

// A block align that contradicts the bits is told; the bits count, as for players,
// unless the byte rate bears the block align out. The judge is ffmpeg, where the
// bits count.
func TestBlockAlign(t *testing.T) {
	for _, c := range []struct {
		align, byteRate, bits int
		samples               int64
		note                  string
	}{
		{4, 176400, 16, 6600, ""},
		{34, 176400, 16, 6600, "the bits are taken"},
		{2, 176400, 16, 6600, "the bits are taken"},
		{0, 176400, 16, 6600, "the bits are taken"},
		{3, 176400, 16, 6600, "the bits are taken"},
		{8, 176400, 16, 6600, "the bits are taken"},
		{8, 352800, 16, 3300, "the block align is taken"},
		{8, 352800, 20, 3300, ""},
		{6, 264600, 24, 4400, ""},
	} {
		b := formed(1, 2, 44100, c.byteRate, c.align, c.bits, 0, 0, 26400)
		info, err := quick(bytes.NewReader(b), int64(len(b)))
		notes := strings.Join(info.Notes, "; ")
		if err != nil || info.Samples != c.samples || !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
			t.Errorf("%+v: %d samples, %q, %v", c, info.Samples, notes, err)
		}
		if info.PCM.BytesPerSample > 8 {
			t.Errorf("%+v: samples of %d bytes", c, info.PCM.BytesPerSample)
		}
	}
}

// ADPCM: the fact chunk says where the sound ends; a last block that is cut short
// holds what ffmpeg decodes of it.
func TestADPCM(t *testing.T) {
	ffmpeg := reftool.Need(t, "ffmpeg")
	for _, c := range []struct {
		tag, channels, align, perBlock, fact, held int
		samples                                    int64
		note                                       string
	}{
		{0x11, 2, 512, 505, 0, 512 * 8, 8 * 505, ""},
		{0x11, 2, 512, 505, 8*505 - 340, 512 * 8, 8*505 - 340, ""},
		{0x11, 2, 512, 505, 8*505 - 1200, 512 * 8, 8*505 - 1200, ""},
		{0x11, 2, 512, 505, 100, 512 * 8, 8 * 505, "by its fact chunk"},
		{0x11, 2, 512, 505, 9999, 512 * 8, 8 * 505, ""},
		{0x11, 2, 512, 505, 0, 512*7 + 256, 7*505 + 249, ""},
		{0x11, 1, 512, 1017, 0, 512*7 + 100, 7*1017 + 193, ""},
		{0x11, 2, 512, 505, 7*505 + 100, 512*7 + 256, 7*505 + 100, ""},
	} {
		b := formed(c.tag, c.channels, 44100, 44100, c.align, 4, c.perBlock, c.fact, c.held)
		info, err := quick(bytes.NewReader(b), int64(len(b)))
		notes := strings.Join(info.Notes, "; ")
		if err != nil || info.Samples != c.samples || !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
			t.Errorf("%+v: %d samples, %q, %v", c, info.Samples, notes, err)
		}
		name := filepath.Join(t.TempDir(), "a.wav")
		if err := os.WriteFile(name, b, 0o666); err != nil {
			t.Fatal(err)
		}
		out, _ := exec.Command(ffmpeg, "-v", "error", "-i", name, "-f", "s16le", "-").Output()
		if n := int64(len(out) / 2 / c.channels); n != info.Samples+info.Padding {
			t.Errorf("%+v: %d samples with the padding, ffmpeg decodes %d", c, info.Samples+info.Padding, n)
		}
	}
}
