package inlay_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"

	"longside/planner"
	"longside/planner/inlay"
	"longside/planner/paper"
	"longside/planner/sheet"
	"longside/testdata/ferryplan"
)

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	f, err := paper.NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	put := func(name string, p planner.Plan, o inlay.Options) {
		d, notes, err := inlay.Draw(p, o, f)
		if err != nil {
			t.Fatal(err)
		}
		t.Log(name, len(d.Pages), notes)
		b, err := d.PDF()
		if err != nil {
			t.Fatal(err)
		}
		os.WriteFile(filepath.Join(dir, name+".pdf"), b, 0o644)
		for i := range d.Pages {
			b, _ = d.PNG(i, 150)
			os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, i)), b, 0o644)
		}
	}
	plan := func(n int) planner.Plan {
		k := ferryplan.C60
		if n == 36 {
			k = ferryplan.C90
		}
		if n == 60 {
			k = ferryplan.C120
		}
		return ferryplan.Plan(ferryplan.Tape(k, n/2, n/2))
	}
	for _, n := range []int{6, 8, 20, 36, 60} {
		for _, design := range inlay.Designs {
			put(fmt.Sprintf("%s%d", design, n), plan(n), inlay.Options{Design: design, Ink: "kelp", Stock: "chart"})
		}
	}
	put("duplex20", plan(20), inlay.Options{Duplex: true, Ink: "rust", Stock: "dawn"})
	put("duplex60", plan(60), inlay.Options{Duplex: true, Page: "Letter"})
	put("letter60", plan(60), inlay.Options{Page: "Letter", Stock: "fog"})
	put("labels", plan(20), inlay.Options{Parts: []string{"labels", "spine"}})
	put("set3", ferryplan.Plan(ferryplan.Tape(ferryplan.C60, 3, 3), ferryplan.Tape(ferryplan.C60, 3, 3), ferryplan.Tape(ferryplan.C60, 3, 3)), inlay.Options{})
	long := plan(60)
	n := 0
	for i := range long.Tapes[0].Sides {
		for j := range long.Tapes[0].Sides[i].Tracks {
			long.Tapes[0].Sides[i].Tracks[j].Title = ferryplan.Long(n)
			n++
		}
	}
	put("long60", long, inlay.Options{})
	s, notes, err := sheet.Draw(plan(20), sheet.Options{}, f)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(n, notes)
	b, _ := s.PDF()
	os.WriteFile(filepath.Join(dir, fmt.Sprintf("s%d.pdf", n)), b, 0o644)
}
