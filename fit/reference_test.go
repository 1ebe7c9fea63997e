package fit

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"longside/testdata/reftool"
)

// model writes a problem of one tape, with the same gap after each piece and
// no rules, as an integer program in LP format: x1_3 is 1 when piece 3 is on
// side 1, u1 when side 1 is in use. Kept time, or with MostSongs a large
// number a piece beside it, is maximized.
func model(p Problem) []byte {
	var b bytes.Buffer
	gap := p.Pieces[0].Gap
	sides := p.Kinds[0].Sides
	prize := Millis(0)
	if p.Aim == MostSongs {
		for _, q := range p.Pieces {
			prize += q.Length
		}
	}
	fmt.Fprint(&b, "Maximize\n kept:")
	for s := range sides {
		for i, q := range p.Pieces {
			fmt.Fprintf(&b, " + %d x%d_%d", q.Length+prize, s, i)
		}
	}
	fmt.Fprint(&b, "\nSubject To\n")
	for s, side := range sides {
		fmt.Fprintf(&b, " side%d:", s)
		for i, q := range p.Pieces {
			fmt.Fprintf(&b, " + %d x%d_%d", q.Length+gap, s, i)
		}
		fmt.Fprintf(&b, " - %d u%d <= %d\n", gap, s, side.Capacity)
		fmt.Fprintf(&b, " used%d: u%d", s, s) // the gap is given back by a piece that is there
		for i := range p.Pieces {
			fmt.Fprintf(&b, " - x%d_%d", s, i)
		}
		fmt.Fprint(&b, " <= 0\n")
	}
	for i := range p.Pieces {
		fmt.Fprintf(&b, " once%d:", i)
		for s := range sides {
			fmt.Fprintf(&b, " + x%d_%d", s, i)
		}
		fmt.Fprint(&b, " <= 1\n")
	}
	if p.Order == Keep { // a piece on side 1 bars all before it from side 2, and so on
		for s := range sides {
			for z := range s {
				for i := range p.Pieces {
					for j := range i {
						fmt.Fprintf(&b, " o%d_%d_%d_%d: x%d_%d + x%d_%d <= 1\n", s, z, i, j, s, j, z, i)
					}
				}
			}
		}
	}
	fmt.Fprint(&b, "Binary\n")
	for s := range sides {
		fmt.Fprintf(&b, " u%d\n", s)
		for i := range p.Pieces {
			fmt.Fprintf(&b, " x%d_%d\n", s, i)
		}
	}
	fmt.Fprint(&b, "End\n")
	return b.Bytes()
}

// A general integer-programming solver keeps as much. Lengths are whole tens of
// seconds, so that it finishes.
func TestGeneralSolver(t *testing.T) {
	glpsol := reftool.Need(t, "glpsol")
	dir := t.TempDir()
	objective := regexp.MustCompile(`Objective:\s+kept = (\d+)`)
	finished := 0
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 20))
		p := Problem{Order: []Order{Keep, Free}[seed%2], Aim: Aim(seed / 2 % 2), Spare: Spare(r.IntN(3))}
		total := Millis(0)
		for range 12 + r.IntN(7) {
			q := Piece{Length: Millis(6 + r.IntN(30)), Gap: Millis(seed % 3)}
			total += q.Length + q.Gap
			p.Pieces = append(p.Pieces, q)
		}
		p.Kinds = []Kind{{Sides: []Side{{Capacity: total * 2 / 5}, {Capacity: total / 3}}}}
		if seed >= 16 { // the given order, on four sides
			p.Order = Keep
			p.Kinds[0].Sides = slices.Repeat([]Side{{Capacity: total / 6}, {Capacity: total / 5}}, 2)
		}
		in, out := filepath.Join(dir, "m.lp"), filepath.Join(dir, "m.sol")
		if err := os.WriteFile(in, model(p), 0o600); err != nil {
			t.Fatal(err)
		}
		if log, err := exec.Command(glpsol, "--lp", in, "--tmlim", "2", "-o", out).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, log)
		}
		text, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(text, []byte("INTEGER OPTIMAL")) {
			t.Logf("seed %d: the general solver does not finish in 2 s", seed)
			continue
		}
		finished++
		want, _ := strconv.Atoi(string(objective.FindSubmatch(text)[1]))
		a, err := Solve(context.Background(), p)
		if err != nil || p.Check(a) != nil {
			t.Fatalf("seed %d: %v %v", seed, err, p.Check(a))
		}
		got := a.Score.Wanted.Time
		if p.Aim == MostSongs {
			got += Millis(a.Score.Wanted.Songs) * p.wanted().Time
		}
		if int(got) != want || !a.Proved {
			t.Errorf("seed %d: %d kept, proved %v; the general solver keeps %d", seed, got, a.Proved, want)
		}
	}
	if finished < 10 {
		t.Errorf("the general solver finished %d of 20: too few to compare with", finished)
	}
}
