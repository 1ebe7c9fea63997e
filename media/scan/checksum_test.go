package scan

import (
	"math"
	"testing"
)

// The check values are those of the "123456789" test in the catalogue of
// parametrised CRC algorithms, under the names given.
func TestChecksums(t *testing.T) {
	in := []byte("123456789")
	if got := crc16ARC(in); got != 0xBB3D { // CRC-16/ARC
		t.Errorf("encoder tag: %04X", got)
	}
	if got := crc16(0, in); got != 0xFEE8 { // CRC-16/UMTS
		t.Errorf("FLAC frame: %04X", got)
	}
	if got := crc8(in); got != 0xF4 { // CRC-8/SMBUS
		t.Errorf("FLAC header: %02X", got)
	}
	if got := crc32Ogg(0, in); got != 0x89A1897F { // as CRC-32/CKSUM, without the length and the last inversion
		t.Errorf("Ogg page: %08X", got)
	}
}

func TestCodedNumber(t *testing.T) {
	// RFC 3629 3 for the forms up to four bytes; RFC 9639 9.1.5 goes on to seven.
	for _, c := range []struct {
		in   string
		n    int64
		used int
	}{
		{"\x00", 0, 1}, {"\x7F", 127, 1}, {"\xC2\x80", 128, 2}, {"\xE2\x82\xAC", 0x20AC, 3},
		{"\xF0\x9F\x98\x80", 0x1F600, 4}, {"\xF8\x88\x80\x80\x80", 0x200000, 5}, {"\xFE\xBF\xBF\xBF\xBF\xBF\xBF", 1<<36 - 1, 7},
		{"\x80", 0, 0}, {"\xFF", 0, 0}, {"\xC2", 0, 0}, {"\xC2\x00", 0, 0},
	} {
		if n, used := codedNumber([]byte(c.in)); n != c.n || used != c.used {
			t.Errorf("% X: %d in %d bytes, want %d in %d", c.in, n, used, c.n, c.used)
		}
	}
}

func TestExtended(t *testing.T) {
	// 44100 is 1.0101100010001 x 2^15 in binary: exponent 16383+15, mantissa AC44 from the top.
	for _, c := range []struct {
		b    []byte
		want float64
	}{
		{[]byte{0x40, 0x0E, 0xAC, 0x44, 0, 0, 0, 0, 0, 0}, 44100},
		{[]byte{0x40, 0x0E, 0xBB, 0x80, 0, 0, 0, 0, 0, 0}, 48000},
		{[]byte{0x3F, 0xFF, 0x80, 0, 0, 0, 0, 0, 0, 0}, 1},
		{[]byte{0xC0, 0x0E, 0xAC, 0x44, 0, 0, 0, 0, 0, 0}, 0},
		{[]byte{0x7F, 0xFF, 0x80, 0, 0, 0, 0, 0, 0, 0}, math.Inf(1)},
	} {
		if got := extended(c.b); got != c.want {
			t.Errorf("% X: %g, want %g", c.b, got, c.want)
		}
	}
}

func TestParseSMPB(t *testing.T) {
	// 0x840 = 2112 samples in front, 0x1CA = 458 behind, 0x3F31F6 of music
	d, p, n, ok := parseSMPB(" 00000000 00000840 000001CA 00000000003F31F6 00000000 00000000")
	if !ok || d != 2112 || p != 458 || n != 4141558 {
		t.Errorf("%d %d %d %v", d, p, n, ok)
	}
	for _, bad := range []string{"", "0 1 2", "0 x 0 1", "0 0 0 0", "0 -1 0 5", "0 FFFFFFFF 0 5"} {
		if _, _, _, ok := parseSMPB(bad); ok {
			t.Errorf("%q was taken", bad)
		}
	}
}
