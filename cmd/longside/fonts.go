package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"github.com/adrg/xdg"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/fontscan"
	"github.com/spf13/pflag"
	"golang.org/x/text/language"

	"longside/planner/paper"
)

// maxFont is the largest font file that is read: collections for Chinese,
// Japanese and Korean come to about 30 MB.
const maxFont = 128 << 20

// fonts reads the faces that are built in: Latin with Vietnamese, Greek,
// Cyrillic, Armenian, Georgian, Hebrew and Arabic. Only commands that draw call
// it, so that the others start without the cost.
func fonts() (*paper.Fonts, error) {
	return paper.NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
}

// fontFlags are where letters come from that the built-in faces do not hold.
type fontFlags struct {
	files []string
	lang  string
}

func (ff *fontFlags) add(fl *pflag.FlagSet) {
	fl.StringArrayVar(&ff.files, "font", nil, "a font for letters that the built-in one lacks, as FILE or FILE#2 (repeatable)")
	fl.StringVar(&ff.lang, "lang", "", "language of the titles, as ja or zh-Hant, for the shape of shared letters")
}

// load reads the built-in faces and those that the flags name. What none of
// them holds is looked for among the fonts of the system.
func (ff *fontFlags) load() (*paper.Fonts, error) {
	lang := ""
	if ff.lang != "" {
		tag, err := language.Parse(ff.lang)
		if err != nil {
			return nil, fmt.Errorf("--lang %q: not a language; write a tag as ja, ko or zh-Hant", ff.lang)
		}
		lang = tag.String()
		ff.lang = lang
	}
	f, err := fonts()
	if err != nil {
		return nil, err
	}
	f.SetLanguage(lang)
	for _, spec := range ff.files {
		file, index := spec, 0
		if i := strings.LastIndexByte(spec, '#'); i > 0 {
			if n, err := strconv.Atoi(spec[i+1:]); err == nil {
				file, index = spec[:i], n
			}
		}
		data, err := readBounded(file, maxFont)
		if err != nil {
			return nil, fmt.Errorf("--font: %w", err)
		}
		if err := f.Add(data, index); err != nil {
			return nil, fmt.Errorf("--font: %s: %w", file, err)
		}
	}
	f.Find = systemFonts()
	return f, nil
}

// systemFonts looks among the fonts that are installed. The list of them is made
// on the first question and kept in the cache folder by the font scanner.
func systemFonts() func(rune, paper.Weight, string, func([]byte, int) bool) {
	var prints []fontscan.Footprint
	read := false
	files := map[string][]byte{}
	return func(r rune, w paper.Weight, lang string, offer func([]byte, int) bool) {
		if !read {
			read = true
			dir := filepath.Join(xdg.CacheHome, "longside")
			if os.MkdirAll(dir, 0o777) != nil {
				dir = os.TempDir()
			}
			prints, _ = fontscan.SystemFonts(quiet{}, dir) // no fonts: nothing is offered
		}
		var fit []fontscan.Footprint
		for _, p := range prints {
			if p.Runes.Contains(r) {
				fit = append(fit, p)
			}
		}
		slices.SortStableFunc(fit, func(a, b fontscan.Footprint) int {
			return cmp.Or(cmp.Compare(fontRank(a, w, lang), fontRank(b, w, lang)), cmp.Compare(a.Family, b.Family),
				cmp.Compare(a.Location.File, b.Location.File), cmp.Compare(a.Location.Index, b.Location.Index))
		})
		for _, p := range fit {
			if p.Location.Instance != 0 {
				continue
			}
			data, ok := files[p.Location.File]
			if !ok {
				data, _ = readBounded(p.Location.File, maxFont)
				files[p.Location.File] = data
			}
			if data != nil && offer(data, int(p.Location.Index)) {
				return
			}
		}
	}
}

// regions are the marks by which families that come once for each language are
// told apart: Han letters are shaped differently in each.
var regions = []struct{ lang, mark string }{
	{"ja", "jp"}, {"ko", "kr"}, {"zh-hant-hk", "hk"}, {"zh-hk", "hk"}, {"zh-hant", "tc"}, {"zh-tw", "tc"}, {"zh", "sc"},
}

// fontRank is lower for a better font: one for the language, then of the weight
// and upright, then without serifs and not of fixed width, to go with the built-in face.
func fontRank(p fontscan.Footprint, w paper.Weight, lang string) int {
	rank := 0
	lang = strings.ToLower(lang)
	for _, g := range regions {
		if lang == g.lang || strings.HasPrefix(lang, g.lang+"-") {
			if !strings.HasSuffix(p.Family, g.mark) {
				rank += 16
			}
			break
		}
	}
	want := font.WeightNormal
	if w == paper.Bold {
		want = font.WeightBold
	}
	if p.Aspect.Weight != want {
		rank += 8
	}
	if p.Aspect.Style == font.StyleItalic {
		rank += 4
	}
	if strings.Contains(p.Family, "mono") {
		rank += 2
	}
	if strings.Contains(p.Family, "serif") || strings.Contains(p.Family, "mincho") || strings.Contains(p.Family, "ming") {
		rank++
	}
	return rank
}

// quiet is a log that says nothing: a font that cannot be read is passed over.
type quiet struct{}

func (quiet) Printf(string, ...interface{}) {}

// readPicture reads a JPEG or PNG file.
func readPicture(path string) (*paper.Picture, error) {
	const most = 24 << 20
	data, err := readBounded(path, most)
	if err != nil {
		return nil, fmt.Errorf("--picture: %w", err)
	}
	p, err := paper.DecodePicture(data)
	if err != nil {
		return nil, fmt.Errorf("--picture: %s: %w", path, err)
	}
	// A large one took a hundred megabytes to read, of which little is kept: that
	// room is wanted for the drawing.
	runtime.GC()
	return p, nil
}

// drawnAs turns a document into the files that a name asks for by its ending:
// one PDF, or an SVG or PNG for each page, the second and later with -2, -3
// before the ending.
func drawnAs(doc *paper.Document, name string, dpi float64) ([]output, error) {
	ending := strings.ToLower(filepath.Ext(name))
	var page func(i int) ([]byte, error)
	switch ending {
	case ".pdf":
		data, err := doc.PDF()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return []output{{name, data}}, nil
	case ".svg":
		page = doc.SVG
	case ".png":
		page = func(i int) ([]byte, error) { return doc.PNG(i, dpi) }
	default:
		return nil, errUnknownEnding
	}
	var out []output
	for i := range doc.Pages {
		data, err := page(i)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		n := name
		if i > 0 {
			n = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, filepath.Ext(name)), i+1, filepath.Ext(name))
		}
		out = append(out, output{n, data})
	}
	return out, nil
}

var errUnknownEnding = errors.New("unknown ending")
