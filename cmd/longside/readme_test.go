package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestREADME runs each command that the README tells to type in a checkout; what
// they write goes to a temporary folder. A command that the README says answers
// no may.
func TestREADME(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir("../..")
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	out := regexp.MustCompile(`(--out|-o) (\S+)`)
	n, dir := 0, t.TempDir()
	for line := range strings.Lines(string(text)) {
		args, ok := strings.CutPrefix(strings.TrimSpace(line), "go run ./cmd/longside ")
		if !ok {
			continue
		}
		n++
		line := strings.TrimSpace(args)
		args = out.ReplaceAllString(line, "$1 "+filepath.ToSlash(dir)+"/$2")
		// A plan that an earlier command wrote is read from where it went.
		for _, made := range []string{"night-ferry", "morning-watch"} {
			args = strings.ReplaceAll(args, " "+made+" ", " "+filepath.ToSlash(dir)+"/"+made+" ")
		}
		var said bytes.Buffer
		s := &streams{in: strings.NewReader(""), out: &said, err: &said, width: 80}
		want := exitDone
		if strings.Contains(line, "check") {
			want = exitNo // the README shows what a list that does not fit gets
		}
		if got := run(strings.Fields(args), s); got != want {
			t.Errorf("%s: exit status %d, want %d:\n%s", line, got, want, &said)
		}
	}
	if n < 2 {
		t.Errorf("the README holds %d commands, want the two of the main job at least", n)
	}
}
