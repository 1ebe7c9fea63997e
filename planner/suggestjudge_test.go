package planner

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/planner/tape"
)

var manyCases = flag.Bool("many", false, "run ten times as many seeded cases")

// seeds is how many seeded cases to run.
func seeds(n int) uint64 {
	if *manyCases {
		n *= 10
	}
	return uint64(n)
}

// What a suggestion says is done by hand here, from its sentence alone, and
// Change.Apply has no part in it.

var (
	quoted   = regexp.MustCompile(`“([^”]*)”`)
	clocks   = regexp.MustCompile(`\d+:\d\d(\.\d+)?`)
	tapesOf  = regexp.MustCompile(`(a|\d+) (C\d+)`)
	dropping = regexp.MustCompile(`^leave out (.*) \((\d+) of (\d+) tracks, .*\) and the rest fits`)
)

// asSaid lists the requests that a sentence would have the person make: each is
// to leave out no more than it says.
func asSaid(t *testing.T, r Request, s Suggestion) (all []Request) {
	t.Helper()
	number := func(text, pattern string) float64 {
		m := regexp.MustCompile(pattern).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("%q: no %s in it", s.Says, pattern)
		}
		f, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	titles := func(text string) (names []string) {
		for _, m := range quoted.FindAllStringSubmatch(text, -1) {
			names = append(names, m[1])
		}
		return names
	}
	place := func(name string) int {
		i := slices.IndexFunc(r.Mix.Items, func(it Item) bool { return it.Title == name })
		if i < 0 {
			t.Fatalf("%q: there is no %q", s.Says, name)
		}
		return i
	}
	items := slices.Clone(r.Mix.Items)
	q := r
	q.Mix.Items = items
	switch says := s.Says; s.About {
	case "drop":
		m := dropping.FindStringSubmatch(says)
		if m == nil || strconv.Itoa(len(titles(m[1]))) != m[2] {
			t.Fatalf("%q names not as many as it says", says)
		}
		q.Mix.Items = slices.DeleteFunc(items, func(it Item) bool { return slices.Contains(titles(m[1]), it.Title) })
	case "swap":
		first, second, ok := strings.Cut(says, " change places with ")
		if !ok {
			first, second, _ = strings.Cut(says, " and ")
		}
		a, b := titles(first), titles(second)
		if place(a[0]) > place(b[0]) {
			a, b = b, a
		}
		i, j := place(a[0]), place(b[0])
		q.Mix.Items = slices.Concat(r.Mix.Items[:i], r.Mix.Items[j:j+len(b)], r.Mix.Items[i+len(a):j], r.Mix.Items[i:i+len(a)], r.Mix.Items[j+len(b):])
	case "order":
		if q.Order = fit.Free; strings.HasPrefix(says, "move") {
			q.Order = fit.Near
		}
	case "gap":
		q.Gap = time.Duration(number(says, `gaps of (\d+) s`)) * time.Second
	case "tolerance":
		q.Tolerance = number(says, `good to ([\d.]+) %`) / 100
	case "tail":
		q.ThinTail = BlankTail
	case "tape":
		after, _, _ := strings.Cut(says, " would hold")
		after = after[strings.LastIndex(after, ",")+1:]
		q.Tapes = nil
		count := 0
		for _, m := range tapesOf.FindAllStringSubmatch(after, -1) {
			n := 1
			if m[1] != "a" {
				n, _ = strconv.Atoi(m[1])
			}
			k, err := tape.Named(m[2])
			if err != nil {
				t.Fatal(err)
			}
			count += n
			q.Tapes = append(q.Tapes, Choice{Tape: k})
		}
		q.MaxTapes = max(q.MaxTapes, count)
	case "split":
		if strings.Contains(says, "list each part") || strings.Contains(says, "no room for both") {
			return nil
		}
		name := titles(says)[0]
		_, after, _ := strings.Cut(says, " at ")
		for k, c := range clocks.FindAllString(after, -1) {
			if k == 1 && strings.Contains(says, "and not at") {
				continue
			}
			at, err := ParseTime(c, time.Second)
			if err != nil {
				t.Fatal(err)
			}
			q.Mix.Items = slices.Clone(items)
			q.Mix.Items[place(name)].Wish.Split = Seconds(at)
			all = append(all, q)
		}
		return all
	case "aim":
		if q.Aim = fit.MostSongs; strings.Contains(says, "by playing time") {
			q.Aim = fit.MostTime
		}
	case "wish":
		name := ""
		if n := titles(says); len(n) > 0 {
			name = n[0]
		}
		for verb, lift := range map[string]func(*Wish){
			"is on side":        func(w *Wish) { w.Side = "" },
			"opens ":            func(w *Wish) { w.Opens = Anywhere },
			"closes ":           func(w *Wish) { w.Closes = Anywhere },
			"is joined to":      func(w *Wish) { w.Join = false },
			"has a gap":         func(w *Wish) { w.Gap = nil },
			"on the thin tail":  func(w *Wish) { w.NotThin = false },
			"is split over":     func(w *Wish) { w.Split = 0 },
			"is not left out":   func(w *Wish) { w.Must = false },
			"of one artist":     nil,
			"thin tails stay b": nil,
		} {
			if !strings.Contains(says, verb) {
				continue
			}
			if lift == nil {
				if q.ThinTail = WarnTail; verb == "of one artist" {
					q.ThinTail, q.Apart = r.ThinTail, 0
				}
				return []Request{q}
			}
			lift(&items[place(name)].Wish)
			return []Request{q}
		}
		t.Fatalf("%q: no wish in it", says)
	default:
		t.Fatalf("about %q", s.About)
	}
	return []Request{q}
}

