package main

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"time"

	"longside/planner"
	"longside/planner/paper"
	"longside/planner/tape"
)

// drawTape draws both packs at a moment, in the form that the file's ending names.
func drawTape(v tapeView, file string, dpi float64) ([]byte, error) {
	ending := strings.ToLower(filepath.Ext(file))
	switch ending {
	case ".svg", ".png", ".pdf":
	default:
		return nil, fmt.Errorf("-o %s: draws to a name that ends in .svg, .png or .pdf", file)
	}
	f, err := fonts()
	if err != nil {
		return nil, err
	}
	doc := tapePicture(v, f)
	switch ending {
	case ".svg":
		return doc.SVG(0)
	case ".png":
		return doc.PNG(0, dpi)
	}
	return doc.PDF()
}

// The picture's page, mm: a shell with room for words and a ruler around it.
const (
	pictureWidth, pictureHeight = 120, 112
	pictureMargin               = 9
)

// tapePicture is one page with the cassette at its own size, the side laid out
// straight below it, and a ruler to check the print by.
func tapePicture(v tapeView, f *paper.Fonts) *paper.Document {
	t, at := v.tape, v.at
	const big, small = 11.0, 7.0
	look := paper.Plain
	doc := &paper.Document{Title: t.Name + " at " + planner.Clock(at)}
	page := doc.Add(pictureWidth, pictureHeight)
	page.Rect(0, 0, pictureWidth, pictureHeight, paper.Fill(look.Stock))
	text := func(x, y float64, s string, points float64, a paper.Align) {
		page.Text(x, y, f.Line(s, paper.Regular), points, look.Ink, a)
	}

	page.Text(pictureMargin, 11, f.Line(t.Name, paper.Bold), big+3, look.Ink, paper.Left)
	text(pictureWidth-pictureMargin, 11, fmt.Sprintf("%s of %s", planner.Clock(at), planner.Clock(t.Side)), big, paper.Right)

	s, u := t.SupplyWind(at), t.TakeUpWind(at)
	pack := func(w tape.Wind) paper.Pack {
		return paper.Pack{Hub: float64(t.Hub), Left: []paper.Band{{Inner: float64(t.Hub), Outer: float64(w.Radius), Tone: paper.Dark}}}
	}
	under := func(name string, w tape.Wind) string {
		return fmt.Sprintf("%s: %.1f mm, %.0f turns a minute", name, float64(w.Radius), w.RPM)
	}
	c := paper.Cassette{
		Supply: pack(s), TakeUp: pack(u), HubDistance: float64(tape.HubDistance),
		ShellW: float64(tape.ShellWidth), ShellH: float64(tape.ShellHeight),
		WindowW: float64(tape.WindowWidth), WindowH: float64(tape.WindowHeight),
		SupplyBy: under("supply", s), TakeUpBy: under("take-up", u),
	}
	tail := v.tail
	strip := paper.Strip{Length: t.Side.Seconds(), Stretches: []paper.Stretch{{From: 0, To: at.Seconds(), Tone: paper.Dark}}}
	if !tail.Empty() {
		c.Thin = float64(v.thin)
		strip.ThinFrom = tail.From.Seconds()
	}
	c.Draw(&page.Drawing, f, pictureWidth/2, 47, 1, look, small)

	const stripY = 88.0
	strip.Draw(&page.Drawing, f, pictureMargin, stripY, pictureWidth-2*pictureMargin, 4, look, small)
	text(pictureMargin, stripY-1.2, "played", small, paper.Left)
	if !tail.Empty() {
		text(pictureWidth-pictureMargin, stripY-1.2, fmt.Sprintf("thin end from %s: supply pack under %g mm", planner.Clock(tail.From), float64(v.thin)), small, paper.Right)
	}

	// Fifty millimetres, to see whether a print came out at its own size.
	const rulerY = 104.0
	for mm := 0; mm <= 50; mm += 10 {
		x := pictureMargin + float64(mm)
		page.Line(x, rulerY, x, rulerY-2, paper.Stroke(look.Ink, 0.2))
	}
	page.Line(pictureMargin, rulerY, pictureMargin+50, rulerY, paper.Stroke(look.Ink, 0.2))
	text(pictureMargin, rulerY+3.4, "50 mm", small, paper.Left)
	text(pictureWidth-pictureMargin, rulerY-0.6, fmt.Sprintf("%.1f m of tape, %g um thick", float64(t.Length), round(float64(t.Thickness), 2)), small, paper.Right)
	text(pictureWidth-pictureMargin, rulerY+3.4, "packs by r² = r0² + L t / π; distances and window from memory, unverified", small, paper.Right)
	return doc
}

// packsInText draws both packs with half blocks, two square dots a character.
func packsInText(t tape.Tape, at time.Duration, columns int) []string {
	const largest = float64(tape.LargestPack)
	span := float64(tape.HubDistance) + 2*largest // mm from edge to edge
	mm := span / float64(min(columns, 70))        // a dot
	rows := int(math.Ceil(2 * largest / mm))
	supply, takeUp := float64(t.Supply(at)), float64(t.TakeUp(at))
	dark := func(column, row int) bool {
		x, y := (float64(column)+0.5)*mm-largest, (float64(row)+0.5)*mm-largest
		on := func(cx, r float64) bool {
			d := math.Hypot(x-cx, y)
			// The pack, and in its hub the ring that the spindle holds.
			return d <= r && d > float64(t.Hub) || d <= 5.5 && d > 3.5
		}
		return on(0, supply) || on(float64(tape.HubDistance), takeUp)
	}
	var lines []string
	for row := 0; row < rows; row += 2 {
		var b strings.Builder
		for column := range min(columns, 70) {
			b.WriteString(map[[2]bool]string{
				{false, false}: " ", {true, false}: "▀", {false, true}: "▄", {true, true}: "█",
			}[[2]bool{dark(column, row), dark(column, row+1)}])
		}
		if line := strings.TrimRight(b.String(), " "); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}
