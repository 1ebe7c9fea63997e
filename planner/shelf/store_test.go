package shelf

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofrs/flock"
)

// As a second program, the test's own binary puts tapes on a shelf or is held
// to a file size; see the tests that start it.
func TestMain(m *testing.M) {
	path, n := os.Getenv("LONGSIDE_TEST_SHELF"), os.Getenv("LONGSIDE_TEST_ADD")
	if path == "" {
		os.Exit(m.Run())
	}
	if err := limitFiles(os.Getenv("LONGSIDE_TEST_LIMIT")); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
	count, _ := strconv.Atoi(n)
	for i := range count {
		if err := add(Store{path}, fmt.Sprintf("%s %d", os.Getenv("LONGSIDE_TEST_NAME"), i)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
	os.Exit(0)
}

func add(s Store, label string) error {
	return s.Change(context.Background(), func(s *Shelf) error { return s.Add(Entry{Label: label, Name: "C60"}) })
}

func program(path, name string, n int, env ...string) *exec.Cmd {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), append(env, "LONGSIDE_TEST_SHELF="+path, "LONGSIDE_TEST_NAME="+name, "LONGSIDE_TEST_ADD="+strconv.Itoa(n))...)
	return c
}

// Two programs and two hands of this one write at once; every tape is there after.
func TestTwoWriters(t *testing.T) {
	s := Store{filepath.Join(t.TempDir(), "deep", "shelf.toml")}
	const each = 25
	var wg sync.WaitGroup
	for _, name := range []string{"port", "starboard"} {
		wg.Go(func() {
			if out, err := program(s.Path, name, each).CombinedOutput(); err != nil {
				t.Errorf("%s: %v: %s", name, err, out)
			}
		})
	}
	for _, name := range []string{"bow", "stern"} {
		wg.Go(func() {
			for i := range each {
				if err := add(s, fmt.Sprintf("%s %d", name, i)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	got, err := s.Read()
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Tapes) != 4*each {
		t.Errorf("%d tapes on the shelf, want %d", len(got.Tapes), 4*each)
	}
	onlyShelf(t, s)
}

// onlyShelf: the shelf and its lock are all that is in the folder.
func onlyShelf(t *testing.T, s Store) {
	t.Helper()
	names, err := os.ReadDir(filepath.Dir(s.Path))
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		if base := filepath.Base(s.Path); n.Name() != base && n.Name() != base+".lock" {
			t.Errorf("%s was left behind", n.Name())
		}
	}
}

// A disk that is full in the middle of writing: the old file stays whole. A
// limit on the size of files (setrlimit) fails the same write for everybody.
func TestFullDisk(t *testing.T) {
	s := Store{filepath.Join(t.TempDir(), "shelf.toml")}
	for i := range 20 {
		if err := add(s, fmt.Sprintf("tape %d", i)); err != nil {
			t.Fatal(err)
		}
	}
	before, err := os.ReadFile(s.Path)
	if err != nil {
		t.Fatal(err)
	}
	out, err := program(s.Path, "one too many", 1, "LONGSIDE_TEST_LIMIT="+strconv.Itoa(len(before)/2)).CombinedOutput()
	if err == nil {
		t.Fatal("written past the limit")
	}
	if strings.Contains(string(out), "no limit here") {
		t.Skip("this system cannot limit the size of a file")
	}
	if !strings.Contains(string(out), "cannot be written") || !strings.Contains(string(out), "as it was") {
		t.Errorf("it says %s", out)
	}
	after, err := os.ReadFile(s.Path)
	if err != nil || string(after) != string(before) {
		t.Errorf("the old file is not as it was: %v", err)
	}
	onlyShelf(t, s)
}

// A file that is damaged, newer, or none at all is never written over.
func TestRefusedFileStays(t *testing.T) {
	for what, text := range map[string]string{
		"damaged":        "format = 'longside shelf'\nversion = 1\n[[tape]\n",
		"newer":          "format = 'longside shelf'\nversion = 7\nshelves = 3\n",
		"something else": "dear diary",
		"two faults":     "format = 'longside shelf'\nversion = 1\n[[tape]]\nlabel = 'x'\nname = 'C9'\n[[tape]]\nlabel = 'y'\nname = 'C8'\n",
		"truncated":      "format = 'longside shelf'\nversion = 1\n[[tape]]\nlabel = 'x",
	} {
		s := Store{filepath.Join(t.TempDir(), "shelf.toml")}
		if err := os.WriteFile(s.Path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		err := add(s, "new")
		if err == nil {
			t.Errorf("%s: written over", what)
			continue
		}
		for line := range strings.Lines(err.Error()) {
			if !strings.HasPrefix(line, s.Path+": ") {
				t.Errorf("%s: %q does not begin with the file", what, line)
			}
		}
		if got, _ := os.ReadFile(s.Path); string(got) != text {
			t.Errorf("%s: the file is now %q", what, got)
		}
	}
}

func TestStore(t *testing.T) {
	dir := t.TempDir()
	s := Store{filepath.Join(dir, "shelf.toml")}
	if got, err := s.Read(); err != nil || len(got.Tapes) != 0 {
		t.Errorf("no file yet: %v, %v", got, err)
	}
	// A change that fails writes nothing.
	if err := s.Change(context.Background(), func(*Shelf) error { return fmt.Errorf("no") }); err == nil {
		t.Error("a failed change passed")
	}
	if _, err := os.Stat(s.Path); err == nil {
		t.Error("a failed change left a file")
	}
	// The file's own rights and a link to it are kept.
	if err := add(s, "one"); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(s.Path, 0o600); err != nil {
		t.Fatal(err)
	}
	link := Store{filepath.Join(dir, "link.toml")}
	if err := os.Symlink(s.Path, link.Path); err != nil {
		t.Skipf("no links here: %v", err)
	}
	if err := add(link, "two"); err != nil {
		t.Fatal(err)
	}
	if st, err := os.Lstat(link.Path); err != nil || st.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link was replaced: %v", err)
	}
	if got, err := s.Read(); err != nil || len(got.Tapes) != 2 {
		t.Errorf("through the link: %v, %v", got, err)
	}
	if st, err := os.Stat(s.Path); err != nil || st.Mode().Perm() != 0o600 {
		t.Errorf("rights are now %v, %v", st.Mode(), err)
	}
	if _, err := (Store{dir}).Read(); err == nil || !strings.Contains(err.Error(), "is no file") {
		t.Errorf("a folder: %v", err)
	}
}

// What a killed program left half-written is cleared away by the next change.
func TestKilledWriter(t *testing.T) {
	s := Store{filepath.Join(t.TempDir(), "shelf.toml")}
	if err := add(s, "one"); err != nil {
		t.Fatal(err)
	}
	half := filepath.Join(filepath.Dir(s.Path), ".longside-shelf-123")
	if err := os.WriteFile(half, []byte("format = 'longs"), 0o600); err != nil {
		t.Fatal(err)
	}
	// It may be another's that still writes; after some days it is nobody's.
	long := time.Now().Add(-72 * time.Hour)
	if err := os.Chtimes(half, long, long); err != nil {
		t.Fatal(err)
	}
	if err := add(s, "two"); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Read(); err != nil || len(got.Tapes) != 2 {
		t.Errorf("%v, %v", got, err)
	}
	onlyShelf(t, s)
}

// Two shelves in one folder do not disturb each other (issue 12: 146 of 400 adds
// failed, as each took away what the other was writing).
func TestTwoShelves(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for n := range 8 {
		s := Store{filepath.Join(dir, fmt.Sprint("shelf", n%2, ".toml"))}
		wg.Go(func() {
			for i := range 10 {
				if err := add(s, fmt.Sprint("tape ", n, " ", i)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	for n := range 2 {
		s := Store{filepath.Join(dir, fmt.Sprint("shelf", n, ".toml"))}
		if got, err := s.Read(); err != nil || len(got.Tapes) != 40 {
			t.Errorf("shelf %d holds %d tapes, want 40 (%v)", n, len(got.Tapes), err)
		}
	}
}

// A link that leads to nothing is no empty shelf: what it should lead to, a disk
// that is not there now perhaps, may be full of tapes.
func TestLinkToNothing(t *testing.T) {
	dir := t.TempDir()
	s := Store{filepath.Join(dir, "shelf.toml")}
	if err := os.Symlink(filepath.Join(dir, "elsewhere", "shelf.toml"), s.Path); err != nil {
		t.Skipf("no links here: %v", err)
	}
	if _, err := s.Read(); err == nil || !strings.Contains(err.Error(), "is a link to") {
		t.Errorf("read: %v", err)
	}
	if err := add(s, "one"); err == nil || !strings.Contains(err.Error(), "is a link to") {
		t.Errorf("changed: %v", err)
	}
	if st, err := os.Lstat(s.Path); err != nil || st.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is gone: %v", err)
	}
}

// A writer that is stopped while it waits for another says so and changes nothing.
func TestStoppedWhileWaiting(t *testing.T) {
	s := Store{filepath.Join(t.TempDir(), "shelf.toml")}
	if err := add(s, "one"); err != nil {
		t.Fatal(err)
	}
	lock := flock.New(s.Path + ".lock")
	if err := lock.Lock(); err != nil {
		t.Fatal(err)
	}
	defer lock.Close()
	ctx, stop := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer stop()
	err := s.Change(ctx, func(s *Shelf) error { return s.Add(Entry{Label: "two", Name: "C60"}) })
	if err == nil {
		t.Fatal("changed under another's lock")
	}
	if got, err := s.Read(); err != nil || len(got.Tapes) != 1 {
		t.Errorf("%v, %v", got, err)
	}
}

// Ten thousand tapes, one change: more than anybody owns.
func BenchmarkChange(b *testing.B) {
	s := Store{filepath.Join(b.TempDir(), "shelf.toml")}
	err := s.Change(context.Background(), func(s *Shelf) error {
		for i := range 10000 {
			s.Tapes = append(s.Tapes, Entry{Label: fmt.Sprintf("tape %d", i), Name: "C60"})
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		err := s.Change(context.Background(), func(s *Shelf) error { return s.Book("tape 7", "The Crossing", today, false) })
		if err != nil {
			b.Fatal(err)
		}
	}
}
