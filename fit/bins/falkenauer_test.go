package bins

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"longside/testdata/falkenauer"
	"longside/testdata/reftool"
)

// counter is an effort that never runs out and says what was spent.
type counter struct {
	ctx   context.Context
	steps int64
}

func (c *counter) Spend(steps int64) bool { c.steps += steps; return c.ctx.Err() == nil }
func (c *counter) Ended() bool            { return c.ctx.Err() != nil }

func pack(t testing.TB, f falkenauer.Instance) ([][]int, int) {
	return Pack(&counter{ctx: t.Context()}, f.Sizes, f.Capacity, 1)
}

// All 160: the fewest bins are found and proved.
func TestFalkenauer(t *testing.T) {
	for k, f := range falkenauer.Read(t) {
		if underRace && k%16 > 0 {
			continue
		}
		bins, least := pack(t, f)
		if len(bins) != f.Fewest || least != f.Fewest {
			t.Errorf("%s: %d bins, at least %d; the fewest are %d", f.Name, len(bins), least, f.Fewest)
		}
		var all []int
		for _, b := range bins {
			var load int64
			for _, i := range b {
				load += f.Sizes[i]
			}
			if load > f.Capacity {
				t.Errorf("%s: a bin holds %d of %d", f.Name, load, f.Capacity)
			}
			all = append(all, b...)
		}
		slices.Sort(all)
		if !slices.Equal(all, upTo(len(f.Sizes))) {
			t.Errorf("%s: not every item is in one bin", f.Name)
		}
	}
}

// The whole set, and beside it what a general solver needs for the class u120
// alone. Run both in one go; the machine's speed then cancels out:
//
//	go test -run XXX -bench Falkenauer -benchtime 1x ./fit/bins
func BenchmarkFalkenauer(b *testing.B) {
	all := falkenauer.Read(b)
	b.Run("all160", func(b *testing.B) {
		for b.Loop() {
			for _, f := range all {
				if bins, least := pack(b, f); len(bins) != f.Fewest || least != f.Fewest {
					b.Fatalf("%s: %d bins, at least %d", f.Name, len(bins), least)
				}
			}
		}
	})
	b.Run("u120cbc", func(b *testing.B) {
		cbc := reftool.Need(b, "cbc")
		dir := b.TempDir()
		var models []string
		for _, f := range all {
			if strings.HasPrefix(f.Name, "u120") {
				name := filepath.Join(dir, f.Name+".lp")
				if err := os.WriteFile(name, arcFlow(f), 0o600); err != nil {
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
func arcFlow(f falkenauer.Instance) []byte {
	count := map[int64]int{}
	for _, v := range f.Sizes {
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
				if a.to > f.Capacity {
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
	reached[f.Capacity] = true
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
		} else if n == f.Capacity {
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
