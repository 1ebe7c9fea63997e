package sheet

import (
	"bytes"
	"fmt"
	"html/template"
	"math"
	"strings"

	"longside/planner"
)

// HTML is the run sheet as one file for a telephone or a browser, with no script
// in it and nothing fetched: boxes can be ticked, and it prints as the pages do,
// one for preparing and one for each side. Everything from a tag is escaped.
func HTML(p planner.Plan, o Options) []byte {
	t := template.Must(template.New("sheet").Funcs(template.FuncMap{"strip": strip, "course": course}).Parse(page))
	paper := "A4"
	if o.Page == "Letter" || o.Page == "letter" {
		paper = "letter"
	}
	var b bytes.Buffer
	err := t.Execute(&b, struct {
		Sheet
		Language string
		Paper    template.CSS
	}{Of(p), o.Language, template.CSS(paper)})
	if err != nil { // a buffer takes everything and the template is fixed
		return []byte("<!DOCTYPE html><title>run sheet</title>")
	}
	return b.Bytes()
}

// bar is a box of the strip, in hundredths of its length; of an echo, W is the line's width.
type bar struct {
	X, W  float64
	Class string
}

// strip lays a side out in hundredths: tracks, then the thin zone.
func strip(p Part) []bar {
	run := p.Side.RunS.D().Seconds()
	if run <= 0 {
		return nil
	}
	at := func(v float64) float64 { return min(max(v/run*100, 0), 100) }
	var out []bar
	for i, t := range p.Side.Tracks {
		a, b := at(t.StartS.D().Seconds()), at(t.EndS().D().Seconds())
		c := bar{X: a, W: b - a, Class: "a"}
		if i%2 == 1 {
			c.Class = "b"
		}
		out = append(out, c)
	}
	if v := p.Side.ThinFromS.D().Seconds(); v > 0 {
		out = append(out, bar{X: at(v), W: 100 - at(v), Class: "thin"})
	}
	for _, e := range p.Echoes {
		out = append(out, bar{X: at(e.AtS.D().Seconds()), W: 0.25 + 0.35*e.Strength(), Class: "echo"})
	}
	return out
}

// loudness is a part's course in hundredths of its length and in LU from the top.
type loudness struct {
	High   int
	Shapes []string // points of polygons
	Lines  []int
	Marked bool
	Mark   float64
}

// course lays the loudness of a side out.
func course(p Part) loudness {
	l := loudness{High: courseHigh - courseLow}
	for y := courseStep; y < l.High; y += courseStep {
		l.Lines = append(l.Lines, y)
	}
	const n = 400 // steps: finer is not seen on a telephone
	tops := p.course().Tops(n)
	for i := 0; i < n; {
		if math.IsNaN(tops[i]) {
			i++
			continue
		}
		var b strings.Builder
		at := func(k int, y float64) {
			fmt.Fprintf(&b, "%.2f,%.1f ", float64(k)*100/n, min(max(y, 0), float64(l.High)))
		}
		at(i, float64(l.High))
		for ; i < n && !math.IsNaN(tops[i]); i++ {
			at(i, courseHigh-tops[i])
			at(i+1, courseHigh-tops[i])
		}
		at(i, float64(l.High))
		l.Shapes = append(l.Shapes, strings.TrimSpace(b.String()))
	}
	if run := p.Side.RunS.D().Seconds(); p.Loudest && run > 0 {
		l.Marked, l.Mark = true, min(p.LoudestAt.D().Seconds()/run*100, 100)
	}
	return l
}

