package paper

import "golang.org/x/text/unicode/bidi"

// levels gives each rune of a line its embedding level by the Unicode
// bidirectional algorithm (UAX #9). The base level is that of the first strong
// letter (P2, P3).
func levels(text []rune) (lv []uint8, base uint8) {
	plain := true
	found := false
	for _, r := range text {
		p, _ := bidi.LookupRune(r)
		switch p.Class() {
		case bidi.L:
			found = true
		case bidi.R, bidi.AL:
			plain = false
			if !found {
				base, found = 1, true
			}
		case bidi.AN:
			plain = false
		}
	}
	if plain {
		return make([]uint8, len(text)), 0
	}
	return resolve(text, base), base
}

// resolve is the algorithm for a given base level. Text that comes here has no
// explicit embeddings, overrides or isolates (Clean takes them out), so the
// whole line is one isolating run and rules X1 to X8 fall away.
func resolve(text []rune, base uint8) []uint8 {
	n := len(text)
	lv := make([]uint8, n)
	class := make([]bidi.Class, n)
	for i, r := range text {
		p, _ := bidi.LookupRune(r)
		class[i] = p.Class()
	}
	orig := append([]bidi.Class(nil), class...)
	edge := bidi.L // the class before the line and after it (X10: sos, eos)
	if base == 1 {
		edge = bidi.R
	}

	prev := edge
	for i, c := range class { // W1: a mark takes the class before it
		if c == bidi.NSM {
			class[i] = prev
		}
		prev = class[i]
	}
	strong := edge
	for i, c := range class { // W2: a European number after Arabic is an Arabic number
		switch c {
		case bidi.L, bidi.R, bidi.AL:
			strong = c
		case bidi.EN:
			if strong == bidi.AL {
				class[i] = bidi.AN
			}
		}
	}
	for i, c := range class { // W3
		if c == bidi.AL {
			class[i] = bidi.R
		}
	}
	for i := 1; i+1 < n; i++ { // W4: one separator between numbers of one kind
		a, b := class[i-1], class[i+1]
		if a == b && (class[i] == bidi.ES && a == bidi.EN || class[i] == bidi.CS && (a == bidi.EN || a == bidi.AN)) {
			class[i] = a
		}
	}
	for i := 0; i < n; i++ { // W5: terminators beside a European number belong to it
		if class[i] != bidi.ET {
			continue
		}
		j := i
		for j < n && class[j] == bidi.ET {
			j++
		}
		if i > 0 && class[i-1] == bidi.EN || j < n && class[j] == bidi.EN {
			for k := i; k < j; k++ {
				class[k] = bidi.EN
			}
		}
		i = j - 1
	}
	strong = edge
	for i, c := range class {
		switch c {
		case bidi.ES, bidi.ET, bidi.CS: // W6
			class[i] = bidi.ON
		case bidi.L, bidi.R:
			strong = c
		case bidi.EN: // W7
			if strong == bidi.L {
				class[i] = bidi.L
			}
		}
	}
	brackets(text, orig, class, base)

	dir := func(c bidi.Class) bidi.Class { // numbers count as R in N0 to N2
		if c == bidi.EN || c == bidi.AN {
			return bidi.R
		}
		return c
	}
	for i := 0; i < n; i++ { // N1, N2: neutrals take the direction on both sides, else the base
		if isStrongOrNumber(class[i]) {
			continue
		}
		j := i
		for j < n && !isStrongOrNumber(class[j]) {
			j++
		}
		before, after := edge, edge
		if i > 0 {
			before = dir(class[i-1])
		}
		if j < n {
			after = dir(class[j])
		}
		c := edge
		if before == after {
			c = before
		}
		for k := i; k < j; k++ {
			class[k] = c
		}
		i = j - 1
	}
	for i, c := range class { // I1, I2
		switch {
		case base == 0 && c == bidi.R:
			lv[i] = 1
		case base == 0 && (c == bidi.EN || c == bidi.AN):
			lv[i] = 2
		case base == 1 && c == bidi.R:
			lv[i] = 1
		case base == 1:
			lv[i] = 2
		}
	}
	for i := n - 1; i >= 0; i-- { // L1: blanks at the end of the line stand at the base level
		if orig[i] != bidi.WS && orig[i] != bidi.S && orig[i] != bidi.B && orig[i] != bidi.BN {
			break
		}
		lv[i] = base
	}
	return lv
}

