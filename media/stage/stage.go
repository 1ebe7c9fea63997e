// Package stage writes files whole: all of a set, or none, and never half of one.
//
// Write is the one call. Every file is first written beside its place, under a
// hidden name and onto the disk; then the old files are kept beside their places;
// and only when all of that worked are the new ones moved in, with a journal of it
// in the folder. A failure puts the old files back. After a kill, or a power cut,
// the next run into the folder reads the journal and finishes what was begun, or
// puts back what was not. The folder itself is never moved: other files of the
// person's may lie in it.
//
// What a killed run left behind is swept by the next one into the same folder:
// only files named as this package names them, of a run that no longer lives
// (each holds a lock) and that has been still for a while.
package stage

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"longside/media/oneline"
)

// File is one file to write.
type File struct {
	Path string
	Fill func(*os.File) error // writes it; it is called once
}

// Bytes is a file that is held already.
func Bytes(path string, data []byte) File {
	return File{path, func(f *os.File) error {
		_, err := f.Write(data)
		return err
	}}
}

// Options say how a set is written.
type Options struct {
	Force   bool // files that exist are replaced; a link is replaced itself, and not what it leads to
	Folders bool // the folder is made where it does not exist, and what is missing above it
	// Mode is that of a file that did not exist; 0 is 0666, less the umask. A file
	// that is replaced keeps the mode that it had.
	Mode fs.FileMode
	// Found is told, in one line, what was done about a run that was killed; may be nil.
	Found func(says string)
}

// Write writes all the files, which lie in one folder, or none of them. The error
// is one line that names a file, and says what became of the others where that is
// not plain. When ctx ends before the first file is moved in, none is.
func Write(ctx context.Context, files []File, o Options) error {
	return on(osDisk{}).write(ctx, files, o)
}

// Replace writes one file over the one that may be there.
func Replace(ctx context.Context, path string, data []byte, o Options) error {
	o.Force = true
	return Write(ctx, []File{Bytes(path, data)}, o)
}

// Vacant says whether the files may be written in their places. Commands that
// work long ask before they begin. What a killed run left in the folder is put
// in order first.
func Vacant(ctx context.Context, paths []string, o Options) error {
	w := on(osDisk{})
	if len(paths) > 0 {
		dir := filepath.Dir(paths[0])
		if st, err := os.Stat(dir); err == nil && st.IsDir() {
			free := w.lockFolder(ctx, dir)
			w.tidy(dir, o.Found)
			free()
		}
	}
	for _, p := range paths {
		if err := vacant(p, o.Force); err != nil {
			return err
		}
	}
	return nil
}

// Follow is the file that a path means where it is a link that a person has set,
// as to a shelf kept elsewhere: what it leads to is then the one to replace. A
// link that leads to nothing is refused, as what it should lead to is not known.
func Follow(path string) (string, error) {
	if st, err := os.Lstat(path); err != nil || st.Mode()&fs.ModeSymlink == 0 {
		return path, nil // no link, or nothing there: what is wrong with it is said by others
	}
	real, err := filepath.EvalSymlinks(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		to, _ := os.Readlink(path)
		return "", fmt.Errorf("%s: is a link to %s, which is not there; bring that back, or remove the link", oneline.Shown(path), oneline.Shown(to))
	case err != nil:
		return "", fmt.Errorf("%s: is a link that cannot be followed: %w", oneline.Shown(path), oneline.Error(err))
	}
	return real, nil
}

// vacant says whether a file may be written in this place.
func vacant(path string, force bool) error {
	name := oneline.Shown(path)
	switch st, err := os.Lstat(path); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("%s: cannot be written to: %w", name, oneline.Error(err))
	case st.IsDir():
		return fmt.Errorf("%s: is a folder; give the name of a file", name)
	case !st.Mode().IsRegular() && st.Mode()&fs.ModeSymlink == 0:
		return fmt.Errorf("%s: is a pipe or a device; give the name of a file", name)
	case !force:
		return fmt.Errorf("%s: exists already; --force replaces it", name)
	}
	return nil
}

// writer is what the work is done with.
type writer struct {
	disk disk
	id   string    // of this run, in the names of its files
	now  time.Time // for the age of what others left
}

func on(d disk) *writer { return &writer{disk: d, now: time.Now()} }

