package verify

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"longside/media/decode"
)

// Sent is a track as it was sent to the tape.
type Sent struct {
	Title  string
	Start  float64  // s from pressing record, as planned
	Length float64  // s, as played
	Source *Capture // what it sounds like; nil: it came from no file, and is not judged
	Skip   float64  // s left out at the source's beginning
	Fade   float64  // s, over which its end fades out
}

// SourceFile is a track's sound file as Sent wants it, of any rate and number of
// channels that can be decoded.
func SourceFile(path string) (Capture, error) {
	info, err := decode.Look(path)
	if err != nil {
		return Capture{}, err
	}
	return Capture{Rate: info.Rate, Channels: info.Channels, Frames: info.Samples,
		Open: func(ctx context.Context) (Sound, error) { return decode.Open(ctx, path) }}, nil
}

// ErrNotSide says that no track of the side was found in the capture.
var ErrNotSide = errors.New("none of the side's tracks is in it: is it a capture of this side?")

// What makes a track whole, and what a drop-out is within music: our own choice,
// as no standard's figures were found. In music a drop-out is told from what was
// sent, frame by frame of a hundredth of a second, so that shorter and shallower
// ones than in a steady tone cannot be.
const (
	SideDropDB   = 10.0
	SideDropLong = 0.03 // s
	// HoleLong is a loss that makes a track not whole.
	HoleLong = 0.5 // s
)

// SideFindings are what a capture of a recorded side tells.
type SideFindings struct {
	Rate     int     `json:"rate_hz"`
	Channels int     `json:"channels"`
	LengthS  float64 `json:"length_s"`

	Tracks []Heard `json:"tracks"`

	// RecordS is when record was pressed, in the capture, by the middle one of the
	// tracks that were found.
	RecordS float64 `json:"record_s"`
	// Speed of playing against what was sent, + is fast: the middle of the tracks';
	// Drift is the last track's less the first's. The sound card's clock is in
	// both, 50 ppm (from memory, unverified), and where one deck recorded and
	// played, its mean error is in neither.
	Speed  *Figure `json:"speed_pct"`
	Drift  *Figure `json:"drift_pct"`
	Course []Point `json:"speed_course"` // s of the capture, %

	Swapped  bool     `json:"swapped"`
	OneSided string   `json:"missing,omitempty"` // channel that did not come back
	Alike    bool     `json:"channels_alike,omitempty"`
	Clipped  int      `json:"clipped"`
	Notes    []string `json:"notes"`
}

// Heard is what became of one track.
type Heard struct {
	Title  string `json:"title"`
	Judged bool   `json:"judged"` // false: it came from no file
	Found  bool   `json:"found"`
	Whole  bool   `json:"whole"`

	StartS float64 `json:"start_s,omitempty"` // in the capture
	EndS   float64 `json:"end_s,omitempty"`
	TapeS  float64 `json:"tape_s,omitempty"` // its start from pressing record, as played
	LateS  float64 `json:"late_s"`           // against the plan, the middle one of the tracks being in time
	// LevelDB is how it came back against its source, before trims; the side's own
	// level is in it.
	LevelDB float64 `json:"level_db"`
	Speed   *Figure `json:"speed_pct"`

	Holes    []Hole     `json:"holes"`
	DropOuts []SideDrop `json:"dropouts"`
}

// Hole is a stretch of a track that is not there.
type Hole struct {
	FromS  float64 `json:"from_s"` // in the track
	ToS    float64 `json:"to_s"`
	ToEnd  bool    `json:"to_end,omitempty"` // it goes on to the track's end: cut
	AtTape float64 `json:"tape_s"`           // where it begins, from pressing record
}

// SideDrop is a short loss of level in a track.
type SideDrop struct {
	TrackS  float64 `json:"track_s"`
	TapeS   float64 `json:"tape_s"` // from pressing record
	LongS   float64 `json:"length_s"`
	DB      float64 `json:"depth_db"`
	Channel string  `json:"channel"`
}

// How tracks are looked for.
const (
	coarse    = 4                // hundredths to a value in the first look
	probeLong = 15               // s
	probeHit  = 0.55             // likeness that finds a track
	windowHit = 0.45             // likeness that keeps it
	wander    = 12               // hundredths that a window may lie off where it is expected
	window    = 5 * perSecond    // of the close look
	stride    = window / 2       // from one to the next
	still     = 0.004            // a stretch that moves less cannot be placed
	spread    = 0.035            // speeds looked for, as a part: two decks of 1.5 % and a little
	mostSide  = 3*3600.0 + 600.0 // s
)

