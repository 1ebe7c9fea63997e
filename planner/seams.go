package planner

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"longside/media"
	"longside/media/meter"
)

// What makes a seam one that sound runs through. Our own choice: they keep apart
// the albums that the tests cut from one recording, at silence, and by fading.
const (
	// seamFloor in dBFS: 20 ms at the seam that are quieter are a pause or the end of a fade.
	seamFloor = -48.0
	// seamStep in dB: what runs on is about as loud on both sides.
	seamStep = 10.0
	// seamFall in dB: what falls further towards the seam is a fade, if a short one.
	seamFall = 18.0
	// seamOff bounds how far the waveform across the seam is off what the other
	// side foretells (see meter.Seam), for files that keep the waveform.
	seamOff = 4.0
)

// RunsOn tells whether two tracks are neighbours on one album, the second right
// after the first, through whose seam the sound runs: silence put there is heard
// as a hole. x and y are what the meter found in them.
func RunsOn(a, b media.Track, x, y meter.Result) bool {
	return follows(a, b) && soundThrough(x.Closes, y.Opens, samePiece(a, b) || !keepsWaveform(a.Format) || !keepsWaveform(b.Format))
}

// soundThrough tells whether sound runs through a seam; whole says that nothing
// can lie between the two, or that the waveform there is not to be trusted.
func soundThrough(closing, opening meter.Edge, whole bool) bool {
	return min(closing.Level, opening.Level) >= seamFloor && max(closing.Fall, opening.Fall) <= seamFall && math.Abs(closing.Level-opening.Level) <= seamStep &&
		(whole || meter.Seam(closing, opening) <= seamOff)
}

// follows tells whether b comes right after a on one album.
func follows(a, b media.Track) bool {
	if samePiece(a, b) {
		return true
	}
	album := strings.TrimSpace(a.Album)
	return album != "" && strings.EqualFold(album, strings.TrimSpace(b.Album)) &&
		a.Disc == b.Disc && a.Number > 0 && b.Number == a.Number+1
}

// samePiece tells whether b goes on in the file of a just where a ends.
func samePiece(a, b media.Track) bool {
	return a.Part && b.Part && a.Path != "" && a.Path == b.Path && (a.From+a.Length-b.From).Abs() < time.Millisecond
}

// keepsWaveform tells whether a format gives the very samples back.
func keepsWaveform(format string) bool {
	return slices.Contains([]string{"WAV", "W64", "FLAC", "AIFF"}, format)
}

// runOns are the items that run on into the next.
func (m *Mix) runOns() (list []int) {
	for i := 0; i+1 < len(m.Items); i++ {
		a, b := m.Items[i], m.Items[i+1]
		if a.Heard != nil && b.Heard != nil && a.Wish.Split == 0 && b.Wish.Split == 0 && RunsOn(a.Track, b.Track, *a.Heard, *b.Heard) {
			list = append(list, i)
		}
	}
	return list
}

// JoinRunOns joins the tracks that run on into the next, but where the person
// wished for something else, and where the row would be longer than a side.
func (r *Request) JoinRunOns() {
	side := r.longestSide()
	for _, i := range r.Mix.runOns() {
		a, b := &r.Mix.Items[i].Wish, r.Mix.Items[i+1].Wish
		if a.Gap != nil || a.Closes != Anywhere || b.Opens != Anywhere || a.Side != b.Side || (a.Reserve > 0) != (b.Reserve > 0) {
			continue
		}
		if r.Mix.row(i) <= side {
			a.Join = true
		}
	}
}

// row is how long the joined row would be in which item i and the next are joined.
func (m *Mix) row(i int) time.Duration {
	long := m.Items[i].Length
	for k := i - 1; k >= 0 && m.Items[k].Wish.Join; k-- {
		long += m.Items[k].Length
	}
	for k := i + 1; k < len(m.Items); k++ {
		if long += m.Items[k].Length; !m.Items[k].Wish.Join {
			break
		}
	}
	return long
}

// warnSeams names the tracks that run on into the next: those that are joined,
// and those that the plan puts silence between.
func (r *Request) warnSeams() (ws []Warning) {
	for _, i := range r.Mix.runOns() {
		a, b := r.Mix.Items[i], r.Mix.Items[i+1]
		w := Warning{About: "seam", Severity: Remark, Track: a.Title}
		switch {
		case a.Wish.Join:
			w.Says = fmt.Sprintf("%s runs on into %s, and is joined to it", quote(a.Title), quote(b.Title))
		case a.Wish.Gap != nil && *a.Wish.Gap <= 0:
			continue
		case r.Mix.row(i) > r.longestSide():
			w.Severity = Caution
			w.Says = fmt.Sprintf("sound runs through the end of %s into %s, and joined they are longer than a side: let a side end there, or fade the one out (--fade)", quote(a.Title), quote(b.Title))
		default:
			w.Severity = Caution
			w.Says = fmt.Sprintf("sound runs through the end of %s into %s: silence there is heard as a hole; join them with --join %q, or all such with --join auto", quote(a.Title), quote(b.Title), r.Mix.NameOf(i))
		}
		ws = append(ws, w)
	}
	return ws
}
