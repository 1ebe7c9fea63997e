package main

import (
	"os"
	"os/exec"
	"path"
	"slices"
	"strings"
	"testing"
)

// TestWhoMayImportWhom holds the house to its rule: fit, media, planner/tape
// and planner/paper know of nothing but themselves, planner stands on them, the
// card and the sheet stand on planner, and nothing imports a command. How text
// from elsewhere is told in one line, media/oneline, is for all; how files are
// written whole, media/stage, is for those that write.
func TestWhoMayImportWhom(t *testing.T) {
	// A room and what it may import besides its own subfolders.
	may := map[string][]string{
		"media/oneline": {}, // which every room may import
		"fit":           {},
		"media/stage":   {}, // which every room may import that writes files
		"media":         {"media/stage"},
		"planner/tape":  {},
		"planner/paper": {},
		"planner":       {"media", "fit", "planner/tape"},
		"planner/shelf": {"planner/tape", "media/stage"},
		"planner/inlay": {"planner", "planner/paper"},
		"planner/sheet": {"planner", "planner/paper"},
		// The page of a test: the findings, and the kit.
		"planner/report": {"planner", "planner/paper", "media"},
		"cmd/longside":   {"media", "fit", "planner"},
	}
	under := func(path, room string) bool { return path == room || strings.HasPrefix(path, room+"/") }
	// The room of a package is the longest name in the table that holds it.
	room := func(pkg string) string {
		best := ""
		for r := range may {
			if under(pkg, r) && len(r) > len(best) {
				best = r
			}
		}
		return best
	}
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "longside/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	seen := 0
	for line := range strings.Lines(string(out)) {
		f := strings.Fields(line)
		pkg := strings.TrimPrefix(f[0], "longside/")
		r := room(pkg)
		if r == "" {
			t.Errorf("%s is in no room of the house", pkg)
			continue
		}
		for _, imp := range f[1:] {
			dep, ours := strings.CutPrefix(imp, "longside/")
			if !ours {
				continue
			}
			seen++
			// planner/shelf is no subfolder that planner may use: it touches files.
			own := room(dep) == r
			if !own && dep != "media/oneline" && !slices.ContainsFunc(may[r], func(m string) bool {
				return dep == m || under(dep, m) && (m != "planner" || r == "cmd/longside")
			}) {
				t.Errorf("%s may not import %s", pkg, dep)
			}
		}
	}
	if seen < 5 {
		t.Errorf("only %d imports seen: the listing is not of this project", seen)
	}
}

// TestTopLevel: a stranger sees just the rooms.
func TestTopLevel(t *testing.T) {
	want := []string{"cmd", "planner", "media", "fit", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE"}
	out, err := exec.Command("git", "-C", "../..", "-c", "core.quotePath=false", "ls-files").Output()
	if err != nil {
		t.Skipf("not a git checkout: %v", err)
	}
	for line := range strings.Lines(string(out)) {
		top, _, _ := strings.Cut(strings.TrimSpace(line), "/")
		if !strings.HasPrefix(top, ".") && !slices.Contains(want, top) {
			t.Errorf("%s stands at the top level, which the design does not list", top)
		}
	}
	for _, w := range want {
		if _, err := os.Stat("../../" + w); err != nil {
			t.Errorf("%s is missing at the top level", w)
		}
	}
}

// TestPicturesInTestdata: what is drawn or recorded is kept in testdata folders, nowhere else.
func TestPicturesInTestdata(t *testing.T) {
	out, err := exec.Command("git", "-C", "../..", "-c", "core.quotePath=false", "ls-files").Output()
	if err != nil {
		t.Skipf("not a git checkout: %v", err)
	}
	for line := range strings.Lines(string(out)) {
		name := strings.TrimSpace(line)
		switch ending := strings.ToLower(path.Ext(name)); ending {
		case ".png", ".jpg", ".jpeg", ".pdf", ".svg", ".wav", ".mp3", ".flac":
			if !strings.Contains("/"+name, "/testdata/") {
				t.Errorf("%s is in no testdata folder", name)
			}
		}
	}
}
