package main

import (
	"bytes"
	"image/png"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"longside/planner/tape"
	"longside/testdata/reftool"
)

// The picture is of the tape's own size: dark pixels across the middle of each
// pack measure its radius, at 10 dots a millimetre.
func TestTapePictureToScale(t *testing.T) {
	c120, err := tape.Named("C120")
	if err != nil {
		t.Fatal(err)
	}
	const at, perMM = 15 * time.Minute, 10
	data, err := drawTape(tapeView{c120, at, c120.ThinTail(), tape.ThinTailRadius}, "pack.png", 25.4*perMM)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if w, h := img.Bounds().Dx(), img.Bounds().Dy(); w != pictureWidth*perMM || h != pictureHeight*perMM {
		t.Fatalf("%d x %d dots, want %d x %d", w, h, pictureWidth*perMM, pictureHeight*perMM)
	}
	// From a pack's middle straight up: bare hub, then tape, then nothing.
	for _, c := range []struct {
		name   string
		x      float64 // mm
		radius float64
	}{
		{"supply", pictureWidth/2 - float64(tape.HubDistance)/2, float64(c120.Supply(at))},
		{"take-up", pictureWidth/2 + float64(tape.HubDistance)/2, float64(c120.TakeUp(at))},
	} {
		const middle = 47.0 // mm from the top
		last := 0.0
		for r := float64(c120.Hub) + 1; r < 30; r += 1.0 / perMM {
			red, _, _, _ := img.At(int(c.x*perMM), int((middle-r)*perMM)).RGBA()
			if red < 0x9000 {
				last = r
			} else if r > last+0.5 && last > 0 {
				break
			}
		}
		if math.Abs(last-c.radius) > 0.2 {
			t.Errorf("the %s pack is drawn %.1f mm wide, want %.1f", c.name, last, c.radius)
		}
	}
	again, err := drawTape(tapeView{c120, at, c120.ThinTail(), tape.ThinTailRadius}, "pack.png", 25.4*perMM)
	if err != nil || !bytes.Equal(again, data) {
		t.Errorf("the second time it is another picture: %v", err)
	}
}

// The PDF stands up to an outside checker and has its words.
func TestTapePicturePDF(t *testing.T) {
	qpdf, pdftotext := reftool.Need(t, "qpdf"), reftool.Need(t, "pdftotext")
	file := filepath.Join(t.TempDir(), "pack.pdf")
	if status, _, says := talk("", "tape", "C120", "-o", file); status != 0 {
		t.Fatal(says)
	}
	if out, err := exec.Command(qpdf, "--check", file).CombinedOutput(); err != nil {
		t.Errorf("qpdf: %v: %s", err, out)
	}
	out, err := exec.Command(pdftotext, file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, says := range []string{"C120", "30:00 of 60:00", "supply: 19.1 mm", "thin end from 54:08", "50 mm"} {
		if !strings.Contains(string(out), says) {
			t.Errorf("the PDF does not say %q: %s", says, out)
		}
	}
}

// In the terminal the packs are round: as many dots wide as high.
func TestPacksInText(t *testing.T) {
	c90, err := tape.Named("C90")
	if err != nil {
		t.Fatal(err)
	}
	lines := packsInText(c90, 0, 70)
	// A full pack of 24.74 mm at 92.5/70 mm a dot is 37 dots, two to a line.
	if n := len(lines); n < 18 || n > 20 {
		t.Errorf("%d lines, want 19", n)
	}
	for _, l := range lines {
		if w := columns(l); w > 70 {
			t.Errorf("%d columns wide", w)
		}
	}
}

func BenchmarkTapeCard(b *testing.B) {
	for b.Loop() {
		var out, err bytes.Buffer
		if status := run([]string{"tape", "C120"}, &streams{in: strings.NewReader(""), out: &out, err: &err, width: 80}); status != 0 {
			b.Fatal(err.String())
		}
	}
}
