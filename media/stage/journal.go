package stage

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"longside/media/oneline"
)

// A run names its files .longside-ID..., where ID is its own:
//
//	.longside-ID.lock     is there, and locked, as long as the run lives
//	.longside-ID-0.new    the first file, written whole
//	.longside-ID-0.old    the file that stood in its place
//	.longside-ID.back     the journal: put the old files back
//	.longside-ID.on       the same, renamed: move the new files in
//
// The step that decides is that renaming, and so is that back when a file cannot
// be moved in. Whoever finds a journal without a living run does what its name
// says; each step may be done twice.
const (
	prefix  = ".longside-"
	lockEnd = ".lock"
	newEnd  = ".new"
	oldEnd  = ".old"
	backEnd = ".back"
	onEnd   = ".on"
)

// left matches the names of files that a run may leave behind.
var left = regexp.MustCompile(`^\.longside-([0-9a-f]{12})(?:\.lock|\.back|\.on|-[0-9]{1,4}\.(?:new|old))$`)

// older matches those that versions before the journal left; no lock tells of them.
var older = regexp.MustCompile(`^\.longside-(?:[0-9]{1,10}-[0-9]{1,5}|shelf-[0-9]{1,20})$`)

const (
	// still is how long nothing of a dead run must have been written before it is
	// swept: on a disk of another computer its lock may not be seen at once.
	still = 10 * time.Minute
	// longStill is the same where no lock can be asked.
	longStill = 24 * time.Hour
	// patience is how long another run is waited for that moves its files in.
	patience = 10 * time.Second
	// mostJournal bounds a journal: a thousand files with long names.
	mostJournal = 1 << 20
)

// moving is one file of a set on its way, as the journal has it.
type moving struct {
	Name    string `json:"name"`    // in the folder
	Existed bool   `json:"existed"` // a file stood in its place
	Old     mark   `json:"old"`     // of that file
	New     mark   `json:"new"`
}

// mark tells a file from one that was changed since.
type mark struct {
	Size int64 `json:"size"`
	Time int64 `json:"time_ns"`
}

func markOf(st fs.FileInfo) mark { return mark{st.Size(), st.ModTime().UnixNano()} }

// is tells whether the file at a path is there and bears the mark.
func (m mark) is(path string) bool {
	st, err := os.Lstat(path)
	return err == nil && markOf(st) == m
}