func isStrongOrNumber(c bidi.Class) bool {
	return c == bidi.L || c == bidi.R || c == bidi.EN || c == bidi.AN
}

// brackets is rule N0: a pair of brackets takes one direction, that of what it
// holds or, where that is mixed, of what stands before it.
func brackets(text []rune, orig, class []bidi.Class, base uint8) {
	type open struct {
		pos   int
		close rune
	}
	var stack []open
	type pair struct{ a, b int }
	var pairs []pair
scan:
	for i, r := range text {
		p, _ := bidi.LookupRune(r)
		if !p.IsBracket() || class[i] != bidi.ON {
			continue
		}
		if p.IsOpeningBracket() {
			if len(stack) == 63 { // BD16
				break scan
			}
			stack = append(stack, open{i, sameBracket([]rune(bidi.ReverseString(string(r)))[0])})
			continue
		}
		for k := len(stack) - 1; k >= 0; k-- {
			if stack[k].close == sameBracket(r) {
				pairs = append(pairs, pair{stack[k].pos, i})
				stack = stack[:k]
				break
			}
		}
	}
	// By the place of the opening bracket.
	for i := 1; i < len(pairs); i++ {
		for j := i; j > 0 && pairs[j].a < pairs[j-1].a; j-- {
			pairs[j], pairs[j-1] = pairs[j-1], pairs[j]
		}
	}
	own := bidi.L
	if base == 1 {
		own = bidi.R
	}
	strongOf := func(c bidi.Class) bidi.Class {
		switch c {
		case bidi.EN, bidi.AN, bidi.R:
			return bidi.R
		case bidi.L:
			return bidi.L
		}
		return bidi.ON
	}
	for _, p := range pairs {
		found := bidi.ON
		for i := p.a + 1; i < p.b; i++ {
			if s := strongOf(class[i]); s == own {
				found = own
				break
			} else if s != bidi.ON {
				found = s
			}
		}
		if found == bidi.ON {
			continue
		}
		if found != own {
			before := own
			for i := p.a - 1; i >= 0; i-- {
				if s := strongOf(class[i]); s != bidi.ON {
					before = s
					break
				}
			}
			if before == own {
				found = own
			}
		}
		for _, at := range []int{p.a, p.b} {
			class[at] = found
			for i := at + 1; i < len(class) && orig[i] == bidi.NSM; i++ {
				class[i] = found
			}
		}
	}
}

// sameBracket joins the two pairs of angle brackets that are canonically equivalent (BD14, BD15).
func sameBracket(r rune) rune {
	switch r {
	case 0x2329:
		return 0x3008
	case 0x232A:
		return 0x3009
	}
	return r
}

// span is a stretch of a line with one level.
type span struct {
	start, end int
	level      uint8
}

// visual cuts a line into stretches of one level and puts them in the order in
// which they stand on paper, left to right (rule L2).
func visual(lv []uint8) []span {
	var s []span
	var top uint8
	for i := 0; i < len(lv); {
		j := i
		for j < len(lv) && lv[j] == lv[i] {
			j++
		}
		s = append(s, span{i, j, lv[i]})
		top = max(top, lv[i])
		i = j
	}
	for l := top; l >= 1; l-- {
		for i := 0; i < len(s); i++ {
			j := i
			for j < len(s) && s[j].level >= l {
				j++
			}
			for a, b := i, j-1; a < b; a, b = a+1, b-1 {
				s[a], s[b] = s[b], s[a]
			}
			if j > i {
				i = j
			}
		}
	}
	return s
}
