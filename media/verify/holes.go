package verify

import (
	"fmt"
	"math"
	"slices"
)

// report turns what was laid into findings.
func (l *layer) report() {
	f := l.f
	// When record was pressed, by each track; most of them agree.
	var played, records []float64
	for _, t := range l.laid {
		if t.found {
			played = append(played, t.speed)
		}
	}
	slices.Sort(played)
	speed := played[(len(played)-1)/2]
	for i, t := range l.laid {
		if t.found {
			records = append(records, t.at(0)/perSecond-l.sent[i].Start/speed)
		}
	}
	slices.Sort(records)
	record := records[(len(records)-1)/2]
	f.RecordS = record
	l.channels()
	floor := make([]float64, len(l.capture.p))
	for ch := range floor {
		var all []float64
		for i := 0; i < l.capture.n; i += 5 {
			all = append(all, l.capture.level(ch, i))
		}
		floor[ch] = quantile(all, 0.03)
	}
	var speeds []Figure
	for i, s := range l.sent {
		h := Heard{Title: s.Title, Judged: s.Source != nil, Found: l.laid[i].found, Holes: []Hole{}, DropOuts: []SideDrop{}}
		if h.Found {
			t := l.laid[i]
			h.StartS = t.at(0) / perSecond
			h.EndS = t.at(s.Length*perSecond) / perSecond
			h.TapeS = (h.StartS - record) * speed
			h.LateS = h.TapeS - s.Start
			slope, within := line(t.pairs)
			if !math.IsInf(within, 0) {
				v := Figure{100 * (1/slope - 1), 100 * (within + cardClock)}
				h.Speed = &v
				speeds = append(speeds, v)
			}
			l.judge(i, &h, floor)
		}
		f.Tracks[i] = h
	}
	l.course(speeds)
	l.tidy()
}

// course is the speed along the side.
func (l *layer) course(speeds []Figure) {
	f := l.f
	for i := range l.laid {
		p := l.laid[i].pairs
		// Over half a minute at a time: the place of a window is known to a
		// millisecond or so.
		const span = 12
		for k := 0; k+span < len(p); k += span {
			a, b := p[k], p[k+span]
			f.Course = append(f.Course, Point{(a.capture + b.capture) / 2 / perSecond, 100 * ((b.track-a.track)/(b.capture-a.capture) - 1)})
		}
	}
	if len(speeds) == 0 {
		return
	}
	var all []float64
	var widest float64
	for _, s := range speeds {
		all = append(all, s.Value)
		widest = max(widest, s.Within)
	}
	middle := median(slices.Clone(all))
	f.Speed = &Figure{middle, widest}
	if n := len(speeds); n >= 2 {
		d := speeds[n-1].less(speeds[0])
		f.Drift = &d
	}
}

// loudWithin tells the frames of a source that matter, by its loudest.
const loudWithin = 40.0 // dB

// channels finds out whether they are swapped, alike or missing, by how the
// levels of left and right differ in the source and in the capture.
func (l *layer) channels() {
	f := l.f
	if len(l.capture.p) < 2 {
		return
	}
	var same, crossed, sourceVar, captureVar, n float64
	var left, right []float64 // how much louder the capture's channels are than the source
	for i, t := range l.laid {
		if !t.found {
			continue
		}
		src := l.sources[i]
		top := src.top()
		for k := 0; k < src.n; k += 3 {
			a := src.level(0, k)
			b := a
			if len(src.p) > 1 {
				b = src.level(1, k)
			}
			if max(a, b) < top-20 {
				continue
			}
			j := int(math.Round(t.at(float64(k))))
			if j < 0 || j >= l.capture.n {
				continue
			}
			x, y := l.capture.level(0, j), l.capture.level(1, j)
			d, e := min(max(a-b, -20), 20), min(max(x-y, -40), 40)
			same += d * e
			crossed += d
			sourceVar += d * d
			captureVar += e
			n++
			left = append(left, x-max(a, b))
			right = append(right, y-max(a, b))
		}
	}
	if n == 0 {
		return
	}
	lean, tilt := crossed/n, captureVar/n
	together := same/n - lean*tilt
	wide := sourceVar/n - lean*lean
	switch gl, gr := median(left), median(right); {
	case gl-gr > 30:
		f.OneSided = "right"
	case gr-gl > 30:
		f.OneSided = "left"
	case wide > 1 && together < -0.3*wide:
		f.Swapped = true
		l.capture.p[0], l.capture.p[1] = l.capture.p[1], l.capture.p[0]
	case wide > 1 && math.Abs(together) < 0.1*wide:
		f.Alike = true
	}
	switch {
	case f.OneSided != "":
		f.Notes = append(f.Notes, fmt.Sprintf("the %s channel is missing", f.OneSided))
	case f.Swapped:
		f.Notes = append(f.Notes, "left and right are swapped")
	case f.Alike:
		f.Notes = append(f.Notes, "both channels hold the same: a mono deck, head or cable")
	}
}

// top is the loudest level of a course, in dB.
func (c course) top() float64 {
	top := -200.0
	for i := range c.n {
		for ch := range c.p {
			top = max(top, c.level(ch, i))
		}
	}
	return top
}

