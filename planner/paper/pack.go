package paper

import "math"

// Tone says how a stretch of tape is shown. Bare tape is pale, sound dark; two
// dark tones by turns keep neighbours apart without a line between them.
type Tone uint8

// The tones.
const (
	Blank  Tone = iota // nothing recorded
	Dark               // sound
	Darker             // sound, beside a dark stretch
	Leader             // no tape at all
)

// Look is the colours of a drawing: ink for type and sound, soft for the second
// tone, pale for blank tape, stock for what shows through.
type Look struct{ Ink, Soft, Pale, Stock Colour }

// Plain is black and three greys.
var Plain = Look{Ink: Black, Soft: RGB(96, 96, 96), Pale: RGB(222, 222, 222), Stock: White}

func (l Look) tone(t Tone) Colour {
	switch t {
	case Dark:
		return l.Soft
	case Darker:
		return l.Ink
	case Leader:
		return l.Stock
	}
	return l.Pale
}

// PackRadius is the radius in mm of a pack of so many mm of tape wound on a
// hub: r = sqrt(hub^2 + length thickness / pi), area being conserved.
func PackRadius(hubMM, thicknessUM, lengthMM float64) float64 {
	return math.Sqrt(hubMM*hubMM + math.Max(lengthMM, 0)*thicknessUM/1000/math.Pi)
}

// Band is a stretch of tape on a pack: a ring between two radii in mm.
type Band struct {
	Inner, Outer float64
	Tone         Tone
	Label        string // drawn outside the pack, with a ray to the ring
}

// Pack is tape wound on a hub, seen from the side. Right, when there is any,
// takes the right half of the picture and Left only the left: both sides of one
// tape in one pack. Without it Left goes all round.
type Pack struct {
	Hub         float64 // radius, mm
	Left, Right []Band
}

// hubTeeth is how many teeth the picture's hub has. Six is common practice, no source.
const hubTeeth = 6

// Draw draws the pack about (cx, cy) at so many times its own size. A label
// stands outside the pack, at the size given in points, at the end of a ray
// from a dot on its ring; the rays step round from ring to ring, so that the
// dots follow the winding. Where there are too many labels for the room, every
// second, fifth or tenth is drawn. Labels take about 2.5 em beyond the rim.
func (p Pack) Draw(d *Drawing, f *Fonts, cx, cy, scale float64, look Look, points float64) {
	rim := p.Rim() * scale
	if p.Right == nil {
		rings(d, p.Left, cx, cy, scale, -math.Pi/2, 1.5*math.Pi, look)
		rays(d, f, p.Left, cx, cy, scale, rim, -math.Pi/2, 1.5*math.Pi, look, points)
	} else {
		// Both halves are read from the top down.
		rings(d, p.Left, cx, cy, scale, math.Pi/2, 1.5*math.Pi, look)
		rings(d, p.Right, cx, cy, scale, -math.Pi/2, math.Pi/2, look)
		rays(d, f, p.Left, cx, cy, scale, rim, 1.46*math.Pi, 0.54*math.Pi, look, points)
		rays(d, f, p.Right, cx, cy, scale, rim, -0.46*math.Pi, 0.46*math.Pi, look, points)
		d.Line(cx, cy-rim-0.2, cx, cy+rim+0.2, Stroke(look.Stock, 0.5))
	}
	hub(d, cx, cy, p.Hub*scale, look)
}

// Rim is the radius of the whole pack in mm.
func (p Pack) Rim() float64 {
	r := p.Hub
	for _, bands := range [][]Band{p.Left, p.Right} {
		for _, b := range bands {
			r = math.Max(r, b.Outer)
		}
	}
	return r
}

func rings(d *Drawing, bands []Band, cx, cy, scale, from, to float64, look Look) {
	for _, b := range bands {
		d.Path(Ring(cx, cy, b.Inner*scale, b.Outer*scale, from, to), Fill(look.tone(b.Tone)))
	}
}

