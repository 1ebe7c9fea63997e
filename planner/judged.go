package planner

import (
	"fmt"
	"math"
	"strings"
	"time"

	"longside/media/verify"
	"longside/planner/tape"
)

// TestTerms are what is known of a test besides its capture. Zero values mean
// that nothing is known.
type TestTerms struct {
	Tape *tape.Tape    // nil: not said
	At   time.Duration // where on the side the test begins, at nominal speed
	// Other says that another deck, or a maker's test tape, did the recording: only
	// then speed and azimuth are the playing deck's own.
	Other bool
	Heads int // of the deck; 3: it has a head of its own for playing
}

// Judged is one figure beside the limit it is held against.
type Judged struct {
	What   string `json:"what"`
	Says   string `json:"says"`             // the value with its unit and uncertainty
	Limit  string `json:"limit,omitempty"`  // as published; empty: none was found
	Source string `json:"source,omitempty"` // of the limit
	Keeps  *bool  `json:"keeps,omitempty"`  // nil: there is no limit, or it cannot be told
	Advice string `json:"advice,omitempty"` // what to do, and what the figure cannot say
}

// The least that a tape machine keeps to by DIN 45 500 (its part on tape
// machines: items 1 to 8, as published at tonbandmuseum.info). Its distances of
// noise are from full level, which is a third harmonic of 3 %.
const (
	dinSpeed      = 1.5 // %, mean over 30 s
	dinFlutter    = 0.2 // %, weighted peak
	dinMiddle     = 5.0 // dB under the highest point, 250 Hz to 6.3 kHz
	dinOuter      = 7.0 // dB, 40 to 250 Hz and 6.3 to 12.5 kHz
	dinUnweighted = 46.0
	dinCross1k    = 20.0
	dinCross      = 15.0 // 500 Hz to 6.3 kHz
	dinBalance    = 2.0
	din           = "DIN 45 500, tape machines"
)

// biasNear is how near 10 kHz comes to 400 Hz before bias need not be touched,
// in dB: common practice, no source.
const biasNear = 1.0

