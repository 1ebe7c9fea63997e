package stage

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"time"

	"github.com/gofrs/flock"
	"github.com/natefinch/atomic"
)

// disk is all that changes anything: each call is one step after which a run can
// be killed, and which can fail. Tests put another in its place.
type disk interface {
	create(name string, mode fs.FileMode) (*os.File, error) // which must not exist
	fill(f *os.File, with func(*os.File) error) error
	sync(f *os.File) error
	chmod(name string, mode fs.FileMode) error
	write(name string, data []byte) error // whole, onto the disk; the name must not exist
	link(old, name string) error
	rename(old, name string) error
	remove(name string) error
	mkdir(name string) error
	syncFolder(name string)
	// lock takes the lock of a file or folder without waiting: held tells that
	// another has it. What cannot be locked is taken as free.
	lock(name string) (free func(), held bool)
}

type osDisk struct{}

func (osDisk) create(name string, mode fs.FileMode) (*os.File, error) {
	return os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, mode)
}
func (osDisk) fill(f *os.File, with func(*os.File) error) error { return with(f) }
func (osDisk) sync(f *os.File) error                            { return f.Sync() }
func (osDisk) chmod(name string, mode fs.FileMode) error        { return os.Chmod(name, mode) }
func (osDisk) link(old, name string) error                      { return os.Link(old, name) }
func (osDisk) rename(old, name string) error                    { return atomic.ReplaceFile(old, name) }
func (osDisk) remove(name string) error                         { return os.Remove(name) }
func (osDisk) mkdir(name string) error                          { return os.Mkdir(name, 0o777) }

func (osDisk) write(name string, data []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// syncFolder brings names onto the disk in the order in which they were made.
// Some systems cannot; then they are as sure as the system makes them.
func (osDisk) syncFolder(name string) {
	if d, err := os.Open(name); err == nil {
		d.Sync()
		d.Close()
	}
}

func (osDisk) lock(name string) (free func(), held bool) {
	// Looked at before it is opened: opening a pipe would wait for its other end.
	if st, err := os.Stat(name); err != nil || !st.Mode().IsRegular() && !st.IsDir() {
		return func() {}, false
	}
	l := flock.New(name, flock.SetFlag(os.O_RDONLY))
	ok, err := l.TryLock()
	if err == nil && !ok {
		return nil, true
	}
	return func() { l.Close() }, false
}

// Lock takes the lock of a file that is there for nothing else, and makes it
// where it is not. It waits as long as another program holds it, but not beyond
// patience, nor once ctx has ended. The error says why it was not to be had; the
// caller names the file.
func Lock(ctx context.Context, path string, patience time.Duration) (free func(), err error) {
	// Looked at before it is opened: opening a pipe would wait for its other end.
	if st, err := os.Lstat(path); err == nil && !st.Mode().IsRegular() {
		return nil, errors.New("is no file, and cannot be locked; take it away")
	}
	l := flock.New(path)
	for end := time.Now().Add(patience); ; {
		switch ok, err := l.TryLock(); {
		case err != nil:
			return nil, err
		case ok:
			return func() { l.Close() }, nil
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case time.Now().After(end):
			return nil, ErrInUse
		}
		select {
		case <-ctx.Done():
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// ErrInUse is the error of Lock when another program holds the lock for too long.
var ErrInUse = errors.New("in use by another program")
