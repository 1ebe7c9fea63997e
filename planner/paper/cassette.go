package paper

import "math"

// Cassette is both packs of a cassette in its shell, seen from the side that
// plays: the supply pack on the left, the take-up pack on the right. All
// lengths are in mm.
type Cassette struct {
	Supply, TakeUp     Pack
	HubDistance        float64 // between the hubs' middles
	ShellW, ShellH     float64 // 0: no shell is drawn
	WindowW, WindowH   float64 // of the window between the hubs; 0: none
	Thin               float64 // radius of the supply pack under which care begins; 0: none is marked
	SupplyBy, TakeUpBy string  // what stands under each pack
}

// Draw draws the cassette with the middle between its hubs at (cx, cy), at so
// many times its own size, and the words under the packs in points.
func (c Cassette) Draw(d *Drawing, f *Fonts, cx, cy, scale float64, look Look, points float64) {
	left, right := cx-c.HubDistance/2*scale, cx+c.HubDistance/2*scale
	if c.ShellW > 0 {
		d.Path(rounded(cx-c.ShellW/2*scale, cy-c.ShellH/2*scale, c.ShellW*scale, c.ShellH*scale, 3*scale), Stroke(look.Soft, 0.3))
	}
	c.Supply.Draw(d, f, left, cy, scale, look, points)
	c.TakeUp.Draw(d, f, right, cy, scale, look, points)
	if c.Thin > 0 {
		d.Circle(left, cy, c.Thin*scale, Stroke(look.Ink, 0.3).Dashed(1.2, 0.8))
	}
	if c.WindowW > 0 {
		d.Path(rounded(cx-c.WindowW/2*scale, cy-c.WindowH/2*scale, c.WindowW*scale, c.WindowH*scale, 1.5*scale), Stroke(look.Ink, 0.45))
	}
	under := cy + math.Max(math.Max(c.Supply.Rim(), c.TakeUp.Rim()), c.ShellH/2)*scale + 1.35*points*MMPerPoint
	d.Text(left, under, f.Line(c.SupplyBy, Regular), points, look.Ink, Centre)
	d.Text(right, under, f.Line(c.TakeUpBy, Regular), points, look.Ink, Centre)
}

// rounded is a box with corners of radius r.
func rounded(x, y, w, h, r float64) Path {
	r = math.Max(0, math.Min(r, math.Min(w, h)/2))
	var p Path
	p.Move(x+r, y)
	p.Arc(x+w-r, y+r, r, -math.Pi/2, 0)
	p.Arc(x+w-r, y+h-r, r, 0, math.Pi/2)
	p.Arc(x+r, y+h-r, r, math.Pi/2, math.Pi)
	p.Arc(x+r, y+r, r, math.Pi, 1.5*math.Pi)
	p.Close()
	return p
}
