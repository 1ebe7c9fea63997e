package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/adrg/xdg"
	"github.com/mattn/go-runewidth"
	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	if os.Getenv("LONGSIDE_TEST_DEAF") != "" { // see TestSecondSignal
		ctx, _ := untilStopped()
		fmt.Print("1")
		<-ctx.Done()
		fmt.Print("2")
		select {}
	}
	testscript.Main(apart{m}, programs)
}

// programs are what the test's own binary is when it is called by these names.
var programs = map[string]func(){"longside": main}

// apart runs the tests with cache and data folders of their own: the person's
// are not to be touched. A script's own program keeps what the script sets.
type apart struct{ *testing.M }

func (a apart) Run() int {
	dir, err := os.MkdirTemp("", "longside-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	for _, v := range []string{"XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"} {
		os.Setenv(v, filepath.Join(dir, v))
	}
	xdg.Reload()
	return a.M.Run()
}

// TestScript runs testdata/script/*.txtar: whole commands as a person or a
// script would type them, each in a fresh folder. Besides testscript's own
// words (go doc github.com/rogpeppe/go-internal/testscript) there are:
//
//	exits STATUS COMMAND...     run it; the exit status is just this
//	faults N                    standard error is N lines, each a sentence of one fault
//	columns MAX FILE            no line of it is wider
//	plaintext FILE              no escape sequence or other control character in it
//	json FILE [PATH VALUE]...   it is one JSON value; the value at a.b.0.c is VALUE
//	nothingleft DIR             no half-written or temporary file in it
//	pdf FILE                    it begins and ends as a PDF does
//
// FILE may be stdout or stderr. $DEMO is testdata/night-ferry, $LIST the typed
// list and $MIX the mix file.
func TestScript(t *testing.T) {
	demo, err := filepath.Abs("../../testdata/night-ferry")
	if err != nil {
		t.Fatal(err)
	}
	scripts, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil || len(scripts) == 0 {
		t.Fatal("no script in testdata/script")
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		ContinueOnError:     true, // all faults of a script in one run
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", demo)
			e.Setenv("LIST", demo+".csv")
			e.Setenv("MIX", filepath.Join(filepath.Dir(demo), "morning-watch.toml"))
			// Everything that the program keeps for itself stays in the script's folder.
			e.Setenv("HOME", e.WorkDir)
			for _, v := range []string{"XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"} {
				e.Setenv(v, filepath.Join(e.WorkDir, ".xdg"))
			}
			e.Setenv("TERM", "xterm-256color")
			e.Setenv("NO_COLOR", "")
			return nil
		},
		Condition: func(c string) (bool, error) {
			if c == "root" {
				return os.Geteuid() == 0, nil // who may write anywhere
			}
			return false, fmt.Errorf("unknown condition %q", c)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":       wordExits,
			"faults":      wordFaults,
			"columns":     wordColumns,
			"plaintext":   wordPlaintext,
			"json":        wordJSON,
			"nothingleft": wordNothingLeft,
			"pdf":         wordPDF,
		},
	})
}

func want(ts *testscript.TestScript, neg bool, ok bool, usage string) {
	if neg || !ok {
		ts.Fatalf("usage: %s", usage)
	}
}

func wordExits(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args) >= 2, "exits STATUS COMMAND...")
	status, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var ee *exec.ExitError
		if !errors.As(err, &ee) {
			ts.Fatalf("%v", err)
		}
		got = ee.ExitCode()
	}
	if got != status {
		ts.Fatalf("exit status %d, want %d", got, status)
	}
}

func wordFaults(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args) == 1, "faults N")
	n, err := strconv.Atoi(args[0])
	ts.Check(err)
	text := ts.ReadFile("stderr")
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if text == "" {
		lines = nil
	}
	if len(lines) != n {
		ts.Fatalf("%d lines on standard error, want %d:\n%s", len(lines), n, text)
	}
	for _, l := range lines {
		said, ok := strings.CutPrefix(l, "longside: ")
		switch {
		case !ok:
			ts.Fatalf("%q does not say who speaks", l)
		case strings.HasSuffix(said, "."):
			ts.Fatalf("%q ends in a full stop", l)
		case strings.Contains(said, "panic") || strings.Contains(said, "goroutine"):
			ts.Fatalf("%q is no sentence for a person", l)
		}
	}
}

func wordColumns(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args) == 2, "columns MAX FILE")
	most, err := strconv.Atoi(args[0])
	ts.Check(err)
	for i, l := range strings.Split(colours.ReplaceAllString(ts.ReadFile(args[1]), ""), "\n") {
		if w := runewidth.StringWidth(l); w > most {
			ts.Fatalf("line %d is %d columns wide: %q", i+1, w, l)
		}
	}
}

// colours are the SGR sequences of ECMA-48, 8.3.117.
var colours = regexp.MustCompile("\x1b\\[[0-9;]*m")

func wordPlaintext(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args) == 1, "plaintext FILE")
	for i, l := range strings.Split(ts.ReadFile(args[0]), "\n") {
		for _, r := range l {
			if r < ' ' && r != '\t' || r == 0x7F {
				ts.Fatalf("line %d holds the control character %U: %q", i+1, r, l)
			}
		}
	}
}

func wordJSON(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args)%2 == 1, "json FILE [PATH VALUE]...")
	var v any
	if err := json.Unmarshal([]byte(ts.ReadFile(args[0])), &v); err != nil {
		ts.Fatalf("%s is no JSON: %v", args[0], err)
	}
	for i := 1; i < len(args); i += 2 {
		got, err := dig(v, args[i])
		ts.Check(err)
		if s := fmt.Sprint(got); s != args[i+1] {
			ts.Fatalf("%s is %s, want %s", args[i], s, args[i+1])
		}
	}
}

// dig follows a path like tapes.0.sides.1.side; a last word len is how many there are.
func dig(v any, path string) (any, error) {
	for _, word := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			got, ok := x[word]
			if !ok {
				return nil, fmt.Errorf("no %q in %s", word, path)
			}
			v = got
		case []any:
			if word == "len" {
				v = len(x)
				continue
			}
			i, err := strconv.Atoi(word)
			if err != nil || i < 0 || i >= len(x) {
				return nil, fmt.Errorf("no element %q of %d in %s", word, len(x), path)
			}
			v = x[i]
		default:
			return nil, fmt.Errorf("%q of %s is looked for in %v", word, path, v)
		}
	}
	return v, nil
}

func wordNothingLeft(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args) == 1, "nothingleft DIR")
	err := filepath.WalkDir(ts.MkAbs(args[0]), func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name := d.Name(); name == ".tmp" || name == ".xdg" {
			return fs.SkipDir
		} else if strings.HasPrefix(name, ".longside-") {
			return fmt.Errorf("%s was left behind", path)
		}
		if st, err := d.Info(); err == nil && st.Mode().IsRegular() && st.Size() == 0 {
			return fmt.Errorf("%s is empty", path)
		}
		return nil
	})
	ts.Check(err)
}

func wordPDF(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, len(args) == 1, "pdf FILE")
	// ISO 32000-1, 7.5.2 and 7.5.5: the header and the end-of-file marker.
	text := ts.ReadFile(args[0])
	if !strings.HasPrefix(text, "%PDF-1.") || !strings.HasSuffix(strings.TrimSpace(text), "%%EOF") {
		ts.Fatalf("%s is no whole PDF", args[0])
	}
}
