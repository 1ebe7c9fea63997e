package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"

	"longside/media/verify"
	"longside/planner"
	"longside/planner/paper"
)

func fonts(t *testing.T) *paper.Fonts {
	t.Helper()
	f, err := paper.NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func fig(v, w float64) *verify.Figure { return &verify.Figure{Value: v, Within: w} }

// full is findings with every figure.
func full() verify.Findings {
	floor := -70.0
	f := verify.Findings{Channels: 2, ZeroDBFS: []float64{-12, -12.4}, Polarity: "kept", Speed: verify.Figure{Value: 0.2, Within: 0.01},
		Flutter: fig(0.25, 0.01), FlutterRaw: fig(0.4, 0.02), Bias: []*verify.Figure{fig(-2, 0.1), fig(-2.4, 0.1)},
		MOL: []*verify.Figure{fig(4, 0.1), nil}, MOLBound: []string{"", "over"}, NoiseTo: []float64{4, 0},
		Noise468: []*verify.Figure{fig(-40, 0.5), fig(-40, 0.5)}, NoiseA: []*verify.Figure{fig(-50, 0.1), fig(-50, 0.1)},
		NoiseFlat: []*verify.Figure{fig(-45, 0.2), fig(-47, 0.2)}, Balance: fig(2.5, 0.1), Azimuth: fig(-20, 1),
		Crosstalk: []verify.Crosstalk{{From: "left", Hz: 1000, Figure: *fig(19, 1)}, {From: "right", Hz: 1000, Figure: *fig(30, 1), Bound: true}},
		DropOuts:  []verify.DropOut{{AtS: 30, LongS: 0.05, DB: 12, Channel: "left"}}, Watched: 110, EchoFloor: &floor, Markers: []float64{4.5, 186},
		Echoes: []verify.Echo{{Marker: 1, DelayS: -1.5, Figure: *fig(-50, 1)}}, Wobbles: []verify.Point{{X: 0.3, Y: 0.05}, {X: 6.3, Y: 0.04}},
		Notes: []string{strings.Repeat("something is to be said of it ", 6)},
	}
	for range 2 {
		var r []verify.Tone
		var s []verify.Step
		for i, hz := range []float64{40, 100, 400, 1000, 6300, 10000, 16000} {
			r = append(r, verify.Tone{Hz: hz, Figure: *fig(-float64(i), 0.1)})
			s = append(s, verify.Step{SentDB: float64(2*i - 6), BackDB: float64(2*i - 6), ThirdPc: 0.5 * float64(i+1)})
		}
		f.Response, f.Steps = append(f.Response, r), append(f.Steps, s)
	}
	for i := range 120 {
		f.Course = append(f.Course, verify.Point{X: float64(i) / 2, Y: 0.2 + 0.01*float64(i%3)})
	}
	return f
}

// One page on either paper, with every figure on it, no text upon another or off
// the page, and the same bytes each time.
func TestPage(t *testing.T) {
	f := fonts(t)
	for _, size := range []string{"A4", "Letter"} {
		found := full()
		judged := planner.JudgeTest(found, planner.TestTerms{})
		o := Options{Of: "take.wav, C90\x1b[31m\u202e", Page: size}
		doc, err := Draw(found, judged, o, f)
		if err != nil {
			t.Fatal(err)
		}
		if len(doc.Pages) != 1 {
			t.Fatalf("%d pages", len(doc.Pages))
		}
		boxes := doc.Pages[0].Texts()
		var all []string
		for i, b := range boxes {
			all = append(all, b.Text)
			if b.X < 5 || b.X+b.W > doc.Pages[0].Width-5 || b.Y+b.H > doc.Pages[0].Height-5 {
				t.Errorf("%s: %q runs off the page", size, b.Text)
			}
			for _, c := range boxes[:i] {
				if b.Overlaps(c, 0.3) {
					t.Errorf("%s: %q lies on %q", size, b.Text, c.Text)
				}
			}
		}
		text := strings.Join(all, " ")
		for _, j := range judged {
			if !strings.Contains(text, strings.Fields(j.What)[0]) {
				t.Errorf("%s: %q is not on the page", size, j.What)
			}
		}
		a, err := doc.PDF()
		if err != nil {
			t.Fatal(err)
		}
		again, _ := Draw(found, judged, o, f)
		if b, _ := again.PDF(); !bytes.Equal(a, b) {
			t.Error("not the same twice")
		}
	}
	if _, err := Draw(full(), nil, Options{}, f); err == nil {
		t.Error("nothing is drawn as something")
	}
	if _, err := Draw(full(), planner.JudgeTest(full(), planner.TestTerms{}), Options{Page: "A9"}, f); err == nil {
		t.Error("A9 passes")
	}
}

// A mono capture of which little could be measured is a page, too.
func TestBarePage(t *testing.T) {
	found := verify.Findings{Channels: 1, ZeroDBFS: []float64{-12}, Bias: []*verify.Figure{nil}, MOL: []*verify.Figure{nil}, MOLBound: []string{"automatic"},
		NoiseTo: []float64{0}, Noise468: []*verify.Figure{nil}, NoiseA: []*verify.Figure{nil}, NoiseFlat: []*verify.Figure{nil}, Response: [][]verify.Tone{{}}}
	doc, err := Draw(found, planner.JudgeTest(found, planner.TestTerms{}), Options{}, fonts(t))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := doc.PDF(); err != nil {
		t.Fatal(err)
	}
}