// missed counts the wanted tracks that a plan has no place for.
func missed(p Plan) int {
	names := map[string]bool{}
	for _, t := range p.LeftOut {
		if t.Reserve == 0 {
			name, _, _ := strings.Cut(t.Title, " (")
			names[name] = true
		}
	}
	return len(names)
}

// tightRequest is anyRequest on a tape that holds not quite all of it.
func tightRequest(t testing.TB, seed uint64) Request {
	r := anyRequest(t, seed)
	rng := rand.New(rand.NewPCG(seed, 13))
	var all time.Duration
	for _, it := range r.Mix.Items {
		all += it.Length
	}
	minutes := all.Minutes() * (0.75 + 0.35*rng.Float64()) / float64(max(1, r.MaxTapes))
	k, err := tape.Named(fmt.Sprint(min(max(int(minutes), 10), 240)))
	if err != nil {
		t.Fatal(err)
	}
	r.Tapes = []Choice{{Tape: k}}
	if rng.IntN(3) == 0 {
		r.Tapes[0].Tape = nextSold(k.Side)
	}
	if rng.IntN(4) == 0 {
		r.Mix.Items[0].Length += r.longestSide() // too long for a side
	}
	r.Aim = fit.Aim(rng.IntN(2))
	if r.Apart > 0 && rng.IntN(2) == 0 {
		r.Apart = 0
	}
	return r
}

// Every suggestion is true once a person does what it says, with the default
// effort; and where no fewer tracks are said to do, no fewer do.
func TestSuggestionsAreTrue(t *testing.T) {
	ctx := context.Background()
	count := map[string]int{}
	brutes := 0
	for seed := range seeds(300) {
		r := tightRequest(t, seed)
		p, err := Make(ctx, r)
		if err != nil {
			continue
		}
		for _, s := range Suggest(ctx, r, p) {
			count[s.About]++
			if strings.Contains(s.Says, "--") || strings.ContainsAny(s.Says, "\n") {
				t.Errorf("seed %d: %q is for one front end", seed, s.Says)
			}
			if s.About == "tape" && strings.Contains(s.Says, "by playing time alone") {
				continue
			}
			for _, q := range asSaid(t, r, s) {
				done, err := Make(ctx, q)
				if err != nil {
					t.Errorf("seed %d: %q: %v", seed, s.Says, err)
					continue
				}
				if n := missed(done); n > s.LeavesOut || n < s.LeavesOut && done.Proved && s.About != "aim" {
					t.Errorf("seed %d, order %v: %q leaves out %d, not %d", seed, r.Order, s.Says, n, s.LeavesOut)
				}
			}
			if s.About == "drop" && len(r.Mix.Items) <= 6 {
				n := len(s.Change.Drop)
				sure := strings.Contains(s.Says, "no fewer will do")
				if sure {
					brutes++
				}
				if fewer := fewerToDrop(r, n); fewer != nil && sure {
					t.Errorf("seed %d, order %v: %q, but it does to leave out %v", seed, r.Order, s.Says, fewer)
				}
			}
		}
	}
	t.Logf("suggestions %v, %d times no fewer to leave out", count, brutes)
	for _, about := range []string{"drop", "split", "order", "swap", "tape", "wish", "aim"} {
		if count[about] == 0 {
			t.Errorf("nothing was suggested about %s", about)
		}
	}
}

