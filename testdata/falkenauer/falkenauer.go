// Package falkenauer reads bin-packing instances for tests.
package falkenauer

import (
	_ "embed"
	"strconv"
	"strings"
	"testing"
)

// Instance is one of the set of E. Falkenauer, Journal of Heuristics 2, 1996;
// testdata/README.md says where they come from.
type Instance struct {
	Name     string
	Capacity int64
	Fewest   int // bins that hold all
	Sizes    []int64
}

//go:embed falkenauer.tsv
var table string

// Read gives all 160.
func Read(t testing.TB) []Instance {
	t.Helper()
	number := func(s string) int {
		v, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var all []Instance
	for line := range strings.Lines(table) {
		f := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		if f[0] == "name" {
			continue
		}
		x := Instance{Name: f[0], Capacity: int64(number(f[1])), Fewest: number(f[2])}
		for _, s := range strings.Fields(f[4]) {
			x.Sizes = append(x.Sizes, int64(number(s)))
		}
		all = append(all, x)
	}
	if len(all) != 160 {
		t.Fatalf("%d instances, not 160", len(all))
	}
	return all
}
