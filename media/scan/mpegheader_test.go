package scan

import "testing"

// header builds the four bytes from the fields of ISO/IEC 11172-3 2.4.1.3.
func header(id, layer, bitrate, rate, padding, mode, ext uint32) []byte {
	v := 0x7FF<<21 | id<<19 | layer<<17 | 1<<16 | bitrate<<12 | rate<<10 | padding<<9 | mode<<6 | ext<<4
	return []byte{byte(v >> 24), byte(v >> 16), byte(v >> 8), byte(v)}
}

func TestFrameSizes(t *testing.T) {
	const mpeg1, mpeg2, mpeg25 = 3, 2, 0
	const layer1, layer2, layer3 = 3, 2, 1
	for _, c := range []struct {
		what                              string
		id, layer, bitrate, rate, padding uint32
		size, samples                     int
	}{
		// ISO/IEC 11172-3 2.4.3.1: N = 144 * bitrate / rate, whole slots, and the padding slot.
		{"III 128k 44.1", mpeg1, layer3, 9, 0, 0, 417, 1152}, // 144*128000/44100 = 417.96
		{"III 128k 44.1 padded", mpeg1, layer3, 9, 0, 1, 418, 1152},
		{"III 320k 48", mpeg1, layer3, 14, 1, 0, 960, 1152},   // 144*320000/48000
		{"III 32k 48", mpeg1, layer3, 1, 1, 0, 96, 1152},      // 144*32000/48000
		{"III 320k 32", mpeg1, layer3, 14, 2, 1, 1441, 1152},  // 144*320000/32000 + 1
		{"II 384k 44.1", mpeg1, layer2, 14, 0, 0, 1253, 1152}, // 144*384000/44100 = 1253.9
		{"II 192k 48", mpeg1, layer2, 10, 1, 0, 576, 1152},
		// Layer I: N = 12 * bitrate / rate, slots of four bytes.
		{"I 384k 44.1", mpeg1, layer1, 12, 0, 0, 416, 384}, // 12*384000/44100 = 104.5 slots
		{"I 384k 44.1 padded", mpeg1, layer1, 12, 0, 1, 420, 384},
		{"I 448k 32", mpeg1, layer1, 14, 2, 0, 672, 384}, // 168 slots
		// ISO/IEC 13818-3 2.4.3.1: half the slots in layer III at low rates.
		{"III 64k 22.05", mpeg2, layer3, 8, 0, 0, 208, 576}, // 72*64000/22050 = 208.98
		{"III 160k 16", mpeg2, layer3, 14, 2, 0, 720, 576},
		{"III 8k 24", mpeg2, layer3, 1, 1, 0, 24, 576},
		{"II 64k 22.05", mpeg2, layer2, 8, 0, 0, 417, 1152}, // 144*64000/22050
		{"I 256k 24", mpeg2, layer1, 14, 1, 0, 512, 384},    // 12*256000/24000 = 128 slots
		{"III 8k 8 (2.5)", mpeg25, layer3, 1, 2, 0, 72, 576},
		{"III 160k 8 (2.5)", mpeg25, layer3, 14, 2, 1, 1441, 576},
		{"III 64k 11.025 (2.5)", mpeg25, layer3, 8, 0, 0, 417, 576}, // 72*64000/11025
	} {
		h, ok := parseMPEG(header(c.id, c.layer, c.bitrate, c.rate, c.padding, 0, 0))
		if !ok || h.size() != c.size || h.samples() != c.samples {
			t.Errorf("%s: %v, %d bytes, %d samples; want %d, %d", c.what, ok, h.size(), h.samples(), c.size, c.samples)
		}
		if h.minSize() > h.size() {
			t.Errorf("%s: smaller than the smallest, %d", c.what, h.minSize())
		}
	}
}

func TestForbiddenHeaders(t *testing.T) {
	for what, b := range map[string][]byte{
		"reserved version":  header(1, 1, 9, 0, 0, 0, 0),
		"reserved layer":    header(3, 0, 9, 0, 0, 0, 0),
		"bitrate 1111":      header(3, 1, 15, 0, 0, 0, 0),
		"reserved rate":     header(3, 1, 9, 3, 0, 0, 0),
		"reserved emphasis": {0xFF, 0xFB, 0x90, 0x02},
		"no sync":           {0xFE, 0xFB, 0x90, 0x00},
		"short":             {0xFF, 0xFB, 0x90},
	} {
		if _, ok := parseMPEG(b); ok {
			t.Errorf("%s: taken for a frame header", what)
		}
	}
}

func TestGuardFacts(t *testing.T) {
	const mpeg1, mpeg2, layer3 = 3, 2, 1
	for _, c := range []struct {
		what            string
		b               []byte
		trap, intensity bool
	}{
		{"MPEG-2 56k 22.05 padded: 144*56000/22050 = 365, odd", header(mpeg2, layer3, 7, 0, 1, 0, 0), false, false},
		{"MPEG-2 64k 24 padded: 144*64000/24000 = 384, even", header(mpeg2, layer3, 8, 1, 1, 0, 0), true, false},
		{"the same without padding", header(mpeg2, layer3, 8, 1, 0, 0, 0), false, false},
		{"MPEG-1 padded", header(mpeg1, layer3, 9, 0, 1, 0, 0), false, false},
		{"joint, intensity", header(mpeg1, layer3, 9, 0, 0, 1, 1), false, true},
		{"joint, middle/side only", header(mpeg1, layer3, 9, 0, 0, 1, 2), false, false},
		{"stereo, where the bits mean nothing", header(mpeg1, layer3, 9, 0, 0, 0, 3), false, false},
	} {
		h, ok := parseMPEG(c.b)
		if !ok || h.paddingTrap() != c.trap || h.intensity() != c.intensity {
			t.Errorf("%s: %v, trap %v, intensity %v", c.what, ok, h.paddingTrap(), h.intensity())
		}
	}
}
