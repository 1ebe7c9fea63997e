package paper

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"strings"
)

// SVG writes one page (from 0) as SVG 1.1, in millimetres. Text is drawn as
// outlines, so no font need be installed where it is shown; each line carries
// its text as a label.
func (d *Document) SVG(page int) ([]byte, error) {
	if page < 0 || page >= len(d.Pages) {
		return nil, fmt.Errorf("no page %d: the document has %d", page+1, len(d.Pages))
	}
	p := d.Pages[page]
	var body, defs bytes.Buffer
	names := map[cidKey]string{}
	for _, it := range p.items {
		switch {
		case len(it.path.segs) > 0:
			fmt.Fprintf(&body, "<path%s d=\"%s\"/>\n", svgStyle(it.style), svgPath(it.path))
		case it.line.glyphs != nil:
			m := it.at
			k := it.size / 1000
			fmt.Fprintf(&body, "<g role=\"text\" aria-label=\"%s\" fill=\"%s\" transform=\"matrix(%s %s %s %s %s %s)\">",
				escaped(it.line.text), svgColour(it.colour), num6(m.a*k), num6(m.b*k), num6(-m.c*k), num6(-m.d*k), num(m.e), num(m.f))
			for _, g := range it.line.glyphs {
				if len(g.outline().segs) == 0 {
					continue
				}
				key := cidKey{g.face.number, g.id, g.marks, ""}
				name, ok := names[key]
				if !ok {
					name = fmt.Sprintf("g%d", len(names))
					names[key] = name
					fmt.Fprintf(&defs, "<path id=\"%s\" d=\"%s\"/>\n", name, svgPath(g.outline()))
				}
				fmt.Fprintf(&body, "<use xlink:href=\"#%s\" x=\"%s\" y=\"%s\"/>", name, num(g.x), num(g.y))
			}
			body.WriteString("</g>\n")
		case it.picture != nil:
			m := it.at
			data, mime, err := it.picture.encoded(it.w, it.h)
			if err != nil {
				return nil, err
			}
			fmt.Fprintf(&body, "<image width=\"%s\" height=\"%s\" preserveAspectRatio=\"none\" transform=\"matrix(%s %s %s %s %s %s)\" xlink:href=\"data:%s;base64,%s\"/>\n",
				num(it.w), num(it.h), num6(m.a), num6(m.b), num6(m.c), num6(m.d), num(m.e), num(m.f), mime, base64.StdEncoding.EncodeToString(data))
		}
	}
	var b bytes.Buffer
	lang := ""
	if d.Language != "" {
		lang = fmt.Sprintf(" xml:lang=\"%s\"", escaped(d.Language))
	}
	fmt.Fprintf(&b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" version=\"1.1\" width=\"%smm\" height=\"%smm\" viewBox=\"0 0 %s %s\"%s>\n<title>%s</title>\n<defs>\n%s</defs>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#ffffff\"/>\n%s</svg>\n",
		num(p.Width), num(p.Height), num(p.Width), num(p.Height), lang, escaped(d.Title), defs.Bytes(), body.Bytes())
	return b.Bytes(), nil
}

func svgStyle(s Style) string {
	out := ` fill="none"`
	if s.Fill.on {
		out = fmt.Sprintf(" fill=\"%s\"", svgColour(s.Fill))
	}
	if s.Stroke.on && s.Width > 0 {
		out += fmt.Sprintf(" stroke=\"%s\" stroke-width=\"%s\"", svgColour(s.Stroke), num(s.Width))
		if len(s.Dash) > 0 {
			var ds []string
			for _, d := range s.Dash {
				ds = append(ds, num(d))
			}
			out += fmt.Sprintf(" stroke-dasharray=\"%s\"", strings.Join(ds, " "))
		}
	}
	return out
}

func svgPath(p Path) string {
	var b strings.Builder
	for _, s := range p.segs {
		switch s.kind {
		case moveTo:
			fmt.Fprintf(&b, "M%s %s", num(s.x), num(s.y))
		case lineTo:
			fmt.Fprintf(&b, "L%s %s", num(s.x), num(s.y))
		case cubeTo:
			fmt.Fprintf(&b, "C%s %s %s %s %s %s", num(s.x1), num(s.y1), num(s.x2), num(s.y2), num(s.x), num(s.y))
		case closePath:
			b.WriteByte('Z')
		}
	}
	return b.String()
}

func svgColour(c Colour) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// num6 is num for the small factors of a matrix.
func num6(v float64) string {
	s := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.7f", v), "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

var xmlEscapes = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&#39;")

// escaped makes a text safe inside XML: cleaned of what XML cannot hold, the rest escaped.
func escaped(s string) string { return xmlEscapes.Replace(Clean(s)) }
