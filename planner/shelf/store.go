package shelf

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/adrg/xdg"

	"longside/media/oneline"
	"longside/media/stage"
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
	if _, err := stage.Follow(s.Path); err != nil {
		return Shelf{}, err // what it leads to may be a shelf full of tapes
	}
	st, err := os.Stat(s.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return Shelf{}, nil
	}
	if err == nil && !st.Mode().IsRegular() {
		return Shelf{}, fmt.Errorf("%s: is no file; give the shelf's file", s.Path)
	}
	f, err := os.Open(s.Path)
	if err != nil {
		return Shelf{}, fmt.Errorf("%s: cannot be read: %w", s.Path, oneline.Error(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostFile+1))
	if err != nil {
		return Shelf{}, fmt.Errorf("%s: cannot be read: %w", s.Path, oneline.Error(err))
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
	path, err := stage.Follow(s.Path)
	if err != nil {
		return err
	}
	s.Path = path
	dir := filepath.Dir(s.Path)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("%s: cannot be made: %w; choose another with --shelf-file", dir, oneline.Error(err))
	}
	// The lock is a file of its own, which stays: the shelf's own file is
	// replaced on every change, and a lock on it would go with it.
	free, err := stage.Lock(ctx, s.Path+".lock", lockWait)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, stage.ErrInUse):
		return fmt.Errorf("%s: in use by another program for more than %s; try again when it is done", s.Path, lockWait)
	case err != nil:
		return fmt.Errorf("%s.lock: %w; or choose another shelf with --shelf-file", s.Path, oneline.Error(err))
	}
	defer free()
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
	if err := stage.Replace(ctx, s.Path, data, stage.Options{Mode: 0o644}); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return fmt.Errorf("%w; the shelf is as it was", err)
	}
	return nil
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
