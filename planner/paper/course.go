package paper

import "math"

// Course is how a level runs along a side laid out straight, as filled steps over
// a foot: time runs to the right as in Strip, so that one lies under the other.
type Course struct {
	Length    float64 // of the whole side, in the unit of the runs
	Low, High float64 // the levels at the foot and at the top
	Every     float64 // a line for each so many of level; 0: none
	Runs      []Run
}

// Run is levels at even steps of time.
type Run struct {
	From, Step float64
	Levels     []float64
}

// finest is the least width of a step that is drawn, mm: finer is not seen.
const finest = 0.2

// Tops gives the highest level in each of n even parts of the side; NaN where
// there is none.
func (c Course) Tops(n int) []float64 {
	tops := make([]float64, n)
	for i := range tops {
		tops[i] = math.NaN()
	}
	if !(c.Length > 0) {
		return tops
	}
	for _, r := range c.Runs {
		if !(r.Step > 0) {
			continue
		}
		for i, v := range r.Levels {
			// A level holds from its place to the next; it counts in every part that it
			// touches by more than a rounding.
			a := (r.From + float64(i)*r.Step) / c.Length * float64(n)
			b := (r.From + float64(i+1)*r.Step) / c.Length * float64(n)
			for k := max(int(math.Floor(a+1e-6)), 0); k < min(int(math.Ceil(b-1e-6)), n); k++ {
				if math.IsNaN(tops[k]) || v > tops[k] {
					tops[k] = v
				}
			}
		}
	}
	return tops
}

// Draw draws the course in a box of w by h mm with its top left corner at (x, y).
func (c Course) Draw(d *Drawing, x, y, w, h float64, look Look) {
	if !(c.Length > 0 && c.High > c.Low && w > 0) {
		return
	}
	height := func(v float64) float64 { return h * math.Max(0, math.Min((v-c.Low)/(c.High-c.Low), 1)) }
	n := max(int(w/finest), 1)
	tops := c.Tops(n)
	step := w / float64(n)
	for i := 0; i < n; {
		if math.IsNaN(tops[i]) {
			i++
			continue
		}
		var p Path
		p.Move(x+float64(i)*step, y+h)
		for ; i < n && !math.IsNaN(tops[i]); i++ {
			top := y + h - height(tops[i])
			p.Line(x+float64(i)*step, top)
			p.Line(x+float64(i+1)*step, top)
		}
		p.Line(x+float64(i)*step, y+h)
		p.Close()
		d.Path(p, Fill(look.Soft))
	}
	if c.Every > 0 {
		for v := math.Ceil(c.Low/c.Every)*c.Every + c.Every; v < c.High-1e-9; v += c.Every {
			d.Line(x, y+h-height(v), x+w, y+h-height(v), Stroke(look.Pale, 0.15))
		}
	}
	d.Line(x, y+h, x+w, y+h, Stroke(look.Ink, 0.25))
}
