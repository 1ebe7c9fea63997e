package fit

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"longside/testdata/reftool"
)

// falkenauer is the set of 160 bin-packing instances of E. Falkenauer, Journal
// of Heuristics 2, 1996, with the fewest bins of each; testdata/README.md says
// where they come from.
type falkenauer struct {
	name     string
	capacity int64
	fewest   int
	sizes    []int64
}

func readFalkenauer(t testing.TB) []falkenauer {
	t.Helper()
	text, err := os.ReadFile("../testdata/falkenauer.tsv")
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) int {
		v, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var all []falkenauer
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, 1<<20)
	lines.Scan() // the header
	for lines.Scan() {
		f := strings.Split(lines.Text(), "\t")
		x := falkenauer{name: f[0], capacity: int64(number(f[1])), fewest: number(f[2])}
		for _, s := range strings.Fields(f[4]) {
			x.sizes = append(x.sizes, int64(number(s)))
		}
		all = append(all, x)
	}
	if len(all) != 160 {
		t.Fatalf("%d instances, not 160", len(all))
	}
	return all
}

func (f falkenauer) pack(t testing.TB) ([][]int, int) {
	return fewestBins(&effort{ctx: t.Context(), left: 20 * defaultSteps}, f.sizes, f.capacity)
}

// All 160: the fewest bins are found and proved.
func TestFalkenauer(t *testing.T) {
	for k, f := range readFalkenauer(t) {
		if underRace && k%16 > 0 {
			continue
		}
		bins, least := f.pack(t)
		if len(bins) != f.fewest || least != f.fewest {
			t.Errorf("%s: %d bins, at least %d; the fewest are %d", f.name, len(bins), least, f.fewest)
		}
		var all []int
		for _, b := range bins {
			var load int64
			for _, i := range b {
				load += f.sizes[i]
			}
			if load > f.capacity {
				t.Errorf("%s: a bin holds %d of %d", f.name, load, f.capacity)
			}
			all = append(all, b...)
		}
		slices.Sort(all)
		if !slices.Equal(all, run(0, len(f.sizes))) {
			t.Errorf("%s: not every item is in one bin", f.name)
		}
	}
}

// The same by way of Solve, on tapes of one side.
func TestFalkenauerTapes(t *testing.T) {
	for k, f := range readFalkenauer(t) {
		if k%16 != 0 {
			continue
		}
		p := Problem{Order: Free, MaxTapes: len(f.sizes), Kinds: []Kind{{Sides: []Side{{Capacity: Millis(f.capacity)}}}}, MaxSteps: 200_000}
		for _, v := range f.sizes {
			p.Pieces = append(p.Pieces, Piece{Length: Millis(v)})
		}
		a, err := Solve(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Check(a); err != nil {
			t.Fatal(err)
		}
		if len(a.Tapes) != f.fewest || a.AtLeast != f.fewest {
			t.Errorf("%s: %d tapes, at least %d; the fewest are %d", f.name, len(a.Tapes), a.AtLeast, f.fewest)
		}
	}
}

// The whole set, and beside it what a general solver needs for the class u120
// alone. Run both in one go; the machine's speed then cancels out:
//
//	go test -run XXX -bench Falkenauer -benchtime 1x ./fit
func BenchmarkFalkenauer(b *testing.B) {
	all := readFalkenauer(b)
	b.Run("all160", func(b *testing.B) {
		for b.Loop() {
			for _, f := range all {
				if bins, least := f.pack(b); len(bins) != f.fewest || least != f.fewest {
					b.Fatalf("%s: %d bins, at least %d", f.name, len(bins), least)
				}
			}
		}
	})
	b.Run("u120cbc", func(b *testing.B) {
		cbc := reftool.Need(b, "cbc")
		dir := b.TempDir()
		var models []string
		for _, f := range all {
			if strings.HasPrefix(f.name, "u120") {
				name := filepath.Join(dir, f.name+".lp")
				if err := os.WriteFile(name, f.arcFlow(), 0o600); err != nil {
					b.Fatal(err)
				}
				models = append(models, name)
			}
		}
		for b.Loop() {
			for _, name := range models {
				out, err := exec.Command(cbc, name, "solve", "quit").CombinedOutput()
				if err != nil || !bytes.Contains(out, []byte("Optimal solution found")) {
					b.Fatalf("%v\n%s", err, out)
				}
			}
		}
	})
}

// arcFlow is the arc-flow model of bin packing in LP format (J. M. Valério de
// Carvalho, Annals of Operations Research 86, 1999): paths from 0 to the
// capacity, an arc an item, items in descending order, at most as many of a
// size in a path as there are.
func (f falkenauer) arcFlow() []byte {
	count := map[int64]int{}
	for _, v := range f.sizes {
		count[v]++
	}
	var sizes []int64
	for v := range count {
		sizes = append(sizes, v)
	}
	slices.Sort(sizes)
	slices.Reverse(sizes)
	type arc struct{ from, to, item int64 }
	var arcs []arc
	seen := map[arc]bool{}
	reached := map[int64]bool{0: true}
	for _, v := range sizes {
		start := make([]int64, 0, len(reached))
		for x := range reached {
			start = append(start, x)
		}
		slices.Sort(start)
		for _, x := range start {
			for k := range count[v] {
				a := arc{x + int64(k)*v, x + int64(k+1)*v, v}
				if a.to > f.capacity {
					break
				}
				reached[a.to] = true
				if !seen[a] {
					seen[a] = true
					arcs = append(arcs, a)
				}
			}
		}
	}
	reached[f.capacity] = true
	var nodes []int64
	for x := range reached {
		nodes = append(nodes, x)
	}
	slices.Sort(nodes)
	for k := range len(nodes) - 1 { // unused room
		arcs = append(arcs, arc{nodes[k], nodes[k+1], 0})
	}
	slices.SortFunc(arcs, func(a, b arc) int {
		return int((a.from-b.from)*1_000_000 + (a.to-b.to)*1000 + a.item - b.item)
	})
	name := func(a arc) string { return fmt.Sprintf("x%d_%d_%d", a.from, a.to, a.item) }
	var out bytes.Buffer
	fmt.Fprint(&out, "Minimize\n bins: z\nSubject To\n")
	for _, n := range nodes {
		fmt.Fprintf(&out, " node%d:", n)
		for _, a := range arcs {
			if a.to == n {
				fmt.Fprintf(&out, " + %s", name(a))
			} else if a.from == n {
				fmt.Fprintf(&out, " - %s", name(a))
			}
		}
		if n == 0 {
			fmt.Fprint(&out, " + z")
		} else if n == f.capacity {
			fmt.Fprint(&out, " - z")
		}
		fmt.Fprint(&out, " = 0\n")
	}
	for _, v := range sizes {
		fmt.Fprintf(&out, " size%d:", v)
		for _, a := range arcs {
			if a.item == v {
				fmt.Fprintf(&out, " + %s", name(a))
			}
		}
		fmt.Fprintf(&out, " >= %d\n", count[v])
	}
	fmt.Fprint(&out, "General\n z\n")
	for _, a := range arcs {
		fmt.Fprintf(&out, " %s\n", name(a))
	}
	fmt.Fprint(&out, "End\n")
	return out.Bytes()
}
