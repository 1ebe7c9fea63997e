package paper

import (
	"bytes"
	"fmt"
	"sync"
	"testing"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansextralight"
	"github.com/go-fonts/dejavu/dejavusansmono"
)

// narrow is fonts with a face that lacks Hebrew and Arabic, which finds others
// for these: a mono face for Arabic letters, a sans face, which holds both, for Hebrew.
func narrow(t testing.TB) *Fonts {
	t.Helper()
	f, err := NewFonts(dejavusansextralight.TTF, dejavusansextralight.TTF)
	if err != nil {
		t.Fatal(err)
	}
	f.Find = func(r rune, w Weight, lang string, offer func([]byte, int) bool) {
		list := [][]byte{dejavusans.TTF, dejavusansmono.TTF}
		if r >= 0x0600 && r <= 0x06FF { // Arabic
			list = [][]byte{dejavusansmono.TTF, dejavusans.TTF}
		}
		for _, data := range list {
			if offer(data, 0) {
				return
			}
		}
	}
	return f
}

const hebrew, arabic = "אור 12 על המים (חלק 2)", "ليلة 25 على الجسر"

// one is a small document of a text.
func one(f *Fonts, text string) []byte {
	d := &Document{Title: text}
	p := d.Add(90, 60)
	lines, _ := f.Wrap(text, Regular, 9, 30, 4)
	for i, l := range lines {
		p.Text(5, 10+5*float64(i), l, 9, Black, Left)
	}
	p.Texts()
	pdf, err := d.PDF()
	if err != nil {
		panic(err)
	}
	svg, _ := d.SVG(0)
	return append(pdf, svg...)
}

// What fonts give for a text does not depend on what they were asked before.
func TestFontsForget(t *testing.T) {
	want := one(narrow(t), arabic)
	f := narrow(t)
	one(f, hebrew)
	if !bytes.Equal(one(f, arabic), want) {
		t.Error("an Arabic text comes out otherwise after a Hebrew one")
	}
	a, b := f.Line("ع", Regular), f.Line("א", Regular)
	if len(a.Missing())+len(b.Missing()) > 0 || a.glyphs[0].face == b.glyphs[0].face {
		t.Error("both texts come from one face, or from none: nothing is tested")
	}
}

// Many drawings at once with one Fonts come out as one after the other. The
// race detector sees what is not guarded.
func TestFontsAtOnce(t *testing.T) {
	texts := append([]string{hebrew, arabic}, sampleText...)
	var want [][]byte
	for _, s := range texts {
		want = append(want, one(narrow(t), s))
	}
	f := narrow(t)
	var wg sync.WaitGroup
	errs := make(chan error, 100)
	for n := range 8 {
		wg.Go(func() {
			for i := range texts {
				k := (i + n) % len(texts)
				if !bytes.Equal(one(f, texts[k]), want[k]) {
					errs <- fmt.Errorf("%q drawn beside others differs", texts[k])
				}
			}
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		t.Error(err)
	}
}
