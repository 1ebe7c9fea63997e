package planner

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/media"
)

// kept counts what a plan keeps of the wanted tracks: songs, and playing time.
func kept(p Plan) (songs int, playing time.Duration) {
	for _, t := range p.Tapes {
		for _, s := range t.Sides {
			for _, k := range s.Tracks {
				if k.Reserve == 0 {
					songs++
					playing += k.LengthS.D() + k.FadeS.D()
				}
			}
		}
	}
	return songs, playing
}

func namesOf(ts []Track) (names []string) {
	for _, k := range ts {
		names = append(names, k.Title)
	}
	return names
}

// longRequest draws a mix of up to forty tracks with some ten wishes, on up to two
// tapes that hold most of it.
func longRequest(t testing.TB, seed uint64) Request {
	rng := rand.New(rand.NewPCG(seed, 33))
	n := 12 + rng.IntN(29)
	seconds := make([]float64, n)
	for i := range seconds {
		seconds[i] = float64(90_000+rng.IntN(240_000)) / 1000
	}
	m := mix(seconds...)
	for i := range m.Items {
		m.Items[i].Title = fmt.Sprint("t", i)
		m.Items[i].Artist = fmt.Sprint("artist ", rng.IntN(9))
	}
	wish := func() *Wish { return &m.Items[rng.IntN(n)].Wish }
	wish().Opens = OfMix
	wish().Side = "B"
	wish().NotThin = true
	wish().Fade = Seconds(8 * time.Second)
	wish().Gap = gap(float64(rng.IntN(9) - 3)).Gap
	wish().Must = rng.IntN(3) == 0
	wish().Reserve = rng.IntN(2)
	if rng.IntN(3) == 0 {
		m.Items[rng.IntN(n-1)].Wish.Join = true
	}
	r := request(t, []string{"C46", "C60", "C90"}[rng.IntN(3)], m)
	r.MaxTapes = 1 + rng.IntN(2)
	r.Apart = rng.IntN(2)
	r.Aim = fit.Aim(rng.IntN(2))
	return r
}

// people choose songs: twenty tracks on a C60 lose four, or eight for 18 s more.
func TestSongsBeforeSeconds(t *testing.T) {
	var m Mix
	for i, l := range strings.Fields("3:23 1:58 5:17 7:05 4:20 5:13 5:14 4:45 4:44 5:06 3:33 2:09 1:57 4:33 4:19 3:47 1:30 3:33 3:45 2:45") {
		d, err := ParseTime(l, time.Second)
		if err != nil {
			t.Fatal(err)
		}
		m.Items = append(m.Items, Item{})
		m.Items[i].Title, m.Items[i].Path, m.Items[i].Length, m.Items[i].LengthFrom = fmt.Sprint(i), fmt.Sprint(i), d, media.Typed
	}
	r := request(t, "C60", m)
	r.Order = fit.Free
	p := make1(t, r)
	songs, playing := kept(p)
	if songs != 16 || !p.Proved || p.Terms.Aim != "songs" {
		t.Errorf("%d songs, %v, proved %v, aim %q; want 16 proved", songs, playing, p.Proved, p.Terms.Aim)
	}
	r.Aim = fit.MostTime
	q := make1(t, r)
	if n, more := kept(q); n != 12 || more-playing != 18*time.Second || !q.Proved || q.Terms.Aim != "time" {
		t.Errorf("by time %d songs and %v more, proved %v, aim %q; want 12 and 18 s", n, more-playing, q.Proved, q.Terms.Aim)
	}
}