func (w *writer) write(ctx context.Context, files []File, o Options) (err error) {
	if len(files) == 0 {
		return nil
	}
	dir := filepath.Dir(files[0].Path)
	for _, f := range files {
		if filepath.Dir(f.Path) != dir {
			return fmt.Errorf("%s and %s are to be written together, and lie in two folders", oneline.Shown(files[0].Path), oneline.Shown(f.Path))
		}
	}
	if o.Folders {
		made, err := w.makeFolders(dir, nil)
		defer func() {
			if err != nil {
				for i := len(made) - 1; i >= 0; i-- {
					w.disk.remove(made[i]) // fails, as it should, on a folder that is not empty
				}
			}
		}()
		if err == nil {
			err = w.into(ctx, dir, files, o)
		}
		return err
	}
	return w.into(ctx, dir, files, o)
}

// into writes the files into a folder that is there.
func (w *writer) into(ctx context.Context, dir string, files []File, o Options) error {
	if st, err := os.Stat(dir); err != nil {
		return fmt.Errorf("%s: no such folder; make it first or choose another", oneline.Shown(dir))
	} else if !st.IsDir() {
		return fmt.Errorf("%s: not a folder; choose another place to write to", oneline.Shown(dir))
	}
	// Before anything is asked of the folder it is put in order.
	free := w.lockFolder(ctx, dir)
	w.tidy(dir, o.Found)
	free()
	for _, f := range files {
		if err := vacant(f.Path, o.Force); err != nil {
			return err
		}
	}
	done, err := w.begin(dir)
	if err != nil {
		return cannot(files[0].Path, err)
	}
	defer done()
	set := make([]*moving, len(files))
	for i, f := range files {
		m, err := w.stage(i, f, o)
		if err != nil {
			if ctx.Err() != nil {
				err = ctx.Err()
			}
			w.drop(dir, set[:i])
			return cannot(f.Path, err)
		}
		set[i] = m
	}
	if err := ctx.Err(); err != nil {
		w.drop(dir, set)
		return err
	}
	// From here on it is a matter of milliseconds, and is not stopped.
	defer w.lockFolder(ctx, dir)()
	for _, f := range files {
		if err := vacant(f.Path, o.Force); err != nil { // another may have been quicker
			w.drop(dir, set)
			return err
		}
	}
	return w.moveIn(dir, set)
}

// cannot is the error of a file that cannot be written.
func cannot(path string, err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return fmt.Errorf("%s: cannot be written: %w; choose another place", oneline.Shown(path), oneline.Error(err))
}

// makeFolders makes dir and what is missing above it, and adds what it made.
func (w *writer) makeFolders(dir string, made []string) ([]string, error) {
	if _, err := os.Stat(dir); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return made, nil // what else is wrong with it is said by the caller
	}
	made, err := w.makeFolders(filepath.Dir(dir), made)
	if err != nil {
		return made, err
	}
	switch err := w.disk.mkdir(dir); {
	case errors.Is(err, fs.ErrExist): // another was quicker: it is not ours to take away
		return made, nil
	case err != nil:
		return made, fmt.Errorf("%s: cannot be made: %w; choose another place", oneline.Shown(dir), oneline.Error(err))
	}
	return append(made, dir), nil
}

// stage writes a file whole, under a hidden name in the folder of its target,
// so that moving it there is one step of the file system.
func (w *writer) stage(i int, f File, o Options) (m *moving, err error) {
	m = &moving{Name: filepath.Base(f.Path)}
	dir := filepath.Dir(f.Path)
	name := filepath.Join(dir, w.part(i, newEnd))
	mode := o.Mode
	if mode == 0 {
		mode = 0o666
	}
	h, err := w.disk.create(name, mode)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			w.disk.remove(name)
		}
	}()
	if err = w.disk.fill(h, f.Fill); err == nil {
		// Without this a crash just after the move could leave an empty file.
		err = w.disk.sync(h)
	}
	if cerr := h.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return nil, err
	}
	if old, oerr := os.Lstat(f.Path); oerr == nil && old.Mode().IsRegular() {
		if err = w.disk.chmod(name, old.Mode().Perm()); err != nil {
			return nil, err
		}
	}
	st, err := os.Lstat(name)
	if err != nil {
		return nil, err
	}
	m.New = markOf(st)
	return m, nil
}

// drop takes the staged files away again.
func (w *writer) drop(dir string, set []*moving) {
	for i := range set {
		w.disk.remove(filepath.Join(dir, w.part(i, newEnd)))
		w.disk.remove(filepath.Join(dir, w.part(i, oldEnd)))
	}
}

// names is a list for a sentence.
func names(list []string) string {
	shown := make([]string, len(list))
	for i, n := range list {
		shown[i] = oneline.Shown(n)
	}
	return strings.Join(shown, ", ")
}
