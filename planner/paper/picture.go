package paper

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"

	"golang.org/x/image/draw"
)

// Picture is a raster picture, upright, ready to be drawn in a box.
type Picture struct {
	img   image.Image
	photo bool // it came as JPEG, and is written as such
}

// Bounds of a picture, looked at before it is decoded. A camera gives up to 60
// million pixels of 1.5 or 2 bytes.
const (
	maxPixelsRead  = 64e6
	maxPictureRead = 96 << 20 // bytes that it takes while it is decoded
	// keptPixels is how long a side is kept: 200 mm at printDPI.
	keptPixels = 2400
)

// DecodePicture reads a JPEG or PNG picture; one that a camera turned (Exif
// orientation) is turned upright, and one far finer than print is made smaller.
func DecodePicture(data []byte) (p *Picture, err error) {
	defer func() {
		if recover() != nil {
			p, err = nil, errors.New("the picture is damaged; save it again or use another")
		}
	}()
	cfg, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("not a JPEG or PNG picture; use one of these")
	}
	each := pngBytes(data, cfg)
	if kind == "jpeg" {
		each = jpegBytes(data)
	}
	most := math.Min(maxPixelsRead, maxPictureRead/each)
	if n := float64(cfg.Width) * float64(cfg.Height); n > most || cfg.Width < 1 || cfg.Height < 1 {
		return nil, fmt.Errorf("a picture of %d x %d pixels is too large; make it smaller than %.0f million", cfg.Width, cfg.Height, math.Floor(most/1e6))
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("the picture is damaged or cut off; save it again or use another")
	}
	p = &Picture{img: reduced(img), photo: kind == "jpeg"}
	if p.photo {
		p.img = upright(p.img, orientation(data))
	}
	return p, nil
}

// pngBytes is how many bytes a pixel of a PNG takes while it is decoded.
func pngBytes(data []byte, cfg image.Config) float64 {
	each := 4.0
	switch cfg.ColorModel {
	case color.RGBA64Model, color.NRGBA64Model:
		each = 8
	case color.Gray16Model:
		each = 2
	case color.GrayModel:
		each = 1
	default:
		if _, ok := cfg.ColorModel.(color.Palette); ok {
			each = 1
		}
	}
	if len(data) > 28 && data[28] == 1 { // interlaced (PNG specification, 11.2.2): its passes beside it
		each *= 2
	}
	return each
}

// jpegBytes is how many bytes a pixel of a JPEG takes while it is decoded: one
// for each component, less where it is sampled more coarsely; four times as much
// beside it for the coefficients of a progressive one.
// ref: ITU-T T.81 B.2.2 (frame header), T.872 6.5.3 (APP14).
func jpegBytes(data []byte) float64 {
	rgb := false
	for i := 2; i+4 <= len(data) && data[i] == 0xFF; {
		mark, n := data[i+1], int(binary.BigEndian.Uint16(data[i+2:]))
		if mark == 0xFF { // fill byte
			i++
			continue
		}
		if n < 2 || i+2+n > len(data) {
			break
		}
		seg := data[i+4 : i+2+n]
		switch {
		case mark == 0xEE && len(seg) >= 12 && string(seg[:5]) == "Adobe":
			rgb = seg[11] == 0
		case mark >= 0xC0 && mark <= 0xC2 && len(seg) >= 6 && len(seg) >= 6+3*int(seg[5]):
			count := int(seg[5])
			wide, high, sum := 1, 1, 0
			var ids []byte
			for c := range count {
				h, v := int(seg[7+3*c]>>4), int(seg[7+3*c]&15)
				wide, high, sum = max(wide, h), max(high, v), sum+h*v
				ids = append(ids, seg[6+3*c])
			}
			each := float64(sum) / float64(wide*high)
			if mark == 0xC2 {
				each *= 5
			}
			if count == 4 || rgb || string(ids) == "RGB" || wide > 2 || high > 2 {
				each += 5 // it is made anew in another form
			}
			return each
		}
		i += 2 + n
	}
	return 20 // not told: the most that there is
}

// reduced makes a picture whose longer side has more than keptPixels smaller by
// a whole number, each pixel the mean of those in its place: to scale it down at
// once takes 32 bytes for each of its rows and each column on paper.
func reduced(img image.Image) image.Image {
	b := img.Bounds()
	n := (max(b.Dx(), b.Dy()) + keptPixels - 1) / keptPixels
	src, ok := img.(image.RGBA64Image)
	if n < 2 || !ok {
		return img
	}
	w, h := max(1, b.Dx()/n), max(1, b.Dy()/n)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			var sum [4]uint64
			count := uint64(0)
			for sy := b.Min.Y + y*n; sy < min(b.Max.Y, b.Min.Y+(y+1)*n); sy++ {
				for sx := b.Min.X + x*n; sx < min(b.Max.X, b.Min.X+(x+1)*n); sx++ {
					c := src.RGBA64At(sx, sy)
					sum[0] += uint64(c.R)
					sum[1] += uint64(c.G)
					sum[2] += uint64(c.B)
					sum[3] += uint64(c.A)
					count++
				}
			}
			for k, v := range sum {
				out.Pix[out.PixOffset(x, y)+k] = uint8((v/count*255 + 32767) / 65535)
			}
		}
	}
	return out
}

// Ratio is height by width.
func (p *Picture) Ratio() float64 {
	b := p.img.Bounds()
	return float64(b.Dy()) / float64(b.Dx())
}