func rays(d *Drawing, f *Fonts, bands []Band, cx, cy, scale, rim, from, to float64, look Look, points float64) {
	var labelled []Band
	widest := 0.0
	for _, b := range bands {
		if b.Label != "" {
			labelled = append(labelled, b)
			widest = math.Max(widest, f.Line(b.Label, Regular).Width(points))
		}
	}
	n := len(labelled)
	if n == 0 {
		return
	}
	far := rim + 0.9 + widest*0.5 + 0.4 // the middle of the label
	step := 1
	for _, s := range []int{1, 2, 5, 10, 20, 50, 100} {
		step = s
		if math.Abs(to-from)*far/float64(n)*float64(s) >= 1.15*math.Max(widest, points*MMPerPoint) {
			break
		}
	}
	for i, b := range labelled {
		if (i+1)%step != 0 && !(i == 0 && step > 1) {
			continue
		}
		a := from + (to-from)*(float64(i)+0.5)/float64(n)
		sin, cos := math.Sincos(a)
		mid := (b.Inner + b.Outer) / 2 * scale
		on, off := look.Stock, look.Ink
		if b.Tone == Blank || b.Tone == Leader {
			on = look.Ink
		}
		d.Line(cx+cos*mid, cy+sin*mid, cx+cos*rim, cy+sin*rim, Stroke(on, 0.12))
		d.Circle(cx+cos*mid, cy+sin*mid, math.Max(math.Min(0.38, (b.Outer-b.Inner)*scale*0.36), 0.16), Fill(on))
		d.Line(cx+cos*rim, cy+sin*rim, cx+cos*(rim+0.8), cy+sin*(rim+0.8), Stroke(off, 0.12))
		d.Text(cx+cos*far, cy+sin*far+0.365*points*MMPerPoint, f.Line(b.Label, Regular), points, off, Centre)
	}
}

// hub draws the empty spool: a ring with teeth that point inwards.
func hub(d *Drawing, cx, cy, r float64, look Look) {
	d.Circle(cx, cy, r, Fill(look.Stock))
	d.Circle(cx, cy, r-0.15, Stroke(look.Ink, 0.3))
	d.Circle(cx, cy, r*0.5, Stroke(look.Ink, 0.3))
	for i := range hubTeeth {
		a := 2 * math.Pi * (float64(i) + 0.5) / hubTeeth
		s, c := math.Sincos(a)
		d.Line(cx+c*r*0.5, cy+s*r*0.5, cx+c*r*0.34, cy+s*r*0.34, Stroke(look.Ink, r*0.09))
	}
}

// Stretch is a part of a side laid out straight, in seconds (or any one unit)
// from pressing record.
type Stretch struct {
	From, To float64
	Tone     Tone
	Label    string // drawn inside where there is room
}

// Strip is a side laid out straight, to scale: time runs to the right.
type Strip struct {
	Length    float64 // of the whole side, in the unit of the stretches
	Stretches []Stretch
	ThinFrom  float64 // from here to the end is hatched; 0: nowhere
}

// Draw draws the strip in a box of w by h mm with its top left corner at (x, y).
func (s Strip) Draw(d *Drawing, f *Fonts, x, y, w, h float64, look Look, points float64) {
	if s.Length <= 0 {
		return
	}
	at := func(v float64) float64 { return x + w*math.Max(0, math.Min(v/s.Length, 1)) }
	d.Rect(x, y, w, h, Fill(look.Pale))
	for _, t := range s.Stretches {
		d.Rect(at(t.From), y, at(t.To)-at(t.From), h, Fill(look.tone(t.Tone)))
	}
	if s.ThinFrom > 0 && s.ThinFrom < s.Length { // hatching below the strip: seen in black and white too
		a, b, t := at(s.ThinFrom), x+w, h*0.22
		for v := a; v < b; v += 1.2 {
			e := math.Min(v+t, b)
			d.Line(v, y+h+0.6+t, e, y+h+0.6+t-(e-v), Stroke(look.Ink, 0.2))
		}
		d.Line(a, y+h+0.3, b, y+h+0.3, Stroke(look.Ink, 0.35))
	}
	for _, t := range s.Stretches {
		if t.Label == "" {
			continue
		}
		l := f.Line(t.Label, Bold)
		if l.Width(points)+0.6 > at(t.To)-at(t.From) {
			continue
		}
		ink := look.Stock
		if t.Tone == Blank || t.Tone == Leader {
			ink = look.Ink
		}
		d.Text((at(t.From)+at(t.To))/2, y+h/2+0.73*points*MMPerPoint/2, l, points, ink, Centre)
	}
	d.Rect(x, y, w, h, Stroke(look.Ink, 0.25))
}

// Spread moves points apart along a line until none is nearer than least to the
// next, keeping their order and staying between from and to where there is room;
// ok is false when there is none. The points come in order.
func Spread(at []float64, from, to, least float64) (out []float64, ok bool) {
	if len(at) == 0 {
		return nil, true
	}
	if float64(len(at)-1)*least > to-from {
		return nil, false
	}
	out = append(out, at...)
	// Forwards, then backwards: each pass leaves no pair too near on its side.
	low := from
	for i := range out {
		out[i] = math.Max(out[i], low)
		low = out[i] + least
	}
	high := to
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = math.Min(out[i], high)
		high = out[i] - least
	}
	return out, true
}
