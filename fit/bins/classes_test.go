package bins

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// class is a kind of instance, drawn by seed.
type class struct {
	name string
	draw func(r *rand.Rand) (sizes []int64, capacity int64, fewest int) // fewest is 0 where it is not known
}

// between draws n sizes from lo to hi of 1,000ths of a capacity.
func between(n int, capacity, lo, hi int64) func(r *rand.Rand) ([]int64, int64, int) {
	return func(r *rand.Rand) ([]int64, int64, int) {
		var sizes []int64
		lo, hi := lo*capacity/1000, hi*capacity/1000
		lo = max(lo, 1)
		for range n {
			sizes = append(sizes, lo+r.Int64N(hi-lo+1))
		}
		return sizes, capacity, 0
	}
}

// cut draws bins that are cut into k pieces each, all but a waste used.
func cut(n, k int, capacity, lo, hi, waste int64) func(r *rand.Rand) ([]int64, int64, int) {
	return func(r *rand.Rand) ([]int64, int64, int) {
		var sizes []int64
		lo, hi := max(1, lo*capacity/1000), hi*capacity/1000
		for len(sizes) < n {
			rest := capacity - waste
			var bin []int64
			for range k - 1 {
				v := lo + r.Int64N(hi-lo+1)
				bin = append(bin, v)
				rest -= v
			}
			if rest >= lo && rest <= hi {
				sizes = append(sizes, append(bin, rest)...)
			}
		}
		r.Shuffle(len(sizes), func(i, j int) { sizes[i], sizes[j] = sizes[j], sizes[i] })
		fewest := len(sizes) / k
		if waste*int64(fewest) >= capacity {
			fewest = 0
		}
		return sizes, capacity, fewest
	}
}

const c60 = 1_776_000 // a side of 30 minutes less 1.5 %, and a gap, in milliseconds

var classes = []class{
	{"fifth to third, 60", between(60, c60, 200, 333)},
	{"fifth to third, 100", between(100, c60, 200, 333)},
	{"fifth to third, 200", between(200, c60, 200, 333)},
	{"1 to 800 in 1000, 160", between(160, 1000, 1, 800)},
	{"1 to 800 in 1000, 200", between(200, 1000, 1, 800)},
	{"1 to 800 in ms, 200", between(200, c60, 1, 800)},
	{"100 to 500 in ms, 200", between(200, c60, 100, 500)},
	{"150 to 450 in ms, 120", between(120, c60, 150, 450)},
	{"cut in 3, 60", cut(60, 3, c60, 200, 500, 0)},
	{"cut in 3, 201", cut(201, 3, c60, 200, 500, 0)},
	{"cut in 4, 60", cut(60, 4, c60, 150, 350, 0)},
	{"cut in 4, 120", cut(120, 4, c60, 150, 350, 0)},
	{"cut in 4, 200", cut(200, 4, c60, 150, 350, 0)},
	{"cut in 5, 100", cut(100, 5, c60, 100, 333, 0)},
	{"cut in 5, 200", cut(200, 5, c60, 100, 333, 0)},
	{"cut in 4, 1 s, 200", cut(200, 4, 1776, 150, 350, 0)},
	{"cut in 4, all but 1 s, 200", cut(200, 4, c60, 150, 350, 1000)},
	{"cut in 4, all but 10 s, 160", cut(160, 4, c60, 150, 350, 10000)},
}

var survey = flag.Int("survey", 0, "print how many of so many lists of each class are packed, and at what cost")

// Lists of each class are packed into the fewest bins, and proved to be, but for
// the tightest: long lists that fill every bin with five to the millisecond.
func TestClasses(t *testing.T) {
	for k, c := range classes {
		n, tight := 2, strings.HasPrefix(c.name, "cut in 5")
		if *survey > 0 {
			n, tight = *survey, false
		} else if tight || testing.Short() {
			n = 1
		}
		proved, gap, over := 0, 0, 0
		var steps int64
		most, all := time.Duration(0), time.Now()
		for seed := range n {
			r := rand.New(rand.NewPCG(uint64(seed), uint64(k)))
			sizes, capacity, fewest := c.draw(r)
			e := &limit{left: 2_000_000}
			at := time.Now()
			got, least := Pack(e, sizes, capacity, 1)
			most = max(most, time.Since(at))
			steps += 2_000_000 - e.left
			if err := sound(sizes, capacity, got); err != nil {
				t.Fatalf("%s, seed %d: %v", c.name, seed, err)
			}
			proved += 1 - min(1, len(got)-least)
			gap += len(got) - least
			if fewest > 0 {
				over += len(got) - fewest
				if least > fewest || len(got) < fewest {
					t.Errorf("%s, seed %d: %d to %d bins; they were cut from %d", c.name, seed, least, len(got), fewest)
				}
			}
			if *survey == 0 && (len(got) > least+1 || !tight && len(got) > least) {
				t.Errorf("%s, seed %d: %d bins, at least %d", c.name, seed, len(got), least)
			}
		}
		if *survey > 0 {
			t.Logf("%-28s proved %3d of %d, gap %d, over what they were cut from %d; %7d steps, %5d ms, most %d ms", c.name, proved, n, gap, over,
				steps/int64(n), time.Since(all).Milliseconds()/int64(n), most.Milliseconds())
		}
	}
}

// sound tells whether each size is in one bin and none is over its capacity.
func sound(sizes []int64, capacity int64, bins [][]int) error {
	in := make([]int, len(sizes))
	for b, bin := range bins {
		var sum int64
		for _, i := range bin {
			in[i]++
			sum += sizes[i]
		}
		if sum > capacity || len(bin) == 0 {
			return fmt.Errorf("bin %d holds %d of %d", b, sum, capacity)
		}
	}
	for i, n := range in {
		if n != 1 {
			return fmt.Errorf("size %d is in %d bins", i, n)
		}
	}
	return nil
}

// fewestByAllWays tries every bin for every size.
func fewestByAllWays(sizes []int64, capacity int64) int {
	best := len(sizes)
	var loads []int64
	var put func(i int)
	put = func(i int) {
		if len(loads) >= best {
			return
		}
		if i == len(sizes) {
			best = len(loads)
			return
		}
		for b := range loads {
			if loads[b]+sizes[i] <= capacity {
				loads[b] += sizes[i]
				put(i + 1)
				loads[b] -= sizes[i]
			}
		}
		loads = append(loads, sizes[i])
		put(i + 1)
		loads = loads[:len(loads)-1]
	}
	put(0)
	return best
}

// Short lists against every way to pack them, bins alone and in groups.
func TestEveryWay(t *testing.T) {
	for seed := range uint64(3000) {
		r := rand.New(rand.NewPCG(seed, 41))
		capacity := 5 + r.Int64N(60)
		var sizes []int64
		for range 1 + r.IntN(10) {
			sizes = append(sizes, 1+r.Int64N(capacity))
		}
		want := fewestByAllWays(sizes, capacity)
		group := 1 + r.IntN(3)
		got, least := Pack(&limit{left: 1_000_000}, sizes, capacity, group)
		if err := sound(sizes, capacity, got); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		groups := func(bins int) int { return (bins + group - 1) / group }
		if groups(len(got)) != groups(want) || least > want || group == 1 && least != want {
			t.Fatalf("seed %d: %d bins, at least %d, in groups of %d; every way needs %d: %v in %d", seed, len(got), least, group, want, sizes, capacity)
		}
	}
}

type limit struct{ left int64 }

func (l *limit) Spend(n int64) bool { l.left -= n; return l.left > 0 }
func (l *limit) Ended() bool        { return false }
