package paper

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// TestPictureBytes: what a picture is said to take while it is decoded is what
// the library allocates, measured, for every kind that it reads. The samples are
// those of Go's own tests, and PNG files made here.
func TestPictureBytes(t *testing.T) {
	files := map[string][]byte{}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Skipf("no go command: %v", err)
	}
	names, _ := filepath.Glob(filepath.Join(strings.TrimSpace(string(root)), "src/image/testdata/*.[jp][pn]*g"))
	for _, name := range names {
		if b, err := os.ReadFile(name); err == nil {
			files[filepath.Base(name)] = b
		}
	}
	box := image.Rect(0, 0, 300, 200)
	for name, img := range map[string]image.Image{
		"gray": image.NewGray(box), "gray16": image.NewGray16(box), "rgb": image.NewRGBA(box), "nrgba": image.NewNRGBA(box),
		"rgba64": image.NewRGBA64(box), "nrgba64": image.NewNRGBA64(box), "palette": image.NewPaletted(box, color.Palette{color.Black, color.White}),
	} {
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		files[name+".made.png"] = b.Bytes()
	}
	jpegs := 0
	for name, b := range files {
		cfg, kind, err := image.DecodeConfig(bytes.NewReader(b))
		if err != nil || kind == "gif" {
			continue
		}
		says := pngBytes(b, cfg)
		if kind == "jpeg" {
			jpegs++
			says = jpegBytes(b)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _, err = image.Decode(bytes.NewReader(b))
		runtime.ReadMemStats(&after)
		if err != nil {
			continue
		}
		pixels := float64(cfg.Width * cfg.Height)
		took := float64(after.TotalAlloc - before.TotalAlloc)
		// Rows are filled up to whole blocks of 16, and tables take some 100 KB.
		room := 120e3 + says*(float64((cfg.Width+31)*(cfg.Height+31))-pixels)
		if took > says*pixels+room {
			t.Errorf("%s: %.1f bytes a pixel are said, %.1f were taken", name, says, took/pixels)
		}
		if says > 8 && took < says*pixels/4 {
			t.Errorf("%s: %.1f bytes a pixel are said, but only %.1f were taken", name, says, took/pixels)
		}
	}
	if jpegs < 10 {
		t.Skipf("only %d JPEG samples in Go's own tests", jpegs)
	}
}

// hugePNG states a size that it does not hold.
func hugePNG(w, h uint32, bits, kind, interlace byte) []byte {
	b := []byte("\x89PNG\r\n\x1a\n")
	chunk := func(name string, data []byte) {
		b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
		b = append(append(b, name...), data...)
		b = binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[len(b)-len(data)-4:]))
	}
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	chunk("IHDR", append(head, bits, kind, 0, 0, interlace))
	chunk("IDAT", nil)
	return b
}

// TestHugePictures: what states too many pixels is refused before a byte is made
// room for.
func TestHugePictures(t *testing.T) {
	for _, c := range []struct {
		name string
		data []byte
		says string // empty: it is tried, and is cut off
	}{
		{"30,000 squared", hugePNG(30000, 30000, 1, 0, 0), "smaller than 64 million"},
		{"16 bits", hugePNG(5000, 5000, 16, 6, 0), "smaller than 12 million"},
		{"16 bits, interlaced", hugePNG(3000, 3000, 16, 6, 1), "smaller than 6 million"},
		{"8 bits", hugePNG(6000, 6000, 8, 6, 0), "smaller than 25 million"},
		{"one row", hugePNG(1<<31-1, 1, 8, 0, 0), "too large"},
		{"8 bits, fits", hugePNG(100, 100, 8, 6, 0), ""},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := DecodePicture(c.data)
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), c.says) || c.says == "" && strings.Contains(err.Error(), "too large") {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
		if took := after.TotalAlloc - before.TotalAlloc; took > 1<<20 {
			t.Errorf("%s: %d bytes were taken", c.name, took)
		}
	}
}

// TestReduced compares the reduction with a mean taken another way, from sums over
// the whole picture (a summed-area table), of a picture of every kind.
func TestReduced(t *testing.T) {
	const w, h = 2*keptPixels + 301, 77
	rgba := image.NewRGBA(image.Rect(0, 0, w, h))
	ycc := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	for y := range h {
		for x := range w {
			rgba.SetRGBA(x, y, color.RGBA{uint8(x * 7), uint8(y*x + 3), uint8(x ^ y), 255})
			ycc.Y[ycc.YOffset(x, y)] = uint8(x*3 + y)
			ycc.Cb[ycc.COffset(x, y)] = uint8(x / 2)
			ycc.Cr[ycc.COffset(x, y)] = uint8(y)
		}
	}
	for _, img := range []image.Image{rgba, ycc} {
		got := reduced(img)
		if b := got.Bounds(); b.Dx() != w/3 || b.Dy() != h/3 {
			t.Fatalf("%v of %v", b, img.Bounds())
		}
		var sum [3][][]float64
		for k := range sum {
			sum[k] = make([][]float64, h+1)
			sum[k][0] = make([]float64, w+1)
		}
		for y := range h {
			for k := range sum {
				sum[k][y+1] = make([]float64, w+1)
			}
			for x := range w {
				r, g, b, _ := img.At(x, y).RGBA()
				for k, v := range []uint32{r, g, b} {
					sum[k][y+1][x+1] = float64(v) + sum[k][y][x+1] + sum[k][y+1][x] - sum[k][y][x]
				}
			}
		}
		for y := range h / 3 {
			for x := range w / 3 {
				r, g, b, _ := got.At(x, y).RGBA()
				for k, v := range []uint32{r, g, b} {
					s := sum[k]
					want := (s[3*y+3][3*x+3] - s[3*y][3*x+3] - s[3*y+3][3*x] + s[3*y][3*x]) / 9
					if math.Abs(float64(v)-want) > 140 { // half a step of 257, and rounding
						t.Fatalf("%T at %d,%d: %d, the mean is %.1f", img, x, y, v, want)
					}
				}
			}
		}
	}
	if small := image.NewGray(image.Rect(0, 0, keptPixels, 3)); reduced(small) != image.Image(small) {
		t.Error("a picture that is small enough was changed")
	}
}
