package paper

import (
	"fmt"
	"strings"
	"unicode"
)

// Note is a sentence that a person should know of a drawing.
type Note struct {
	Says string // plain words, without a full stop
	Help Help   // what of the request would change it
}

// Help names what a front end can offer beside a note: it puts the name of its
// own flag or button to it. Rooms that draw more add names of their own.
type Help string

// The helps that any drawing can have; empty: none.
const (
	HelpFont Help = "font" // another font
)

// Letters gathers the letters of a document that no font holds, with the places
// where they stand, so that one sentence a script can say which font would do.
type Letters struct {
	lang  string
	order []string
	lacks map[string]*lack
}

type lack struct {
	runes []rune
	where []string
}

// Letters begins to gather.
func (f *Fonts) Letters() *Letters {
	f.mu.Lock()
	defer f.mu.Unlock()
	return &Letters{lang: string(f.lang), lacks: map[string]*lack{}}
}

// Look takes down what lines lack; where says which they are, as A3 or the title.
func (l *Letters) Look(where string, lines ...Line) {
	for _, line := range lines {
		for _, r := range line.missing {
			s := scriptOf(r)
			k, ok := l.lacks[s]
			if !ok {
				k = &lack{}
				l.lacks[s] = k
				l.order = append(l.order, s)
			}
			if !contains(k.runes, r) {
				k.runes = append(k.runes, r)
			}
			if n := len(k.where); n == 0 || k.where[n-1] != where {
				k.where = append(k.where, where)
			}
		}
	}
}

// Notes is one note for each script that is lacking, in the order found.
func (l *Letters) Notes() (out []Note) {
	for _, s := range l.order {
		k := l.lacks[s]
		var names []string
		for _, r := range k.runes {
			name := fmt.Sprintf("U+%04X", r)
			if unicode.IsGraphic(r) && !unicode.Is(unicode.M, r) {
				name = fmt.Sprintf("%c (%s)", r, name)
			}
			names = append(names, name)
		}
		what := s + " letters print"
		switch s {
		case emoji:
			what = "emoji print"
		case mathematics, music, symbols:
			what = s + " print"
		}
		out = append(out, Note{
			Says: fmt.Sprintf("%s as boxes, in %s: no font found holds %s as an outline; %s does", what, some(k.where, 6), some(names, 6), family(s, l.lang)),
			Help: HelpFont,
		})
	}
	return out
}

// some lists as many as most things, and says how many more there are.
func some(all []string, most int) string {
	if n := len(all) - most; n > 0 {
		all = append(append([]string(nil), all[:most]...), fmt.Sprintf("%d more", n))
	}
	if len(all) < 2 {
		return strings.Join(all, "")
	}
	return strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}

// What letters are called that belong to no script of their own.
const (
	emoji       = "emoji"
	mathematics = "mathematical signs"
	music       = "signs of music"
	symbols     = "symbols"
)

// scriptOf is the script that a rune belongs to by Unicode, as it is called there.
func scriptOf(r rune) string {
	switch {
	case r >= 0x1D400 && r <= 0x1D7FF: // block Mathematical Alphanumeric Symbols
		return mathematics
	case r >= 0x1D000 && r <= 0x1D24F: // Byzantine to Ancient Greek Musical Notation
		return music
	case r >= 0x1F000 && r <= 0x1FAFF && !(r >= 0x1F780 && r <= 0x1F8FF), r >= 0x2600 && r <= 0x27BF:
		return emoji // the pictographic blocks, without geometric shapes and arrows
	}
	for name, table := range unicode.Scripts { // at most one holds it
		if unicode.Is(table, r) && name != "Common" && name != "Inherited" {
			return strings.ReplaceAll(name, "_", " ")
		}
	}
	return symbols
}

// families are those whose names do not follow that of the script: it has no
// sans face, or shares one.
var families = map[string]string{
	emoji: "Noto Emoji (a colour font has no outlines to print)", mathematics: "Noto Sans Math", music: "Noto Music", symbols: "Noto Sans Symbols 2",
	"Latin": "Noto Sans", "Greek": "Noto Sans", "Cyrillic": "Noto Sans",
	"Hiragana": "Noto Sans CJK JP", "Katakana": "Noto Sans CJK JP", "Hangul": "Noto Sans CJK KR", "Bopomofo": "Noto Sans CJK TC",
	"Tibetan": "Noto Serif Tibetan", "Ahom": "Noto Serif Ahom", "Dogra": "Noto Serif Dogra", "Yezidi": "Noto Serif Yezidi", "Tangut": "Noto Serif Tangut",
	"Nyiakeng Puachue Hmong": "Noto Serif Nyiakeng Puachue Hmong", "Nko": "Noto Sans NKo", "Braille": "Noto Sans Symbols 2",
}

// family is the font family that holds a script: one of Noto, which is free and
// names its faces by their scripts. The names were held against the files of
// Debian's fonts-noto-core 20201225. Han letters differ in shape by language.
func family(script, lang string) string {
	if script == "Han" {
		lang = strings.ToLower(lang)
		switch {
		case strings.HasPrefix(lang, "ja"):
			return "Noto Sans CJK JP"
		case strings.HasPrefix(lang, "ko"):
			return "Noto Sans CJK KR"
		case strings.HasPrefix(lang, "zh-hk"), strings.HasPrefix(lang, "zh-hant-hk"):
			return "Noto Sans CJK HK"
		case strings.HasPrefix(lang, "zh-hant"), strings.HasPrefix(lang, "zh-tw"):
			return "Noto Sans CJK TC"
		case strings.HasPrefix(lang, "zh"):
			return "Noto Sans CJK SC"
		}
		return "Noto Sans CJK (JP, KR, SC or TC, by the language of the titles)"
	}
	if f, ok := families[script]; ok {
		return f
	}
	return "Noto Sans " + script
}
