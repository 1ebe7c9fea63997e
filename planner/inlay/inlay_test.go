package inlay

import (
	"strings"
	"testing"

	"longside/planner"
)

// Files that were left aside are told of beside the card, too.
func TestSkippedIsSaid(t *testing.T) {
	p := of(8)
	p.Skipped = []planner.Skipped{{Path: "a.mp3", Why: "a text file"}, {Path: "b.mp3", Why: "empty"}}
	d, _, err := Draw(p, Options{}, testFonts(t))
	if err != nil {
		t.Fatal(err)
	}
	said := false
	for _, b := range d.Pages[0].Texts() {
		said = said || strings.Contains(b.Text, "2 unreadable files")
	}
	if !said {
		t.Error("the card's page does not say that two files were left aside")
	}
}
