package paper

import "math"

type segKind uint8

const (
	moveTo segKind = iota
	lineTo
	cubeTo
	closePath
)

// seg is one step of a path; x, y is its end, the other two are the control
// points of a cubic curve.
type seg struct {
	kind           segKind
	x1, y1, x2, y2 float64
	x, y           float64
}

// Path is an outline made of lines and cubic curves, in millimetres. It is
// filled by the non-zero winding rule: a hole runs the other way round.
type Path struct{ segs []seg }

// Move starts a new piece of the path at (x, y).
func (p *Path) Move(x, y float64) { p.segs = append(p.segs, seg{kind: moveTo, x: x, y: y}) }

// Line goes on to (x, y).
func (p *Path) Line(x, y float64) { p.segs = append(p.segs, seg{kind: lineTo, x: x, y: y}) }

// Curve goes on to (x, y) by a cubic Bezier curve.
func (p *Path) Curve(x1, y1, x2, y2, x, y float64) {
	p.segs = append(p.segs, seg{cubeTo, x1, y1, x2, y2, x, y})
}

// Close goes back to where the piece began.
func (p *Path) Close() { p.segs = append(p.segs, seg{kind: closePath}) }

// Arc goes along a circle about (cx, cy) from angle a to angle b, radians
// clockwise from three o'clock. It starts a piece where there is none, and
// otherwise draws a line to its own start. Curves of a quarter or less keep
// within 0.03 % of the radius.
func (p *Path) Arc(cx, cy, r, a, b float64) {
	x, y := cx+r*math.Cos(a), cy+r*math.Sin(a)
	if n := len(p.segs); n == 0 || p.segs[n-1].kind == closePath {
		p.Move(x, y)
	} else {
		p.Line(x, y)
	}
	n := int(math.Ceil(math.Abs(b-a)/(math.Pi/2) - 1e-9))
	if n < 1 {
		return
	}
	step := (b - a) / float64(n)
	k := 4.0 / 3 * math.Tan(step/4)
	for i := range n {
		s, e := a+step*float64(i), a+step*float64(i+1)
		p.Curve(cx+r*(math.Cos(s)-k*math.Sin(s)), cy+r*(math.Sin(s)+k*math.Cos(s)),
			cx+r*(math.Cos(e)+k*math.Sin(e)), cy+r*(math.Sin(e)-k*math.Cos(e)),
			cx+r*math.Cos(e), cy+r*math.Sin(e))
	}
}

// Rect is a rectangle with its top left corner at (x, y).
func Rect(x, y, w, h float64) Path {
	var p Path
	p.Move(x, y)
	p.Line(x+w, y)
	p.Line(x+w, y+h)
	p.Line(x, y+h)
	p.Close()
	return p
}

// Circle is a circle of radius r.
func Circle(cx, cy, r float64) Path {
	var p Path
	p.Arc(cx, cy, r, 0, 2*math.Pi)
	p.Close()
	return p
}

// Ring is the part of a ring between two radii that lies between the angles a
// and b (radians clockwise from three o'clock); a full turn gives a whole ring.
func Ring(cx, cy, inner, outer, a, b float64) Path {
	var p Path
	p.Arc(cx, cy, outer, a, b)
	if b-a >= 2*math.Pi-1e-9 {
		p.Close()
	}
	p.Arc(cx, cy, inner, b, a)
	p.Close()
	return p
}

func (p Path) mapped(m matrix) Path {
	segs := make([]seg, len(p.segs))
	for i, s := range p.segs {
		s.x1, s.y1 = m.apply(s.x1, s.y1)
		s.x2, s.y2 = m.apply(s.x2, s.y2)
		s.x, s.y = m.apply(s.x, s.y)
		segs[i] = s
	}
	return Path{segs}
}

type point struct{ x, y float64 }

// polylines flattens the path into pieces of straight lines no further than
// tol from the curve; closed tells which pieces end where they began.
func (p Path) polylines(tol float64) (pieces [][]point, closed []bool) {
	var cur []point
	end := func(c bool) {
		if len(cur) > 1 {
			pieces, closed = append(pieces, cur), append(closed, c)
		}
		cur = nil
	}
	for _, s := range p.segs {
		switch s.kind {
		case moveTo:
			end(false)
			cur = []point{{s.x, s.y}}
		case lineTo:
			cur = append(cur, point{s.x, s.y})
		case cubeTo:
			if len(cur) == 0 {
				continue
			}
			a := cur[len(cur)-1]
			// The second difference bounds how far a chord strays from the curve.
			d := math.Max(math.Hypot(a.x-2*s.x1+s.x2, a.y-2*s.y1+s.y2), math.Hypot(s.x1-2*s.x2+s.x, s.y1-2*s.y2+s.y))
			n := min(max(int(math.Ceil(math.Sqrt(0.75*d/tol))), 1), 200)
			for i := 1; i <= n; i++ {
				t := float64(i) / float64(n)
				u := 1 - t
				cur = append(cur, point{
					u*u*u*a.x + 3*u*u*t*s.x1 + 3*u*t*t*s.x2 + t*t*t*s.x,
					u*u*u*a.y + 3*u*u*t*s.y1 + 3*u*t*t*s.y2 + t*t*t*s.y,
				})
			}
		case closePath:
			if len(cur) > 1 {
				first := cur[0]
				cur = append(cur, first)
				end(true)
				cur = []point{first}
			}
		}
	}
	end(false)
	return pieces, closed
}