// JudgeTest says what the findings of a test mean for this tape and deck.
func JudgeTest(f verify.Findings, t TestTerms) []Judged {
	var all []Judged
	add := func(j Judged) { all = append(all, j) }
	limit := func(j Judged, text string, keeps bool) {
		j.Limit, j.Source, j.Keeps = text, din, &keeps
		add(j)
	}
	speed := Judged{What: "speed", Says: pm(f.Speed, 3, "%") + ", playing against recording"}
	switch {
	case t.Other:
		speed.Advice = "Of this deck against the one that recorded; with a test tape, this deck's own."
	default:
		speed.Advice = "Where one deck recorded and played, its mean speed cancels: this says how far the two runs differ, and nothing of its true speed."
	}
	limit(speed, fmt.Sprintf("within %g %% over 30 s", dinSpeed), math.Abs(f.Speed30s) <= dinSpeed)
	if f.Flutter != nil {
		j := Judged{What: "flutter, weighted", Says: pm(*f.Flutter, 3, "%") + " peak, by AES6"}
		if !t.Other {
			j.Advice = "Recording and playing together; of one of them alone it is less."
		}
		if names := t.wobbles(f); names != "" {
			j.Advice = strings.TrimSpace(j.Advice + " " + names)
		}
		limit(j, fmt.Sprintf("%g %%", dinFlutter), f.Flutter.Value <= dinFlutter)
	}
	if f.FlutterRaw != nil {
		add(Judged{What: "flutter, unweighted", Says: pm(*f.FlutterRaw, 3, "%") + " peak, 0.2 to 200 Hz"})
	}
	names := channelNames(f.Channels)
	each := func(figures []*verify.Figure, text func(verify.Figure) string) string {
		var parts []string
		for i, x := range figures {
			if x != nil {
				parts = append(parts, names[i]+text(*x))
			}
		}
		return strings.Join(parts, ", ")
	}
	if j, keeps, ok := responseOf(f, names); ok {
		limit(j, fmt.Sprintf("within %g dB from 250 Hz to 6.3 kHz, %g dB from 40 Hz to 12.5 kHz", dinMiddle, dinOuter), keeps)
	}
	if s := each(f.Bias, func(x verify.Figure) string { return pm(x, 2, "dB") }); s != "" {
		add(Judged{What: "10 kHz against 400 Hz", Says: s, Advice: biasAdvice(f.Bias)})
	}
	all = append(all, fullLevel(f, names)...)
	distance := func(figures []*verify.Figure, what, text string, least float64) {
		s := each(figures, func(x verify.Figure) string { x.Value = -x.Value; return pm(x, 1, "dB") })
		if s == "" {
			return
		}
		j := Judged{What: what, Says: s + " below full level, " + text}
		worst := math.Inf(1)
		for i, x := range figures {
			if x != nil {
				worst = min(worst, -x.Value)
			}
			if f.MOLBound[i] == "over" {
				j.Advice = "Full level was not reached: below 0 dB of the test."
			}
		}
		if least == 0 {
			// It asks for 56 dB weighted; by which curve, its summary does not say, and
			// the curves differ by some 10 dB on hiss.
			add(j)
			return
		}
		limit(j, fmt.Sprintf("%g dB", least), worst >= least)
	}
	distance(f.Noise468, "noise, BS.468", "quasi-peak", 0)
	distance(f.NoiseA, "noise, A-weighted", "rms", 0)
	distance(f.NoiseFlat, "noise, unweighted", "22 Hz to 22 kHz, rms", dinUnweighted)
	if f.Balance != nil {
		limit(Judged{What: "balance", Says: pm(*f.Balance, 2, "dB") + ", left against right"}, fmt.Sprintf("%g dB", dinBalance), math.Abs(f.Balance.Value) <= dinBalance)
	}
	if len(f.Crosstalk) > 0 {
		var parts []string
		keeps := true
		for _, from := range []string{"left", "right"} {
			var each []string
			for _, x := range f.Crosstalk {
				if x.From != from {
					continue
				}
				more := ""
				if x.Bound {
					more = " or more"
				}
				each = append(each, fmt.Sprintf("%.1f%s", x.Value, more))
				least := dinCross
				if x.Hz == 1000 {
					least = dinCross1k
				}
				keeps = keeps && x.Value >= least
			}
			parts = append(parts, fmt.Sprintf("of %s %s dB", from, strings.Join(each, ", ")))
		}
		limit(Judged{What: "crosstalk", Says: strings.Join(parts, "; ") + " below it in the other (1 kHz, 500 Hz, 6.3 kHz)"}, fmt.Sprintf("%g dB at 1 kHz, %g dB from 500 Hz to 6.3 kHz", dinCross1k, dinCross), keeps)
	}
	if f.Azimuth != nil {
		add(t.azimuth(*f.Azimuth))
	}
	add(dropOuts(f))
	if f.EchoFloor != nil {
		add(t.echo(f))
	}
	return all
}

// channelNames go before a figure of each channel.
func channelNames(n int) []string {
	if n == 1 {
		return []string{""}
	}
	return []string{"left ", "right "}
}

// pm writes a figure with its sign, uncertainty and unit.
func pm(f verify.Figure, decimals int, unit string) string {
	unitOf := math.Pow10(decimals)
	v := math.Round(f.Value*unitOf)/unitOf + 0 // no -0
	return fmt.Sprintf("%.*f ±%.*f %s", decimals, v, decimals, max(f.Within, 1/unitOf), unit)
}

// wobbles names the strongest wobbles as a person at a deck knows them.
func (t TestTerms) wobbles(f verify.Findings) string {
	var parts []string
	for _, w := range f.Wobbles {
		if len(parts) == 3 {
			break
		}
		s := fmt.Sprintf("%.2f Hz %.3f %%", w.X, w.Y)
		if n := t.turns(f, w.X); n != "" {
			s += " (" + n + ")"
		}
		parts = append(parts, s)
	}
	if len(parts) == 0 {
		return ""
	}
	return "Strongest: " + strings.Join(parts, ", ") + "."
}

