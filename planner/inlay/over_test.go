package inlay

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"

	"longside/planner/paper"
)

// painted is a picture that a function paints, x and y from 0 to 1.
func painted(t testing.TB, w, h int, at func(x, y float64) color.Color) *paper.Picture {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.Set(x, y, at(float64(x)/float64(w), float64(y)/float64(h)))
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	p, err := paper.DecodePicture(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestTitleOnPicture draws titles on pictures of every kind, takes the printed
// page's pixels, and holds the words to the 4.5 to 1 of WCAG 2.1 (1.4.3) against
// what surrounds them: of the pixels about each line of words, the lightest and
// the darkest that make up a twentieth or more are the words and their ground.
func TestTitleOnPicture(t *testing.T) {
	grey := func(v uint8) color.Color { return color.Gray{v} }
	noise := func(x, y float64) uint8 {
		return uint8(128 + 127*math.Sin(x*997)*math.Sin(y*1013))
	}
	for _, c := range []struct {
		name  string
		at    func(x, y float64) color.Color
		plate bool
		foot  bool
	}{
		{"black", func(x, y float64) color.Color { return grey(0) }, false, false},
		{"white", func(x, y float64) color.Color { return grey(255) }, false, false},
		{"light above dark", func(x, y float64) color.Color { return grey(uint8(255 * (1 - y))) }, false, false},
		{"restless above, dark below", func(x, y float64) color.Color {
			if y > 0.7 {
				return grey(10)
			}
			return grey(noise(x, y))
		}, false, true},
		{"restless", func(x, y float64) color.Color { return grey(noise(x, y)) }, true, false},
		{"halves", func(x, y float64) color.Color { return grey(uint8(math.Round(x)) * 255) }, true, false},
		{"middle grey", func(x, y float64) color.Color { return grey(128) }, false, false},
	} {
		for _, stock := range []string{"bare", "dawn"}[:1+len(c.name)%2] { // both for some
			pic := painted(t, 350, 550, c.at)
			doc, _, err := Draw(of(20), Options{Picture: pic, PictureOver: "panel", Stock: stock}, testFonts(t))
			if err != nil {
				t.Fatal(err)
			}
			const dpi = 200
			img, err := doc.Raster(0, dpi)
			if err != nil {
				t.Fatal(err)
			}
			left := (210-153.7)/2 + 28.7
			words := 0
			for _, b := range doc.Pages[0].Texts() {
				if b.X < left || b.X+b.W > left+63.5 || b.Y > 240 || b.W < b.H {
					continue
				}
				words++
				px := func(mm float64) int { return int(mm * dpi / 25.4) }
				var values []float64
				for y := px(b.Y - 0.4); y < px(b.Y+b.H+0.4); y++ {
					for x := px(b.X - 0.4); x < px(b.X+b.W+0.4); x++ {
						values = append(values, luminance(img.RGBAAt(x, y)))
					}
				}
				lo, hi := spread20(values)
				if ratio := (hi + 0.05) / (lo + 0.05); ratio < 4.5 {
					t.Errorf("%s on %s: %q has %.1f to 1", c.name, stock, b.Text, ratio)
				}
				if foot := b.Y > 297/2-15; foot != c.foot {
					t.Errorf("%s on %s: %q stands at %.0f mm", c.name, stock, b.Text, b.Y)
				}
			}
			if words != 2 {
				t.Errorf("%s on %s: %d lines of words on the panel, want title and note", c.name, stock, words)
			}
		}
	}
}

// luminance is WCAG 2.1's relative luminance, written out once more.
func luminance(c color.RGBA) float64 {
	l := 0.0
	for _, p := range []struct {
		v uint8
		k float64
	}{{c.R, 0.2126}, {c.G, 0.7152}, {c.B, 0.0722}} {
		s := float64(p.v) / 255
		if s <= 0.03928 {
			l += p.k * s / 12.92
		} else {
			l += p.k * math.Pow((s+0.055)/1.055, 2.4)
		}
	}
	return l
}

// spread20 gives the twentieth part from below and from above.
func spread20(v []float64) (lo, hi float64) {
	n := map[int]int{}
	for _, x := range v {
		n[int(x*1000)]++
	}
	find := func(from, to, step int) float64 {
		sum := 0
		for i := from; i != to; i += step {
			if sum += n[i]; sum*20 >= len(v) {
				return float64(i) / 1000
			}
		}
		return 0
	}
	return find(0, 1001, 1), find(1000, -1, -1)
}

// A picture's fineness is said where it is under 300 dots an inch: 63.5 mm and a
// bleed of 3 above and below take 750 x 1264 pixels.
func TestPictureIsFineEnough(t *testing.T) {
	white := func(x, y float64) color.Color { return color.White }
	for _, c := range []struct {
		w, h int
		want string
	}{
		{751, 1265, ""},
		{700, 1265, "the picture has 280 dots an inch at 64 x 107 mm; under 300 it prints soft: 750 x 1264 pixels or more would do"},
		{2000, 632, "the picture has 150 dots an inch at 64 x 107 mm; under 300 it prints soft: 750 x 1264 pixels or more would do"},
	} {
		_, notes, err := Draw(of(20), Options{Picture: painted(t, c.w, c.h, white), PictureOver: "panel"}, testFonts(t))
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, n := range notes {
			got += n.Says
		}
		if got != c.want {
			t.Errorf("%d x %d: %q, want %q", c.w, c.h, got, c.want)
		}
	}
	if _, notes, _ := Draw(of(20), Options{Picture: painted(t, 100, 100, white)}, testFonts(t)); !strings.Contains(fmt.Sprint(notes), "dots an inch") {
		t.Errorf("in the design's place: %v", notes)
	}
}