func there(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// part names file i of this run's set.
func (w *writer) part(i int, end string) string {
	return prefix + w.id + "-" + strconv.Itoa(i) + end
}

// begin takes the lock that shows this run to live; done gives it back.
func (w *writer) begin(dir string) (done func(), err error) {
	for range 100 {
		var b [6]byte
		rand.Read(b[:])
		w.id = hex.EncodeToString(b[:])
		name := filepath.Join(dir, prefix+w.id+lockEnd)
		f, err := w.disk.create(name, 0o600)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		f.Close()
		// A disk without locks is written to all the same; the age of the files must
		// then do. One that sweeps may hold the lock for a moment: another name is taken.
		free, held := w.disk.lock(name)
		if held {
			w.disk.remove(name)
			continue
		}
		return func() {
			free()
			w.disk.remove(name)
		}, nil
	}
	return nil, errors.New("no free name for a temporary file")
}

// lockFolder waits until no other run puts files in their places in a folder.
// Where a folder cannot be locked, as on Windows, nothing is waited for.
func (w *writer) lockFolder(ctx context.Context, dir string) (free func()) {
	for end := time.Now().Add(patience); ; {
		free, held := w.disk.lock(dir)
		if !held {
			return free
		}
		if ctx.Err() != nil || time.Now().After(end) {
			return func() {}
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// moveIn moves the staged files to their places, and keeps the old ones until
// all is done.
func (w *writer) moveIn(dir string, set []*moving) error {
	at := func(name string) string { return filepath.Join(dir, name) }
	if len(set) == 1 { // one step: nothing can be half done
		if err := w.disk.rename(at(w.part(0, newEnd)), at(set[0].Name)); err != nil {
			w.drop(dir, set)
			return fmt.Errorf("%s: cannot be written: %w; it is as it was", oneline.Shown(at(set[0].Name)), oneline.Error(err))
		}
		w.disk.syncFolder(dir)
		return nil
	}
	back, forward := at(prefix+w.id+backEnd), at(prefix+w.id+onEnd)
	links := make([]bool, len(set))
	for i, m := range set {
		if st, err := os.Lstat(at(m.Name)); err == nil {
			m.Existed, m.Old, links[i] = true, markOf(st), st.Mode()&fs.ModeSymlink != 0
		}
	}
	data, err := json.Marshal(set)
	if err == nil {
		err = w.disk.write(back, data)
	}
	if err != nil {
		w.disk.remove(back)
		w.drop(dir, set)
		return cannot(at(set[0].Name), err)
	}
	// A second name for the old file is the surest; where a disk has none, it is
	// moved aside. Either shows, before anything is replaced, that it can be.
	for i, m := range set {
		if !m.Existed {
			continue
		}
		old := at(w.part(i, oldEnd))
		if !links[i] && w.disk.link(at(m.Name), old) == nil { // some systems would follow a link
			continue
		}
		if err := w.disk.rename(at(m.Name), old); err != nil {
			return w.giveUp(dir, set, m.Name, err)
		}
	}
	w.disk.syncFolder(dir)
	if err := w.disk.rename(back, forward); err != nil {
		return w.giveUp(dir, set, set[0].Name, err)
	}
	w.disk.syncFolder(dir)
	for i, m := range set {
		if err := w.disk.rename(at(w.part(i, newEnd)), at(m.Name)); err != nil {
			if err := w.disk.rename(forward, back); err != nil {
				return fmt.Errorf("%s: cannot be written: %w; the files before it were replaced, and the next run into this folder goes on from here", oneline.Shown(at(m.Name)), oneline.Error(err))
			}
			return w.giveUp(dir, set, m.Name, err)
		}
	}
	w.disk.syncFolder(dir)
	w.finish(dir, w.id, set)
	return nil
}

// giveUp puts the old files back, and says of which file that is for.
func (w *writer) giveUp(dir string, set []*moving, name string, why error) error {
	path := oneline.Shown(filepath.Join(dir, name))
	lost := w.putBack(dir, w.id, set)
	if len(lost) == 0 {
		return fmt.Errorf("%s: cannot be replaced: %w; nothing was written, the old files are as they were", path, oneline.Error(why))
	}
	return fmt.Errorf("%s: cannot be replaced: %w; of the old files %s could not be put back yet: the next run into this folder tries again", path, oneline.Error(why), names(lost))
}

// putBack brings the old files back to their places and takes the new ones away.
// lost are those that could not be brought back; the journal then stays.
func (w *writer) putBack(dir, id string, set []*moving) (lost []string) {
	at := func(i int, end string) string {
		return filepath.Join(dir, prefix+id+"-"+strconv.Itoa(i)+end)
	}
	for i, m := range set {
		target, old, fresh := filepath.Join(dir, m.Name), at(i, oldEnd), at(i, newEnd)
		ours := !there(fresh) && m.New.is(target) // moved in, and not changed since
		switch {
		case there(old) && (ours || !there(target)):
			if w.disk.rename(old, target) != nil {
				lost = append(lost, m.Name)
				continue
			}
		case !m.Existed && ours:
			if w.disk.remove(target) != nil {
				lost = append(lost, m.Name)
				continue
			}
		}
		w.disk.remove(old) // the same file by another name, or one that a newer stands for
		w.disk.remove(fresh)
	}
	if len(lost) == 0 {
		w.disk.syncFolder(dir)
		w.disk.remove(filepath.Join(dir, prefix+id+backEnd))
	}
	return lost
}

// finish takes away what is needed no more once all files are in their places.
func (w *writer) finish(dir, id string, set []*moving) {
	for i := range set {
		w.disk.remove(filepath.Join(dir, prefix+id+"-"+strconv.Itoa(i)+oldEnd))
	}
	w.disk.remove(filepath.Join(dir, prefix+id+onEnd))
}

// goOn moves in what a killed run had not moved yet, when the old files are still
// those that it saw; else what it had moved in is taken back.
func (w *writer) goOn(dir, id string, set []*moving) (says string) {
	at := func(i int, end string) string {
		return filepath.Join(dir, prefix+id+"-"+strconv.Itoa(i)+end)
	}
	moved := true
	for i, m := range set {
		target := filepath.Join(dir, m.Name)
		unchanged := !there(target)
		if m.Existed {
			unchanged = m.Old.is(target) || unchanged && there(at(i, oldEnd)) // or moved aside
		}
		moved = moved && (!there(at(i, newEnd)) || m.New.is(at(i, newEnd)) && unchanged)
	}
	var all []string
	for i, m := range set {
		all = append(all, m.Name)
		if moved && there(at(i, newEnd)) {
			moved = w.disk.rename(at(i, newEnd), filepath.Join(dir, m.Name)) == nil
		}
	}
	if moved {
		w.disk.syncFolder(dir)
		w.finish(dir, id, set)
		return fmt.Sprintf("%s: a run before this one was killed while it wrote %s: that is finished now", oneline.Shown(dir), names(all))
	}
	if w.disk.rename(filepath.Join(dir, prefix+id+onEnd), filepath.Join(dir, prefix+id+backEnd)) != nil {
		return ""
	}
	return w.undo(dir, id, set)
}

func (w *writer) undo(dir, id string, set []*moving) (says string) {
	var all []string
	for _, m := range set {
		all = append(all, m.Name)
	}
	if lost := w.putBack(dir, id, set); len(lost) > 0 {
		return fmt.Sprintf("%s: a run before this one was killed while it wrote %s: %s cannot be put back", oneline.Shown(dir), names(all), names(lost))
	}
	return fmt.Sprintf("%s: a run before this one was killed while it wrote %s: the old files are back", oneline.Shown(dir), names(all))
}

// tidy puts in order what killed runs left in a folder.
func (w *writer) tidy(dir string, found func(string)) {
	d, err := os.Open(dir)
	if err != nil {
		return
	}
	defer d.Close()
	list, _ := d.Readdirnames(-1)
	runs := map[string][]string{}
	for _, name := range list {
		if m := left.FindStringSubmatch(name); m != nil {
			runs[m[1]] = append(runs[m[1]], name)
		} else if older.MatchString(name) && w.stillFor(longStill, dir, name) {
			w.disk.remove(filepath.Join(dir, name))
		}
	}
	ids := make([]string, 0, len(runs))
	for id := range runs {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for _, id := range ids {
		if says := w.tidyRun(dir, id, runs[id]); says != "" && found != nil {
			found(says)
		}
	}
}

// tidyRun puts in order what one run left, unless it lives.
func (w *writer) tidyRun(dir, id string, files []string) (says string) {
	lock := prefix + id + lockEnd
	wait := longStill
	if slices.Contains(files, lock) {
		free, held := w.disk.lock(filepath.Join(dir, lock))
		if held {
			return ""
		}
		if free != nil {
			defer free()
		}
		wait = still
	}
	for _, end := range [...]string{onEnd, backEnd} {
		name := prefix + id + end
		if !slices.Contains(files, name) {
			continue
		}
		set, err := readJournal(filepath.Join(dir, name))
		if err != nil {
			break // half written, and so nothing was begun; or not of this package
		}
		if end == onEnd {
			says = w.goOn(dir, id, set)
		} else {
			says = w.undo(dir, id, set)
		}
		if !there(filepath.Join(dir, prefix+id+onEnd)) && !there(filepath.Join(dir, prefix+id+backEnd)) {
			w.disk.remove(filepath.Join(dir, lock))
		}
		return says
	}
	if !w.stillFor(wait, dir, files...) {
		return ""
	}
	slices.Sort(files) // the lock last: .lock is after -0
	for _, name := range files {
		if name != lock {
			w.disk.remove(filepath.Join(dir, name))
		}
	}
	w.disk.remove(filepath.Join(dir, lock))
	return ""
}

// stillFor tells whether files are plain files, and none of them was written for so long.
func (w *writer) stillFor(long time.Duration, dir string, files ...string) bool {
	for _, name := range files {
		st, err := os.Lstat(filepath.Join(dir, name))
		if err == nil && (!st.Mode().IsRegular() || w.now.Sub(st.ModTime()) < long) {
			return false
		}
	}
	return true
}

// readJournal reads a journal. A folder may come from a stranger: a name in it is
// that of a file in this very folder, and none of this package's own.
func readJournal(path string) ([]*moving, error) {
	st, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() || st.Size() > mostJournal {
		return nil, errors.New("no journal")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostJournal))
	if err != nil {
		return nil, err
	}
	var set []*moving
	if err := json.Unmarshal(data, &set); err != nil {
		return nil, err
	}
	for _, m := range set {
		if m == nil || m.Name == "" || m.Name == "." || !filepath.IsLocal(m.Name) || strings.ContainsAny(m.Name, `/\`) || strings.HasPrefix(m.Name, prefix) {
			return nil, errors.New("no journal")
		}
	}
	return set, nil
}
