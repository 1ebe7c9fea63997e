package paper

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
)

// turnedJPEG is a picture with a red top left quarter in black, kept turned as a
// camera would, with the Exif orientation that says so.
func turnedJPEG(t testing.TB, orientation uint16, big bool) []byte {
	t.Helper()
	// Where the upright picture's red corner lies in the file, by Exif 2.3, 4.6.4:
	// 0th row and 0th column of the file are the top and left (1), top and right (2),
	// bottom and right (3), bottom and left (4), left and top (5), right and top (6),
	// right and bottom (7), left and bottom (8) of what is seen.
	type corner struct{ right, below bool }
	at := map[uint16]corner{1: {}, 2: {right: true}, 3: {true, true}, 4: {below: true}, 5: {}, 6: {below: true}, 7: {true, true}, 8: {right: true}}[orientation]
	w, h := 64, 32
	if orientation >= 5 {
		w, h = h, w
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{0, 0, 0, 255}
			if (x >= w/2) == at.right && (y >= h/2) == at.below {
				c.R = 255
			}
			img.Set(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	var o interface {
		binary.ByteOrder
		binary.AppendByteOrder
	} = binary.LittleEndian
	mark := "II*\x00"
	if big {
		o, mark = binary.BigEndian, "MM\x00*"
	}
	tiff := []byte(mark)
	tiff = o.AppendUint32(tiff, 8)      // the first directory
	tiff = o.AppendUint16(tiff, 1)      // one entry
	tiff = o.AppendUint16(tiff, 0x0112) // orientation
	tiff = o.AppendUint16(tiff, 3)      // a short
	tiff = o.AppendUint32(tiff, 1)
	tiff = o.AppendUint16(tiff, orientation)
	tiff = append(tiff, 0, 0, 0, 0, 0, 0)
	app := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, byte((len(app)+2)>>8), byte(len(app)+2))
	return append(append(out, app...), b.Bytes()[2:]...)
}

func TestOrientation(t *testing.T) {
	for o := uint16(1); o <= 8; o++ {
		for _, big := range []bool{false, true} {
			p, err := DecodePicture(turnedJPEG(t, o, big))
			if err != nil {
				t.Fatal(err)
			}
			if b := p.img.Bounds(); b.Dx() != 64 || b.Dy() != 32 {
				t.Errorf("orientation %d: %v, want 64 x 32", o, b)
				continue
			}
			for _, c := range []struct {
				x, y int
				red  bool
			}{{16, 8, true}, {48, 8, false}, {16, 24, false}, {48, 24, false}} {
				r, _, _, _ := p.img.At(c.x, c.y).RGBA()
				if (r > 0x8000) != c.red {
					t.Errorf("orientation %d: red %v at %d, %d", o, r > 0x8000, c.x, c.y)
				}
			}
		}
	}
}

func TestBadPictures(t *testing.T) {
	good := turnedJPEG(t, 6, false)
	// A PNG whose header claims 60000 x 60000 pixels, by its IHDR (PNG 1.2, 11.2.2).
	huge := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\xEA\x60\x00\x00\xEA\x60\x08\x02\x00\x00\x00")
	huge = binary.BigEndian.AppendUint32(huge, 0x9E7A1E60)
	for _, c := range []struct {
		name string
		data []byte
	}{
		{"empty", nil}, {"text", []byte("a picture of a ferry")}, {"cut off", good[:len(good)/2]},
		{"head only", good[:4]}, {"huge", huge}, {"gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;")},
	} {
		p, err := DecodePicture(c.data)
		if err == nil || p != nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, %v", c.name, p, err)
		}
	}
}

// A picture keeps its shape: what is cut is cut from the middle of both sides.
func TestCrop(t *testing.T) {
	p := checks() // 80 x 60
	for _, c := range []struct {
		w, h float64
		want image.Rectangle
	}{
		{80, 60, image.Rect(0, 0, 80, 60)}, {40, 30, image.Rect(0, 0, 80, 60)},
		{60, 60, image.Rect(10, 0, 70, 60)}, {80, 30, image.Rect(0, 15, 80, 45)},
	} {
		if got := p.cropped(c.w, c.h); got != c.want {
			t.Errorf("for %g x %g: %v, want %v", c.w, c.h, got, c.want)
		}
	}
}

// FuzzPicture: a picture or an error, never both; and what is a picture can be drawn.
func FuzzPicture(f *testing.F) {
	f.Add(turnedJPEG(f, 6, true))
	f.Add(turnedJPEG(f, 1, false)[:200])
	var b bytes.Buffer
	png.Encode(&b, image.NewGray(image.Rect(0, 0, 5, 3)))
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		if cfg, _, err := image.DecodeConfig(bytes.NewReader(data)); err == nil && cfg.Width*cfg.Height > 1e6 {
			t.Skip() // allowed, and slow
		}
		p, err := DecodePicture(data)
		if (p == nil) == (err == nil) {
			t.Fatalf("%v and %v", p, err)
		}
		if p != nil {
			if img := p.raster(20, 10); img.Rect.Empty() {
				t.Error("nothing to draw")
			}
		}
	})
}

// TestDamagedFonts shapes and writes with copies of a font that were damaged in
// sixty ways: each is refused or does what it can.
func TestDamagedFonts(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		data := slices.Clone(dejavusanscondensed.TTF)
		for range 1 + rnd.IntN(200) {
			// The tables' directory and the first tables are where most depends on.
			n := len(data)
			if rnd.IntN(2) == 0 {
				n = 2000
			}
			data[rnd.IntN(n)] = byte(rnd.Uint32())
		}
		if rnd.IntN(3) == 0 {
			data = data[:rnd.IntN(len(data))]
		}
		f, err := NewFonts(data, dejavusanscondensed.TTF)
		if err != nil {
			continue
		}
		d := &Document{}
		p := d.Add(100, 60)
		for i, s := range append(sampleText, "אור 12", "لا قمر") {
			p.Text(5, 6+float64(i)*6, f.Line(s, Regular), 9, Black, Left)
		}
		if _, err := d.PDF(); err != nil {
			t.Error(err)
		}
		if _, err := d.PNG(0, 30); err != nil {
			t.Error(err)
		}
	}
}