// fewerToDrop looks for fewer than n tracks without which the rest fits.
func fewerToDrop(r Request, n int) []string {
	items := r.Mix.Items
	for set := range 1 << len(items) {
		q := r
		q.Mix.Items = nil
		var out []string
		for i, it := range items {
			if w := it.Wish; set>>i&1 == 0 {
				q.Mix.Items = append(q.Mix.Items, it)
			} else if out = append(out, it.Title); w.Must || w.Opens == OfMix || w.Closes == OfMix {
				out = append(out, items[0].Title, items[0].Title, items[0].Title, items[0].Title) // it may not go
			}
		}
		if len(out) > 0 && len(out) < n && q.checkWishes() == nil && fitsSomehow(q) {
			return out
		}
	}
	return nil
}

// fitsSomehow tries every way to lay all that is wanted, and any of the
// reserves, on the sides. Whether a way keeps the wishes is left to Lay.
func fitsSomehow(r Request) bool {
	type token struct{ item, part int }
	var tokens []token
	rows := false
	for i, it := range r.Mix.Items {
		tokens = append(tokens, token{i, 0})
		if it.Wish.Split != 0 {
			tokens = append(tokens, token{i, 1})
		}
		rows = rows || it.Wish.Join
	}
	a := make(Arrangement, max(1, r.MaxTapes))
	var room time.Duration
	for _, k := range r.kinds() {
		room = max(room, k.Sides[0].Capacity.Duration())
	}
	used := make([]bool, len(tokens))
	var place func(side, last int, left time.Duration) bool
	place = func(side, last int, left time.Duration) bool {
		if side == 2*len(a) {
			for k, x := range tokens {
				if !used[k] && r.Mix.Items[x.item].Wish.Reserve == 0 {
					return false
				}
			}
			for t := range a[:len(a)-1] { // no tape before another is empty
				if len(a[t].Sides[0])+len(a[t].Sides[1]) == 0 && len(a[t+1].Sides[0])+len(a[t+1].Sides[1]) > 0 {
					return false
				}
			}
			l, err := Lay(r, a)
			return err == nil && len(l.Broken) == 0
		}
		if place(side+1, last, room) {
			return true
		}
		for k, x := range tokens {
			it := r.Mix.Items[x.item]
			if used[k] || x.part == 1 && !used[k-1] || r.Order == fit.Keep && k < last {
				continue
			}
			length := it.Length
			switch {
			case it.Wish.Split != 0 && x.part == 0:
				length = it.Wish.Split.D()
			case it.Wish.Split != 0:
				length -= it.Wish.Split.D()
			}
			var fade Seconds
			if !rows {
				fade = min(it.Wish.Fade, Seconds(length-time.Millisecond))
			}
			if length-fade.D() > left {
				continue
			}
			list := &a[side/2].Sides[side%2]
			*list = append(*list, Spot{Item: x.item, Fade: fade})
			used[k] = true
			if place(side, k, left-length+fade.D()+3*time.Second) {
				return true
			}
			used[k] = false
			*list = (*list)[:len(*list)-1]
		}
		return false
	}
	return place(0, 0, room)
}
