package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// list is what a person would type: tracks by title, and flags.
type list struct {
	tracks []string // title=seconds
	flags  []string // --flag value, each one
}

func (l list) write(t *testing.T, dir string) (args []string) {
	t.Helper()
	rows := []string{"length,artist,title"}
	for _, tr := range l.tracks {
		title, length, _ := strings.Cut(tr, "=")
		rows = append(rows, fmt.Sprintf("%s,%s,%s", length, title[:2], title))
	}
	path := filepath.Join(dir, "list.csv")
	if err := os.WriteFile(path, []byte(strings.Join(rows, "\n")+"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	args = []string{"check", path}
	for _, f := range l.flags {
		flag, value, _ := strings.Cut(f, " ")
		args = append(args, flag, value)
	}
	return args
}

// names tells whether a flag speaks of a track.
func names(flag, title string) bool {
	return strings.HasSuffix(flag, " "+title) || strings.HasSuffix(flag, "="+title) || strings.Contains(flag, " "+title+"=")
}

// with is the list with a flag of that name, and no other such.
func (l list) with(flags string) list {
	l.flags = slices.Clone(l.flags)
	for words := strings.Fields(flags); len(words) > 1; words = words[2:] {
		flag, value := words[0], strings.Trim(words[1], `"`)
		l.flags = slices.DeleteFunc(l.flags, func(f string) bool { return strings.HasPrefix(f, flag+" ") })
		l.flags = append(l.flags, flag+" "+value)
	}
	return l
}

// without is the list without tracks, and without what was said of them.
func (l list) without(titles []string) list {
	l.tracks = slices.DeleteFunc(slices.Clone(l.tracks), func(tr string) bool {
		return slices.ContainsFunc(titles, func(x string) bool { return strings.HasPrefix(tr, x+"=") })
	})
	l.flags = slices.DeleteFunc(slices.Clone(l.flags), func(f string) bool {
		return slices.ContainsFunc(titles, func(x string) bool { return names(f, x) })
	})
	return l
}

var inQuotes = regexp.MustCompile(`“([^”]*)”`)

func titlesIn(s string) (titles []string) {
	for _, m := range inQuotes.FindAllStringSubmatch(s, -1) {
		titles = append(titles, m[1])
	}
	return titles
}

// done is the list after a person did what the command advises; ok is false for
// what is no promise, or asks to time a tape.
func (l list) done(t *testing.T, advice string) (after list, leavesOut int, ok bool) {
	t.Helper()
	says, flags, _ := strings.Cut(advice, ": --")
	flags = "--" + flags
	switch {
	case strings.HasPrefix(says, "leave out "):
		names, _, _ := strings.Cut(says, " (")
		return l.without(titlesIn(names)), 0, true
	case strings.HasPrefix(says, "let "):
		first, second, joined := strings.Cut(says, " change places with ")
		if !joined {
			first, second, _ = strings.Cut(says, " and ")
		}
		at := func(title string) int {
			return slices.IndexFunc(l.tracks, func(tr string) bool { return strings.HasPrefix(tr, title+"=") })
		}
		a, b := titlesIn(first), titlesIn(second)
		if at(a[0]) > at(b[0]) {
			a, b = b, a
		}
		i, j := at(a[0]), at(b[0])
		l.tracks = slices.Concat(l.tracks[:i], l.tracks[j:j+len(b)], l.tracks[i+len(a):j], l.tracks[i:i+len(a)], l.tracks[j+len(b):])
		return l, 0, true
	case strings.HasPrefix(says, "without the wish that "):
		title := "none"
		if n := titlesIn(says); len(n) > 0 {
			title = n[0]
		}
		for words, wish := range map[string]string{"opens": "--side-opener --opener", "closes": "--side-closer --closer", "on side": "--side",
			"is joined to": "--join", "has a gap": "--gap-after", "is split": "--split", "is not left out": "--must", "one artist": "--apart"} {
			if strings.Contains(says, words) {
				l.flags = slices.DeleteFunc(slices.Clone(l.flags), func(f string) bool {
					name, _, _ := strings.Cut(f, " ")
					return slices.Contains(strings.Fields(wish), name) && (names(f, title) || name == "--apart")
				})
				return l, -1, true
			}
		}
		t.Fatalf("%q: which wish?", advice)
	case strings.HasPrefix(flags, "--split "):
		return l.with(flags), 0, strings.Contains(says, "everything fits")
	case strings.HasPrefix(flags, "--order "), strings.HasPrefix(flags, "--gap "), strings.HasPrefix(flags, "--tape "), strings.HasPrefix(flags, "--tapes "):
		return l.with(flags), 0, true
	}
	return l, 0, false
}

// advices are the lines that begin with try, whole.
func advices(out string) (all []string) {
	_, out, _ = strings.Cut(out, "\ntry: ")
	if out == "" {
		return nil
	}
	for _, s := range strings.Split("\n"+out, "\ntry: ") {
		all = append(all, strings.Join(strings.Fields(s), " "))
	}
	return all
}

// What check advises is true: done as a person would, by the list and the flags,
// everything fits, or as many more tracks have a place as it says.
func TestAdviceIsTrue(t *testing.T) {
	dir := t.TempDir()
	count := map[string]int{}
	verdict := regexp.MustCompile(`(\d+) of (\d+) tracks have a place`)
	for seed := range uint64(120) {
		rng := rand.New(rand.NewPCG(seed, 23))
		var l list
		sum := 0
		for i := range 3 + rng.IntN(6) {
			n := 120 + rng.IntN(800)
			if seed%7 == 0 && i == 1 {
				n += 1400
			}
			sum += n
			title := string(rune('M'+rng.IntN(3))) + "o" + string(rune('a'+i))
			l.tracks = append(l.tracks, fmt.Sprintf("%s=%d:%02d", title, n/60, n%60))
			for f, value := range map[string]string{"--join": title, "--reserve": title, "--side": "B=" + title, "--side-opener": title,
				"--closer": title, "--gap-after": title + "=9s", "--must": title} {
				if rng.IntN(25) == 0 && !slices.ContainsFunc(l.flags, func(x string) bool {
					return f == "--closer" && strings.HasPrefix(x, f) || f == "--must" && strings.Contains(x, "--reserve")
				}) {
					l.flags = append(l.flags, f+" "+value)
				}
			}
		}
		l.flags = append(l.flags, "--order "+[]string{"keep", "keep", "near", "free"}[rng.IntN(4)],
			fmt.Sprintf("--tape C%d", min(240, max(10, sum*(90+rng.IntN(22))/100/60))))
		status, out, _ := talk("", l.write(t, dir)...)
		if status == exitWrong {
			continue // its wishes contradict each other
		}
		before := 0
		if m := verdict.FindStringSubmatch(strings.Join(strings.Fields(out), " ")); m != nil {
			a, _ := strconv.Atoi(m[1])
			b, _ := strconv.Atoi(m[2])
			before = b - a
		}
		for _, advice := range advices(out) {
			after, missing, ok := l.done(t, advice)
			if !ok {
				continue
			}
			count[strings.Fields(advice)[0]]++
			if missing < 0 { // a wish lifted
				if missing = 0; !strings.Contains(advice, "everything fits") {
					more := regexp.MustCompile(`(\d+) more track`).FindStringSubmatch(advice)
					n, _ := strconv.Atoi(more[1])
					missing = before - n
				}
			}
			status, then, errs := talk("", after.write(t, dir)...)
			got := 0
			if m := verdict.FindStringSubmatch(strings.Join(strings.Fields(then), " ")); m != nil {
				a, _ := strconv.Atoi(m[1])
				b, _ := strconv.Atoi(m[2])
				got = b - a
			}
			if status == exitWrong || got != missing || missing == 0 && status != exitDone {
				t.Errorf("seed %d: %q: status %d, %d left out, want %d: %s\n%v\n%v", seed, advice, status, got, missing, errs, l, after)
			}
		}
	}
	t.Logf("advice by its first word: %v", count)
	for _, first := range []string{"leave", "let", "without", "move", "a", "2"} {
		if count[first] == 0 {
			t.Errorf("nothing was advised that begins with %q", first)
		}
	}
}