// judge compares a track with the capture, hundredth by hundredth: its level,
// holes and drop-outs.
func (l *layer) judge(i int, h *Heard, floor []float64) {
	src, t, sent := l.sources[i], l.laid[i], l.sent[i]
	top := src.top()
	names := []string{"left", "right"}
	if len(l.capture.p) == 1 {
		names = []string{"mono"}
	}
	n := src.n
	if sent.Fade > 0 { // what fades out is compared no further
		n = max(n-int(sent.Fade*perSecond), 0)
	}
	place := make([]int, n)
	for k := range place {
		place[k] = int(math.Round(t.at(float64(k))))
	}
	missing := make([]bool, n) // in every channel that should sound
	for k := range missing {
		missing[k] = true
	}
	sounds := make([]bool, n)
	var gains []float64
	type run struct {
		from, to int
		depth    float64
		ch       int
	}
	var runs []run
	for ch := range l.capture.p {
		if f := l.f; f.OneSided == "left" && ch == 0 || f.OneSided == "right" && ch == 1 {
			continue
		}
		level := func(k int) float64 {
			switch {
			case len(src.p) == 1:
				return src.level(0, k)
			case len(l.capture.p) == 1, l.f.Alike:
				return max(src.level(0, k), src.level(1, k))
			}
			return src.level(ch, k)
		}
		var q []float64
		for k := range n {
			if level(k) > top-25 {
				q = append(q, l.capture.level(ch, place[k])-level(k))
			}
		}
		if len(q) < perSecond/2 {
			continue
		}
		gain := quantile(q, 0.6) // drop-outs and holes pull it down, nothing up
		gains = append(gains, gain)
		last := -1
		for k := range n {
			// The least that was sent around, so that a beginning which comes a
			// little late is not taken for a loss.
			least := math.Inf(1)
			for j := max(0, k-3); j <= min(n-1, k+3); j++ {
				least = min(least, level(j))
			}
			least += gain
			if least < floor[ch]+SideDropDB+4 || least-gain < top-loudWithin {
				continue
			}
			sounds[k] = true
			most := max(l.capture.level(ch, place[k]-1), l.capture.level(ch, place[k]), l.capture.level(ch, place[k]+1))
			depth := least - most
			if depth < SideDropDB {
				missing[k] = false
				continue
			}
			if last >= 0 && runs[last].ch == ch && k-runs[last].to <= 5 {
				runs[last].to, runs[last].depth = k+1, max(runs[last].depth, depth)
			} else {
				runs = append(runs, run{k, k + 1, depth, ch})
				last = len(runs) - 1
			}
		}
	}
	if len(gains) > 0 {
		var sum float64
		for _, g := range gains {
			sum += g
		}
		h.LevelDB = sum / float64(len(gains))
	}
	tape := func(k int) float64 { return h.TapeS + float64(k)/perSecond }
	// Holes: where all channels that should sound lack; what sounds in none is
	// part of one if it lies within.
	for k := 0; k < n; {
		if !sounds[k] || !missing[k] {
			k++
			continue
		}
		from, to := k, k+1
		for j := k + 1; j < n && (missing[j] || !sounds[j]) && j-to < perSecond; j++ {
			if sounds[j] {
				to = j + 1
			}
		}
		if float64(to-from)/perSecond >= HoleLong {
			end := true
			for j := to; j < n; j++ {
				if sounds[j] && j > to+perSecond/5 {
					end = false
					break
				}
			}
			h.Holes = append(h.Holes, Hole{float64(from) / perSecond, float64(to) / perSecond, end, tape(from)})
		}
		k = max(to, k+1)
	}
	for _, r := range runs {
		from, to := float64(r.from)/perSecond, float64(r.to)/perSecond
		// Each frame looks at a window, and at its neighbours: a loss is longer than
		// the frames that show it, by some two of them.
		if long := to - from + 0.02; long >= SideDropLong+0.01 {
			if slices.ContainsFunc(h.Holes, func(x Hole) bool { return from < x.ToS && to > x.FromS }) {
				continue
			}
			h.DropOuts = append(h.DropOuts, SideDrop{from, tape(r.from), long, r.depth, names[r.ch]})
		}
	}
	slices.SortStableFunc(h.DropOuts, func(a, b SideDrop) int {
		switch {
		case a.TrackS < b.TrackS:
			return -1
		case a.TrackS > b.TrackS:
			return 1
		}
		return 0
	})
	h.Whole = len(h.Holes) == 0
}

// tidy rounds what is printed.
func (l *layer) tidy() {
	f := l.f
	round := func(x, to float64) float64 { return math.Round(x/to)*to + 0 }
	figure := func(g *Figure) {
		if g != nil {
			*g = Figure{round(g.Value, 1e-4), max(round(min(g.Within, mostWithin), 1e-4), 1e-4)}
		}
	}
	f.RecordS, f.LengthS = round(f.RecordS, 1e-3), round(f.LengthS, 1e-3)
	figure(f.Speed)
	figure(f.Drift)
	for i, p := range f.Course {
		f.Course[i] = Point{round(p.X, 0.1), round(p.Y, 1e-3)}
	}
	for i := range f.Tracks {
		h := &f.Tracks[i]
		figure(h.Speed)
		h.StartS, h.EndS, h.TapeS, h.LateS = round(h.StartS, 1e-3), round(h.EndS, 1e-3), round(h.TapeS, 1e-3), round(h.LateS, 1e-3)
		h.LevelDB = round(h.LevelDB, 1e-2)
		for k, x := range h.Holes {
			h.Holes[k] = Hole{round(x.FromS, 0.01), round(x.ToS, 0.01), x.ToEnd, round(x.AtTape, 0.01)}
		}
		for k, d := range h.DropOuts {
			h.DropOuts[k] = SideDrop{round(d.TrackS, 0.01), round(d.TapeS, 0.01), round(d.LongS, 0.01), round(d.DB, 0.1), d.Channel}
		}
	}
}
