package stage

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// faulty is a disk on which the run is killed, or a step fails, at a step that
// can be chosen. After a kill it does nothing more, as a dead program does not.
type faulty struct {
	osDisk
	at      int  // the step, from 1; 0: none
	kill    bool // killed before it; else it fails
	torn    bool // killed in the middle of it
	forever bool // all steps after it fail, too
	noLinks bool // a disk on which a file has one name

	steps int
	dead  bool
	locks []func()
}

var errFault = errors.New("the disk has a fault")

// step tells whether a step may be done.
func (d *faulty) step() error {
	if d.dead {
		return errFault
	}
	d.steps++
	if d.at == 0 || d.steps < d.at || d.steps > d.at && !d.forever {
		return nil
	}
	if d.kill {
		d.die()
	}
	return errFault
}

func (d *faulty) die() {
	d.dead = true
	for _, free := range d.locks {
		free()
	}
}

func (d *faulty) create(name string, mode fs.FileMode) (*os.File, error) {
	if err := d.step(); err != nil {
		return nil, err
	}
	return d.osDisk.create(name, mode)
}

func (d *faulty) fill(f *os.File, with func(*os.File) error) error {
	err := d.step()
	if err == nil || d.kill && d.torn && d.steps == d.at {
		if ferr := with(f); ferr != nil {
			return ferr
		}
	}
	if err != nil && d.torn {
		if st, serr := f.Stat(); serr == nil {
			f.Truncate(st.Size() / 2)
		}
	}
	return err
}

func (d *faulty) write(name string, data []byte) error {
	if err := d.step(); err != nil {
		if d.torn && d.steps == d.at {
			os.WriteFile(name, data[:len(data)/2], 0o600)
		}
		return err
	}
	return os.WriteFile(name, data, 0o600)
}

func (d *faulty) sync(f *os.File) error {
	if err := d.step(); err != nil {
		return err
	}
	return nil // the tests' own disk need not turn
}

func (d *faulty) syncFolder(string) {}

func (d *faulty) chmod(name string, mode fs.FileMode) error {
	if err := d.step(); err != nil {
		return err
	}
	return d.osDisk.chmod(name, mode)
}

func (d *faulty) link(old, name string) error {
	if err := d.step(); err != nil {
		return err
	}
	if d.noLinks {
		return errors.ErrUnsupported
	}
	return d.osDisk.link(old, name)
}

func (d *faulty) rename(old, name string) error {
	if err := d.step(); err != nil {
		return err
	}
	return d.osDisk.rename(old, name)
}

func (d *faulty) remove(name string) error {
	if err := d.step(); err != nil {
		return err
	}
	return d.osDisk.remove(name)
}

func (d *faulty) mkdir(name string) error {
	if err := d.step(); err != nil {
		return err
	}
	return d.osDisk.mkdir(name)
}

func (d *faulty) lock(name string) (func(), bool) {
	if d.dead {
		return func() {}, false
	}
	free, held := d.osDisk.lock(name)
	if free != nil {
		free = sync.OnceFunc(free)
		d.locks = append(d.locks, free)
	}
	return free, held
}

// scene is a folder before a run into it.
type scene struct {
	old     []string // contents of the files to be written; "-": not there
	noLinks bool
}

func (s scene) files(what string) []File {
	var fs []File
	for i := range s.old {
		fs = append(fs, Bytes(fmt.Sprint("file", i), []byte(what+fmt.Sprint(i, strings.Repeat("x", 50)))))
	}
	return fs
}

func (s scene) set(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for i, old := range s.old {
		if old != "-" {
			put(t, filepath.Join(dir, fmt.Sprint("file", i)), old)
		}
	}
	put(t, filepath.Join(dir, "mine.txt"), "my own notes")
	return dir
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o640); err != nil {
		t.Fatal(err)
	}
}

// run writes the scene's files into a folder.
func (s scene) run(dir string, d *faulty, what string, now time.Time) error {
	d.noLinks = s.noLinks
	w := &writer{disk: d, now: now}
	var files []File
	for _, f := range s.files(what) {
		files = append(files, File{filepath.Join(dir, f.Path), f.Fill})
	}
	return w.write(context.Background(), files, Options{Force: true})
}

