package paper

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/math/f64"
	"golang.org/x/image/vector"
)

// maxPixels bounds a raster page: A4 at 600 dpi is 35 million.
const maxPixels = 140e6

// PNG draws one page (from 0) at so many dots an inch.
func (d *Document) PNG(page int, dpi float64) ([]byte, error) {
	img, err := d.Raster(page, dpi)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&b, img); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// Raster draws one page (from 0) as pixels, on white.
func (d *Document) Raster(page int, dpi float64) (*image.RGBA, error) {
	if page < 0 || page >= len(d.Pages) {
		return nil, fmt.Errorf("no page %d: the document has %d", page+1, len(d.Pages))
	}
	p := d.Pages[page]
	k := dpi / 25.4 // pixels a millimetre
	w, h := math.Round(p.Width*k), math.Round(p.Height*k)
	if !(w >= 1 && h >= 1 && w*h <= maxPixels) {
		return nil, fmt.Errorf("a page of %.0f x %.0f mm cannot be drawn at %g dots an inch; ask for 30 to 600", p.Width, p.Height, dpi)
	}
	c := &canvas{img: image.NewRGBA(image.Rect(0, 0, int(w), int(h))), k: k}
	draw.Draw(c.img, c.img.Bounds(), image.White, image.Point{}, draw.Src)
	for _, it := range p.items {
		switch {
		case len(it.path.segs) > 0:
			if it.style.Fill.on {
				c.fill(it.path, identity, it.style.Fill)
			}
			if it.style.Stroke.on && it.style.Width > 0 {
				c.stroke(it.path, it.style)
			}
		case it.line.glyphs != nil:
			for _, g := range it.line.glyphs {
				s := it.size / 1000
				c.fill(g.outline(), matrix{a: s, d: -s, e: g.x * s, f: -g.y * s}.then(it.at), it.colour)
			}
		case it.picture != nil:
			c.picture(it)
		}
	}
	return c.img, nil
}

// picture draws a picture in its box.
func (c *canvas) picture(it item) {
	src := it.picture.raster(it.w, it.h)
	b := src.Bounds()
	m := matrix{a: it.w / float64(b.Dx()), d: it.h / float64(b.Dy())}.then(it.at).then(matrix{a: c.k, d: c.k})
	xdraw.CatmullRom.Transform(c.img, f64.Aff3{m.a, m.c, m.e, m.b, m.d, m.f}, src, b, xdraw.Over, nil)
}

// canvas fills outlines on an image, each within its own bounds.
type canvas struct {
	img *image.RGBA
	k   float64 // pixels a millimetre
	r   vector.Rasterizer
}

// fill paints a path mapped by m, which gives millimetres.
func (c *canvas) fill(p Path, m matrix, col Colour) {
	k := c.k
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	grow := func(x, y float64) {
		x, y = m.apply(x, y)
		x0, y0, x1, y1 = min(x0, x*k), min(y0, y*k), max(x1, x*k), max(y1, y*k)
	}
	for _, s := range p.segs {
		switch s.kind {
		case cubeTo:
			grow(s.x1, s.y1)
			grow(s.x2, s.y2)
			fallthrough
		case moveTo, lineTo:
			grow(s.x, s.y)
		}
	}
	box := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1))+1, int(math.Ceil(y1))+1)
	if x1 < x0 || !(x1-x0 < 1e5 && y1-y0 < 1e5) || !box.Overlaps(c.img.Bounds()) {
		return
	}
	box = box.Intersect(c.img.Bounds())
	c.r.Reset(box.Dx(), box.Dy())
	at := func(x, y float64) (float32, float32) {
		x, y = m.apply(x, y)
		return float32(x*k - float64(box.Min.X)), float32(y*k - float64(box.Min.Y))
	}
	for _, s := range p.segs {
		x, y := at(s.x, s.y)
		switch s.kind {
		case moveTo:
			c.r.ClosePath()
			c.r.MoveTo(x, y)
		case lineTo:
			c.r.LineTo(x, y)
		case cubeTo:
			ax, ay := at(s.x1, s.y1)
			bx, by := at(s.x2, s.y2)
			c.r.CubeTo(ax, ay, bx, by, x, y)
		case closePath:
			c.r.ClosePath()
		}
	}
	c.r.ClosePath()
	c.r.Draw(c.img, box, image.NewUniform(color.RGBA{col.R, col.G, col.B, 255}), image.Point{})
}

// stroke paints a line along a path as one outline: a box for each straight
// piece and a round joint between them, all turning the same way.
func (c *canvas) stroke(p Path, s Style) {
	var out Path
	half := s.Width / 2
	box := func(a, b point) {
		l := math.Hypot(b.x-a.x, b.y-a.y)
		if l == 0 {
			return
		}
		nx, ny := -(b.y-a.y)/l*half, (b.x-a.x)/l*half
		out.Move(a.x-nx, a.y-ny)
		out.Line(b.x-nx, b.y-ny)
		out.Line(b.x+nx, b.y+ny)
		out.Line(a.x+nx, a.y+ny)
		out.Close()
	}
	pieces, closed := p.polylines(0.02 / c.k)
	for i, pts := range pieces {
		for j := 1; j < len(pts); j++ {
			for _, d := range dashes(pts, j, s.Dash) {
				box(d[0], d[1])
			}
			if (j+1 < len(pts) || closed[i]) && s.Dash == nil && half*c.k > 0.6 {
				joint := Circle(pts[j].x, pts[j].y, half)
				out.segs = append(out.segs, joint.segs...)
			}
		}
	}
	c.fill(out, identity, s.Stroke)
}

// dashes cuts the piece that ends at pts[j] into the marks that fall on it.
func dashes(pts []point, j int, dash []float64) [][2]point {
	a, b := pts[j-1], pts[j]
	total := 0.0
	for _, d := range dash {
		total += d
	}
	if total <= 0 {
		return [][2]point{{a, b}}
	}
	start := 0.0
	for i := 1; i < j; i++ {
		start += math.Hypot(pts[i].x-pts[i-1].x, pts[i].y-pts[i-1].y)
	}
	l := math.Hypot(b.x-a.x, b.y-a.y)
	if l == 0 || l/total > 1e5 {
		return [][2]point{{a, b}}
	}
	var out [][2]point
	on, at := true, -math.Mod(start, total)
	for i := 0; at < l; i++ {
		next := at + dash[i%len(dash)]
		if s, e := math.Max(at, 0), math.Min(next, l); on && e > s {
			out = append(out, [2]point{
				{a.x + (b.x-a.x)*s/l, a.y + (b.y-a.y)*s/l},
				{a.x + (b.x-a.x)*e/l, a.y + (b.y-a.y)*e/l},
			})
		}
		at, on = next, !on
	}
	return out
}