// page is written so that it reads as XML too, which a test makes use of.
const page = `<!DOCTYPE html>
<html{{with .Language}} lang="{{.}}"{{end}}>
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<title>{{.Title}}: run sheet</title>
<style>
@page { size: {{.Paper}}; margin: 15mm; @bottom-right { content: counter(page) " of " counter(pages); font: 9pt sans-serif; } }
body { font: 16px/1.35 sans-serif; color: #000; background: #fff; max-width: 46em; margin: 1em auto; padding: 0 1em; }
h1 { border-bottom: 2px solid; padding-bottom: .2em; display: flex; flex-wrap: wrap; justify-content: space-between; align-items: baseline; gap: 0 1em; }
h1 small { font-size: 60%; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0 1.2em; }
dt { font-weight: bold; } dd { margin: 0; }
label { display: block; padding: .25em 0 .25em 1.9em; text-indent: -1.9em; }
input[type=checkbox] { width: 1.1em; height: 1.1em; margin: 0 .8em 0 0; vertical-align: -.1em; }
input[type=text] { font: inherit; border: 1px solid #767676; padding: 0 .2em; max-width: 5em; }
.write { margin: 0 0 .6em 1.9em; } .write span { white-space: nowrap; margin-right: 1em; }
table { border-collapse: collapse; width: 100%; }
th { text-align: right; font-weight: normal; font-size: 80%; color: #555; padding-right: .6em; } th.pen { text-align: left; }
td { border-top: 1px solid #ccc; padding: .35em .5em .35em 0; text-align: right; vertical-align: top; font-variant-numeric: tabular-nums; }
td.name, th.name { text-align: left; width: 100%; }
td small { display: block; color: #555; }
.care { border-left: 5px solid; padding-left: .8em; }
svg { display: block; width: 100%; height: 3.2em; } svg.course { height: 3em; margin-top: .3em; border-bottom: 1px solid; }
.loud { fill: #606060; } .line { stroke: #ddd; stroke-width: 1px; vector-effect: non-scaling-stroke; } .top { stroke: #000; stroke-width: 2px; vector-effect: non-scaling-stroke; }
@media (max-width: 34em) { .pen { display: none; } }
.bare { fill: #ddd; stroke: #000; stroke-width: .2; } .a { fill: #000; } .b { fill: #606060; } .echo { stroke: #000; } .thin { fill: none; stroke: #000; stroke-width: .6; stroke-dasharray: 1 .6; }
@media print { .pen { display: table-cell; } body { font-size: 11pt; max-width: none; margin: 0; padding: 0; } section { break-after: page; } section:last-of-type { break-after: auto; } tr, label { break-inside: avoid; } }
</style>
</head>
<body>
<section>
<h1><bdi>{{.Title}}</bdi> <small>Run sheet</small></h1>
{{with .Note}}<p><bdi>{{.}}</bdi></p>{{end}}
<dl>{{range .Facts}}<dt>{{.Label}}</dt><dd>{{.Value}}</dd>{{end}}</dl>
{{template "care" .Care}}
<h2>Before you start</h2>
{{template "steps" .Before}}
</section>
{{$title := .Title}}{{range .Parts}}{{$part := .}}<section>
<h1>{{.Name}} <small><bdi>{{$title}}</bdi> · {{.Tape}}</small></h1>
{{range .First}}<label><input type="checkbox"/>{{.}}</label>{{end}}
<svg viewBox="0 -1.5 100 7.5" preserveAspectRatio="none" role="img" aria-label="the side to scale"><rect class="bare" x="0" y="0" width="100" height="5"></rect>{{range strip .}}{{if eq .Class "thin"}}<line class="thin" x1="{{.X}}" y1="5.6" x2="100" y2="5.6"></line>{{else if eq .Class "echo"}}<line class="echo" x1="{{.X}}" y1="-1.4" x2="{{.X}}" y2="-.3" stroke-width="{{.W}}"></line>{{else}}<rect class="{{.Class}}" x="{{.X}}" y="0" width="{{.W}}" height="5"></rect>{{end}}{{end}}</svg>
{{with .Courses}}{{with course $part}}<svg class="course" viewBox="0 0 100 {{.High}}" preserveAspectRatio="none" role="img" aria-label="the loudness of the side">{{range .Shapes}}<polygon class="loud" points="{{.}}"></polygon>{{end}}{{range .Lines}}<line class="line" x1="0" y1="{{.}}" x2="100" y2="{{.}}"></line>{{end}}{{if .Marked}}<line class="top" x1="{{.Mark}}" y1="0" x2="{{.Mark}}" y2="{{.High}}"></line>{{end}}</svg>{{end}}{{end}}
<table>
<tr><th></th><th></th><th>start</th>{{if .Counter}}<th>counter</th><th class="pen">read</th>{{end}}<th>length</th>{{if .Trims}}<th>trim</th>{{end}}<th class="pen">level</th><th class="name">title</th></tr>
{{$counter := .Counter}}{{$trims := .Trims}}{{range .Rows}}<tr><td><input type="checkbox"{{if .Recorded}} checked="checked"{{end}} aria-label="track {{.Number}} done"/></td><td>{{.Number}}</td><td><b>{{.Start}}</b></td>{{if $counter}}<td>{{.Counter}}</td><td class="pen">{{if not .Recorded}}<input type="text" size="4" inputmode="numeric" aria-label="counter as read, track {{.Number}}"/>{{end}}</td>{{end}}<td>{{.Length}}</td>{{if $trims}}<td>{{.Trim}}</td>{{end}}<td class="pen">{{if not .Recorded}}<input type="text" size="4" aria-label="level, track {{.Number}}"/>{{end}}</td><td class="name"><b><bdi>{{.Title}}</bdi></b>{{with .Artist}}<small><bdi>{{.}}</bdi></small>{{end}}{{with .Note}}<small>{{.}}</small>{{end}}{{with .Gap}}<small>{{.}}</small>{{end}}</td></tr>
{{end}}</table>
{{range .Tail}}<p>{{.}}</p>{{end}}
{{template "care" .Care}}
{{template "steps" .Then}}
</section>
{{end}}<section>
<h2>After the last side</h2>
{{template "steps" .After}}
</section>
</body>
</html>
{{define "steps"}}{{range .}}<label><input type="checkbox"/><b>{{.Do}}</b>{{with .How}} {{.}}{{end}}</label>
{{with .Write}}<p class="write">{{range .}}<span>{{.}} <input type="text" size="8" aria-label="{{.}}"/></span> {{end}}</p>
{{end}}{{end}}{{end}}{{define "care"}}{{with .}}<div class="care">{{range .}}<p>{{.}}</p>{{end}}</div>{{end}}{{end}}`