// cropped gives the middle of the picture that has the ratio of a box.
func (p *Picture) cropped(w, h float64) image.Rectangle {
	b := p.img.Bounds()
	want := h / w
	if have := p.Ratio(); have > want {
		cut := int(math.Round(float64(b.Dy()) - float64(b.Dx())*want))
		b.Min.Y += cut / 2
		b.Max.Y -= cut - cut/2
	} else {
		cut := int(math.Round(float64(b.Dx()) - float64(b.Dy())/want))
		b.Min.X += cut / 2
		b.Max.X -= cut - cut/2
	}
	if b.Empty() {
		b = p.img.Bounds()
	}
	return b
}

// DPI is how fine the picture is in a box of w by h mm, once it is cut to the
// ratio of the box: its own pixels an inch.
func (p *Picture) DPI(w, h float64) float64 {
	src := p.cropped(w, h)
	return math.Min(float64(src.Dx())/w, float64(src.Dy())/h) * 25.4
}

// Ground is a picture in a box as the ground of words: cells of about 0.5 mm,
// which is what an eye takes in at reading distance.
type Ground struct {
	cells *image.RGBA
	w, h  float64
}

// Ground gives the picture as it fills a box of w by h mm.
func (p *Picture) Ground(w, h float64) Ground {
	const cell = 0.5
	nx, ny := max(int(math.Round(w/cell)), 1), max(int(math.Round(h/cell)), 1)
	g := Ground{image.NewRGBA(image.Rect(0, 0, nx, ny)), w, h}
	draw.Draw(g.cells, g.cells.Bounds(), image.White, image.Point{}, draw.Src)
	// The kernel grows as a picture shrinks, so that every pixel counts in its cell.
	draw.BiLinear.Scale(g.cells, g.cells.Bounds(), p.img, p.cropped(w, h), draw.Over, nil)
	return g
}

// Contrast is the contrast that a colour keeps everywhere on a part of the
// ground, 1 to 21 (see Colour.Contrast): the least over its cells. The part is
// given in mm from the box's top left corner.
func (g Ground) Contrast(c Colour, x, y, w, h float64) float64 {
	nx, ny := float64(g.cells.Rect.Dx()), float64(g.cells.Rect.Dy())
	part := image.Rect(int(x/g.w*nx), int(y/g.h*ny), int(math.Ceil((x+w)/g.w*nx)), int(math.Ceil((y+h)/g.h*ny))).Intersect(g.cells.Rect)
	least := 21.0
	for j := part.Min.Y; j < part.Max.Y; j++ {
		for i := part.Min.X; i < part.Max.X; i++ {
			v := g.cells.RGBAAt(i, j)
			least = math.Min(least, c.Contrast(RGB(v.R, v.G, v.B)))
		}
	}
	return least
}

// printDPI is as fine as a printed photograph is seen to be (common practice, no source).
const printDPI = 300

// raster gives the picture for a box of w by h mm, at 300 dots an inch at the
// most, on white.
func (p *Picture) raster(w, h float64) *image.RGBA {
	src := p.cropped(w, h)
	pw, ph := int(math.Ceil(w/25.4*printDPI)), int(math.Ceil(h/25.4*printDPI))
	if pw > src.Dx() {
		pw, ph = src.Dx(), src.Dy()
	}
	out := image.NewRGBA(image.Rect(0, 0, max(pw, 1), max(ph, 1)))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.CatmullRom.Scale(out, out.Bounds(), p.img, src, draw.Over, nil)
	return out
}

// encoded is the picture for a box of w by h mm as a file: JPEG for what came as
// one, PNG for all else.
func (p *Picture) encoded(w, h float64) (data []byte, mime string, err error) {
	var b bytes.Buffer
	if p.photo {
		err = jpeg.Encode(&b, p.raster(w, h), &jpeg.Options{Quality: 92})
		return b.Bytes(), "image/jpeg", err
	}
	err = png.Encode(&b, p.raster(w, h))
	return b.Bytes(), "image/png", err
}

// orientation finds the Exif orientation of a JPEG, 1 to 8 (Exif 2.3, 4.6.4,
// tag 0x0112); 1 when there is none.
func orientation(data []byte) int {
	for i := 2; i+4 <= len(data) && data[i] == 0xFF; {
		n := int(binary.BigEndian.Uint16(data[i+2:]))
		if data[i+1] == 0xDA || n < 2 || i+2+n > len(data) {
			return 1
		}
		seg := data[i+4 : i+2+n]
		if data[i+1] == 0xE1 && len(seg) > 14 && string(seg[:6]) == "Exif\x00\x00" {
			return tiffOrientation(seg[6:])
		}
		i += 2 + n
	}
	return 1
}

func tiffOrientation(t []byte) int {
	var o binary.ByteOrder = binary.BigEndian
	if string(t[:2]) == "II" {
		o = binary.LittleEndian
	}
	at := int(o.Uint32(t[4:]))
	if at < 8 || at+2 > len(t) {
		return 1
	}
	for i := range int(o.Uint16(t[at:])) {
		e := at + 2 + 12*i
		if e+12 > len(t) {
			return 1
		}
		if o.Uint16(t[e:]) == 0x0112 {
			if v := int(o.Uint16(t[e+8:])); v >= 1 && v <= 8 {
				return v
			}
		}
	}
	return 1
}

// upright undoes an Exif orientation.
func upright(img image.Image, o int) image.Image {
	if o <= 1 {
		return img
	}
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if o >= 5 {
		w, h = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			sx, sy := x, y
			switch o {
			case 2:
				sx = w - 1 - x
			case 3:
				sx, sy = w-1-x, h-1-y
			case 4:
				sy = h - 1 - y
			case 5:
				sx, sy = y, x
			case 6:
				sx, sy = y, w-1-x
			case 7:
				sx, sy = h-1-y, w-1-x
			case 8:
				sx, sy = h-1-y, x
			}
			out.Set(x, y, color.RGBAModel.Convert(img.At(b.Min.X+sx, b.Min.Y+sy)))
		}
	}
	return out
}