// table is what two sides can keep at the most, in whole seconds: for each number
// of songs every pair of times taken on the sides, a bit each, one track after
// another. It knows nothing of fit. Each track takes its gap, too, and a side is a
// gap longer for the last.
func table(lengths []int, gap, side int, bySongs bool) (songs, playing int) {
	top := side + gap
	words := top/64 + 1
	type rows [][]uint64 // by time on side A, the times on side B
	fresh := func() rows { return make(rows, top+1) }
	at := []rows{fresh()}
	at[0][0] = make([]uint64, words)
	at[0][0][0] = 1
	for _, l := range lengths {
		w := l + gap
		at = append(at, fresh())
		for n := len(at) - 2; n >= 0; n-- {
			for a, row := range at[n] {
				if row == nil {
					continue
				}
				if a+w <= top { // on side A
					to := at[n+1][a+w]
					if to == nil {
						to = make([]uint64, words)
						at[n+1][a+w] = to
					}
					for k := range row {
						to[k] |= row[k]
					}
				}
				to := at[n+1][a] // on side B
				if to == nil {
					to = make([]uint64, words)
				}
				any := false
				for b := 0; b+w <= top; b++ {
					if row[b/64]>>(b%64)&1 == 1 {
						to[(b+w)/64] |= 1 << ((b + w) % 64)
						any = true
					}
				}
				if any {
					at[n+1][a] = to
				}
			}
		}
	}
	for n := len(at) - 1; n >= 0; n-- {
		for a, row := range at[n] {
			for b := top; b >= 0 && row != nil; b-- {
				if row[b/64]>>(b%64)&1 == 0 {
					continue
				}
				if p := a + b - n*gap; bySongs && (n > songs || n == songs && p > playing) || !bySongs && (p > playing || p == playing && n > songs) {
					songs, playing = n, p
				}
				break
			}
		}
	}
	return songs, playing
}

// Lists of any lengths on two sides, in any order, keep what a table says and are
// proved: lengths that repeat and that lie close, too.
func TestTwoSidesAgainstATable(t *testing.T) {
	const side, gap = 400, 4 // a C14, short
	draws := []func(r *rand.Rand) int{
		func(r *rand.Rand) int { return 15 + r.IntN(70) },
		func(r *rand.Rand) int { return 30 + r.IntN(4) },
		func(r *rand.Rand) int { return []int{25, 31, 44, 58}[r.IntN(4)] },
		func(r *rand.Rand) int { return 5 * (4 + r.IntN(10)) },
		func(r *rand.Rand) int { return 90 + r.IntN(150) },
	}
	for seed := range seeds(40) {
		rng := rand.New(rand.NewPCG(seed, 31))
		n := 10 + rng.IntN(26)
		lengths := make([]int, n)
		seconds := make([]float64, n)
		for i := range lengths {
			lengths[i] = draws[seed%uint64(len(draws))](rng)
			seconds[i] = float64(lengths[i])
		}
		r := request(t, "C14", mix(seconds...))
		r.Order, r.Aim = fit.Free, fit.Aim(seed/5%2)
		p := make1(t, r)
		if got := p.Tapes[0].Sides[0].UsableS.D(); got < side*time.Second || got >= (side+1)*time.Second {
			t.Fatalf("a side of %v, the table has %d s", got, side)
		}
		songs, playing := kept(p)
		wantSongs, wantPlaying := table(lengths, gap, side, r.Aim == fit.MostSongs)
		if songs != wantSongs || playing != time.Duration(wantPlaying)*time.Second {
			t.Errorf("seed %d, %d tracks, aim %s: %d songs of %v; the table keeps %d of %d s\n%v", seed, n, p.Terms.Aim, songs, playing, wantSongs, wantPlaying, lengths)
		}
		if !p.Proved {
			t.Errorf("seed %d, %d tracks, aim %s: not proved", seed, n, p.Terms.Aim)
		}
	}
}