// A capstan of a cassette deck is some 2 to 3 mm thick: from memory, unverified.
const thinCapstan, thickCapstan = 2.0, 3.0 // mm

// turns is what turns so often, at the place of the test; empty: nothing known.
func (t TestTerms) turns(f verify.Findings, hz float64) string {
	if t.Tape != nil {
		at := t.At + seconds(f.FlutterS)
		best, name := 0.05, ""
		for _, reel := range []struct {
			name string
			rpm  float64
		}{{"supply", t.Tape.SupplyWind(at).RPM}, {"take-up", t.Tape.TakeUpWind(at).RPM}} {
			for k := 1; k <= 3; k++ {
				turn := reel.rpm / 60 * float64(k)
				if off := math.Abs(hz/turn - 1); turn > 0 && off < best {
					best, name = off, fmt.Sprintf("a turn of the %s reel", reel.name)
					if k > 1 {
						name = fmt.Sprintf("%d times a turn of the %s reel", k, reel.name)
					}
				}
			}
		}
		if name != "" {
			return name
		}
	}
	if v := float64(tape.Speed); hz > v/math.Pi/thickCapstan*0.97 && hz < v/math.Pi/thinCapstan*1.03 {
		return "a capstan's turn, if it is 2 to 3 mm thick"
	}
	return ""
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// responseOf sums the response up: its highest and lowest points in the two
// fields of the standard.
func responseOf(f verify.Findings, names []string) (j Judged, keeps, ok bool) {
	keeps = true
	var parts []string
	for i, tones := range f.Response {
		if len(tones) == 0 {
			continue
		}
		ok = true
		top, low, lowAt := math.Inf(-1), math.Inf(1), 0.0
		for _, r := range tones {
			if r.Hz <= 12500 {
				top = max(top, r.Value)
				if r.Value < low {
					low, lowAt = r.Value, r.Hz
				}
			}
		}
		for _, r := range tones {
			field := dinOuter
			if r.Hz >= 250 && r.Hz <= 6300 {
				field = dinMiddle
			}
			if r.Hz <= 12500 && top-r.Value > field {
				keeps = false
			}
		}
		parts = append(parts, fmt.Sprintf("%swithin %.1f dB from 40 Hz to 12.5 kHz, lowest at %g Hz", names[i], top-low, lowAt))
	}
	return Judged{What: "response at -20 dB", Says: strings.Join(parts, "; ")}, keeps, ok
}

// biasAdvice is what the treble says of the bias: more bias takes treble away.
func biasAdvice(figures []*verify.Figure) string {
	var sum, n float64
	for _, x := range figures {
		if x != nil {
			sum, n = sum+x.Value, n+1
		}
	}
	switch m := sum / n; {
	case m > biasNear:
		return "Too much treble: a little more bias, where the deck lets you set it; then level and bias once more."
	case m < -biasNear:
		return "Too little treble: a little less bias, where the deck lets you set it; clean the heads first. Then level and bias once more."
	}
	return "The bias suits this tape."
}

// fullLevel is the level of 3 %, and where peaks may go.
func fullLevel(f verify.Findings, names []string) []Judged {
	var parts []string
	lowest := math.Inf(1)
	for i, m := range f.MOL {
		switch {
		case m != nil:
			parts = append(parts, names[i]+pm(*m, 2, "dB"))
			lowest = min(lowest, m.Value)
		case f.MOLBound[i] == "over":
			parts = append(parts, names[i]+"over +8 dB")
			lowest = min(lowest, 8)
		case f.MOLBound[i] == "under":
			parts = append(parts, names[i]+"under -6 dB")
			lowest = min(lowest, -6)
		}
	}
	if len(parts) == 0 {
		return nil
	}
	j := Judged{What: "3 % third harmonic", Says: strings.Join(parts, ", ") + " on the record meter, 315 Hz"}
	j.Advice = fmt.Sprintf("Peaks of music may go to about %+.0f dB on the meter, treble less.", math.Floor(lowest))
	switch {
	case lowest <= -5:
		j.Advice = "The tape, or something before it, distorts far below 0 dB: was the record level set to 0 dB with the 400 Hz tone?"
	case lowest >= 8:
		j.Advice = "The tape takes all the test has; was the record level set to 0 dB with the 400 Hz tone?"
	}
	return []Judged{j}
}

// azimuth is the delay of right against left, and what it takes from treble in mono.
func (t TestTerms) azimuth(a verify.Figure) Judged {
	loss := 20 * math.Log10(math.Max(math.Abs(math.Cos(math.Pi*10000*a.Value/1e6)), 1e-3))
	which := "right is later"
	if a.Value < 0 {
		which = "left is later"
	}
	j := Judged{What: "azimuth", Says: fmt.Sprintf("%s, %s; it takes %.1f dB from 10 kHz in mono", pm(verify.Figure{Value: math.Abs(a.Value), Within: a.Within}, 1, "us"), which, max(-loss, 0))}
	switch {
	case t.Other:
		j.Advice = "Of this deck's head against the one that recorded."
	case t.Heads == 2:
		j.Advice = "One head recorded and played: its own slant cancels, and only the difference of the two runs is left."
	case t.Heads == 3:
		j.Advice = "Of the playing head against the recording head."
	default:
		j.Advice = "On a deck with two heads its own slant cancels; on one with three it is the one head against the other."
	}
	return j
}

func dropOuts(f verify.Findings) Judged {
	j := Judged{What: "drop-outs", Says: fmt.Sprintf("none in %s of steady tone", Clock(seconds(f.Watched)))}
	if n := len(f.DropOuts); n > 0 {
		worst := f.DropOuts[0]
		for _, d := range f.DropOuts {
			if d.DB*d.LongS > worst.DB*worst.LongS {
				worst = d
			}
		}
		j.Says = fmt.Sprintf("%d in %s of steady tone, the worst %.0f dB for %.0f ms at %s of the capture, %s", n, Clock(seconds(f.Watched)), worst.DB, 1000*worst.LongS, Clock(seconds(worst.AtS)), worst.Channel)
		j.Advice = "Clean heads and pinch roller, wind the tape end to end, and measure again: a drop-out that stays in its place is the tape's."
	}
	j.Limit = fmt.Sprintf("counted from %g dB for %g ms on (our own choice)", verify.DropOutDB, 1000*verify.DropOutLong)
	return j
}

// echoNear is how far an echo may lie from where the pack puts it, as a part:
// tape is a little thinner or thicker than its name says, and packs hold air.
const echoNear = 0.08

// echo tells the marker's echoes, and which of them lie where the pack's turns are.
func (t TestTerms) echo(f verify.Findings) Judged {
	j := Judged{What: "print-through", Says: fmt.Sprintf("no echo of the marker over %.0f dB", *f.EchoFloor),
		Advice: "Print-through begins at once and grows for a day: measure again tomorrow, before winding the tape."}
	var parts []string
	for _, e := range f.Echoes {
		when, before := "after", e.DelayS < 0
		if before {
			when = "before"
		}
		text := fmt.Sprintf("%.1f dB %.2f s %s marker %d", e.Value, math.Abs(e.DelayS), when, e.Marker)
		if t.Tape != nil {
			x := t.At + seconds(f.Markers[e.Marker-1])
			turn, _, ok := t.Tape.PrintDelay(x, true, before)
			if ok && math.Abs(math.Abs(e.DelayS)/turn.Seconds()-1) < echoNear {
				text += fmt.Sprintf(" (a turn of the pack is %.2f s there)", turn.Seconds())
			} else {
				text += fmt.Sprintf(" (not the pack's: a turn is %.2f s there)", turn.Seconds())
			}
		}
		parts = append(parts, text)
	}
	if len(parts) > 0 {
		j.Says = strings.Join(parts, ", ")
	}
	return j
}
