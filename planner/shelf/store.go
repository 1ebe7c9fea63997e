package shelf

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/adrg/xdg"
	"github.com/gofrs/flock"
	"github.com/natefinch/atomic"
)

// Store is the file that a shelf lives in.
type Store struct{ Path string }

// Default is the person's own shelf: longside/shelf.toml in the data folder
// of the XDG Base Directory Specification or its like on other systems.
func Default() Store { return Store{filepath.Join(xdg.DataHome, "longside", "shelf.toml")} }

// lockWait is how long another program is waited for: it holds the lock for
// the blink of an eye, unless its disk hangs.
const lockWait = 10 * time.Second

// Read gives the shelf; where there is no file yet, an empty one. Errors name the file.
func (s Store) Read() (Shelf, error) {
	// Looked at before it is opened: opening a pipe would wait for its other end.
	st, err := os.Stat(s.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return Shelf{}, nil
	}
	if err == nil && !st.Mode().IsRegular() {
		return Shelf{}, fmt.Errorf("%s: is no file; give the shelf's file", s.Path)
	}
	f, err := os.Open(s.Path)
	if err != nil {
		return Shelf{}, fmt.Errorf("%s: cannot be read: %w", s.Path, bare(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostFile+1))
	if err != nil {
		return Shelf{}, fmt.Errorf("%s: cannot be read: %w", s.Path, bare(err))
	}
	shelf, err := Parse(data)
	if err != nil {
		return Shelf{}, eachLine(s.Path, err)
	}
	return shelf, nil
}

// Change reads the shelf, lets change work on it and writes it back, all under
// a lock: two programs at once both get their change in. When anything fails,
// the old file is as it was. Errors name the file.
func (s Store) Change(ctx context.Context, change func(*Shelf) error) error {
	// A link is followed, so that the file it points to is the one replaced.
	if real, err := filepath.EvalSymlinks(s.Path); err == nil {
		s.Path = real
	}
	dir := filepath.Dir(s.Path)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("%s: cannot be made: %w; choose another with --shelf-file", dir, bare(err))
	}
	// The lock is a file of its own, which stays: the shelf's own file is
	// replaced on every change, and a lock on it would go with it.
	lock := flock.New(s.Path + ".lock")
	defer lock.Close()
	wait, stop := context.WithTimeout(ctx, lockWait)
	defer stop()
	if _, err := lock.TryLockContext(wait, 5*time.Millisecond); err != nil {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case wait.Err() != nil:
			return fmt.Errorf("%s: in use by another program for more than %s; try again when it is done", s.Path, lockWait)
		}
		return fmt.Errorf("%s: cannot be locked: %w; choose another with --shelf-file", s.Path, bare(err))
	}
	// A program that was killed while it wrote left its half beside the shelf.
	// Nobody else writes now, so such a file is nobody's.
	if names, err := os.ReadDir(dir); err == nil {
		for _, n := range names {
			if strings.HasPrefix(n.Name(), staged) {
				os.Remove(filepath.Join(dir, n.Name()))
			}
		}
	}
	shelf, err := s.Read()
	if err != nil {
		return err
	}
	if err := change(&shelf); err != nil {
		return err
	}
	data, err := shelf.TOML()
	if err != nil {
		return err
	}
	if len(data) > mostFile {
		return fmt.Errorf("%s: would be larger than %d MB", s.Path, mostFile>>20)
	}
	if err := replace(s.Path, data); err != nil {
		return fmt.Errorf("%s: cannot be written: %w; the old file is as it was", s.Path, bare(err))
	}
	return nil
}

// staged begins the name under which a shelf is written before it is moved.
const staged = ".longside-shelf-"

// replace writes data whole beside path, onto the disk, and moves it there.
func replace(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), staged+"*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	_, err = f.Write(data)
	if err == nil {
		// Without this a crash just after the move could leave an empty file.
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	// A temporary file is for its owner alone; the shelf keeps what it had.
	mode := fs.FileMode(0o644)
	if st, serr := os.Stat(path); serr == nil {
		mode = st.Mode().Perm()
	}
	if err = os.Chmod(f.Name(), mode); err != nil {
		return err
	}
	return atomic.ReplaceFile(f.Name(), path)
}

// bare is a file error without the operation and the path, which the line names already.
func bare(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}

// eachLine puts the file's name before every fault of a joined error.
func eachLine(path string, err error) error {
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var all []error
		for _, e := range many.Unwrap() {
			all = append(all, eachLine(path, e))
		}
		return errors.Join(all...)
	}
	return fmt.Errorf("%s: %w", path, err)
}