// holds reads what is in the folder: old, new, none, mixed or torn.
func (s scene) holds(t *testing.T, dir string, newer ...string) string {
	t.Helper()
	states := map[string]bool{}
	for i, old := range s.old {
		b, err := os.ReadFile(filepath.Join(dir, fmt.Sprint("file", i)))
		state := "torn"
		switch {
		case err != nil && old == "-":
			state = "old"
		case err != nil:
			state = "none"
		case string(b) == old:
			state = "old"
		}
		for _, what := range newer {
			if err == nil && string(b) == what+fmt.Sprint(i, strings.Repeat("x", 50)) {
				state = what
			}
		}
		states[state] = true
	}
	if b, err := os.ReadFile(filepath.Join(dir, "mine.txt")); err != nil || string(b) != "my own notes" {
		t.Errorf("another file of the folder is lost")
	}
	var all []string
	for st := range states {
		all = append(all, st)
	}
	slices.Sort(all)
	return strings.Join(all, "+")
}

func leftovers(t *testing.T, dir string) (list []string) {
	t.Helper()
	names, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		if strings.HasPrefix(n.Name(), prefix) {
			list = append(list, n.Name())
		}
	}
	return list
}

var scenes = []scene{
	{old: []string{"one"}},
	{old: []string{"-"}},
	{old: []string{"one", "two", "three"}},
	{old: []string{"-", "-", "-"}},
	{old: []string{"one", "-", "three"}},
	{old: []string{"one", "two", "three"}, noLinks: true},
	{old: []string{"-", "two", "-"}, noLinks: true},
}

// TestKilled: a run is killed before, and in the middle of, each step; then the
// run that finds it is killed at each of its own. What stands in the folder is
// never half a file, and after a last run all of it is old, or all new.
func TestKilled(t *testing.T) {
	later := time.Now().Add(time.Hour)
	kills := 0
	for _, s := range scenes {
		for at := 1; ; at++ {
			end := false
			for _, torn := range []bool{false, true} {
				dir := s.set(t)
				d := &faulty{at: at, kill: true, torn: torn}
				s.run(dir, d, "new", time.Now())
				if end = !d.dead; end {
					if got := s.holds(t, dir, "new"); got != "new" {
						t.Errorf("%v: after a whole run: %s", s, got)
					}
					break
				}
				kills++
				what := fmt.Sprintf("%v killed at step %d (torn %v)", s, at, torn)
				got := s.holds(t, dir, "new")
				if strings.Contains(got, "torn") || strings.Contains(got, "none") && !s.noLinks {
					t.Errorf("%s: %s", what, got)
				}
				// The next run is killed, too, at each of its steps, from the same start.
				for again := 1; !torn; again++ {
					copied := copyOf(t, dir)
					e := &faulty{at: again, kill: true, noLinks: s.noLinks}
					(&writer{disk: e, now: later}).tidy(copied, nil)
					if !e.dead {
						break
					}
					kills++
					if got := s.holds(t, copied, "new"); strings.Contains(got, "torn") || strings.Contains(got, "none") && !s.noLinks {
						t.Errorf("%s, again at %d: %s", what, again, got)
					}
					(&writer{disk: &faulty{}, now: later}).tidy(copied, nil)
					s.whole(t, copied, what+fmt.Sprintf(", again at %d", again))
				}
				// The next run asks first, and finds all in order.
				asked := copyOf(t, dir)
				(&writer{disk: &faulty{}, now: later}).tidy(asked, nil)
				s.whole(t, asked, what)
				// The next run writes over it.
				if err := s.run(dir, &faulty{}, "newer", later); err != nil {
					t.Errorf("%s: the next run: %v", what, err)
				}
				if got := s.holds(t, dir, "new", "newer"); got != "newer" {
					t.Errorf("%s: the next run leaves %s", what, got)
				}
				if l := leftovers(t, dir); len(l) > 0 {
					t.Errorf("%s: the next run leaves %v", what, l)
				}
			}
			if end {
				break
			}
		}
	}
	t.Logf("%d kills", kills)
	if kills < 500 {
		t.Errorf("only %d kills: the steps are not all tried", kills)
	}
}

