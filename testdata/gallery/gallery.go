// Package gallery holds drawings to the pictures that were kept of them, each
// in the folder testdata beside the test that draws it:
//
//	go test ./planner/inlay ./planner/sheet ./planner/paper -update
//
// draws them anew. Look at each before it is kept.
package gallery

import (
	"flag"
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "draw the kept pictures anew")

// DPI is how fine the pictures are kept.
const DPI = 72

// dir is seen from the package whose tests run.
const dir = "testdata"

// Same compares a drawing with the picture kept under a name. A missing picture
// fails. Edges may differ a little from machine to machine: one pixel in a
// thousand may be off by more than a sixth of the range.
func Same(t *testing.T, name string, img image.Image) {
	t.Helper()
	path := filepath.Join(dir, name+".png")
	if *update {
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		enc := png.Encoder{CompressionLevel: png.BestCompression}
		// Cards and sheets have few colours: greys and tints in 256 steps are enough to look at.
		err = enc.Encode(f, reduced(img))
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatalf("no picture to compare with: %v; go test with -update draws it", err)
	}
	defer f.Close()
	want, err := png.Decode(f)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if got, want := img.Bounds().Size(), want.Bounds().Size(); got != want {
		t.Errorf("%s: %v, kept as %v", name, got, want)
		return
	}
	b := img.Bounds()
	off := 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r1, g1, b1, _ := img.At(x, y).RGBA()
			r2, g2, b2, _ := want.At(x-b.Min.X, y-b.Min.Y).RGBA()
			if far(r1, r2) || far(g1, g2) || far(b1, b2) {
				off++
			}
		}
	}
	if most := b.Dx() * b.Dy() / 1000; off > most {
		t.Errorf("%s: %d pixels are off, at most %d may be; look at it, and keep it with -update", name, off, most)
	}
}

func far(a, b uint32) bool {
	if a > b {
		a, b = b, a
	}
	return b-a > 0xFFFF/6
}

// reduced keeps five bits of each part: the files come to a third.
func reduced(img image.Image) image.Image {
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Bounds(), img, img.Bounds().Min, draw.Src)
	for i, v := range out.Pix {
		out.Pix[i] = v>>3<<3 | v>>5
	}
	return out
}
