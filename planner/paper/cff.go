package paper

import (
	"encoding/binary"
	"math"
)

// cff writes glyph outlines as one CID-keyed font in the Compact Font Format
// (Adobe Technical Notes 5176 and 5177), 1000 units an em. Glyph n has CID n;
// glyph 0 is .notdef. widths are in units, one for each outline.
func cff(name string, outlines []Path, widths []int) []byte {
	n := len(outlines)
	strings := cffIndex([][]byte{[]byte("Adobe"), []byte("Identity")}) // SID 391, 392
	chars := make([][]byte, n)
	box := [4]float64{}
	for i, p := range outlines {
		chars[i] = charstring(p, widths[i])
		for _, s := range p.segs {
			if s.kind != closePath {
				box[0], box[1] = min(box[0], s.x), min(box[1], s.y)
				box[2], box[3] = max(box[2], s.x), max(box[3], s.y)
			}
		}
	}
	charset := []byte{2}                      // format 2: ranges with a two-byte count
	charset = append(charset, 0, 1)           // first CID after .notdef
	charset = append16(charset, max(n-2, 0))  // how many follow it
	fdselect := []byte{3}                     // format 3: ranges
	fdselect = append16(fdselect, 1)          // one range
	fdselect = append(fdselect, 0, 0, 0)      // from glyph 0: font dictionary 0
	fdselect = append16(fdselect, n)          // up to, not with, this glyph
	charstrings := cffIndex(chars)            //
	private := dictInt(nil, 0)                // defaultWidthX 0
	private = append(private, 20)             //
	private = append(dictInt(private, 0), 21) // nominalWidthX 0

	header := []byte{1, 0, 4, 2} // version 1.0, header of 4 bytes, offsets of up to 2
	names := cffIndex([][]byte{[]byte(name)})
	gsubrs := cffIndex(nil)

	// Offsets in the dictionaries are written in five bytes each, so the
	// dictionaries' lengths are known before the offsets are.
	top := func(charsetAt, selectAt, charsAt, arrayAt int) []byte {
		var d []byte
		d = dictInt(d, 391) // registry
		d = dictInt(d, 392) // ordering
		d = dictInt(d, 0)   // supplement
		d = append(d, 12, 30)
		for i, v := range box { // FontBBox, rounded outwards
			if i < 2 {
				d = dictInt(d, int(math.Floor(v)))
			} else {
				d = dictInt(d, int(math.Ceil(v)))
			}
		}
		d = append(d, 5)
		d = append(dictInt(d, n), 12, 34) // CIDCount
		d = append(dictOffset(d, charsetAt), 15)
		d = append(dictOffset(d, charsAt), 17)
		d = append(dictOffset(d, arrayAt), 12, 36)
		d = append(dictOffset(d, selectAt), 12, 37)
		return cffIndex([][]byte{d})
	}
	fontDict := func(privateAt int) []byte {
		d := dictInt(nil, len(private))
		return cffIndex([][]byte{append(dictOffset(d, privateAt), 18)})
	}
	at := len(header) + len(names) + len(top(0, 0, 0, 0)) + len(strings) + len(gsubrs)
	charsetAt := at
	selectAt := charsetAt + len(charset)
	charsAt := selectAt + len(fdselect)
	arrayAt := charsAt + len(charstrings)
	privateAt := arrayAt + len(fontDict(0))

	var out []byte
	for _, part := range [][]byte{header, names, top(charsetAt, selectAt, charsAt, arrayAt), strings, gsubrs,
		charset, fdselect, charstrings, fontDict(privateAt), private} {
		out = append(out, part...)
	}
	return out
}

// cffIndex writes an INDEX: count, offset size, offsets from 1, data.
func cffIndex(items [][]byte) []byte {
	out := append16(nil, len(items))
	if len(items) == 0 {
		return out
	}
	out = append(out, 4)
	at := 1
	out = binary.BigEndian.AppendUint32(out, uint32(at))
	for _, it := range items {
		at += len(it)
		out = binary.BigEndian.AppendUint32(out, uint32(at))
	}
	for _, it := range items {
		out = append(out, it...)
	}
	return out
}

func append16(b []byte, v int) []byte { return append(b, byte(v>>8), byte(v)) }

// dictInt writes an integer operand of a dictionary (TN 5176, table 3).
func dictInt(b []byte, v int) []byte {
	switch {
	case v >= -107 && v <= 107:
		return append(b, byte(v+139))
	case v >= -32768 && v <= 32767:
		return append(b, 28, byte(v>>8), byte(v))
	}
	return dictOffset(b, v)
}

func dictOffset(b []byte, v int) []byte {
	return append(b, 29, byte(v>>24), byte(v>>16), byte(v>>8), byte(v))
}

// charstring writes one outline as a Type 2 charstring: width, then moves,
// lines and curves relative to the point before.
func charstring(p Path, width int) []byte {
	num := func(b []byte, v int) []byte {
		switch {
		case v >= -107 && v <= 107:
			return append(b, byte(v+139))
		case v >= 108 && v <= 1131:
			v -= 108
			return append(b, byte(v>>8)+247, byte(v))
		case v >= -1131 && v <= -108:
			v = -v - 108
			return append(b, byte(v>>8)+251, byte(v))
		}
		return append(b, 28, byte(v>>8), byte(v))
	}
	clamp := func(v float64) int { return int(math.Round(math.Max(-16000, math.Min(16000, v)))) }
	b := num(nil, width) // a first number more than the operator takes is the width
	x, y := 0, 0
	rel := func(px, py float64) {
		nx, ny := clamp(px), clamp(py)
		b = num(num(b, nx-x), ny-y)
		x, y = nx, ny
	}
	for _, s := range p.segs {
		switch s.kind {
		case moveTo:
			rel(s.x, s.y)
			b = append(b, 21) // rmoveto
		case lineTo:
			rel(s.x, s.y)
			b = append(b, 5) // rlineto
		case cubeTo:
			rel(s.x1, s.y1)
			rel(s.x2, s.y2)
			rel(s.x, s.y)
			b = append(b, 8) // rrcurveto
		}
	}
	return append(b, 14) // endchar
}