// A joined piece counts as its songs, a split one as one, and both of its parts are
// on the tape or none.
func TestSongsOfAPiece(t *testing.T) {
	// On two sides of 401 s either a and b joined (2 songs) fit beside c, or d and
	// c: a + b = 300, d = 395, c = 390.
	r := request(t, "C14", wishes(mix(150, 150, 390, 395), map[string]Wish{"a": {Join: true}}))
	r.Order = fit.Free
	p := make1(t, r)
	if out := p.Lacks(); len(out) != 1 || out[0].Title != "c" {
		t.Errorf("left out %v, want c: a joined to b are two songs, and d is the longer", namesOf(out))
	}
	// Split over both sides e takes the room of four songs.
	r = request(t, "C14", wishes(mix(180, 180, 180, 180, 700), map[string]Wish{"e": {Split: Seconds(350 * time.Second)}}))
	r.Order = fit.Free
	p = make1(t, r)
	if out := p.Lacks(); len(out) != 1 || !strings.HasPrefix(out[0].Title, "e") && len(out) != 2 {
		for _, k := range out {
			if !strings.HasPrefix(k.Title, "e") {
				t.Errorf("left out %v, want e alone: it is one song", namesOf(out))
			}
		}
	}
	r.Aim = fit.MostTime // 720 s of four songs, 700 of one
	r.Mix.Items[4].Length, r.Mix.Items[4].Wish.Split = 790*time.Second, Seconds(395*time.Second)
	p = make1(t, r)
	if _, playing := kept(p); playing != 790*time.Second {
		t.Errorf("by time %v is kept, want e whole", playing)
	}
}

// A track that must be on the tape is there at any cost, or the answer says stop.
func TestMust(t *testing.T) {
	r := request(t, "C14", wishes(mix(390, 200, 190, 180), map[string]Wish{"a": {Must: true}}))
	r.Order = fit.Free
	if p := make1(t, r); slices.ContainsFunc(p.LeftOut, func(k Track) bool { return k.Title == "a" }) || len(p.Warnings) > 0 && p.Warnings[0].Severity == Stop {
		t.Errorf("left out %v", namesOf(p.LeftOut))
	}
	r = request(t, "C14", wishes(mix(390, 395, 380), map[string]Wish{"a": {Must: true}, "b": {Must: true}, "c": {Must: true}}))
	p := make1(t, r)
	stops := 0
	for _, w := range p.Warnings {
		if w.Severity == Stop && w.About == "must" && strings.Contains(w.Says, "must be on the tape") {
			stops++
		}
	}
	if p.Fits || stops != 1 {
		t.Errorf("fits %v with %d stops, want one of the three named: %+v", p.Fits, stops, p.Warnings)
	}
	// Alone it is longer than a side.
	r = request(t, "C14", wishes(mix(500, 100), map[string]Wish{"a": {Must: true}}))
	if p := make1(t, r); p.Fits || !slices.ContainsFunc(p.Warnings, func(w Warning) bool { return w.Severity == Stop && w.Track == "a" }) {
		t.Errorf("fits %v: %+v", p.Fits, p.Warnings)
	}
}

// A freer order never keeps less, whatever is wished: by songs or by time.
func TestFreerKeepsNoLess(t *testing.T) {
	for seed := range seeds(15) {
		r := longRequest(t, seed)
		r.MaxSteps = 200_000
		var before Plan
		for k, o := range []fit.Order{fit.Keep, fit.Near, fit.Free} {
			r.Order = o
			p, err := Make(context.Background(), r)
			if err != nil {
				if k > 0 && before.Format != "" {
					t.Errorf("seed %d: order %d: %v, though a stricter order has an answer", seed, o, err)
				}
				continue
			}
			if k > 0 && before.Format != "" {
				a, x := kept(before)
				b, y := kept(p)
				worse := b < a || b == a && y < x && o == fit.Free
				if r.Aim == fit.MostTime {
					worse = y < x && o == fit.Free || y+10*time.Second < x
				}
				if worse || b == a && y == x && len(p.Tapes) > len(before.Tapes) {
					t.Errorf("seed %d: order %d keeps %d songs, %v on %d tapes; a stricter one %d, %v on %d", seed, o, b, y, len(p.Tapes), a, x, len(before.Tapes))
				}
			}
			before = p
		}
	}
}
