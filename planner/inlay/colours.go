package inlay

import "longside/planner/paper"

type named struct {
	name   string
	colour paper.Colour
}

// The palette: dark inks, and light stocks that are printed as a tint. "bare"
// prints nothing and lets the paper show. Every ink is dark enough on every
// stock (a test holds each pair to it), and ink and second tone differ in
// lightness, so that a black and white print keeps them apart.
var (
	inks = []named{
		{"night", paper.RGB(22, 36, 66)},
		{"soot", paper.RGB(26, 26, 26)},
		{"rust", paper.RGB(104, 36, 20)},
		{"kelp", paper.RGB(16, 62, 46)},
		{"plum", paper.RGB(74, 26, 72)},
	}
	stocks = []named{
		{"bare", paper.White},
		{"fog", paper.RGB(229, 234, 240)},
		{"chart", paper.RGB(246, 239, 217)},
		{"dawn", paper.RGB(250, 231, 224)},
		{"foam", paper.RGB(226, 240, 231)},
	}
)

// Inks and Stocks are the names of the palette's colours, the default first.
func Inks() []string { return names(inks) }

// Stocks are the names of the colours of the card itself.
func Stocks() []string { return names(stocks) }

func names(ns []named) (out []string) {
	for _, n := range ns {
		out = append(out, n.name)
	}
	return out
}

func pick(ns []named, name string) paper.Colour {
	for _, n := range ns {
		if n.name == name {
			return n.colour
		}
	}
	return ns[0].colour
}

// textContrast is what the second tone keeps against the stock: WCAG 2.1 asks
// for 4.5 to 1, success criterion 1.4.3.
const textContrast = 4.6

// palette makes the four colours of a card. The second tone is the ink let down
// with stock as far as text may be.
func palette(ink, stock string) paper.Look {
	l := paper.Look{Ink: pick(inks, ink), Stock: pick(stocks, stock)}
	t := 0.0
	for ; t < 0.6 && l.Ink.Mix(l.Stock, t+0.01).Contrast(l.Stock) >= textContrast; t += 0.01 {
	}
	l.Soft = l.Ink.Mix(l.Stock, t)
	l.Pale = l.Ink.Mix(l.Stock, 0.85)
	return l
}