// Side lays a capture of a recorded side against what was sent. ErrNotSide says
// that none of it was found; other errors name the track whose file could not
// be read. It reads the capture once and each source once.
func Side(ctx context.Context, c Capture, sent []Sent, progress func(done, total float64)) (SideFindings, error) {
	f := SideFindings{Rate: c.Rate, Channels: c.Channels, LengthS: c.Seconds(), Tracks: make([]Heard, len(sent)), Notes: []string{}, Course: []Point{}}
	if err := c.check(); err != nil {
		return f, err
	}
	if c.Seconds() > mostSide {
		return f, fmt.Errorf("it lasts over %.0f hours: no side of a cassette does", math.Floor(mostSide/3600))
	}
	judged := 0
	total := c.Seconds()
	for _, s := range sent {
		if s.Source != nil {
			judged++
			total += s.Length
		}
	}
	if judged == 0 {
		return f, errors.New("no track of the side comes from a file: there is nothing to lay it against")
	}
	var mu sync.Mutex
	done := 0.0
	step := func(rate int) func(int64) {
		return func(frames int64) {
			mu.Lock()
			defer mu.Unlock()
			done += float64(frames) / float64(rate)
			if progress != nil {
				progress(min(done, total), total)
			}
		}
	}
	var clips clipping
	watched := c
	watched.Open = func(ctx context.Context) (Sound, error) {
		s, err := c.Open(ctx)
		return &clipWatch{Sound: s, channels: c.Channels, clips: &clips}, err
	}
	heard, err := listen(ctx, watched, 0, 0, step(c.Rate))
	if err != nil {
		return f, err
	}
	courses := make([]course, len(sent))
	g, gctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, s := range sent {
		if s.Source == nil {
			continue
		}
		g.Go(func() error {
			var err error
			courses[i], err = listen(gctx, *s.Source, s.Skip, s.Length, step(s.Source.Rate))
			if err != nil && gctx.Err() == nil {
				return fmt.Errorf("track %d (%s): %w", i+1, s.Title, err)
			}
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return f, err
	}
	l := layer{f: &f, sent: sent, capture: heard, sources: courses, close: heard.shaped(1), far: heard.shaped(coarse)}
	if err := l.lay(ctx); err != nil {
		return f, err
	}
	if clips.runs > 2 {
		f.Clipped = clips.runs
		f.Notes = append(f.Notes, fmt.Sprintf("the capture is cut off at full scale in %d places: lower its level when you capture again", clips.runs))
	}
	return f, nil
}

// clipWatch looks at what is read for places cut off flat.
type clipWatch struct {
	Sound
	channels int
	clips    *clipping
	split    [2][]float32
}

func (w *clipWatch) Read(pcm []float32) (int, error) {
	n, err := w.Sound.Read(pcm)
	x := w.split[:w.channels]
	for ch := range x {
		x[ch] = x[ch][:0]
		for i := range n {
			x[ch] = append(x[ch], pcm[i*w.channels+ch])
		}
		w.split[ch] = x[ch]
	}
	w.clips.look(x)
	return n, err
}

// layer lays the courses of the tracks on that of the capture.
type layer struct {
	f       *SideFindings
	sent    []Sent
	capture course
	close   shape
	far     shape
	sources []course

	laid []laidTrack
}

// pair is a moment of a track and of the capture, in hundredths of a second.
type pair struct{ track, capture float64 }

// laidTrack is where a track lies.
type laidTrack struct {
	found bool
	pairs []pair
	speed float64 // of playing
	score float64 // how like it is, over all of it that moves: 0 to 1
	shape shape
}

// at is where a moment of the track lies in the capture, in hundredths.
func (t laidTrack) at(track float64) float64 {
	p := t.pairs
	i, _ := slices.BinarySearchFunc(p, track, func(a pair, x float64) int {
		if a.track < x {
			return -1
		}
		return 1
	})
	switch {
	case i == 0:
		return p[0].capture + (track-p[0].track)/t.speed
	case i == len(p):
		return p[i-1].capture + (track-p[i-1].track)/t.speed
	}
	a, b := p[i-1], p[i]
	return a.capture + (track-a.track)/(b.track-a.track)*(b.capture-a.capture)
}

func (l *layer) lay(ctx context.Context) error {
	l.laid = make([]laidTrack, len(l.sent))
	anchor := -1
	// The first track that is found anywhere tells where the others should be.
	for i := range l.sent {
		if err := ctx.Err(); err != nil {
			return err
		}
		if l.sent[i].Source == nil {
			continue
		}
		l.laid[i].shape = l.sources[i].shaped(1)
		var ok bool
		if anchor < 0 {
			ok = l.find(i, 0, l.far.n, 1, spread)
		} else {
			a := l.laid[anchor]
			// As far from the anchor as planned, and a minute to both sides; then
			// anywhere.
			apart := l.sent[i].Start - l.sent[anchor].Start
			expected := a.at(0)/coarse + apart/a.speed*perSecond/coarse
			const minute = 60 * perSecond / coarse
			ok = l.find(i, int(expected)-minute, int(expected)+minute, a.speed, 0.006) ||
				l.find(i, 0, l.far.n, a.speed, 0.006)
		}
		if ok && anchor < 0 {
			anchor = i
		}
	}
	if anchor < 0 {
		return ErrNotSide
	}
	l.report()
	return nil
}

// find looks for a track whose beginning lies between two values of the far
// shape, at speeds around one, and follows it.
func (l *layer) find(i, from, to int, speed, around float64) bool {
	far := l.sources[i].shaped(coarse)
	long := min(probeLong*perSecond/coarse, far.n)
	if long < 2*perSecond/coarse {
		long = far.n
	}
	if far.n == 0 || long == 0 {
		return false
	}
	// The three probes that move most, from all over the track.
	type probe struct {
		from int
		busy float64
	}
	var probes []probe
	for at := 0; at+long <= far.n; at += long {
		probes = append(probes, probe{at, far.busy(at, at+long)})
	}
	slices.SortFunc(probes, func(a, b probe) int {
		if a.busy > b.busy {
			return -1
		}
		return 1
	})
	var speeds []float64
	for d := -around; d <= around+1e-9; d += 0.0065 {
		speeds = append(speeds, speed*(1+d))
	}
	var chosen laidTrack
	for _, p := range probes[:min(len(probes), 3)] {
		if p.busy < still {
			continue
		}
		lead := func(v float64) int { return int(math.Round(float64(p.from) / v)) }
		// The probe itself may lie off the capture's ends; a half of it must not.
		lo, hi := max(from+lead(speed), -long/2), min(to+lead(speed), l.far.n-long/2)
		if lo >= hi {
			continue
		}
		best := make([]float64, hi-lo)
		at := make([]float64, hi-lo) // the speed of each
		var g errgroup.Group
		g.SetLimit(runtime.GOMAXPROCS(0))
		var mu sync.Mutex
		for _, v := range speeds {
			g.Go(func() error {
				places := stretched(long, v)
				all := make([]float64, hi-lo)
				for k := range all {
					all[k] = far.alike(p.from, long, l.far, places, lo+k)
				}
				mu.Lock()
				defer mu.Unlock()
				for k, a := range all {
					// Of two speeds that are as like, the one nearer to what is expected: the
					// answer must not hang on which was done first.
					if a > best[k] || a == best[k] && math.Abs(v-speed) < math.Abs(at[k]-speed) {
						best[k], at[k] = a, v
					}
				}
				return nil
			})
		}
		g.Wait()
		// Music comes again: bars, choruses. Each place that is like the probe is
		// followed, and the one where most of the track lies is it.
		for range 12 {
			top := 0
			for k, a := range best {
				if a > best[top] {
					top = k
				}
			}
			if best[top] < probeHit {
				break
			}
			t := l.follow(i, pair{float64(p.from * coarse), float64((lo + top) * coarse)}, at[top])
			if t.found && t.score > chosen.score {
				chosen = t
			}
			for k := max(0, top-12); k < min(len(best), top+13); k++ {
				best[k] = 0
			}
		}
		if chosen.found && chosen.score > 0.8 {
			break
		}
	}
	if chosen.found {
		l.laid[i] = chosen
	}
	return chosen.found
}

// follow goes through a track from a pair on, forwards and back, and keeps the
// pairs that hold.
func (l *layer) follow(i int, start pair, speed float64) laidTrack {
	s := l.laid[i].shape
	long := min(window, s.n)
	var pairs []pair
	busy, held, sum := 0, 0, 0.0
	at := stretched(long, speed)
	for _, dir := range []float64{1, -1} {
		here, v := start, speed
		var recent []pair
		misses := 0
		for track := int(start.track); track >= 0 && track+long <= s.n; track += int(dir) * min(stride, max(long/2, 1)) {
			if dir < 0 && track == int(start.track) {
				continue
			}
			expected := here.capture + (float64(track)-here.track)/v
			if s.busy(track, track+long) < still {
				continue
			}
			reach := wander
			if misses > 2 || len(recent) == 0 {
				reach = 10 * wander
			}
			best, place := -1.0, 0
			vals := make([]float64, 2*reach+1)
			for d := -reach; d <= reach; d++ {
				a := s.alike(track, long, l.close, at, int(math.Round(expected))+d)
				vals[d+reach] = a
				if a > best {
					best, place = a, d
				}
			}
			busy++
			if best < windowHit {
				misses++
				continue
			}
			held++
			sum += best
			misses = 0
			shift := 0.0
			if k := place + reach; k > 0 && k < 2*reach {
				a, b, c := vals[k-1], vals[k], vals[k+1]
				if bend := a - 2*b + c; bend < 0 {
					shift = 0.5 * (a - c) / bend
				}
			}
			// The pair belongs to the window's middle, which the stretch keeps in place.
			here = pair{float64(track), math.Round(expected) + float64(place) + shift}
			mid := pair{here.track + float64(long)/2, here.capture + float64(long)/2/speed}
			pairs = append(pairs, mid)
			recent = append(recent, here)
			if n := len(recent); n > 8 {
				a, b := recent[n-9], recent[n-1]
				if w := (b.track - a.track) / (b.capture - a.capture); math.Abs(w/speed-1) < 0.01 {
					v = w
				}
			}
		}
	}
	t := laidTrack{shape: s, speed: speed}
	if held < 2 && long == window || held == 0 || float64(held) < 0.25*float64(busy) {
		return t
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		if a.track < b.track {
			return -1
		}
		return 1
	})
	t.pairs, t.found, t.score = pairs, true, sum/float64(busy)
	t.smooth()
	return t
}

// smooth takes out pairs that lie off their neighbours, and finds the speed.
func (t *laidTrack) smooth() {
	// Off the line through the nearest by the middle of the distances.
	off := func(k int) float64 {
		var d []float64
		for j := max(0, k-3); j <= min(len(t.pairs)-1, k+3); j++ {
			d = append(d, t.pairs[j].capture-t.pairs[j].track/t.speed)
		}
		return t.pairs[k].capture - t.pairs[k].track/t.speed - median(d)
	}
	var kept []pair
	for k, p := range t.pairs {
		if math.Abs(off(k)) < 8 {
			kept = append(kept, p)
		}
	}
	if len(kept) > 0 {
		t.pairs = kept
	}
	if n := len(t.pairs); n >= 2 && t.pairs[n-1].track-t.pairs[0].track > 6*perSecond {
		slope, _ := line(t.pairs)
		t.speed = 1 / slope
	}
}

// line is the slope of the capture over the track, and two standard errors of it.
func line(p []pair) (slope, within float64) {
	n := float64(len(p))
	var mx, my float64
	for _, a := range p {
		mx, my = mx+a.track/n, my+a.capture/n
	}
	var sxx, sxy float64
	for _, a := range p {
		sxx += (a.track - mx) * (a.track - mx)
		sxy += (a.track - mx) * (a.capture - my)
	}
	if sxx == 0 {
		return 1, math.Inf(1)
	}
	slope = sxy / sxx
	var rest float64
	for _, a := range p {
		d := a.capture - my - slope*(a.track-mx)
		rest += d * d
	}
	if n < 3 {
		return slope, math.Inf(1)
	}
	// Windows overlap by half: as many again.
	return slope, student(max(n/2-2, 1)) * math.Sqrt(rest/(n-2)/sxx*2)
}