// whole: all old or all new, and nothing left over.
func (s scene) whole(t *testing.T, dir, what string) {
	t.Helper()
	if got := s.holds(t, dir, "new"); got != "old" && got != "new" {
		t.Errorf("%s: after the next run: %s", what, got)
	}
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("%s: left over: %v", what, l)
	}
}

// copyOf copies a folder with its times and its second names.
func copyOf(t *testing.T, dir string) string {
	t.Helper()
	to := t.TempDir()
	names, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]fs.FileInfo{}
	for _, n := range names {
		st, err := n.Info()
		if err != nil {
			t.Fatal(err)
		}
		twin := ""
		for other, o := range seen {
			if os.SameFile(o, st) {
				twin = other
			}
		}
		seen[n.Name()] = st
		if twin != "" {
			err = os.Link(filepath.Join(to, twin), filepath.Join(to, n.Name()))
		} else {
			var b []byte
			if b, err = os.ReadFile(filepath.Join(dir, n.Name())); err == nil {
				put(t, filepath.Join(to, n.Name()), string(b))
				err = os.Chtimes(filepath.Join(to, n.Name()), st.ModTime(), st.ModTime())
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return to
}

// TestFaults: each step fails, once or from then on. The error is told, and says
// what is so: where it says that the old files are as they were, they are.
func TestFaults(t *testing.T) {
	// A file that could not be removed loses the lock beside it: the longest wait.
	later := time.Now().Add(2 * longStill)
	faults, told := 0, 0
	for _, s := range scenes {
		for _, forever := range []bool{false, true} {
			for at := 1; ; at++ {
				dir := s.set(t)
				d := &faulty{at: at, forever: forever}
				err := s.run(dir, d, "new", time.Now())
				if d.steps < at {
					break
				}
				faults++
				what := fmt.Sprintf("%v, fault at step %d (forever %v)", s, at, forever)
				got := s.holds(t, dir, "new")
				switch {
				case err == nil && got != "new":
					t.Errorf("%s: no error, and the folder holds %s", what, got)
				case err == nil:
				default:
					told++
					if strings.Contains(err.Error(), "\n") || !strings.Contains(err.Error(), "file") {
						t.Errorf("%s: error %q", what, err)
					}
					inOrder := !strings.Contains(err.Error(), "next run")
					if inOrder && got != "old" {
						t.Errorf("%s: %v, and the folder holds %s", what, err, got)
					}
					if !forever && !inOrder {
						t.Errorf("%s: one fault is too much: %v", what, err)
					}
				}
				(&writer{disk: &faulty{}, now: later}).tidy(dir, nil)
				if err != nil {
					s.whole(t, dir, what)
				} else if l := leftovers(t, dir); len(l) > 0 {
					t.Errorf("%s: left over: %v", what, l)
				}
			}
		}
	}
	t.Logf("%d faults, %d told", faults, told)
}

// TestFound: what is done about a killed run is told; files that the person has
// changed since are not touched.
func TestFound(t *testing.T) {
	s := scene{old: []string{"one", "two", "three"}}
	// The step at which the first file is in its place and the others are not.
	half := 0
	for at := 1; half == 0 && at < 100; at++ {
		dir := s.set(t)
		s.run(dir, &faulty{at: at, kill: true}, "new", time.Now())
		if s.holds(t, dir, "new") == "new+old" {
			half = at
		}
	}
	for _, c := range []struct {
		change func(dir string)
		holds  string
		says   string
	}{
		{func(string) {}, "new", "file0, file1, file2: that is finished now"},
		{func(dir string) { put(t, filepath.Join(dir, "file2"), "edited") }, "old+torn", "the old files are back"},
		{func(dir string) { put(t, filepath.Join(dir, "file0"), "edited") }, "new+torn", "finished now"},
		{func(dir string) { os.Remove(filepath.Join(dir, "file2")) }, "new", "finished now"},
	} {
		dir := s.set(t)
		s.run(dir, &faulty{at: half, kill: true}, "new", time.Now())
		c.change(dir)
		var says string
		(&writer{disk: &faulty{}, now: time.Now()}).tidy(dir, func(s string) { says = s })
		if got := s.holds(t, dir, "new"); got != c.holds || !strings.Contains(says, c.says) {
			t.Errorf("holds %s (want %s), says %q", got, c.holds, says)
		}
		if l := leftovers(t, dir); len(l) > 0 {
			t.Errorf("left over: %v", l)
		}
	}
}

// TestSweeping: only what is of this package, of no living run and old enough is swept.
func TestSweeping(t *testing.T) {
	dir := t.TempDir()
	old := time.Now().Add(-48 * time.Hour)
	young := time.Now()
	live := filepath.Join(dir, ".longside-0123456789ab.lock")
	for name, c := range map[string]struct {
		at   time.Time
		gone bool
	}{
		".longside-aaaaaaaaaaaa-0.new":     {old, true},
		".longside-aaaaaaaaaaaa.lock":      {old, true},
		".longside-bbbbbbbbbbbb-0.new":     {young, false},
		".longside-bbbbbbbbbbbb-1.old":     {old, false}, // of the same run
		".longside-0123456789ab.lock":      {old, false},
		".longside-0123456789ab-0.new":     {old, false},
		".longside-cccccccccccc-0.new":     {time.Now().Add(-time.Hour), false}, // no lock tells
		".longside-4711-0":                 {old, true},
		".longside-4712-0":                 {young, false},
		".longside-shelf-123456":           {old, true},
		".longside-notes":                  {old, false},
		".longside-notes.new":              {old, false},
		".longside-aaaaaaaaaaaa-0.new.bak": {old, false},
		"longside-aaaaaaaaaaaa-0.new":      {old, false},
		"sheet.pdf":                        {old, false},
	} {
		path := filepath.Join(dir, name)
		put(t, path, "x")
		if err := os.Chtimes(path, c.at, c.at); err != nil {
			t.Fatal(err)
		}
		defer func() {
			if there(path) == c.gone {
				t.Errorf("%s: there %v, to be swept %v", name, there(path), c.gone)
			}
		}()
	}
	if err := os.Mkdir(filepath.Join(dir, ".longside-4713-0"), 0o755); err != nil {
		t.Fatal(err)
	}
	free, held := osDisk{}.lock(live)
	if held {
		t.Fatal("the lock is held")
	}
	defer free()
	if err := Vacant(t.Context(), []string{filepath.Join(dir, "new.pdf")}, Options{}); err != nil {
		t.Error(err)
	}
	if !there(filepath.Join(dir, ".longside-4713-0")) {
		t.Error("a folder was swept")
	}
}

// TestStrangeJournals: a folder may come from a stranger, journal and all. It
// makes nothing outside itself, and nothing in it but by the names of files.
func TestStrangeJournals(t *testing.T) {
	for _, journal := range []string{
		``, `null`, `[]`, `[null]`, `{}`, `[{"name":""}]`, `[{"name":".."}]`, `[{"name":"../mine.txt"}]`, `[{"name":"/etc/passwd"}]`,
		`[{"name":"a/b"}]`, `[{"name":"..\\mine.txt"}]`, `[{"name":".longside-aaaaaaaaaaaa.lock"}]`, strings.Repeat("[", 1000),
		`[{"name":"mine.txt","existed":true,"old":{"size":1},"new":{"size":4}}]`,
	} {
		for _, end := range []string{onEnd, backEnd} {
			top := t.TempDir()
			dir := filepath.Join(top, "plan")
			if err := os.Mkdir(dir, 0o755); err != nil {
				t.Fatal(err)
			}
			put(t, filepath.Join(top, "mine.txt"), "mine")
			put(t, filepath.Join(dir, "mine.txt"), "mine")
			put(t, filepath.Join(dir, prefix+"aaaaaaaaaaaa-0"+newEnd), "evil")
			put(t, filepath.Join(dir, prefix+"aaaaaaaaaaaa"+end), journal)
			if err := Vacant(t.Context(), []string{filepath.Join(dir, "x")}, Options{}); err != nil {
				t.Error(err)
			}
			for _, path := range []string{filepath.Join(top, "mine.txt"), filepath.Join(dir, "mine.txt")} {
				if b, err := os.ReadFile(path); err != nil || string(b) != "mine" {
					t.Errorf("journal %.40q%s: %s holds %q (%v)", journal, end, path, b, err)
				}
			}
		}
	}
}

// TestTargets: what can be written to, and what the error says.
func TestTargets(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "there"), "old")
	put(t, filepath.Join(dir, "other"), "other")
	if err := os.Mkdir(filepath.Join(dir, "folder"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		o      Options
		says   string // empty: it is written
		before func()
	}{
		{"new", Options{}, "", nil},
		{"there", Options{}, "exists already", nil},
		{"there", Options{Force: true}, "", nil},
		{"folder", Options{Force: true}, "is a folder", nil},
		{"none/new", Options{}, "no such folder", nil},
		{"there/new", Options{Folders: true}, "not a folder", nil},
		{"made/new", Options{Folders: true}, "", nil},
		{"deep/er/new", Options{Folders: true}, "", nil},
	} {
		path := filepath.Join(dir, c.name)
		err := Write(t.Context(), []File{Bytes(path, []byte("new"))}, c.o)
		if c.says == "" {
			if b, rerr := os.ReadFile(path); err != nil || string(b) != "new" {
				t.Errorf("%s: %v, holds %q (%v)", c.name, err, b, rerr)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %v, want %q", c.name, err, c.says)
		}
	}
	// A replaced file keeps its mode.
	secret := filepath.Join(dir, "secret")
	put(t, secret, "x")
	if err := os.Chmod(secret, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Replace(t.Context(), secret, []byte("y"), Options{}); err != nil {
		t.Error(err)
	}
	if st, err := os.Stat(secret); err != nil || st.Mode().Perm() != 0o600 {
		t.Errorf("a secret file now has the mode %v", st.Mode())
	}
	// Stopped before the files are moved in: nothing is there, not even the folder.
	ctx, stop := context.WithCancel(t.Context())
	err := Write(ctx, []File{
		{filepath.Join(dir, "stopped", "a"), func(f *os.File) error { return nil }},
		{filepath.Join(dir, "stopped", "b"), func(f *os.File) error { stop(); return nil }},
	}, Options{Folders: true})
	if !errors.Is(err, context.Canceled) || there(filepath.Join(dir, "stopped")) {
		t.Errorf("stopped: %v", err)
	}
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("left over: %v", l)
	}
}

// TestLinks: a link is followed where a person's own file is meant, and one that
// leads to nothing is refused.
func TestLinks(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "real"), "x")
	for name, to := range map[string]string{"link": "real", "two": "link", "gone": "nothing", "round": "round"} {
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Skipf("no links here: %v", err)
		}
	}
	for name, want := range map[string]string{"real": "real", "link": "real", "two": "real", "none": "none", "gone": "", "round": ""} {
		got, err := Follow(filepath.Join(dir, name))
		if want == "" {
			if err == nil || !strings.Contains(err.Error(), "is a link") {
				t.Errorf("%s: %q, %v", name, got, err)
			}
		} else if err != nil || filepath.Base(got) != want {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	// Written over, a link is replaced and what it leads to is not.
	if err := Write(t.Context(), []File{Bytes(filepath.Join(dir, "two"), []byte("new")), Bytes(filepath.Join(dir, "x"), nil)}, Options{Force: true}); err != nil {
		t.Error(err)
	}
	if b, err := os.ReadFile(filepath.Join(dir, "real")); err != nil || string(b) != "x" {
		t.Errorf("what a link leads to now holds %q", b)
	}
}

// TestAtOnce: runs into one folder at the same time disturb each other in nothing;
// each set is of one run.
func TestAtOnce(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for n := range 8 {
		wg.Go(func() {
			for range 10 {
				var set []File
				for i := range 3 {
					set = append(set, Bytes(filepath.Join(dir, fmt.Sprint("file", i)), []byte(fmt.Sprint(n))))
				}
				if err := Write(context.Background(), set, Options{Force: true}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	seen := map[string]bool{}
	for i := range 3 {
		b, err := os.ReadFile(filepath.Join(dir, fmt.Sprint("file", i)))
		if err != nil {
			t.Fatal(err)
		}
		seen[string(b)] = true
	}
	if len(seen) != 1 {
		t.Errorf("the files are of several runs: %v", seen)
	}
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("left over: %v", l)
	}
}
