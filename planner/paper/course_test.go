package paper

import (
	"image/color"
	"math"
	"math/rand/v2"
	"testing"
)

// The highest level in each part of a side, against a search by brute force in
// small steps of time.
func TestCourseTops(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 16))
	for range 200 {
		c := Course{Length: 50 + rng.Float64()*100}
		at := rng.Float64() * 10
		for range rng.IntN(4) {
			r := Run{From: at, Step: 0.5 + rng.Float64()*5}
			for range rng.IntN(12) {
				r.Levels = append(r.Levels, -60+math.Floor(rng.Float64()*60))
			}
			c.Runs = append(c.Runs, r)
			at += float64(len(r.Levels))*r.Step + 1 + rng.Float64()*5
		}
		n := 1 + rng.IntN(60)
		got := c.Tops(n)
		const fine = 40
		for k := range n {
			want := math.NaN()
			for i := range fine {
				at := (float64(k) + (float64(i)+0.5)/fine) / float64(n) * c.Length
				for _, r := range c.Runs {
					if j := int(math.Floor((at - r.From) / r.Step)); at >= r.From && j < len(r.Levels) && !(r.Levels[j] <= want) {
						want = r.Levels[j]
					}
				}
			}
			// Brute force may miss a level that touches a part by less than its step.
			if math.IsNaN(want) != math.IsNaN(got[k]) && !math.IsNaN(want) || got[k] < want {
				t.Fatalf("part %d of %d: %g, want %g", k, n, got[k], want)
			}
			if got[k] > want || math.IsNaN(want) && !math.IsNaN(got[k]) {
				touches := false
				for _, r := range c.Runs {
					for j, v := range r.Levels {
						a, b := r.From+float64(j)*r.Step, r.From+float64(j+1)*r.Step
						touches = touches || v == got[k] && a < float64(k+1)/float64(n)*c.Length && b > float64(k)/float64(n)*c.Length
					}
				}
				if !touches {
					t.Fatalf("part %d of %d: %g comes from elsewhere", k, n, got[k])
				}
			}
		}
	}
}

// Read off the pixels: a box of 100 x 10 mm for levels from -50 to 0, loud from a
// quarter of the side to half of it at -10 (8 mm high), and -30 (4 mm) after that
// up to three quarters.
func TestCourseDrawn(t *testing.T) {
	d := &Document{}
	p := d.Add(120, 30)
	c := Course{Length: 400, Low: -50, High: 0, Runs: []Run{{From: 100, Step: 50, Levels: []float64{-10, -10, -30, -30}}}}
	c.Draw(&p.Drawing, 10, 10, 100, 10, Plain)
	const dpi = 254 // 10 pixels a mm
	img, err := d.Raster(0, dpi)
	if err != nil {
		t.Fatal(err)
	}
	soft := color.RGBA{Plain.Soft.R, Plain.Soft.G, Plain.Soft.B, 255}
	for _, c := range []struct {
		x, y float64
		want bool
	}{
		{34.5, 19, false}, {35.5, 19, true}, {35.5, 12.2, true}, {35.5, 11.8, false}, {59.5, 12.2, true}, {60.5, 12.2, false},
		{60.5, 16.2, true}, {60.5, 15.8, false}, {84.5, 16.2, true}, {85.5, 19, false},
	} {
		if got := img.RGBAAt(int(c.x*10), int(c.y*10)) == soft; got != c.want {
			t.Errorf("at %.1f, %.1f mm: painted %v, want %v", c.x, c.y, got, c.want)
		}
	}
	// What is out of range, or no number at all, draws nothing amiss.
	for _, bad := range []Course{{}, {Length: -1}, {Length: 1, Low: 1, High: 1}, {Length: math.NaN(), High: 1}, {Length: 1, High: 1, Runs: []Run{{Step: 0, Levels: []float64{1}}, {From: -1e9, Step: 1e-3, Levels: []float64{math.NaN(), math.Inf(1)}}}}} {
		bad.Draw(&p.Drawing, 10, 10, 100, 10, Plain)
	}
}
