//go:build unix

package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/gofrs/flock"
)

// place is somewhere that the program can wait, for long or for good.
type place struct {
	name string
	args []string
	// set puts the scene up in the folder where the program runs.
	set    func(t *testing.T, c *exec.Cmd)
	ends   bool // nobody is waited for here: the command ends by itself
	given  bool // what was asked for is given, whatever is waited for then
	status int  // of those two
}

// wav writes a sound file of silence that takes no room on the disk.
func wav(t *testing.T, path string, size uint32) {
	t.Helper()
	var b bytes.Buffer
	b.WriteString("RIFF")
	binary.Write(&b, binary.LittleEndian, size+36)
	b.WriteString("WAVEfmt ")
	binary.Write(&b, binary.LittleEndian, []uint32{16, 2<<16 | 1, 44100, 44100 * 4, 16<<16 | 4})
	b.WriteString("data")
	binary.Write(&b, binary.LittleEndian, size)
	put(t, path, b.String())
	if err := os.Truncate(path, int64(size)+44); err != nil {
		t.Fatal(err)
	}
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// held takes a lock for the time of the test.
func hold(t *testing.T, path string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	l := flock.New(path)
	if err := l.Lock(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
}

func pipe(t *testing.T, path string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(path, 0o644); err != nil {
		t.Fatal(err)
	}
}

// open gives a pipe whose other end nobody uses.
func open(t *testing.T, c *exec.Cmd, in, out, errs bool) {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	if in {
		c.Stdin = r
	}
	if out {
		c.Stdout = w
	}
	if errs {
		c.Stderr = w
	}
}

// longList is a typed list whose answer is more than a pipe holds.
func longList(t *testing.T, dir string) {
	put(t, filepath.Join(dir, "list.txt"), strings.Repeat("3:45  The Deckhands - Casting Off\n", 5000))
}

func fakeFFmpeg(script string) func(*testing.T, *exec.Cmd) {
	return func(t *testing.T, c *exec.Cmd) {
		data, err := os.ReadFile("../../media/scan/testdata/tiny/aac-tiny.m4a")
		if err != nil {
			t.Fatal(err)
		}
		put(t, filepath.Join(c.Dir, "x.m4a"), string(data))
		put(t, filepath.Join(c.Dir, "bin", "ffmpeg"), "#!/bin/sh\n"+script)
		if err := os.Chmod(filepath.Join(c.Dir, "bin", "ffmpeg"), 0o755); err != nil {
			t.Fatal(err)
		}
		c.Env = append(c.Env, "PATH="+filepath.Join(c.Dir, "bin")+":"+os.Getenv("PATH"))
	}
}

var places = []place{
	{name: "standard input", args: []string{"lengths", "-"}, set: func(t *testing.T, c *exec.Cmd) { open(t, c, true, false, false) }},
	{name: "standard input of a plan", args: []string{"plan", "-", "--tape", "C60", "--out", "out"}, set: func(t *testing.T, c *exec.Cmd) { open(t, c, true, false, false) }},
	{name: "standard output", args: []string{"lengths", "list.txt"}, set: func(t *testing.T, c *exec.Cmd) { longList(t, c.Dir); open(t, c, false, true, false) }},
	{name: "standard output as JSON", args: []string{"lengths", "list.txt", "--json"}, set: func(t *testing.T, c *exec.Cmd) { longList(t, c.Dir); open(t, c, false, true, false) }},
	{name: "both outputs", args: []string{"lengths", "list.txt"}, set: func(t *testing.T, c *exec.Cmd) { longList(t, c.Dir); open(t, c, false, true, true) }},
	{name: "the cache's lock", given: true, args: []string{"lengths", "x.wav"}, set: func(t *testing.T, c *exec.Cmd) {
		wav(t, filepath.Join(c.Dir, "x.wav"), 44100*4*10)
		long := time.Now().Add(-time.Hour)
		os.Chtimes(filepath.Join(c.Dir, "x.wav"), long, long)
		hold(t, filepath.Join(c.Dir, "xdg", "longside", "learnt.lock"))
	}},
	{name: "a pipe as the cache's lock", args: []string{"lengths", "x.wav"}, ends: true, set: func(t *testing.T, c *exec.Cmd) {
		wav(t, filepath.Join(c.Dir, "x.wav"), 44100*4*10)
		long := time.Now().Add(-time.Hour)
		os.Chtimes(filepath.Join(c.Dir, "x.wav"), long, long)
		pipe(t, filepath.Join(c.Dir, "xdg", "longside", "learnt.lock"))
	}},
	{name: "a pipe as the cache", args: []string{"lengths", "x.wav"}, ends: true, set: func(t *testing.T, c *exec.Cmd) {
		wav(t, filepath.Join(c.Dir, "x.wav"), 44100*4*10)
		pipe(t, filepath.Join(c.Dir, "xdg", "longside", "learnt"))
	}},
	{name: "the shelf's lock", args: []string{"shelf", "add", "Mole 1", "--tape", "C60"}, set: func(t *testing.T, c *exec.Cmd) {
		hold(t, filepath.Join(c.Dir, "xdg", "longside", "shelf.toml.lock"))
	}},
	{name: "a pipe as the shelf's lock", args: []string{"shelf", "add", "Mole 1", "--tape", "C60"}, ends: true, status: exitWrong, set: func(t *testing.T, c *exec.Cmd) {
		pipe(t, filepath.Join(c.Dir, "xdg", "longside", "shelf.toml.lock"))
	}},
	{name: "a pipe as the shelf", args: []string{"shelf"}, ends: true, status: exitWrong, set: func(t *testing.T, c *exec.Cmd) {
		pipe(t, filepath.Join(c.Dir, "xdg", "longside", "shelf.toml"))
	}},
	{name: "a pipe as a plan", args: []string{"sheet", "plan.json", "-o", "-"}, ends: true, status: exitWrong, set: func(t *testing.T, c *exec.Cmd) { pipe(t, filepath.Join(c.Dir, "plan.json")) }},
	{name: "a pipe as a track", args: []string{"lengths", "x.mp3"}, ends: true, status: exitWrong, set: func(t *testing.T, c *exec.Cmd) { pipe(t, filepath.Join(c.Dir, "x.mp3")) }},
	{name: "a pipe in the place of a sheet", args: []string{"tape", "C90", "-o", "x.svg", "--force"}, ends: true, status: exitWrong, set: func(t *testing.T, c *exec.Cmd) { pipe(t, filepath.Join(c.Dir, "x.svg")) }},
	{name: "ffmpeg", args: []string{"levels", "x.m4a"}, set: fakeFFmpeg("exec sleep 60\n")},
	{name: "ffmpeg that has a child", args: []string{"levels", "x.m4a"}, set: fakeFFmpeg("sleep 60\n:\n")},
	{name: "listening", args: []string{"levels", "x.wav"}, set: func(t *testing.T, c *exec.Cmd) { wav(t, filepath.Join(c.Dir, "x.wav"), 4<<30-100) }},
	{name: "the fit", args: []string{"plan", "list.txt", "--tape", "C60,C90,C120", "--tapes", "9", "--order", "free", "--out", "out"}, set: func(t *testing.T, c *exec.Cmd) {
		var b strings.Builder
		for i := range 3000 {
			fmt.Fprintf(&b, "%d:%02d  Artist %d - Title %d\n", 2+i*7%5, i*13%60, i%40, i)
		}
		put(t, filepath.Join(c.Dir, "list.txt"), b.String())
	}},
}

// TestStopped: wherever the program waits, the first Ctrl-C, SIGTERM or hang-up
// ends it soon, with status 2 and nothing half-written.
func TestStopped(t *testing.T) {
	if _, err := exec.LookPath("longside"); err != nil {
		t.Fatal(err)
	}
	// More than any of it takes; the machine may be busy.
	const soon, ready = 10 * time.Second, 700 * time.Millisecond
	signals := []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}
	for i, p := range places {
		t.Run(p.name, func(t *testing.T) {
			t.Parallel()
			c := exec.Command("longside", p.args...)
			c.Dir = t.TempDir()
			c.Env = append(os.Environ(), "XDG_CACHE_HOME="+filepath.Join(c.Dir, "xdg"), "XDG_DATA_HOME="+filepath.Join(c.Dir, "xdg"))
			var out, said safeBuffer
			c.Stdout, c.Stderr = &out, &said
			p.set(t, c)
			before := listing(t, c.Dir)
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			// A program that outlives all this is ended, and so is what it started.
			c.WaitDelay = time.Second
			over := make(chan error, 1)
			go func() { over <- c.Wait() }()
			var early bool
			select {
			case <-over:
				early = true
			case <-time.After(ready):
			}
			begun := time.Now()
			if !early && !p.ends {
				if err := c.Process.Signal(signals[i%len(signals)]); err != nil {
					t.Fatal(err)
				}
			}
			if !early {
				select {
				case <-over:
				case <-time.After(soon):
					c.Process.Kill()
					t.Fatalf("still there after %v; it said %q", soon, said.String())
				}
			}
			if early && !p.ends {
				t.Skipf("it had ended before it could be stopped: %s%s", out.String(), said.String())
			}
			want := p.status
			if !p.ends && !p.given {
				want = exitWrong
				if c.Stderr == io.Writer(&said) && !strings.Contains(said.String(), "stopped; nothing was written") {
					t.Errorf("it said %q", said.String())
				}
			}
			if got := c.ProcessState.ExitCode(); got != want {
				t.Errorf("status %d, want %d; it said %q", got, want, said.String())
			}
			if p.ends && p.status == exitWrong && !strings.Contains(said.String(), "pipe") && !strings.Contains(said.String(), "file") {
				t.Errorf("it does not say what is wrong: %q", said.String())
			}
			if after := listing(t, c.Dir); after != before {
				t.Errorf("the folder held\n%s\nand holds\n%s", before, after)
			}
			t.Logf("ended %v after the signal", time.Since(begun).Round(time.Millisecond))
		})
	}
}

// listing is what lies in a folder, the program's own cache and locks aside.
func listing(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && d.Name() != "xdg" && d.Name() != "longside" && d.Name() != "learnt" && !strings.HasSuffix(path, ".lock") {
			fmt.Fprintln(&b, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// safeBuffer may be read while a process still writes into it.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// TestSecondSignal: a program that hears nothing of the first is ended by the second.
func TestSecondSignal(t *testing.T) {
	for _, s := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP} {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), "LONGSIDE_TEST_DEAF=1")
		r, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		line := make([]byte, 1)
		if _, err := io.ReadFull(r, line); err != nil { // it hears signals now
			t.Fatal(err)
		}
		over := make(chan error, 1)
		c.Process.Signal(s)
		if _, err := io.ReadFull(r, line); err != nil { // the first was heard
			t.Fatalf("%v ended it at once: %v", s, err)
		}
		go func() { over <- c.Wait() }()
		c.Process.Signal(s)
		select {
		case <-over:
			if got := c.ProcessState.ExitCode(); got != exitWrong {
				t.Errorf("%v: status %d", s, got)
			}
		case <-time.After(10 * time.Second):
			c.Process.Kill()
			t.Errorf("%v: the second does not end it", s)
		}
	}
}

// TestKilledByChance kills the program at any moment of a plan that is written
// over another. The next run into the folder finds, or makes, all files of the
// one or all of the other.
func TestKilledByChance(t *testing.T) {
	kills := 8
	if n, err := strconv.Atoi(os.Getenv("LONGSIDE_TEST_KILLS")); err == nil {
		kills = n
	}
	t.Parallel()
	dir := t.TempDir()
	put(t, filepath.Join(dir, "list.txt"), strings.Repeat("3:45  The Deckhands - Casting Off\n", 9)+"2:10  Ada Skerrow - Fog\n")
	run := func(out, title string, more ...string) *exec.Cmd {
		c := exec.Command("longside", append([]string{"plan", "list.txt", "--tape", "C60", "--title", title, "--out", out}, more...)...)
		c.Dir = dir
		return c
	}
	names := []string{planName, cardName, sheetName, sheetTxtName}
	read := func(out string) (all string) {
		for _, n := range names {
			b, err := os.ReadFile(filepath.Join(dir, out, n))
			if err != nil {
				return "missing: " + n
			}
			all += string(b)
		}
		return all
	}
	set := map[string]string{}
	var took time.Duration
	for _, title := range []string{"Crossing", "Return"} {
		begun := time.Now()
		if b, err := run(title, title).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, b)
		}
		took = time.Since(begun)
		set[title] = read(title)
	}
	if b, err := run("out", "Crossing").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	now, half, ordered, swapped, late := "Crossing", 0, 0, 0, 0
	rng := rand.New(rand.NewPCG(12, 2))
	for n := range kills {
		next := map[string]string{"Crossing": "Return", "Return": "Crossing"}[now]
		c := run("out", next, "--force")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		if n%2 == 0 {
			time.Sleep(time.Duration((0.5 + 0.6*rng.Float64()) * float64(took)))
		} else {
			// As soon as a journal is seen: the moment that chance seldom finds.
			for end := time.Now().Add(5 * time.Second); time.Now().Before(end); {
				if l, _ := filepath.Glob(filepath.Join(dir, "out", ".longside-*"+[]string{".on", ".back", ".old"}[n/2%3])); len(l) > 0 {
					break
				}
			}
		}
		if c.Process.Kill() != nil {
			late++
		}
		c.Wait()
		if got := read("out"); got != set["Crossing"] && got != set["Return"] {
			half++
			if strings.HasPrefix(got, "missing") {
				t.Errorf("kill %d: %s", n, got)
			}
		}
		// Without --force it writes nothing; but the folder is put in order.
		b, err := run("out", "Other").CombinedOutput()
		if err == nil || !strings.Contains(string(b), "exists already") {
			t.Fatalf("%v\n%s", err, b)
		}
		if strings.Contains(string(b), "a run before this one was killed") {
			ordered++
		}
		switch read("out") {
		case set[now]:
		case set[next]:
			now = next
			swapped++
		default:
			t.Fatalf("kill %d: the files are of two plans", n)
		}
	}
	t.Logf("%d kills: %d between two files, %d with a journal for the next run, %d new plans whole, %d too late", kills, half, ordered, swapped, late)
	old := time.Now().Add(-time.Hour)
	filepath.WalkDir(filepath.Join(dir, "out"), func(path string, d os.DirEntry, err error) error {
		return os.Chtimes(path, old, old)
	})
	run("out", "Other").Run()
	if l, err := filepath.Glob(filepath.Join(dir, "out", ".longside-*")); err != nil || len(l) > 0 {
		t.Errorf("left over: %v", l)
	}
}
